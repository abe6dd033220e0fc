use proptest::prelude::*;

use super::*;
use crate::drawing::{ReadOptions, parse};
use crate::job::Match;
use crate::say::Level;

fn drawing(body: &str) -> Drawing {
    let text = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"100mm\" height=\"100mm\" viewBox=\"0 0 100 100\">{body}</svg>"
    );
    parse(text.as_bytes(), "rose.svg", &ReadOptions::default()).unwrap()
}

fn job(rules: &str) -> Job {
    serde_json::from_str(&format!(
        r#"{{"settlay": 1, "drawing": "rose.svg", "cloths": [{{"name": "saltmarsh"}}, {{"name": "reed"}}], "pieces": [{rules}]}}"#
    ))
    .unwrap()
}

fn named(picked: &Picked) -> Vec<&str> {
    picked.pieces.iter().map(|p| p.id.as_str()).collect()
}

fn only_trouble(job: &Job, drawing: &Drawing) -> Trouble {
    let mut troubles = pieces(job, drawing).unwrap_err();
    assert_eq!(troubles.len(), 1, "{troubles:?}");
    troubles.remove(0)
}

const RIVER: &str = "<g id='river'><rect id='wave' width='20' height='10' fill='#123'/>\
    <path id='drops' fill='#456' d='M40 0h5v5h-5z M30 0h5v5h-5z'/></g>\
    <rect id='drops-1' y='50' width='9' height='9' fill='#456'/>\
    <line id='stem' x1='0' y1='80' x2='50' y2='80' stroke='#0a0' stroke-width='4'/>";

#[test]
fn the_first_rule_that_fits_wins_and_every_given_part_must_fit() {
    let d = drawing(RIVER);
    let j = job(
        r##"{"select": {"layer": "river", "fill": "#112233"}, "cloth": "reed", "match": "drawn", "group": "g"},
                    {"select": {"layer": "river"}, "cloth": "saltmarsh", "count": 3},
                    {"select": {"fill": "#445566"}, "cloth": "reed"},
                    {"select": {"id": "st*"}, "cloth": "reed", "shape": "line"}"##,
    );
    let picked = pieces(&j, &d).unwrap();
    assert_eq!(named(&picked), ["wave", "drops-2", "drops-3", "drops-1", "stem"]);
    let of = |id: &str| picked.pieces.iter().find(|p| p.id == id).unwrap();
    assert_eq!((of("wave").rule, of("wave").cloth, of("wave").matching), (0, 1, Match::Drawn));
    assert_eq!(
        ["wave", "drops-2", "drops-3", "drops-1"].map(|id| of(id).group.as_str()),
        ["g", "river", "river", "pieces[2]"]
    );
    assert_eq!((of("drops-2").count, of("drops-2").cloth), (3, 0));
    assert!((of("stem").drawn.area() - 200.0).abs() < 1e-6);
    assert!((of("wave").anchor.x - 10.0).abs() < 1e-6 && (of("wave").anchor.y - 95.0).abs() < 1e-6);
    assert!(picked.notes.is_empty(), "{:?}", picked.notes);
}

#[test]
fn parts_are_numbered_from_left_to_right_past_names_that_are_taken() {
    let picked = pieces(&job(r#"{"select": {"id": "drops*"}, "cloth": "reed"}"#), &drawing(RIVER)).unwrap();
    assert_eq!(named(&picked), ["drops-2", "drops-3", "drops-1"]);
    assert!(picked.pieces[0].drawn.bounds().min.x < picked.pieces[1].drawn.bounds().min.x);
}

#[test]
fn the_cut_edge_lies_outside_by_the_allowance_and_the_drawn_edge_stays() {
    let j = job(r#"{"select": {"id": "wave"}, "cloth": "reed", "allowance_mm": 1.5, "anchor_mm": [3, 4]}"#);
    let picked = pieces(&j, &drawing(RIVER)).unwrap();
    let p = &picked.pieces[0];
    assert!((p.drawn.area() - 200.0).abs() < 1e-5);
    // Steiner's formula for a convex shape: area + perimeter · d + π · d².
    assert!(
        (p.cut.area() - (200.0 + 60.0 * 1.5 + std::f64::consts::PI * 2.25)).abs() < 0.1,
        "{}",
        p.cut.area()
    );
    assert_eq!(p.anchor, pt(3.0, 4.0));
}

#[test]
fn a_shape_without_what_its_rule_cuts_is_named_with_the_remedy() {
    let d = drawing(RIVER);
    let t = only_trouble(&job(r#"{"select": {"id": "stem"}, "cloth": "reed"}"#), &d);
    assert_eq!(
        t.to_string().lines().next().unwrap(),
        "shape stem: pieces[0] cuts its filled area, but it has none (line 1 of the drawing)"
    );
    assert!(t.hint.contains("\"shape\": \"line\""));
    let t = only_trouble(&job(r#"{"select": {"id": "wave"}, "cloth": "reed", "shape": "line"}"#), &d);
    assert!(t.what.contains("no stroke of any width"));
    assert_eq!(t.exit_code(), 1);
}

#[test]
fn all_troubles_come_at_once() {
    let j = job(r#"{"select": {"id": "stem"}, "cloth": "reed"}, {"select": {"id": "wave"}, "cloth": "hemp"},
                   {"select": {"id": "drops"}, "cloth": "reed", "allowance_mm": -2}"#);
    let troubles = pieces(&j, &drawing(RIVER)).unwrap_err();
    assert_eq!(troubles.len(), 4, "{troubles:?}");
    assert!(troubles[1].what.contains("no cloth \"hemp\""));
    let t = only_trouble(&job(r#"{"select": {"fill": "blueish"}, "cloth": "reed"}"#), &drawing(RIVER));
    assert_eq!(t.about, "pieces[0].select.fill");
}

#[test]
fn rules_that_pick_nothing_and_shapes_that_nobody_picks_are_said() {
    let j = job(
        r##"{"select": {"layer": "rivr"}, "cloth": "reed"}, {"select": {"id": "river"}, "cloth": "reed"},
                   {"select": {"fill": "#ffffff"}, "cloth": "reed"}, {"select": {"id": "wave"}, "cloth": "reed"},
                   {"select": {"id": "wav*"}, "cloth": "reed"}, {"select": {"id": "stem"}, "cloth": "reed", "count": 0}"##,
    );
    let picked = pieces(&j, &drawing(RIVER)).unwrap();
    let texts: Vec<&str> = picked.notes.iter().map(|n| n.text.as_str()).collect();
    assert_eq!(
        texts,
        [
            "this rule (layer \"rivr\") fits no shape of the drawing; did you mean layer \"river\"?",
            "this rule (id \"river\") fits no shape of the drawing; \"river\" is a group: select it by layer.",
            "this rule (fill \"#ffffff\") fits no shape of the drawing; the drawing's fills are #112233, #445566.",
            "this rule (id \"wav*\") picks nothing: earlier rules take every shape it fits.",
            "this rule (id \"stem\") has count 0: its shapes are not cut.",
            "no rule picks these shapes, so they are not cut: drops, drops-1.",
        ]
    );
    assert_eq!(picked.notes[4].level, Level::Advice);
    assert_eq!(named(&picked), ["wave"]);
}

proptest! {
    /// Whatever ids a drawing has, every piece's name is its own.
    #[test]
    fn names_of_pieces_are_unique(ids in prop::collection::vec("a(-[1-3]){0,2}", 1..9)) {
        let body: String = ids.iter().enumerate().map(|(i, id)| {
            let y = 10 * i;
            format!("<path id='{id}' d='M0 {y}h5v5h-5z M{x} {y}h5v5h-5z'/>", x = if i % 2 == 0 { 20 } else { 0 })
        }).collect();
        let picked = pieces(&job(r#"{"select": {"id": "*"}, "cloth": "reed"}"#), &drawing(&body)).unwrap();
        let mut names = named(&picked);
        prop_assert_eq!(names.len(), ids.len() + ids.len().div_ceil(2));
        names.sort_unstable();
        names.dedup();
        prop_assert_eq!(names.len(), picked.pieces.len());
    }
}
