//! Writes what is installed beside the program: manual pages, completions, the guide as a page, licences of what it is
//! built from.
//!
//! `cargo run --release --example package -- DIR` writes `DIR/man`, `DIR/completions`, `DIR/guide` and
//! `DIR/licences.txt`; `packaging/build` makes packages of them.

mod guide;
mod licences;

use std::error::Error;
use std::fs;
use std::path::{Path, PathBuf};

use clap_complete::Shell;

/// Shells that complete what is typed, and what each calls the file.
const SHELLS: [(Shell, &str); 4] = [
    (Shell::Bash, "settlay.bash"),
    (Shell::Zsh, "_settlay"),
    (Shell::Fish, "settlay.fish"),
    (Shell::PowerShell, "settlay.ps1"),
];

fn main() -> Result<(), Box<dyn Error>> {
    let dir: PathBuf = std::env::args_os().nth(1).ok_or("name the folder to write to")?.into();
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    man(&dir.join("man"))?;
    completions(&dir.join("completions"))?;
    guide::write(root, &dir.join("guide"))?;
    fs::write(dir.join("licences.txt"), licences::all(root)?)?;
    Ok(())
}

/// A page for the program and for every command of it.
fn man(dir: &Path) -> Result<(), Box<dyn Error>> {
    fs::create_dir_all(dir)?;
    clap_mangen::generate_to(settlay::cli::words().name("settlay"), dir)?;
    Ok(())
}

fn completions(dir: &Path) -> Result<(), Box<dyn Error>> {
    fs::create_dir_all(dir)?;
    for (shell, name) in SHELLS {
        let mut text = Vec::new();
        clap_complete::generate(shell, &mut settlay::cli::words(), "settlay", &mut text);
        fs::write(dir.join(name), text)?;
    }
    Ok(())
}
