//! The key: edges cut by earlier passes, to lay the cloth into.

use rstar::RTree;
use rstar::primitives::Line;

use super::firm::firm;
use super::links::shared;
use super::model::KeyLine;
use super::track::Track;
use crate::shape::{Bounds, Join, Point, Region, Ring, distance, lerp, offset, tol};

/// Lines shorter than this guide nothing, mm; they are left out unless there is nothing else.
const LEAST_LINE_MM: f64 = 60.0;

/// A point of an edge is cut when a burn runs this near beyond half the kerf, mm.
const BESIDE_MM: f64 = 0.1;

/// Burnt lines of one ring by earlier passes.
#[derive(Clone, Debug, Default)]
pub(super) struct Burnt {
    /// All of it.
    pub whole: bool,
    /// Stretches, cloth frame.
    pub stretches: Vec<Vec<Point>>,
}

/// The cut edges within `window` that `burnt(piece, ring)` says are cut already, each `clearance` mm off the piece so
/// that its edge can be laid in; as much of them as holds the cloth firmly (see [`firm`]), cut-outs of pieces that are cut
/// free left out while there is anything else.
pub(super) fn key(
    window: Bounds,
    cuts: &[Region],
    half_kerf: f64,
    clearance: f64,
    burnt: impl Fn(usize, usize) -> Burnt,
) -> Vec<KeyLine> {
    let (mut lines, mut of_loose) = (Vec::new(), Vec::new());
    for (placed, cut) in cuts.iter().enumerate() {
        if shared(cut.bounds(), window).is_none() {
            continue;
        }
        // A piece cut free no longer lies true in the cloth, and its cut-outs no truer.
        let loose = burnt(placed, 0).whole;
        for (k, edge) in cut.rings().enumerate() {
            let lines = if loose && k > 0 { &mut of_loose } else { &mut lines };
            let done = burnt(placed, k);
            if !done.whole && done.stretches.is_empty() {
                continue;
            }
            let Some(ring) = stand_off(edge, k == 0, clearance) else { continue };
            let closed_path = ring.points.clone();
            if done.whole && closed_path.iter().all(|&p| window.contains(p)) {
                lines.push(KeyLine { placed, closed: true, path: closed_path });
                continue;
            }
            let open = if done.whole {
                let mut path = closed_path;
                path.extend(path.first().copied());
                vec![path]
            } else {
                beside(&Track::new(&ring), &done.stretches, half_kerf + clearance + BESIDE_MM)
            };
            let parts = open.iter().flat_map(|path| clipped(path, window));
            lines.extend(joined(parts.collect()).into_iter().map(|path| KeyLine {
                placed,
                closed: false,
                path,
            }));
        }
    }
    if lines.is_empty() {
        lines = of_loose;
    }
    let long = |l: &KeyLine| length(l) >= LEAST_LINE_MM;
    if lines.iter().any(long) {
        lines.retain(long);
    }
    firm(lines)
}

/// The edge moved off the piece by `clearance`; `None` for a cut-out that then vanishes.
fn stand_off(edge: &Ring, outline: bool, clearance: f64) -> Option<Ring> {
    if clearance <= 0.0 {
        return Some(edge.clone());
    }
    let filled = Region::new(edge.clone().oriented(true), Vec::new());
    let moved = offset(&[filled], if outline { clearance } else { -clearance }, Join::Round);
    let largest = moved.into_iter().max_by(|a, b| a.area().total_cmp(&b.area()))?;
    Some(largest.outline.oriented(outline))
}

fn length(line: &KeyLine) -> f64 {
    let open: f64 = line.path.windows(2).map(|w| distance(w[0], w[1])).sum();
    let back = line.path.first().zip(line.path.last()).map_or(0.0, |(&a, &b)| distance(a, b));
    if line.closed { open + back } else { open }
}

/// The stretches of the edge that run within `reach` of burnt lines.
fn beside(track: &Track, burnt: &[Vec<Point>], reach: f64) -> Vec<Vec<Point>> {
    let sides =
        burnt.iter().flat_map(|b| b.windows(2)).map(|w| Line::new([w[0].x, w[0].y], [w[1].x, w[1].y]));
    let tree = RTree::bulk_load(sides.collect());
    let near = |p: Point| tree.locate_within_distance([p.x, p.y], reach * reach).next().is_some();
    let cut: Vec<bool> = track.stations.iter().map(|s| near(s.at)).collect();
    let n = cut.len();
    let Some(gap) = (0..n).find(|&i| !cut[i]) else { return vec![track.path(0.0, track.total())] };
    let mut found = Vec::new();
    let mut start: Option<f64> = None;
    // Begin in a gap, so that no stretch is met in its middle.
    for k in 1..=n {
        let i = (gap + k) % n;
        match (cut[i], start) {
            (true, None) => start = Some(track.stations[i].s),
            (false, Some(from)) => {
                let last = track.stations[(i + n - 1) % n].s;
                let to = from + (last - from).rem_euclid(track.total());
                if to > from + tol::SAME_POINT_MM {
                    found.push(track.path(from, to));
                }
                start = None;
            }
            _ => {}
        }
    }
    found
}

/// The parts of an open line inside a box.
fn clipped(path: &[Point], b: Bounds) -> Vec<Vec<Point>> {
    let mut parts: Vec<Vec<Point>> = Vec::new();
    let mut running = false;
    for w in path.windows(2) {
        let Some((t0, t1)) = clip_side(w[0], w[1], b) else {
            running = false;
            continue;
        };
        let (from, to) = (lerp(w[0], w[1], t0), lerp(w[0], w[1], t1));
        match parts.last_mut().filter(|_| running && t0 == 0.0) {
            Some(part) => part.push(to),
            None => parts.push(vec![from, to]),
        }
        running = t1 == 1.0;
    }
    parts.retain(|p| p.len() > 1);
    parts
}

/// Shares of the side where it enters and leaves the box (Liang & Barsky 1984, ACM Trans. Graphics 3).
fn clip_side(p: Point, q: Point, b: Bounds) -> Option<(f64, f64)> {
    let d = q - p;
    let (mut t0, mut t1) = (0.0_f64, 1.0_f64);
    for (run, room) in
        [(-d.x, p.x - b.min.x), (d.x, b.max.x - p.x), (-d.y, p.y - b.min.y), (d.y, b.max.y - p.y)]
    {
        if run == 0.0 {
            if room < 0.0 {
                return None;
            }
        } else if run < 0.0 {
            t0 = t0.max(room / run);
        } else {
            t1 = t1.min(room / run);
        }
    }
    (t0 < t1).then_some((t0, t1))
}

/// Joins a part that ends where the first begins: a closed line clipped from its middle.
fn joined(mut parts: Vec<Vec<Point>>) -> Vec<Vec<Point>> {
    if parts.len() > 1
        && parts.last().and_then(|p| p.last()) == parts.first().and_then(|p| p.first())
        && let Some(mut last) = parts.pop()
    {
        last.extend(parts[0].iter().skip(1));
        parts[0] = last;
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::pt;

    fn rect(x: f64, y: f64, w: f64, h: f64) -> Region {
        Region::rectangle(Bounds::new(pt(x, y), pt(x + w, y + h)))
    }

    #[test]
    fn whole_pieces_are_closed_lines_and_pieces_over_the_border_are_clipped() {
        let cuts =
            [rect(10.0, 10.0, 40.0, 40.0), rect(60.0, 50.0, 80.0, 100.0), rect(300.0, 0.0, 90.0, 90.0)];
        let window = Bounds::new(pt(0.0, 0.0), pt(100.0, 100.0));
        let lines = key(window, &cuts, 0.1, 0.0, |_, _| Burnt { whole: true, ..Burnt::default() });
        assert_eq!(lines.len(), 2);
        assert_eq!((lines[0].placed, lines[0].closed), (0, true));
        assert_eq!(lines[1].path, [pt(60.0, 100.0), pt(60.0, 50.0), pt(100.0, 50.0)]);
    }

    #[test]
    fn only_what_is_cut_already_is_drawn_and_drawn_on_the_true_edge() {
        let cuts = [rect(0.0, 0.0, 200.0, 50.0)];
        let window = Bounds::new(pt(20.0, -10.0), pt(220.0, 60.0));
        let stretch = vec![pt(110.0, -0.1), pt(-0.1, -0.1), pt(-0.1, 50.1), pt(110.0, 50.1)];
        let lines =
            key(window, &cuts, 0.1, 0.0, |_, _| Burnt { whole: false, stretches: vec![stretch.clone()] });
        assert_eq!(lines.len(), 2);
        for line in &lines {
            assert!(line.path.iter().all(|p| p.y == 0.0 || p.y == 50.0));
            assert!((length(line) - 90.0).abs() < 4.0, "{line:?}");
        }
    }

    #[test]
    fn the_outlines_stand_off_by_the_clearance() {
        let frame =
            Region::new(rect(10.0, 10.0, 80.0, 80.0).outline, vec![rect(30.0, 30.0, 40.0, 40.0).outline]);
        let window = Bounds::new(pt(0.0, 0.0), pt(200.0, 200.0));
        let only = |ring: usize| {
            let burnt = |_: usize, k: usize| Burnt { whole: k == ring, ..Burnt::default() };
            let lines = key(window, std::slice::from_ref(&frame), 0.1, 0.5, burnt);
            assert_eq!(lines.len(), 1);
            Bounds::of(lines[0].path.iter().copied())
        };
        let (outline, cutout) = (only(0), only(1));
        assert!((outline.min.x - 9.5).abs() < 0.02 && (outline.max.y - 90.5).abs() < 0.02);
        assert!((cutout.min.x - 30.5).abs() < 0.02 && (cutout.max.y - 69.5).abs() < 0.02);
    }

    #[test]
    fn cut_outs_of_a_piece_cut_free_hold_nothing() {
        let frame =
            Region::new(rect(10.0, 10.0, 80.0, 80.0).outline, vec![rect(30.0, 30.0, 40.0, 40.0).outline]);
        let window = Bounds::new(pt(0.0, 0.0), pt(200.0, 200.0));
        let whole = |_, _| Burnt { whole: true, ..Burnt::default() };
        let lines = key(window, std::slice::from_ref(&frame), 0.1, 0.0, whole);
        assert_eq!(lines.len(), 1);
        assert_eq!(Bounds::of(lines[0].path.iter().copied()), frame.bounds());
        // With only the cut-outs in the window, a poor key is better than none.
        let inner = Bounds::new(pt(25.0, 25.0), pt(75.0, 75.0));
        assert_eq!(key(inner, &[frame], 0.1, 0.0, whole).len(), 1);
    }

    #[test]
    fn short_lines_are_left_out_unless_there_is_nothing_else() {
        let window = Bounds::new(pt(0.0, 0.0), pt(500.0, 500.0));
        let whole = |_, _| Burnt { whole: true, ..Burnt::default() };
        let small = rect(10.0, 10.0, 5.0, 5.0);
        assert_eq!(key(window, &[small.clone(), rect(50.0, 50.0, 50.0, 50.0)], 0.1, 0.0, whole).len(), 1);
        assert_eq!(key(window, &[small], 0.1, 0.0, whole).len(), 1);
    }
}
