//! How calm a spot of a contour is for a joint.

use rstar::RTree;
use rstar::primitives::{GeomWithData, Line};

use super::line::FIT_MM;
use super::links::shared;
use super::track::{Station, Track};
use crate::shape::{Bounds, Point};

/// Turns are looked at this far either way, mm.
const BEND_REACH_MM: f64 = 8.0;
/// A turn of this much within the reach costs as much as standing at the band's edge, degrees.
const BEND_DEG: f64 = 20.0;
/// Corners nearer than this cost, mm.
const CORNER_NEAR_MM: f64 = 25.0;
/// Other edges nearer than this cost, mm.
const EDGE_NEAR_MM: f64 = 12.0;
/// Along its own contour, edge nearer than this is the joint's own, mm.
const OWN_EDGE_MM: f64 = 30.0;
/// Other joints nearer than this cost, mm.
const JOINT_NEAR_MM: f64 = 40.0;

/// Weights of what is against a spot. Common practice, no source: corners and necks show most, a slanting or
/// off-middle crossing least.
const W_BEND: f64 = 1.0;
const W_CORNER: f64 = 6.0;
const W_EDGE: f64 = 8.0;
const W_JOINT: f64 = 3.0;
const W_SLANT: f64 = 2.0;
const W_BORDER: f64 = 1.5;

/// Weight of a step just as large as the border stitching hides; it grows with the step's square up to this many times.
/// Common practice, no source: as bad as an edge close by.
const W_SHOWN: f64 = 8.0;
const MOST_SHOWN: f64 = 4.0;

/// A joint nearer than this to a corner is on it, mm; it costs more than all else together, though less than a
/// further joint.
const ON_CORNER_MM: f64 = 2.0;
const ON_CORNER_COST: f64 = 200.0;

/// Windows that stand this near in a direction count as in line, mm.
const APART_MM: f64 = 1.0;

/// At most this much bend counts, so that corners do not drown everything else.
const MOST_BEND: f64 = 20.0;

/// A joint this near a corner, or with an edge this near, is worth a warning, mm.
const WARN_CORNER_MM: f64 = 4.0;
const WARN_EDGE_MM: f64 = 3.0;
/// A joint in a bend of more than this within the reach is worth a warning, degrees.
const WARN_BEND_DEG: f64 = 45.0;

type Side = GeomWithData<Line<[f64; 2]>, (usize, f64)>;

/// What is to be known of all contours to judge a spot.
pub(super) struct Calm<'a> {
    pub tracks: &'a [Track<'a>],
    pub windows: &'a [Bounds],
    /// Width of the shared band, mm.
    pub band: f64,
    /// How much of what the border stitching hides a step between two passes takes at a spot, once marks are chosen.
    pub step: Option<&'a dyn Fn(usize, usize, Point) -> f64>,
    sides: RTree<Side>,
}

impl<'a> Calm<'a> {
    pub fn new(
        tracks: &'a [Track<'a>],
        rings: &[&crate::shape::Ring],
        windows: &'a [Bounds],
        band: f64,
    ) -> Calm<'a> {
        let mut sides = Vec::new();
        for (k, ring) in rings.iter().enumerate() {
            let mut s = 0.0;
            for (p, q) in ring.sides() {
                sides.push(Side::new(Line::new([p.x, p.y], [q.x, q.y]), (k, s)));
                s += crate::shape::distance(p, q);
            }
        }
        Calm { tracks, windows, band, step: None, sides: RTree::bulk_load(sides) }
    }

    /// Distance to the nearest other edge, or to the contour's own beyond a neck; nothing beyond
    /// [`EDGE_NEAR_MM`] counts.
    fn to_edge(&self, contour: usize, spot: Station) -> f64 {
        let here = [spot.at.x, spot.at.y];
        let near = self.sides.locate_within_distance(here, EDGE_NEAR_MM * EDGE_NEAR_MM);
        let own = |side: &&Side| {
            let (k, s) = side.data;
            let len = side.geom().length_2().sqrt();
            let track = &self.tracks[contour];
            k == contour
                && (track.apart(s, spot.s).min(track.apart(s + len, spot.s)) < OWN_EDGE_MM || {
                    // A long side holds the spot between its ends.
                    let along = (spot.s - s).rem_euclid(track.total());
                    along <= len
                })
        };
        let d2 = near.filter(|s| !own(s)).map(|s| rstar::PointDistance::distance_2(s.geom(), &here));
        d2.fold(EDGE_NEAR_MM * EDGE_NEAR_MM, f64::min).sqrt()
    }

    /// True when the windows of two passes lie side by side with a whole band in common, so that cuts may be handed
    /// over between them.
    pub fn neighbours(&self, a: usize, b: usize) -> bool {
        side_by_side(self.windows[a], self.windows[b], self.band)
    }

    /// What is against the spot whichever passes meet there.
    pub fn cost(&self, contour: usize, spot: Station) -> f64 {
        let track = &self.tracks[contour];
        let bend = track.turning_deg(spot.s, BEND_REACH_MM) / BEND_DEG;
        W_BEND * (bend * bend).min(MOST_BEND)
            + W_CORNER * nearness(track.to_corner(spot.s), CORNER_NEAR_MM)
            + if track.to_corner(spot.s) < ON_CORNER_MM { ON_CORNER_COST } else { 0.0 }
            + W_EDGE * nearness(self.to_edge(contour, spot), EDGE_NEAR_MM)
    }

    /// What is against passes `a` and `b` meeting there: crossing their band aslant or near its border, a step that the
    /// border stitching may not cover.
    pub fn pair_cost(&self, contour: usize, spot: Station, a: usize, b: usize) -> f64 {
        let (wa, wb) = (self.windows[a], self.windows[b]);
        let Some(both) = shared(wa, wb) else { return f64::INFINITY };
        let d = self.tracks[contour].direction(spot.s);
        let len2 = d.x * d.x + d.y * d.y;
        // The band lies square to the direction the windows share least in.
        let off = if both.width() / wa.width() < both.height() / wa.height() { d.y } else { d.x };
        let slant = if len2 > 0.0 { off * off / len2 } else { 0.0 };
        let shown = self.step.map_or(0.0, |step| step(a, b, spot.at));
        W_SLANT * slant
            + W_BORDER * nearness(to_border(spot.at, both, wa, wb), self.band / 2.0)
            + W_SHOWN * (shown * shown).min(MOST_SHOWN)
    }

    /// What is against the spot for joints near it.
    pub fn crowd_cost(&self, at: Point, others: impl Iterator<Item = Point>) -> f64 {
        let near = others.map(|o| crate::shape::distance(o, at)).fold(f64::INFINITY, f64::min);
        W_JOINT * nearness(near, JOINT_NEAR_MM)
    }

    /// What a maker should be warned of at the spot, in words.
    pub fn warning(&self, contour: usize, spot: Station) -> Option<&'static str> {
        let track = &self.tracks[contour];
        if track.to_corner(spot.s) < WARN_CORNER_MM {
            Some("at a corner")
        } else if self.to_edge(contour, spot) < WARN_EDGE_MM {
            Some("beside another edge")
        } else if track.turning_deg(spot.s, BEND_REACH_MM) > WARN_BEND_DEG {
            Some("in a sharp bend")
        } else {
            None
        }
    }
}

/// True when two windows lie side by side with a whole band in common.
pub(super) fn side_by_side(a: Bounds, b: Bounds, band: f64) -> bool {
    let off = differ(a, b);
    let wide = band - FIT_MM;
    shared(a, b).is_some_and(|both| {
        (off.0 && both.width() >= wide) || (off.1 && both.height() >= wide) || !(off.0 || off.1)
    })
}

/// 1 at no distance, falling with its square to 0 at `reach`.
fn nearness(d: f64, reach: f64) -> f64 {
    let t = (1.0 - d / reach).clamp(0.0, 1.0);
    t * t
}

/// Distance to the nearest border of what two windows share, sides they have in common left out.
fn to_border(p: Point, both: Bounds, a: Bounds, b: Bounds) -> f64 {
    let x = (p.x - both.min.x).min(both.max.x - p.x);
    let y = (p.y - both.min.y).min(both.max.y - p.y);
    match differ(a, b) {
        (true, true) => x.min(y),
        (true, false) => x,
        _ => y,
    }
}

/// In which directions, across and along, the windows stand apart.
fn differ(a: Bounds, b: Bounds) -> (bool, bool) {
    ((a.min.x - b.min.x).abs() > APART_MM, (a.min.y - b.min.y).abs() > APART_MM)
}
