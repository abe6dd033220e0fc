//! One cloth's pieces, ready to be searched: rules turned into places and a board, checked before any search.

use crate::cloth::Cloth;
use crate::say::Trouble;
use crate::shape::{Bounds, Pose, Region, booleans, pt, tol};

use super::board::{Board, Layout};
use super::bound;
use super::compute::Request;
use super::diagnose;
use super::locked::{self, Locked};
use super::model::{ClothLay, Placed};
use super::places::{Places, Single, places};
use super::prepare;
use super::search::{Budget, Listener, search};
use super::stand::Stands;

/// One cloth's pieces, ready to be searched.
pub struct Task<'a> {
    /// What is asked.
    pub request: &'a Request<'a>,
    /// The cloth.
    pub cloth: &'a Cloth,
    /// The cloth, by index.
    pub cloth_index: usize,
    /// Spots that something other than a piece needs.
    pub kept_clear: &'a [Region],
    /// Where the pieces may lie.
    pub places: Places,
    /// What the search plays on: the pieces not placed by hand, the others in their way.
    pub board: Board,
    /// Where the farthest piece placed by hand ends.
    pub locked_end: f64,
    /// No search need go on once its farthest piece ends here.
    pub goal: f64,
    /// No lay ends nearer than this, whatever an exact test forgives.
    pub least: f64,
}

/// A lay found on a task's board.
#[derive(Clone, Debug)]
pub struct Found {
    /// The lay.
    pub layout: Layout,
    /// The turn of every item, degrees.
    pub turns_deg: Vec<f64>,
    /// Where its farthest piece ends, those placed by hand included.
    pub length: f64,
    /// Moves spent on it.
    pub moves: u64,
    /// True when the clock ended the search.
    pub ended_by_clock: bool,
    /// True when the maker stopped it before every piece had a proper place.
    pub cut_short: bool,
}

impl<'a> Task<'a> {
    /// The task of laying `on_cloth` on cloth `c` of the request round the `locked` pieces of that cloth, groups that may
    /// lie along or across as `stands` says.
    ///
    /// # Errors
    /// Everything that makes it impossible, as far as it can be seen without a search.
    pub fn new(
        request: &'a Request<'a>,
        c: usize,
        on_cloth: &[Single],
        locked: &[Locked],
        stands: &Stands,
    ) -> Result<Task<'a>, Vec<Trouble>> {
        let (pieces, rules, cloth) = (request.pieces, request.rules, &request.cloths[c]);
        let gap_mm = request.spec.gap_mm;
        let kept_clear = request.kept_clear.get(c).map_or(&[][..], |k| k);
        let mut places = places(pieces, on_cloth, rules, cloth, stands)?;
        if let Some(struck) = request.struck {
            places.strike(struck);
        }
        let mut troubles = diagnose::too_fine(&places, cloth, c, gap_mm);
        let locked: Vec<Locked> = locked.iter().filter(|l| l.cloth == c).copied().collect();
        if let Err(t) = locked::fix(&mut places, &locked, pieces, rules, cloth, gap_mm) {
            troubles.extend(t);
        }
        if !troubles.is_empty() {
            return Err(troubles);
        }
        let board = prepare::board(pieces, &places, cloth, kept_clear, gap_mm, false);
        let troubles = diagnose::no_way_in(&board, &places, pieces, cloth, c, gap_mm);
        if !troubles.is_empty() {
            return Err(troubles);
        }
        let locked_end = locked
            .iter()
            .map(|l| l.pose.region(&pieces[l.piece].cut).bounds().max.y)
            .fold(board.near, f64::max);
        let least = bound::least_far(&places, pieces, cloth, gap_mm, tol::CLEAR_MM);
        let goal = bound::least_far(&places, pieces, cloth, gap_mm, 0.0).max(locked_end) + tol::SAME_POINT_MM;
        let task =
            Task { request, cloth, cloth_index: c, kept_clear, places, board, locked_end, goal, least };
        match diagnose::too_much(&task) {
            Some(t) => Err(vec![t]),
            None => Ok(task),
        }
    }

    /// Where pieces must end on a cloth of fixed length.
    pub fn end(&self) -> f64 {
        if self.cloth.open_length {
            Cloth::OPEN_LENGTH_MM
        } else {
            self.cloth.outline.bounds().max.y - self.cloth.edge_mm
        }
    }

    /// True when a lay that ends at `length` is on the cloth.
    pub fn fits(&self, length: f64) -> bool {
        length <= self.end() + tol::SAME_POINT_MM
    }

    /// Searches for a short lay; ends early at `goal`.
    ///
    /// # Errors
    /// The index of an item that fits nowhere, however long the cloth.
    pub fn search(
        &self,
        budget: Budget,
        seed: u64,
        goal: f64,
        listener: &dyn Listener,
    ) -> Result<Found, usize> {
        if self.board.items.is_empty() {
            let phases = self.board.groups.iter().map(|g| g.at(0.0, 0.0)).collect();
            let layout = Layout { spots: Vec::new(), phases };
            return Ok(Found {
                layout,
                turns_deg: Vec::new(),
                length: self.locked_end,
                moves: 0,
                ended_by_clock: false,
                cut_short: false,
            });
        }
        let o = search(&self.board, budget, seed, goal.max(self.locked_end), listener)?;
        Ok(Found {
            layout: o.layout,
            turns_deg: o.turns_deg,
            length: o.length.max(self.locked_end),
            moves: o.moves,
            ended_by_clock: o.ended_by_clock,
            cut_short: o.cut_short,
        })
    }

    /// The turn of every item of a layout that speaks of this task's own board.
    pub fn turns_deg(&self, layout: &Layout) -> Vec<f64> {
        layout.spots.iter().enumerate().map(|(i, s)| self.board.way(i, s).turn_deg).collect()
    }

    /// The lay in the cloth's frame. `proved`: no lay is shorter.
    pub fn told(&self, found: &Found, proved: bool) -> ClothLay {
        let Layout { spots, phases } = &found.layout;
        let pieces = self.request.pieces;
        let mut searched = spots.iter().zip(&found.turns_deg);
        let placed: Vec<Placed> = self
            .places
            .places
            .iter()
            .filter_map(|place| {
                let pose = match place.locked {
                    Some(pose) => pose,
                    None => {
                        let (spot, turn_deg) = searched.next()?;
                        Pose { turn_deg: *turn_deg, shift: spot.shift }
                    }
                };
                Some(Placed {
                    piece: place.piece,
                    copy: place.copy,
                    pose,
                    group_shift: self.places.drawn_shift(place.piece, phases),
                    locked: place.locked.is_some(),
                    cut: pose.region(&pieces[place.piece].cut),
                })
            })
            .collect();
        let used = Used { cloth: self.cloth, far: found.length };
        let on = used.by(placed);
        ClothLay {
            least_length_mm: if proved { on.used_length_mm } else { used.as_used(self.least) },
            proved,
            ended_by_clock: found.ended_by_clock,
            ..on
        }
    }
}

/// A cloth used as far as a lay ends.
pub struct Used<'a> {
    /// The cloth.
    pub cloth: &'a Cloth,
    /// Where the farthest piece ends, cloth frame, mm.
    pub far: f64,
}

impl Used<'_> {
    /// Length of cloth used by a lay that ends at `far`.
    pub fn as_used(&self, far: f64) -> f64 {
        let whole = self.cloth.outline.bounds();
        let most = if self.cloth.open_length { f64::INFINITY } else { whole.height() };
        (far + self.cloth.edge_mm - whole.min.y).min(most)
    }

    /// The figures of a lay of these pieces; nothing is known of shorter ones.
    pub fn by(&self, placed: Vec<Placed>) -> ClothLay {
        let whole = self.cloth.outline.bounds();
        let used_length_mm = self.as_used(self.far);
        let used = Bounds::new(whole.min, pt(whole.max.x, whole.min.y + used_length_mm));
        let outline = Region::new(self.cloth.outline.clone(), Vec::new());
        let used_area_mm2 =
            booleans::intersection(&[outline], &[Region::rectangle(used)]).iter().map(Region::area).sum();
        ClothLay {
            pieces_area_mm2: placed.iter().map(|p| p.cut.area()).sum(),
            placed,
            used_length_mm,
            used_area_mm2,
            ..ClothLay::default()
        }
    }
}
