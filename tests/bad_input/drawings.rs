//! Drawings that are none, or too much.

use std::fs;

use serde_json::{Value, json};

use crate::desk::*;

#[test]
fn files_that_are_no_drawing_are_told_apart() {
    let desk = Desk::new();
    let whole = page("<path d='M10 10h50v50h-50z'/>");
    let utf16: Vec<u8> = [0xff, 0xfe].into_iter().chain(whole.bytes().flat_map(|b| [b, 0])).collect();
    for (name, contents, part) in [
        ("empty.svg", Vec::new(), "the file is empty"),
        ("blank.svg", b" \n\t".to_vec(), "the file is empty"),
        (
            "noise.svg",
            (0..4096u32).map(|i| (i.wrapping_mul(2_654_435_761) >> 13) as u8 | 0x80).collect(),
            "not UTF-8",
        ),
        ("zeros.svg", vec![0; 4096], "zero bytes"),
        ("letter.svg", b"Dear customer, please find attached".to_vec(), "is this the right file"),
        ("wide.svg", utf16, "UTF-16"),
        ("page.svg", b"<html><body/></html>".to_vec(), "outermost element is <html>"),
        ("garbage.svgz", vec![0x1f, 0x8b, 8, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9], "gzip packing is broken"),
    ] {
        desk.put(name, contents);
        desk.refuses(&["check", name], 2, part);
    }
    desk.refuses(&["check", "nowhere.svg"], 2, "there is no such file");
    fs::create_dir(desk.at("folder.svg")).unwrap();
    desk.refuses(&["check", "folder.svg"], 2, "this is a folder");
    for (name, bytes) in [("large.svg", 33 << 20), ("huge.svg", 101 << 20)] {
        fs::File::create(desk.at(name)).unwrap().set_len(bytes).unwrap();
        desk.refuses(&["check", name], 2, "it is too large");
    }
}

#[test]
fn a_drawing_or_job_cut_off_anywhere_is_refused() {
    let desk = Desk::new();
    let drawing = page("<g id='layer'><path id='a' d='M10 10h50v50h-50z'/><!-- note --></g>");
    let text = job().to_string();
    for share in 0..12 {
        desk.put("cut.svg", &drawing[..drawing.len() * share / 12]);
        desk.refuses(&["check", "cut.svg"], 2, "cut.svg");
        desk.put("cut.job.json", &text[..text.len() * share / 12]);
        desk.refuses(&["lay", "cut.job.json"], 2, "cut.job.json");
    }
}

#[test]
#[cfg(unix)]
fn a_pipe_is_refused_and_not_waited_for() {
    let desk = Desk::new();
    for name in ["pipe", "pipe.svg", "pipe.json"] {
        let made = std::process::Command::new("mkfifo").arg(desk.at(name)).status().unwrap();
        assert!(made.success());
        desk.refuses(&["check", name], 2, "no plain file");
        desk.refuses(&["lay", name], 2, "no plain file");
    }
}

/// Opening a pipe nobody writes to would never end: that the runs end shows that it was not opened.
#[test]
#[cfg(unix)]
fn no_file_named_inside_a_drawing_is_opened() {
    let desk = Desk::new();
    assert!(std::process::Command::new("mkfifo").arg(desk.at("bait")).status().unwrap().success());
    for (prologue, inside) in [
        ("<!DOCTYPE svg SYSTEM 'bait'>", ""),
        ("<?xml-stylesheet href='bait'?>", "<style>@import url(bait); path {fill: url(bait#a)}</style>"),
        ("", "<image href='bait' width='9' height='9'/><image xlink:href='bait' width='9' height='9'/>"),
        ("", "<use href='bait#a'/><text font-family='bait' x='5' y='90'/>"),
    ] {
        desk.put(
            "lure.svg",
            format!("{prologue}{}", page(&format!("{inside}<path id='a' d='M9 9h50v50z'/>"))),
        );
        let ended = desk.run(&["check", "lure.svg"]);
        assert!(ended.out.contains("1 shape"), "{}{}", ended.out, ended.err);
    }
    for entity in ["<!ENTITY x SYSTEM 'bait'>", "<!ENTITY % x SYSTEM 'bait'> %x;"] {
        desk.put("lure.svg", format!("<!DOCTYPE svg [{entity}]>{}", page("<text>&x;</text>")));
        desk.refuses(&["check", "lure.svg"], 2, "other files are never opened");
    }
}

#[test]
fn bombs_are_refused_before_they_go_off() {
    let desk = Desk::new();
    let entities: String =
        (1..12).map(|i| format!("<!ENTITY e{i} '{}'>", format!("&e{};", i - 1).repeat(10))).collect();
    let uses: String = (1..12)
        .map(|i| format!("<g id='u{i}'>{}</g>", format!("<use href='#u{}'/>", i - 1).repeat(10)))
        .collect();
    let deep = |n: usize| format!("{}{}", "<g>".repeat(n), "</g>".repeat(n));
    let spiral: String = (0..40_000)
        .map(|i| {
            let (sin, cos) = (f64::from(i) * 0.02).sin_cos();
            format!("{:.3} {:.3} ", 100.0 + f64::from(i) * 0.002 * cos, 100.0 + f64::from(i) * 0.002 * sin)
        })
        .collect();
    for (about, text, code, part) in [
        (
            "entities of entities",
            format!("<!DOCTYPE svg [<!ENTITY e0 'lol'>{entities}]>{}", page("<text>&e11;</text>")),
            Some(2),
            "stands for elements or other entities",
        ),
        (
            "one long entity many times",
            format!("<!DOCTYPE svg [<!ENTITY a '{}'>]>{}", "x".repeat(50_000), page(&"&a;".repeat(50_000))),
            Some(2),
            "entities would add up",
        ),
        ("copies of copies", page(&format!("<path id='u0' d='M1 1h5v5z'/>{uses}")), Some(2), "elements once"),
        ("deep groups", page(&deep(5_000)), Some(2), "levels of nested groups"),
        ("very deep groups", page(&deep(190_000)), Some(2), "levels of nested groups"),
        (
            "depth hidden in an instruction",
            page(&format!("<?x > <!-- ?>{}", deep(150_000))),
            Some(2),
            "levels of nested groups",
        ),
        (
            "depth hidden in a declaration",
            format!("<!DOCTYPE svg PUBLIC '>' '<!--'>{}", page(&deep(150_000))),
            Some(2),
            "levels of nested groups",
        ),
        (
            "a copy of itself",
            page("<g id='a'><use href='#b'/></g><g id='b'><use href='#a'/></g>"),
            Some(2),
            "contains a copy of itself",
        ),
        (
            "a broad pen along a narrow spiral",
            page(&format!("<path id='s' d='M{spiral}' fill='none' stroke='#000' stroke-width='12'/>")),
            None,
            "cover themselves",
        ),
    ] {
        desk.put("bomb.svg", text);
        match code {
            Some(code) => desk.refuses(&["check", "bomb.svg"], code, part),
            None => {
                let ended = desk.run(&["check", "bomb.svg"]);
                let out = ended.out.split_whitespace().collect::<Vec<_>>().join(" ");
                assert!(out.contains(part), "{about}: {out}");
            }
        }
    }
}

#[test]
fn wild_numbers_in_a_drawing_are_named() {
    let desk = Desk::new();
    for number in ["NaN", "Infinity", "-1e300", "1e999", "1e38", ""] {
        for shape in [
            format!("<path id='odd' d='M10 10h{number}v50h-50z'/>"),
            format!("<rect id='odd' x='{number}' y='1' width='10' height='10'/>"),
            format!("<path id='odd' d='M9 9h50' fill='none' stroke='#000' stroke-width='{number}'/>"),
        ] {
            desk.put("odd.svg", page(&shape));
            let ended = desk.run(&["check", "odd.svg"]);
            assert!(
                ended.out.contains("no shapes") && ended.out.contains("odd (line 1"),
                "{shape}: {}",
                ended.out
            );
        }
    }
    for (width, part) in [
        ("0", "width is 0"),
        ("-5mm", "width is -5mm"),
        ("1e300mm", "at most a kilometre"),
        ("1e-300", "at least a hundredth of a millimetre"),
        ("5parsec", "has no size on paper"),
        ("wide", "is not a length"),
    ] {
        let text = page("<path d='M1 1h9v9z'/>").replacen("200mm", width, 1);
        desk.put("odd.svg", text);
        desk.refuses(&["check", "odd.svg"], 2, part);
    }
    for view_box in ["0 0 0 0", "0 0 -1 5", "0 0 1", "a b c d", "0 0 1e300 1"] {
        desk.put("odd.svg", page("<path d='M1 1h9v9z'/>").replace("0 0 200 200", view_box));
        desk.refuses(&["check", "odd.svg"], 2, "viewBox");
    }
}

#[test]
fn shapes_with_nothing_to_cut_are_named_and_not_dropped_in_silence() {
    let desk = Desk::new();
    for shape in [
        "<path id='odd' d='M5 5'/>",
        "<path id='odd' d='M'/>",
        "<path id='odd' d='M0 0L'/>",
        "<path id='odd' d='M0 0z'/>",
        "<path id='odd' d='M5 5 5 5 5 5z'/>",
        "<line id='odd' x1='5' y1='5' x2='5' y2='5' stroke='#000' stroke-width='3'/>",
        "<rect id='odd' x='5' y='5' width='0' height='9'/>",
        "<image id='odd' href='x.png' width='9' height='9'/>",
    ] {
        desk.put("odd.svg", page(shape));
        let ended = desk.run(&["check", "odd.svg"]);
        assert!(ended.out.contains("no shapes") && ended.out.contains("odd"), "{shape}: {}", ended.out);
    }
}

#[test]
fn outlines_of_too_many_points_still_end_in_time() {
    let desk = Desk::new();
    let circle: String = (0..200_000)
        .map(|i| {
            let (sin, cos) = (f64::from(i) * std::f64::consts::TAU / 200_000.0).sin_cos();
            format!("{:.4} {:.4} ", 100.0 + 90.0 * cos, 100.0 + 90.0 * sin)
        })
        .collect();
    desk.put("dense.svg", page(&format!("<path id='disc' d='M{circle}z'/>")));
    let ended = desk.run(&["check", "dense.svg"]);
    assert!(ended.out.contains("No faults"), "{}", ended.out);
    let comb: String = (0..6_000)
        .map(|i| format!("{:.3} {} ", f64::from(i) / 30.0, if i % 2 == 0 { 10 } else { 190 }))
        .collect();
    desk.put("comb.svg", page(&format!("<path id='comb' d='M{comb}200 195 0 195z'/>")));
    let out = desk.run(&["check", "comb.svg"]).out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(out.contains("not all of it was searched for necks"), "{out}");
}

#[test]
fn strange_names_do_no_harm() {
    let desk = Desk::new();
    let names =
        ["a/b", "../../x", "&lt;script&gt;alert(1)&lt;/script&gt;", "&#x1F41F;", "it's", "&quot;", "*", " "];
    let long = "x".repeat(10_000);
    let shapes: String = names
        .iter()
        .copied()
        .chain([long.as_str()])
        .enumerate()
        .map(|(i, n)| format!("<g id=\"g{n}\"><path id=\"{n}\" d='M{} 10h9v9z'/></g>", 20 * i))
        .collect();
    desk.put("names.svg", page(&shapes));
    let ended = desk.run(&["check", "names.svg", "--picture", "names-checked.svg"]);
    assert!(ended.out.contains("9 shapes"), "{}", ended.out);
    let picture = fs::read_to_string(desk.at("names-checked.svg")).unwrap();
    assert!(!picture.contains("<script"));
    assert!(usvg::Tree::from_str(&picture, &usvg::Options::default()).is_ok());
    desk.put("a.job.json", job_with("/drawing", json!("names.svg")));
    assert_eq!(desk.run(&["lay", "a.job.json"]).code, Some(0));
}

#[test]
fn ten_thousand_layers_are_read_and_a_wrong_name_among_them_is_told_briefly() {
    let desk = Desk::new();
    let layer = |k: usize| {
        let (x, y) = ((k % 100) * 4, (k / 100) * 4);
        format!("<g id='layer-{k}'><path id='tile-{k}' d='M{x} {y}h3v3h-3z'/></g>")
    };
    let layers: String = (0..10_000).map(layer).collect();
    desk.put("layers.svg", page(&layers).replace("200mm", "400mm").replace("200 200", "400 400"));
    let checked = desk.run(&["check", "layers.svg"]);
    assert_eq!(checked.code, Some(0), "{}", checked.err);
    assert!(checked.out.contains("10000 shapes") || checked.out.contains("10,000 shapes"), "{}", checked.out);
    let mut job = job();
    job["drawing"] = "layers.svg".into();
    job["pieces"] = json!([{ "select": { "layer": "layer-7007" }, "cloth": "c" }]);
    job["pieces"][0]["cloth"] = job["cloths"][0]["name"].clone();
    desk.put("a.job.json", job.to_string());
    let ended = desk.run(&["plan", "a.job.json", "--out", "plan"]);
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    let plan: Value = serde_json::from_slice(&fs::read(desk.at("plan/plan.json")).unwrap()).unwrap();
    let ids: Vec<_> = plan["pieces"].as_array().unwrap().iter().map(|p| p["id"].clone()).collect();
    assert_eq!(ids, ["tile-7007"]);
    job["pieces"][0]["select"]["layer"] = "layer-70007".into();
    desk.put("b.job.json", job.to_string());
    desk.refuses(
        &["plan", "b.job.json", "--out", "plan"],
        1,
        "pieces[0]: this rule (layer \"layer-70007\") fits no shape",
    );
}
