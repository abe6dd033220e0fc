//! Has the linker fold functions that came out alike, where the linker is one that can: the program is a seventh smaller.

#![allow(clippy::print_stdout)]

use std::env::var;
use std::process::Command;

/// The first compiler that links with LLVM's linker by itself on 64-bit Linux (Rust 1.90).
const FIRST: (u32, u32) = (1, 90);

fn main() {
    println!("cargo:rerun-if-changed=build.rs");
    let release = var("PROFILE").is_ok_and(|p| p == "release");
    let target = var("TARGET").is_ok_and(|t| t == "x86_64-unknown-linux-gnu");
    if release && target && version().is_some_and(|v| v >= FIRST) {
        println!("cargo:rustc-link-arg-bins=-Wl,--icf=all");
    }
}

/// The compiler's version, first and second number.
fn version() -> Option<(u32, u32)> {
    let told = Command::new(var("RUSTC").ok()?).arg("-vV").output().ok()?.stdout;
    let told = String::from_utf8(told).ok()?;
    let mut numbers = told.lines().find_map(|l| l.strip_prefix("release: "))?.split('.');
    Some((numbers.next()?.parse().ok()?, numbers.next()?.parse().ok()?))
}
