//! A plan made up by hand for tests of writers: two cloths, pieces of many shapes, passes, joints, a key.

use std::f64::consts::TAU;

use crate::cloth::{Cloth, Pattern};
use crate::job::{Job, Match, Weave};
use crate::plan::*;
use crate::shape::{Affine, Join, Lattice, Point, Pose, Region, Ring, distance, offset, pt, turn_cos_sin};

const BED: Pair = [900.0, 600.0];
const MARGIN: f64 = 6.0;
const ALLOWANCE: f64 = 1.5;
const SPLIT: f64 = 542.0;

/// The job the sample plan answers.
pub(crate) fn sample_job() -> Job {
    serde_json::from_value(serde_json::json!({
        "settlay": 1, "title": "Reed-bed hanging", "drawing": "reed-bed.svg",
        "cloths": [
            {"name": "saltmarsh", "width_mm": 870, "edge_mm": 12, "price_per_m": 52, "weight_g_per_m2": 340},
            {"name": "stubble", "outline_mm": [[0, 0], [600, 30], [560, 340], [20, 300]], "edge_mm": 8, "nap": true}
        ],
        "pieces": [
            {"select": {"layer": "wave"}, "cloth": "saltmarsh", "match": "drawn", "allowance_mm": ALLOWANCE},
            {"select": {"layer": "sun"}, "cloth": "stubble", "allowance_mm": ALLOWANCE}
        ],
        "cutter": {"bed_mm": BED, "margin_mm": MARGIN, "feed": "along-y"}
    }))
    .unwrap()
}

/// A cutter for the sample plan that takes G-code.
pub(crate) fn sample_cutter() -> crate::job::Cutter {
    serde_json::from_value(serde_json::json!({
        "bed_mm": BED, "margin_mm": MARGIN, "feed": "along-y",
        "gcode": {"power_range": [0, 100], "header": ["(ready)", "G54"], "footer": ["M2"]},
        "tested": [{"kind": "mark", "power": 8, "mm_per_s": 100}, {"power": 60, "mm_per_s": 25.5}]
    }))
    .unwrap()
}

/// The cloths of the sample plan.
pub(crate) fn sample_cloths() -> Vec<Cloth> {
    let thread = |n: usize, c: [u8; 3]| std::iter::repeat_n(c, n);
    let (navy, green, cream, rust) = ([34, 48, 79], [74, 106, 84], [231, 223, 200], [164, 86, 52]);
    let half: Vec<[u8; 3]> = thread(12, navy).chain(thread(40, green)).chain(thread(6, cream)).collect();
    let rest: Vec<[u8; 3]> = thread(36, green).chain(thread(14, rust)).collect();
    // 216 threads.
    let count: Vec<[u8; 3]> =
        half.iter().chain(&rest).chain(rest.iter().rev()).chain(half.iter().rev()).copied().collect();
    let checked = Cloth {
        name: "saltmarsh".into(),
        stock: None,
        weave: Weave::TwillZ,
        nap: false,
        outline: Ring::from_pairs(&[
            [0.0, 0.0],
            [870.0, 0.0],
            [870.0, Cloth::OPEN_LENGTH_MM],
            [0.0, Cloth::OPEN_LENGTH_MM],
        ]),
        open_length: true,
        edge_mm: 12.0,
        flaws: vec![flaw()],
        pattern: Some(Pattern {
            lattice: lattice(),
            half_turn: true,
            pivots_known: true,
            mirrors_across: true,
            mirrors_along: true,
            warp_threads: count.clone(),
            weft_threads: count,
            threads_start: [0.0, 0.0],
            thread_mm: [0.5, 118.0 / 216.0],
        }),
        match_tolerance_mm: 0.0,
        photo: None,
        colour: [120, 130, 110],
    };
    let plain = Cloth {
        name: "stubble".into(),
        stock: None,
        weave: Weave::Plain,
        nap: true,
        outline: offcut(),
        open_length: false,
        edge_mm: 8.0,
        flaws: vec![],
        pattern: None,
        match_tolerance_mm: 0.0,
        photo: None,
        colour: [196, 160, 74],
    };
    vec![checked, plain]
}

fn lattice() -> Lattice {
    Lattice { a: Some(pt(108.0, 1.6)), b: Some(pt(0.0, 118.0)), origin: pt(30.0, 24.0) }
}

fn flaw() -> Ring {
    Ring::from_pairs(&[[610.0, 770.0], [640.0, 760.0], [655.0, 790.0], [622.0, 806.0]])
}

fn offcut() -> Ring {
    Ring::from_pairs(&[[0.0, 0.0], [600.0, 30.0], [560.0, 340.0], [20.0, 300.0]])
}

/// The sample plan.
pub(crate) fn sample_plan() -> Plan {
    let mut pieces = Vec::new();
    for i in 0..3 {
        let x = 50.0 + 105.0 * f64::from(i);
        pieces.push(piece(&format!("wave-{}", i + 1), "saltmarsh", wave(x), vec![], 0.0));
    }
    pieces.push(piece("heron", "saltmarsh", blob(pt(530.0, 290.0), 130.0, 240.0, 5.0), vec![], 180.0));
    let ring_hole = blob(pt(760.0, 140.0), 45.0, 45.0, 0.0);
    pieces.push(piece(
        "moon ring",
        "saltmarsh",
        blob(pt(760.0, 140.0), 84.0, 84.0, 0.0),
        vec![ring_hole],
        0.0,
    ));
    pieces.push(piece("bud", "saltmarsh", blob(pt(760.0, 140.0), 30.0, 30.0, 3.0), vec![], 0.0));
    for i in 0..8 {
        let (column, row) = (i % 4, i / 4);
        let at = pt(430.0 + 115.0 * f64::from(column), 680.0 + 240.0 * f64::from(row));
        let lean = 9.0 * f64::from(column) - 14.0;
        pieces.push(piece(
            &format!("leaf-{}", i + 1),
            "saltmarsh",
            leaf(at, 44.0, 96.0, lean),
            vec![],
            180.0 * f64::from(row),
        ));
    }
    for i in 0..5 {
        let at = pt(700.0 + 34.0 * f64::from(i), 300.0 + 40.0 * f64::from(i % 2));
        pieces.push(piece("seed", "saltmarsh", leaf(at, 9.0, 15.0, 30.0 * f64::from(i)), vec![], 0.0));
        pieces.last_mut().unwrap().copy = i as u32 + 1;
    }
    pieces.push(piece("sun", "stubble", blob(pt(150.0, 160.0), 100.0, 100.0, 9.0), vec![], 0.0));
    pieces.push(piece("reed mace", "stubble", leaf(pt(330.0, 170.0), 26.0, 120.0, -8.0), vec![], 0.0));
    pieces.push(piece("reed stalk", "stubble", leaf(pt(430.0, 180.0), 9.0, 125.0, 12.0), vec![], 0.0));
    for (i, p) in pieces.iter_mut().enumerate() {
        p.order = i;
    }
    let area = |name: &str| -> f64 {
        pieces.iter().filter(|p| p.cloth == name).map(|p| region(&p.cut).area()).sum()
    };
    let used = 1070.0;
    let box_of = |w: f64, h: f64| vec![[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]];
    let (first, second) = (area("saltmarsh"), area("stubble"));
    let offcut_area = Region::new(offcut(), vec![]).area();
    let l = lattice();
    let pair = |p: Point| [p.x, p.y];
    let cloths = vec![
        PlanCloth {
            name: "saltmarsh".into(),
            outline: box_of(870.0, used),
            flaws: vec![flaw().to_pairs()],
            edge_mm: 12.0,
            gap_mm: 3.0,
            open_length: true,
            pattern: Some(PlanPattern {
                a: l.a.map(pair),
                b: l.b.map(pair),
                origin: pair(l.origin),
                half_turn: true,
            }),
            used_length_mm: used,
            pieces_area_mm2: first,
            used_area_mm2: 870.0 * used,
            efficiency: first / (870.0 * used),
            least_length_mm: 0.0,
            proved_shortest: false,
            largest_rectangle_mm: None,
            offcuts: vec![PlanOffcut {
                outline: vec![[680.0, 380.0], [850.0, 380.0], [850.0, 560.0], [680.0, 540.0]],
                cutouts: vec![],
                flaws: Vec::new(),
                area_mm2: 28_900.0,
            }],
            buy_length_mm: 1100.0,
            buying: None,
            cost: Some(57.2),
            waste_g: Some(148.0),
            cut_from: None,
            described: None,
            photographed: false,
        },
        PlanCloth {
            name: "stubble".into(),
            outline: offcut().to_pairs(),
            flaws: vec![],
            edge_mm: 8.0,
            gap_mm: 3.0,
            open_length: false,
            pattern: None,
            used_length_mm: 340.0,
            pieces_area_mm2: second,
            used_area_mm2: offcut_area,
            efficiency: second / offcut_area,
            least_length_mm: 0.0,
            proved_shortest: false,
            largest_rectangle_mm: None,
            offcuts: vec![],
            buy_length_mm: 340.0,
            buying: None,
            cost: None,
            waste_g: None,
            cut_from: None,
            described: None,
            photographed: false,
        },
    ];
    let upright = |dy: f64| Affine([1.0, 0.0, 0.0, 1.0, 15.0, dy]);
    let mirrored = Affine([-1.0, 0.0, 0.0, 1.0, 700.0, 20.0]);
    let first =
        pass("saltmarsh", 1, [-9.0, -6.0, 879.0, 582.0], upright(12.0), &pieces, |y| y <= SPLIT + 1.0);
    let second =
        pass("saltmarsh", 2, [-9.0, 502.0, 879.0, 1090.0], upright(-496.0), &pieces, |y| y >= SPLIT - 1.0);
    let third = pass("stubble", 1, [0.0, 0.0, 600.0, 340.0], mirrored, &pieces, |_| true);
    Plan {
        settlay_plan: 1,
        title: "Reed-bed hanging".into(),
        units: "mm".into(),
        program: crate::PROGRAM.into(),
        seed: 1,
        page_mm: [900.0, 1100.0],
        cutter: sample_job().cutter,
        sheets: Default::default(),
        cloths,
        pieces,
        passes: vec![first, second, third],
        run_across: vec![],
        sewing: None,
        notes: vec![
            Note::caution(
                "piece wave-2",
                "The joint at the edge of the bed lies 4 mm from a corner; look at it before sewing.",
            ),
            Note::advice(
                "cloth saltmarsh",
                "Measure the repeat over ten repeats before cutting: 1 % off is 1 mm a repeat.",
            ),
        ],
    }
}

fn region(r: &PlanRegion) -> Region {
    Region::new(Ring::from_pairs(&r.outline), r.cutouts.iter().map(|c| Ring::from_pairs(c)).collect())
}

fn plan_region(r: &Region) -> PlanRegion {
    PlanRegion { outline: r.outline.to_pairs(), cutouts: r.cutouts.iter().map(Ring::to_pairs).collect() }
}

/// A piece whose drawn edge lies at `outline` on the cloth, turned half way round when asked.
fn piece(id: &str, cloth: &str, outline: Ring, cutouts: Vec<Ring>, turn_deg: f64) -> PlanPiece {
    let on_cloth = Region::new(outline, cutouts);
    let pose = Pose { turn_deg, shift: pt(440.0, 540.0) };
    let back = pose.affine().inverse().unwrap();
    let drawn = on_cloth.map(|p| back.apply(p));
    let cut = offset(&[on_cloth], ALLOWANCE, Join::Round).remove(0);
    let anchor = drawn.bounds().centre();
    PlanPiece {
        id: id.into(),
        copy: 1,
        rule: usize::from(cloth != "saltmarsh"),
        cloth: cloth.into(),
        matching: if cloth == "saltmarsh" { Match::Drawn } else { Match::Free },
        group: "wave".into(),
        group_shift: (cloth == "saltmarsh").then_some([12.0, 8.0]),
        anchor: [anchor.x, anchor.y],
        allowance_mm: ALLOWANCE,
        underlap_mm: 0.0,
        turn_deg,
        shift: [440.0, 540.0],
        grain_deg: 0.0,
        order: 0,
        drawn: plan_region(&drawn),
        cut: plan_region(&cut),
        slender: vec![],
    }
}

fn pass(
    cloth: &str,
    number: usize,
    window: [f64; 4],
    map: Affine,
    pieces: &[PlanPiece],
    reach: impl Fn(f64) -> bool,
) -> PlanPass {
    let bed = |p: Point| {
        let q = map.apply(p);
        [q.x, q.y]
    };
    let mut p = PlanPass {
        cloth: cloth.into(),
        number,
        bed_mm: BED,
        margin_mm: MARGIN,
        window,
        cloth_to_bed: map.0,
        burns: vec![],
        marks: vec![],
        joints: vec![],
        verdict: String::new(),
        key: vec![],
        cut_length_mm: 0.0,
        travel_length_mm: 2100.0,
        plain_travel_mm: 3500.0,
        bridges: vec![],
        seconds: 612.0,
        time: Default::default(),
        cut_on: None,
    };
    let burn = |kind: &str, piece: &PlanPiece, ring: usize, closed: bool, path: &[Point]| PlanBurn {
        kind: kind.into(),
        piece: piece.id.clone(),
        copy: piece.copy,
        ring,
        closed,
        lead_in: None,
        path: path.iter().map(|&q| bed(q)).collect(),
    };
    let mut middle_marks = Vec::new();
    if cloth == "saltmarsh" {
        middle_marks = vec![
            ("A", pt(345.0, 540.0)),
            ("B", pt(835.0, 566.0)),
            ("C", pt(400.0, 558.0)),
            ("D", pt(600.0, 560.0)),
        ];
    }
    for (name, at) in middle_marks {
        p.marks.push(PlanMark {
            name: name.into(),
            cloth: [at.x, at.y],
            bed: bed(at),
            measured: None,
            left_out: false,
            burnt_here: number == 1,
        });
        for (dx, dy) in [(5.0, 0.0), (0.0, 5.0)].into_iter().filter(|_| number == 1) {
            let path = vec![bed(at - pt(dx, dy)), bed(at + pt(dx, dy))];
            p.burns.push(PlanBurn {
                kind: "mark".into(),
                piece: name.into(),
                copy: 1,
                ring: 0,
                closed: false,
                lead_in: None,
                path,
            });
        }
    }
    for piece in pieces.iter().filter(|q| q.cloth == cloth) {
        let whole = region(&piece.cut);
        for (ring, line) in whole.rings().enumerate().collect::<Vec<_>>().into_iter().rev() {
            let kind = if ring == 0 { "outline" } else { "cutout" };
            if line.points.iter().all(|q| reach(q.y)) {
                p.burns.push(burn(kind, piece, ring, true, &line.points));
            } else if let Some(start) = line.points.iter().position(|q| !reach(q.y)) {
                let mut around = line.points.clone();
                around.rotate_left(start);
                for run in around.split(|q| !reach(q.y)).filter(|run| run.len() > 1) {
                    p.burns.push(burn(kind, piece, ring, false, run));
                    for &end in [run.first(), run.last()].into_iter().flatten() {
                        p.joints.push(PlanJoint {
                            piece: piece.id.clone(),
                            copy: 1,
                            ring,
                            cloth: [end.x, end.y],
                            overlap_mm: 2.0,
                            expected_step_mm: 0.21,
                            step_95_mm: 0.4,
                            key_step_mm: Some([0.35, 0.7]),
                            verdict: "covered".into(),
                        });
                    }
                }
                if number == 2 {
                    let cut: Vec<Pair> = line
                        .points
                        .iter()
                        .filter(|q| (470.0..SPLIT).contains(&q.y) && q.x < line.bounds().centre().x)
                        .map(|&q| bed(q))
                        .collect();
                    if cut.len() > 1 {
                        p.key.push(PlanKeyLine { path: cut, closed: false, piece: piece.id.clone() });
                    }
                }
            }
        }
    }
    p.cut_length_mm = p
        .burns
        .iter()
        .map(|b| b.path.windows(2).map(|w| distance(pt(w[0][0], w[0][1]), pt(w[1][0], w[1][1]))).sum::<f64>())
        .sum();
    p
}

/// A round shape with `lobes` soft lobes.
fn blob(at: Point, rx: f64, ry: f64, lobes: f64) -> Ring {
    round(96, |t| at + pt(rx * libm::cos(t), ry * libm::sin(t)) * (1.0 + 0.12 * libm::sin(lobes * t)))
}

/// A pointed leaf.
fn leaf(at: Point, rx: f64, ry: f64, lean_deg: f64) -> Ring {
    let (c, s) = turn_cos_sin(lean_deg);
    round(64, |t| {
        let (x, y) = (rx * libm::sin(t) * libm::sin(t).abs().max(0.2), ry * libm::cos(t));
        at + pt(c * x - s * y, s * x + c * y)
    })
}

fn wave(x: f64) -> Ring {
    let (low, high, n) = (40.0, 1030.0, 120);
    let centre = |i: i32| x + 22.0 * libm::sin(f64::from(i) * TAU / f64::from(n) * 1.6);
    let y = |i: i32| low + (high - low) * f64::from(i) / f64::from(n);
    let wide = |i: i32| 6.0 + 24.0 * libm::sin(f64::from(i) * TAU / f64::from(n) / 2.0).max(0.0);
    let right = (0..=n).map(|i| pt(centre(i) + wide(i), y(i)));
    let left = (0..=n).rev().map(|i| pt(centre(i) - wide(i), y(i)));
    Ring::new(right.chain(left).collect())
}

fn round(n: u32, f: impl Fn(f64) -> Point) -> Ring {
    Ring::new((0..n).map(|i| f(f64::from(i) * TAU / f64::from(n))).collect())
}
