use super::*;
use crate::say::Level;
use crate::shape::pt;

const PLAIN: Mend = Mend { drawing_scale: 1.0, width_mm: None, confirmed: false };

fn stated<'a>(w: &'a str, h: &'a str, v: &'a str) -> Stated<'a> {
    let some = |t: &'a str| (!t.is_empty()).then_some(t);
    Stated { width: some(w), height: some(h), view_box: some(v), aspect: None }
}

fn page(w: &str, h: &str, v: &str, mend: Mend) -> Result<Page, Trouble> {
    Scale::read(stated(w, h, v), "rose.svg")?.page([400.0, 200.0], mend, "rose.svg")
}

/// Size of the page and of one user unit across, mm, and the level of the doubt.
fn row(w: &str, h: &str, v: &str) -> ([f64; 2], f64, Option<Level>) {
    let p = page(w, h, v, PLAIN).unwrap();
    assert!(p.notes.len() <= 1, "{:?}", p.notes);
    (
        p.size_mm.map(|s| (s * 1e6).round() / 1e6),
        (p.to_mm.0[0] * 1e6).round() / 1e6,
        p.notes.first().map(|n| n.level),
    )
}

#[test]
fn every_row_of_the_table() {
    let px = 0.264583;
    let at_96 = ([105.833333, 52.916667], px);
    let doubt = |l| (at_96.0, at_96.1, Some(l));
    // 1: physical size and viewBox.
    assert_eq!(row("200mm", "100mm", "0 0 400 200"), ([200.0, 100.0], 0.5, None));
    // 2: physical size, no viewBox.
    assert_eq!(row("200mm", "100mm", ""), ([200.0, 100.0], px, Some(Level::Advice)));
    // 3: px and viewBox.
    assert_eq!(row("400", "200px", "0 0 40 20"), (at_96.0, 2.645833, Some(Level::Caution)));
    // 4: px alone.
    assert_eq!(row("400", "200", ""), doubt(Level::Caution));
    // 5: one side and viewBox.
    assert_eq!(row("200mm", "", "0 0 400 200"), ([200.0, 100.0], 0.5, None));
    assert_eq!(row("", "200", "0 0 400 200"), doubt(Level::Caution));
    // 6: one side alone; the drawing reaches 400 × 200 px.
    assert_eq!(row("300mm", "", ""), ([300.0, 52.916667], px, Some(Level::Advice)));
    assert_eq!(row("", "200", ""), doubt(Level::Caution));
    // 7: viewBox alone, or with percentages.
    assert_eq!(row("", "", "0 0 400 200"), doubt(Level::Caution));
    assert_eq!(row("100%", "100%", "0 0 400 200"), doubt(Level::Caution));
    // 8: nothing.
    assert_eq!(row("", "", ""), doubt(Level::Caution));
}

/// Source: CSS Values and Units Module Level 3 (W3C), section 6.2, the table of absolute units.
#[test]
fn absolute_units_are_those_of_css() {
    for (one, mm) in [
        ("1in", 25.4),
        ("2.54cm", 25.4),
        ("25.4mm", 25.4),
        ("101.6q", 25.4),
        ("72pt", 25.4),
        ("6pc", 25.4),
        ("96px", 25.4),
        ("96", 25.4),
        ("1px", 0.264583),
        ("1e1MM", 10.0),
    ] {
        let l = length(one).unwrap().unwrap();
        assert!((l.mm - mm).abs() < 1e-6, "{one} is {} mm", l.mm);
    }
}

/// Legacy artwork: read at 96, a drawing made at 72 per inch comes out × 0.75 (mended by 1.3333), one made at
/// 90 × 0.9375 (mended by 1.0667). Recomputed from 1 px = 1/96 in.
#[test]
fn a_drawing_in_bare_numbers_is_questioned_with_the_other_sizes() {
    let p = page("595.28", "841.89", "", PLAIN).unwrap();
    let text = &p.notes[0].text;
    assert!(text.contains("no physical size"), "{text}");
    assert!(text.contains("157.5 × 222.75 mm"), "{text}");
    assert!(text.contains("72 per inch would be 210 × 297 mm (drawing_scale 1.3333)"), "{text}");
    assert!(text.contains("(drawing_scale 1.0667)"), "{text}");
    assert!(text.contains("At 72 per inch the page is exactly A4"), "{text}");
    let at_90 = page("744.09448", "1052.3622", "", PLAIN).unwrap();
    assert!(at_90.notes[0].text.contains("At 90 per inch the page is exactly A4"));
}

#[test]
fn the_makers_width_wins_and_ends_the_doubt() {
    let p =
        page("595.28", "841.89", "", Mend { drawing_scale: 3.0, width_mm: Some(210.0), confirmed: false })
            .unwrap();
    assert!((p.size_mm[0] - 210.0).abs() < 1e-9 && (p.size_mm[1] - 297.0).abs() < 0.01);
    assert!((p.to_mm.0[0] - 25.4 / 72.0).abs() < 1e-5);
    assert!(p.notes.is_empty());
    let scaled =
        page("200mm", "100mm", "0 0 400 200", Mend { drawing_scale: 1.5, width_mm: None, confirmed: false })
            .unwrap();
    assert_eq!(scaled.size_mm, [300.0, 150.0]);
    assert_eq!(scaled.to_mm.apply(pt(400.0, 0.0)), pt(300.0, 150.0));
}

#[test]
fn a_page_of_other_proportions_is_fitted_as_the_file_says_and_said() {
    let mut s = stated("200mm", "200mm", "0 0 400 200");
    let corner = |s: Stated, x, y| {
        let p = Scale::read(s, "rose.svg").unwrap().page([0.0; 2], PLAIN, "rose.svg").unwrap();
        assert!(p.notes[0].text.contains("other proportions"), "{:?}", p.notes);
        p.to_mm.apply(pt(x, y))
    };
    assert_eq!(corner(s, 0.0, 0.0), pt(0.0, 150.0));
    s.aspect = Some("xMidYMin meet");
    assert_eq!(corner(s, 0.0, 0.0), pt(0.0, 200.0));
    s.aspect = Some("xMaxYMax slice");
    assert_eq!(corner(s, 400.0, 200.0), pt(200.0, 0.0));
    s.aspect = Some("none");
    assert_eq!(corner(s, 400.0, 200.0), pt(200.0, 0.0));
    assert_eq!(corner(s, 0.0, 0.0), pt(0.0, 200.0));
    s.view_box = Some("-100 50 400 200");
    assert_eq!(corner(s, -100.0, 250.0), pt(0.0, 0.0));
    s.aspect = Some("sideways");
    assert!(Scale::read(s, "rose.svg").is_err());
}

#[test]
fn pages_that_are_none_are_refused_by_name() {
    for (w, h, v, told) in [
        ("0", "100", "", "width is 0"),
        ("-5mm", "100", "", "width is -5mm"),
        ("1e300mm", "1mm", "", "width is 1e300mm"),
        ("nanmm", "1mm", "", "\"nanmm\" is not a length"),
        ("10em", "1mm", "", "the unit \"em\""),
        ("10parsec", "1mm", "", "the unit \"parsec\""),
        ("1mm", "1mm", "0 0 0 5", "viewBox"),
        ("1mm", "1mm", "0 0 5", "viewBox"),
        ("1mm", "1mm", "0 0 NaN 5", "viewBox"),
        ("1mm", "1mm", "0 0 1e300 5", "viewBox"),
    ] {
        let t = page(w, h, v, PLAIN).unwrap_err();
        assert!(t.what.contains(told), "{w} {h} {v}: {}", t.what);
        assert_eq!(t.exit_code(), 2);
    }
    let empty = Scale::read(Stated::default(), "rose.svg").unwrap();
    assert!(empty.page([0.0, 0.0], PLAIN, "rose.svg").unwrap_err().what.contains("0 × 0 mm"));
}
