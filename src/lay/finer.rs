//! Turns between those the search starts from: every piece that may be turned by any angle within a range gets ways
//! close to the one it has, closer with every round.

use rayon::prelude::*;

use crate::shape::tol;

use super::board::{Board, Layout, Spot};
use super::kind::Kind;

/// Rounds of ever closer turns, each half as far apart as the one before.
pub const ROUNDS: usize = 8;

/// Ways to either side of the present one.
const TO_EITHER_SIDE: i32 = 2;

/// The first round's turns are this share of the distance between the turns the search starts from.
const FIRST_SHARE: f64 = 0.25;

/// True when some piece may be turned by any angle within a range.
pub fn has_ranges(board: &Board) -> bool {
    board.items.iter().any(|k| board.kinds[*k].turning.is_some())
}

/// `original`, with ways close to the present turn for every item that has a range; and `layout`, which speaks of
/// `now`'s ways, speaking of the new ones. `round` counts from 0.
pub fn closer(original: &Board, now: &Board, layout: &Layout, round: usize) -> (Board, Layout) {
    let made: Vec<(Option<Kind>, Spot)> = layout
        .spots
        .par_iter()
        .enumerate()
        .map(|(i, spot)| {
            let kind = &original.kinds[original.items[i]];
            let Some(turning) = &kind.turning else { return (None, *spot) };
            let present = now.way(i, spot);
            let step = turning.apart_deg * FIRST_SHARE * 0.5_f64.powi(round as i32);
            let mut turns: Vec<f64> = (-TO_EITHER_SIDE..=TO_EITHER_SIDE)
                .filter(|k| *k != 0)
                .filter_map(|k| turning.within(present.turn_deg + f64::from(k) * step, step))
                .collect();
            turns.push(present.turn_deg);
            // In order round the circle, beginning with the lowest below the present one.
            let past = |t: f64| (t - present.turn_deg + 540.0).rem_euclid(360.0);
            turns.sort_by(|a, b| past(*a).total_cmp(&past(*b)));
            turns.dedup_by(|a, b| (*a - *b).abs() < tol::SAME_TURN_DEG);
            let mut ways: Vec<_> =
                turns
                    .iter()
                    .map(|t| {
                        if *t == present.turn_deg {
                            present.clone()
                        } else {
                            turning.way(t.rem_euclid(360.0))
                        }
                    })
                    .collect();
            let way = turns.iter().position(|t| *t == present.turn_deg).unwrap_or(0);
            let close = ways.len();
            ways.extend(kind.ways.iter().cloned());
            (Some(Kind { ways, close, ..kind.clone() }), Spot { way, ..*spot })
        })
        .collect();
    let mut board = original.clone();
    let mut spots = Vec::with_capacity(made.len());
    for (i, (kind, spot)) in made.into_iter().enumerate() {
        if let Some(kind) = kind {
            board.kinds.push(kind);
            board.items[i] = board.kinds.len() - 1;
        }
        spots.push(spot);
    }
    (board, Layout { spots, phases: layout.phases.clone() })
}
