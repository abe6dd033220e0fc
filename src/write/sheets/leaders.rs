//! Numbers round a picture with a line to what they name: short lines, spread over all four sides.

use crate::shape::{Bounds, Point, pt};

/// Size of the numbers, mm.
pub(super) const SIZE: f64 = 2.2;
/// Longest line, mm: longer ones bunch into bands nobody can follow.
const LONGEST: f64 = 32.0;
/// Room of a number beside its side's edge: across (near and far side) and along (left and right side), mm.
const WIDE: f64 = 5.2;
const HIGH: f64 = 2.9;
/// Share of a side that may be filled with numbers.
const FILLED: f64 = 0.8;

/// Where a number stands and where its line begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Leader {
    /// Left end of the number's baseline.
    pub text: Point,
    /// The line's end at the number.
    pub end: Point,
}

#[derive(Clone, Copy, PartialEq)]
enum Side {
    Left,
    Right,
    Near,
    Far,
}

const SIDES: [Side; 4] = [Side::Left, Side::Right, Side::Near, Side::Far];

impl Side {
    fn upright(self) -> bool {
        matches!(self, Side::Left | Side::Right)
    }

    fn off(self, frame: Bounds, p: Point) -> f64 {
        match self {
            Side::Left => p.x - frame.min.x,
            Side::Right => frame.max.x - p.x,
            Side::Near => p.y - frame.min.y,
            Side::Far => frame.max.y - p.y,
        }
    }

    /// A spot on the side, `along` it, outside the frame and what is drawn right beside it.
    fn leader(self, frame: Bounds, along: f64, width: f64) -> Leader {
        let drop = SIZE * 0.36;
        match self {
            Side::Left => {
                let end = pt(frame.min.x - 6.2, along);
                Leader { text: end - pt(width + 0.6, drop), end }
            }
            Side::Right => {
                let end = pt(frame.max.x + 3.0, along);
                Leader { text: end + pt(0.6, -drop), end }
            }
            Side::Near => {
                let end = pt(along, frame.min.y - 4.0);
                Leader { text: end - pt(width / 2.0, SIZE * 0.72 + 0.5), end }
            }
            Side::Far => {
                let end = pt(along, frame.max.y + 3.0);
                Leader { text: end + pt(-width / 2.0, 0.5), end }
            }
        }
    }
}

/// A leader for every point with its number's width, or `None` where a line would be too long or its side is full.
/// Those nearest to a side come first; on a side numbers stand in the order of their points.
pub(super) fn leaders(frame: Bounds, wanted: &[(Point, f64)]) -> Vec<Option<Leader>> {
    let mut found = vec![None; wanted.len()];
    let mut pairs: Vec<(f64, usize, Side)> = wanted
        .iter()
        .enumerate()
        .flat_map(|(i, (p, _))| SIDES.map(|s| (s.off(frame, *p), i, s)))
        .filter(|(off, ..)| *off <= LONGEST)
        .collect();
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut on: [Vec<usize>; 4] = Default::default();
    for (_, i, side) in pairs {
        let (length, pitch) = if side.upright() { (frame.height(), HIGH) } else { (frame.width(), WIDE) };
        let room = (length * FILLED / pitch).floor().max(0.0) as usize;
        if on.iter().any(|l| l.contains(&i)) {
            continue;
        }
        if let Some(list) = SIDES.iter().position(|s| *s == side).and_then(|k| on.get_mut(k))
            && list.len() < room
        {
            list.push(i);
        }
    }
    for (side, mut list) in SIDES.into_iter().zip(on) {
        let place = |i: usize| wanted.get(i).map_or(0.0, |(p, _)| if side.upright() { p.y } else { p.x });
        let (low, high, pitch) =
            if side.upright() { (frame.min.y, frame.max.y, HIGH) } else { (frame.min.x, frame.max.x, WIDE) };
        list.sort_by(|&i, &j| place(i).total_cmp(&place(j)).then(i.cmp(&j)));
        let along = spread(&list.iter().map(|&i| place(i)).collect::<Vec<_>>(), low, high, pitch);
        for (i, at) in list.into_iter().zip(along) {
            if let Some((spot, (_, width))) = found.get_mut(i).zip(wanted.get(i)) {
                *spot = Some(side.leader(frame, at, *width));
            }
        }
    }
    found
}

/// Rising places moved apart to `pitch`, each as little as its neighbours allow, within `low` and `high`: runs
/// that press on each other are pooled and stand round their mean.
fn spread(places: &[f64], low: f64, high: f64, pitch: f64) -> Vec<f64> {
    // Each run: how many, and the mean of its places with the pitch taken out.
    let mut runs: Vec<(usize, f64)> = Vec::new();
    for (k, p) in places.iter().enumerate() {
        runs.push((1, p - k as f64 * pitch));
        while let [.., (m, a), (n, b)] = runs.as_slice()
            && b < a
        {
            let (m, a, n, b) = (*m, *a, *n, *b);
            runs.truncate(runs.len() - 2);
            runs.push((m + n, (m as f64 * a + n as f64 * b) / (m + n) as f64));
        }
    }
    let last = places.len().saturating_sub(1) as f64 * pitch;
    let base: Vec<f64> = runs.into_iter().flat_map(|(n, mean)| std::iter::repeat_n(mean, n)).collect();
    let most = (high - last).max(low);
    base.into_iter().enumerate().map(|(k, b)| b.clamp(low, most) + k as f64 * pitch).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const FRAME: Bounds = Bounds::new(pt(20.0, 100.0), pt(180.0, 210.0));

    proptest! {
        #[test]
        fn numbers_stand_apart_outside_the_picture_on_short_lines(
            at in proptest::collection::vec((20.0f64..180.0, 100.0f64..210.0), 0..80),
        ) {
            let wanted: Vec<(Point, f64)> = at.iter().map(|&(x, y)| (pt(x, y), 3.7)).collect();
            let found = leaders(FRAME, &wanted);
            let plates: Vec<Bounds> = found
                .iter()
                .flatten()
                .map(|l| Bounds::new(l.text, l.text + pt(3.7, SIZE * 0.72)))
                .collect();
            for (i, b) in plates.iter().enumerate() {
                prop_assert!(!b.meets(FRAME.grown(-0.01)));
                prop_assert!(plates.iter().skip(i + 1).all(|c| !c.meets(b.grown(-0.01))));
            }
        }
    }

    #[test]
    fn a_lone_piece_is_named_from_its_nearest_side_and_one_in_the_middle_from_none() {
        let found = leaders(FRAME, &[(pt(25.0, 150.0), 2.0), (pt(100.0, 155.0), 2.0)]);
        assert!(found[0].is_some_and(|l| l.end.x < 20.0 && (l.end.y - 150.0).abs() < 1e-9));
        assert_eq!(found[1], None);
    }
}
