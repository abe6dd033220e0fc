//! The cutting table, called as its page calls it and as nobody should.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod client;
mod crowd;
mod cut_work;
mod home;
mod kept;
mod measures;
mod refused;
mod work;
