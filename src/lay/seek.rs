//! Seeking a spot for one piece: sampled over the whole cloth, then refined.

use crate::shape::{Point, pt};

use super::board::{Board, Index, Spot};
use super::chance::Chance;
use super::kind::{Hold, Kind, Way};

/// How much seeking one move is worth.
#[derive(Clone, Copy, Debug)]
pub struct Zeal {
    /// Spots sampled anywhere on the strip.
    pub anywhere: usize,
    /// Spots sampled round the present one.
    pub nearby: usize,
    /// How many of the best samples are refined.
    pub refined: usize,
}

/// A spot and what it costs.
#[derive(Clone, Copy, Debug)]
pub struct Found {
    /// The spot.
    pub spot: Spot,
    /// Its cost; 0 when nothing is in the way.
    pub cost: f64,
}

/// First and last step of refining every good sample, and then the best of them, as shares of the piece's size.
const COARSE: (f64, f64) = (0.1, 0.01);
const FINE: (f64, f64) = (0.01, 2e-4);

/// Lattices with at most this many allowed shifts in reach are walked whole.
const WALK_WHOLE: f64 = 64.0;

/// Seeks spots for one item among the others.
pub struct Seeker<'a> {
    /// The board.
    pub board: &'a Board,
    /// Where everything is.
    pub index: &'a Index,
    /// The present spots.
    pub spots: &'a [Spot],
    /// The groups' phases.
    pub phases: &'a [Point],
    /// The strip's far end.
    pub far: f64,
    /// The item to move.
    pub item: usize,
}

impl Seeker<'_> {
    /// Weighted depth of all overlaps at `shift`, or anything at least `limit` once that is passed.
    pub fn cost(&self, way: &Way, shift: Point, limit: f64, weight: &impl Fn(usize) -> f64) -> f64 {
        let mut sum = 0.0;
        let n = self.board.items.len();
        self.index.near(way.form.bounds.shifted(shift), |body| {
            if body == self.item {
                return true;
            }
            let depth = if body < n {
                let spot = &self.spots[body];
                way.form.depth(&self.board.way(body, spot).form, spot.shift - shift)
            } else {
                way.bare.depth(&self.board.obstacles[body - n], pt(0.0, 0.0) - shift)
            };
            if depth > 0.0 {
                sum += depth * weight(body);
            }
            // A limit of 0 must not end the walk before an overlap is found.
            sum == 0.0 || sum < limit
        });
        sum
    }

    /// The best spot found for the item, the present one included.
    pub fn seek(&self, zeal: Zeal, chance: &mut Chance, weight: &impl Fn(usize) -> f64) -> Found {
        let kind = &self.board.kinds[self.board.items[self.item]];
        let ways = &kind.ways;
        let present = self.spots[self.item];
        let mut best: Vec<Found> = Vec::with_capacity(zeal.refined + 1);
        let keep = |found: Found, best: &mut Vec<Found>| {
            let at = best.partition_point(|f| f.cost <= found.cost);
            if at < zeal.refined {
                best.truncate(zeal.refined - 1);
                best.insert(at, found);
            }
        };
        let limit = |best: &Vec<Found>| {
            if best.len() < zeal.refined { f64::INFINITY } else { best[best.len() - 1].cost }
        };
        let inside = |way: &Way, shift: Point| self.board.reach(way, self.far).contains(shift);
        if inside(&ways[present.way], present.shift) {
            let cost = self.cost(&ways[present.way], present.shift, f64::INFINITY, weight);
            keep(Found { spot: present, cost }, &mut best);
        }
        let lattice_walk = ways.iter().enumerate().all(|(w, way)| {
            self.walk_whole(way, |shift| {
                let cost = self.cost(way, shift, limit(&best), weight);
                keep(Found { spot: Spot { way: w, shift }, cost }, &mut best);
            })
        });
        if lattice_walk {
            return best.first().copied().unwrap_or(Found { spot: present, cost: f64::INFINITY });
        }
        for k in 0..zeal.anywhere + zeal.nearby {
            let near = k >= zeal.anywhere;
            let w = match near {
                true if present.way < kind.close => chance.below(kind.close),
                true => present.way,
                false => chance.below(ways.len()),
            };
            let way = &ways[w];
            let reach = self.board.reach(way, self.far);
            if reach.is_empty() {
                continue;
            }
            let target = if near {
                let spread = way.form.size * 0.3;
                // Turned where it lies.
                let here = present.shift + (ways[present.way].bounds.centre() - way.bounds.centre());
                let here = if w == present.way { present.shift } else { here };
                let t = here + pt(chance.bell() * spread, chance.bell() * spread);
                pt(t.x.clamp(reach.min.x, reach.max.x), t.y.clamp(reach.min.y, reach.max.y))
            } else {
                pt(chance.between(reach.min.x, reach.max.x), chance.between(reach.min.y, reach.max.y))
            };
            let Some(shift) = way.hold.nearest_within(target, self.phases, reach) else { continue };
            let cost = self.cost(way, shift, limit(&best), weight);
            keep(Found { spot: Spot { way: w, shift }, cost }, &mut best);
            if cost == 0.0 {
                break;
            }
        }
        let mut winner: Option<Found> = None;
        for found in best {
            let refined = self.refine(found, COARSE, chance, weight);
            if winner.is_none_or(|w| refined.cost < w.cost) {
                winner = Some(refined);
            }
        }
        match winner {
            Some(found) => self.refine(found, FINE, chance, weight),
            None => Found { spot: present, cost: f64::INFINITY },
        }
    }

    /// Calls `f` for every allowed shift within reach if `way` is held by a lattice and they are few;
    /// false when it is not or they are many.
    pub fn walk_whole(&self, way: &Way, mut f: impl FnMut(Point)) -> bool {
        let Hold::Lattice { a, b, .. } = way.hold else { return false };
        let reach = self.board.reach(way, self.far);
        if reach.is_empty() {
            return true;
        }
        let cell = (a.x * b.y - a.y * b.x).abs();
        if reach.width() * reach.height() > WALK_WHOLE * cell {
            return false;
        }
        way.hold.points(self.phases, reach, |p| {
            f(p);
            true
        });
        true
    }

    /// Steps downhill from `found` in ever smaller steps.
    fn refine(
        &self,
        found: Found,
        steps: (f64, f64),
        chance: &mut Chance,
        weight: &impl Fn(usize) -> f64,
    ) -> Found {
        let kind = &self.board.kinds[self.board.items[self.item]];
        let mut way = self.board.way(self.item, &found.spot);
        let mut reach = self.board.reach(way, self.far);
        let mut now = found;
        if let Hold::Lattice { a, b, .. } = way.hold {
            let mut moved = true;
            while moved && now.cost > 0.0 {
                moved = false;
                for (i, j) in [(1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, -1), (1, -1), (-1, 1)] {
                    let shift = now.spot.shift + a * f64::from(i) + b * f64::from(j);
                    if reach.contains(shift) {
                        let cost = self.cost(way, shift, now.cost, weight);
                        if cost < now.cost {
                            now = Found { spot: Spot { shift, ..now.spot }, cost };
                            moved = true;
                        }
                    }
                }
            }
            // Steps add rounding; the lattice's own point is exact.
            now.spot.shift = way.hold.near(now.spot.shift, self.phases);
            return now;
        }
        let finest = way.form.size * steps.1;
        let mut step = way.form.size * steps.0;
        while step > finest && now.cost > 0.0 {
            if now.spot.way < kind.close
                && chance.below(5) == 0
                && let Some(turned) = self.turned(now, kind, weight)
            {
                now = turned;
                way = self.board.way(self.item, &now.spot);
                reach = self.board.reach(way, self.far);
                continue;
            }
            let (dx, dy) = match (way.hold, chance.below(4)) {
                (Hold::Stripe { step: s, along, .. }, k) => {
                    let d = if k == 3 { s } else { along * step };
                    (d.x, d.y)
                }
                (_, 0) => (step, 0.0),
                (_, 1) => (0.0, step),
                (_, 2) => (step * std::f64::consts::FRAC_1_SQRT_2, step * std::f64::consts::FRAC_1_SQRT_2),
                _ => (step * std::f64::consts::FRAC_1_SQRT_2, -step * std::f64::consts::FRAC_1_SQRT_2),
            };
            let mut better = false;
            for sign in [1.0, -1.0] {
                let mut shift = now.spot.shift + pt(dx, dy) * sign;
                if way.hold == Hold::Free {
                    shift =
                        pt(shift.x.clamp(reach.min.x, reach.max.x), shift.y.clamp(reach.min.y, reach.max.y));
                }
                if shift == now.spot.shift || !reach.contains(shift) {
                    continue;
                }
                let cost = self.cost(way, shift, now.cost, weight);
                if cost < now.cost {
                    now = Found { spot: Spot { shift, ..now.spot }, cost };
                    better = true;
                    break;
                }
            }
            step *= if better { 1.1 } else { 0.6 };
        }
        now
    }

    /// The same piece turned where it lies to the next close way, if that costs less.
    fn turned(&self, now: Found, kind: &Kind, weight: &impl Fn(usize) -> f64) -> Option<Found> {
        let from = &kind.ways[now.spot.way];
        let next = [now.spot.way + 1, now.spot.way.wrapping_sub(1)];
        next.into_iter().filter(|w| *w < kind.close).find_map(|w| {
            let way = &kind.ways[w];
            let reach = self.board.reach(way, self.far);
            if reach.is_empty() {
                return None;
            }
            let t = now.spot.shift + (from.bounds.centre() - way.bounds.centre());
            let shift = pt(t.x.clamp(reach.min.x, reach.max.x), t.y.clamp(reach.min.y, reach.max.y));
            let cost = self.cost(way, shift, now.cost, weight);
            (cost < now.cost).then_some(Found { spot: Spot { way: w, shift }, cost })
        })
    }
}
