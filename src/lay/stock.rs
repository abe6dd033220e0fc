//! Several cloths of one stock: which of them each piece is cut from.
//!
//! All on one cloth if they go, on the smallest on which they do; else spread over as few as the order finds,
//! the largest pieces first. Every step is tried by laying: as many as the cloths before took, then the largest single
//! one that goes, found by halving. Cloths that are not needed stay whole.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::time::{Duration, Instant};

use crate::cloth::Cloth;
use crate::drawing::Piece;
use crate::job::{Match, PieceRule};
use crate::say::{Note, Trouble, Watch};
use crate::shape::Region;

use super::at_once::AtOnce;
use super::compute::{MOVES_PER_EFFORT, Request};
use super::either;
use super::locked::Locked;
use super::model::{ChoiceEnded, Lay};
use super::places::Single;
use super::spread::{Order, Shared, Sharing, Unit, add};
use super::start::Looks;

/// The cloths that `piece` may be cut from, by index: the one its rule names, or every cloth of the stock
/// its rule names.
pub fn choices(piece: &Piece, rules: &[PieceRule], cloths: &[Cloth]) -> Vec<usize> {
    let named = rules.get(piece.rule).map_or("", |r| r.cloth.as_str());
    if cloths.iter().all(|c| c.name != named) {
        let of_stock: Vec<usize> =
            (0..cloths.len()).filter(|c| cloths[*c].stock.as_deref() == Some(named)).collect();
        if !of_stock.is_empty() {
            return of_stock;
        }
    }
    vec![piece.cloth]
}

/// Decides which cloth every single piece is cut from.
///
/// # Errors
/// Pieces that do not fit the cloths of their stock, with what would help.
pub fn share(request: &Request, locked: &[Locked], watch: &dyn Watch) -> Result<Shared, Vec<Trouble>> {
    let Request { pieces, rules, cloths, .. } = *request;
    let mut shared = Shared::new(cloths.len());
    let mut stocks: BTreeMap<Vec<usize>, Vec<Single>> = BTreeMap::new();
    for (p, piece) in pieces.iter().enumerate().filter(|(_, p)| p.count > 0) {
        let choices = choices(piece, rules, cloths);
        let singles = (1..=piece.count).map(|copy| (p, copy));
        match choices[..] {
            [one] if one < cloths.len() => shared.on_cloth[one].extend(singles),
            _ => stocks.entry(choices).or_default().extend(singles),
        }
    }
    let mut troubles = Vec::new();
    let seconds = request.spec.seconds * FOR_CHOOSING;
    let clock = request.spec.effort.is_none().then(|| Instant::now() + Duration::from_secs_f64(seconds));
    for (choices, singles) in stocks {
        let tries_left = MOST_TRIES + TRIES_A_CLOTH * choices.len();
        let effort = u64::from(request.spec.effort.unwrap_or(0)) * MOVES_PER_EFFORT;
        let moves_left = LEAST_MOVES.max(effort * EFFORTS_TO_CHOOSE);
        let sharing = Sharing { request, locked, watch, tries_left, moves_left, clock, ended: None };
        if let Err(t) = sharing.share(&choices, &singles, &mut shared) {
            troubles.extend(t);
        }
    }
    if troubles.is_empty() { Ok(shared) } else { Err(troubles) }
}

/// Most lays tried for one stock, and for each of its cloths besides.
const MOST_TRIES: usize = 300;
const TRIES_A_CLOTH: usize = 10;

/// Moves for all tries of one stock together: at least so many, or so many times those of the job's effort.
const LEAST_MOVES: u64 = 200_000;
const EFFORTS_TO_CHOOSE: u64 = 4;

/// Spots looked at while pieces are shared out without a search.
const LOOKS_AT_ONCE: u64 = 2_000_000;

/// Most lays tried to see whether the pieces go when those of a group are kept apart.
const TRIES_APART: usize = 60;

/// Share of the job's seconds for choosing.
const FOR_CHOOSING: f64 = 0.5;

impl Sharing<'_> {
    fn share(
        mut self,
        choices: &[usize],
        singles: &[Single],
        shared: &mut Shared,
    ) -> Result<(), Vec<Trouble>> {
        let mut units = Vec::new();
        for unit in self.units(choices, singles) {
            match self.fixed(&unit)? {
                Some(c) => add(&mut shared.on_cloth[c], &unit.singles),
                None => units.push(unit),
            }
        }
        if units.is_empty() {
            return Ok(());
        }
        units.sort_by(|a, b| b.largest.total_cmp(&a.largest).then(a.singles.cmp(&b.singles)));
        let room: Vec<f64> = self.request.cloths.iter().map(room).collect();
        let mut by_room = choices.to_vec();
        by_room.sort_by(|a, b| room[*a].total_cmp(&room[*b]).then(a.cmp(b)));
        let area =
            |singles: &[Single]| singles.iter().map(|s| self.request.pieces[s.0].cut.area()).sum::<f64>();
        // All on one.
        let wanted: f64 = units.iter().map(|u| u.area).sum();
        for &c in &by_room {
            if room[c] - area(&shared.on_cloth[c]) >= wanted && self.put(c, &units, shared) {
                return Ok(());
            }
        }
        let all_room: f64 = choices.iter().map(|c| (room[*c] - area(&shared.on_cloth[*c])).max(0.0)).sum();
        if wanted > all_room {
            return Err(self.do_not_fit(choices, singles, &units, wanted, all_room));
        }
        let before = (shared.on_cloth.clone(), shared.known.clone());
        // Each on the first cloth that has a place for it: quick, and enough where no fewer cloths could do.
        let quick = self.quickly(&units, &by_room, &room, shared);
        let least = least_cloths(wanted, choices.iter().map(|c| (room[*c] - area(&before.0[*c])).max(0.0)));
        let enough = quick.as_ref().is_some_and(|q| q.left.is_empty() && (q.filled.len() <= least));
        let with_quick = (shared.on_cloth.clone(), shared.known.clone());
        let mut fewest: Option<Vec<Unit>> = None;
        let mut filled = Vec::new();
        let sum = |units: &Vec<Unit>| units.iter().map(|u| u.area).sum::<f64>();
        // What is shared out already is not searched for again once time is up.
        let late = self.watch.stopped() || self.clock.is_some_and(|until| Instant::now() >= until);
        let done = late && quick.as_ref().is_some_and(|q| q.left.is_empty());
        if done && !enough {
            self.ended = Some(if self.watch.stopped() { ChoiceEnded::Stopped } else { ChoiceEnded::Seconds });
        }
        if !enough && !done {
            for order in [Order::Area, Order::Length, Order::Tight] {
                (shared.on_cloth, shared.known) = before.clone();
                let left;
                (filled, left) = self.spread(order, units.clone(), &by_room, &room, shared);
                if fewest.as_ref().is_none_or(|f| sum(&left) < sum(f)) {
                    fewest = Some(left);
                }
                if !self.may_try() || fewest.as_ref().is_some_and(Vec::is_empty) {
                    break;
                }
            }
        }
        if let Some(quick) = quick {
            let searched = fewest.as_ref().map(|left| (sum(left), filled.len()));
            let better = |(left, cloths): (f64, usize)| {
                let mine = sum(&quick.left);
                mine < left || (mine == left && quick.filled.len() < cloths)
            };
            if searched.is_none_or(better) {
                (shared.on_cloth, shared.known) = with_quick;
                (filled, fewest) = (quick.filled, Some(quick.left));
            }
        }
        if fewest.as_ref().is_some_and(Vec::is_empty) && filled.len() <= least {
            // No fewer would do, whatever was not tried.
            self.ended = None;
        }
        if let Some(left) = fewest.filter(|left| !left.is_empty()) {
            return Err(self.do_not_fit(choices, singles, &left, wanted, all_room));
        }
        for c in choices {
            shared.ended[*c] = self.ended;
        }
        if done {
            return Ok(());
        }
        // What lies on one may do with a smaller one.
        for &c in filled.iter().rev() {
            let smaller = by_room.iter().copied().take_while(|s| *s != c);
            let free: Vec<usize> = smaller.filter(|s| shared.on_cloth[*s].is_empty()).collect();
            if self.locked.iter().any(|l| l.cloth == c)
                || shared.on_cloth[c].iter().any(|s| !singles.contains(s))
            {
                continue;
            }
            for s in free {
                let all = shared.on_cloth[c].clone();
                if room[s] >= area(&all)
                    && let Some(found) = self.lay(s, &all)
                {
                    (shared.on_cloth[s], shared.known[s]) = (all, Some(found));
                    (shared.on_cloth[c], shared.known[c]) = (Vec::new(), None);
                    break;
                }
            }
        }
        Ok(())
    }

    /// The best of the orders without a search: the least left over, then the fewest cloths. Leaves it in `shared`.
    fn quickly(
        &mut self,
        units: &[Unit],
        by_room: &[usize],
        room: &[f64],
        shared: &mut Shared,
    ) -> Option<AtOnce> {
        let before = (shared.on_cloth.clone(), shared.known.clone());
        let (watch, of) = (self.watch, units.len());
        let clock = self.clock;
        let late = || clock.is_some_and(|until| Instant::now() >= until);
        let (stopped, placed) = (|| watch.stopped() || late(), |_: usize, _: usize| ());
        let looks = Looks::of(LOOKS_AT_ONCE, &stopped, &placed);
        let sum = |q: &AtOnce| q.left.iter().map(|u| u.area).sum::<f64>();
        let mut best: Option<(AtOnce, _)> = None;
        for order in [Order::Area, Order::Length, Order::Tight] {
            watch.step("lay", 0.0, &format!("{of} pieces on {} cloths", by_room.len()));
            (shared.on_cloth, shared.known) = before.clone();
            let Some(quick) = self.at_once(order, units, by_room, room, shared, &looks) else { break };
            if quick.cut_short && !quick.left.is_empty() {
                let ended = match (watch.stopped(), late()) {
                    (true, _) => ChoiceEnded::Stopped,
                    (false, true) => ChoiceEnded::Seconds,
                    (false, false) => ChoiceEnded::Effort,
                };
                self.ended = self.ended.or(Some(ended));
            }
            let is_better = best
                .as_ref()
                .is_none_or(|(b, _)| (sum(&quick), quick.filled.len()) < (sum(b), b.filled.len()));
            if is_better {
                best = Some((quick, (shared.on_cloth.clone(), shared.known.clone())));
            }
            if looks.left() == 0 || stopped() {
                break;
            }
        }
        (shared.on_cloth, shared.known) = before;
        let (quick, state) = best?;
        (shared.on_cloth, shared.known) = state;
        Some(quick)
    }

    /// Pieces whose pattern must match stay together, since another cloth carries it in another place.
    fn units(&self, choices: &[usize], singles: &[Single]) -> Vec<Unit> {
        let pieces = self.request.pieces;
        let patterned = choices.iter().any(|c| self.request.cloths[*c].pattern.is_some());
        let mut together: BTreeMap<(Match, &str), usize> = BTreeMap::new();
        let mut units: Vec<Unit> = Vec::new();
        for &single in singles {
            let piece = &pieces[single.0];
            let area = piece.cut.area();
            let mut at = units.len();
            if patterned && piece.matching != Match::Free {
                at = *together.entry((piece.matching, piece.group.as_str())).or_insert(at);
            }
            if at == units.len() {
                units.push(Unit { singles: Vec::new(), area: 0.0, largest: 0.0 });
            }
            let unit = &mut units[at];
            unit.singles.push(single);
            unit.area += area;
            unit.largest = unit.largest.max(area);
        }
        units
    }

    /// The cloth that pieces placed by hand keep a unit on.
    fn fixed(&self, unit: &Unit) -> Result<Option<usize>, Vec<Trouble>> {
        let mut on = self.locked.iter().filter(|l| unit.singles.contains(&(l.piece, l.copy)));
        let Some(first) = on.next() else { return Ok(None) };
        let Some(other) = on.find(|l| l.cloth != first.cloth) else { return Ok(Some(first.cloth)) };
        let name = |l: &Locked| format!("locked piece {} ({})", self.request.pieces[l.piece].id, l.copy);
        let piece = &self.request.pieces[first.piece];
        Err(vec![
            Trouble::cannot(
                name(other),
                format!(
                    "lies on another cloth than {}, but group {} is matched \"{}\" and stays on one",
                    name(first),
                    piece.group,
                    piece.matching.word()
                ),
            )
            .hint("place them on one cloth, or give them groups of their own"),
        ])
    }

    fn do_not_fit(
        &self,
        choices: &[usize],
        singles: &[Single],
        left: &[Unit],
        wanted: f64,
        all_room: f64,
    ) -> Vec<Trouble> {
        let pieces = self.request.pieces;
        // A piece that goes on none of them, however empty, says why by itself.
        let mut troubles = Vec::new();
        let roomiest = choices
            .iter()
            .copied()
            .max_by(|a, b| {
                let room = |c: &usize| room(&self.request.cloths[*c]);
                room(a).total_cmp(&room(b))
            })
            .unwrap_or(0);
        for unit in left {
            let mut why = Vec::new();
            let none = choices.iter().all(|c| {
                match either::task(self.request, *c, &unit.singles, self.locked, self.watch) {
                    Ok(_) => false,
                    Err(t) => {
                        if *c == roomiest {
                            why = t;
                        }
                        true
                    }
                }
            });
            if none {
                let each = self.each_on_its_own(choices, singles, std::slice::from_ref(unit));
                troubles.extend(why.into_iter().map(|t| {
                    let hint = each.as_ref().map_or(t.hint.clone(), |each| format!("{each}, or {}", t.hint));
                    let t = Trouble { hint, ..t };
                    let what = format!("{}; no other cloth of its stock takes it either", t.what);
                    Trouble { what, ..t }
                }));
            }
            if troubles.len() > 20 {
                break;
            }
        }
        troubles.dedup();
        if !troubles.is_empty() {
            return troubles;
        }
        let stock = self.request.cloths[roomiest].stock.clone().unwrap_or_default();
        let count: usize = left.iter().map(|u| u.singles.len()).sum();
        let biggest =
            left[0].singles.iter().max_by(|a, b| pieces[a.0].cut.area().total_cmp(&pieces[b.0].cut.area()));
        let mut helps = Vec::new();
        let dm2 = |mm2: f64| format!("{:.1} dm²", mm2 / 1e4);
        let what = if wanted > all_room {
            helps.push(format!("{} more cloth at least", dm2(wanted - all_room)));
            format!(
                "its {count} pieces have {} in all, its {} cloths only {} that can be used",
                dm2(wanted),
                choices.len(),
                dm2(all_room)
            )
        } else {
            helps.push(format!("another offcut of well over {}", dm2(left.iter().map(|u| u.area).sum())));
            let name = biggest.map_or(String::new(), |s| {
                let b = pieces[s.0].cut.bounds();
                format!(", the largest of them {} ({:.0} × {:.0} mm)", pieces[s.0].id, b.width(), b.height())
            });
            let (said, cloths) = (pieces_are(count), choices.len());
            match self.ended {
                // Full is said only of what was tried to the end.
                None => format!("{said} left over once its {cloths} cloths are full{name}"),
                Some(ended) => format!(
                    "{said} without a place when the choice among its {cloths} cloths ended early, since {}{name}",
                    ended.words()
                ),
            }
        };
        if wanted <= all_room {
            helps.extend(self.each_on_its_own(choices, singles, left));
        }
        match self.ended.filter(|_| wanted <= all_room) {
            Some(ChoiceEnded::Seconds) => helps.push("a longer search (lay.seconds)".into()),
            Some(ChoiceEnded::Effort) => helps.push("a larger lay.effort".into()),
            Some(ChoiceEnded::Stopped) => helps.push("letting it run to its end".into()),
            None => {}
        }
        helps.push("fewer pieces".into());
        vec![Trouble::cannot(format!("stock {stock}"), what).hint(helps.join(", or "))]
    }

    /// What keeping the pieces of matched groups apart would take, where the pieces then go on their cloths: a matched
    /// group stays on one.
    fn each_on_its_own(&self, choices: &[usize], singles: &[Single], left: &[Unit]) -> Option<String> {
        let pieces = self.request.pieces;
        let may = |p: &Piece| matches!(p.matching, Match::Drawn | Match::Centred);
        let several = |u: &&Unit| u.singles.iter().any(|s| s.0 != u.singles[0].0);
        let of_units = left.iter().filter(several).flat_map(|u| &u.singles).map(|s| &pieces[s.0]);
        let rules: BTreeSet<usize> = of_units.filter(|p| may(p)).map(|p| p.rule).collect();
        if rules.is_empty() {
            return None;
        }
        let mut apart = pieces.to_vec();
        for piece in apart.iter_mut().filter(|p| rules.contains(&p.rule)) {
            piece.group = format!("{} {}", piece.group, piece.id);
        }
        let request = Request { pieces: &apart, ..*self.request };
        let cloths = self.request.cloths.len();
        let mut shared = Shared::new(cloths);
        let trial = Sharing { request: &request, tries_left: TRIES_APART, ended: None, ..*self };
        trial.share(choices, singles, &mut shared).ok()?;
        let rules: Vec<String> = rules.iter().map(|r| format!("pieces[{r}]")).collect();
        Some(format!(
            "set group to \"each\" in {}, so that its pieces may lie on several cloths, out of step with each other",
            rules.join(", ")
        ))
    }
}

fn pieces_are(count: usize) -> String {
    if count == 1 { "1 piece is".to_owned() } else { format!("{count} pieces are") }
}

/// So many cloths take an area at least, each full to the last bit.
fn least_cloths(wanted: f64, rooms: impl Iterator<Item = f64>) -> usize {
    let mut rooms: Vec<f64> = rooms.collect();
    rooms.sort_by(|a, b| b.total_cmp(a));
    let mut left = wanted;
    let mut cloths = 0;
    for room in rooms.into_iter().take_while(|r| *r > 0.0) {
        if left <= 0.0 {
            break;
        }
        (left, cloths) = (left - room, cloths + 1);
    }
    cloths
}

/// Notes on stocks the choice among whose cloths ended before all was tried.
pub fn choice_notes(lay: &Lay, cloths: &[Cloth]) -> Vec<Note> {
    let mut told: BTreeSet<&str> = BTreeSet::new();
    let ended = cloths.iter().zip(&lay.cloths).filter_map(|(cloth, on)| {
        let (stock, ended) = (cloth.stock.as_deref()?, on.choice_ended?);
        told.insert(stock).then(|| {
            let text = format!(
                "The choice among its cloths ended early, since {}: fewer of them may do. What helps: {}.",
                ended.words(),
                ended.more()
            );
            Note::advice(format!("stock {stock}"), text)
        })
    });
    ended.collect()
}

/// Usable area; a cloth of open length has no end of it.
fn room(cloth: &Cloth) -> f64 {
    if cloth.open_length { f64::INFINITY } else { cloth.usable().iter().map(Region::area).sum() }
}
