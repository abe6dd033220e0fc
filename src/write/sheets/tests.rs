use super::*;
use crate::job::Paper;
use crate::plan::{Pair, PlanBridge, PlanPiece};
use crate::write::pdf::read;
use crate::write::sample::{sample_cutter, sample_job, sample_plan};

const ALL: [SheetKind; 5] =
    [SheetKind::Job, SheetKind::Passes, SheetKind::Cards, SheetKind::Keys, SheetKind::Pieces];

fn made(job: &Job, plan: &Plan) -> Vec<u8> {
    let stems = crate::write::names::stems(plan);
    sheets(job, plan, &stems).unwrap().unwrap()
}

/// All words of all pages, spaces left out.
fn words(bytes: &[u8]) -> String {
    read(bytes).unwrap().words.concat()
}

fn bare(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace()).collect()
}

/// Width and height of the first page, mm, as its `MediaBox` has them.
fn page_mm(bytes: &[u8]) -> [f64; 2] {
    let text = String::from_utf8_lossy(bytes);
    let at = text.find("/MediaBox [").unwrap() + 11;
    let figures: Vec<f64> = text[at..]
        .split(']')
        .next()
        .unwrap()
        .split_whitespace()
        .map(|v| v.parse::<f64>().unwrap() * 25.4 / 72.0)
        .collect();
    [figures[2], figures[3]]
}

#[test]
fn the_same_plan_gives_the_same_bytes() {
    let mut job = sample_job();
    job.sheets.pages = ALL.to_vec();
    assert_eq!(made(&job, &sample_plan()), made(&job, &sample_plan()));
}

#[test]
fn pieces_in_full_size_come_only_when_asked_for_and_no_pages_are_no_file() {
    let (mut job, plan) = (sample_job(), sample_plan());
    let pages = |job: &Job| read(&made(job, &plan)).unwrap().pages;
    let few = pages(&job);
    assert!(!words(&made(&job, &plan)).contains("infullsize.Seen"));
    job.sheets.pages = ALL.to_vec();
    assert!(pages(&job) > few);
    job.sheets.pages = vec![];
    let stems = crate::write::names::stems(&plan);
    assert_eq!(sheets(&job, &plan, &stems).unwrap(), None);
}

/// ISO 216:2007: A4 is 210 × 297 mm, A3 297 × 420 mm. Letter: ANSI/ASME Y14.1, size A, 8.5 × 11 inches.
#[test]
fn papers_have_their_standard_sizes() {
    for (paper, size) in
        [(Paper::A4, [210.0, 297.0]), (Paper::A3, [297.0, 420.0]), (Paper::Letter, [8.5 * 25.4, 11.0 * 25.4])]
    {
        let mut job = sample_job();
        job.sheets.paper = paper;
        let got = page_mm(&made(&job, &sample_plan()));
        assert!(got.iter().zip(size).all(|(a, b)| (a - b).abs() < 0.01), "{paper:?}: {got:?}");
    }
}

#[test]
fn larger_paper_takes_fewer_pages_and_every_paper_has_a_true_test_square() {
    let pages = |paper: Paper| {
        let mut job = sample_job();
        job.sheets.paper = paper;
        job.sheets.pages = ALL.to_vec();
        let found = read(&made(&job, &sample_plan())).unwrap();
        let square = |b: &[f64; 2]| b.iter().all(|v| (v - 50.0).abs() < 0.001);
        assert!(found.boxes.iter().flatten().any(square), "{paper:?}");
        found.pages
    };
    assert!(pages(Paper::A3) < pages(Paper::A4));
    assert!(pages(Paper::Letter) > pages(Paper::A3));
}

#[test]
fn odd_names_are_told_apart_and_never_lost() {
    let (mut job, mut plan) = (sample_job(), sample_plan());
    job.sheets.pages = ALL.to_vec();
    let odd = ["水", "火", "Ünïcødé ﬁsh", "(((", "\\) Tj", "", "\u{202e}tsal", &"endless ".repeat(60)]
        .map(String::from);
    let first: Vec<String> = plan.pieces.iter().map(|p| p.id.clone()).collect();
    let renamed = |id: &str| {
        first.iter().position(|f| f == id).and_then(|i| odd.get(i)).cloned().unwrap_or(id.to_owned())
    };
    for piece in &mut plan.pieces {
        piece.id = renamed(&piece.id);
    }
    for pass in &mut plan.passes {
        pass.burns.iter_mut().for_each(|b| b.piece = renamed(&b.piece));
        pass.joints.iter_mut().for_each(|j| j.piece = renamed(&j.piece));
        pass.key.iter_mut().for_each(|k| k.piece = renamed(&k.piece));
    }
    plan.title = "\u{7}雪 and a title that will not end ".repeat(12);
    let words = words(&made(&job, &plan));
    assert!(words.contains("[U+6C34]") && words.contains("[U+706B]"));
    assert!(words.contains(&bare("(((")) && words.contains("\\)Tj"));
}

#[test]
fn a_plan_without_pieces_is_a_page_not_a_crash() {
    let (mut job, mut plan) = (sample_job(), sample_plan());
    job.sheets.pages = ALL.to_vec();
    plan.pieces.clear();
    plan.passes.clear();
    let found = read(&made(&job, &plan)).unwrap();
    assert_eq!(found.pages, 1);
    plan.cloths.clear();
    made(&job, &plan);
    let mut bare = sample_plan();
    bare.pieces.clear();
    for pass in &mut bare.passes {
        pass.burns.clear();
        pass.joints.clear();
        pass.key.clear();
        pass.marks.clear();
    }
    made(&job, &bare);
}

#[test]
fn places_no_paper_has_are_not_a_crash() {
    let (mut job, mut plan) = (sample_job(), sample_plan());
    job.sheets.pages = ALL.to_vec();
    let wild = |p: &mut PlanPiece, v: Pair| p.cut.outline[0] = v;
    wild(&mut plan.pieces[0], [f64::NAN, 1e300]);
    wild(&mut plan.pieces[1], [f64::INFINITY, 0.0]);
    plan.passes[0].bed_mm = [0.0, 0.0];
    plan.passes[1].cloth_to_bed = [0.0; 6];
    let stems = crate::write::names::stems(&plan);
    assert!(sheets(&job, &plan, &stems).is_ok());
}

#[test]
fn what_takes_too_much_paper_is_said_not_cut_off() {
    let (mut job, mut plan) = (sample_job(), sample_plan());
    job.sheets.pages = vec![SheetKind::Keys];
    let pass = &mut plan.passes[1];
    pass.bed_mm = [80_000.0, 80_000.0];
    pass.key[0].path = vec![[0.0, 0.0], [70_000.0, 0.0]];
    let words = words(&made(&job, &plan));
    assert!(words.contains("isnotdrawninfullsize") && words.contains("saltmarsh-pass-2-key.svg"), "{words}");
}

#[test]
fn a_pass_page_tells_bridges_verdicts_times_and_files() {
    let (mut job, mut plan) = (sample_job(), sample_plan());
    let said = words(&made(&job, &plan));
    assert!(said.contains("Testpowerandspeedonascrap") && said.contains("cutter.testedisempty"));
    assert!(said.contains("cut/saltmarsh-pass-2.svgor.dxf") && !said.contains(".gcode"));
    job.cutter = sample_cutter();
    let pass = &mut plan.passes[0];
    pass.verdict = "covered: every step hides".into();
    pass.time.handling_s = 245.0;
    let piece = pass.burns.last().unwrap().piece.clone();
    pass.bridges =
        vec![PlanBridge { piece, copy: 1, cloth: [100.0, 100.0], bed: [123.4, 234.5], width_mm: 0.65 }];
    let said = words(&made(&job, &plan));
    for part in [
        "covered: every step hides",
        "4 min 05 s",
        "with scissors",
        "123.4",
        "0.65",
        "cut/saltmarsh-pass-1.gcode",
        "saltmarsh-pass-1-rehearsal.gcode",
        "marks at power 8, 100 mm/s",
        "0.21, 0.40",
        "0.35, 0.70",
    ] {
        assert!(said.contains(&bare(part)), "{part}");
    }
}

#[test]
fn every_paper_of_a_key_says_which_face_of_the_cloth_lies_up() {
    let (mut job, mut plan) = (sample_job(), sample_plan());
    job.sheets.pages = vec![SheetKind::Keys];
    plan.passes[1].cloth_to_bed = [1.0, 0.0, 0.0, 1.0, 0.0, 0.0];
    let said = words(&made(&job, &plan));
    assert!(said.contains("clothfaceup") && !said.contains("clothfacedown"), "{said}");
    assert_eq!(said.matches("clothfaceup").count(), said.matches("circlesat").count());
    plan.passes[1].cloth_to_bed = [-1.0, 0.0, 0.0, 1.0, 900.0, 0.0];
    assert!(words(&made(&job, &plan)).contains("clothfacedown"));
}

#[test]
fn a_card_says_when_a_piece_is_turned_on_it_and_always_where_the_adhesive_goes() {
    let (mut job, mut plan) = (sample_job(), sample_plan());
    job.sheets.pages = vec![SheetKind::Cards];
    let piece = &mut plan.pieces[0];
    (piece.turn_deg, piece.shift) = (0.0, [0.0, 0.0]);
    piece.cut.outline = vec![[0.0, 0.0], [20.0, 0.0], [20.0, 500.0], [0.0, 500.0]];
    let said = words(&made(&job, &plan));
    assert!(said.contains("FACE,turned90"), "{said}");
    assert_eq!(said.matches("BACK,adhesive").count(), plan.pieces.len());
}

/// Whatever the number of joints and marks, no page of a pass holds but a few lines of a table.
#[test]
fn no_page_of_a_pass_is_left_with_a_line_or_two() {
    let (mut job, mut plan) = (sample_job(), sample_plan());
    job.sheets.pages = vec![SheetKind::Passes];
    plan.passes.truncate(1);
    let (joint, mark) = (plan.passes[0].joints[0].clone(), plan.passes[0].marks[0].clone());
    for joints in [0, 1, 3] {
        for marks in 2..9 {
            plan.passes[0].joints = vec![joint.clone(); joints];
            plan.passes[0].marks = vec![mark.clone(); marks];
            let pages = read(&made(&job, &plan)).unwrap().words;
            let least = pages.iter().map(|w| w.chars().count()).min().unwrap();
            assert!(least > 250, "{joints} joints, {marks} marks: {pages:?}");
        }
    }
}

#[test]
fn what_was_measured_and_what_is_cut_stands_on_the_page_of_its_pass() {
    let (mut job, mut plan) = (sample_job(), sample_plan());
    job.sheets.pages = vec![SheetKind::Passes];
    let said = words(&made(&job, &plan));
    assert!(said.contains("findagain") && !said.contains("correctedx"));
    for mark in plan.passes[1].marks.iter_mut().filter(|m| !m.burnt_here) {
        mark.measured = Some([312.4, 77.1]);
    }
    plan.passes[1].marks.iter_mut().find(|m| !m.burnt_here).unwrap().left_out = true;
    plan.passes[0].cut_on = Some("2026-05-01T14:03:00Z".into());
    let said = words(&made(&job, &plan));
    for part in ["312.4", "77.1", "correctedx", "IscutAsrecorded2026-05-01"] {
        assert!(said.contains(part), "{part}");
    }
    assert_eq!(said.matches("leftout").count(), 1);
    // The cloth lies already: no key is cut for it.
    assert!(said.contains("Leaveitasitlies") && !said.contains("Key:cutit"), "{said}");
    // Nothing is left to do in what is cut.
    assert!(!said.contains("findagain") && !said.contains("--pass1--clothsaltmarsh"));
}

#[test]
fn a_first_pass_of_a_check_lists_pivots_with_boxes_until_it_is_realigned() {
    let (mut job, mut plan) = (sample_job(), sample_plan());
    job.sheets.pages = vec![SheetKind::Passes];
    plan.passes.truncate(1);
    let asked = crate::plan::to_measure(&plan, 0);
    assert!(asked.len() == 4 && asked.iter().all(|p| p.pivot));
    let said = words(&made(&job, &plan));
    for p in &asked {
        let listed = format!("{}{:.1}{:.1}", p.name, p.bed[0], p.bed[1]);
        assert!(said.contains(&bare(&listed)), "{listed} in {said}");
    }
    assert!(said.contains("Pivotstomeasure") && said.contains("--pass1--marksmarks.csv"), "{said}");
    plan.notes
        .push(crate::say::Note::advice("saltmarsh, pass 1", "Realigned by pivot 0 0, pivot 1 1: moved."));
    let said = words(&made(&job, &plan));
    assert!(!said.contains("Pivotstomeasure") && said.contains("Leaveitasitlies"), "{said}");
}

#[test]
fn cards_and_list_go_by_the_order_of_sewing() {
    let (mut job, mut plan) = (sample_job(), sample_plan());
    job.sheets.pages = vec![SheetKind::Job, SheetKind::Cards];
    assert!(words(&made(&job, &plan)).contains("order1laiddownfirst"));
    let turn = |id: &str| crate::plan::PlanLaidDown {
        piece: id.into(),
        hooping: 1,
        upon: vec![],
        finished: 1,
        waits: 0,
    };
    let mut ids: Vec<&str> = plan.pieces.iter().map(|p| p.id.as_str()).collect();
    ids.dedup();
    let order: Vec<_> = ids.iter().rev().map(|id| turn(id)).collect();
    let count = order.len();
    let (first, last) = (order[0].piece.clone(), order[count - 1].piece.clone());
    plan.sewing = Some(crate::plan::PlanSewing { order, ..Default::default() });
    let said = words(&made(&job, &plan));
    assert!(said.contains("order1sewnfirst"), "{said}");
    let cards = &said[said.find("Intheorderofwork").unwrap()..];
    let at = |id: &str| cards.find(&bare(id)).unwrap();
    assert!(at(&first) < at(&last), "{cards}");
    assert!(cards[at(&first)..].split("order").nth(1).unwrap().starts_with(&format!("1of{count}")));
}
