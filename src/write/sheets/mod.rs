//! `sheets.pdf`: what a maker prints and works from.
//!
//! In: a job, its plan and its cloths. Out: one PDF: a job page, a map of the bed for every pass, a card for every
//! piece, keys and pieces in full size over several papers. Read back before it is kept.

mod bed_map;
mod book;
pub(in crate::write) mod bridges;
mod card_pictures;
mod cards;
mod check;
mod full_size;
mod hooping;
mod job_page;
pub(in crate::write) mod labels;
mod leaders;
mod neighbours;
mod pass_pages;
mod pegs;
mod shelves;
pub(in crate::write) mod steps;
#[cfg(test)]
mod tests;
mod tiles;
mod tiling;
pub(in crate::write) mod view;

use std::collections::BTreeMap;

use crate::job::{Job, SheetKind};
use crate::plan::Plan;
use crate::say::Trouble;

use super::pdf::{self, Rgb};
use book::Book;
pub(super) use hooping::hooping;

/// The ink of words and lines, and quieter ones.
const INK: Rgb = [0x2c, 0x27, 0x30];
const SOFT: Rgb = [0x6d, 0x64, 0x70];
const RULE: Rgb = [0xc9, 0xc1, 0xba];
const PALE: Rgb = [0xf1, 0xec, 0xe4];
const CLOTH: Rgb = [0xe6, 0xdf, 0xd2];
const PATTERN: Rgb = [0x3f, 0x7a, 0x8c];
const GLUE: Rgb = [0xb0, 0x72, 0x36];
const GLUED: Rgb = [0xf8, 0xea, 0xd8];

/// Side of the square that proves the paper was printed at full size, mm.
const TEST_SQUARE_MM: f64 = 50.0;

/// The sheets as PDF; `None` when the job asks for none. `stems` are the cut files' stems by cloth.
///
/// # Errors
/// Sheets that do not read back as they should.
pub(super) fn sheets(
    job: &Job,
    plan: &Plan,
    stems: &BTreeMap<String, String>,
) -> Result<Option<Vec<u8>>, Trouble> {
    let wanted = |kind: SheetKind| job.sheets.pages.contains(&kind);
    let title = if plan.title.trim().is_empty() { "Cutting plan" } else { plan.title.trim() };
    let mut book = Book::new(title, job.sheets.paper.size_mm());
    if wanted(SheetKind::Job) {
        job_page::job_page(&mut book, job, plan);
    }
    if wanted(SheetKind::Passes) {
        pass_pages::passes(&mut book, job, plan, stems);
    }
    if wanted(SheetKind::Cards) {
        cards::cards(&mut book, plan);
    }
    if wanted(SheetKind::Keys) {
        full_size::keys(&mut book, plan, stems);
    }
    if wanted(SheetKind::Pieces) {
        full_size::pieces(&mut book, plan);
    }
    let pages = book.finish();
    let count = pages.len();
    if count == 0 {
        return Ok(None);
    }
    let bytes = pdf::document(&pdf::sayable(title), pages)
        .map_err(|e| Trouble::cannot("sheets.pdf", format!("cannot be packed: {e}")))?;
    check::check(&bytes, count, plan, &job.sheets.pages)?;
    Ok(Some(bytes))
}
