//! Checks against things outside the program: other libraries, published rules, and the finished files as
//! another program reads them.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod machine;

use std::collections::BTreeMap;
use std::f64::consts::TAU;
use std::path::{Path, PathBuf};

use geo::algorithm::buffer::{Buffer, BufferStyle, LineJoin};
use geo::{Area, Distance, Euclidean, LineString, MultiPolygon, Polygon};
use geo_clipper::Clipper;
use proptest::prelude::*;
use serde_json::{Value, json};
use settlay::shape::{Join, Point, Region, Ring, booleans, offset, pt, tol};

// ---- Areas: two engines, written by different people on different number types, must agree.

/// A star round `centre` through `radii` (mm), with a star-shaped cut-out at a third of its least radius.
fn star(centre: Point, radii: &[f64], with_hole: bool) -> Region {
    let ring = |scale: &dyn Fn(f64) -> f64| {
        let n = radii.len() as f64;
        let at = |(k, r): (usize, &f64)| {
            let a = TAU * k as f64 / n;
            centre + pt(scale(*r) * libm::cos(a), scale(*r) * libm::sin(a))
        };
        Ring::new(radii.iter().enumerate().map(at).collect())
    };
    let least = radii.iter().copied().fold(f64::INFINITY, f64::min);
    let hole = ring(&|r| least / 3.0 * (0.6 + 0.4 * (r / 100.0)));
    Region::new(ring(&|r| r), if with_hole { vec![hole] } else { Vec::new() })
}

fn stars() -> impl Strategy<Value = Region> {
    (prop::collection::vec(12.0..100.0f64, 5..24), -60.0..60.0f64, -60.0..60.0f64, any::<bool>())
        .prop_map(|(radii, x, y, hole)| star(pt(x, y), &radii, hole))
}

fn area(regions: &[Region]) -> f64 {
    regions.iter().map(Region::area).sum()
}

/// How much all edges turn, radians: what arcs there can be at corners when the region is grown or shrunk.
fn turning(region: &Region) -> f64 {
    let of = |ring: &Ring| -> f64 {
        let p = &ring.points;
        let n = p.len();
        let turn = |k: usize| {
            let (u, v) = (p[(k + 1) % n] - p[k], p[(k + 2) % n] - p[(k + 1) % n]);
            libm::atan2(u.x * v.y - u.y * v.x, u.x * v.x + u.y * v.y).abs()
        };
        (0..n).map(turn).sum()
    };
    region.rings().map(of).sum()
}

/// Scale of coordinates for the integer engine: nanometres in a millimetre.
const PER_MM: f64 = 1.0e6;

/// Parts and pinholes below the sliver size are dropped by ours and kept by the other engine.
const SLIVERS_MM2: f64 = 8.0 * tol::SLIVER_MM2;

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    /// Growing and shrinking against `geo`'s own `Buffer` (another algorithm on another engine, i_overlay). Both
    /// draw arcs as chords: ours within 0.01 mm, the other's of 0.02 radians within d·(1 − cos 0.01).
    #[test]
    fn offsets_have_the_areas_another_library_finds(region in stars(), d in -6.0..9.0f64) {
        prop_assume!(d.abs() > 0.05);
        let ours = area(&offset(std::slice::from_ref(&region), d, Join::Round));
        let style = BufferStyle::new(d).line_join(LineJoin::Round(0.02));
        let theirs = region.to_geo().buffer_with_style(style).unsigned_area();
        let arcs = turning(&region) * d.abs() * 2.0 * tol::ARC_MM;
        prop_assert!((ours - theirs).abs() < arcs + SLIVERS_MM2, "{ours} by us, {theirs} by the other, d = {d}");
    }

    /// Steiner's formula for a convex body grown by d: area A + P·d + π·d² (Steiner 1840; Schneider, Convex
    /// Bodies, section 4.2), on random polygons inscribed in an ellipse.
    #[test]
    fn convex_offsets_follow_steiners_formula(
        mut angles in prop::collection::vec(0.0..TAU, 5..20), wide in 20.0..200.0f64, high in 20.0..200.0f64,
        d in 0.1..20.0f64,
    ) {
        angles.sort_by(f64::total_cmp);
        let at = |a: &f64| pt(wide * libm::cos(*a), high * libm::sin(*a));
        let body = Region::new(Ring::new(angles.iter().map(at).collect()), Vec::new());
        prop_assume!(body.area() > 50.0);
        let grown = offset(std::slice::from_ref(&body), d, Join::Round);
        let want = body.area() + body.edge_length() * d + std::f64::consts::PI * d * d;
        prop_assert_eq!(grown.len(), 1);
        prop_assert!((area(&grown) - want).abs() < TAU * d * tol::ARC_MM + 0.01, "{} and {want}", area(&grown));
    }

    /// Union, intersection and difference by `geo` (i_overlay) against the integer engine of `geo-clipper`.
    #[test]
    fn booleans_have_the_areas_another_library_finds(one in stars(), other in stars()) {
        let (p, q): (Polygon<f64>, Polygon<f64>) = (one.to_geo(), other.to_geo());
        let by_clipper = |m: MultiPolygon<f64>| m.unsigned_area();
        let pair = [one.clone(), other.clone()];
        for (what, ours, theirs) in [
            ("union", booleans::union(&pair), by_clipper(Clipper::union(&p, &q, PER_MM))),
            (
                "intersection",
                booleans::intersection(&pair[..1], &pair[1..]),
                by_clipper(Clipper::intersection(&p, &q, PER_MM)),
            ),
            ("difference", one.minus(&pair[1..]), by_clipper(Clipper::difference(&p, &q, PER_MM))),
        ] {
            let ours = area(&ours);
            prop_assert!((ours - theirs).abs() < SLIVERS_MM2, "{what}: {ours} by us, {theirs} by the other");
        }
    }
}

// ---- Whole runs of the program itself.

fn program() -> assert_cmd::Command {
    assert_cmd::Command::cargo_bin("settlay").unwrap()
}

/// A copy of an example whose lay is searched by counted moves in place of the clock, for a machine that takes G-code
/// and has its nought at `home`.
fn copy_of(example: &str, into: &Path, effort: u32, home: &str) -> PathBuf {
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(example);
    for file in std::fs::read_dir(from).unwrap().map(|f| f.unwrap().path()) {
        std::fs::copy(&file, into.join(file.file_name().unwrap())).unwrap();
    }
    let job = into.join(format!("{example}.job.json"));
    let mut text: Value = serde_json::from_slice(&std::fs::read(&job).unwrap()).unwrap();
    text["lay"]["effort"] = effort.into();
    text["cutter"]["home"] = home.into();
    text["cutter"]["gcode"] = json!({ "power_range": [0, 255], "units_word": "G71" });
    text["cutter"]["tested"] = json!([{ "power": 90, "mm_per_s": 25 }]);
    std::fs::write(&job, serde_json::to_vec(&text).unwrap()).unwrap();
    job
}

fn planned(job: &Path, out: &Path, threads: &str) -> Vec<u8> {
    program().env("RAYON_NUM_THREADS", threads).arg("plan").arg(job).arg("--out").arg(out).assert().success();
    std::fs::read(out.join("plan.json")).unwrap()
}

/// Two runs of the whole program, on one thread and on four: not a byte may differ.
fn planned_twice(example: &str, effort: u32, home: &str) {
    let here = tempfile::tempdir().unwrap();
    let job = copy_of(example, here.path(), effort, home);
    let (once, again) = std::thread::scope(|both| {
        let once = both.spawn(|| planned(&job, &here.path().join("once"), "1"));
        let again = planned(&job, &here.path().join("again"), "4");
        (once.join().unwrap(), again)
    });
    assert!(once == again, "{example}: two runs of the same job differ");
    for folder in ["once", "again"] {
        cut_files_match(&here.path().join(folder));
    }
    machine_code_matches(&here.path().join("once"), home);
}

#[test]
fn the_demo_planned_twice_is_the_same_to_the_byte() {
    planned_twice("reed-bed", 1, "near-left");
}

#[test]
fn the_stole_planned_twice_is_the_same_to_the_byte() {
    planned_twice("stole", 1, "near-right");
}

#[test]
fn cloth_with_a_nap_planned_twice_is_the_same_to_the_byte() {
    planned_twice("one-way", 1, "far-left");
}

#[test]
fn an_offcut_planned_twice_is_the_same_to_the_byte() {
    planned_twice("offcut", 1, "far-right");
}

#[test]
fn files_of_a_braid_and_of_scraps_are_what_was_planned() {
    for (example, home) in [("braid", "far-left"), ("scraps", "near-right")] {
        let here = tempfile::tempdir().unwrap();
        planned(&copy_of(example, here.path(), 1, home), &here.path().join("plan"), "2");
        cut_files_match(&here.path().join("plan"));
        machine_code_matches(&here.path().join("plan"), home);
    }
}

/// What stands for a cloth in names of files.
fn of_cloth(pass: &Value) -> String {
    let parts = pass["cloth"].as_str().unwrap().split(|c: char| !c.is_ascii_alphanumeric());
    parts.filter(|p| !p.is_empty()).collect::<Vec<_>>().join("-")
}

/// How far a line of a cut file may lie from the plan's, mm: 0.014 that lines and arcs may stray, and 0.00027 of an
/// arc's radius, as usvg reads arcs as cubics.
const READ_BACK_MM: f64 = 0.04;

/// Points looked at on a line.
const MOST_POINTS: usize = 300;

/// Every burn of the plan stands in its pass's cut file, both ways within a hair, as usvg (which knows nothing of how the
/// file was written) reads it; and nothing else does but lettering.
fn cut_files_match(out: &Path) {
    let plan: Value = serde_json::from_slice(&std::fs::read(out.join("plan.json")).unwrap()).unwrap();
    let mut passes = plan["passes"].as_array().unwrap().clone();
    let mut files = 0;
    let names = std::fs::read_dir(out.join("cut")).unwrap().map(|f| f.unwrap().path());
    for file in names.filter(|f| f.extension().is_some_and(|e| e == "svg")) {
        let stem = file.file_stem().unwrap().to_str().unwrap().to_owned();
        let Some((cloth, number)) = stem.split_once("-pass-") else { panic!("{stem}") };
        let Ok(number) = number.parse::<u64>() else { continue };
        let lines = svg_lines(&file);
        let of_file = |p: &Value| of_cloth(p) == cloth && p["number"] == number;
        let k = passes.iter().position(of_file).unwrap_or_else(|| panic!("no pass for {stem}"));
        let pass = passes.remove(k);
        let mut planned: BTreeMap<String, Vec<Vec<[f64; 2]>>> = BTreeMap::new();
        for burn in pass["burns"].as_array().unwrap() {
            let mut path: Vec<[f64; 2]> = serde_json::from_value(burn["path"].clone()).unwrap();
            if burn["closed"] == true {
                path.push(path[0]);
            }
            planned.entry(burn["kind"].as_str().unwrap().into()).or_default().push(path);
        }
        let high = pass["bed_mm"][1].as_f64().unwrap();
        for (kind, burns) in planned {
            let read = &lines[&kind];
            assert_eq!(read.len(), burns.len(), "{stem}: lines of kind {kind}");
            for (line, burn) in read.iter().zip(&burns) {
                let read: LineString = line.iter().map(|p| (p[0], high - p[1])).collect();
                let wanted: LineString = burn.iter().map(|q| (q[0], q[1])).collect();
                for (some, whole) in [(&read, &wanted), (&wanted, &read)] {
                    for p in some.points().step_by(some.0.len().div_ceil(MOST_POINTS)) {
                        let off = Euclidean.distance(&p, whole);
                        assert!(off < READ_BACK_MM, "{stem}: a line of kind {kind} reads {off} mm off");
                    }
                }
            }
        }
        files += 1;
    }
    assert!(files > 0 && passes.is_empty(), "a cut file for every pass");
}

/// What a machine makes of the G-code, in mm: 0.014 that lines and arcs may stray, and its last figures.
const MACHINE_MM: f64 = 0.03;

/// A machine that runs a pass's G-code burns every burn of the plan in its order, keeps to the bed, and takes the beam
/// along on no way between; the rehearsal walks round the same burns with the beam off.
fn machine_code_matches(out: &Path, home: &str) {
    let plan: Value = serde_json::from_slice(&std::fs::read(out.join("plan.json")).unwrap()).unwrap();
    for pass in plan["passes"].as_array().unwrap() {
        let stem = format!("cut/{}-pass-{}", of_cloth(pass), pass["number"]);
        let bed: [f64; 2] = serde_json::from_value(pass["bed_mm"].clone()).unwrap();
        let words = machine::Words { millimetres: 71.0, beam_on: "M3", beam_off: "M5" };
        let run = |ending: &str| {
            let text = std::fs::read_to_string(out.join(format!("{stem}{ending}"))).unwrap();
            machine::run(&text, bed, &words)
        };
        let from_home = |p: [f64; 2]| {
            let x = if home.ends_with("right") { bed[0] - p[0] } else { p[0] };
            (x, if home.starts_with("far") { bed[1] - p[1] } else { p[1] })
        };
        let ran = run(".gcode");
        let burns = pass["burns"].as_array().unwrap();
        assert_eq!(ran.burnt.len(), burns.len(), "{stem}");
        let mut all = Vec::new();
        for (line, burn) in ran.burnt.iter().zip(burns) {
            let mut path: Vec<[f64; 2]> = serde_json::from_value(burn["path"].clone()).unwrap();
            if burn["closed"] == true {
                path.push(path[0]);
            }
            let wanted: LineString = path.into_iter().map(from_home).collect();
            let read: LineString = line.iter().map(|p| (p[0], p[1])).collect();
            for (some, whole) in [(&read, &wanted), (&wanted, &read)] {
                for p in some.points().step_by(some.0.len().div_ceil(MOST_POINTS)) {
                    let off = Euclidean.distance(&p, whole);
                    assert!(off < MACHINE_MM, "{stem}: a burn of {} lies {off} mm off", burn["kind"]);
                }
            }
            all.extend(wanted.0);
        }
        let rehearsed = run("-rehearsal.gcode");
        assert!(rehearsed.burnt.is_empty(), "{stem}: the beam stays off in rehearsal");
        for k in 0..2 {
            let ends = |v: &mut dyn Iterator<Item = f64>| {
                v.fold((f64::INFINITY, f64::NEG_INFINITY), |e, x| (e.0.min(x), e.1.max(x)))
            };
            let (low, high) = ends(&mut all.iter().map(|c| if k == 0 { c.x } else { c.y }));
            // The last place is home.
            let (_, walked) = rehearsed.travelled.split_last().unwrap();
            let (from, to) = ends(&mut walked.iter().map(|p| p[k]));
            assert!(
                (from - low).abs() < 0.1 && (to - high).abs() < 0.1,
                "{stem}: {from} to {to}, {low} to {high}"
            );
        }
    }
}

/// The lines of an SVG file, mm, y down, by the id of the group they stand in. 96 units are an inch: CSS Values and
/// Units 3, section 5.2.
fn svg_lines(file: &Path) -> BTreeMap<String, Vec<Vec<[f64; 2]>>> {
    fn walk(group: &usvg::Group, id: &str, all: &mut BTreeMap<String, Vec<Vec<[f64; 2]>>>) {
        use usvg::tiny_skia_path::PathSegment::{Close, CubicTo, LineTo, MoveTo};
        let id = if group.id().is_empty() { id } else { group.id() };
        for node in group.children() {
            match node {
                usvg::Node::Group(inner) => walk(inner, id, all),
                usvg::Node::Path(path) => {
                    let path = path.data().clone().transform(path.abs_transform()).unwrap();
                    let lines = all.entry(id.to_owned()).or_default();
                    for segment in path.segments() {
                        match segment {
                            MoveTo(p) => lines.push(vec![mm(p)]),
                            LineTo(p) => lines.last_mut().unwrap().push(mm(p)),
                            Close => {
                                let line = lines.last_mut().unwrap();
                                line.push(line[0]);
                            }
                            // Arcs are read as cubics.
                            CubicTo(b, c, d) => {
                                let line = lines.last_mut().unwrap();
                                let (a, b, c, d) = (line[line.len() - 1], mm(b), mm(c), mm(d));
                                for k in 1..=64 {
                                    let t = f64::from(k) / 64.0;
                                    let u = 1.0 - t;
                                    let at = |i: usize| {
                                        u * u * u * a[i]
                                            + 3.0 * u * u * t * b[i]
                                            + 3.0 * u * t * t * c[i]
                                            + t * t * t * d[i]
                                    };
                                    line.push([at(0), at(1)]);
                                }
                            }
                            curve => panic!("a cut file holds lines and arcs only, not {curve:?}"),
                        }
                    }
                }
                other => panic!("a cut file holds paths only, not {}", other.id()),
            }
        }
    }
    fn mm(p: usvg::tiny_skia_path::Point) -> [f64; 2] {
        [p.x, p.y].map(|v| f64::from(v) * 25.4 / 96.0)
    }
    let tree = usvg::Tree::from_data(&std::fs::read(file).unwrap(), &usvg::Options::default()).unwrap();
    let mut all = BTreeMap::new();
    walk(tree.root(), "", &mut all);
    all
}
