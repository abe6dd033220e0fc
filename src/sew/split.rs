//! A line that no single field holds, shared out among several hoopings.

use super::placement::Line;
use crate::shape::{Bounds, Point, distance, lerp};

/// Steps in which a line is shared out, mm.
const STEP_MM: f64 = 2.0;

/// A stretch shorter than this goes with its neighbour where that field reaches it, mm: less than what is sewn in one go
/// at least.
const LEAST_STRETCH_MM: f64 = 6.0;

/// How far a stretch runs on past where the next field takes over, mm: the threads lock there (common practice, no
/// source).
const RUN_ON_MM: f64 = 3.0;

/// What rounding may take from a field, mm.
const REACH_MM: f64 = 1e-3;

#[derive(Clone, Copy)]
struct Step {
    at: Point,
    /// False for points put in between.
    corner: bool,
    field: usize,
}

/// `line` in stretches, each with the hooping it is stitched in: the one that `of` gives its points, of those whose
/// fields are `fields`.
pub(super) fn shares(line: &Line, of: &dyn Fn(Point) -> usize, fields: &[Bounds]) -> Vec<(usize, Line)> {
    let mut steps = steps(line, of);
    let n = steps.len();
    if steps.iter().all(|s| s.field == steps[0].field) {
        return steps.first().map(|s| (s.field, line.clone())).into_iter().collect();
    }
    let start = (0..n).find(|&k| steps[k].field != steps[(k + n - 1) % n].field).filter(|_| line.closed);
    steps.rotate_left(start.unwrap_or(0));
    calmed(&mut steps, fields);
    let mut out = Vec::new();
    let mut from = 0;
    while from < n {
        let field = steps[from].field;
        let to = (from..n).find(|&k| steps[k].field != field).unwrap_or(n);
        out.push((field, stretch(&steps, from, to, fields[field], line.closed)));
        from = to;
    }
    out
}

/// How deep `p` lies in `field`, mm; negative outside.
fn depth(field: Bounds, p: Point) -> f64 {
    (p.x - field.min.x).min(field.max.x - p.x).min(p.y - field.min.y).min(field.max.y - p.y)
}

fn steps(line: &Line, of: &dyn Fn(Point) -> usize) -> Vec<Step> {
    let mut steps = Vec::new();
    let mut add = |at: Point, corner: bool| steps.push(Step { at, corner, field: of(at) });
    for (p, q) in line.sides() {
        let count = (distance(p, q) / STEP_MM).ceil().clamp(1.0, 1.0e6) as u32;
        for k in 0..count {
            add(lerp(p, q, f64::from(k) / f64::from(count)), k == 0);
        }
    }
    if let Some(last) = line.points.last().filter(|_| !line.closed) {
        add(*last, true);
    }
    steps
}

/// Short stretches go with the one before, else with the one after, where that field reaches them.
fn calmed(steps: &mut [Step], fields: &[Bounds]) {
    let n = steps.len();
    for _ in 0..n {
        let mut changed = false;
        let mut from = 0;
        while from < n {
            let field = steps[from].field;
            let to = (from..n).find(|&k| steps[k].field != field).unwrap_or(n);
            if ((to - from) as f64) * STEP_MM < LEAST_STRETCH_MM {
                let before = steps[(from + n - 1) % n].field;
                let after = steps[to % n].field;
                let reaches = |f: usize| steps[from..to].iter().all(|s| depth(fields[f], s.at) >= -REACH_MM);
                if let Some(other) = [before, after].into_iter().find(|&f| f != field && reaches(f)) {
                    steps[from..to].iter_mut().for_each(|s| s.field = other);
                    changed = true;
                }
            }
            from = to;
        }
        if !changed {
            return;
        }
    }
}

/// Steps `from..to` as a line that runs on a little at both ends where the field reaches.
fn stretch(steps: &[Step], from: usize, to: usize, field: Bounds, closed: bool) -> Line {
    let n = steps.len();
    if from == 0 && to == n && closed {
        return Line { points: steps.iter().filter(|s| s.corner).map(|s| s.at).collect(), closed };
    }
    let more = (RUN_ON_MM / STEP_MM).ceil() as usize + 1;
    let on = |k: Option<usize>| k.map(|k| steps[k]).filter(|s| depth(field, s.at) >= -REACH_MM);
    let next = |k: usize| if k + 1 < n { Some(k + 1) } else { closed.then_some(0) };
    let last = |k: usize| if k > 0 { Some(k - 1) } else { closed.then_some(n - 1) };
    let walk = |mut k: usize, go: &dyn Fn(usize) -> Option<usize>| {
        let mut way = Vec::new();
        while way.len() < more {
            let Some(step) = on(go(k)) else { break };
            way.push(step);
            k = go(k).unwrap_or(k);
        }
        way
    };
    let mut run: Vec<Step> = walk(from, &last);
    run.reverse();
    run.extend_from_slice(&steps[from..to]);
    run.extend(walk(to - 1, &next));
    let end = run.len().saturating_sub(1);
    let kept = run.iter().enumerate().filter(|(k, s)| s.corner || *k == 0 || *k == end);
    Line { points: kept.map(|(_, s)| s.at).collect(), closed: false }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::pt;

    fn field(x0: f64, y0: f64, x1: f64, y1: f64) -> Bounds {
        Bounds::new(pt(x0, y0), pt(x1, y1))
    }

    /// The hooping whose field holds a point deepest.
    fn deepest(all: &[Bounds]) -> impl Fn(Point) -> usize + '_ {
        |p| (0..all.len()).max_by(|&a, &b| depth(all[a], p).total_cmp(&depth(all[b], p))).unwrap()
    }

    #[test]
    fn a_line_that_one_hooping_sews_stays_whole() {
        let square = Line { points: field(10.0, 10.0, 40.0, 40.0).corners().to_vec(), closed: true };
        let all = [field(0.0, 0.0, 30.0, 100.0), field(0.0, 0.0, 60.0, 60.0)];
        assert_eq!(shares(&square, &|_| 1, &all), vec![(1, square)]);
    }

    #[test]
    fn a_long_line_changes_hands_where_it_is_told_to_and_runs_on() {
        let long = Line { points: vec![pt(5.0, 20.0), pt(175.0, 20.0)], closed: false };
        let fields = [field(0.0, 0.0, 100.0, 40.0), field(80.0, 0.0, 180.0, 40.0)];
        let found = shares(&long, &|p| usize::from(p.x > 90.0), &fields);
        assert_eq!(found.iter().map(|f| f.0).collect::<Vec<_>>(), [0, 1]);
        let (first, second) = (&found[0].1.points, &found[1].1.points);
        assert!((first[0].x - 5.0).abs() < 1e-9 && (second[second.len() - 1].x - 175.0).abs() < 1e-9);
        let overlap = first[first.len() - 1].x - second[0].x;
        assert!((3.0..=12.0).contains(&overlap), "{overlap}");
    }

    #[test]
    fn every_point_of_a_ring_over_four_fields_is_stitched_once_at_least() {
        let ring = Line { points: field(5.0, 5.0, 175.0, 135.0).corners().to_vec(), closed: true };
        let all = [
            field(0.0, 0.0, 100.0, 80.0),
            field(80.0, 0.0, 180.0, 80.0),
            field(0.0, 60.0, 100.0, 140.0),
            field(80.0, 60.0, 180.0, 140.0),
        ];
        let found = shares(&ring, &deepest(&all), &all);
        let total: f64 = found.iter().map(|f| f.1.length()).sum();
        assert!((600.0..660.0).contains(&total), "{total}");
        for (field, line) in &found {
            assert!(line.points.iter().all(|p| depth(all[*field], *p) >= -REACH_MM));
        }
    }
}
