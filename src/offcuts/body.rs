//! A piece at one turn, made ready for many questions of where it goes in a room.

use rstar::primitives::Line;
use rstar::{PointDistance, RTree};

use crate::shape::{Bounds, Point, Pose, Region, distance, lerp, pt};

use super::room::Room;

/// A piece at one turn.
pub(super) struct Body {
    region: Region,
    /// Box round it.
    pub bounds: Bounds,
    /// Discs within it that touch its edge, the largest first, and its corners as discs of no size.
    discs: Vec<(Point, f64)>,
    /// Its sides, those farthest out first: these leave the room soonest.
    sides: Vec<(Point, Point)>,
}

/// Discs lie this far apart along the edge, mm, and there are at most so many.
const DISC_STEP_MM: f64 = 3.0;
const MOST_DISCS: f64 = 1200.0;

/// Discs about centres nearer than this, mm, or this share of their radius, are one.
const SAME_DISC: (f64, f64) = (0.25, 0.03);

/// Rounds of drawing a disc smaller; a handful is enough (Ma, Bae & Choi 2012, Visual Computer 28, 7-19).
const ROUNDS: usize = 40;

impl Body {
    /// `cut` at a turn.
    pub fn new(cut: &Region, turn_deg: f64) -> Body {
        let region = Pose { turn_deg, shift: pt(0.0, 0.0) }.region(cut);
        let bounds = region.bounds();
        let middle = bounds.centre();
        let mut sides: Vec<(Point, Point)> =
            region.rings().flat_map(|r| r.sides()).filter(|(p, q)| p != q).collect();
        let discs = discs(&region, &sides);
        sides.sort_by(|(p, q), (r, s)| {
            let out = |a: &Point, b: &Point| distance(lerp(*a, *b, 0.5), middle);
            out(r, s).total_cmp(&out(p, q))
        });
        Body { region, bounds, discs, sides }
    }

    /// The largest disc within it, mm: the same at any turn.
    pub fn largest_disc(&self) -> f64 {
        self.discs.first().map_or(0.0, |d| d.1)
    }

    /// Shifts that keep it within the box of `room`.
    pub fn reach(&self, room: &Room) -> Bounds {
        Bounds::new(room.bounds.min - self.bounds.min, room.bounds.max - self.bounds.max)
    }

    /// True when it certainly does not go in `room` at any shift up to `by` mm from `shift`: a disc within it is larger
    /// than the room leaves there by more than that. (How deep a point lies changes by no more than the way it moves.)
    /// `hint` is where to look first: the disc that said so last time.
    pub fn refuted(&self, room: &Room, shift: Point, by: f64, hint: &mut usize) -> bool {
        let over = |k: usize| {
            let (centre, radius) = self.discs[k];
            radius - room.most(centre + shift)
        };
        if self.discs.is_empty() || over((*hint).min(self.discs.len() - 1)) > by {
            return !self.discs.is_empty();
        }
        let nearly = by - room.coarse_mm();
        let mut close = Vec::new();
        for k in 0..self.discs.len() {
            let over = over(k);
            if over > by {
                *hint = k;
                return true;
            }
            if over > nearly {
                close.push(k);
            }
        }
        let exactly = close.into_iter().find(|k| {
            let (centre, radius) = self.discs[*k];
            radius - room.depth(centre + shift) > by
        });
        if let Some(k) = exactly {
            *hint = k;
        }
        exactly.is_some()
    }

    /// True when it goes in `room` at `shift`: no side of one meets a side of the other, it lies in the room, and
    /// nothing that is not in the room lies in it.
    pub fn goes(&self, room: &Room, shift: Point) -> bool {
        let Some(&first) = self.region.outline.points.first() else { return false };
        room.holds(first + shift)
            && !self.sides.iter().any(|(p, q)| room.crosses(*p + shift, *q + shift))
            && !room.rings_within(self.bounds.shifted(shift)).any(|q| self.region.contains(q - shift))
    }
}

/// Discs within `region` that touch its edge at even distances: each is drawn smaller until nothing of the edge lies in
/// it. Its corners count as discs of no size.
fn discs(region: &Region, sides: &[(Point, Point)]) -> Vec<(Point, f64)> {
    let edge =
        RTree::bulk_load(sides.iter().map(|(p, q)| Line::new([p.x, p.y], [q.x, q.y])).collect::<Vec<_>>());
    let way = |c: Point| edge.nearest_neighbor(&[c.x, c.y]).map(|s| (s, s.distance_2(&[c.x, c.y]).sqrt()));
    let step = DISC_STEP_MM.max(region.edge_length() / MOST_DISCS);
    let largest = region.bounds().width().min(region.bounds().height()) / 2.0;
    let mut all = Vec::new();
    let mut next = step / 2.0;
    for &(p, q) in sides {
        let length = distance(p, q);
        let inward = pt(p.y - q.y, q.x - p.x) / length;
        while next < length {
            let at = lerp(p, q, next / length);
            next += step;
            let mut radius = largest;
            for _ in 0..ROUNDS {
                let centre = at + inward * radius;
                let Some((side, near)) = way(centre) else { break };
                if near >= radius * (1.0 - 1e-6) {
                    break;
                }
                let touched = nearest_on(side, centre);
                let (v, along) = (touched - at, inward.x * (touched - at).x + inward.y * (touched - at).y);
                radius = if along > 0.0 { (v.x * v.x + v.y * v.y) / (2.0 * along) } else { 0.0 };
            }
            let centre = at + inward * radius;
            if let Some((_, near)) = way(centre).filter(|_| radius > 0.0 && region.contains(centre)) {
                all.push((centre, near));
            }
        }
        next -= length;
    }
    all.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.y.total_cmp(&b.0.y)).then(a.0.x.total_cmp(&b.0.x)));
    let mut kept: Vec<(Point, f64)> = Vec::new();
    for (centre, radius) in all {
        let same = SAME_DISC.0.max(SAME_DISC.1 * radius);
        if kept.iter().all(|(c, _)| distance(*c, centre) > same) {
            kept.push((centre, radius));
        }
    }
    kept.extend(region.outline.points.iter().map(|p| (*p, 0.0)));
    kept
}

fn nearest_on(side: &Line<[f64; 2]>, p: Point) -> Point {
    let (a, b) = (pt(side.from[0], side.from[1]), pt(side.to[0], side.to[1]));
    let (v, w) = (b - a, p - a);
    let length = v.x * v.x + v.y * v.y;
    lerp(a, b, ((w.x * v.x + w.y * v.y) / length).clamp(0.0, 1.0))
}
