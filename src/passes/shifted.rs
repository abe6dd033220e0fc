//! All windows moved together, so that those over a piece larger than the bed reach waste beside it.

use super::line::FIT_MM;
use super::links::in_turn;
use super::windows::{Ground, Item};
use crate::shape::{Bounds, Point, distance, lerp, pt};

/// Steps tried each way, each this share of a window.
const STEPS: i32 = 6;
const OF_A_WINDOW: f64 = 1.0 / 12.0;

/// Points of a ring that must be in reach lie at most this far apart, mm: far less than any band.
const POINTS_APART_MM: f64 = 5.0;

/// The windows, in an order in which each has an earlier one it finds its place by, moved together by as little as gives
/// most of them room for marks. They stay where they are if that is as good, and move across and along only where they
/// `may`.
pub(super) fn for_room(set: Vec<Bounds>, ground: &Ground, may: [bool; 2]) -> Vec<Bounds> {
    let (as_they_are, without_room) = in_turn(set, ground.spots, ground.inset);
    if without_room == 0 || ground.items.iter().all(|i| fits(i, ground.size)) {
        return as_they_are;
    }
    let step = ground.size * OF_A_WINDOW;
    let steps = |may: bool| if may { -STEPS..=STEPS } else { 0..=0 };
    let mut moves: Vec<Point> = steps(may[1])
        .flat_map(|j| steps(may[0]).map(move |i| pt(step.x * f64::from(i), step.y * f64::from(j))))
        .collect();
    let far = |p: &Point| distance(*p, pt(0.0, 0.0));
    moves.sort_by(|p, q| far(p).total_cmp(&far(q)).then(p.y.total_cmp(&q.y)).then(p.x.total_cmp(&q.x)));
    let points: Vec<Vec<Point>> = ground.items.iter().map(|i| points(i, ground.size)).collect();
    let mut best = (without_room, as_they_are.clone());
    for by in moves.into_iter().skip(1) {
        let moved: Vec<Bounds> = as_they_are.iter().map(|w| w.shifted(by)).collect();
        if !reaches_all(&moved, ground, &points) {
            continue;
        }
        let (moved, left) = in_turn(moved, ground.spots, ground.inset);
        if left < best.0 {
            best = (left, moved);
        }
        if left == 0 {
            break;
        }
    }
    best.1
}

fn fits(item: &Item, size: Point) -> bool {
    item.bounds.width() <= size.x + FIT_MM && item.bounds.height() <= size.y + FIT_MM
}

/// Points along the ring of an item that no window holds whole.
fn points(item: &Item, size: Point) -> Vec<Point> {
    if fits(item, size) {
        return Vec::new();
    }
    let corners = &item.ring.points;
    let next = corners.iter().cycle().skip(1);
    let side = |(p, q): (&Point, &Point)| {
        let parts = (distance(*p, *q) / POINTS_APART_MM).ceil().max(1.0);
        (0..parts as usize).map(|k| lerp(*p, *q, k as f64 / parts)).collect::<Vec<_>>()
    };
    corners.iter().zip(next).flat_map(side).collect()
}

/// True when every piece that fits a window is in one, and every point of the others is.
fn reaches_all(set: &[Bounds], ground: &Ground, points: &[Vec<Point>]) -> bool {
    let wide = |w: &Bounds| w.grown(FIT_MM);
    ground.items.iter().zip(points).all(|(item, points)| {
        if fits(item, ground.size) {
            return set.iter().any(|w| wide(w).holds(item.bounds));
        }
        points.iter().all(|p| set.iter().any(|w| wide(w).contains(*p)))
    })
}
