use super::*;
use crate::drawing::{Drawing, ReadOptions, parse};
use crate::say::Level;

fn page(body: &str) -> Drawing {
    let svg = format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='120mm' height='120mm' viewBox='0 0 90 90'>{body}</svg>"
    );
    parse(svg.as_bytes(), "rose.svg", &ReadOptions::default()).unwrap()
}

fn cautions(drawing: &Drawing) -> Vec<&str> {
    drawing.notes.iter().filter(|n| n.level == Level::Caution).map(|n| n.text.as_str()).collect()
}

const M: &str = "<path d='M4 4H28V10H10V36H4Z'/>";

/// What a sheet sets is what the same words set at the element itself.
#[test]
fn sheets_mean_what_is_written_at_the_elements_themselves() {
    let moved = "translate(20 10)";
    for sheet in [
        "<style>@media all{g{transform:translate(20px,10px)}}</style>",
        "<style>@media screen{@media not print{g{transform:translate(20px,10px)}}}</style>",
        "<style>:is(g){transform:translate(20px,10px)}</style>",
        "<style>g:not(.k){TRANSFORM:translate(20px,10px)}</style>",
        "<style>svg > g:nth-child(2){transform:translate(20px,10px)}</style>",
        "<style>a:nth-of-type(1), g{transform:translate(20px,10px)}</style>",
        "<style>/* g{} */ g{-webkit-transform:translate(20px,10px)}</style>",
        "<style type='text/CSS' media=' SCREEN '><![CDATA[ g{transform:translate(20px,10px)} ]]></style>",
        "<style>g{transform:translate(20px,10px) ! Important} svg g:first-of-type{transform:none}</style>",
        "<style>svg g{transform:translate(20px,10px)} g{transform:none} @media print{svg g{transform:none}}</style>",
        "<style>g{transform:translate(20px,10px)}</style><style media='print'>g{transform:none}</style>",
        "<style>g{transform:translate(20px,10px)}</style><style type='text/x-other'>g{transform:none}</style>",
    ] {
        let (a, b) = (
            page(&format!("{sheet}<g>{M}</g>")),
            page(&format!("<style>{{}}</style><g transform='{moved}'>{M}</g>")),
        );
        assert_eq!(a.elements, b.elements, "{sheet}");
        assert!(a.notes.is_empty(), "{sheet}: {:#?}", a.notes);
    }
}

#[test]
fn what_sheets_hide_is_hidden_and_what_they_shape_is_shaped() {
    for (body, same) in [
        (
            "<style>rect{OPACITY:0}</style><rect width='9' height='9'/>",
            "<rect width='9' height='9' opacity='0'/>",
        ),
        (
            "<style>.h{DISPLAY:None}</style><rect class='h' width='9' height='9'/>",
            "<rect width='9' height='9' display='none'/>",
        ),
        ("<style>rect{rx:2px;width:8px}</style><rect height='9'/>", "<rect width='8' height='9' rx='2'/>"),
        (
            "<rect width='9' height='9' style='/* ; */--k:{a;b};OPACITY:0'/>",
            "<rect width='9' height='9' opacity='0'/>",
        ),
        (
            "<rect width='9' height='9' style='cursor:url(data:x;y);display:none'/>",
            "<rect width='9' height='9' display='none'/>",
        ),
        (
            "<style>circle{fill:#fff;r:9px}</style><circle id='circle-1' cx='20' cy='20' r='5'/>",
            "<circle cx='20' cy='20' r='9' fill='#fff'/>",
        ),
    ] {
        let (a, b) = (page(body), page(same));
        assert_eq!(a.elements, b.elements, "{body}");
        assert_eq!(cautions(&a), Vec::<&str>::new(), "{body}");
    }
}

/// What CSS does not take is as if it had not been written, and what was set before stays.
#[test]
fn what_css_does_not_take_leaves_what_was_set_before() {
    let bow = "<path d='M0 0H9V9H0Z M3 3H6V6H3Z'";
    for (body, same) in [
        (format!("{bow} style='fill-rule:evenodd;fill-rule:nope'/>"), format!("{bow} fill-rule='evenodd'/>")),
        (
            "<rect width='9' height='9' style='display:none;display:off'/>".into(),
            "<rect width='9' height='9' display='none'/>".into(),
        ),
        (
            "<rect width='9' height='9' rx='2' style='rx:-4px;width:foo;height:8'/>".into(),
            "<rect width='9' height='9' rx='2'/>".into(),
        ),
        (
            "<rect width='9' height='9' style='fill:red;fill:blurple'/>".into(),
            "<rect width='9' height='9' fill='red'/>".into(),
        ),
        (
            "<g style='color:red'><rect width='9' height='9' style='fill:CurrentColor'/></g>".into(),
            "<g><rect width='9' height='9' fill='red'/></g>".into(),
        ),
        (
            "<g color='red'><rect width='9' height='9' style='fill:none;stroke:currentColor;stroke-width:6'/></g>".into(),
            "<g><rect width='9' height='9' fill='none' stroke='red' stroke-width='6'/></g>".into(),
        ),
        // A comment of the file is no part of the sheet; what stands loose spoils the rule after it.
        (
            "<style>rect{fill:red}<!-- rect{transform:scale(2)} --></style><rect width='9' height='9'/>".into(),
            "<rect width='9' height='9' fill='red'/>".into(),
        ),
        (
            "<style>rect{fill:red};rect{cursor:pointer}</style><rect width='9' height='9'/>".into(),
            "<rect width='9' height='9' fill='red'/>".into(),
        ),
        (
            "<x:style xmlns:x='urn:x'>rect{width:8px}</x:style><rect width='9' height='9'/>".into(),
            "<rect width='9' height='9'/>".into(),
        ),
    ] {
        let (a, b) = (page(&body), page(&same));
        let seen = |d: &Drawing| -> Vec<_> {
            d.elements.iter().map(|e| (e.fill.clone(), e.stroke.clone(), e.filled.clone(), e.band.clone())).collect()
        };
        assert_eq!(seen(&a), seen(&b), "{body}");
        assert_eq!(cautions(&a), Vec::<&str>::new(), "{body}");
    }
}

#[test]
fn colours_that_cannot_be_read_and_outlines_set_elsewhere_are_told() {
    for (body, part) in [
        ("<rect width='9' height='9' fill='rgb(255 none none)'/>", "fill"),
        (&format!("<style>path{{d:none}}</style>{M}"), "its d"),
        ("<style>;rect{width:8px}</style><rect width='9' height='9'/>", "; rect"),
    ] {
        let d = page(body);
        let part = part.replace("; ", ";");
        assert!(cautions(&d).iter().any(|t| t.contains(&part)), "{body}: {:#?}", d.notes);
    }
}

/// One end's marker is there though the other has none.
#[test]
fn a_marker_at_one_end_is_told() {
    let d = page(
        "<marker id='a'><path d='M0 0H3V3Z'/></marker><path d='M4 4H28V10H10V36H4Z' marker-start='url(#a)' marker-end='none'/>",
    );
    assert!(d.notes.iter().any(|n| n.text.contains("carry markers")), "{:#?}", d.notes);
}

/// Many properties, many brackets: time goes with the text's length.
#[test]
fn long_styles_are_worked_out_in_one_go() {
    let names: String = (0..100_000).map(|k| format!("x{k}:1;")).collect();
    let d = page(&format!("<g style='{names}'>{M}</g>"));
    assert_eq!(d.elements.len(), 1);
    let deep = format!("a{{{}{}}}", "(".repeat(1_000_000), "}".repeat(1_000_000));
    assert!(css::statements(&deep).len() <= 1);
}

#[test]
fn markers_set_by_a_sheet_are_told_with_their_place() {
    for sheet in ["path{marker-end:url(#a)}", "path{marker:url(#a)}", "g{marker-start:url(#a)}"] {
        let d =
            page(&format!("<style>{sheet}</style><marker id='a'><path d='M0 0H3V3Z'/></marker><g>{M}</g>"));
        assert!(d.notes.iter().any(|n| n.text.contains("carry markers")), "{sheet}: {:#?}", d.notes);
        assert!(d.losses.iter().any(|l| l.text.contains("markers")), "{sheet}");
    }
}

#[test]
fn rules_that_cannot_change_what_is_cut_are_passed_over() {
    let d = page(&format!(
        "<style>@charset 'utf-8'; @font-face{{font-family:x}} @page{{margin:0}} g:has(a){{cursor:pointer}} \
         :lang(en){{pointer-events:none}} svg{{width:100%}}</style><g style='-inkscape-x:1;mix-blend-mode:normal'>{M}</g>"
    ));
    assert!(d.notes.is_empty(), "{:#?}", d.notes);
}

#[test]
fn what_parts_of_clip_paths_ask_for_in_vain_is_told() {
    let d = page(&format!(
        "<style>circle{{rotate:30deg}}</style><clipPath id='c'><circle id='k' r='30'/></clipPath><g clip-path='url(#c)'>{M}</g>"
    ));
    assert!(cautions(&d).iter().any(|t| t.contains("k (its rotate \"30deg\")")), "{:#?}", d.notes);
}

#[test]
fn sheets_outside_the_file_are_told() {
    let svg = format!(
        "<?xml-stylesheet href='moved.css' type='text/css'?><svg xmlns='http://www.w3.org/2000/svg' width='9mm' height='9mm' \
         viewBox='0 0 90 90'>{M}</svg>"
    );
    let d = parse(svg.as_bytes(), "rose.svg", &ReadOptions::default()).unwrap();
    assert!(
        cautions(&d).iter().any(|t| t.contains("the style sheet outside the file (href='moved.css'")),
        "{:#?}",
        d.notes
    );
}

#[test]
fn lines_keep_their_numbers() {
    let d = page(
        "<style>\nrect{fill:red}</style>\n<rect width='9' height='9' style='stroke:none;\n\nOPACITY:1'/>\n<rect id='r' width='9' height='9'/>",
    );
    assert_eq!(d.elements.iter().map(|e| e.line).collect::<Vec<_>>(), [3, 6]);
    assert_eq!(d.elements[1].fill.as_deref(), Some("#ff0000"));
}

#[test]
fn too_many_style_rules_for_too_many_elements_are_refused() {
    let sheet = |rules: &str, count: usize| {
        let text = format!("<svg><style>{rules}</style>{}</svg>", "<g/>".repeat(count));
        apply(&Document::parse(&text).unwrap(), &text, "rose.svg").unwrap_err().what
    };
    assert!(sheet(&"a{}".repeat(20_000), 7000).contains("pairs of style rule and element"));
    let long = format!("g{{font-family:{}}}", "x".repeat(100_000));
    assert!(sheet(&long, 5000).contains("bytes of style once its style sheets are applied"));
}

#[test]
fn styles_are_handed_on_as_the_library_can_read_them() {
    for (style, wanted) in [
        ("fill:red;-x:1;stroke:none", "fill:red;stroke:none"),
        ("transform:translate(3px, 4px);marker-end:url(#a)", "transform:translate(3 4)"),
        ("font:bold 12px/1.5 Serif;opacity:.5", "font:bold 12px Serif;opacity:.5"),
        ("filter:drop-shadow(1px 1px rgb(1,2,3));opacity:0", "opacity:0"),
        ("stroke-width:1/2;opacity:0", "opacity:0"),
        ("fill:url(\"#a\") red;font-family:'A B'", "fill:url(\"#a\") red;font-family:'A B'"),
    ] {
        assert_eq!(for_library(style), wanted);
    }
}
