//! The sheets read back before they are kept.

use crate::job::SheetKind;
use crate::plan::Plan;
use crate::say::Trouble;
use crate::write::lay_picture::piece_name;
use crate::write::pdf::{read, sayable};

use super::TEST_SQUARE_MM;

/// What the test square may be off in the file, mm.
const SQUARE_OFF: f64 = 0.01;

/// Compares the file with what it should hold: its pages, every piece's name, a true test square.
///
/// # Errors
/// The first thing that is not so.
pub(super) fn check(bytes: &[u8], pages: usize, plan: &Plan, kinds: &[SheetKind]) -> Result<(), Trouble> {
    let wrong = |what: String| Trouble::cannot("sheets.pdf", format!("does not read back: {what}"));
    let found = read(bytes).ok_or_else(|| wrong("it is no whole file".into()))?;
    if found.pages != pages || found.words.len() != pages {
        return Err(wrong(format!("{} pages with {} contents for {pages}", found.pages, found.words.len())));
    }
    if kinds.contains(&SheetKind::Job) {
        // A long list runs over pages, between rows; within a page a name stands in one run.
        for piece in &plan.pieces {
            let name: String =
                sayable(&piece_name(piece, &plan.pieces)).chars().filter(|c| !c.is_whitespace()).collect();
            if !found.words.iter().any(|page| page.contains(&name)) {
                return Err(wrong(format!("piece {} is not named", piece.id)));
            }
        }
    }
    let tiled = kinds.contains(&SheetKind::Pieces) && !plan.pieces.is_empty()
        || kinds.contains(&SheetKind::Keys) && plan.passes.iter().any(|p| !p.key.is_empty());
    let square = |b: &[f64; 2]| b.iter().all(|v| (v - TEST_SQUARE_MM).abs() < SQUARE_OFF);
    if tiled && !found.boxes.iter().flatten().any(square) {
        return Err(wrong("the test square is missing or not 50 mm".into()));
    }
    Ok(())
}
