//! The `settlay` program: words typed in, results printed.

fn main() -> std::process::ExitCode {
    settlay::cli::main()
}
