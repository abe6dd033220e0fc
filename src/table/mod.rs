//! The cutting table: a page on this computer on which the whole job is done, and the server behind it.
//!
//! The server listens on the loopback address alone, answers only those who know the secret in its address, and calls
//! the same library as the command line. Every change is on disk before its answer is given, in a working copy beside
//! the job; the job file itself changes only when the maker saves.

mod api;
mod callers;
mod disk;
mod guard;
mod heavy;
mod home;
mod hub;
mod names;
mod page;
mod planned;
mod problem;
mod readable;
mod rooms;
mod seams;
mod server;
mod standing;
mod store;
mod surface;
mod understood;
mod working_copy;

pub use server::{Opened, Setup, open, open_at_home};
