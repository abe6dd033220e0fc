//! Whole lays through the public door: stopped on their way, at any moment.
#![allow(missing_docs, clippy::unwrap_used)]

mod lay_jobs;

use std::sync::atomic::{AtomicUsize, Ordering};

use lay_jobs::*;
use settlay::cloth::Cloth;
use settlay::drawing::Piece;
use settlay::job::{LaySpec, Match, PieceRule};
use settlay::lay::{self, Lay, Request};
use settlay::say::{Kind, Trouble, Watch};

/// Lets so many questions pass, then asks to stop; counts those that come after.
struct StopsAfter {
    asks: usize,
    asked: AtomicUsize,
}

impl StopsAfter {
    fn new(asks: usize) -> StopsAfter {
        StopsAfter { asks, asked: AtomicUsize::new(0) }
    }
}

impl Watch for StopsAfter {
    fn step(&self, _stage: &str, _share: f64, _now: &str) {}

    fn stopped(&self) -> bool {
        self.asked.fetch_add(1, Ordering::Relaxed) >= self.asks
    }
}

fn stopped_after(
    asks: usize,
    pieces: &[Piece],
    rules: &[PieceRule],
    cloths: &[Cloth],
) -> Result<Lay, Vec<Trouble>> {
    let spec = LaySpec { seconds: 3600.0, ..LaySpec::default() };
    let request =
        Request { pieces, rules, cloths, spec: &spec, kept_clear: &[], struck: None, keep: 1, live: None };
    lay::lay(&request, &StopsAfter::new(asks))
}

#[test]
fn a_search_stopped_at_any_question_keeps_a_whole_lay() {
    let mut leaf = piece("leaf", rect(0.0, 0.0, 80.0, 60.0), 0, Match::Free, "leaf");
    leaf.count = 40;
    let cloths = [cloth(500.0, None, None)];
    for asks in [0, 1, 5, 40, 200, 900] {
        let lay = stopped_after(asks, &[leaf.clone()], &[rule(Match::Free)], &cloths).unwrap();
        assert_eq!(lay.cloths[0].placed.len(), 40, "stopped at question {asks}");
    }
}

/// The first lay of thousands of pieces takes long: it is not waited for, and what is told is not that they do not fit.
#[test]
fn a_first_lay_that_is_stopped_says_so() {
    let leaves: Vec<Piece> = (0..4)
        .map(|k| {
            let shape = rect(0.0, 0.0, 14.0 + f64::from(k), 11.0);
            let one = piece(&format!("leaf-{k}"), shape, 0, Match::Free, "leaf");
            Piece { count: 1500, ..one }
        })
        .collect();
    for length in [None, Some(9000.0)] {
        let cloths = [cloth(700.0, length, None)];
        let troubles = stopped_after(3, &leaves, &[rule(Match::Free)], &cloths).unwrap_err();
        let all = told(&troubles);
        assert_eq!(
            (troubles.len(), troubles[0].kind, troubles[0].exit_code()),
            (1, Kind::Stopped, 130),
            "{all}"
        );
        assert!(all.contains("stopped before its 6000 pieces had a place"), "{all}");
    }
}

/// Two offcuts that each take four of nine pieces, whose areas alone would let them take more: full is said only of what was tried to the end.
#[test]
fn cloths_are_not_called_full_by_a_choice_that_was_stopped() {
    let scrap = |name: &str| Cloth {
        name: name.into(),
        stock: Some("fen".into()),
        ..cloth(130.0, Some(130.0), None)
    };
    let cloths = [scrap("a"), scrap("b")];
    let mut leaf = piece("leaf", rect(0.0, 0.0, 40.0, 40.0), 0, Match::Free, "leaf");
    leaf.count = 9;
    let rules = [PieceRule { cloth: "fen".into(), ..rule(Match::Free) }];
    let all = told(&lay_on(&[leaf.clone()], &rules, &cloths, &spec(1)).unwrap_err());
    assert!(all.contains("1 piece is left over once its 2 cloths are full"), "{all}");
    let all = told(&stopped_after(0, &[leaf], &rules, &cloths).unwrap_err());
    assert!(all.contains("ended early, since it was stopped") && !all.contains("full"), "{all}");
}
