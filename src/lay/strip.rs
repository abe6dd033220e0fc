//! Open strip packing through the same search that lays cloth.

use std::sync::Arc;

use crate::shape::{Pose, Region, pt};

use super::board::Board;
use super::form::Form;
use super::kind::{Hold, Kind, Way};
use super::search::{Budget, Listener, Outcome, search};

/// A shape to lay on a strip.
#[derive(Clone, Debug)]
pub struct StripPiece {
    /// Its region.
    pub region: Region,
    /// How many.
    pub count: usize,
    /// Allowed turns, degrees.
    pub turns_deg: Vec<f64>,
}

/// Where one copy lies: piece, copy (from 0), pose.
pub type StripSpot = (usize, usize, Pose);

/// A strip packing.
#[derive(Clone, Debug)]
pub struct StripLay {
    /// Where every copy lies.
    pub spots: Vec<StripSpot>,
    /// Used length of the strip.
    pub length: f64,
    /// Moves spent.
    pub moves: u64,
}

/// Lays `pieces` on the strip 0 ≤ x ≤ `width`, y from 0 up, as short as the budget allows.
/// `hear` is told the share of the budget spent and the length, whenever a shorter lay is found.
///
/// # Errors
/// The index of a piece that is wider than the strip at every turn.
pub fn lay_strip(
    pieces: &[StripPiece],
    width: f64,
    budget: Budget,
    seed: u64,
    hear: &(dyn Fn(f64, f64) + Sync),
) -> Result<StripLay, usize> {
    let (board, names) = strip_board(pieces, width);
    let outcome = search(&board, budget, seed, 0.0, &Hear(hear)).map_err(|i| names[i].0)?;
    Ok(told(&board, &names, &outcome))
}

fn strip_board(pieces: &[StripPiece], width: f64) -> (Board, Vec<(usize, usize)>) {
    let kinds: Vec<Kind> = pieces
        .iter()
        .map(|p| {
            let ways: Vec<Way> = p
                .turns_deg
                .iter()
                .map(|&turn_deg| {
                    let region = Pose { turn_deg, shift: pt(0.0, 0.0) }.region(&p.region);
                    let form = Arc::new(Form::new(&region));
                    Way { turn_deg, bounds: region.bounds(), bare: form.clone(), form, hold: Hold::Free }
                })
                .collect();
            let size = ways.iter().map(|w| w.form.size).fold(0.0, f64::max);
            Kind { ways, size, turning: None, close: 0 }
        })
        .collect();
    let names: Vec<(usize, usize)> =
        pieces.iter().enumerate().flat_map(|(p, piece)| (0..piece.count).map(move |c| (p, c))).collect();
    let items = names.iter().map(|n| n.0).collect();
    let board =
        Board { kinds, items, obstacles: Vec::new(), left: 0.0, right: width, near: 0.0, groups: Vec::new() };
    (board, names)
}

fn told(board: &Board, names: &[(usize, usize)], outcome: &Outcome) -> StripLay {
    let spots = names
        .iter()
        .zip(&outcome.layout.spots)
        .enumerate()
        .map(|(i, (&(piece, copy), spot))| {
            let pose = Pose { turn_deg: board.way(i, spot).turn_deg, shift: spot.shift };
            (piece, copy, pose)
        })
        .collect();
    StripLay { spots, length: outcome.length, moves: outcome.moves }
}

struct Hear<'a>(&'a (dyn Fn(f64, f64) + Sync));

impl Listener for Hear<'_> {
    fn hear(&self, share: f64, length: f64, _board: &Board, _layout: &super::board::Layout) {
        (self.0)(share, length);
    }

    fn stopped(&self) -> bool {
        false
    }
}
