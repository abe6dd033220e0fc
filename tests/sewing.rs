//! Underlap and sewing on whole jobs, the files they write included.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::Path;

use geo::{Area, BooleanOps, LineString, MultiPolygon, Polygon};
use settlay::plan::{self, Plan, PlanRegion, Run};
use settlay::say::Quiet;

fn planned(name: &str) -> Run {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("examples/{name}/{name}.job.json"));
    let mut prepared = plan::prepare(&path, &Quiet).unwrap();
    prepared.job.lay.effort = Some(1);
    plan::run(prepared, &Quiet).unwrap()
}

fn polygon(r: &PlanRegion) -> MultiPolygon<f64> {
    let line = |p: &Vec<[f64; 2]>| LineString::from(p.iter().map(|q| (q[0], q[1])).collect::<Vec<_>>());
    MultiPolygon(vec![Polygon::new(line(&r.outline), r.cutouts.iter().map(line).collect())])
}

/// Length of edge of every piece: what its placement lines have to add up to.
fn edge(r: &PlanRegion) -> f64 {
    let round = |p: &Vec<[f64; 2]>| -> f64 {
        (0..p.len())
            .map(|i| (p[i][0] - p[(i + 1) % p.len()][0]).hypot(p[i][1] - p[(i + 1) % p.len()][1]))
            .sum()
    };
    round(&r.outline) + r.cutouts.iter().map(round).sum::<f64>()
}

fn sewn_length(plan: &Plan, piece: &str) -> f64 {
    let all = plan.sewing.as_ref().unwrap().hoopings.iter().flat_map(|h| &h.pieces);
    all.filter(|p| p.piece == piece)
        .flat_map(|p| &p.placement)
        .map(|l| {
            let n = l.path.len();
            let sides = if l.closed { n } else { n - 1 };
            (0..sides)
                .map(|i| (l.path[i][0] - l.path[(i + 1) % n][0]).hypot(l.path[i][1] - l.path[(i + 1) % n][1]))
                .sum::<f64>()
        })
        .sum()
}

/// Turned back into the drawing, all that a cut piece has beyond its allowance lies beneath pieces drawn above it.
#[test]
fn underlap_of_a_braid_lies_hidden_at_every_crossing() {
    let run = planned("braid");
    let plan = &run.plan;
    assert!(plan.pieces.iter().filter(|p| p.underlap_mm == 4.0).count() >= 4);
    for piece in &plan.pieces {
        let turn = piece.turn_deg.to_radians();
        let back = |p: &[f64; 2]| {
            let (x, y) = (p[0] - piece.shift[0], p[1] - piece.shift[1]);
            [turn.cos() * x + turn.sin() * y, -turn.sin() * x + turn.cos() * y]
        };
        let cut = PlanRegion {
            outline: piece.cut.outline.iter().map(back).collect(),
            cutouts: piece.cut.cutouts.iter().map(|c| c.iter().map(back).collect()).collect(),
        };
        let drawn = &run.prepared.pieces.iter().find(|p| p.id == piece.id).unwrap().drawn;
        let grown = settlay::shape::offset(
            std::slice::from_ref(drawn),
            piece.allowance_mm + 0.02,
            settlay::shape::Join::Round,
        );
        let mut extra = polygon(&cut).difference(&MultiPolygon(grown.iter().map(|r| r.to_geo()).collect()));
        let had = extra.unsigned_area();
        for above in plan.pieces.iter().filter(|p| p.order > piece.order) {
            extra = extra.difference(&polygon(&above.drawn));
        }
        assert!(extra.unsigned_area() < 0.1, "{}: {} mm² show", piece.id, extra.unsigned_area());
        assert_eq!(had > 1.0, piece.underlap_mm > 0.0, "{}: {had} mm²", piece.id);
    }
}

#[test]
fn every_edge_of_every_example_is_placed_once_and_within_a_field() {
    for (name, spread) in [("braid", 0), ("stole", 2), ("offcut", 0)] {
        let run = planned(name);
        let sewing = run.plan.sewing.as_ref().unwrap();
        let mut parted = 0;
        for piece in &run.plan.pieces {
            let (sewn, want) = (sewn_length(&run.plan, &piece.id), edge(&piece.drawn));
            let own: Vec<_> =
                sewing.hoopings.iter().flat_map(|h| &h.pieces).filter(|p| p.piece == piece.id).collect();
            if own.iter().all(|p| p.whole) {
                assert_eq!(own.len(), 1, "{name}, {}", piece.id);
                assert!((sewn - want).abs() < 0.01, "{name}, {}: {sewn} of {want}", piece.id);
            } else {
                parted += 1;
                // Stretches run on into their neighbours.
                assert!(sewn > want && sewn < want * 1.1, "{name}, {}: {sewn} of {want}", piece.id);
            }
        }
        assert!(parted >= spread, "{name}: {parted}");
        for hooping in &sewing.hoopings {
            let [x0, y0, x1, y1] = hooping.field;
            let size = [x1 - x0, y1 - y0];
            assert!(
                (size[0] - sewing.field_mm[0]).abs() < 1e-3 && (size[1] - sewing.field_mm[1]).abs() < 1e-3
            );
            let b = sewing.border_mm / 2.0 - 0.01;
            let lines = hooping.pieces.iter().flat_map(|p| p.placement.iter().chain(&p.border));
            for p in lines.flat_map(|l| &l.path) {
                assert!(
                    p[0] >= x0 + b && p[0] <= x1 - b && p[1] >= y0 + b && p[1] <= y1 - b,
                    "{name}: {p:?}"
                );
            }
        }
        // Nothing goes down before what it lies upon.
        for (k, laid) in sewing.order.iter().enumerate() {
            let before: Vec<&str> = sewing.order[..k].iter().map(|o| o.piece.as_str()).collect();
            assert!(laid.upon.iter().all(|u| before.contains(&u.as_str())), "{name}, {}", laid.piece);
        }
    }
}

#[test]
fn sewing_files_are_in_full_size_and_go_with_the_plan() {
    let run = planned("braid");
    let place = tempfile::tempdir().unwrap();
    let out = place.path().join("out");
    settlay::write::all(&run.prepared.job, &run.plan, &run.prepared.cloths, &out).unwrap();
    let sewing = run.plan.sewing.as_ref().unwrap();
    for hooping in &sewing.hoopings {
        let svg =
            std::fs::read_to_string(out.join(format!("sewing/hooping-{}.svg", hooping.number))).unwrap();
        let read = usvg::roxmltree::Document::parse(&svg).unwrap();
        let root = read.root_element();
        let [w, h] = sewing.field_mm;
        assert_eq!(root.attribute("width").unwrap(), format!("{w}mm"));
        assert_eq!(root.attribute("viewBox").unwrap(), format!("0 0 {w} {h}"));
        let layer = |id: &str| root.children().find(|n| n.attribute("id") == Some(id)).unwrap();
        let paths = layer("placement").children().filter(|n| n.has_tag_name("path")).count();
        assert_eq!(paths, hooping.pieces.iter().map(|p| p.placement.len()).sum::<usize>());
        let pdf = std::fs::read(out.join(format!("sewing/hooping-{}.pdf", hooping.number))).unwrap();
        assert!(pdf.starts_with(b"%PDF-"));
    }
    // A plan without a frame has none, and the old ones go.
    let mut bare = run.plan.clone();
    bare.sewing = None;
    settlay::write::all(&run.prepared.job, &bare, &run.prepared.cloths, &out).unwrap();
    assert!(!out.join("sewing/hooping-1.svg").exists());
}

/// What a maker counts on: few hoopings and how few it could be, no piece begun before what lies beneath it, marks to
/// find every place again, and tails that do not wait for half the work. Four pieces of the demo in five are spread over
/// several fields.
#[test]
fn the_demo_takes_at_most_fifteen_in_a_hundred_more_hoopings_than_it_must() {
    let run = planned("reed-bed");
    let sewing = run.plan.sewing.as_ref().unwrap();
    let (found, least) = (sewing.hoopings.len(), sewing.at_least_hoopings);
    assert!(least >= 21 && found >= least, "{found} of {least}");
    assert!(found as f64 <= 1.15 * least as f64, "{found} hoopings, at least {least}");
    let place = |piece: &str| sewing.order.iter().position(|o| o.piece == piece).unwrap();
    for (k, laid) in sewing.order.iter().enumerate() {
        for below in &laid.upon {
            assert!(place(below) < k && sewing.order[place(below)].hooping <= laid.hooping, "{}", laid.piece);
        }
        let own: Vec<usize> = sewing
            .hoopings
            .iter()
            .filter(|h| h.pieces.iter().any(|p| p.piece == laid.piece))
            .map(|h| h.number)
            .collect();
        assert_eq!((laid.hooping, laid.finished), (own[0], own[own.len() - 1]), "{}", laid.piece);
        assert_eq!(laid.waits, laid.finished - laid.hooping);
    }
    assert_eq!(sewing.waits, sewing.order.iter().map(|o| o.waits).sum::<usize>());
    assert!(sewing.waits < 250, "{}", sewing.waits);
    for hooping in &sewing.hoopings[1..] {
        let found = hooping.marks.iter().filter(|m| !m.stitched_here).count();
        assert!(found >= 2, "hooping {}: {found} marks", hooping.number);
    }
    let told = run.plan.notes.iter().any(|n| n.about == "sewing" && n.text.contains("Loose tails wait"));
    assert!(told);
}
