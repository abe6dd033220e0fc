//! A place for one piece on one cloth, in a given step with its pattern, or as near to it as there is.

use crate::cloth::Cloth;
use crate::shape::{Bounds, Join, Lattice, Point, Pose, Region, booleans, distance, offset, pt, tol};

/// A turn a piece may have, and where its pattern must then sit: its shift, measured from the lattice's origin, must
/// be `phase` and whole repeats.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Way {
    /// Turn, degrees.
    pub turn_deg: f64,
    /// Shift from the lattice's origin.
    pub phase: Point,
}

/// A place found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Seat {
    /// Drawing frame to cloth frame.
    pub pose: Pose,
    /// How far out of step it is, mm; 0 when it is exact.
    pub off_mm: f64,
}

/// The usable part of a cloth, for trying places on it.
pub(super) struct Room {
    parts: Vec<Region>,
    bounds: Bounds,
}

impl Room {
    /// The room on `cloth`. A piece may touch its edge.
    pub fn new(cloth: &Cloth) -> Room {
        let parts = offset(&cloth.usable(), tol::SAME_POINT_MM / 2.0, Join::Mitre);
        let bounds = parts.iter().fold(Bounds::EMPTY, |b, r| b.union(r.bounds()));
        Room { parts, bounds }
    }
}

/// One piece at one turn.
struct Turned<'a> {
    room: &'a Room,
    region: Region,
    bounds: Bounds,
    /// Its corners, the outermost first: these leave the cloth soonest.
    corners: Vec<Point>,
}

impl<'a> Turned<'a> {
    fn new(cut: &Region, turn_deg: f64, room: &'a Room) -> Turned<'a> {
        let region = Pose { turn_deg, shift: pt(0.0, 0.0) }.region(cut);
        let bounds = region.bounds();
        let mut corners = region.outline.points.clone();
        let middle = bounds.centre();
        corners.sort_by(|p, q| distance(*q, middle).total_cmp(&distance(*p, middle)));
        Turned { room, region, bounds, corners }
    }

    /// Shifts that keep it within the box of the room.
    fn reach(&self) -> Bounds {
        let (r, b) = (self.room.bounds, self.bounds);
        Bounds::new(r.min - b.min, r.max - b.max)
    }

    fn goes(&self, shift: Point) -> bool {
        let at = self.bounds.shifted(shift);
        let holds =
            |part: &Region| part.bounds().holds(at) && self.corners.iter().all(|c| part.contains(*c + shift));
        let Some(part) = self.room.parts.iter().find(|p| holds(p)) else { return false };
        let placed = self.region.map(|p| p + shift);
        let out = booleans::difference(&[placed], std::slice::from_ref(part));
        out.iter().map(Region::area).sum::<f64>() <= tol::SLIVER_MM2
    }
}

/// Most places in step that are tried.
const MOST_TRIED: usize = 40_000;

/// Along a stripe every place is in step; this far apart they are tried, mm.
const ALONG_STRIPE_MM: f64 = 1.0;

/// The exact place nearest to the cloth's near left corner; `None` when there is none.
pub(super) fn exact(cut: &Region, room: &Room, lattice: &Lattice, ways: &[Way]) -> Option<Seat> {
    let mut all: Vec<(f64, f64, usize)> = Vec::new();
    let turned: Vec<Turned> = ways.iter().map(|w| Turned::new(cut, w.turn_deg, room)).collect();
    for (k, (way, turned)) in ways.iter().zip(&turned).enumerate() {
        let reach = turned.reach();
        if !reach.is_empty() {
            all.extend(in_step(lattice, lattice.origin + way.phase, reach).iter().map(|p| (p.y, p.x, k)));
        }
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2)));
    all.into_iter().find_map(|(y, x, k)| {
        let shift = pt(x, y);
        let goes = turned[k].goes(shift);
        goes.then(|| Seat { pose: Pose { turn_deg: ways[k].turn_deg, shift }, off_mm: 0.0 })
    })
}

/// Shifts in step with `base` within `reach`.
fn in_step(lattice: &Lattice, base: Point, reach: Bounds) -> Vec<Point> {
    let mut all = Vec::new();
    let around = reach.shifted(base * -1.0);
    let shares = lattice.fraction_bounds(around);
    let whole = |low: f64, high: f64| (low - 1e-9).ceil() as i64..=(high + 1e-9).floor() as i64;
    let mut add = |p: Point| {
        if reach.contains(p) && all.len() < MOST_TRIED {
            all.push(p);
        }
    };
    match (lattice.a, lattice.b) {
        (Some(a), Some(b)) => {
            for i in whole(shares.min.x, shares.max.x).take(MOST_TRIED) {
                for j in whole(shares.min.y, shares.max.y).take(MOST_TRIED) {
                    add(base + a * i as f64 + b * j as f64);
                }
            }
        }
        (Some(step), None) | (None, Some(step)) => {
            let (low, high) =
                if lattice.a.is_some() { (shares.min.x, shares.max.x) } else { (shares.min.y, shares.max.y) };
            let length = distance(step, pt(0.0, 0.0));
            let along = pt(-step.y, step.x) / length;
            let on = |p: Point| p.x * along.x + p.y * along.y;
            let ends = around.corners().map(on);
            let near = ends.iter().copied().fold(f64::INFINITY, f64::min);
            let far = ends.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let steps = ((far - near) / ALONG_STRIPE_MM).ceil() as usize;
            for i in whole(low, high).take(MOST_TRIED) {
                for k in 0..=steps.min(MOST_TRIED) {
                    let t = (near + k as f64 * ALONG_STRIPE_MM).min(far);
                    add(base + step * i as f64 + along * t);
                }
            }
        }
        (None, None) => {}
    }
    all
}

/// Places tried on a grid for each turn.
const GRID: f64 = 12_000.0;

/// Grid places from which a nearer one is walked to.
const STARTS: usize = 5;

/// The place least out of step that is found: the nearest on a grid, then walked nearer while that goes, down to
/// [`tol::RECUT_STEP_MM`]. `known` are shifts, by way, where the piece is known to go. `None` when none is found.
pub(super) fn nearest(
    cut: &Region,
    room: &Room,
    lattice: &Lattice,
    ways: &[Way],
    known: &[(usize, Point)],
) -> Option<Seat> {
    let mut best: Option<Seat> = None;
    for (k, way) in ways.iter().enumerate() {
        let turned = Turned::new(cut, way.turn_deg, room);
        let reach = turned.reach();
        if reach.is_empty() {
            continue;
        }
        let base = lattice.origin + way.phase;
        let off = |s: Point| lattice.residual(s - base);
        let step = (reach.width() * reach.height() / GRID).sqrt().clamp(0.25, 25.0);
        let count = |size: f64| (size / step).ceil().min(GRID) as usize;
        let mut grid: Vec<(f64, Point)> = Vec::new();
        for i in 0..=count(reach.width()) {
            for j in 0..=count(reach.height()) {
                let at = |low: f64, size: f64, n: usize| low + (n as f64 * step).min(size);
                let s = pt(at(reach.min.x, reach.width(), i), at(reach.min.y, reach.height(), j));
                grid.push((off(s), s));
            }
        }
        grid.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.y.total_cmp(&b.1.y)).then(a.1.x.total_cmp(&b.1.x)));
        let mut starts: Vec<Point> = known.iter().filter(|(w, _)| *w == k).map(|(_, s)| *s).collect();
        let given = starts.len();
        for (_, s) in grid {
            if starts.len() >= given + STARTS {
                break;
            }
            if starts.iter().all(|o| distance(*o, s) > 3.0 * step) && turned.goes(s) {
                starts.push(s);
            }
        }
        for start in starts {
            let shift = walked(&turned, start, step, &off, |s| lattice.nearest(s - base) + base);
            let seat = Seat { pose: Pose { turn_deg: way.turn_deg, shift }, off_mm: off(shift) };
            if best.is_none_or(|b| seat.off_mm < b.off_mm) {
                best = Some(seat);
            }
        }
    }
    best
}

/// Walks from `at` to a place less out of step, while there is one.
fn walked(
    turned: &Turned,
    mut at: Point,
    mut step: f64,
    off: &dyn Fn(Point) -> f64,
    target: impl Fn(Point) -> Point,
) -> Point {
    const WAYS: [(f64, f64); 8] = [
        (1.0, 0.0),
        (-1.0, 0.0),
        (0.0, 1.0),
        (0.0, -1.0),
        (0.7, 0.7),
        (-0.7, 0.7),
        (0.7, -0.7),
        (-0.7, -0.7),
    ];
    let mut left = 400;
    while step >= tol::RECUT_STEP_MM / 4.0 && left > 0 {
        left -= 1;
        let to = target(at) - at;
        let straight = [1.0, 0.5, 0.25].map(|t| at + to * t);
        let about = WAYS.map(|(x, y)| at + pt(x, y) * step);
        let now = off(at);
        let mut tried: Vec<Point> = straight
            .into_iter()
            .chain(about)
            .filter(|p| off(*p) < now - tol::RECUT_STEP_MM / 100.0)
            .collect();
        tried.sort_by(|p, q| off(*p).total_cmp(&off(*q)));
        match tried.into_iter().find(|p| turned.goes(*p)) {
            Some(p) => at = p,
            None => step /= 2.0,
        }
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Weave;
    use crate::shape::Ring;

    fn cloth(corners: &[[f64; 2]], flaws: &[&[[f64; 2]]]) -> Cloth {
        Cloth {
            name: "rest".into(),
            stock: None,
            weave: Weave::Plain,
            nap: false,
            outline: Ring::from_pairs(corners),
            open_length: false,
            edge_mm: 0.0,
            flaws: flaws.iter().map(|f| Ring::from_pairs(f)).collect(),
            pattern: None,
            match_tolerance_mm: 0.0,
            photo: None,
            colour: [0; 3],
        }
    }

    fn rect(w: f64, h: f64) -> Region {
        Region::rectangle(Bounds::new(pt(0.0, 0.0), pt(w, h)))
    }

    fn check() -> Lattice {
        Lattice { a: Some(pt(50.0, 0.0)), b: Some(pt(0.0, 40.0)), origin: pt(7.0, 3.0) }
    }

    #[test]
    fn a_piece_finds_the_lowest_place_in_step() {
        let room = Room::new(&cloth(&[[0.0, 0.0], [200.0, 0.0], [200.0, 150.0], [0.0, 150.0]], &[]));
        let way = Way { turn_deg: 0.0, phase: pt(10.0, 20.0) };
        let seat = exact(&rect(100.0, 60.0), &room, &check(), &[way]).unwrap();
        assert_eq!((seat.pose.shift, seat.off_mm), (pt(17.0, 23.0), 0.0));
        // A flaw at that place sends it a repeat on.
        let flaw: &[[f64; 2]] = &[[20.0, 30.0], [30.0, 30.0], [30.0, 40.0]];
        let room = Room::new(&cloth(&[[0.0, 0.0], [200.0, 0.0], [200.0, 150.0], [0.0, 150.0]], &[flaw]));
        let seat = exact(&rect(100.0, 60.0), &room, &check(), &[way]).unwrap();
        assert_eq!(seat.pose.shift, pt(67.0, 23.0));
    }

    /// On a rectangle the best place is known: the shift is free within a box, and how far that box is from the
    /// lattice is arithmetic.
    #[test]
    fn the_nearest_place_on_a_rectangle_is_as_far_off_as_arithmetic_says() {
        // Shifts from 0 to 12 across and 0 to 8 along; in step are 17 + 50 i and 23 + 40 j.
        let room = Room::new(&cloth(&[[0.0, 0.0], [112.0, 0.0], [112.0, 68.0], [0.0, 68.0]], &[]));
        let way = Way { turn_deg: 0.0, phase: pt(10.0, 20.0) };
        assert_eq!(exact(&rect(100.0, 60.0), &room, &check(), &[way]), None);
        let seat = nearest(&rect(100.0, 60.0), &room, &check(), &[way], &[]).unwrap();
        let want = (5.0f64 * 5.0 + 15.0 * 15.0).sqrt();
        assert!((seat.off_mm - want).abs() < 0.1, "{} for {want}", seat.off_mm);
    }

    #[test]
    fn a_stripe_leaves_the_other_way_free() {
        let stripe = Lattice { a: Some(pt(30.0, 0.0)), b: None, origin: pt(0.0, 0.0) };
        let room = Room::new(&cloth(&[[0.0, 0.5], [120.0, 0.5], [120.0, 90.0], [0.0, 90.0]], &[]));
        let way = Way { turn_deg: 0.0, phase: pt(11.0, 0.0) };
        let seat = exact(&rect(60.0, 50.0), &room, &stripe, &[way]).unwrap();
        assert!(seat.pose.shift.x == 11.0 && seat.pose.shift.y >= 0.49, "{seat:?}");
    }

    #[test]
    fn a_piece_too_large_has_no_place() {
        let room = Room::new(&cloth(&[[0.0, 0.0], [90.0, 0.0], [90.0, 90.0], [0.0, 90.0]], &[]));
        let way = Way { turn_deg: 0.0, phase: pt(0.0, 0.0) };
        assert_eq!(exact(&rect(100.0, 60.0), &room, &check(), &[way]), None);
        assert_eq!(nearest(&rect(100.0, 60.0), &room, &check(), &[way], &[]), None);
    }
}
