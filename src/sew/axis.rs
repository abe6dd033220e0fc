//! The medial axis of the narrow parts of a region.
//!
//! A point of the axis is the centre of a greatest disc inside the region: it touches the edge at two points at
//! least (Blum, *A transformation for extracting new descriptors of shape*, 1967); its diameter is the width there.
//! The disc that touches the edge at a given point is found by shrinking it until nothing is left in it (Ma, Bae,
//! Choi, *3D medial point approximation using nearest neighbors and the normal field*, The Visual Computer 28, 2012).
//! The axis runs square to the line between the two points it touches. Branches into corners, and those that only
//! come from curves drawn as chords, are pruned by the angle between these points as seen from the centre
//! (Foskey, Lin, Manocha, *Efficient computation of a simplified medial axis*, 2003).

use rstar::{PointDistance, RTree};

use super::side::Side;
use crate::shape::{Point, Region, distance, lerp, pt};

/// Two touched points seen from the centre under a smaller angle belong to a corner: corners of more than 60° have
/// no branch, sharper ones taper and do, degrees.
const LEAST_APART_DEG: f64 = 120.0;

/// Points of the edge that discs are fitted to lie this far apart, as a share of the width asked for.
const STEP_SHARE: f64 = 0.08;
/// The same, mm: no finer and no coarser.
const STEP_MM: (f64, f64) = (0.2, 1.5);
/// Most points of the edge of one region.
const MOST_POINTS: f64 = 40_000.0;

/// Corners nearer to the one before than this are left out, mm: a twentieth of a border.
const SAME_CORNER_MM: f64 = 0.05;

/// What rounding may add to a distance, mm.
const ROUNDING_MM: f64 = 1e-6;

/// A disc is shrunk at most so often; it has then all but stopped shrinking.
const MOST_SHRINKS: usize = 40;

/// A gap in a run of the axis is bridged when it is no longer than this share of the width there.
const BRIDGED: f64 = 0.6;

/// Cosine of the sharpest bend a run goes round, 120°.
const TURNS_BACK: f64 = -0.5;

/// A run seen from its other side again lies nearer than this share of the width.
const SAME_RUN: f64 = 0.35;

/// A point of the medial axis.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Spot {
    at: Point,
    width_mm: f64,
    /// Direction the axis runs in as one goes along the edge, a unit vector.
    way: Point,
}

/// The medial axis where a region is narrow, as seen from every point of its edge in order.
#[derive(Clone, Debug, PartialEq)]
pub struct Axis {
    /// Ring by ring; `None` where the region is wider.
    rings: Vec<Vec<Option<Spot>>>,
    step_mm: f64,
}

/// A connected run of the medial axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    /// Its points in order; a run all the way round ends where it begins.
    pub axis: Vec<Point>,
    /// The width at each point, mm.
    pub widths_mm: Vec<f64>,
    /// The direction at each point.
    pub ways: Vec<Point>,
    /// Its length, mm.
    pub length_mm: f64,
}

/// The medial axis of `region` where it is narrower than `limit_mm`. Cut-outs count as edges; a region of no
/// sound coordinates, or a limit that is no length, has none.
pub fn narrow_axis(region: &Region, limit_mm: f64) -> Axis {
    let total = region.edge_length();
    let step_mm = (limit_mm * STEP_SHARE).clamp(STEP_MM.0, STEP_MM.1).max(total / MOST_POINTS);
    if !(region.is_sane() && limit_mm.is_finite() && limit_mm > 0.0 && total > 0.0) {
        return Axis { rings: Vec::new(), step_mm: STEP_MM.1 };
    }
    let region = without_dense_corners(region);
    let tree = Side::tree(&region);
    let rings = region
        .rings()
        .map(|ring| {
            let length = ring.length();
            let n = (length / step_mm).ceil().max(8.0);
            let mut spots = Vec::with_capacity(n as usize);
            let (mut next, mut gone) = (length / n / 2.0, 0.0);
            for (a, b) in ring.sides() {
                let d = distance(a, b);
                while d > 0.0 && next < gone + d {
                    let side = Side { a, b };
                    spots.push(spot(&tree, lerp(a, b, (next - gone) / d), side.normal(), limit_mm / 2.0));
                    next += length / n;
                }
                gone += d;
            }
            spots
        })
        .collect();
    Axis { rings, step_mm }
}

/// Corners that lie on each other make normals that mean nothing.
fn without_dense_corners(region: &Region) -> Region {
    let thinned = |ring: &crate::shape::Ring| {
        let mut points: Vec<Point> = Vec::with_capacity(ring.points.len());
        for &p in &ring.points {
            if points.last().is_none_or(|q| distance(p, *q) >= SAME_CORNER_MM) {
                points.push(p);
            }
        }
        if points.len() < 3 { ring.clone() } else { crate::shape::Ring { points } }
    };
    Region { outline: thinned(&region.outline), cutouts: region.cutouts.iter().map(thinned).collect() }
}

/// The centre of the greatest disc that touches the edge at `p`, inward along `n`, when its radius is below `most`.
fn spot(tree: &RTree<Side>, p: Point, n: Point, most: f64) -> Option<Spot> {
    let mut radius = most;
    let mut touched = None;
    for _ in 0..MOST_SHRINKS {
        let c = p + n * radius;
        let at = [c.x, c.y];
        let side = tree.nearest_neighbor(&at)?;
        if side.distance_2(&at).sqrt() >= radius - ROUNDING_MM {
            break;
        }
        let shrunk = tangent(p, n, side).unwrap_or_else(|| through(p, n, side.nearest(c).0));
        if shrunk >= radius {
            // Only rounding keeps a disc that holds something from shrinking.
            break;
        }
        radius = shrunk;
        touched = Some(side.nearest(p + n * radius).0);
    }
    let (q, at) = (touched?, p + n * radius);
    let (u, v) = (p - at, q - at);
    let apart_deg = libm::atan2((u.x * v.y - u.y * v.x).abs(), u.x * v.x + u.y * v.y).to_degrees();
    let between = distance(p, q);
    if radius <= 0.0 || between <= 0.0 || apart_deg < LEAST_APART_DEG {
        return None;
    }
    let way = pt(p.y - q.y, q.x - p.x) / between;
    // The inside lies to the left as one goes along the edge.
    let onward = way.x * n.y - way.y * n.x;
    Some(Spot { at, width_mm: 2.0 * radius, way: if onward < 0.0 { -way } else { way } })
}

/// Radius of the disc at `p` inward along `n` that touches a side between its ends.
fn tangent(p: Point, n: Point, side: &Side) -> Option<f64> {
    let m = side.normal();
    let away = (p.x - side.a.x) * m.x + (p.y - side.a.y) * m.y;
    let closing = 1.0 - (n.x * m.x + n.y * m.y);
    if away <= 0.0 || closing <= 0.0 {
        return None;
    }
    let radius = away / closing;
    let (_, t) = side.nearest(p + n * radius);
    (t > 0.0 && t < 1.0).then_some(radius)
}

/// Radius of the disc at `p` inward along `n` whose rim goes through `q`.
fn through(p: Point, n: Point, q: Point) -> f64 {
    let v = q - p;
    let ahead = v.x * n.x + v.y * n.y;
    if ahead > 0.0 { (v.x * v.x + v.y * v.y) / (2.0 * ahead) } else { 0.0 }
}

impl Axis {
    /// The runs of the axis whose direction pleases `wanted`, the longest first, each told once.
    pub fn runs(&self, wanted: impl Fn(Point) -> bool) -> Vec<Run> {
        let mut found: Vec<Run> =
            self.rings.iter().flat_map(|ring| self.of_ring(ring, &wanted)).map(|s| self.run(&s)).collect();
        found.sort_by(|a, b| b.length_mm.total_cmp(&a.length_mm));
        let mut told: RTree<[f64; 2]> = RTree::new();
        let mut runs = Vec::new();
        for run in found {
            let parts = self.untold(&run, &told);
            for part in parts {
                for p in dense(&part.axis, self.step_mm) {
                    told.insert([p.x, p.y]);
                }
                runs.push(part);
            }
        }
        runs.sort_by(|a, b| b.length_mm.total_cmp(&a.length_mm));
        runs
    }

    /// Stretches of a ring whose spots follow each other along the axis.
    fn of_ring(&self, ring: &[Option<Spot>], wanted: &impl Fn(Point) -> bool) -> Vec<Vec<Spot>> {
        let spots: Vec<Spot> = ring.iter().flatten().filter(|s| wanted(s.way)).copied().collect();
        let follows = |a: &Spot, b: &Spot| {
            let reach = (3.0 * self.step_mm).max(BRIDGED * a.width_mm.min(b.width_mm));
            // Round an end the edge comes back along the other side of the same run.
            let turns_back = a.way.x * b.way.x + a.way.y * b.way.y < TURNS_BACK;
            distance(a.at, b.at) <= reach && !turns_back
        };
        let mut stretches: Vec<Vec<Spot>> =
            spots.chunk_by(|a, b| follows(a, b)).map(<[Spot]>::to_vec).collect();
        // The ring is closed: its last stretch may go on in its first.
        let goes_round = match (spots.first(), spots.last()) {
            (Some(first), Some(last)) => follows(last, first),
            _ => false,
        };
        match (goes_round, stretches.len()) {
            (true, 1) => {
                if let Some(all) = stretches.first_mut() {
                    all.extend(spots.first());
                }
            }
            (true, n) if n > 1 => {
                if let Some(mut last) = stretches.pop()
                    && let Some(first) = stretches.first_mut()
                {
                    last.append(first);
                    *first = last;
                }
            }
            _ => {}
        }
        stretches
    }

    fn run(&self, spots: &[Spot]) -> Run {
        // The axis of a polygonal edge trembles a little: steps shorter than it trembles say nothing of its length.
        let mut kept: Vec<Spot> = Vec::new();
        for (i, s) in spots.iter().enumerate() {
            let apart = self.step_mm.max(0.2 * s.width_mm);
            if i + 1 == spots.len() || kept.last().is_none_or(|k| distance(k.at, s.at) >= apart) {
                kept.push(*s);
            }
        }
        Run {
            length_mm: kept.windows(2).map(|w| distance(w[0].at, w[1].at)).sum(),
            axis: kept.iter().map(|s| s.at).collect(),
            widths_mm: kept.iter().map(|s| s.width_mm).collect(),
            ways: kept.iter().map(|s| s.way).collect(),
        }
    }

    /// The parts of a run that have not been told from its other side.
    fn untold(&self, run: &Run, told: &RTree<[f64; 2]>) -> Vec<Run> {
        let spots: Vec<Spot> = (run.axis.iter().zip(&run.widths_mm).zip(&run.ways))
            .map(|((at, width_mm), way)| Spot { at: *at, width_mm: *width_mm, way: *way })
            .collect();
        let is_told = |s: &Spot| {
            let reach = 1.5 * self.step_mm + SAME_RUN * s.width_mm;
            told.nearest_neighbor(&[s.at.x, s.at.y]).is_some_and(|q| distance(pt(q[0], q[1]), s.at) <= reach)
        };
        spots.split(is_told).filter(|part| part.len() > 1).map(|part| self.run(part)).collect()
    }
}

/// The points of a line and more between them, so that no two are farther apart than `step`.
fn dense(line: &[Point], step: f64) -> Vec<Point> {
    let mut points: Vec<Point> = line.first().copied().into_iter().collect();
    for (a, b) in line.iter().zip(line.iter().skip(1)) {
        let n = (distance(*a, *b) / step).ceil().clamp(1.0, 1000.0) as u32;
        points.extend((1..=n).map(|k| lerp(*a, *b, f64::from(k) / f64::from(n))));
    }
    points
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::{Pose, Ring};
    use std::f64::consts::{PI, TAU};

    fn region(pairs: &[[f64; 2]]) -> Region {
        Region::new(Ring::from_pairs(pairs), Vec::new())
    }

    fn circle(at: Point, r: f64, n: usize) -> Ring {
        let angle = |k: usize| TAU * k as f64 / n as f64;
        Ring::new((0..n).map(|k| at + pt(libm::cos(angle(k)), libm::sin(angle(k))) * r).collect())
    }

    /// The medial axis of a rectangle L × w is the middle line of length L − w, and four branches into the corners
    /// (Blum 1967), which are pruned.
    #[test]
    fn a_strip_has_its_middle_line() {
        for turn_deg in [0.0, 45.0, 17.0] {
            let strip = region(&[[0.0, 0.0], [120.0, 0.0], [120.0, 6.0], [0.0, 6.0]]);
            let strip = Pose { turn_deg, shift: pt(3.0, -40.0) }.region(&strip);
            let runs = narrow_axis(&strip, 10.0).runs(|_| true);
            assert_eq!(runs.len(), 1, "{turn_deg}");
            let run = &runs[0];
            assert!((run.length_mm - 114.0).abs() < 1.7, "{turn_deg}: {}", run.length_mm);
            assert!(run.widths_mm.iter().all(|w| (w - 6.0).abs() < 1e-6));
            // A limit below the width finds nothing.
            assert!(narrow_axis(&strip, 5.9).runs(|_| true).is_empty());
        }
    }

    /// The medial axis of an annulus r₁ < r₂ is the circle of radius (r₁ + r₂) / 2, the width r₂ − r₁ everywhere.
    #[test]
    fn an_annulus_has_its_middle_circle() {
        for (r1, r2, n) in [(20.0, 27.0, 180), (60.0, 66.0, 97), (6.0, 14.0, 240)] {
            let ring = Region::new(circle(pt(5.0, 5.0), r2, n), vec![circle(pt(5.0, 5.0), r1, n)]);
            let runs = narrow_axis(&ring, 10.0).runs(|_| true);
            assert_eq!(
                runs.len(),
                1,
                "{r1} {r2}: {:?}",
                runs.iter().map(|r| r.length_mm).collect::<Vec<_>>()
            );
            let want = PI * (r1 + r2);
            assert!((runs[0].length_mm / want - 1.0).abs() < 0.02, "{} for {want}", runs[0].length_mm);
            assert!(runs[0].widths_mm.iter().all(|w| (w - (r2 - r1)).abs() < 0.1));
            let off = |p: &Point| (distance(*p, pt(5.0, 5.0)) - (r1 + r2) / 2.0).abs();
            assert!(runs[0].axis.iter().all(|p| off(p) < 0.1));
        }
    }

    /// The medial axis of a wedge of angle α runs along its bisector; at s from the tip the width is 2·s·sin(α/2), so
    /// it is narrower than W as far as W / (2·sin(α/2)).
    #[test]
    fn a_wedge_is_narrow_as_far_as_its_angle_says() {
        for (degrees, limit) in [(6.0, 8.0), (12.0, 10.0), (20.0, 10.0)] {
            let half = f64::to_radians(degrees) / 2.0;
            let far = 3.0 * limit / (2.0 * libm::sin(half));
            let y = far * libm::tan(half);
            let wedge = region(&[[0.0, 0.0], [far, -y], [far, y]]);
            let runs = narrow_axis(&wedge, limit).runs(|_| true);
            assert_eq!(runs.len(), 1, "{degrees}");
            let want = limit / (2.0 * libm::sin(half));
            assert!((runs[0].length_mm - want).abs() < 2.5, "{} for {want}", runs[0].length_mm);
            for (at, width) in runs[0].axis.iter().zip(&runs[0].widths_mm) {
                assert!(at.y.abs() < 1e-6 && (width - 2.0 * at.x * libm::sin(half)).abs() < 1e-6);
            }
        }
    }

    #[test]
    fn a_bend_is_followed_and_a_square_corner_is_no_run() {
        // An L of two limbs 8 wide: the middle line is 96 − 4 along each limb, round the corner.
        let l = region(&[[0.0, 0.0], [100.0, 0.0], [100.0, 8.0], [8.0, 8.0], [8.0, 100.0], [0.0, 100.0]]);
        let runs = narrow_axis(&l, 12.0).runs(|_| true);
        let length: f64 = runs.iter().map(|r| r.length_mm).sum();
        assert!((length - 184.0).abs() < 8.0, "{length}");
        let square = region(&[[0.0, 0.0], [50.0, 0.0], [50.0, 50.0], [0.0, 50.0]]);
        assert!(narrow_axis(&square, 12.0).runs(|_| true).is_empty());
    }

    #[test]
    fn nonsense_is_no_crash() {
        for pairs in [
            vec![],
            vec![[0.0, 0.0]],
            vec![[0.0, 0.0], [1.0, 1.0], [0.0, 0.0], [1.0, 1.0]],
            vec![[f64::NAN, 0.0], [1.0, 1.0], [2.0, 0.0]],
            vec![[0.0, 0.0], [1e9, 0.0], [1e9, 1e9]],
        ] {
            let shape = Region {
                outline: Ring { points: pairs.iter().map(|p| pt(p[0], p[1])).collect() },
                cutouts: vec![],
            };
            for limit in [10.0, 0.0, -1.0, f64::NAN, f64::INFINITY] {
                let _ = narrow_axis(&shape, limit).runs(|_| true);
            }
        }
    }
}
