use std::f64::consts::PI;

use super::*;
use crate::drawing::Element;
use crate::say::{Level, Note};
use crate::shape::{Bounds, Region, pt};

fn fixture(name: &str) -> Drawing {
    fixture_with(name, &ReadOptions::default()).unwrap()
}

fn fixture_with(name: &str, options: &ReadOptions) -> Result<Drawing, Trouble> {
    read(&Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/drawing").join(name), options)
}

fn of(text: &str) -> Result<Drawing, Trouble> {
    parse(text.as_bytes(), "rose.svg", &ReadOptions::default())
}

/// A 100 mm square page, one unit a millimetre, with `body` on it.
fn page(body: &str) -> Drawing {
    of(&format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"100mm\" height=\"100mm\" viewBox=\"0 0 100 100\">{body}</svg>"
    ))
    .unwrap()
}

fn element<'a>(d: &'a Drawing, id: &str) -> &'a Element {
    d.elements.iter().find(|e| e.id == id).unwrap_or_else(|| panic!("no {id} in {:?}", ids(d)))
}

fn ids(d: &Drawing) -> Vec<&str> {
    d.elements.iter().map(|e| e.id.as_str()).collect()
}

fn area(regions: &[Region]) -> f64 {
    regions.iter().map(Region::area).sum()
}

fn note<'a>(d: &'a Drawing, words: &str) -> &'a Note {
    d.notes
        .iter()
        .find(|n| n.text.contains(words))
        .unwrap_or_else(|| panic!("no \"{words}\" in {:#?}", d.notes))
}

fn close(found: f64, wanted: f64, within: f64) {
    assert!((found - wanted).abs() <= within, "{found} is not {wanted} ± {within}");
}

fn boxed(e: &Element) -> Bounds {
    e.filled.iter().map(Region::bounds).fold(Bounds::EMPTY, Bounds::union)
}

#[test]
fn millimetres_are_true_and_y_points_up() {
    let d = fixture("page-in-millimetres-with-viewbox.svg");
    assert_eq!((d.page_mm, d.notes.len()), ([200.0, 100.0], 0));
    let bar = element(&d, "bar");
    assert_eq!(boxed(bar), Bounds::new(pt(10.0, 70.0), pt(110.0, 90.0)));
    assert_eq!((bar.fill.as_deref(), bar.line), (Some("#2f5d50"), 2));
    assert!(bar.subpaths[0].closed && bar.subpaths[0].points.len() == 4);
}

#[test]
fn every_fixture_of_the_scale_table_comes_out_true_or_questioned() {
    let d = fixture("page-in-points-without-viewbox.svg");
    close(boxed(element(&d, "bar")).width(), 25.4, 1e-5);
    assert_eq!(note(&d, "no viewBox").level, Level::Advice);

    let d = fixture("page-in-bare-pixels-drawn-at-72-per-inch.svg");
    close(boxed(element(&d, "inch")).width(), 19.05, 1e-5);
    assert_eq!(note(&d, "At 72 per inch the page is exactly A4").level, Level::Caution);
    for mended in [
        ReadOptions { drawing_scale: 96.0 / 72.0, ..ReadOptions::default() },
        ReadOptions { width_mm: Some(595.28 * 25.4 / 72.0), ..ReadOptions::default() },
    ] {
        let d = fixture_with("page-in-bare-pixels-drawn-at-72-per-inch.svg", &mended).unwrap();
        close(boxed(element(&d, "inch")).width(), 25.4, 1e-5);
        assert!(d.notes.iter().all(|n| n.level == Level::Advice));
    }

    let d = fixture("page-without-any-size.svg");
    close(d.page_mm[0], 50.8, 1e-4);
    close(boxed(element(&d, "inch")).min.y, 0.0, 1e-4);
    note(&d, "no physical size");

    let d = fixture("page-wider-than-its-viewbox.svg");
    assert_eq!(boxed(element(&d, "square")), Bounds::new(pt(100.0, 0.0), pt(200.0, 100.0)));
    note(&d, "other proportions");

    let told = |name| fixture_with(name, &ReadOptions::default()).unwrap_err().what;
    assert!(told("page-in-an-unknown-unit.svg").contains("the unit \"ells\""));
    assert!(told("page-of-no-size.svg").contains("width is 0mm"));
}

#[test]
fn layers_and_labels_survive_and_groups_turn_their_shapes() {
    let d = fixture("layers-by-id-and-label-with-turned-groups.svg");
    let wave = element(&d, "wave");
    assert_eq!(wave.layers, ["layer1", "waves", "the river", "upper"]);
    let b = boxed(wave);
    close(
        crate::shape::distance(b.min, pt(0.0, 70.0)) + crate::shape::distance(b.max, pt(10.0, 90.0)),
        0.0,
        1e-9,
    );
    assert_eq!(wave.fill.as_deref(), Some("#112233"));
    let crest = element(&d, "path-1");
    assert_eq!((crest.layers.last().unwrap().as_str(), crest.line), ("crest", 6));
    assert_eq!(crest.fill.as_deref(), Some("#2f4f4f"));
}

#[test]
fn copies_carry_the_id_of_their_use_and_the_layers_round_it() {
    let d = fixture("copies-of-one-leaf-by-use.svg");
    assert_eq!(ids(&d), ["leaf", "second-leaf", "use-2", "third", "third", "rosebud"]);
    assert_eq!(boxed(element(&d, "second-leaf")).min, pt(20.0, 45.0));
    close(area(&element(&d, "use-2").filled), 100.0, 1e-6);
    assert_eq!(element(&d, "third").layers, ["twig"]);
    close(area(&element(&d, "rosebud").filled), 400.0, 1e-4);
    assert!(d.notes.is_empty(), "{:#?}", d.notes);
}

#[test]
fn fill_rules_are_followed_and_islands_come_in_order() {
    let d = fixture("fill-rules-and-islands-of-one-path.svg");
    let corners: Vec<_> = element(&d, "islands").filled.iter().map(|r| r.bounds().min).collect();
    assert_eq!(corners.len(), 3);
    for (found, wanted) in corners.iter().zip([pt(10.0, 20.0), pt(10.0, 70.0), pt(100.0, 70.0)]) {
        close(crate::shape::distance(*found, wanted), 0.0, 1e-6);
    }
    close(area(&element(&d, "frame").filled), 1200.0, 1e-6);
    assert_eq!(element(&d, "frame").filled[0].cutouts.len(), 1);
    close(area(&element(&d, "full").filled), 1600.0, 1e-6);
}

#[test]
fn strokes_become_bands_of_their_width() {
    let d = fixture("strokes-as-bands.svg");
    close(area(&element(&d, "butt").band), 600.0, 1e-6);
    close(area(&element(&d, "round").band), 600.0 + PI * 9.0, 0.2);
    close(element(&d, "uneven").band[0].bounds().height(), 6.0, 1e-5);
    let ring = element(&d, "ring");
    close(area(&ring.band), 44.0 * 44.0 - 36.0 * 36.0, 1e-5);
    assert_eq!((ring.fill.as_deref(), ring.stroke.as_deref()), (None, Some("#aa0000")));
    close(area(&element(&d, "dashed").band), 400.0, 1e-6);
    note(&d, "dashed");
    let hair = element(&d, "hairline");
    assert_eq!((hair.band.len(), hair.stroke.as_deref()), (0, Some("#0000aa")));
    note(&d, "no width");
}

#[test]
fn small_gaps_are_closed_and_said_and_wide_ones_kept() {
    let d = fixture("outlines-left-open-by-small-and-wide-gaps.svg");
    let sub = |id| &element(&d, id).subpaths[0];
    assert!(sub("nearly").closed && (sub("nearly").gap_mm - 0.3).abs() < 1e-4);
    assert!(note(&d, "small gap").text.contains("nearly (gap 0.30 mm)"));
    assert!(!sub("wide").closed && (sub("wide").gap_mm - 5.0).abs() < 1e-4);
    assert!(sub("meets").closed && sub("meets").gap_mm == 0.0 && sub("meets").points.len() == 4);
    close(area(&element(&d, "wide").filled), 400.0, 1e-4);
}

#[test]
fn what_cannot_be_cut_is_named_and_the_rest_is_kept() {
    let d = fixture("things-that-cannot-be-cut.svg");
    assert_eq!(ids(&d), ["faded", "dotted", "veiled", "blurred", "arrowed"]);
    for (words, names) in [
        ("pictures", "photo"),
        ("text without outlines", "motto (font Nowhere Grotesk)"),
        ("not shapes", "page (foreignObject)"),
        ("gradient", "faded"),
        ("filled with a pattern", "dotted"),
        ("masked", "veiled"),
        ("filter", "blurred"),
        ("hidden and", "gone, ghosts (2 shapes), unseen, clear"),
        ("neither fill nor stroke", "unpainted"),
        ("no size or", "flat (no size), dot (a single point)"),
        ("markers", "arrowed"),
        ("copy something", "orphan"),
        ("cannot be read", "broken (line 25: a number was expected at character 16)"),
        ("cannot be read", "sized-in-ems (line 26: its width \"3em\" has the unit \"em\""),
        (
            "cannot be read",
            "askew (line 27, 1 shape inside: its transform \"rotate(quarter)\" holds something",
        ),
    ] {
        let text = &note(&d, words).text;
        assert!(text.contains(names), "{words}: {text}");
    }
    assert_eq!(element(&d, "faded").fill, None);
    close(area(&element(&d, "faded").filled), 100.0, 1e-5);
}

/// What is lost is flagged where it would be seen, whatever copies and turns it.
#[test]
fn what_is_lost_is_told_where_it_stands() {
    let d = page(
        "<image id='photo' x='10' y='20' width='30' height='10' href='a.png'/>\
         <g id='m' transform='translate(50 50)'><foreignObject id='page' width='20' height='10'/></g>\
         <symbol id='s' viewBox='0 0 10 10'><image id='seal' width='10' height='5' href='b.png'/></symbol>\
         <use id='sealed' href='#s' width='20' height='20' transform='translate(80 70) rotate(90)'/>\
         <text id='motto' x='5' y='95' font-size='8' font-family='Nowhere Grotesk'>Motto</text>\
         <use id='orphan' href='#nothing' x='70' y='10'/>\
         <rect id='unseen' x='1' y='2' width='4' height='6' visibility='hidden'/>\
         <rect id='leaf' width='5' height='5' fill='#123456'/>\
         <clipPath id='c'><image width='9' height='9'/><rect width='3' height='3'/></clipPath>\
         <rect id='cut' width='5' height='5' clip-path='url(#c)'/>",
    );
    assert_eq!(ids(&d), ["leaf", "cut"]);
    let found: Vec<_> = d.losses.iter().map(|l| (l.id.as_str(), l.level, l.beneath)).collect();
    let (caution, advice) = (Level::Caution, Level::Advice);
    assert_eq!(
        found,
        [
            ("photo", caution, 0),
            ("page", advice, 0),
            ("sealed", caution, 0),
            ("orphan", caution, 0),
            ("unseen", advice, 0),
            ("motto", caution, 2)
        ]
    );
    let bounds = |id: &str| d.losses.iter().find(|l| l.id == id).unwrap().bounds;
    for (id, wanted) in [
        ("photo", Bounds::new(pt(10.0, 70.0), pt(40.0, 80.0))),
        ("page", Bounds::new(pt(50.0, 40.0), pt(70.0, 50.0))),
        ("sealed", Bounds::new(pt(70.0, 10.0), pt(80.0, 30.0))),
        ("unseen", Bounds::new(pt(1.0, 92.0), pt(5.0, 98.0))),
    ] {
        let b = bounds(id);
        close(
            crate::shape::distance(b.min, wanted.min) + crate::shape::distance(b.max, wanted.max),
            0.0,
            1e-4,
        );
    }
    assert!(bounds("orphan").contains(pt(70.5, 89.5)) && bounds("motto").contains(pt(15.0, 8.0)));
    close(area(&element(&d, "cut").filled), 9.0, 1e-6);
    assert!(note(&d, "are pictures").text.contains("photo, seal"));
}

/// SVG 2, sections 5.5, 5.6 and 8.2: the copy of a symbol is cut by the viewport in the copy's own space, and
/// its transform counts once.
#[test]
fn copied_symbols_are_moved_once_and_cut_in_their_own_viewport() {
    let d = page(
        "<symbol id='s'><rect x='10' y='10' width='80' height='80'/></symbol>\
         <symbol id='all' overflow='visible'><rect x='10' y='10' width='80' height='80'/></symbol>\
         <use id='moved' href='#s' width='50' height='50' transform='translate(0 50)'/>\
         <use id='scaled' href='#s' width='50' height='50' transform='scale(.5)'/>\
         <use id='shown' href='#all' width='50' height='50' transform='scale(.5)'/>",
    );
    for (id, wanted) in [
        ("moved", Bounds::new(pt(10.0, 0.0), pt(50.0, 40.0))),
        ("scaled", Bounds::new(pt(5.0, 75.0), pt(25.0, 95.0))),
        ("shown", Bounds::new(pt(5.0, 55.0), pt(45.0, 95.0))),
    ] {
        let b = boxed(element(&d, id));
        close(
            crate::shape::distance(b.min, wanted.min) + crate::shape::distance(b.max, wanted.max),
            0.0,
            1e-4,
        );
    }
}

#[test]
fn a_viewport_of_no_size_shows_nothing_and_is_named() {
    let d = page(
        "<symbol id='s' viewBox='0 0 9 9'><rect width='5' height='5'/></symbol>\
         <use id='none' href='#s' width='0' height='20'/><svg id='flat' width='20' height='0mm'><rect width='5' height='5'/></svg>\
         <g id='m'><rect id='r' width='5' height='5'/></g><use id='free' href='#m' width='0' x='30'/>",
    );
    assert_eq!(ids(&d), ["r", "free"]);
    let text = &note(&d, "have no size").text;
    assert!(text.contains("none (no size), flat (no size)"), "{text}");
}

#[test]
fn clip_paths_cut_shapes_down() {
    let d = fixture("clip-path-cuts-a-shape.svg");
    assert_eq!(ids(&d), ["seen", "inside", "halved"]);
    let seen = element(&d, "seen");
    close(area(&seen.filled), PI * 400.0 / 2.0, 2.0);
    assert!(seen.subpaths.len() == 1 && seen.subpaths[0].points.len() > 8);
    assert_eq!(boxed(element(&d, "halved")).width(), 10.0);
    assert_eq!(note(&d, "cut down by a clip path").text.matches("inside").count(), 0);
    assert!(note(&d, "outside their clip path").text.contains("outside."));
}

#[test]
fn shapes_that_share_an_id_are_both_kept_with_their_own_lines() {
    let d = fixture("shapes-that-share-an-id.svg");
    assert_eq!(d.elements.iter().map(|e| e.line).collect::<Vec<_>>(), [2, 3]);
    assert!(
        note(&d, "several shapes share").text.contains("share; ")
            && note(&d, "several").text.ends_with(": a.")
    );
}

#[test]
fn other_files_are_never_opened_and_harmless_entities_pass() {
    let t = fixture_with("external-entity.svg", &ReadOptions::default()).unwrap_err();
    assert!(t.what.contains("stands for another file"), "{t}");
    let d = fixture("entities-as-editors-write-them.svg");
    assert_eq!(element(&d, "a").fill.as_deref(), Some("#123456"));
}

/// A circle of 900 mm from a drawing of two units: within the chord error of the true circle.
#[test]
fn a_large_circle_stays_true() {
    let d = fixture("a-large-circle-stays-true.svg");
    for id in ["moon", "arc"] {
        let ring = &element(&d, id).filled[0].outline;
        let worst = ring
            .sides()
            .filter(|(a, b)| id == "moon" || (a.y > 1000.5 || b.y > 1000.5))
            .map(|(a, b)| (crate::shape::distance((a + b) / 2.0, pt(1000.0, 1000.0)) - 900.0).abs())
            .fold(0.0, f64::max);
        assert!(worst <= tol::CHORD_MM + 0.001, "{id}: {worst}");
    }
}

#[test]
fn style_sheets_and_inherited_paint_are_followed() {
    let d = page(
        "<style>.sea{fill:#0055aa} circle{fill:#fff;stroke:none} g>rect:first-child{fill:teal}</style>\
         <path class='sea' id='p' d='M0 0h9v9z'/><circle id='c' cx='50' cy='50' r='5'/>\
         <g fill='#f00'><rect id='r' width='9' height='9'/><rect id='s' x='20' width='9' height='9'/></g>",
    );
    let fills: Vec<_> = d.elements.iter().map(|e| e.fill.as_deref().unwrap()).collect();
    assert_eq!(fills, ["#0055aa", "#ffffff", "#008080", "#ff0000"]);
}

#[test]
fn a_straight_line_shows_no_fill() {
    let d = page("<path id='l' d='M0 0h50' stroke='#00f' stroke-width='2'/>");
    assert_eq!((d.elements[0].fill.as_deref(), d.elements[0].filled.len()), (None, 0));
}

#[test]
fn text_with_a_font_of_the_machine_becomes_outlines_and_is_said() {
    let mut fonts = usvg::fontdb::Database::new();
    fonts.load_system_fonts();
    let family = fonts.faces().find_map(|f| f.families.first().map(|(name, _)| name.clone()));
    let d =
        page(&format!("<text id='t' y='50' font-family='{}'>I</text>", family.as_deref().unwrap_or("none")));
    match d.elements.first() {
        Some(e) => {
            assert!(e.id == "t" && area(&e.filled) > 0.1);
            note(&d, "a font of this machine");
        }
        // A machine without fonts, or whose first font lacks the letter: the text is named.
        None => assert!(note(&d, "text without outlines").text.contains("t (font")),
    }
}

#[test]
fn bad_files_end_in_one_clear_error() {
    let deep = format!(
        "<svg xmlns='http://www.w3.org/2000/svg'>{}{}</svg>",
        "<g>".repeat(9000),
        "</g>".repeat(9000)
    );
    let big = vec![b' '; crate::drawing::limits::MAX_BYTES + 1];
    let cases: Vec<(&str, Vec<u8>, &str)> = vec![
        ("empty", vec![], "the file is empty"),
        ("blank", b" \n\t".to_vec(), "the file is empty"),
        ("truncated", b"<svg xmlns='http://www.w3.org/2000/svg'><path d='M0".to_vec(), "not well-formed XML"),
        ("binary", vec![0x00, 0xff, 0x13, 0x37, 0x99], "not UTF-8"),
        ("zero bytes", b"<svg>\0</svg>".to_vec(), "zero bytes"),
        ("png", b"\x89PNG\r\n\x1a\n".to_vec(), "a PNG picture"),
        ("pdf", b"%PDF-1.7".to_vec(), "a PDF"),
        ("html", b"<html><body/></html>".to_vec(), "outermost element is <html>"),
        ("other namespace", b"<svg xmlns='urn:other'/>".to_vec(), "no SVG drawing"),
        ("broken gzip", vec![0x1f, 0x8b, 8, 0, 1, 2, 3], "gzip"),
        ("deep", deep.into_bytes(), "9001 levels of nested groups; the limit is 200"),
        ("big", big, "too large"),
    ];
    for (name, bytes, told) in cases {
        let t = parse(&bytes, "rose.svg", &ReadOptions::default()).unwrap_err();
        assert!(t.what.contains(told), "{name}: {}", t.what);
        assert_eq!((t.exit_code(), t.about.as_str()), (2, "rose.svg"), "{name}");
    }
    let t = read(Path::new("no-such-drawing.svg"), &ReadOptions::default()).unwrap_err();
    assert!(t.what.contains("no such file") && t.exit_code() == 2);
    let t = read(Path::new("src"), &ReadOptions::default()).unwrap_err();
    assert!(t.what.contains("folder"), "{}", t.what);
}

#[test]
fn a_gzip_bomb_is_stopped_at_the_limit() {
    use std::io::Write;
    let mut packed = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    let zeros = vec![b' '; 1 << 20];
    for _ in 0..40 {
        packed.write_all(&zeros).unwrap();
    }
    let t = parse(&packed.finish().unwrap(), "rose.svgz", &ReadOptions::default()).unwrap_err();
    assert!(t.what.contains("unpacked it holds more"), "{}", t.what);

    let mut packed = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    packed
        .write_all(
            b"<svg width='9mm' height='9mm' viewBox='0 0 9 9'><rect id='a' width='3' height='3'/></svg>",
        )
        .unwrap();
    let d = parse(&packed.finish().unwrap(), "rose.svgz", &ReadOptions::default()).unwrap();
    assert_eq!(ids(&d), ["a"]);
}

#[test]
fn wild_numbers_are_named_and_never_crash() {
    let d = page(
        "<path id='a' d='M0 0 L1e300 1 L5 5z'/><path id='b' d='M0 0 L NaN 1z'/><path id='c' d='M0 0L1e5 1L5 5z' transform='scale(1e4)'/>\
         <rect id='d' width='1e300' height='1'/><rect id='e' width='nan' height='1'/><g transform='scale(1e30)'><rect id='f' width='1' height='1'/></g>\
         <path id='g' d='M1 1h1v1z' transform='scale(0)'/><path id='h' d='M1 1h1v1z' stroke='#000' stroke-width='1e30'/>\
         <rect id='i' width='5' height='5' fill='#123456'/>",
    );
    let all: String = d.notes.iter().map(|n| n.text.as_str()).collect();
    for id in
        ["a (line 1", "b (line 1", "d (line 1", "e (line 1", "g-1 (line 1, 1 shape inside", " g.", " c."]
    {
        assert!(all.contains(id), "{id}: {all}");
    }
    assert_eq!(ids(&d), ["i"]);
}

#[test]
fn options_that_make_no_sense_are_refused() {
    for bad in [
        ReadOptions { drawing_scale: 0.0, ..ReadOptions::default() },
        ReadOptions { drawing_scale: f64::NAN, ..ReadOptions::default() },
        ReadOptions { width_mm: Some(-3.0), ..ReadOptions::default() },
        ReadOptions { chord_mm: 0.0, ..ReadOptions::default() },
        ReadOptions { chord_mm: f64::INFINITY, ..ReadOptions::default() },
    ] {
        assert_eq!(parse(b"<svg/>", "rose.svg", &bad).unwrap_err().exit_code(), 2, "{bad:?}");
    }
}

#[test]
fn the_deepest_drawing_allowed_is_read() {
    let n = crate::drawing::limits::MAX_DEPTH - 2;
    let d = page(&format!("{}<rect id='a' width='5' height='5'/>{}", "<g>".repeat(n), "</g>".repeat(n)));
    assert_eq!(ids(&d), ["a"]);
}

#[test]
fn the_same_bytes_give_the_same_drawing() {
    for name in
        ["things-that-cannot-be-cut.svg", "copies-of-one-leaf-by-use.svg", "clip-path-cuts-a-shape.svg"]
    {
        assert_eq!(fixture(name), fixture(name));
    }
}

/// A scribble of a hundred thousand random lines has billions of crossings.
#[test]
fn a_hopeless_scribble_is_named_in_short_time() {
    let mut d = "M0 0".to_owned();
    let mut seed = 7u64;
    for _ in 0..60_000 {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        d += &format!("L{} {}", (seed >> 40) % 100, (seed >> 20) % 100);
    }
    let d = page(&format!("<path id='scribble' d='{d}'/><rect id='a' width='5' height='5'/>"));
    assert_eq!(ids(&d), ["a"]);
    assert!(note(&d, "cross or cover themselves").text.contains("scribble"));
}

/// Each level is clipped by the one before, and so is its only shape: worked out anew each time, every level would
/// double the work.
#[test]
fn clip_paths_that_cut_each_other_are_worked_out_once() {
    let chain = |levels: usize, turned: bool| {
        let mut text = "<clipPath id='c0'><rect width='60' height='60'/></clipPath>".to_owned();
        for i in 1..=levels {
            let by = i - 1;
            let turn = if turned { i } else { 0 };
            text += &format!(
                "<clipPath id='c{i}' clip-path='url(#c{by})' transform='rotate({turn})'>\
                 <rect width='70' height='50' clip-path='url(#c{by})'/></clipPath>"
            );
        }
        let body = format!("{text}<rect id='r' width='90' height='90' clip-path='url(#c{levels})'/>");
        of(&format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"100mm\" height=\"100mm\" viewBox=\"0 0 100 100\">{body}</svg>"
        ))
    };
    let start = std::time::Instant::now();
    close(area(&element(&chain(17, false).unwrap(), "r").filled), 3000.0, 1e-6);
    let told = chain(17, true).unwrap_err().what;
    assert!(told.contains("clip paths within its clip paths pass 20000"), "{told}");
    let told = chain(40, false).unwrap_err().what;
    assert!(told.contains("elements once its clip paths are written out"), "{told}");
    assert!(start.elapsed().as_secs() < 40);
}

#[test]
fn copies_of_less_than_no_size_draw_nothing_and_are_told() {
    let d = page(
        "<symbol id=\"m\" viewBox=\"0 0 9 9\"><rect width=\"9\" height=\"9\"/></symbol>\
         <use id=\"u\" href=\"#m\" width=\"-40\" height=\"40\"/><svg id=\"s\" width=\"9\" height=\"-1\"><rect width=\"9\" height=\"9\"/></svg>",
    );
    assert!(d.elements.is_empty());
    assert!(note(&d, "have no size").text.contains("u (no size), s (no size)"));
}

#[test]
fn filters_are_told_by_what_they_do_to_the_outline() {
    let with = |primitives: &str| {
        let d = page(&format!(
            "<filter id=\"f\">{primitives}</filter><rect width=\"9\" height=\"9\" filter=\"url(#f)\"/>"
        ));
        d.notes.iter().any(|n| n.level == Level::Caution && n.text.contains("filter that moves"))
    };
    for kept in [
        "<feGaussianBlur stdDeviation=\"1\"/>",
        "<feGaussianBlur in=\"SourceAlpha\" stdDeviation=\"1\"/><feOffset dx=\"2\" result=\"o\"/><feMerge><feMergeNode in=\"o\"/><feMergeNode in=\"SourceGraphic\"/></feMerge>",
        "<feDropShadow dx=\"9\" dy=\"9\"/>",
        "<feColorMatrix type=\"saturate\" values=\"0\"/>",
        "<feFlood flood-color=\"red\"/><feComposite in2=\"SourceGraphic\" operator=\"in\"/>",
    ] {
        assert!(!with(kept), "{kept}");
    }
    for changed in [
        "<feOffset dx=\"20\" dy=\"20\"/>",
        "<feMorphology radius=\"1\" operator=\"dilate\"/>",
        "<feFlood flood-color=\"red\"/>",
        "<feColorMatrix values=\"1 0 0 0 0 0 1 0 0 0 0 0 1 0 0 0 0 0 0 1\"/>",
        "<feComponentTransfer><feFuncA type=\"table\" tableValues=\"1 0\"/></feComponentTransfer>",
        "<feFlood flood-color=\"red\"/><feComposite in2=\"SourceGraphic\" operator=\"out\"/>",
        "<feGaussianBlur stdDeviation=\"1\" x=\"0\" y=\"0\" width=\"3\" height=\"9\"/>",
    ] {
        assert!(with(changed), "{changed}");
    }
}
