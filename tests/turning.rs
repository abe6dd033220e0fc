//! Pieces that may be turned by any angle, groups that slide over the repeat, and lays watched as they get better.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod lay_jobs;

use std::sync::Mutex;

use settlay::cloth::Cloth;
use settlay::drawing::Piece;
use settlay::job::{Grain, LaySpec, Match, PieceRule, Weave};
use settlay::lay::{self, Better, Lay, Live, Request};
use settlay::say::Quiet;
use settlay::shape::{Bounds, Lattice, Pose, Region, pt};

fn rule(grain: Grain, matching: Match, tolerance: f64) -> PieceRule {
    PieceRule { grain, grain_tolerance_deg: tolerance, ..lay_jobs::rule(matching) }
}

fn piece(id: &str, region: Region, matching: Match) -> Piece {
    lay_jobs::piece(id, region, 0, matching, "all")
}

/// A bar drawn leaning by `lean_deg`.
fn leaning(width: f64, height: f64, lean_deg: f64) -> Region {
    let bar = Region::rectangle(Bounds::new(pt(0.0, 0.0), pt(width, height)));
    Pose { turn_deg: lean_deg, shift: pt(300.0, 40.0) }.region(&bar)
}

fn cloth(width: f64, pattern: Option<Lattice>) -> Cloth {
    let weave = if pattern.is_some() { Weave::Plain } else { Weave::Felt };
    Cloth { weave, ..lay_jobs::cloth(width, None, pattern.map(|lattice| (lattice, false))) }
}

fn laid(pieces: &[Piece], rule: &PieceRule, cloth: &Cloth, effort: u32, live: Option<&dyn Live>) -> Lay {
    let spec = LaySpec { gap_mm: 3.0, effort: Some(effort), ..LaySpec::default() };
    let (rules, cloths) = (std::slice::from_ref(rule), std::slice::from_ref(cloth));
    let request =
        Request { pieces, rules, cloths, spec: &spec, kept_clear: &[], struck: None, keep: 1, live };
    lay::lay(&request, &Quiet).unwrap()
}

#[test]
fn a_bar_that_only_fits_upright_is_found_its_turn() {
    let pieces = [piece("bar", leaning(379.0, 60.0, 7.3), Match::Free)];
    let lay = laid(&pieces, &rule(Grain::Any, Match::Free, 0.0), &cloth(400.5, None), 2, None);
    let turn = lay.cloths[0].placed[0].pose.turn_deg;
    let off = (turn + 7.3).rem_euclid(90.0);
    assert!(off.min(90.0 - off) < 1.0, "turned by {turn}");
    assert!(lay.cloths[0].used_length_mm < 60.0 + 20.0 + 8.0);
}

/// Four bars of 90 × 60 mm, drawn leaning every which way, lie two and two with a gap of 3 mm on a strip that is
/// just wide enough: 60 + 3 + 60 mm of length when all are upright, more at any other turn.
#[test]
fn bars_that_lean_by_odd_angles_are_all_set_upright() {
    let bars: Vec<Piece> = [7.3, 31.4, 58.2, 112.9]
        .iter()
        .enumerate()
        .map(|(k, lean)| piece(&format!("bar-{k}"), leaning(90.0, 60.0, *lean), Match::Free))
        .collect();
    let lay = laid(&bars, &rule(Grain::Any, Match::Free, 0.0), &cloth(205.0, None), 30, None);
    let least = 60.0 + 3.0 + 60.0 + 20.0;
    let used = lay.cloths[0].used_length_mm;
    assert!(used >= least - 0.1 && used < least + 1.5, "{used}");
}

/// A wedge of 3° between two bars: a tolerance of 4° lets its long sides run along theirs, and only turns between
/// the whole degrees do so exactly.
#[test]
fn a_range_of_turns_is_used_between_its_degrees_and_never_left() {
    let lean = 2.6;
    let bars: Vec<Piece> =
        (0..3).map(|k| piece(&format!("bar-{k}"), leaning(100.0, 40.0, lean), Match::Free)).collect();
    let r = rule(Grain::Along, Match::Free, 4.0);
    let lay = laid(&bars, &r, &cloth(121.0, None), 12, None);
    for placed in &lay.cloths[0].placed {
        let off = placed.pose.turn_deg.rem_euclid(180.0);
        let off = off.min(180.0 - off);
        assert!(off <= 4.0 + 1e-9, "{off}");
    }
    let used = lay.cloths[0].used_length_mm;
    assert!(used < 3.0 * 40.0 + 2.0 * 3.0 + 20.0 + 3.0, "{used}");
}

/// A group may slide over the repeat: a lone piece then lies right at the near edge, whatever the repeat.
#[test]
fn a_group_slides_until_it_lies_at_the_edge() {
    let lattice = Lattice { a: Some(pt(170.0, 2.0)), b: Some(pt(0.0, 230.0)), origin: pt(31.0, 77.0) };
    let region = Region::rectangle(Bounds::new(pt(40.0, 25.0), pt(160.0, 95.0)));
    let pieces = [piece("wave", region, Match::Drawn)];
    let lay = laid(&pieces, &rule(Grain::Along, Match::Drawn, 0.0), &cloth(400.0, Some(lattice)), 4, None);
    let used = lay.cloths[0].used_length_mm;
    assert!(used < 70.0 + 20.0 + 0.5, "{used}");
}

#[derive(Default)]
struct Seen(Mutex<Vec<(usize, f64, f64, usize)>>);

impl Live for Seen {
    fn better(&self, b: &Better) {
        self.0.lock().unwrap().push((b.cloth, b.length_mm, b.efficiency, b.poses.len()));
    }
}

#[test]
fn whoever_looks_on_sees_ever_shorter_lays_of_all_pieces() {
    let bars: Vec<Piece> = (0..9)
        .map(|k| piece(&format!("bar-{k}"), leaning(40.0 + 7.0 * f64::from(k), 30.0, 0.0), Match::Free))
        .collect();
    let seen = Seen::default();
    let lay = laid(&bars, &rule(Grain::Along, Match::Free, 0.0), &cloth(260.0, None), 8, Some(&seen));
    let all = seen.0.into_inner().unwrap();
    assert!(!all.is_empty());
    assert!(all.iter().all(|s| s.0 == 0 && s.3 == 9 && s.2 > 0.0 && s.2 <= 1.0));
    assert!(all.windows(2).all(|w| w[1].1 < w[0].1));
    let last = all.last().unwrap().1;
    assert!((last + 10.0 - lay.cloths[0].used_length_mm).abs() < 1e-6);
}
