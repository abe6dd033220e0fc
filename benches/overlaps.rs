//! The search's inner loop: how many overlap queries a second.
//!
//! `cargo bench --bench overlaps`. A query asks how deep two shapes overlap at one shift; shifts are spread so
//! that about half of them overlap, as in a search.
#![allow(missing_docs)]

use divan::counter::ItemsCount;
use settlay::lay::Form;
use settlay::shape::{Point, Region, Ring, pt, turn_cos_sin};

fn main() {
    divan::main();
}

/// A wavy star of `corners` corners, about 100 across.
fn star(corners: usize) -> Form {
    let at = |k: usize| {
        let (c, s) = turn_cos_sin(k as f64 * 360.0 / corners as f64);
        let r = 40.0 + 10.0 * turn_cos_sin(k as f64 * 360.0 / corners as f64 * 5.0).0;
        pt(r * c, r * s)
    };
    Form::new(&Region::new(Ring::new((0..corners).map(at).collect()), Vec::new()))
}

/// A wavy band of `corners` corners, 1000 × 60.
fn band(corners: usize) -> Form {
    let half = corners / 2;
    let edge = |k: usize, up: f64| {
        let x = k as f64 / half as f64;
        pt(1000.0 * x, up + 12.0 * turn_cos_sin(x * 1000.0).1)
    };
    let low = (0..half).map(|k| edge(k, 0.0));
    let high = (0..half).rev().map(|k| edge(k, 45.0));
    Form::new(&Region::new(Ring::new(low.chain(high).collect()), Vec::new()))
}

fn shifts(wide: f64, high: f64) -> Vec<Point> {
    (0..1000)
        .map(|k| pt((f64::from(k * 37 % 1000) / 500.0 - 1.0) * wide, (f64::from(k) / 500.0 - 1.0) * high))
        .collect()
}

#[divan::bench(args = [8, 32, 128, 1024])]
fn stars(bencher: divan::Bencher, corners: usize) {
    let (a, b, shifts) = (star(corners), star(corners + 3), shifts(90.0, 90.0));
    bencher
        .counter(ItemsCount::new(shifts.len()))
        .bench(|| shifts.iter().map(|s| a.depth(&b, *s)).sum::<f64>());
}

#[divan::bench(args = [64, 512, 8192])]
fn bands(bencher: divan::Bencher, corners: usize) {
    let (a, b, shifts) = (band(corners), band(corners + 2), shifts(900.0, 80.0));
    bencher
        .counter(ItemsCount::new(shifts.len()))
        .bench(|| shifts.iter().map(|s| a.depth(&b, *s)).sum::<f64>());
}
