//! Faults of pieces, told as stories.

use super::drawn::*;
use super::*;
use crate::drawing::Piece;
use crate::job::Match;
use crate::shape::{Bounds, Region, pt};

fn piece(id: &str, cloth: usize, region: Region) -> Piece {
    Piece {
        id: id.to_string(),
        element: 0,
        rule: 0,
        cloth,
        count: 1,
        cut: region.clone(),
        anchor: region.bounds().centre(),
        drawn: region,
        matching: Match::Free,
        group: id.to_string(),
    }
}

fn sizes(width: f64, length: Option<f64>) -> Sizes {
    Sizes {
        cloths: vec![("linen".into(), Some(width), length), ("silk".into(), None, None)],
        window_mm: [588.0, 888.0],
        turns: vec![Turns::Only(vec![0.0, 180.0])],
    }
}

#[test]
fn overlapping_pieces_of_one_cloth_are_told_with_area_and_place() {
    let pieces = [
        piece("hill", 0, rectangle(0.0, 0.0, 100.0, 50.0)),
        piece("sky", 1, rectangle(0.0, 0.0, 100.0, 50.0)),
        piece("tree", 0, rectangle(80.0, 30.0, 40.0, 40.0)),
    ];
    let told = of_pieces(&pieces, &sizes(1400.0, None));
    assert_eq!(kinds(&told), [("tree", FaultKind::Overlap)]);
    assert!((told[0].size_mm - 20.0).abs() < 1e-6);
    assert!((told[0].at.x - 90.0).abs() < 1e-6 && (told[0].at.y - 40.0).abs() < 1e-6, "{:?}", told[0].at);
    assert!(told[0].text.contains("hill") && told[0].text.contains("4.0 cm²"), "{}", told[0].text);
}

#[test]
fn neighbours_that_share_an_edge_do_not_overlap() {
    // The second one's edge is flattened a little otherwise.
    let right = Region::new(
        crate::shape::Ring::from_pairs(&[
            [100.0, 0.0],
            [200.0, 0.0],
            [200.0, 50.0],
            [100.0, 50.0],
            [99.97, 25.0],
        ]),
        vec![],
    );
    let pieces = [piece("left", 0, rectangle(0.0, 0.0, 100.0, 50.0)), piece("right", 0, right)];
    assert_eq!(of_pieces(&pieces, &sizes(1400.0, None)), []);
}

#[test]
fn a_piece_wider_than_its_cloth_stops() {
    let wide = [piece("banner", 0, rectangle(0.0, 0.0, 1500.0, 400.0))];
    let told = of_pieces(&wide, &sizes(1400.0, None));
    assert_eq!(kinds(&told), [("banner", FaultKind::LargerThanCloth)]);
    assert_eq!((told[0].severity, told[0].size_mm), (Severity::Stops, 100.0));
    // Turned a quarter it fits.
    let mut either = sizes(1400.0, None);
    either.turns = vec![Turns::Only(vec![0.0, 90.0])];
    assert_eq!(kinds(&of_pieces(&wide, &either)), [("banner", FaultKind::LargerThanBed)]);
    assert_eq!(
        of_pieces(&[piece("banner", 1, rectangle(0.0, 0.0, 1500.0, 400.0))], &either)[0].kind,
        FaultKind::LargerThanBed
    );
}

#[test]
fn a_slanted_strip_that_any_turn_lays_straight_fits() {
    let strip = rectangle(0.0, 0.0, 1500.0, 20.0);
    let (c, s) = crate::shape::turn_cos_sin(33.3);
    let slanted = strip.map(|p| pt(c * p.x - s * p.y, s * p.x + c * p.y));
    let mut any = sizes(25.0, Some(1501.0));
    any.turns = vec![Turns::Any];
    assert_eq!(of_pieces(&[piece("strip", 0, slanted.clone())], &any)[0].kind, FaultKind::LargerThanBed);
    any.cloths[0].2 = Some(1499.0);
    assert_eq!(of_pieces(&[piece("strip", 0, slanted)], &any)[0].kind, FaultKind::LargerThanCloth);
}

#[test]
fn a_piece_larger_than_the_bed_is_cut_in_passes_and_nothing_to_mend() {
    let told = of_pieces(&[piece("wave", 0, rectangle(0.0, 0.0, 500.0, 900.0))], &sizes(1400.0, None));
    assert_eq!(kinds(&told), [("wave", FaultKind::LargerThanBed)]);
    assert_eq!(told[0].severity, Severity::Note);
}

#[test]
fn shapes_no_rule_picks_are_told() {
    let d = drawing(vec![
        filled("a", &[&[[0.0, 0.0], [9.0, 0.0], [9.0, 9.0]]]),
        filled("b", &[&[[20.0, 0.0], [29.0, 0.0], [29.0, 9.0]]]),
    ]);
    let told = unpicked(&d, &[piece("a", 0, Region::rectangle(Bounds::new(pt(0.0, 0.0), pt(9.0, 9.0))))]);
    assert_eq!(kinds(&told), [("b", FaultKind::Unpicked)]);
}
