//! Where windows, marks and joints come to lie when the cloth is put down by hand.

use super::tests::{Case, narrow, rect};
use super::*;
use crate::job::{Cutter, Overhang};
use crate::shape::{Bounds, distance, pt};

#[test]
fn later_passes_keep_clear_of_the_margins() {
    let cuts = vec![rect(20.0, 20.0, 100.0, 1500.0), rect(480.0, 1200.0, 90.0, 300.0)];
    let cutter = narrow([600.0, 900.0], 80.0);
    for (width, overhang, free) in [(700.0, Overhang::Both, true), (590.0, Overhang::Along, false)] {
        let case = Case::new(width, 1600.0, cuts.clone(), Cutter { overhang, ..cutter.clone() });
        let passes = case.passes();
        assert_eq!(passes.len(), 2);
        let burnt = Bounds::of(passes[1].burns.iter().flat_map(|b| &b.path).copied());
        let within = passes[1].window;
        assert!(
            within.max.y - burnt.max.y > 9.99 && burnt.min.y - within.min.y > 9.99,
            "{within:?} {burnt:?}"
        );
        if free {
            assert!(within.max.x - burnt.max.x > 9.99 && burnt.min.x - within.min.x > 9.99, "{within:?}");
        } else {
            assert_eq!(within.min.x, passes[0].window.min.x, "the cloth may not hang over there");
        }
    }
}

#[test]
fn a_pass_that_fills_the_bed_says_how_true_the_cloth_must_lie() {
    // Two bands as long as two windows with their band reach: 888 + 808 mm.
    let long = |x: f64| rect(x, 20.0, 40.0, 1695.5);
    let case = Case::new(560.0, 1740.0, vec![long(30.0), long(400.0)], narrow([600.0, 900.0], 80.0));
    let made = case.plan().unwrap();
    assert_eq!(made.passes.len(), 2);
    let told =
        made.notes.iter().find(|n| n.about == "pass 2" && n.text.contains("lay the cloth as true as that"));
    assert!(told.is_some(), "{:?}", made.notes);
}

#[test]
fn no_mark_lies_under_the_pegs_in_any_pass_that_uses_it() {
    for peg_strip_mm in [0.0, 12.0, 40.0] {
        let cutter = Cutter { peg_strip_mm, ..narrow([600.0, 900.0], 80.0) };
        let cuts = vec![rect(60.0, 40.0, 100.0, 1500.0)];
        let passes = Case::new(580.0, 1600.0, cuts, cutter.clone()).passes();
        let clear =
            Bounds::new(pt(0.0, 0.0), pt(600.0, 900.0)).grown(-peg_strip_mm - marks::MARK_ARM_MM + 1e-6);
        let bed = passes.iter().flat_map(|p| p.marks.iter().map(|m| p.cloth_to_bed.apply(m.at)));
        let bed: Vec<_> = bed.collect();
        assert!(bed.len() >= 4 && bed.iter().all(|&p| clear.contains(p)), "{peg_strip_mm}: {bed:?}");
    }
    let wide = Cutter { peg_strip_mm: 290.0, ..narrow([600.0, 900.0], 80.0) };
    let Err(PassTrouble::Cannot(no)) =
        Case::new(580.0, 1600.0, vec![rect(60.0, 40.0, 90.0, 1500.0)], wide).plan()
    else {
        panic!("pegs all over the bed")
    };
    assert!(no.to_string().contains("peg_strip_mm"), "{no}");
}

/// A wide plate whose long edges run through the band: joints there may lie anywhere in it. A border that hides little
/// draws them to where marks make the step smaller.
#[test]
fn joints_are_drawn_to_where_the_border_covers_the_step() {
    let plate = vec![rect(20.0, 20.0, 300.0, 1500.0)];
    let worst = |border_mm: f64, mark_error_mm: f64| {
        let cutter = Cutter { border_mm, mark_error_mm, ..narrow([600.0, 900.0], 200.0) };
        let passes = Case::new(580.0, 1600.0, plate.clone(), cutter).passes();
        let marks: Vec<_> = passes[1].marks.iter().map(|m| m.at).collect();
        let middle = marks.iter().fold(pt(0.0, 0.0), |s, &p| s + p) / marks.len() as f64;
        passes[1].joints.iter().map(|j| distance(j.at, middle)).fold(0.0, f64::max)
    };
    // The same marks, for the joints they are chosen for are the same; only the weight of the step differs.
    assert!(worst(1.5, 1.0) <= worst(100.0, 1.0) + 1e-9);
}
