use super::labels::{Callout, place};
use super::*;
use crate::drawing::faults::FaultKind;
use crate::drawing::{Drawing, Subpath};
use proptest::prelude::*;

fn leaf() -> Element {
    let points = vec![pt(10.0, 10.0), pt(90.0, 20.0), pt(50.0, 60.0)];
    Element {
        id: "leaf".into(),
        line: 3,
        layers: vec![],
        fill: Some("#204060".into()),
        stroke: None,
        filled: vec![crate::shape::Region::new(Ring { points: points.clone() }, vec![])],
        subpaths: vec![Subpath { points, closed: true, gap_mm: 0.0 }],
        band: vec![],
    }
}

fn fault(x: f64, y: f64, severity: Severity) -> Fault {
    Fault {
        kind: FaultKind::Neck,
        element: "leaf".into(),
        stacking: 0,
        line: 3,
        at: pt(x, y),
        size_mm: 1.5,
        severity,
        text: "A neck 1.50 mm wide, narrower than 3 mm.".into(),
        advice: "Widen it.".into(),
        more: 0,
        also: vec![],
    }
}

fn drawing() -> Drawing {
    Drawing {
        page_mm: [200.0, 100.0],
        elements: vec![leaf()],
        notes: vec![],
        losses: Vec::new(),
        measured: true,
    }
}

fn circles(svg: &str, pen: &str) -> Vec<(f64, f64)> {
    let doc = usvg::roxmltree::Document::parse(svg).unwrap();
    let number = |n: &usvg::roxmltree::Node, a: &str| n.attribute(a).unwrap().parse::<f64>().unwrap();
    doc.descendants()
        .filter(|n| n.has_tag_name("circle") && n.attribute("stroke-width") == Some(pen))
        .map(|n| (number(&n, "cx"), number(&n, "cy")))
        .collect()
}

#[test]
fn a_fault_is_circled_where_it_is() {
    let svg = check_picture("leaf.svg", &drawing(), &[fault(10.0, 10.0, Severity::Mend)]);
    // The leaf's lower left corner on the picture, read from the picture itself.
    let doc = usvg::roxmltree::Document::parse(&svg).unwrap();
    let d = doc
        .descendants()
        .find_map(|n| n.attribute("d").filter(|_| n.attribute("fill-rule").is_some()))
        .unwrap();
    let first: Vec<f64> = d[1..d.find('L').unwrap()].split(' ').map(|v| v.parse().unwrap()).collect();
    assert_eq!(circles(&svg, "0.55"), [(first[0], first[1])]);
    // 200 mm of page and a margin of 2 % a side fill the 190 mm of room.
    let last: Vec<f64> = d[d.find('L').unwrap() + 1..]
        .split(['L', 'Z'])
        .next()
        .unwrap()
        .split(' ')
        .map(|v| v.parse().unwrap())
        .collect();
    assert!((last[0] - first[0] - 80.0 * 190.0 / 208.0).abs() < 0.002);
    assert!(last[1] < first[1], "up in the drawing is up in the picture");
}

#[test]
fn the_picture_needs_no_font_and_is_the_same_twice() {
    let faults = [fault(10.0, 10.0, Severity::Stops), fault(50.0, 40.0, Severity::Note)];
    let svg = check_picture("leaf.svg", &drawing(), &faults);
    assert!(!svg.contains("<text") && !svg.contains("font"), "text is drawn in strokes");
    assert_eq!(svg, check_picture("leaf.svg", &drawing(), &faults));
    let png = check_png("leaf.svg", &drawing(), &faults).unwrap();
    assert_eq!(png, check_png("leaf.svg", &drawing(), &faults).unwrap());
    assert!(png.starts_with(b"\x89PNG"));
}

#[test]
fn of_very_many_faults_the_gravest_are_numbered_and_all_are_circled() {
    let mut faults: Vec<Fault> = (0..100).map(|k| fault(f64::from(k) * 2.0, 50.0, Severity::Note)).collect();
    faults.push(fault(100.0, 80.0, Severity::Stops));
    let svg = check_picture("leaf.svg", &drawing(), &faults);
    assert_eq!(circles(&svg, "0.55").len(), 60);
    assert_eq!(circles(&svg, "0.3").len(), 41);
    let stop = circles(&check_picture("leaf.svg", &drawing(), &faults[100..]), "0.55")[0];
    assert!(circles(&svg, "0.55").contains(&stop), "the one that stops has its number");
}

#[test]
fn an_empty_drawing_without_a_page_makes_a_picture() {
    let nothing = Drawing {
        page_mm: [0.0, f64::NAN],
        elements: vec![],
        notes: vec![],
        losses: Vec::new(),
        measured: true,
    };
    assert!(check_png("nothing.svg", &nothing, &[]).is_ok());
    let mut wild = fault(f64::NAN, f64::INFINITY, Severity::Note);
    wild.size_mm = f64::NAN;
    assert!(check_png("nothing.svg", &nothing, &[wild]).is_ok());
}

proptest! {
    #[test]
    fn labels_never_lie_on_each_other(at in prop::collection::vec((0.0..190.0f64, 0.0..120.0f64), 1..60)) {
        let callouts: Vec<Callout> = at
            .iter()
            .enumerate()
            .map(|(i, &(x, y))| Callout { number: i + 1, at: pt(x, y), radius: 1.8, words: "doubled outline".into() })
            .collect();
        let room = Bounds::new(pt(0.0, 0.0), pt(190.0, 120.0));
        let labels: Vec<_> = place(&callouts, &[], room).into_iter().flatten().collect();
        for (i, a) in labels.iter().enumerate() {
            prop_assert!(room.holds(a.bounds));
            for b in &labels[..i] {
                prop_assert!(!a.bounds.meets(b.bounds), "{:?} {:?}", a, b);
            }
        }
        prop_assert!(labels.len() * 10 >= callouts.len() * 8, "{} of {} found room", labels.len(), callouts.len());
    }
}
