//! Pages of PDF: lines, fills and real text in millimetres, y up from the lower-left corner.
//!
//! In: what to draw. Out: one PDF file with the two standard fonts every reader has, and nothing taken from the
//! clock. Follows ISO 32000-1.

mod document;
mod page;
mod read_back;
mod text;
mod widths;

pub(super) use document::document;
pub(super) use page::{Font, Page, Pen, Rgb};
pub(super) use read_back::read;
pub(super) use text::{parts, sayable, width_mm, wrap};
