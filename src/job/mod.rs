//! The job file: what a maker asks for, read and checked.
//!
//! In: JSON text. Out: a [`Job`] whose numbers make sense. Knows nothing of drawings or cloth beyond their
//! descriptions.

mod cutter;
mod limits;
mod machine_words;
mod model;
mod outline;
mod read;
mod sense;
mod sense_frame;
mod sense_machine;
mod stripes;
mod structure;
mod unsaid;

pub use cutter::*;
pub use model::*;
pub use outline::fault as outline_fault;
pub use read::{
    LARGEST_FILE, cutter_as_written, cutter_schema, cutter_within, parse, parse_beside, read, read_cutter,
    schema,
};
pub use sense::makes_sense;
pub use sense_frame::LEAST_CLEAR_FIELD_MM;
pub use stripes::{MOST_THREADS, Stripe, StripeFault, StripeOrder};
pub use unsaid::Unsaid;

#[cfg(test)]
mod fixture_tests;
