use proptest::prelude::*;

use super::*;
use crate::drawing::{Picked, ReadOptions, parse, pieces};
use crate::job::Job;
use crate::shape::{Bounds, pt};

/// Pieces of an SVG body on a page of 100 × 100 mm; y in the body runs down.
fn picked(body: &str, allowance: f64, underlap: f64) -> Picked {
    let text = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"100mm\" height=\"100mm\" viewBox=\"0 0 100 100\">{body}</svg>"
    );
    let drawing = parse(text.as_bytes(), "weir.svg", &ReadOptions::default()).unwrap();
    let job: Job = serde_json::from_value(serde_json::json!({
        "settlay": 1, "drawing": "weir.svg", "cloths": [{"name": "reed"}, {"name": "silt"}],
        "pieces": [{"select": {"id": "patch*"}, "cloth": "reed", "allowance_mm": allowance},
                   {"select": {"id": "*"}, "cloth": "reed", "allowance_mm": allowance, "underlap_mm": underlap}]
    }))
    .unwrap();
    pieces(&job, &drawing).unwrap()
}

fn rect(x0: f64, y0: f64, x1: f64, y1: f64) -> Region {
    Region::rectangle(Bounds::new(pt(x0, y0), pt(x1, y1)))
}

fn area(regions: &[Region]) -> f64 {
    regions.iter().map(Region::area).sum()
}

/// Two rectangles edge to edge: the lower one reaches 4 mm further beneath the upper, and only there.
#[test]
fn an_edge_that_runs_along_a_piece_above_gets_its_underlap_and_no_other_edge_does() {
    let body = "<rect id='low' x='10' y='30' width='40' height='40'/><rect id='high' x='50' y='10' width='40' height='80'/>";
    let found = picked(body, 1.5, 4.0);
    let (low, high) = (&found.pieces[0], &found.pieces[1]);
    let b = low.cut.bounds();
    assert!((b.max.x - 55.5).abs() < 0.01, "allowance and underlap: {b:?}");
    assert!((b.min.x - 8.5).abs() < 0.01 && (b.height() - 51.0).abs() < 0.02, "{b:?}");
    // In the open nothing but the allowance.
    let open = intersection(std::slice::from_ref(&low.cut), &[rect(0.0, 0.0, 49.9, 100.0)]);
    let plain = offset(&[rect(10.0, 30.0, 50.0, 70.0)], 1.5, Join::Round);
    let plain = intersection(&plain, &[rect(0.0, 0.0, 49.9, 100.0)]);
    assert!((area(&open) - area(&plain)).abs() < 0.05);
    // The upper piece has nothing above it.
    assert!((high.cut.bounds().width() - 43.0).abs() < 0.01);
    assert!(found.notes.is_empty(), "{:?}", found.notes);
}

/// The upper band is 3 mm wide and the underlap 6: it stops short of the band's far edge.
#[test]
fn underlap_never_peeps_out_on_the_other_side_of_a_narrow_band() {
    let body = "<rect id='low' x='10' y='30' width='40' height='40'/><rect id='band' x='50' y='5' width='3' height='90'/>";
    let found = picked(body, 0.5, 6.0);
    let b = found.pieces[0].cut.bounds();
    assert!((b.max.x - (53.0 - tol::TUCKED_IN_MM)).abs() < 0.02, "{b:?}");
}

#[test]
fn a_gap_wider_than_the_drawing_is_exact_keeps_pieces_apart() {
    let body = "<rect id='low' x='10' y='30' width='40' height='40'/><rect id='high' x='52' y='10' width='30' height='80'/>";
    let found = picked(body, 1.5, 4.0);
    assert!((found.pieces[0].cut.bounds().max.x - 51.5).abs() < 0.01);
    assert!(found.notes.iter().any(|n| n.text.contains("is not used")), "{:?}", found.notes);
}

/// A band in two segments goes under another: each segment gets its extra at its own end, and the band that goes over
/// stays as drawn.
#[test]
fn overs_and_unders_of_segments_are_kept() {
    let body = "<rect id='left' x='5' y='45' width='40' height='10'/><rect id='right' x='55' y='45' width='40' height='10'/>\
                <rect id='over' x='45' y='5' width='10' height='90'/>";
    let found = picked(body, 1.0, 3.0);
    let x = |k: usize| (found.pieces[k].cut.bounds().min.x, found.pieces[k].cut.bounds().max.x);
    assert!((x(0).0 - 4.0).abs() < 0.01 && (x(0).1 - 49.0).abs() < 0.01, "{:?}", x(0));
    assert!((x(1).0 - 51.0).abs() < 0.01 && (x(1).1 - 96.0).abs() < 0.01, "{:?}", x(1));
    assert!((x(2).0 - 44.0).abs() < 0.01 && (x(2).1 - 56.0).abs() < 0.01, "{:?}", x(2));
}

/// Three bands, each over the next: the third over the first again, by a patch.
#[test]
fn overs_and_unders_in_a_circle_are_told() {
    let bands = "<rect id='a' x='5' y='20' width='90' height='10'/><rect id='b' x='20' y='5' width='10' height='90'/>";
    let flat = picked(bands, 1.0, 0.0);
    assert!(flat.notes.iter().all(|n| !n.text.contains("circle")));
    let circle = picked(&format!("{bands}<rect id='patch' x='15' y='20' width='20' height='10'/>"), 1.0, 0.0);
    let told = circle.notes.iter().find(|n| n.text.contains("circle")).unwrap();
    assert!(told.text.contains("patch is part of a, drawn again above b"), "{}", told.text);
    // A spot on a leaf of the same cloth, with something between, is no patch.
    let spot = "<rect id='a' x='5' y='5' width='90' height='90'/><rect id='b' x='30' y='30' width='30' height='30'/>\
                <rect id='patch' x='40' y='40' width='10' height='10'/>";
    assert!(picked(spot, 1.0, 0.0).notes.iter().all(|n| !n.text.contains("circle")));
}

#[test]
fn the_plan_names_the_underlap_of_pieces_that_have_one() {
    let body = "<rect id='low' x='10' y='30' width='40' height='40'/><rect id='high' x='50' y='10' width='40' height='80'/>";
    let found = picked(body, 1.5, 4.0);
    let rule: PieceRule = serde_json::from_value(serde_json::json!({
        "select": {"id": "*"}, "cloth": "reed", "allowance_mm": 1.5, "underlap_mm": 4.0
    }))
    .unwrap();
    assert_eq!(underlap_of(&found.pieces[0], &rule), 4.0);
    assert_eq!(underlap_of(&found.pieces[1], &rule), 0.0);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    /// Whatever the shapes: the extra lies beneath the piece above, or within the allowance.
    #[test]
    fn extra_cloth_is_always_hidden(
        x in 5.0..60.0f64, y in 5.0..60.0f64, w in 4.0..35.0f64, h in 4.0..35.0f64,
        lean in -20.0..20.0f64, underlap in 0.5..8.0f64, allowance in 0.0..2.0f64,
    ) {
        let body = format!(
            "<rect id='low' x='20' y='20' width='50' height='45'/>\
             <rect id='high' x='{x}' y='{y}' width='{w}' height='{h}' transform='rotate({lean} 50 50)'/>"
        );
        let found = picked(&body, allowance, underlap);
        let (low, high) = (&found.pieces[0], &found.pieces[1]);
        let plain = offset(std::slice::from_ref(&low.drawn), allowance + 0.02, Join::Round);
        let shows = low.cut.minus(&[plain, vec![high.drawn.clone()]].concat());
        prop_assert!(area(&shows) < 0.2, "{}", area(&shows));
        // Never less than the allowance.
        let lost = offset(std::slice::from_ref(&low.drawn), allowance, Join::Round);
        let lost: f64 = lost.iter().flat_map(|r| r.minus(std::slice::from_ref(&low.cut))).map(|r| r.area()).sum();
        prop_assert!(lost < 0.2, "{}", lost);
    }
}
