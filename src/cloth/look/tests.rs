//! Looks held against what the cloth is.

use proptest::prelude::*;
use serde_json::{Value, json};

use super::{Look, MOST_PIXELS, Tile, colour_at, tile};
use crate::cloth::{Cloth, understand};
use crate::shape::pt;

fn cloth(weave: &str, pattern: Value) -> Cloth {
    let spec =
        json!({"name": "c", "width_mm": 1500, "weave": weave, "colour": "#8a7f5c", "pattern": pattern});
    understand(&serde_json::from_value(spec).unwrap(), "cloths[0]").unwrap().0
}

fn check(weave: &str, count: &str) -> Cloth {
    cloth(
        weave,
        json!({"warp": count, "ends_per_cm": 10, "picks_per_cm": 8, "origin_mm": [13, 7], "skew_mm_per_m": 30}),
    )
}

/// Which colour a point is nearest to, when all are far apart.
fn letter(colour: [u8; 3]) -> char {
    match colour.map(|c| c > 110) {
        [true, false, false] => 'R',
        [true, true, true] => 'W',
        [false, false, false] => 'K',
        _ => '?',
    }
}

#[test]
fn every_thread_shows_where_it_lies_on_top() {
    let cloth = check("plain", "K/3 W2 R/1");
    // From the pivot, threads K K W W R W W K: the pivot lies in the middle of the first.
    let order = ['K', 'K', 'W', 'W', 'R', 'W', 'W', 'K'];
    for (i, warp) in order.iter().enumerate() {
        for (j, weft) in order.iter().enumerate() {
            let across = i as f64;
            let p = pt(13.0 + across, 7.0 + 0.03 * across + 1.25 * j as f64);
            let expected = if (i + j) % 2 == 0 { warp } else { weft };
            assert_eq!(letter(colour_at(&cloth, p)), *expected, "{i} {j}");
        }
    }
}

#[test]
fn a_half_turn_symmetrical_check_shows_the_same_stripes_turned() {
    let cloth = check("plain", "K/4 W3 R/2");
    let look = Look::new(&cloth, 3.0);
    let o = cloth.pattern.as_ref().unwrap().lattice.origin;
    for k in 0..60 {
        let v = pt(f64::from(k) * 0.71, f64::from(k) * 0.37);
        assert_eq!(look.colour(o + v), look.colour(o - v), "{v:?}");
    }
}

#[test]
fn the_twill_line_of_a_tile_rises_to_its_hand() {
    for (weave, sign) in [("twill-z", 1isize), ("twill-s", -1)] {
        let tile = tile(&cloth(weave, Value::Null), 8.0);
        let (w, h) = (tile.width_px as isize, tile.height_px as isize);
        let green = |x: isize, y: isize| {
            // Up on the cloth is up in the picture: rows are counted from the top.
            let row = (h - 1 - y).rem_euclid(h);
            f64::from(tile.rgba[4 * (row * w + x.rem_euclid(w)) as usize + 1])
        };
        let differ = |dx: isize, dy: isize| -> f64 {
            (0..w * h).map(|k| (green(k % w, k / w) - green(k % w + dx, k / w + dy)).abs()).sum()
        };
        // One thread is 4 pixels: one thread over and one up along the line changes least.
        assert!(differ(4 * sign, 4) < 0.5 * differ(-4 * sign, 4), "{weave}");
    }
}

fn mean(tile: &Tile) -> [f64; 3] {
    std::array::from_fn(|c| {
        let sum: f64 = tile.rgba.chunks(4).map(|p| super::yarns::decode([p[c]; 3])[0]).sum();
        sum / f64::from(tile.width_px * tile.height_px)
    })
}

#[test]
fn from_near_and_from_far_the_cloth_has_the_same_colour() {
    for weave in ["plain", "twill-z", "twill-s"] {
        let cloth = check(weave, "K/12 W6 R/10");
        let far = mean(&tile(&cloth, 0.3));
        for px_per_mm in [0.7, 1.1, 1.7, 2.3, 6.0, 13.0] {
            let near = mean(&tile(&cloth, px_per_mm));
            for c in 0..3 {
                assert!((near[c] / far[c] - 1.0).abs() < 0.08, "{weave} {px_per_mm}: {near:?} {far:?}");
            }
        }
    }
}

/// Threads of half a millimetre: at a pixel or less per thread no grid of light and dark is left to shimmer; at
/// several pixels a thread is seen.
#[test]
fn threads_too_fine_for_the_pixels_leave_an_even_colour() {
    for weave in ["plain", "twill-z", "twill-s"] {
        let cloth = cloth(weave, Value::Null);
        let spread = |pixel_mm: f64| {
            let look = Look::new(&cloth, pixel_mm);
            let shades: Vec<u8> = (0..900)
                .map(|k| look.colour(pt(f64::from(k % 30) * pixel_mm, f64::from(k / 30) * pixel_mm))[1])
                .collect();
            shades.iter().max().unwrap() - shades.iter().min().unwrap()
        };
        for pixel_mm in [0.37, 0.5, 0.61, 0.9, 1.3, 4.0] {
            assert!(spread(pixel_mm) <= 8, "{weave} {pixel_mm}: {}", spread(pixel_mm));
        }
        assert!(spread(0.05) > 30, "{weave}: {}", spread(0.05));
    }
}

#[test]
fn a_tile_is_what_the_look_shows() {
    let cloth = check("twill-z", "K/12 W6 R/10");
    let tile = tile(&cloth, 4.0);
    assert_eq!((tile.repeats, tile.size_mm), ([2, 2], [68.0, 85.0]));
    assert_eq!(tile.rgba.len(), 4 * tile.width_px as usize * tile.height_px as usize);
    let pixel = [tile.size_mm[0] / f64::from(tile.width_px), tile.size_mm[1] / f64::from(tile.height_px)];
    let look = Look::new(&cloth, pixel[0].max(pixel[1]));
    for (column, row) in [(0u32, 0u32), (17, 40), (200, 300), (tile.width_px - 1, tile.height_px - 1)] {
        let share = [
            (f64::from(column) + 0.5) / f64::from(tile.width_px),
            (f64::from(tile.height_px - 1 - row) + 0.5) / f64::from(tile.height_px),
        ];
        let p = pt(13.0, 7.0) + tile.sides[0] * share[0] + tile.sides[1] * share[1];
        let at = 4 * (row * tile.width_px + column) as usize;
        assert_eq!(tile.rgba[at..at + 3], look.colour(p), "{column} {row}");
    }
}

#[test]
fn a_measured_pattern_shows_its_pivots_on_a_plain_ground() {
    let cloth = cloth(
        "twill-z",
        json!({"repeat_across_mm": 40, "repeat_along_mm": 55, "symmetrical": true, "origin_mm": [3, 5]}),
    );
    let look = Look::new(&cloth, 0.5);
    let green = |x: f64, y: f64| look.colour(pt(x, y))[1];
    let ground = green(11.0, 17.0);
    for (x, y) in [(3.0, 17.0), (23.0, 17.0), (43.0, 17.0), (11.0, 5.0), (11.0, 32.5), (11.0, -50.0)] {
        assert!(green(x, y) + 30 < ground, "({x}, {y})");
    }
    assert!(green(13.0, 17.0).abs_diff(ground) < 8);
}

#[test]
fn huge_and_tiny_wishes_are_kept_in_bounds() {
    let cloth =
        cloth("twill-z", json!({"repeat_across_mm": 9000, "repeat_along_mm": 9000, "symmetrical": true}));
    for px_per_mm in [f64::NAN, f64::INFINITY, -1.0, 0.0, 1.0e9] {
        let tile = tile(&cloth, px_per_mm.min(0.02));
        assert!(tile.width_px >= 1 && tile.rgba.len() <= 4 * MOST_PIXELS);
    }
    let _ = colour_at(&cloth, pt(f64::NAN, f64::INFINITY));
    let _ = Look::new(&cloth, f64::NAN).colour(pt(1e300, -1e300));
}

proptest! {
    /// Laid side by side along its sides a tile covers the cloth without a seam.
    #[test]
    fn the_look_is_the_same_a_tile_farther(
        stripes in prop::collection::vec((prop::sample::select(vec!["K", "W", "R"]), 1u32..6), 1..5),
        weave in prop::sample::select(vec!["plain", "twill-z", "twill-s", "felt"]),
        x in 0.0f64..50.0, y in 0.0f64..50.0, i in -3i32..4, j in -3i32..4, pixel_mm in 0.0f64..2.0,
    ) {
        let words: Vec<String> = stripes.iter().map(|(c, n)| format!("{c}{n}")).collect();
        let count = format!("{} Y3", words.join(" "));
        let cloth = check(weave, &count);
        let tile = tile(&cloth, 0.9);
        let look = Look::new(&cloth, pixel_mm);
        let p = pt(x, y);
        let q = p + tile.sides[0] * f64::from(i) + tile.sides[1] * f64::from(j);
        let (one, other) = (look.colour(p), look.colour(q));
        // A point on the very border of two threads may fall to either.
        let near = |a: [u8; 3], b: [u8; 3]| (0..3).all(|c| a[c].abs_diff(b[c]) <= 1);
        let nudged = look.colour(q + pt(1e-7, 1e-7));
        prop_assert!(near(one, other) || near(one, nudged), "{:?} {:?}", one, other);
    }
}
