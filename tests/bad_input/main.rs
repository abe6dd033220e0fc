//! Rubbish in: whole runs of the program end with one clear error, never with a panic, a hang or half a folder.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod desk;
mod drawings;
mod jobs;
mod told;
mod written;
