//! Pieces of a stock shared out without a search: each on the first cloth that has a free place for it, found as a first
//! lay finds it.
//!
//! Quick, so that many pieces on many cloths get a lay at all; a search may do with fewer cloths.

use crate::cloth::Cloth;

use super::board::{Board, Layout, Spot};
use super::chance::Chance;
use super::fits::alike;
use super::locked;
use super::places::{Places, Single, places};
use super::prepare;
use super::spread::{Order, Shared, Sharing, Unit, add};
use super::stand::Stands;
use super::start::{Looks, Placer};
use super::task::Found;

/// What came of it.
pub(super) struct AtOnce {
    /// Units that have no place.
    pub left: Vec<Unit>,
    /// The cloths that took some, in the order they were gone through.
    pub filled: Vec<usize>,
    /// True when some units were not tried on all cloths: the looks were spent, or the maker stopped it.
    pub cut_short: bool,
}

/// Pieces that found no place on a cloth, to know others by that are as large; so many are remembered.
const MOST_REFUSED: usize = 24;

impl Sharing<'_> {
    /// Shares `units` out over the cloths in an order, each single one in its turn. `None` where pieces go together or
    /// are held by a pattern: such a group is laid as a whole.
    pub fn at_once(
        &self,
        order: Order,
        units: &[Unit],
        by_room: &[usize],
        room: &[f64],
        shared: &mut Shared,
        looks: &Looks,
    ) -> Option<AtOnce> {
        let singles: Vec<_> = units.iter().map(|u| u.singles.first().copied()).collect::<Option<_>>()?;
        if units.iter().any(|u| u.singles.len() != 1) {
            return None;
        }
        let pieces = self.request.pieces;
        let mut turns: Vec<usize> = (0..units.len()).collect();
        if let Order::Length = order {
            let long = |k: &usize| {
                let b = pieces[singles[*k].0].cut.bounds();
                b.width().max(b.height())
            };
            turns.sort_by(|a, b| long(b).total_cmp(&long(a)).then(a.cmp(b)));
        }
        let mut cloths = by_room.to_vec();
        if !matches!(order, Order::Tight) {
            cloths.reverse();
        }
        let mut base: Option<Board> = None;
        let mut all = AtOnce { left: Vec::new(), filled: Vec::new(), cut_short: false };
        for c in cloths {
            if turns.is_empty() {
                break;
            }
            // What must lie here comes first.
            let own = shared.on_cloth[c].clone();
            let whole = [&own[..], &singles[..]].concat();
            let cloth = &self.request.cloths[c];
            let Some((places, board)) = self.ready(c, &whole, own.is_empty(), &mut base) else { continue };
            if !places.groups.is_empty() || !places.open.is_empty() {
                return None;
            }
            let end = end(cloth);
            let by_hand = places.places.iter().take(own.len()).filter(|p| p.locked.is_some()).count();
            let first = own.len() - by_hand;
            let mut placer =
                Placer::new(&board, Vec::new(), end, Chance::new(self.request.spec.seed, u64::MAX));
            let mut went: Vec<usize> = Vec::new();
            let lies = |item: usize, waiting: usize, placer: &mut Placer| {
                looks.begin(waiting);
                placer.place_within(item, end, looks)
            };
            if !(0..first).all(|item| lies(item, first, &mut placer)) {
                continue;
            }
            let mut used: f64 = own.iter().map(|s| pieces[s.0].cut.area()).sum();
            let mut refused: Vec<usize> = Vec::new();
            let mut others = Vec::with_capacity(turns.len());
            let waiting = turns.len();
            for (n, k) in turns.into_iter().enumerate() {
                let unit = &units[k];
                let hopeless =
                    used + unit.area > room[c] || refused.iter().any(|r| self.as_large(unit, &units[*r]));
                if hopeless || looks.left() == 0 {
                    all.cut_short |= !hopeless;
                    others.push(k);
                    continue;
                }
                if lies(first + k, waiting - n, &mut placer) {
                    used += unit.area;
                    went.push(k);
                } else {
                    if refused.len() < MOST_REFUSED {
                        refused.push(k);
                    }
                    others.push(k);
                }
            }
            turns = others;
            if went.is_empty() {
                continue;
            }
            let mut lain: Vec<_> = (0..first)
                .map(|item| (places.free().nth(item).map(|p| (p.piece, p.copy)), item))
                .chain(went.iter().map(|k| (Some(singles[*k]), first + k)))
                .filter_map(|(single, item)| Some((single?, item)))
                .collect();
            lain.sort_unstable();
            let items: Vec<usize> = lain.iter().map(|l| l.1).collect();
            shared.known[c] = Some(self.found(&board, &placer, &items, &places));
            let new: Vec<_> = went.iter().map(|k| singles[*k]).collect();
            add(&mut shared.on_cloth[c], &new);
            all.filled.push(c);
        }
        all.left = turns.into_iter().map(|k| units[k].clone()).collect();
        Some(all)
    }

    /// The places of `whole` on cloth `c`, and a board of them: that of another cloth where both hold the `units_alone`.
    fn ready(
        &self,
        c: usize,
        whole: &[Single],
        units_alone: bool,
        base: &mut Option<Board>,
    ) -> Option<(Places, Board)> {
        let request = self.request;
        let cloth = &request.cloths[c];
        let mut places = places(request.pieces, whole, request.rules, cloth, &Stands::new()).ok()?;
        if let Some(struck) = request.struck {
            places.strike(struck);
        }
        let here: Vec<_> = self.locked.iter().filter(|l| l.cloth == c).copied().collect();
        locked::fix(&mut places, &here, request.pieces, request.rules, cloth, request.spec.gap_mm).ok()?;
        let kept_clear = request.kept_clear.get(c).map_or(&[][..], |k| k);
        let plain = units_alone && here.is_empty() && kept_clear.is_empty();
        let board = match base.as_ref().filter(|b| plain && alike(b, &places)) {
            Some(board) => prepare::on_another(board.clone(), &places, cloth),
            None => prepare::board(request.pieces, &places, cloth, kept_clear, request.spec.gap_mm, true),
        };
        if plain {
            *base = Some(board.clone());
        }
        Some((places, board))
    }

    /// The lay of `items` as the placer put them, in order.
    fn found(&self, board: &Board, placer: &Placer, items: &[usize], places: &Places) -> Found {
        let spots: Vec<Spot> = items.iter().map(|i| placer.layout.spots[*i]).collect();
        let way = |i: &usize| board.way(*i, &placer.layout.spots[*i]);
        let tops = items.iter().map(|i| way(i).bounds.max.y + placer.layout.spots[*i].shift.y);
        let by_hand = places
            .places
            .iter()
            .filter_map(|p| Some(p.locked?.region(&self.request.pieces[p.piece].cut).bounds().max.y));
        Found {
            turns_deg: items.iter().map(|i| way(i).turn_deg).collect(),
            length: tops.chain(by_hand).fold(board.near, f64::max),
            layout: Layout { spots, phases: Vec::new() },
            moves: 0,
            ended_by_clock: false,
            cut_short: false,
        }
    }
}

/// Where pieces must end; a cloth of open length ends very far.
fn end(cloth: &Cloth) -> f64 {
    if cloth.open_length { Cloth::OPEN_LENGTH_MM } else { cloth.outline.bounds().max.y - cloth.edge_mm }
}
