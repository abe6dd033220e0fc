//! Whole passes: what comes out of `plan` is looked at afresh by `check`.

use proptest::prelude::*;

use super::*;
use crate::burn::{Burn, BurnKind, Contour, contours};
use crate::job::{Cutter, Face, Feed, Overhang};
use crate::shape::{Bounds, Point, Region, Ring, booleans, distance, pt};

pub(super) fn rect(x: f64, y: f64, w: f64, h: f64) -> Region {
    Region::rectangle(Bounds::new(pt(x, y), pt(x + w, y + h)))
}

/// A rounded shape with `waves` bulges.
fn blob(centre: Point, radius: f64, waves: u32, depth: f64) -> Region {
    let n = 90;
    let at = |i: u32| {
        let a = std::f64::consts::TAU * f64::from(i) / f64::from(n);
        let r = radius * (1.0 + depth * (f64::from(waves) * a).sin()) / (1.0 + depth);
        centre + pt(r * a.cos(), r * a.sin())
    };
    Region::new(Ring::new((0..n).map(at).collect()), Vec::new())
}

/// A wavy band along a straight line from `from` to `to`.
fn band(from: Point, to: Point, width: f64, swing: f64, waves: f64) -> Region {
    let len = distance(from, to);
    let (d, n) = ((to - from) / len, pt(-(to - from).y, (to - from).x) / len);
    let steps = (len / 10.0).ceil() as usize;
    let side = |off: f64| -> Vec<Point> {
        let at = |i: usize| {
            let t = i as f64 / steps as f64;
            from + d * (t * len) + n * (off + swing * (std::f64::consts::TAU * waves * t).sin())
        };
        (0..=steps).map(at).collect()
    };
    let mut points = side(-width / 2.0);
    points.extend(side(width / 2.0).into_iter().rev());
    Region::new(Ring::new(points), Vec::new())
}

pub(super) struct Case {
    pub cloth: Ring,
    pub cuts: Vec<Region>,
    pub contours: Vec<Contour>,
    pub cutter: Cutter,
}

impl Case {
    pub fn new(width: f64, length: f64, cuts: Vec<Region>, cutter: Cutter) -> Case {
        let contours = contours(&cuts, cutter.kerf_mm).contours;
        Case { cloth: rect(0.0, 0.0, width, length).outline, cuts, contours, cutter }
    }

    pub fn plan(&self) -> Result<Passes, PassTrouble> {
        plan(&Request {
            cloth_outline: &self.cloth,
            edge_mm: 0.0,
            flaws: &[],
            cuts: &self.cuts,
            contours: &self.contours,
            names: &[],
            cutter: &self.cutter,
        })
    }

    pub fn passes(&self) -> Vec<Pass> {
        let made = self.plan().unwrap().passes;
        assert_eq!(check(&made, &self.contours, &self.cutter), Vec::<String>::new());
        made
    }

    fn trouble(&self) -> String {
        match self.plan() {
            Err(PassTrouble::Cannot(t)) => t.to_string(),
            other => panic!("no trouble but {other:?}"),
        }
    }
}

pub(super) fn narrow(bed: [f64; 2], shared_band_mm: f64) -> Cutter {
    Cutter { bed_mm: bed, feed: Feed::AlongY, shared_band_mm, ..Cutter::default() }
}

#[test]
fn pieces_that_fit_on_the_bed_take_one_pass_without_marks() {
    let case = Case::new(
        500.0,
        400.0,
        vec![rect(50.0, 50.0, 100.0, 80.0), rect(200.0, 50.0, 90.0, 90.0)],
        narrow([900.0, 600.0], 80.0),
    );
    let passes = case.passes();
    assert_eq!(passes.len(), 1);
    assert!(passes[0].marks.is_empty() && passes[0].joints.is_empty() && passes[0].key.is_empty());
    assert_eq!(passes[0].window.min, pt(0.0, 0.0), "the cloth's corner lies at the margins");
}

#[test]
fn a_long_band_is_handed_on_twice_a_joint_pair_each_time() {
    let wave = band(pt(300.0, 50.0), pt(300.0, 2350.0), 120.0, 60.0, 3.0);
    let case = Case::new(600.0, 2400.0, vec![wave], Cutter { bed_mm: [900.0, 700.0], ..Cutter::default() });
    let passes = case.passes();
    assert_eq!(passes.len(), 3, "888 mm windows with 80 mm bands reach 2504 mm");
    assert_eq!(passes.iter().map(|p| p.joints.len()).collect::<Vec<_>>(), [2, 4, 2]);
    for pass in &passes[1..] {
        assert!(pass.marks.len() >= 3 && !pass.key.is_empty());
        assert!(pass.joints.iter().all(|j| j.expected_step_mm > 0.0 && j.expected_step_mm < 0.5));
    }
}

#[test]
fn a_piece_astride_the_border_of_two_windows_is_cut_whole() {
    let mut cuts = vec![band(pt(60.0, 20.0), pt(60.0, 1540.0), 40.0, 0.0, 1.0)];
    // Right over where evenly laid windows would meet.
    cuts.extend([
        rect(150.0, 700.0, 200.0, 250.0),
        rect(150.0, 960.0, 200.0, 200.0),
        rect(150.0, 450.0, 200.0, 240.0),
    ]);
    let case = Case::new(420.0, 1600.0, cuts, narrow([600.0, 900.0], 80.0));
    let passes = case.passes();
    assert_eq!(passes.len(), 2);
    for piece in 1..4 {
        let burns: Vec<&Burn> =
            passes.iter().flat_map(|p| &p.burns).filter(|b| b.placed == Some(piece)).collect();
        assert!(burns.len() == 1 && burns[0].closed);
    }
}

#[test]
fn a_cloth_larger_than_the_bed_both_ways_is_cut_in_a_grid_of_windows() {
    let frame = Region::new(
        rect(40.0, 40.0, 1300.0, 1500.0).outline,
        vec![rect(140.0, 140.0, 1100.0, 1300.0).outline],
    );
    let mut cuts = vec![frame];
    for i in 0..4 {
        for j in 0..5 {
            cuts.push(blob(pt(300.0 + 260.0 * f64::from(i), 300.0 + 250.0 * f64::from(j)), 95.0, 5, 0.2));
        }
    }
    let case = Case::new(1400.0, 1600.0, cuts, Cutter::default());
    let made = case.plan().unwrap();
    assert_eq!(check(&made.passes, &case.contours, &case.cutter), Vec::<String>::new());
    assert!(made.passes.len() <= 12, "{} passes", made.passes.len());
    // The scrap inside the frame is the last to come free: what lies in it is cut before or with it.
    let last = |piece: usize, ring: usize| {
        made.passes
            .iter()
            .filter(|p| p.burns.iter().any(|b| (b.placed, b.ring) == (Some(piece), ring)))
            .map(|p| p.number)
            .max()
    };
    assert!((1..case.cuts.len()).all(|p| last(p, 0) <= last(0, 1)));
    assert!(last(0, 1) <= last(0, 0));
}

#[test]
fn joints_keep_away_from_corners_and_from_each_other() {
    // A toothed strip: only the flats between teeth are calm.
    let mut points = vec![pt(100.0, 20.0), pt(200.0, 20.0), pt(200.0, 1580.0), pt(100.0, 1580.0)];
    for k in (0..13).rev() {
        let y = 60.0 + 120.0 * f64::from(k);
        points.extend([pt(100.0, y + 20.0), pt(70.0, y), pt(100.0, y - 20.0)]);
    }
    let case = Case::new(
        300.0,
        1600.0,
        vec![Region::new(Ring::new(points.clone()), vec![])],
        narrow([600.0, 900.0], 80.0),
    );
    let passes = case.passes();
    assert_eq!(passes.len(), 2);
    for joint in &passes[0].joints {
        let corner = points.iter().map(|&p| distance(p, joint.at)).fold(f64::INFINITY, f64::min);
        assert!(corner > 20.0, "{joint:?}");
    }
    let [a, b] = &passes[0].joints[..] else { panic!("two joints") };
    assert!(distance(a.at, b.at) > 90.0);
}

#[test]
fn a_band_without_waste_asks_for_room_and_the_room_asked_for_is_enough() {
    let gap = 2.0;
    let full = |keep_clear: &[(Point, f64)]| -> Vec<Region> {
        // Room is made beside pieces, as a lay makes it: what falls out of the middle of one would take the mark with it.
        let room = |&(c, r): &(Point, f64)| rect(c.x - 100.0, c.y - r - 0.5, 100.5 + r, 2.0 * r + 1.0);
        let rooms: Vec<Region> = keep_clear.iter().map(room).collect();
        let strips = (0..5).map(|i| rect(2.0 + 100.0 * f64::from(i), 2.0, 100.0 - gap, 1396.0));
        strips.flat_map(|s| booleans::difference(&[s], &rooms)).collect()
    };
    let cutter = narrow([600.0, 900.0], 80.0);
    let packed = Case::new(504.0, 1400.0, full(&[]), cutter.clone());
    let Err(PassTrouble::NoRoomForMarks(no)) = packed.plan() else { panic!("there is no room") };
    assert!(no.spots.len() >= 2 && distance(no.spots[0].0, no.spots[1].0) > 300.0);
    assert!(no.spots.iter().all(|(p, r)| no.band.grown(-r / 2.0).contains(*p)));
    let eased = Case::new(504.0, 1400.0, full(&no.spots[..2]), cutter);
    assert_eq!(eased.passes().len(), 2);
}

#[test]
fn what_the_cutter_cannot_do_is_said_with_a_way_out() {
    let long = vec![rect(20.0, 20.0, 100.0, 1500.0)];
    let with = |change: &dyn Fn(&mut Cutter)| {
        let mut cutter = narrow([600.0, 900.0], 80.0);
        change(&mut cutter);
        Case::new(700.0, 1600.0, long.clone(), cutter)
    };
    let told = with(&|c| c.overhang = Overhang::None).trouble();
    assert!(told.contains("must not hang over") && told.contains("cutter.overhang"), "{told}");
    assert!(with(&|c| c.overhang = Overhang::Along).trouble().contains("700 mm wide"));
    assert!(with(&|c| c.shared_band_mm = 700.0).trouble().contains("shared_band_mm"));
    assert!(with(&|c| c.margin_mm = 290.0).trouble().contains("bed_mm"));
    assert!(with(&|c| c.margin_mm = f64::NAN).trouble().contains("bed_mm"));
    let narrow_cloth = Case::new(
        590.0,
        1600.0,
        long.clone(),
        Cutter { overhang: Overhang::Along, ..narrow([600.0, 900.0], 80.0) },
    );
    assert_eq!(narrow_cloth.passes().len(), 2);
}

#[test]
fn work_that_would_take_hundreds_of_passes_is_refused_before_any_is_planned() {
    let cuts =
        (0..4).map(|k| rect(100.0 + 2500.0 * f64::from(k), 6000.0 * f64::from(k), 60.0, 40.0)).collect();
    let told = Case::new(9000.0, 20_000.0, cuts, narrow([300.0, 300.0], 40.0)).trouble();
    assert!(told.contains("passes of a bed that reaches") && told.contains("at most 400"), "{told}");
}

#[test]
fn notes_say_what_hangs_where() {
    let case = Case::new(580.0, 1600.0, vec![rect(20.0, 20.0, 100.0, 1500.0)], narrow([600.0, 900.0], 80.0));
    let made = case.plan().unwrap();
    let of =
        |pass: &str| made.notes.iter().find(|n| n.about == pass).map(|n| n.text.clone()).unwrap_or_default();
    assert!(of("passes").contains("takes 2 passes"));
    assert!(
        of("pass 1").contains("mm on the far side") && !of("pass 1").contains("near side"),
        "{}",
        of("pass 1")
    );
    assert!(of("pass 2").contains("mm on the near side"), "{}", of("pass 2"));
}

#[test]
fn keys_lie_on_true_edges_of_what_is_cut() {
    let wave = band(pt(150.0, 50.0), pt(150.0, 1550.0), 120.0, 30.0, 3.0);
    let case = Case::new(
        400.0,
        1600.0,
        vec![wave.clone(), rect(260.0, 700.0, 100.0, 120.0)],
        narrow([600.0, 900.0], 80.0),
    );
    let passes = case.passes();
    let edges: Vec<(Point, Point)> = case.cuts.iter().flat_map(|c| c.outline.sides()).collect();
    assert!(!passes[1].key.is_empty());
    for line in &passes[1].key {
        for &p in &line.path {
            let off =
                edges.iter().map(|&(a, b)| crate::shape::to_side(p, a, b)).fold(f64::INFINITY, f64::min);
            // The cloth must go into the outlines: they stand off by the clearance.
            let clear = case.cutter.key_clearance_mm;
            assert!((off - clear).abs() < 0.02 && passes[1].window.grown(1e-6).contains(p), "{off}");
        }
    }
}

#[test]
fn the_check_finds_what_is_wrong() {
    let cuts =
        vec![band(pt(150.0, 50.0), pt(150.0, 1550.0), 120.0, 30.0, 3.0), rect(260.0, 100.0, 100.0, 120.0)];
    let case = Case::new(400.0, 1600.0, cuts, narrow([600.0, 900.0], 80.0));
    let good = case.passes();
    let told = |what: &str, change: &dyn Fn(&mut Vec<Pass>)| {
        let mut bad = good.clone();
        change(&mut bad);
        let wrong = check(&bad, &case.contours, &case.cutter);
        assert!(wrong.iter().any(|w| w.contains(what)), "{what}: {wrong:?}");
    };
    let piece = |p: &Pass, n: usize| p.burns.iter().position(|b| b.placed == Some(n)).unwrap();
    told("not cut once and whole", &|p| p[0].burns.retain(|b| b.placed != Some(1)));
    told("not cut once and whole", &|p| {
        let again = p[0].burns[piece(&p[0], 1)].clone();
        p[0].burns.push(again);
    });
    told("not cut once and whole", &|p| p[1].burns.retain(|b| b.placed != Some(0)));
    told("overlap by", &|p| {
        let k = piece(&p[1], 0);
        p[1].burns[k].path[0] = crate::shape::lerp(p[1].burns[k].path[0], p[1].burns[k].path[1], 0.5);
    });
    told("follows no contour", &|p| {
        let k = piece(&p[1], 0);
        p[1].burns[k].path[3].x += 0.01;
    });
    told("follows no contour", &|p| {
        let k = piece(&p[1], 0);
        p[1].burns[k].path.remove(5);
    });
    told("beyond the margins", &|p| p[0].cloth_to_bed.0[4] -= 150.0);
    told("mirrors wrongly", &|p| p[0].cloth_to_bed.0[0] = -1.0);
    told("is told by", &|p| p[0].joints[0].at.y += 0.1);
    told("joint ends told", &|p| p[0].joints.truncate(1));
    told("not burnt as a cross", &|p| p[0].marks[0].at.x += 1.0);
    told("was not burnt there before", &|p| p[1].marks[0].at.x += 1.0);
    told("shares no two marks", &|p| p[1].marks.truncate(1));
    told("belong to no mark", &|p| p[0].marks.truncate(1));
    told("has number", &|p| p[1].number = 3);
}

fn cases() -> impl Strategy<Value = Case> {
    let pieces = prop::collection::vec((0usize..7, 0usize..9, 20.0..62.0f64, 2u32..7, 0.0..0.4f64), 1..24);
    let bands =
        prop::collection::vec((0.0..1.0f64, 0.0..1.0f64, 20.0..60.0f64, 0.0..40.0f64, 0.5..4.0f64), 0..3);
    let bed = (330.0..1000.0f64, 330.0..1000.0f64, 40.0..110.0f64, 0.0..0.6f64, 0.5..6.0f64);
    (pieces, bands, bed, any::<bool>(), any::<bool>()).prop_map(|(pieces, bands, bed, down, along_x)| {
        let (width, length) = (7.0 * 160.0 + 40.0, 9.0 * 160.0 + 40.0);
        let mut cuts: Vec<Region> = Vec::new();
        for (a, b, w, swing, waves) in bands {
            let (low, high) = (80.0 + swing, width - 80.0 - swing);
            let (from, to) = (pt(low + a * (high - low), 60.0), pt(low + b * (high - low), length - 60.0));
            let new = band(from, to, w, swing, waves);
            if booleans::intersection(&cuts, std::slice::from_ref(&new)).is_empty() {
                cuts.push(new);
            }
        }
        for (i, j, r, waves, depth) in pieces {
            let new = blob(pt(100.0 + 160.0 * i as f64, 100.0 + 160.0 * j as f64), r, waves, depth);
            if booleans::intersection(&cuts, std::slice::from_ref(&new)).is_empty() {
                cuts.push(new);
            }
        }
        let cutter = Cutter {
            bed_mm: [bed.0, bed.1],
            shared_band_mm: bed.2,
            kerf_mm: bed.3,
            joint_overlap_mm: bed.4,
            cloth_face: if down { Face::Down } else { Face::Up },
            feed: if along_x { Feed::AlongX } else { Feed::AlongY },
            ..Cutter::default()
        };
        Case::new(width, length, cuts, cutter)
    })
}

impl std::fmt::Debug for Case {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let boxes: Vec<Bounds> = self.cuts.iter().map(Region::bounds).collect();
        write!(f, "{} pieces {boxes:?} on {:?}", self.cuts.len(), self.cutter)
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]
    #[test]
    fn whatever_is_laid_on_whatever_bed_is_cut_once_and_whole_where_it_fits(case in cases()) {
        let made = match case.plan() {
            Ok(made) => made,
            // Small beds may meet just where pieces lie; the room asked for must then be in what both reach.
            Err(PassTrouble::NoRoomForMarks(no)) => {
                prop_assert!(no.spots.len() >= 2);
                for (spot, radius) in no.spots {
                    prop_assert!(no.band.grown(-radius).grown(1e-6).contains(spot));
                }
                return Err(TestCaseError::reject("no room for marks"));
            }
            Err(trouble) => return Err(TestCaseError::fail(format!("{trouble:?}"))),
        };
        let wrong = check(&made.passes, &case.contours, &case.cutter);
        prop_assert!(wrong.is_empty(), "{wrong:?}");
        let [w, l] = case.cutter.bed_mm.map(|s| s - 2.0 * case.cutter.margin_mm);
        let (w, l) = if case.cutter.feed == Feed::AlongX { (l, w) } else { (w, l) };
        for (i, cut) in case.contours.iter().enumerate() {
            let b = cut.path.bounds();
            let mine = made.passes.iter().flat_map(|p| &p.burns).filter(|x| x.placed == Some(cut.placed)).count();
            if b.width() <= w && b.height() <= l {
                prop_assert_eq!(mine, 1, "piece {} fits and is handed over", i);
            }
        }
        for pass in &made.passes {
            for mark in &pass.marks {
                let far = |r: &Region| r.outline.sides().map(|(a, b)| crate::shape::to_side(mark.at, a, b)).fold(f64::INFINITY, f64::min);
                prop_assert!(case.cuts.iter().all(|c| !c.contains(mark.at) && far(c) >= marks::MARK_ROOM_MM));
            }
        }
        prop_assert!(made.passes.iter().flat_map(|p| &p.burns).all(|b| b.kind == BurnKind::Mark || b.placed.is_some()));
        let needed = |p: &Pass| made.passes.len() == 1 || !p.burns.is_empty();
        prop_assert!(made.passes.iter().all(needed), "a pass that does nothing");
        prop_assert_eq!(case.plan().unwrap(), made);
    }
}
