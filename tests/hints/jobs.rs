//! Hints about fields of a job and about the lay.

use settlay::write::png_of;

use crate::case::{Case, Do, JOB, LAY, Way, of, of_job};
use crate::desk::{Desk, page};

/// Two squares that are each other's mirror image.
fn twins(desk: &Desk) {
    desk.put(
        "leaf.svg",
        page("<path id='leaf' d='M10 10h50v50h-50z'/><path id='bud' d='M110 10h50v50h-50z'/>"),
    );
}

fn a_thousand(desk: &Desk) {
    let shapes: String =
        (0..3).map(|k| format!("<path id='p{k}' d='M{} 10h9v9h-9z'/>", 10 + 12 * k)).collect();
    desk.put("leaf.svg", page(&shapes));
}

fn photographed(desk: &Desk) {
    let rgba: Vec<u8> = (0..48 * 48)
        .flat_map(|k| if k % 48 < 20 { [20, 40, 90, 255] } else { [220, 220, 210, 255] })
        .collect();
    desk.put("p.png", png_of(48, 48, &rgba).unwrap());
}

fn small_window(desk: &Desk) {
    desk.put("leaf.svg", page("<path id='leaf' fill-rule='evenodd' d='M10 10h50v50h-50z M30 30h6v6h-6z'/>"));
}

fn large_window(desk: &Desk) {
    desk.put(
        "leaf.svg",
        page("<path id='leaf' fill-rule='evenodd' d='M10 10h50v50h-50z M25 25h20v20h-20z'/>"),
    );
}

fn line(desk: &Desk) {
    desk.put("leaf.svg", page("<path id='leaf' fill='none' stroke='black' stroke-width='6' d='M10 10h50'/>"));
}

fn line_filled(desk: &Desk) {
    desk.put("leaf.svg", page("<path id='leaf' d='M10 10h50v40z'/>"));
}

fn filled(desk: &Desk) {
    desk.put("leaf.svg", page("<path id='leaf' d='M10 10h50v40z'/>"));
}

fn stroked(desk: &Desk) {
    desk.put(
        "leaf.svg",
        page("<path id='leaf' fill='none' stroke='black' stroke-width='6' d='M10 10h50v40'/>"),
    );
}

const COUNTED: &str = r#"{"warp": "N/6 G24 K/10", "ends_per_cm": 20, "picks_per_cm": 18}"#;
const PHOTO: &str = r#"{"symmetrical": true, "photo": {"file": "p.png", "size_mm": [32, 36]}}"#;
const TWO_OF_A_STOCK: &str = r#"[{"name": "one", "stock": "check", "width_mm": 600, "length_mm": 900, "pattern": {"warp": "N/6 G24 K/10", "ends_per_cm": 20, "picks_per_cm": 18}},
    {"name": "two", "stock": "check", "width_mm": 600, "length_mm": 900, "pattern": {"warp": "N/6 G24 K/10", "ends_per_cm": 20, "picks_per_cm": 18}}]"#;
const SINGLY: &str = r#"[{"select": {"id": "leaf"}, "cloth": "check", "match": "free"}, {"select": {"id": "bud"}, "cloth": "check", "match": "free"}]"#;
const TWO_MATCHES: &str = r#"[{"select": {"id": "leaf"}, "cloth": "check", "match": "drawn", "group": "g"},
    {"select": {"id": "bud"}, "cloth": "check", "match": "centred", "group": "g"}]"#;
const TWO_GRAINS: &str = r#"[{"select": {"id": "leaf"}, "cloth": "check", "match": "drawn", "group": "g"},
    {"select": {"id": "bud"}, "cloth": "check", "match": "drawn", "grain": "across", "group": "g"}]"#;
const UNEVEN: &str = r#"[{"select": {"id": "leaf"}, "cloth": "check", "match": "pair", "group": "g"},
    {"select": {"id": "bud"}, "cloth": "check", "match": "pair", "group": "g", "count": 3}]"#;
const APART: &str = r#"[{"piece": "leaf", "cloth": "one", "shift_mm": [64, 64]}, {"piece": "bud", "cloth": "two", "shift_mm": [64, 64]}]"#;
const TOGETHER: &str = r#"[{"piece": "leaf", "cloth": "one", "shift_mm": [64, 71.111111]}, {"piece": "bud", "cloth": "one", "shift_mm": [64, 71.111111]}]"#;

pub fn cases() -> Vec<Case> {
    let mut all = vec![
        of_job(
            "give the full width from selvedge to selvedge",
            &[("/cloths/0/width_mm", "-")],
            &[("give it", &[("/cloths/0/width_mm", "600")])],
        ),
        of_job(
            "list the corners once round, without crossing",
            &[("/cloths/0/flaws_mm", "[[[10,10],[60,60],[60,10],[10,60]]]")],
            &[("once round", &[("/cloths/0/flaws_mm", "[[[10,10],[60,10],[60,60],[10,60]]]")])],
        ),
        of_job(
            "letters as in the thread count: K, DB",
            &[("/cloths/0/pattern/colours", r##"{"G2": "#123456"}"##)],
            &[("letters", &[("/cloths/0/pattern/colours", r##"{"G": "#123456"}"##)])],
        ),
        of_job(
            "a cloth without a check or stripe has no \"pattern\"; give its \"colour\" instead",
            &[("/cloths/0/pattern", r#"{"warp": "N"}"#)],
            &[("no pattern", &[("/cloths/0/pattern", "-"), ("/cloths/0/colour", r##""#224466""##)])],
        ),
        of_job(
            "a thread count has no size of its own",
            &[("/cloths/0/pattern/ends_per_cm", "-")],
            &[
                ("threads per centimetre", &[("/cloths/0/pattern/ends_per_cm", "20")]),
                ("a repeat", &[("/cloths/0/pattern/repeat_across_mm", "32")]),
            ],
        ),
        of_job(
            "say true when a half turn leaves the pattern the same, else false",
            &[("/cloths/0/pattern", r#"{"repeat_across_mm": 30, "repeat_along_mm": 40}"#)],
            &[
                ("true", &[("/cloths/0/pattern/symmetrical", "true")]),
                ("false", &[("/cloths/0/pattern/symmetrical", "false")]),
            ],
        ),
        of_job(
            "leave grain_deg out, or set match to \"free\"",
            &[("/pieces/0/grain_deg", "15")],
            &[
                ("leave it out", &[("/pieces/0/grain_deg", "-")]),
                ("free", &[("/pieces/0/match", "\"free\"")]),
            ],
        ),
        of_job(
            "give the field the frame can stitch",
            &[("/frame", r#"{"field_mm": [3, 200]}"#)],
            &[("give it", &[("/frame", r#"{"field_mm": [360, 200]}"#)])],
        ),
        of_job(
            "x grows to the right from a left corner and to the left from a right one",
            &[("/cutter/x_grows", "\"left\"")],
            &[
                ("to the right from a left corner", &[("/cutter/x_grows", "\"right\"")]),
                ("to the left from a right one", &[("/cutter/home", "\"near-right\"")]),
            ],
        ),
        of_job(
            "y grows away from you from a near corner and towards you from a far one",
            &[("/cutter/y_grows", "\"near\"")],
            &[
                ("away from a near corner", &[("/cutter/y_grows", "\"away\"")]),
                ("towards you from a far one", &[("/cutter/home", "\"far-left\"")]),
            ],
        ),
        of_job(
            "near-right and far-left make a mirrored bed, near-left and far-right do not",
            &[("/cutter/mirrored", "true")],
            &[
                ("near-right", &[("/cutter/home", "\"near-right\"")]),
                ("far-left", &[("/cutter/home", "\"far-left\"")]),
                ("near-left", &[("/cutter/mirrored", "false")]),
            ],
        ),
        of_job(
            "the range is gcode.power_range",
            &[
                ("/cutter/gcode", r#"{"power_range": [0, 100]}"#),
                ("/cutter/tested", r#"[{"power": 200, "mm_per_s": 20}]"#),
            ],
            &[
                ("within the range", &[("/cutter/tested/0/power", "80")]),
                ("the range", &[("/cutter/gcode/power_range", "[0, 1000]")]),
            ],
        ),
        of_job(
            "S is usual",
            &[("/cutter/gcode", r#"{"power_range": [0, 100], "power_word": "s"}"#)],
            &[("S", &[("/cutter/gcode/power_word", "\"S\"")])],
        ),
        of_job(
            "both stand for millimetres; the machine's manual says which it knows",
            &[("/cutter/gcode", r#"{"power_range": [0, 100], "units_word": "G20"}"#)],
            &[
                ("G21", &[("/cutter/gcode/units_word", "\"G21\"")]),
                ("G71", &[("/cutter/gcode/units_word", "\"G71\"")]),
            ],
        ),
        of_job(
            "did you mean \"{k}\"?",
            &[("/cutter/tested", r#"[{"kind": "outlin", "power": 20, "mm_per_s": 20}]"#)],
            &[("outline", &[("/cutter/tested/0/kind", "\"outline\"")])],
        ),
        of_job(
            "did you mean \"{name}\"?",
            &[("/pieces/0/cloth", "\"chek\"")],
            &[("check", &[("/pieces/0/cloth", "\"check\"")])],
        ),
        of_job(
            "\"{key}\" belongs in \"{field}\"",
            &[("/pieces/0/gap_mm", "4")],
            &[("in lay", &[("/pieces/0/gap_mm", "-"), ("/lay/gap_mm", "4")])],
        ),
        of_job(
            "known here: {}",
            &[("/cloths/0/zebra", "1")],
            &[("another", &[("/cloths/0/zebra", "-"), ("/cloths/0/price_per_m", "30")])],
        ),
        of_job(
            "use \"along\", or lay these pieces on plain, unpatterned cloth without nap, or felt",
            &[("/pieces/0/grain", "\"any\"")],
            &[
                ("along", &[("/pieces/0/grain", "\"along\"")]),
                ("plain cloth", &[("/cloths/0/pattern", "-"), ("/cloths/0/weave", "\"plain\"")]),
                ("felt", &[("/cloths/0/pattern", "-"), ("/cloths/0/weave", "\"felt\"")]),
            ],
        ),
        of_job(
            "make edge_mm smaller or look whether the flaws are true; or leave this cloth and its rules out",
            &[("/cloths/0/flaws_mm", "[[[20,20],[580,20],[580,880],[20,880]]]"), ("/cloths/0/edge_mm", "25")],
            &[
                ("flaws", &[("/cloths/0/flaws_mm", "[]")]),
                (
                    "leave it out",
                    &[
                        ("/cloths", r#"[{"name": "other", "width_mm": 300}]"#),
                        ("/pieces/0/cloth", "\"other\""),
                    ],
                ),
            ],
        ),
        of_job(
            "settlay check lists the shapes and the rules that pick them",
            &[("/pieces/0/select", r#"{"id": "nothing"}"#)],
            &[("a shape there is", &[("/pieces/0/select", r#"{"id": "leaf"}"#)])],
        ),
        of_job(
            "settlay check lists the pieces",
            &[
                ("/pieces/0/match", "\"free\""),
                ("/lay/locked", r#"[{"piece": "zebra", "shift_mm": [100, 100]}]"#),
            ],
            &[("one of them", &[("/lay/locked/0/piece", "\"leaf\"")])],
        ),
        of_job(
            "did you mean \"{n}\"?",
            &[
                ("/pieces/0/match", "\"free\""),
                ("/lay/locked", r#"[{"piece": "leav", "shift_mm": [100, 100]}]"#),
            ],
            &[("leaf", &[("/lay/locked/0/piece", "\"leaf\"")])],
        ),
        of_job(
            "lay.locked[{}].turn_deg may be {list}",
            &[
                ("/pieces/0/match", "\"free\""),
                ("/lay/locked", r#"[{"piece": "leaf", "turn_deg": 33, "shift_mm": [300, 300]}]"#),
            ],
            &[("0", &[("/lay/locked/0/turn_deg", "0")]), ("180", &[("/lay/locked/0/turn_deg", "180")])],
        ),
        of_job(
            "move it: lay.locked[{}].shift_mm",
            &[
                ("/pieces/0/match", "\"free\""),
                ("/lay/locked", r#"[{"piece": "leaf", "shift_mm": [-500, 0]}]"#),
            ],
            &[("move it", &[("/lay/locked/0/shift_mm", "[100, 100]")])],
        ),
        of_job(
            "move one of them: lay.locked[{}] or lay.locked[{}]",
            &[
                ("/pieces/0/match", "\"free\""),
                (
                    "/lay/locked",
                    r#"[{"piece": "leaf", "shift_mm": [100, 100]}, {"piece": "bud", "shift_mm": [60, 100]}]"#,
                ),
            ],
            &[
                ("the first", &[("/lay/locked/0/shift_mm", "[300, 300]")]),
                ("the second", &[("/lay/locked/1/shift_mm", "[300, 300]")]),
            ],
        ),
        of_job(
            "place them on one cloth, or give them groups of their own",
            &[("/cloths", TWO_OF_A_STOCK), ("/lay/locked", APART)],
            &[
                ("one cloth", &[("/lay/locked", TOGETHER)]),
                (
                    "groups of their own",
                    &[(
                        "/pieces",
                        r#"[{"select": {"id": "leaf"}, "cloth": "check", "match": "drawn", "group": "a"},
                            {"select": {"id": "bud"}, "cloth": "check", "match": "drawn", "group": "b"}]"#,
                    )],
                ),
            ],
        ),
        of_job(
            "leave out the quotation marks",
            &[("/cloths/0/width_mm", "\"600\"")],
            &[("leave them out", &[("/cloths/0/width_mm", "600")])],
        ),
        of_job(
            "did you mean \"{word}\"?",
            &[("/cloths/0/weave", "\"twil-z\"")],
            &[("twill-z", &[("/cloths/0/weave", "\"twill-z\"")])],
        ),
        of_job(
            "correct the repeat or the threads per centimetre",
            &[("/cloths/0/pattern/repeat_across_mm", "0.1")],
            &[("the repeat", &[("/cloths/0/pattern/repeat_across_mm", "32")])],
        ),
        of_job(
            "use a larger cloth, or cut fewer pieces from this one",
            &[("/pieces/0/count", "260"), ("/pieces/0/match", "\"free\"")],
            &[("larger", &[("/cloths/0/length_mm", "9000")]), ("fewer", &[("/pieces/0/count", "20")])],
        ),
        of_job(
            "divide the piece in the drawing, or use a larger cloth",
            &[("/drawing_scale", "15"), ("/cutter/bed_mm", "[1900, 1900]")],
            &[("larger", &[("/cloths/0/width_mm", "1500"), ("/cloths/0/length_mm", "2500")])],
        ),
        of_job(
            "use another cloth, or divide the piece in the drawing",
            &[
                ("/drawing_scale", "8"),
                (
                    "/cloths/0/flaws_mm",
                    "[[[0,300],[600,300],[600,320],[0,320]],[[0,600],[600,600],[600,620],[0,620]]]",
                ),
            ],
            &[("another", &[("/cloths/0/flaws_mm", "[]"), ("/cloths/0/length_mm", "1800")])],
        ),
        of(
            "a pair needs two pieces that mirror each other left to right; give single pieces a rule of their own with match \"free\"",
            Do::Job(&[("/pieces/0/match", "\"pair\"")]),
            LAY,
            &[
                ("two that mirror each other", Do::Desk(twins), &[]),
                ("a rule of their own", Do::Job(&[("/pieces", SINGLY)]), &[]),
            ],
        ),
        of(
            "use a symmetrical order, or match \"drawn\" or \"free\"",
            Do::Both(twins, &[("/pieces/0/match", "\"pair\""), ("/cloths/0/pattern/warp", "\"N6 G24 K10\"")]),
            LAY,
            &[
                ("symmetrical", Do::Job(&[("/cloths/0/pattern/warp", "\"N/6 G24 K/10\"")]), &[]),
                ("drawn", Do::Job(&[("/pieces/0/match", "\"drawn\"")]), &[]),
                ("free", Do::Job(&[("/pieces/0/match", "\"free\"")]), &[]),
            ],
        ),
        of(
            "set grain_deg to 0 and grain to \"along\" or \"across\", or match to \"free\"",
            Do::Both(twins, &[("/pieces/0/match", "\"pair\""), ("/pieces/0/grain", "\"bias\"")]),
            LAY,
            &[
                ("along", Do::Job(&[("/pieces/0/grain", "\"along\""), ("/pieces/0/grain_deg", "0")]), &[]),
                ("across", Do::Job(&[("/pieces/0/grain", "\"across\""), ("/pieces/0/grain_deg", "0")]), &[]),
                ("free", Do::Job(&[("/pieces/0/match", "\"free\"")]), &[]),
            ],
        ),
        of_job(
            "leave grain out, or set match to \"free\"",
            &[("/pieces/0/grain", "\"bias\"")],
            &[("leave it out", &[("/pieces/0/grain", "-")]), ("free", &[("/pieces/0/match", "\"free\"")])],
        ),
        of_job(
            "give one of them another group, or leave its group out",
            &[("/pieces", TWO_MATCHES)],
            &[
                ("another group", &[("/pieces/1/group", "\"h\"")]),
                ("leave it out", &[("/pieces/1/group", "-")]),
            ],
        ),
        of(
            "leave group out: pieces of the rule that are each other's mirror image are then paired",
            Do::Both(twins, &[("/pieces/0/match", "\"pair\""), ("/pieces/0/group", "\"each\"")]),
            LAY,
            &[("leave it out", Do::Job(&[("/pieces/0/group", "-")]), &[])],
        ),
        of(
            "give both the same count",
            Do::Both(twins, &[("/pieces", UNEVEN)]),
            LAY,
            &[("the same", Do::Job(&[("/pieces/1/count", "1")]), &[])],
        ),
        of_job(
            "give both rules the same grain and grain_deg, or leave out the group of one",
            &[("/pieces", TWO_GRAINS)],
            &[
                ("the same grain", &[("/pieces/1/grain", "\"along\"")]),
                ("leave it out", &[("/pieces/1/group", "-")]),
            ],
        ),
        of(
            "lessen the counts, or make several jobs of it",
            Do::Both(
                a_thousand,
                &[("/pieces/0/count", "7000"), ("/pieces/0/match", "\"free\""), ("/cloths/0/length_mm", "-")],
            ),
            LAY,
            &[("lessen", Do::Job(&[("/pieces/0/count", "20")]), &[])],
        ),
        of(
            "set allowance_mm to {told:.2} or less for this piece, or widen the gap in the drawing",
            Do::Both(small_window, &[("/pieces/0/allowance_mm", "4")]),
            LAY,
            &[
                ("less", Do::Job(&[("/pieces/0/allowance_mm", "2.8")]), &[]),
                ("widen the gap", Do::Desk(large_window), &[]),
            ],
        ),
        of(
            "fill it in the drawing, write \"shape\": \"line\" to cut its stroke, or leave it out of the rule",
            Do::Desk(line),
            LAY,
            &[
                ("fill it", Do::Desk(line_filled), &[]),
                ("shape line", Do::Job(&[("/pieces/0/shape", "\"line\"")]), &[]),
            ],
        ),
        of(
            "give it a stroke in the drawing, write \"shape\": \"fill\", or leave it out of the rule",
            Do::Both(filled, &[("/pieces/0/shape", "\"line\"")]),
            LAY,
            &[
                ("a stroke", Do::Desk(stroked), &[]),
                ("shape fill", Do::Job(&[("/pieces/0/shape", "\"fill\"")]), &[]),
            ],
        ),
    ];
    let pivots = |matching: &'static [(&'static str, &'static str)]| {
        let with_count = |what, edits| Way { what, done: Do::Job(edits), words: &[] };
        Case {
            hint: "give the cloth's thread count (pattern.warp, with ends_per_cm and picks_per_cm); or put pattern.origin_mm on a \
                   spot where a pivot across meets a pivot along, measured on the cloth, and set pattern.pivot_at_origin to \
                   true; or set match to \"drawn\" or \"free\" (and leave anchor_mm out)",
            spoilt: Do::Both(
                |desk| {
                    twins(desk);
                    photographed(desk);
                },
                matching,
            ),
            words: &["lay", JOB],
            ways: vec![
                with_count("thread count", &[("/cloths/0/pattern", COUNTED)]),
                with_count(
                    "a pivot",
                    &[
                        ("/cloths/0/pattern/origin_mm", "[9, 14]"),
                        ("/cloths/0/pattern/pivot_at_origin", "true"),
                    ],
                ),
                with_count("drawn", &[("/pieces/0/match", "\"drawn\""), ("/pieces/0/anchor_mm", "-")]),
                with_count("free", &[("/pieces/0/match", "\"free\""), ("/pieces/0/anchor_mm", "-")]),
            ],
        }
    };
    all.push(pivots(&[
        ("/cloths/0/pattern", PHOTO),
        ("/pieces/0/match", "\"centred\""),
        ("/pieces/0/anchor_mm", "[20, 20]"),
    ]));
    all.push(pivots(&[
        ("/cloths/0/pattern", PHOTO),
        ("/pieces/0/match", "\"pair\""),
        ("/pieces/0/anchor_mm", "null"),
    ]));
    all
}
