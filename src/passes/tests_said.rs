//! What passes say of their joints, feed and marks.

use super::tests::{Case, narrow, rect};
use super::*;
use crate::job::{Cutter, Feed};
use crate::shape::Point;

#[test]
fn a_feed_that_costs_a_pass_is_told() {
    let cutter = |feed| Cutter { bed_mm: [900.0, 600.0], feed, ..Cutter::default() };
    let told = |feed| {
        let case = Case::new(860.0, 560.0, vec![rect(20.0, 20.0, 820.0, 100.0)], cutter(feed));
        let made = case.plan().unwrap();
        let advice = made.notes.iter().find(|n| n.text.contains("cutter.feed")).map(|n| n.text.clone());
        (made.passes.len(), advice)
    };
    let (count, advice) = told(Feed::AlongX);
    assert_eq!(
        (count, advice.as_deref()),
        (2, Some("cutter.feed \"along-y\" would take 1 pass in place of 2."))
    );
    assert_eq!(told(Feed::AlongY), (1, None));
}

#[test]
fn joints_are_judged_against_the_border() {
    let strip = vec![rect(20.0, 20.0, 100.0, 1500.0)];
    let with = |border_mm: f64| {
        Case::new(580.0, 1600.0, strip.clone(), Cutter { border_mm, ..narrow([600.0, 900.0], 80.0) }).passes()
    };
    for (border, word) in [(6.0, Verdict::Covered), (0.0, Verdict::WillShow)] {
        let passes = with(border);
        for joint in passes.iter().flat_map(|p| &p.joints) {
            assert!(joint.step_95_mm > joint.expected_step_mm && joint.expected_step_mm > 0.0, "{joint:?}");
            assert!(joint.key_step_mm.is_some_and(|[step, most]| most > step && step > 0.0), "{joint:?}");
            assert_eq!(joint.verdict, word);
        }
        let cutter = Cutter { border_mm: border, ..Cutter::default() };
        assert!(verdict_of(&passes[1], &cutter).starts_with(word.word()));
    }
}

#[test]
fn no_mark_lies_on_the_frayed_strip_along_the_cloths_edge() {
    let case = Case::new(580.0, 1600.0, vec![rect(40.0, 40.0, 100.0, 1500.0)], narrow([600.0, 900.0], 80.0));
    let made = plan(&Request {
        cloth_outline: &case.cloth,
        edge_mm: 30.0,
        flaws: &[],
        cuts: &case.cuts,
        contours: &case.contours,
        names: &[],
        cutter: &case.cutter,
    });
    let marks: Vec<Point> = made.unwrap().passes.iter().flat_map(|p| &p.marks).map(|m| m.at).collect();
    let usable = case.cloth.bounds().grown(-30.0 - marks::MARK_ROOM_MM);
    assert!(marks.len() >= 4 && marks.iter().all(|&m| usable.contains(m)), "{marks:?}");
}
