//! Where in a piece there is room: for its name and its grain arrow. Works in the picture's frame.

use crate::shape::{Point, Region, Ring, distance, lerp, pt, thinned, to_side};

/// Spots looked at across the longer side of a piece.
const GRID: u32 = 26;

/// Spots need not lie nearer to each other than this.
const NEAREST: f64 = 3.0;

/// Spots kept, the roomiest.
const SPOTS: usize = 48;

/// Of these so many, the first, are moved to where there is most room near them.
const SETTLED: usize = 12;

/// Room worth giving up to lie nearer to the middle, by distance.
const CENTRAL: f64 = 0.04;

/// Corners an edge is thinned to while room is looked for; a name does not need more.
const CORNERS: usize = 200;

/// How far an edge may lie from the true one while room is looked for.
const FLAT: f64 = 0.3;

/// A piece made ready for questions about room.
#[derive(Clone, Debug)]
pub(super) struct Room {
    rings: Vec<Ring>,
    /// Points inside with their distance to the edge, the roomiest first.
    spots: Vec<Spot>,
}

/// A point inside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Spot {
    /// The point.
    pub at: Point,
    /// Distance to the nearest edge.
    pub clearance: f64,
    /// Direction the nearest edge runs in, degrees clockwise as seen, between −90 and 90.
    pub along_deg: f64,
}

/// A turned rectangle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Plate {
    /// Its middle.
    pub at: Point,
    /// Its width along its own direction.
    pub width: f64,
    /// Its height.
    pub height: f64,
    /// Turn, degrees clockwise as seen.
    pub turn_deg: f64,
}

impl Plate {
    fn axes(&self) -> (Point, Point) {
        let (c, s) = crate::shape::turn_cos_sin(self.turn_deg);
        (pt(c, s), pt(-s, c))
    }

    /// True when `p` lies on the plate or nearer to it than `rim`.
    pub fn covers(&self, p: Point, rim: f64) -> bool {
        let (along, across) = self.axes();
        let v = p - self.at;
        (v.x * along.x + v.y * along.y).abs() <= self.width / 2.0 + rim
            && (v.x * across.x + v.y * across.y).abs() <= self.height / 2.0 + rim
    }

    /// Points round its border, no further apart than `step`.
    fn border(&self, step: f64) -> Vec<Point> {
        let (along, across) = self.axes();
        let corner =
            |i: f64, j: f64| self.at + along * (self.width / 2.0 * i) + across * (self.height / 2.0 * j);
        let corners = [corner(-1.0, -1.0), corner(1.0, -1.0), corner(1.0, 1.0), corner(-1.0, 1.0)];
        let next = corners.iter().cycle().skip(1);
        let mut points = Vec::new();
        for (&a, &b) in corners.iter().zip(next) {
            let n = (distance(a, b) / step).ceil().clamp(1.0, 400.0) as u32;
            points.extend((0..n).map(|i| lerp(a, b, f64::from(i) / f64::from(n))));
        }
        points
    }
}

impl Room {
    /// Looks a piece over. `region` is in the picture's frame.
    pub fn new(region: &Region) -> Room {
        let rings: Vec<Ring> = region.rings().map(plain).collect();
        let bounds = region.bounds();
        let mut room = Room { rings, spots: Vec::new() };
        let longer = bounds.width().max(bounds.height());
        if !longer.is_finite() || longer <= 0.0 {
            return room;
        }
        let step = (longer / f64::from(GRID)).max(NEAREST);
        // A slender piece is looked at more closely across.
        let count = |size: f64| ((size / step).ceil().max(7.0) as u32).min(GRID);
        let (nx, ny) = (count(bounds.width()), count(bounds.height()));
        for i in 0..nx {
            for j in 0..ny {
                let share = |k: u32, n: u32| (f64::from(k) + 0.5) / f64::from(n);
                let at = bounds.min + pt(bounds.width() * share(i, nx), bounds.height() * share(j, ny));
                if room.contains(at) {
                    room.spots.push(room.spot(at));
                }
            }
        }
        room.spots.sort_by(|a, b| best_first(a, b, bounds.centre()));
        room.spots.truncate(SPOTS);
        let settled: Vec<Spot> =
            room.spots.iter().take(SETTLED).map(|s| room.settled(*s, step / 2.0)).collect();
        for (spot, better) in room.spots.iter_mut().zip(settled) {
            *spot = better;
        }
        room.spots.sort_by(|a, b| best_first(a, b, bounds.centre()));
        room
    }

    /// Points inside, the roomiest first.
    pub fn spots(&self) -> &[Spot] {
        &self.spots
    }

    /// True when `p` is inside.
    pub fn contains(&self, p: Point) -> bool {
        let mut inside = false;
        for ring in &self.rings {
            for (a, b) in ring.sides() {
                if (a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x) {
                    inside = !inside;
                }
            }
        }
        inside
    }

    /// True when the whole plate is inside.
    pub fn holds(&self, plate: &Plate) -> bool {
        plate.border(5.0).into_iter().all(|p| self.contains(p))
            && !self.rings.iter().skip(1).any(|hole| hole.points.iter().any(|&p| plate.covers(p, 0.0)))
    }

    /// True when no corner of a cut-out lies on the plate or nearer to it than `rim`.
    pub fn leaves_cutouts(&self, plate: &Plate, rim: f64) -> bool {
        self.rings.iter().skip(1).all(|hole| hole.points.iter().all(|&p| !plate.covers(p, rim)))
    }

    /// True when `p` is no nearer to a cut-out than `rim`.
    pub fn is_off_cutouts(&self, p: Point, rim: f64) -> bool {
        self.rings.iter().skip(1).flat_map(Ring::sides).all(|(a, b)| to_side(p, a, b) >= rim)
    }

    /// How far one can go from `from` in a direction (a unit vector) before coming nearer than `rim` to the
    /// edge, at most `most`.
    pub fn reach(&self, from: Point, direction: Point, rim: f64, most: f64) -> f64 {
        let mut nearest = f64::INFINITY;
        for (a, b) in self.rings.iter().flat_map(Ring::sides) {
            let (side, to) = (b - a, a - from);
            let det = direction.x * side.y - direction.y * side.x;
            if det == 0.0 {
                continue;
            }
            let t = (to.x * side.y - to.y * side.x) / det;
            let s = (to.x * direction.y - to.y * direction.x) / det;
            if t > 0.0 && (0.0..=1.0).contains(&s) {
                nearest = nearest.min(t);
            }
        }
        (nearest - rim).min(most).max(0.0)
    }

    fn spot(&self, at: Point) -> Spot {
        let (mut nearest, mut way) = (f64::INFINITY, pt(1.0, 0.0));
        for (a, b) in self.rings.iter().flat_map(Ring::sides) {
            let v = b - a;
            let length = v.x * v.x + v.y * v.y;
            let t = if length > 0.0 { ((at.x - a.x) * v.x + (at.y - a.y) * v.y) / length } else { 0.0 };
            let off = at - lerp(a, b, t.clamp(0.0, 1.0));
            let far = off.x * off.x + off.y * off.y;
            if far < nearest {
                (nearest, way) = (far, v);
            }
        }
        let angle = libm::atan2(way.y, way.x).to_degrees();
        let along_deg = if angle > 90.0 {
            angle - 180.0
        } else if angle <= -90.0 {
            angle + 180.0
        } else {
            angle
        };
        Spot { at, clearance: nearest.sqrt(), along_deg }
    }

    /// The spot moved to where there is more room, in ever smaller steps.
    fn settled(&self, mut spot: Spot, mut step: f64) -> Spot {
        for _ in 0..4 {
            for (dx, dy) in [(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)] {
                let at = spot.at + pt(dx, dy) * step;
                if self.contains(at) {
                    let other = self.spot(at);
                    if other.clearance > spot.clearance {
                        spot = other;
                    }
                }
            }
            step /= 2.0;
        }
        spot
    }
}

/// Room first; of spots with about the same room, that nearer to the middle of the piece.
fn best_first(a: &Spot, b: &Spot, middle: Point) -> std::cmp::Ordering {
    let worth = |s: &Spot| s.clearance - CENTRAL * distance(s.at, middle);
    worth(b).total_cmp(&worth(a)).then(a.at.y.total_cmp(&b.at.y)).then(a.at.x.total_cmp(&b.at.x))
}

fn plain(ring: &Ring) -> Ring {
    let points = thinned(ring.points.iter().copied(), FLAT);
    let every = points.len().div_ceil(CORNERS).max(1);
    Ring { points: points.into_iter().step_by(every).collect() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::Bounds;

    fn band(lean_deg: f64) -> Region {
        let (c, s) = crate::shape::turn_cos_sin(lean_deg);
        Region::rectangle(Bounds::new(pt(-200.0, -14.0), pt(200.0, 14.0)))
            .map(|p| pt(c * p.x - s * p.y, s * p.x + c * p.y))
    }

    #[test]
    fn the_roomiest_spot_of_a_ring_is_in_its_band() {
        let outer = Region::rectangle(Bounds::new(pt(0.0, 0.0), pt(100.0, 100.0)));
        let hole = Region::rectangle(Bounds::new(pt(10.0, 30.0), pt(90.0, 90.0)));
        let room = Room::new(&outer.minus(&[hole]).remove(0));
        let best = room.spots()[0];
        assert!((best.at.y - 15.0).abs() < 1.5 && (best.clearance - 15.0).abs() < 1.5, "{best:?}");
        assert!(!room.contains(pt(50.0, 60.0)));
    }

    #[test]
    fn a_slender_piece_takes_a_plate_along_itself_only() {
        let room = Room::new(&band(35.0));
        let best = room.spots()[0];
        assert!((best.along_deg - 35.0).abs() < 1e-6, "{best:?}");
        let plate = |turn_deg| Plate { at: best.at, width: 90.0, height: 20.0, turn_deg };
        assert!(room.holds(&plate(best.along_deg)) && !room.holds(&plate(0.0)));
    }

    #[test]
    fn a_plate_does_not_lie_over_a_small_cut_out() {
        let outer = Region::rectangle(Bounds::new(pt(0.0, 0.0), pt(100.0, 100.0)));
        let hole = Region::rectangle(Bounds::new(pt(49.0, 49.0), pt(51.0, 51.0)));
        let room = Room::new(&outer.minus(&[hole]).remove(0));
        assert!(!room.holds(&Plate { at: pt(50.0, 50.0), width: 60.0, height: 40.0, turn_deg: 0.0 }));
    }

    #[test]
    fn reach_stops_short_of_the_edge() {
        let room = Room::new(&band(0.0));
        assert!((room.reach(pt(0.0, 0.0), pt(1.0, 0.0), 6.0, 500.0) - 194.0).abs() < 1e-9);
        assert_eq!(room.reach(pt(0.0, 0.0), pt(1.0, 0.0), 6.0, 50.0), 50.0);
    }

    #[test]
    fn a_piece_that_is_nothing_has_no_room() {
        assert!(Room::new(&Region::default()).spots().is_empty());
    }
}
