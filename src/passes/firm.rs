//! As much of a key as holds the cloth firmly.

use super::model::KeyLine;
use crate::shape::{Bounds, Point, distance};

/// The lines kept hold the cloth at least this share as firmly as all lines would.
const SHARE: f64 = 0.5;

/// Fewest lines kept where there are as many: one line alone may be met wrongly.
const LEAST_LINES: usize = 3;

/// Lines of `all` that together hold the position firmly: long edges in two directions, well apart.
///
/// An edge in an outline keeps the cloth from moving across it. With n the edge's normal, p its place from the middle
/// and r a typical distance, a small move (t, turn ω) is felt as n·t + ω·(p × n): the sum of (nx, ny, p × n / r)
/// outer products over the edges, weighted by length, says how firmly all three freedoms are held. Lines are
/// taken one by one, always the one that raises its determinant most (D-optimal design, Fedorov 1972; Wynn 1970, Annals
/// of Mathematical Statistics 41), until its cube root is [`SHARE`] of what all lines give.
pub(super) fn firm(all: Vec<KeyLine>) -> Vec<KeyLine> {
    if all.len() <= LEAST_LINES {
        return all;
    }
    let round = Bounds::of(all.iter().flat_map(|l| l.path.iter().copied()));
    let (middle, r) = (round.centre(), (round.width().hypot(round.height()) / 4.0).max(1.0));
    let holds: Vec<[f64; 6]> = all.iter().map(|l| hold(l, middle, r)).collect();
    let total = holds.iter().fold([0.0; 6], add);
    // A hair of hold in every freedom, so that the first lines can be told apart.
    let hair = 1e-6 * (total[0] + total[3] + total[5]);
    let goal = determinant(total) * SHARE * SHARE * SHARE;
    let mut now = [hair, 0.0, 0.0, hair, 0.0, hair];
    let mut kept: Vec<usize> = Vec::new();
    while kept.len() < all.len() && (kept.len() < LEAST_LINES || determinant(now) < goal) {
        let gain = |k: &usize| determinant(add(now, &holds[*k]));
        let best = (0..all.len())
            .filter(|k| !kept.contains(k))
            .max_by(|a, b| gain(a).total_cmp(&gain(b)).then(b.cmp(a)));
        let Some(best) = best else { break };
        now = add(now, &holds[best]);
        kept.push(best);
    }
    kept.sort_unstable();
    let mut all: Vec<Option<KeyLine>> = all.into_iter().map(Some).collect();
    kept.into_iter().filter_map(|k| all[k].take()).collect()
}

/// Upper triangle, row by row.
fn add(a: [f64; 6], b: &[f64; 6]) -> [f64; 6] {
    std::array::from_fn(|k| a[k] + b[k])
}

fn determinant([xx, xy, xz, yy, yz, zz]: [f64; 6]) -> f64 {
    xx * (yy * zz - yz * yz) - xy * (xy * zz - yz * xz) + xz * (xy * yz - yy * xz)
}

fn hold(line: &KeyLine, middle: Point, r: f64) -> [f64; 6] {
    let mut sum = [0.0; 6];
    let closing = line.path.first().filter(|_| line.closed);
    let path: Vec<Point> = line.path.iter().chain(closing).copied().collect();
    for w in path.windows(2) {
        let length = distance(w[0], w[1]);
        if length <= 0.0 {
            continue;
        }
        let d = (w[1] - w[0]) / length;
        let (nx, ny) = (-d.y, d.x);
        let p = (w[0] + w[1]) / 2.0 - middle;
        let z = (p.x * ny - p.y * nx) / r;
        let felt = [nx * nx, nx * ny, nx * z, ny * ny, ny * z, z * z];
        sum = std::array::from_fn(|k| sum[k] + length * felt[k]);
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::pt;

    fn line(placed: usize, a: Point, b: Point) -> KeyLine {
        KeyLine { placed, closed: false, path: vec![a, b] }
    }

    #[test]
    fn long_edges_in_two_directions_are_kept_and_crumbs_left_out() {
        let mut all = vec![
            line(0, pt(0.0, 0.0), pt(400.0, 0.0)),
            line(1, pt(0.0, 0.0), pt(0.0, 300.0)),
            line(2, pt(400.0, 20.0), pt(400.0, 320.0)),
        ];
        for k in 0..40 {
            let x = 10.0 * f64::from(k);
            all.push(line(3 + k as usize, pt(x, 150.0), pt(x + 1.5, 150.8)));
        }
        let kept: Vec<usize> = firm(all).iter().map(|l| l.placed).collect();
        assert!(kept.starts_with(&[0, 1, 2]) && kept.len() <= 4, "{kept:?}");
    }

    #[test]
    fn edges_that_all_run_one_way_are_joined_by_the_one_that_does_not() {
        let mut all: Vec<KeyLine> =
            (0..8).map(|k| line(k, pt(0.0, 40.0 * k as f64), pt(500.0, 40.0 * k as f64))).collect();
        all.push(line(8, pt(250.0, 0.0), pt(250.0, 61.0)));
        let kept: Vec<usize> = firm(all).iter().map(|l| l.placed).collect();
        assert!(kept.contains(&8) && kept.len() < 9, "{kept:?}");
    }
}
