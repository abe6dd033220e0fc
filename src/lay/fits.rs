//! Whether pieces go on a cloth at all: a short look, at one cloth after another.

use crate::cloth::Cloth;
use crate::drawing::Piece;
use crate::job::{LaySpec, PieceRule};
use crate::say::{Trouble, Watch};

use super::board::Board;
use super::places::{Places, Single, places};
use super::prepare;
use super::search::{Budget, Deaf, search};
use super::stand::Stands;

/// Pieces to be tried on cloths of one fabric. Their forms are made ready once.
pub struct Fits<'a> {
    pieces: &'a [Piece],
    rules: &'a [PieceRule],
    spec: &'a LaySpec,
    singles: Vec<Single>,
    board: Option<Board>,
}

impl<'a> Fits<'a> {
    /// All copies of `pieces`, under `rules`; of `spec` the gap and the seed count.
    pub fn new(pieces: &'a [Piece], rules: &'a [PieceRule], spec: &'a LaySpec) -> Fits<'a> {
        let singles = pieces.iter().enumerate().flat_map(|(p, piece)| (1..=piece.count).map(move |c| (p, c)));
        Fits { pieces, rules, spec, singles: singles.collect(), board: None }
    }

    /// True when a search within `budget` lays them all on `cloth`, which is of fixed length; it ends as soon
    /// as it does. False says no more than that none was found.
    pub fn goes(&mut self, cloth: &Cloth, budget: Budget, watch: &dyn Watch) -> bool {
        let Ok(first) = self.places(cloth, &Stands::new()) else { return false };
        // Groups that may lie along or across are tried in each way, all of them alike.
        let ways = first.open.iter().map(|(_, all)| all.len()).max().unwrap_or(1);
        let others: Vec<Stands> = (1..ways)
            .map(|k| first.open.iter().filter_map(|(g, all)| Some((g.clone(), *all.get(k)?))).collect())
            .collect();
        self.lay(first, cloth, budget, watch)
            || others.iter().any(|stands| {
                self.places(cloth, stands).is_ok_and(|places| self.lay(places, cloth, budget, watch))
            })
    }

    fn places(&self, cloth: &Cloth, stands: &Stands) -> Result<Places, Vec<Trouble>> {
        places(self.pieces, &self.singles, self.rules, cloth, stands)
    }

    fn lay(&mut self, places: Places, cloth: &Cloth, budget: Budget, watch: &dyn Watch) -> bool {
        let board = match self.board.take() {
            Some(board) if alike(&board, &places) => prepare::on_another(board, &places, cloth),
            _ => prepare::board(self.pieces, &places, cloth, &[], self.spec.gap_mm, true),
        };
        let end = cloth.outline.bounds().max.y - cloth.edge_mm;
        let found = search(&board, budget, self.spec.seed, end, &Deaf(watch));
        self.board = Some(board);
        found.is_ok_and(|f| f.length <= end)
    }
}

/// True when `board` has a kind with the same turns for every place.
pub(super) fn alike(board: &Board, places: &Places) -> bool {
    let same = |(item, place): (&usize, &super::places::Place)| {
        let ways = &board.kinds[*item].ways;
        ways.len() == place.turns.len() && ways.iter().zip(&place.turns).all(|(w, t)| w.turn_deg == t.0)
    };
    board.items.len() == places.free().count() && board.items.iter().zip(places.free()).all(same)
}
