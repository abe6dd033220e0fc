//! Photographs of cloths whose thread count says whether a half turn leaves them the same, taken badly.

use serde_json::json;

use super::HalfTurn;
use crate::cloth::look::Look;
use crate::cloth::{Cloth, Photo, understand};
use crate::shape::pt;
use crate::write::png_of;

/// How a photograph is taken.
#[derive(Clone, Copy)]
struct Camera {
    /// Where its lower left corner lies, shares of the repeat.
    corner: [f64; 2],
    /// Pixels to the millimetre.
    px_per_mm: f64,
    /// Share of the light that is left at the darkest side.
    light: f64,
    /// Most that a value is off by, of 255.
    noise: f64,
    /// What it shows, in repeats.
    shows: f64,
    /// How far it is turned, degrees.
    turned_deg: f64,
}

const GOOD: Camera =
    Camera { corner: [0.0, 0.0], px_per_mm: 4.0, light: 1.0, noise: 0.0, shows: 1.0, turned_deg: 0.0 };
const BAD: Camera =
    Camera { corner: [0.37, 0.81], px_per_mm: 2.0, light: 0.8, noise: 12.0, shows: 1.008, turned_deg: 0.5 };

fn woven(count: &str, weave: &str) -> Cloth {
    let colours = json!({"A": "#8fb7d9", "E": "#7f8a92", "I": "#838a90"});
    let pattern = json!({"warp": count, "ends_per_cm": 12, "picks_per_cm": 11, "colours": colours});
    let spec = json!({"name": "check", "width_mm": 1500, "weave": weave, "pattern": pattern});
    understand(&serde_json::from_value(spec).unwrap(), "cloths[0]").unwrap().0
}

fn photographed(cloth: &Cloth, by: Camera) -> Photo {
    let lattice = cloth.pattern.as_ref().unwrap().lattice;
    let (a, b) = (lattice.a.unwrap_or(pt(60.0, 0.0)).x, lattice.b.unwrap_or(pt(0.0, 60.0)).y);
    let [w, h] = [a, b].map(|v| (v * by.px_per_mm).round() as u32);
    let look = Look::new(cloth, 1.0 / by.px_per_mm);
    let (sin, cos) = (libm::sin(by.turned_deg.to_radians()), libm::cos(by.turned_deg.to_radians()));
    let mut dice = 1u64;
    let mut rgba = Vec::new();
    for row in 0..h {
        for column in 0..w {
            let (u, v) =
                ((f64::from(column) + 0.5) / f64::from(w), 1.0 - (f64::from(row) + 0.5) / f64::from(h));
            let (x, y) = (u * a * by.shows, v * b * by.shows);
            let at = lattice.origin
                + pt(by.corner[0] * a + cos * x - sin * y, by.corner[1] * b + sin * x + cos * y);
            for c in look.colour(at) {
                dice = dice.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
                let noise = ((dice >> 40) as f64 / f64::from(1u32 << 24) * 2.0 - 1.0) * by.noise;
                rgba.push((f64::from(c) * (1.0 - (1.0 - by.light) * u) + noise).clamp(0.0, 255.0) as u8);
            }
            rgba.push(255);
        }
    }
    Photo::parse(&png_of(w, h, &rgba).unwrap(), [a, b], pt(0.0, 0.0)).unwrap()
}

/// Counts: Scottish Register of Tartans (Black Watch 277, Wallace 4482, Royal Stewart 3957), the rest ours.
#[test]
fn what_a_half_turn_leaves_the_same_looks_so_however_badly_it_is_photographed() {
    for count in [
        "DB/44 K4 DB4 K4 DB4 K32 G32 K4 G32 K32 DB32 K4 DB/4",
        "K/6 R48 K48 Y/6",
        "R/87 B8 K11 Y2 K3 W2 K3 G13 R11 K2 R5 W/3",
        "G/60 W4 G20 R/8",
        "N/6 G24 W4 G24 K/10",
        "Y6 B50 Y6 B20 W6 B20",
        "A/40 W8 A20 N/10",
    ] {
        for camera in [GOOD, BAD, Camera { light: 0.6, turned_deg: 1.0, ..BAD }] {
            assert_eq!(
                HalfTurn::of(&photographed(&woven(count, "twill-z"), camera)),
                HalfTurn::Same,
                "{count}"
            );
        }
    }
}

#[test]
fn what_a_half_turn_changes_is_seen_to_differ() {
    for count in [
        "K12 W24 R36 G72",
        "G60 W6 G16 R6",
        "B40 K4 G40 W4 R4",
        "G100 W2 G20 R4 G30",
        "R30 K6 G30 K6 R30 W4 G30",
        "K40 W10 K30 W4 K20 W20",
    ] {
        for camera in [GOOD, BAD] {
            let seen = HalfTurn::of(&photographed(&woven(count, "twill-z"), camera));
            assert!(matches!(seen, HalfTurn::Differs { .. }), "{count}: {seen:?}");
        }
    }
}

#[test]
fn a_picture_that_shows_too_little_says_nothing() {
    // A line of a hundredth of the repeat that has no counterpart is near what folds make.
    let thin = HalfTurn::of(&photographed(&woven("R30 K6 G30 K6 R30 W2 G30", "twill-z"), BAD));
    assert!(!matches!(thin, HalfTurn::Same), "{thin:?}");
    // Two greys that are hardly told apart, and a picture of a few pixels.
    assert_eq!(HalfTurn::of(&photographed(&woven("E30 I10 E4 I6", "plain"), GOOD)), HalfTurn::Faint);
    let coarse = Camera { px_per_mm: 0.2, ..GOOD };
    assert_eq!(HalfTurn::of(&photographed(&woven("K12 W24 R36 G72", "plain"), coarse)), HalfTurn::Faint);
}
