//! Jigsaws: a strip cut into pieces by our own saw has a lay without any waste, so how near the search comes to it
//! is known exactly. Every result is tested for overlaps by another library.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use geo::{Area, BooleanOps, MultiPolygon, Polygon};
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};
use settlay::lay::{Budget, StripLay, StripPiece, lay_strip};
use settlay::shape::{Bounds, Point, Region, Ring, lerp, pt};

const WIDTH: f64 = 400.0;

struct Saw(Pcg64Mcg);

impl Saw {
    fn unit(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Cuts convex pieces in two, the largest first, until there are `count`.
    fn pieces(&mut self, length: f64, count: usize, square: bool) -> Vec<Vec<Point>> {
        let mut all = vec![vec![pt(0.0, 0.0), pt(WIDTH, 0.0), pt(WIDTH, length), pt(0.0, length)]];
        while all.len() < count {
            let largest = (0..all.len())
                .max_by(|&i, &j| area(&all[i]).total_cmp(&area(&all[j])))
                .expect("there is always a piece");
            let piece = all.swap_remove(largest);
            let (one, other) = if square { self.straight(&piece) } else { self.slanting(&piece) };
            all.extend([one, other]);
        }
        all
    }

    /// Across the longer side of a rectangle, so that pieces stay rectangles.
    fn straight(&mut self, piece: &[Point]) -> (Vec<Point>, Vec<Point>) {
        let b = Bounds::of(piece.iter().copied());
        let t = 0.35 + 0.3 * self.unit();
        if b.width() > b.height() {
            let x = (b.min.x + t * b.width()).round();
            halves(piece, pt(x, b.min.y), pt(x, b.max.y))
        } else {
            let y = (b.min.y + t * b.height()).round();
            halves(piece, pt(b.min.x, y), pt(b.max.x, y))
        }
    }

    /// From a spot on the longest side to one on the side across.
    fn slanting(&mut self, piece: &[Point]) -> (Vec<Point>, Vec<Point>) {
        let n = piece.len();
        let long = |i: usize| settlay::shape::distance(piece[i], piece[(i + 1) % n]);
        let i = (0..n).max_by(|&a, &b| long(a).total_cmp(&long(b))).expect("pieces have sides");
        let j = (i + n / 2) % n;
        let p = lerp(piece[i], piece[(i + 1) % n], 0.3 + 0.4 * self.unit());
        let q = lerp(piece[j], piece[(j + 1) % n], 0.3 + 0.4 * self.unit());
        halves(piece, p, q)
    }
}

/// The parts of a convex piece left and right of the line through p and q (Sutherland and Hodgman 1974,
/// Communications of the ACM 17).
fn halves(piece: &[Point], p: Point, q: Point) -> (Vec<Point>, Vec<Point>) {
    let side = |r: Point| (q.x - p.x) * (r.y - p.y) - (q.y - p.y) * (r.x - p.x);
    let keep = |sign: f64| {
        let mut part = Vec::new();
        for i in 0..piece.len() {
            let (a, b) = (piece[i], piece[(i + 1) % piece.len()]);
            let (da, db) = (side(a) * sign, side(b) * sign);
            if da >= 0.0 {
                part.push(a);
            }
            if da * db < 0.0 {
                part.push(lerp(a, b, da / (da - db)));
            }
        }
        part
    };
    (keep(1.0), keep(-1.0))
}

fn area(piece: &[Point]) -> f64 {
    Ring::new(piece.to_vec()).signed_area().abs()
}

fn jigsaw(seed: u64, length: f64, count: usize, square: bool) -> Vec<StripPiece> {
    let mut saw = Saw(Pcg64Mcg::seed_from_u64(seed));
    let cut = saw.pieces(length, count, square);
    let total: f64 = cut.iter().map(|p| area(p)).sum();
    assert!((total - WIDTH * length).abs() < 1e-6 * total, "the saw loses nothing");
    let piece = |p: Vec<Point>| StripPiece {
        region: Region::new(Ring::new(p), Vec::new()),
        count: 1,
        turns_deg: vec![0.0, 180.0],
    };
    cut.into_iter().map(piece).collect()
}

/// Within the strip, and no two pieces share more than a hair, by the booleans of another library.
fn checked(pieces: &[StripPiece], lay: &StripLay) {
    let polygons: Vec<MultiPolygon> = lay
        .spots
        .iter()
        .map(|(piece, _, pose)| {
            let region = pose.region(&pieces[*piece].region);
            let b = region.bounds();
            assert!(
                b.min.x >= -1e-6
                    && b.max.x <= WIDTH + 1e-6
                    && b.min.y >= -1e-6
                    && b.max.y <= lay.length + 1e-6
            );
            let line = region.outline.points.iter().copied().collect();
            MultiPolygon(vec![Polygon::new(line, vec![])])
        })
        .collect();
    assert_eq!(polygons.len(), pieces.len());
    for (i, p) in polygons.iter().enumerate() {
        for q in &polygons[i + 1..] {
            let shared = p.intersection(q).unsigned_area();
            assert!(shared < 1e-3, "{shared} mm² shared");
        }
    }
}

fn density(seed: u64, length: f64, count: usize, square: bool, thousands: u64) -> f64 {
    let pieces = jigsaw(seed, length, count, square);
    let budget = Budget { time: None, moves: Some(1000 * thousands) };
    let lay = lay_strip(&pieces, WIDTH, budget, 1, &|_, _| {}).expect("every piece fits the strip");
    checked(&pieces, &lay);
    length / lay.length
}

#[test]
fn a_few_rectangles_are_laid_without_waste() {
    for seed in 1..=4 {
        let d = density(seed, 300.0, 4, true, 4);
        println!("JIG {seed} {d}");
        assert!(d > 0.999, "seed {seed}: {d}");
    }
}

#[test]
fn a_jigsaw_of_rectangles_comes_near_its_perfect_lay() {
    for seed in 1..=3 {
        let d = density(seed, 500.0, 9, true, 12);
        println!("JIG {seed} {d}");
        assert!(d > 0.82, "seed {seed}: {d}");
    }
}

#[test]
fn a_jigsaw_of_slanting_pieces_comes_near_its_perfect_lay() {
    for seed in 1..=3 {
        let d = density(seed, 500.0, 12, false, 20);
        println!("JIG {seed} {d}");
        assert!(d > 0.82, "seed {seed}: {d}");
    }
}
