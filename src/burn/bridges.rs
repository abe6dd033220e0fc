//! Bridges: short uncut gaps that keep a piece from moving or dropping.
//!
//! How many a piece needs and how wide they are is the maker's experience (common practice, no source); here they
//! are only spread well: on straight runs, away from joints and corners, evenly round the piece.

use super::{Burn, BurnKind, Contour};
use crate::job::BridgeSpec;
use crate::shape::{Point, distance, lerp};

/// A bridge keeps this far from every joint and from the next bridge, mm.
const APART_MM: f64 = 15.0;

/// The line either side of a bridge is looked at over this length for straightness, mm.
const LOOK_MM: f64 = 3.0;

/// Spots are looked for this densely, mm.
const STEP_MM: f64 = 1.0;

/// A bend of one degree counts as much as so many millimetres off the even spot.
const MM_PER_DEG: f64 = 1.0;

/// A short uncut gap in an outline.
#[derive(Clone, Debug, PartialEq)]
pub struct Bridge {
    /// Piece, by index into the placed pieces of its cloth.
    pub placed: usize,
    /// Its middle, on the contour.
    pub at: Point,
}

/// The bridges of one outline: as many as `spec` asks for its length and the piece's weight (where known), fewer
/// where joints leave no room. `joints` are the joints on it. None for cut-outs and small pieces.
pub fn bridges(contour: &Contour, weight_g: Option<f64>, joints: &[Point], spec: &BridgeSpec) -> Vec<Bridge> {
    let area = contour.path.signed_area().abs();
    if contour.kind() != BurnKind::Outline || area < spec.from_mm2 {
        return Vec::new();
    }
    let line = Line::new(&contour.path.points, true);
    let by_length = (line.total() / spec.every_mm).ceil();
    let by_weight = weight_g.map_or(0.0, |w| (w / spec.grams_each).ceil());
    let room = (line.total() / (2.0 * APART_MM)).floor();
    let count = by_length.max(by_weight).max(f64::from(spec.least)).min(room);
    let each = line.total() / count.max(1.0);
    let mut found = Vec::new();
    for k in 0..count as usize {
        let even = (k as f64 + 0.5) * each;
        let reach = (each - APART_MM) / 2.0;
        let steps = (reach / STEP_MM).floor().max(0.0) as i64;
        let spot = (-steps..=steps)
            .map(|i| i as f64 * STEP_MM)
            .filter(|off| joints.iter().all(|j| distance(*j, line.at(even + off)) >= APART_MM))
            .map(|off| (line.bend_deg(even + off) * MM_PER_DEG + off.abs(), even + off))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, s)) = spot {
            found.push(Bridge { placed: contour.placed, at: line.at(s) });
        }
    }
    found
}

/// `burns` with a gap of `gap_mm` in the beam's line at every bridge that lies on an outline burn, and which of the
/// bridges do. A closed burn with bridges falls into open ones.
pub fn bridged(burns: Vec<Burn>, bridges: &[Bridge], gap_mm: f64) -> (Vec<Burn>, Vec<usize>) {
    let mut met = Vec::new();
    let mut all = Vec::new();
    for burn in burns {
        let line = Line::new(&burn.path, burn.closed);
        let mut gaps: Vec<(f64, f64)> = Vec::new();
        for (k, bridge) in bridges.iter().enumerate() {
            if burn.kind != BurnKind::Outline || burn.placed != Some(bridge.placed) {
                continue;
            }
            let (off, s) = line.nearest(bridge.at);
            if off < crate::shape::tol::SAME_POINT_MM {
                gaps.push((s - gap_mm / 2.0, s + gap_mm / 2.0));
                met.push(k);
            }
        }
        gaps.sort_by(|a, b| a.0.total_cmp(&b.0));
        if gaps.is_empty() {
            all.push(burn);
            continue;
        }
        let total = line.total();
        let mut stretches: Vec<(f64, f64)> = gaps.windows(2).map(|w| (w[0].1, w[1].0)).collect();
        let (first, last) = (gaps[0], gaps[gaps.len() - 1]);
        if burn.closed {
            stretches.push((last.1, first.0 + total));
        } else {
            stretches.insert(0, (0.0, first.0));
            stretches.push((last.1, total));
        }
        for (from, to) in stretches.into_iter().filter(|s| s.1 - s.0 > crate::shape::tol::SAME_POINT_MM) {
            all.push(Burn { closed: false, path: line.part(from, to), ..burn.clone() });
        }
    }
    met.sort_unstable();
    met.dedup();
    (all, met)
}

/// A line with the length at every point.
struct Line {
    points: Vec<Point>,
    at: Vec<f64>,
    closed: bool,
}

impl Line {
    fn new(path: &[Point], closed: bool) -> Line {
        let closing = path.first().filter(|_| closed);
        let points: Vec<Point> = path.iter().chain(closing).copied().collect();
        let mut at = vec![0.0];
        for w in points.windows(2) {
            at.push(at[at.len() - 1] + distance(w[0], w[1]));
        }
        Line { points, at, closed }
    }

    fn total(&self) -> f64 {
        self.at.last().copied().unwrap_or(0.0)
    }

    fn side(&self, s: f64) -> (usize, f64) {
        let s = if self.closed { s.rem_euclid(self.total()) } else { s.clamp(0.0, self.total()) };
        let n = self.points.len();
        (self.at[..n].partition_point(|&a| a <= s).clamp(1, n - 1) - 1, s)
    }

    fn at(&self, s: f64) -> Point {
        let (i, s) = self.side(s);
        let length = self.at[i + 1] - self.at[i];
        let t = if length > 0.0 { ((s - self.at[i]) / length).clamp(0.0, 1.0) } else { 0.0 };
        lerp(self.points[i], self.points[i + 1], t)
    }

    /// The sharpest turn within reach of `s`, degrees.
    fn bend_deg(&self, s: f64) -> f64 {
        let way = |s: f64| {
            let (i, _) = self.side(s);
            self.points[i + 1] - self.points[i]
        };
        let turn =
            |a: Point, b: Point| libm::atan2(a.x * b.y - a.y * b.x, a.x * b.x + a.y * b.y).abs().to_degrees();
        let (before, here, after) = (way(s - LOOK_MM), way(s), way(s + LOOK_MM));
        turn(before, here).max(turn(here, after)).max(turn(before, after))
    }

    /// Distance from `p` and the length at the nearest point of the line.
    fn nearest(&self, p: Point) -> (f64, f64) {
        let mut best = (f64::INFINITY, 0.0);
        for (i, w) in self.points.windows(2).enumerate() {
            let d = w[1] - w[0];
            let v = p - w[0];
            let square = d.x * d.x + d.y * d.y;
            let t = if square > 0.0 { ((v.x * d.x + v.y * d.y) / square).clamp(0.0, 1.0) } else { 0.0 };
            let off = distance(p, lerp(w[0], w[1], t));
            if off < best.0 {
                best = (off, self.at[i] + t * (self.at[i + 1] - self.at[i]));
            }
        }
        best
    }

    /// The line from length `from` on to `to`, over its end if it is closed.
    fn part(&self, from: f64, to: f64) -> Vec<Point> {
        let mut path = vec![self.at(from)];
        let inner = self.points.len() - usize::from(self.closed);
        let total = self.total();
        for round in [-1.0, 0.0, 1.0] {
            for k in 0..inner {
                let s = self.at[k] + round * total;
                let near = crate::shape::tol::SAME_POINT_MM;
                if (self.closed || round == 0.0) && s > from + near && s < to - near {
                    path.push(self.points[k]);
                }
            }
        }
        path.push(self.at(to));
        path
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::{Bounds, Region, Ring, pt};

    fn plate() -> Contour {
        let ring = Region::rectangle(Bounds::new(pt(0.0, 0.0), pt(300.0, 100.0))).outline;
        Contour { placed: 3, ring: 0, path: ring }
    }

    fn outline(contour: &Contour) -> Burn {
        Burn {
            kind: BurnKind::Outline,
            placed: Some(contour.placed),
            ring: 0,
            closed: true,
            path: contour.path.points.clone(),
        }
    }

    #[test]
    fn a_piece_gets_bridges_by_length_and_by_weight() {
        let count = |grams| bridges(&plate(), grams, &[], &BridgeSpec::default()).len();
        assert_eq!(count(None), 4, "800 mm of outline, one for every 250");
        assert_eq!(count(Some(29.0)), 6);
        let small = Contour { path: Ring::from_pairs(&[[0.0, 0.0], [15.0, 0.0], [0.0, 15.0]]), ..plate() };
        assert!(bridges(&small, None, &[], &BridgeSpec::default()).is_empty());
    }

    #[test]
    fn bridges_keep_away_from_corners_joints_and_each_other() {
        let joints = [pt(150.0, 0.0), pt(150.0, 100.0)];
        let all = bridges(&plate(), Some(60.0), &joints, &BridgeSpec::default());
        assert_eq!(all.len(), 12);
        for (i, b) in all.iter().enumerate() {
            assert!(joints.iter().all(|j| distance(*j, b.at) >= APART_MM));
            assert!(plate().path.points.iter().all(|c| distance(*c, b.at) >= LOOK_MM));
            assert!(all.iter().skip(i + 1).all(|o| distance(o.at, b.at) >= APART_MM));
        }
    }

    #[test]
    fn a_bridged_burn_lacks_its_gaps_and_nothing_else() {
        let plate = plate();
        let all = bridges(&plate, None, &[], &BridgeSpec::default());
        let whole = outline(&plate);
        let (cut, met) = bridged(vec![whole.clone()], &all, 0.8);
        assert_eq!((cut.len(), met.len()), (4, 4));
        assert!(cut.iter().all(|b| !b.closed));
        let length: f64 = cut.iter().map(Burn::length_mm).sum();
        assert!((whole.length_mm() - length - 4.0 * 0.8).abs() < 1e-9);
        for b in &all {
            let nearest = cut.iter().map(|c| Line::new(&c.path, false).nearest(b.at).0).fold(9.0, f64::min);
            assert!((nearest - 0.4).abs() < 1e-9);
        }
    }

    #[test]
    fn half_an_outline_gets_the_bridges_that_lie_on_it() {
        let plate = plate();
        let half = Burn {
            closed: false,
            path: vec![pt(150.0, 0.0), pt(300.0, 0.0), pt(300.0, 100.0), pt(150.0, 100.0)],
            ..outline(&plate)
        };
        let all = bridges(&plate, None, &[pt(150.0, 0.0), pt(150.0, 100.0)], &BridgeSpec::default());
        let (cut, met) = bridged(vec![half], &all, 0.8);
        assert_eq!(cut.len(), met.len() + 1);
        assert!(!met.is_empty() && met.len() < all.len());
    }
}
