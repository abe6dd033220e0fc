//! What the signs mean, only those that occur, and a scale.

use crate::plan::{Plan, PlanCloth, PlanPass};
use crate::shape::{Bounds, Point, Region, pt};

use super::frame::{Sheet, is_straight};
use super::pen::{
    FAINT, INK, MADDER, MOSS, OCHRE, PAPER, SOFT_INK, Side, Words, line, pass_colour, rectangle,
};
use crate::write::letters;
use crate::write::xml::{El, el};

const HEIGHT: f64 = 13.5;
const ROW: f64 = 40.0;
/// Room for a sign and between entries.
const SIGN: f64 = 40.0;
const BETWEEN: f64 = 34.0;

/// The legend with its upper left corner at `at`, no wider than `width`, and its height.
pub(super) fn legend(plan: &Plan, one_way: &[bool], by_number: bool, at: Point, width: f64) -> (El, f64) {
    let mut group = el("g");
    let (mut x, mut row) = (at.x, 0.0);
    for (sign, text) in entries(plan, one_way, by_number) {
        let length = SIGN + 10.0 + letters::width(text, HEIGHT);
        if x + length > at.x + width && x > at.x {
            x = at.x;
            row += 1.0;
        }
        let middle = pt(x + SIGN / 2.0, at.y + row * ROW + ROW / 2.0);
        group = group.add(sign(middle));
        let baseline = middle + pt(SIGN / 2.0 + 10.0, HEIGHT / 2.0);
        group = group.add(Words::new(text, HEIGHT, baseline).colour(SOFT_INK).drawn());
        x += length + BETWEEN;
    }
    (group, (row + 1.0) * ROW)
}

type Entry = (Box<dyn Fn(Point) -> El>, &'static str);

fn entries(plan: &Plan, one_way: &[bool], by_number: bool) -> Vec<Entry> {
    let any_cloth = |f: &dyn Fn(&PlanCloth) -> bool| plan.cloths.iter().any(f);
    let any_pass = |f: &dyn Fn(&PlanPass) -> bool| plan.passes.iter().any(f);
    let all: [(bool, Entry); 13] = [
        (true, (Box::new(piece), "piece, as cut")),
        (true, (Box::new(drawn_edge), "drawn edge, beneath the border stitching")),
        (one_way.contains(&false), (Box::new(|p| super::pieces::sample_arrow(p, false)), "grain")),
        (
            one_way.contains(&true),
            (Box::new(|p| super::pieces::sample_arrow(p, true)), "grain, one way only"),
        ),
        (
            any_cloth(&is_straight),
            (Box::new(|p| line(p - pt(0.0, 11.0), p + pt(0.0, 11.0), INK, 4.5)), "selvedge"),
        ),
        (any_cloth(&|c| c.edge_mm > 0.0), (Box::new(strip), "edge strip, not used")),
        (any_cloth(&|c| !c.flaws.is_empty()), (Box::new(flaw), "flaw")),
        (any_cloth(&|c| !c.offcuts.is_empty()), (Box::new(offcut), "leftover worth keeping")),
        (!plan.passes.is_empty(), (Box::new(window), "reach of a pass")),
        (plan.passes.iter().any(|p| p.number > 1), (Box::new(band), "shared band, in reach of two passes")),
        (
            any_pass(&|p| !p.joints.is_empty()),
            (Box::new(|p| super::passes::joint_sign(p, pt(0.0, 1.0))), "joint"),
        ),
        (any_pass(&|p| !p.marks.is_empty()), (Box::new(super::passes::mark_sign), "mark, burnt in waste")),
        (by_number, (Box::new(number), "number: see the list in report.html")),
    ];
    all.into_iter().filter(|(shown, _)| *shown).map(|(_, entry)| entry).collect()
}

fn piece(p: Point) -> El {
    super::pieces::swatch(&Region::rectangle(Bounds::new(p - pt(15.0, 9.0), p + pt(15.0, 9.0))))
}

fn drawn_edge(p: Point) -> El {
    let thread = line(p - pt(17.0, 0.0), p + pt(17.0, 0.0), PAPER, 2.0).set("stroke-dasharray", "7 3.5");
    el("g").add(rectangle(p - pt(20.0, 9.0), 40.0, 18.0).set("fill", "#9fb0a4")).add(thread)
}

fn strip(p: Point) -> El {
    line(p - pt(17.0, 0.0), p + pt(17.0, 0.0), INK, 1.4)
        .set("stroke-dasharray", "1.5 4")
        .set("stroke-linecap", "round")
        .set("stroke-opacity", "0.6")
}

fn flaw(p: Point) -> El {
    rectangle(p - pt(15.0, 9.0), 30.0, 18.0)
        .set("fill", "url(#flaw)")
        .set("stroke", MADDER)
        .num("stroke-width", 1.6)
}

fn offcut(p: Point) -> El {
    rectangle(p - pt(16.0, 9.0), 32.0, 18.0)
        .set("fill", MOSS)
        .set("fill-opacity", "0.1")
        .set("stroke", MOSS)
        .num("stroke-width", 1.8)
        .set("stroke-dasharray", "9 4 2 4")
}

fn window(p: Point) -> El {
    rectangle(p - pt(17.0, 9.0), 34.0, 18.0)
        .num("rx", 3.0)
        .set("fill", "none")
        .set("stroke", pass_colour(1))
        .num("stroke-width", 1.8)
        .set("stroke-dasharray", "12 5")
}

fn band(p: Point) -> El {
    rectangle(p - pt(17.0, 9.0), 34.0, 18.0).set("fill", OCHRE).set("fill-opacity", "0.22")
}

fn number(p: Point) -> El {
    el("g")
        .add(rectangle(p - pt(13.0, 12.0), 26.0, 24.0).num("rx", 5.0).set("fill", PAPER).set("stroke", FAINT))
        .add(Words::new("7", HEIGHT, p + pt(0.0, HEIGHT / 2.0)).side(Side::Middle).drawn())
}

/// A scale in alternating blocks, its right end at `at`, with its length written above.
pub(in crate::write) fn scale_bar(sheet: &Sheet, at: Point) -> El {
    let block = [10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0]
        .into_iter()
        .find(|mm| mm * sheet.scale >= 46.0)
        .unwrap_or(5000.0);
    let size = block * sheet.scale;
    let mut group = el("g");
    for i in 0..4 {
        let left = at.x - size * f64::from(4 - i);
        let fill = if i % 2 == 0 { INK } else { PAPER };
        group = group.add(
            rectangle(pt(left, at.y - 6.0), size, 6.0)
                .set("fill", fill)
                .set("stroke", INK)
                .num("stroke-width", 1.2),
        );
    }
    let text = format!("{:.0} mm", block * 4.0);
    group
        .add(Words::new("0", 12.0, pt(at.x - 4.0 * size, at.y - 12.0)).colour(SOFT_INK).drawn())
        .add(Words::new(&text, 12.0, pt(at.x, at.y - 12.0)).side(Side::Right).colour(SOFT_INK).drawn())
}
