//! Rubbish in: whole runs of the program end with one clear error, never with a panic, a hang or half a folder.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use assert_cmd::Command;
use serde_json::{Value, json};
use tempfile::TempDir;

/// Longest any of these runs may take: far more than any needs, far less than a maker's patience.
const PATIENCE: Duration = Duration::from_secs(30);

/// What a run of the program ended with.
struct Ended {
    code: Option<i32>,
    out: String,
    err: String,
}

/// A folder to work in.
struct Desk(TempDir);

impl Desk {
    fn new() -> Desk {
        let desk = Desk(tempfile::tempdir().unwrap());
        desk.put(
            "leaf.svg",
            page("<path id='leaf' d='M10 10h50v50h-50z'/><path id='bud' d='M80 10h20v30z'/>"),
        );
        desk
    }

    fn at(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn put(&self, name: &str, contents: impl AsRef<[u8]>) {
        fs::write(self.at(name), contents).unwrap();
    }

    fn run(&self, words: &[&str]) -> Ended {
        let out = Command::cargo_bin("settlay")
            .unwrap()
            .current_dir(self.0.path())
            .args(words)
            .timeout(PATIENCE)
            .output()
            .unwrap();
        let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
        let ended = Ended { code: out.status.code(), out: text(&out.stdout), err: text(&out.stderr) };
        assert!(matches!(ended.code, Some(0..=2)), "{words:?}: {:?}\n{}", ended.code, ended.err);
        ended
    }

    /// The run ends with `code`, prints nothing on stdout, and says `part` on stderr.
    fn refuses(&self, words: &[&str], code: i32, part: &str) {
        let ended = self.run(words);
        assert_eq!(ended.code, Some(code), "{words:?}\n{}\n{}", ended.out, ended.err);
        assert!(ended.err.starts_with("error: ") && ended.err.contains(part), "{words:?}: {}", ended.err);
        assert!(ended.out.is_empty(), "{words:?}: {}", ended.out);
        assert!(ended.err.len() < 20_000, "{words:?}: {} bytes of error", ended.err.len());
        self.is_tidy();
    }

    /// Nothing half written lies about.
    fn is_tidy(&self) {
        let names = fs::read_dir(self.0.path()).unwrap().map(|e| e.unwrap().file_name());
        let left: Vec<_> = names.filter(|n| n.to_string_lossy().starts_with('.')).collect();
        assert!(left.is_empty(), "{left:?}");
    }
}

fn page(inside: &str) -> String {
    format!(
        "<svg xmlns='http://www.w3.org/2000/svg' xmlns:xlink='http://www.w3.org/1999/xlink' width='200mm' \
         height='200mm' viewBox='0 0 200 200'>{inside}</svg>"
    )
}

fn job() -> Value {
    json!({ "settlay": 1, "drawing": "leaf.svg",
        "cloths": [ { "name": "check", "width_mm": 600, "length_mm": 900, "edge_mm": 12, "weave": "twill-z",
            "pattern": { "warp": "N/6 G24 K/10", "ends_per_cm": 20, "picks_per_cm": 18 } } ],
        "pieces": [ { "select": {"id": "*"}, "cloth": "check", "match": "drawn", "group": "g" } ],
        "cutter": { "bed_mm": [300, 200], "shared_band_mm": 60, "kerf_mm": 0.2 },
        "lay": { "gap_mm": 3, "effort": 1 } })
}

/// The job with the value at `path` (a JSON pointer, its last part may be new) replaced.
fn job_with(path: &str, value: Value) -> String {
    let mut job = job();
    let (parent, last) = path.rsplit_once('/').unwrap();
    let parent = job.pointer_mut(parent).unwrap();
    parent[last] = value;
    job.to_string()
}

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
fn files_that_are_no_job_are_told_apart() {
    let desk = Desk::new();
    let keys: String = (0..40_000).map(|i| format!("\"k{i}\":1,")).collect();
    for (text, part) in [
        (String::new(), "the file is empty"),
        ("[1,2".into(), "ends too early"),
        ("[".repeat(100_000), "nested deeper than in any job"),
        ("\"x\"".into(), "expected fields in braces"),
        ("{\"settlay\": 1e999}".into(), "not JSON"),
        ("<svg/>".into(), "not JSON"),
        (format!("{{{keys}\"settlay\":1}}"), "more than 50 faults"),
        (job_with("/settlay", json!(7)), "newer settlay"),
        (job_with("/titel", json!("x")), "did you mean \"title\"?"),
    ] {
        desk.put("odd.job.json", text);
        desk.refuses(&["lay", "odd.job.json"], 2, part);
    }
    desk.put("odd.job.json", [0xff, 0x00, 0x12]);
    desk.refuses(&["lay", "odd.job.json"], 2, "not text");
    fs::File::create(desk.at("odd.job.json")).unwrap().set_len(101 << 20).unwrap();
    desk.refuses(&["lay", "odd.job.json"], 2, "too large");
    desk.refuses(&["lay", "nowhere.job.json"], 2, "there is no such file");
    fs::create_dir(desk.at("folder.job.json")).unwrap();
    desk.refuses(&["lay", "folder.job.json"], 2, "this is a folder");
}

#[test]
fn numbers_out_of_sense_are_told_by_their_field() {
    let desk = Desk::new();
    let square = |a: f64, b: f64| json!([[a, a], [b, a], [b, b], [a, b]]);
    for (path, value, code, part) in [
        ("/cloths/0/width_mm", json!(-0.0), 2, "cloths[0].width_mm"),
        ("/cloths/0/width_mm", json!(1e308), 2, "cloths[0].width_mm"),
        ("/cloths/0/edge_mm", json!(300), 2, "nothing would be left"),
        ("/cloths/0/name", json!("\u{7}"), 2, "control characters"),
        ("/cloths/0/outline_mm", json!([[0, 0], [1, 1]]), 2, "at least 3 points"),
        (
            "/cloths/0/outline_mm",
            json!([[0, 0], [600, 900], [600, 0], [0, 300]]),
            2,
            "crosses or touches itself",
        ),
        ("/cloths/0/flaws_mm", json!([square(-10.0, 1000.0)]), 1, "nothing of the cloth is left"),
        ("/cloths/0/pattern/warp", json!("K1000000000"), 2, "cloths[0].pattern.warp"),
        ("/cloths/0/pattern/warp", json!("N/6 24"), 2, "cloths[0].pattern.warp"),
        ("/cloths/0/pattern/ends_per_cm", json!(0), 2, "cloths[0].pattern.ends_per_cm"),
        ("/cloths/0/pattern/repeat_across_mm", json!(0.001), 2, "expected 0.1 or more"),
        ("/cloths/0/pattern/repeat_along_mm", json!(1e6), 2, "cloths[0].pattern.repeat_along_mm"),
        ("/cloths/0/pattern/skew_mm_per_m", json!(1e9), 2, "cloths[0].pattern.skew_mm_per_m"),
        ("/cloths/0/pattern/colours", json!({"N": "navy"}), 2, "#rrggbb"),
        ("/pieces/0/select", json!({}), 2, "pieces[0].select"),
        ("/pieces/0/select", json!({"id": "nothing"}), 1, "nothing to cut"),
        ("/pieces/0/count", json!(0), 2, "pieces[0].count"),
        ("/pieces/0/count", json!(100_000), 2, "pieces[0].count"),
        ("/pieces/0/cloth", json!("chek"), 2, "did you mean \"check\"?"),
        ("/pieces/0/allowance_mm", json!(1e6), 2, "pieces[0].allowance_mm"),
        ("/pieces/0/grain", json!("any"), 1, "pieces[0].grain"),
        ("/pieces/0/match", json!("pair"), 1, "no mirror image"),
        ("/cutter/bed_mm", json!([10, 10]), 2, "margin_mm"),
        ("/cutter/margin_mm", json!(1e308), 2, "1e308"),
        ("/cutter/kerf_mm", json!(3), 2, "neighbouring cuts"),
        ("/cutter/shared_band_mm", json!(288), 2, "cutter.shared_band_mm"),
        ("/cutter/cut_mm_per_s", json!(1e-300), 2, "cutter.cut_mm_per_s"),
        ("/lay/gap_mm", json!(-1), 2, "lay.gap_mm"),
        ("/lay/gap_mm", json!(1000), 1, "less than the gap of 1000 mm"),
        ("/cloths/0/pattern/repeat_across_mm", json!(0.1), 1, "a match that fine cannot be cut"),
        ("/lay/effort", json!(0), 2, "lay.effort"),
        ("/lay/seconds", json!(0), 2, "lay.seconds"),
        ("/lay/seconds", json!(1e9), 2, "lay.seconds"),
        ("/lay/seed", json!(-1), 2, "lay.seed"),
        ("/title", json!("x".repeat(100_000)), 2, "at most 300 characters"),
        ("/drawing", json!("nowhere.svg"), 2, "there is no such file"),
        ("/drawing", json!("../leaf.svg"), 2, "there is no such file"),
        ("/drawing", json!("."), 2, "this is a folder"),
        ("/drawing_scale", json!(-1), 2, "drawing_scale"),
        ("/drawing_scale", json!(100), 1, "is 5000 × 5000 mm"),
    ] {
        desk.put("odd.job.json", job_with(path, value));
        desk.refuses(&["lay", "odd.job.json"], code, part);
    }
}

#[test]
fn odd_but_sound_jobs_are_laid() {
    let desk = Desk::new();
    for (path, value) in [
        ("/lay/seed", json!(u64::MAX)),
        ("/pieces/0/allowance_mm", json!(1e-300)),
        ("/pieces/0/group", json!("<script>/../🐟")),
        ("/cloths/0/outline_mm", json!([[0, 0], [0, 900], [600, 900], [600, 0]])),
        ("/cloths/0/flaws_mm", json!([[[5000, 5000], [6000, 5000], [6000, 6000]]])),
        ("/cutter/kerf_mm", json!(-0.0)),
        ("/title", json!("")),
    ] {
        desk.put("odd.job.json", job_with(path, value.clone()));
        let ended = desk.run(&["lay", "odd.job.json"]);
        assert_eq!(ended.code, Some(0), "{path} = {value}: {}", ended.err);
        assert!(ended.out.contains("2 pieces") && !ended.err.contains("error"), "{path}: {}", ended.err);
    }
}

#[test]
fn a_cloth_with_a_strange_name_gets_files_with_a_tame_one() {
    let desk = Desk::new();
    let name = "<script>/../🐟 \\ CON";
    let mut job = job();
    job["cloths"][0]["name"] = name.into();
    job["pieces"][0]["cloth"] = name.into();
    desk.put("a.job.json", job.to_string());
    let ended = desk.run(&["plan", "a.job.json", "--out", "plan"]);
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    let cut: Vec<String> = fs::read_dir(desk.at("plan/cut"))
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    assert!(!cut.is_empty());
    let tame = |c: char| c.is_ascii_alphanumeric() || "-_.".contains(c);
    assert!(cut.iter().all(|n| n.chars().all(tame) && !n.starts_with('.')), "{cut:?}");
    assert!(!fs::read_to_string(desk.at("plan/report.html")).unwrap().contains("<script"));
    desk.is_tidy();
}

#[test]
fn a_folder_that_cannot_be_written_leaves_nothing_behind() {
    let desk = Desk::new();
    desk.put("a.job.json", job().to_string());
    desk.refuses(&["plan", "a.job.json", "--out", "leaf.svg"], 2, "this is a file, not a folder");
    desk.refuses(&["plan", "a.job.json", "--out", "leaf.svg/plan"], 1, "a part of the path is a file");
    if Path::new("/proc/self").exists() {
        desk.refuses(&["plan", "a.job.json", "--out", "/proc/plan"], 1, "/proc");
    }
    desk.refuses(&["check", "leaf.svg", "--picture", "nowhere/leaf.svg"], 2, "cannot be written");
    desk.refuses(&["check", "leaf.svg", "--picture", "leaf.gif"], 2, "end the file's name in .svg or .png");
}

#[test]
fn results_go_to_stdout_and_the_exit_code_says_how_it_went() {
    let desk = Desk::new();
    let done = desk.run(&["check", "leaf.svg"]);
    assert_eq!((done.code, done.err.as_str()), (Some(0), ""));
    assert!(done.out.contains("2 shapes"));
    desk.put("a.job.json", job().to_string());
    let laid = desk.run(&["lay", "a.job.json", "--json"]);
    assert_eq!(laid.code, Some(0));
    let rows: Value = serde_json::from_str(&laid.out).unwrap();
    assert_eq!(rows[0]["pieces"], 2);
    for words in
        [&["frob"][..], &["check"], &["plan", "a.job.json"], &["schema", "plam"], &["lay", "--seconds"]]
    {
        let ended = desk.run(words);
        assert_eq!((ended.code, ended.out.as_str()), (Some(2), ""), "{words:?}");
    }
    for words in [&["--help"][..], &["--version"], &["schema", "job"]] {
        let ended = desk.run(words);
        assert_eq!((ended.code, ended.err.as_str()), (Some(0), ""), "{words:?}");
    }
}
