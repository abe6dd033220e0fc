//! Passes looked at afresh, from what they say alone.

use std::collections::BTreeMap;

use super::model::Pass;
use crate::burn::{Burn, BurnKind, Contour};
use crate::job::{Cutter, Face};
use crate::shape::{Bounds, Point, Ring, distance, lerp, pt};

/// Burns follow their contour this closely, mm: rounding alone.
const ON_LINE_MM: f64 = 1e-4;
/// A burn may lie this far beyond the margins, mm: rounding alone.
const ON_BED_MM: f64 = 1e-5;
/// Lengths along contours agree this closely, mm.
const SAME_LENGTH_MM: f64 = 1e-3;

/// What is wrong with `passes` that should burn `contours`; empty when nothing is.
///
/// Looked at: something burnt in every pass; every burn within the bed's margins; the map rigid and mirrored only face down; the burns of every
/// contour joined up again make it once, twice only at the joints and there by the overlap; joints lie in exactly
/// two passes that share a whole band, and in the middle of that overlap; contours some window holds are whole; marks burnt once, with both
/// strokes, inside the windows that use them, two or more of them shared with one earlier pass.
pub fn check(passes: &[Pass], contours: &[Contour], cutter: &Cutter) -> Vec<String> {
    let mut wrong = Vec::new();
    for (k, pass) in passes.iter().enumerate() {
        if pass.number != k + 1 {
            wrong.push(format!("pass {} has number {}", k + 1, pass.number));
        }
        if pass.burns.is_empty() {
            wrong.push(format!("pass {} burns nothing", pass.number));
        }
        on_the_bed(pass, cutter, &mut wrong);
    }
    contours_made(passes, contours, cutter, &mut wrong);
    marks_shared(passes, &mut wrong);
    wrong
}

fn on_the_bed(pass: &Pass, cutter: &Cutter, wrong: &mut Vec<String>) {
    let m = cutter.margin_mm;
    let [w, h] = cutter.bed_mm;
    let reach = Bounds::new(pt(m, m), pt(w - m, h - m)).grown(ON_BED_MM);
    let n = pass.number;
    let points = pass.burns.iter().flat_map(|b| &b.path).chain(pass.marks.iter().map(|m| &m.at));
    let out = points.filter(|p| !reach.contains(pass.cloth_to_bed.apply(**p))).count();
    if out > 0 {
        wrong.push(format!("pass {n}: {out} points beyond the margins"));
    }
    let window = Bounds::of(pass.window.corners().map(|p| pass.cloth_to_bed.apply(p)));
    if !reach.holds(window) {
        wrong.push(format!("pass {n}: its window is not the bed"));
    }
    let [a, b, c, d, ..] = pass.cloth_to_bed.0;
    let rigid = (a * a + b * b - 1.0).abs() < 1e-9 && (a * c + b * d).abs() < 1e-9;
    let mirrored = cutter.cloth_face == Face::Down;
    if !rigid || (pass.cloth_to_bed.determinant() < 0.0) != mirrored {
        wrong.push(format!("pass {n}: its map is not rigid, or mirrors wrongly"));
    }
    if pass.burns.iter().any(|b| b.length_mm() < ON_LINE_MM || (b.closed && b.path.len() < 3)) {
        wrong.push(format!("pass {n}: a burn of no length"));
    }
}

/// One contour with its lengths.
struct Line<'a> {
    ring: &'a Ring,
    lengths: Vec<f64>,
}

impl<'a> Line<'a> {
    fn new(ring: &'a Ring) -> Line<'a> {
        let mut lengths = vec![0.0];
        for (p, q) in ring.sides() {
            lengths.push(lengths[lengths.len() - 1] + distance(p, q));
        }
        Line { ring, lengths }
    }

    fn total(&self) -> f64 {
        self.lengths[self.lengths.len() - 1]
    }

    fn at(&self, s: f64) -> Point {
        let s = s.rem_euclid(self.total());
        let i = self.lengths.partition_point(|&l| l <= s).clamp(1, self.ring.points.len()) - 1;
        let side = self.lengths[i + 1] - self.lengths[i];
        let t = if side > 0.0 { (s - self.lengths[i]) / side } else { 0.0 };
        lerp(self.ring.points[i], self.ring.points[(i + 1) % self.ring.points.len()], t)
    }

    /// Where on the contour a burn begins, when it follows it from there in the contour's direction.
    fn begins(&self, burn: &Burn) -> Option<f64> {
        let first = *burn.path.first()?;
        let starts = self.ring.sides().enumerate().filter_map(|(i, (p, q))| {
            let d = q - p;
            let len2 = d.x * d.x + d.y * d.y;
            let v = first - p;
            let t = if len2 > 0.0 { ((v.x * d.x + v.y * d.y) / len2).clamp(0.0, 1.0) } else { 0.0 };
            (distance(first, lerp(p, q, t)) < ON_LINE_MM).then(|| self.lengths[i] + len2.sqrt() * t)
        });
        starts.into_iter().find(|&s0| {
            let mut s = s0;
            burn.path.windows(2).all(|w| {
                s += distance(w[0], w[1]);
                // Its middle too: a burn must not cut a corner off.
                distance(self.at(s), w[1]) < ON_LINE_MM
                    && distance(self.at(s - distance(w[0], w[1]) / 2.0), lerp(w[0], w[1], 0.5)) < ON_LINE_MM
            })
        })
    }
}

fn contours_made(passes: &[Pass], contours: &[Contour], cutter: &Cutter, wrong: &mut Vec<String>) {
    let mut by_ring: BTreeMap<(usize, usize), Vec<usize>> = BTreeMap::new();
    for (i, c) in contours.iter().enumerate() {
        by_ring.entry((c.placed, c.ring)).or_default().push(i);
    }
    let lines: Vec<Line> = contours.iter().map(|c| Line::new(&c.path)).collect();
    // By contour: pass by its place, begin, length.
    let mut made: Vec<Vec<(usize, f64, f64)>> = vec![Vec::new(); contours.len()];
    for (k, pass) in passes.iter().enumerate() {
        for burn in pass.burns.iter().filter(|b| b.kind != BurnKind::Mark) {
            let rings = burn.placed.and_then(|p| by_ring.get(&(p, burn.ring))).into_iter().flatten();
            let found = rings.filter_map(|&i| lines[i].begins(burn).map(|s| (i, s))).next();
            let Some((i, s)) = found else {
                wrong.push(format!(
                    "pass {}: a burn of piece {:?} follows no contour",
                    pass.number, burn.placed
                ));
                continue;
            };
            if burn.closed && (burn.length_mm() - lines[i].total()).abs() > SAME_LENGTH_MM {
                wrong.push(format!("pass {}: a closed burn is not its contour", pass.number));
            }
            made[i].push((k + 1, s, burn.length_mm()));
            if burn.kind != contours[i].kind() {
                wrong.push(format!(
                    "pass {}: a burn of piece {:?} is of the wrong kind",
                    pass.number, burn.placed
                ));
            }
        }
    }
    for (i, c) in contours.iter().enumerate() {
        let name = format!("piece {} ring {}", c.placed, c.ring);
        let held = passes.iter().any(|p| p.window.grown(ON_BED_MM / 10.0).holds(c.path.bounds()));
        let total = lines[i].total();
        let list = &mut made[i];
        if held || list.len() < 2 {
            let whole = list.len() == 1 && (list[0].2 - total).abs() < SAME_LENGTH_MM;
            if !whole {
                wrong.push(format!("{name}: not cut once and whole ({} burns)", list.len()));
            }
            continue;
        }
        list.sort_by(|a, b| a.1.total_cmp(&b.1));
        for k in 0..list.len() {
            let (one, next) = (list[k], list[(k + 1) % list.len()]);
            let begin = if k + 1 == list.len() { next.1 + total } else { next.1 };
            let overlap = one.1 + one.2 - begin;
            if (overlap - cutter.joint_overlap_mm).abs() > SAME_LENGTH_MM {
                wrong.push(format!("{name}: burns overlap by {overlap:.3} mm"));
            }
            if !whole_band(passes[one.0 - 1].window, passes[next.0 - 1].window, cutter.shared_band_mm) {
                wrong.push(format!("{name}: passes {} and {} share no whole band", one.0, next.0));
            }
            if one.0 == next.0 {
                wrong.push(format!("{name}: handed from pass {} to itself", one.0));
            }
            let spot = lines[i].at(begin + overlap / 2.0);
            let joint_in = |pass: &Pass| {
                pass.joints.iter().any(|j| {
                    (j.placed, j.ring) == (c.placed, c.ring) && distance(j.at, spot) < SAME_LENGTH_MM
                })
            };
            let told: Vec<usize> = (1..=passes.len()).filter(|&n| joint_in(&passes[n - 1])).collect();
            if told != [one.0.min(next.0), one.0.max(next.0)] {
                wrong.push(format!("{name}: a joint of passes {} and {} is told by {told:?}", one.0, next.0));
            }
        }
    }
    let joints: usize = passes.iter().map(|p| p.joints.len()).sum();
    let needed: usize = made.iter().filter(|l| l.len() > 1).map(|l| 2 * l.len()).sum();
    if joints != needed {
        wrong.push(format!("{joints} joint ends told, {needed} cut"));
    }
}

/// True when two windows that stand apart in a direction overlap by the band in it.
fn whole_band(a: Bounds, b: Bounds, band: f64) -> bool {
    let ways = [(a.min.x, a.max.x, b.min.x, b.max.x), (a.min.y, a.max.y, b.min.y, b.max.y)];
    ways.iter().any(|w| (w.0 - w.2).abs() > 1.0 && w.1.min(w.3) - w.0.max(w.2) >= band - SAME_LENGTH_MM)
}

fn marks_shared(passes: &[Pass], wrong: &mut Vec<String>) {
    let mut burnt: BTreeMap<&str, (usize, Point)> = BTreeMap::new();
    for pass in passes {
        let n = pass.number;
        for mark in &pass.marks {
            if mark.burnt_here {
                let strokes = pass.burns.iter().filter(|b| b.kind == BurnKind::Mark && b.path.len() == 2);
                let centred =
                    strokes.filter(|b| distance(lerp(b.path[0], b.path[1], 0.5), mark.at) < ON_LINE_MM);
                if centred.count() != 2 {
                    wrong.push(format!("pass {n}: mark {} is not burnt as a cross", mark.name));
                }
                if burnt.insert(&mark.name, (n, mark.at)).is_some() {
                    wrong.push(format!("pass {n}: mark {} is burnt twice", mark.name));
                }
            } else if burnt.get(mark.name.as_str()).is_none_or(|(_, at)| *at != mark.at) {
                wrong.push(format!("pass {n}: mark {} was not burnt there before", mark.name));
            }
        }
        let strokes = pass.burns.iter().filter(|b| b.kind == BurnKind::Mark).count();
        if strokes != 2 * pass.marks.iter().filter(|m| m.burnt_here).count() {
            wrong.push(format!("pass {n}: strokes that belong to no mark"));
        }
        let shared = |other: &Pass| {
            let known = |m: &super::model::Mark| other.marks.iter().any(|o| o.name == m.name);
            pass.marks.iter().filter(|m| !m.burnt_here && known(m)).count()
        };
        if n > 1 && passes[..n - 1].iter().map(shared).max().unwrap_or(0) < 2 {
            wrong.push(format!("pass {n}: shares no two marks with an earlier pass"));
        }
    }
}
