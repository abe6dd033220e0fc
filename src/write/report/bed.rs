//! A pass as it lies on the bed, small.

use crate::job::Cutter;
use crate::plan::{Pair, Plan, PlanPass};
use crate::shape::{Affine, Bounds, Point, Ring, pt, thinned};

use crate::write::colours::{LineKind, hex};
use crate::write::lay_picture::{Sheet, pen};
use crate::write::letters;
use crate::write::sheets::labels;
use crate::write::xml::{El, el, picture};
use pen::{FAINT, INK, PAPER, SOFT_INK, Side, Words, line, line_data, rectangle, rings_data};

const WIDEST: f64 = 560.0;
const HIGHEST: f64 = 460.0;
const PAD: f64 = 30.0;
const BELOW: f64 = 34.0;

/// Lines may leave out points no farther off than this while room for names is looked for.
const FLAT: f64 = 0.3;

/// The bed seen from above, the maker at its lower edge: cloth, burns, marks, key.
pub(super) fn bed(plan: &Plan, pass: &PlanPass, cutter: &Cutter) -> String {
    let whole = Bounds::new(pt(0.0, 0.0), pt(pass.bed_mm[0], pass.bed_mm[1]));
    let sheet = Sheet::fitting(whole, WIDEST, HIGHEST, 4.0).at_corner(pt(PAD, PAD));
    let (width, height) = (sheet.width() + 2.0 * PAD, sheet.height() + PAD + BELOW);
    let label = format!("The bed in pass {} of cloth {}", pass.number, pass.cloth);
    let mut page = picture(width.ceil(), height.ceil(), "")
        .set("role", "img")
        .set("aria-label", label)
        .add(rectangle(pt(0.0, 0.0), width.ceil(), height.ceil()).set("fill", PAPER))
        .add(cloth(&sheet, plan, pass));
    let (corner, w, h) = sheet.window(whole);
    // What hangs over the bed fades.
    let around = Bounds::new(pt(0.0, 0.0), pt(width.ceil(), height.ceil())).corners();
    let inside = Bounds::new(corner, corner + pt(w, h)).corners();
    let beyond = rings_data([&Ring { points: around.to_vec() }, &Ring { points: inside.to_vec() }]);
    page = page.add(
        el("path")
            .set("d", beyond)
            .set("fill", PAPER)
            .set("fill-opacity", "0.68")
            .set("fill-rule", "evenodd"),
    );
    let margin = whole.grown(-pass.margin_mm);
    page = page.add(rectangle(corner, w, h).set("fill", "none").set("stroke", INK).num("stroke-width", 1.6));
    if pass.margin_mm > 0.0 && !margin.is_empty() {
        let (at, mw, mh) = sheet.window(margin);
        page = page.add(
            rectangle(at, mw, mh)
                .set("fill", "none")
                .set("stroke", SOFT_INK)
                .num("stroke-width", 0.7)
                .set("stroke-dasharray", "2 3"),
        );
    }
    page = page.add(lines(&sheet, pass, cutter)).add(marks(&sheet, pass));
    let size = format!("{:.0} \u{d7} {:.0} mm", pass.bed_mm[0], pass.bed_mm[1]);
    let below = corner.y + h + 22.0;
    page.add(Words::new("near edge", 9.0, pt(corner.x, below)).colour(SOFT_INK).drawn())
        .add(Words::new(&size, 9.0, pt(corner.x + w, below)).side(Side::Right).colour(SOFT_INK).drawn())
        .to_string()
}

/// The cloth where it lies on the bed, with its pieces in pale.
fn cloth(sheet: &Sheet, plan: &Plan, pass: &PlanPass) -> El {
    let to_bed = Affine(pass.cloth_to_bed);
    let place = |pairs: &[Pair]| sheet.ring(&to_bed.ring(&Ring::from_pairs(pairs)));
    let mut rings = Vec::new();
    let bed = Bounds::new(pt(0.0, 0.0), pt(pass.bed_mm[0], pass.bed_mm[1]));
    let (_, w, h) = sheet.window(bed);
    // Only what the picture has room for: a long cloth holds many passes.
    let seen = Bounds::new(pt(0.0, 0.0), pt(w + 2.0 * PAD, h + PAD + BELOW)).grown(PAD);
    for piece in plan.pieces.iter().filter(|p| p.cloth == pass.cloth) {
        let outline = place(&piece.cut.outline);
        if !Bounds::of(outline.points.iter().copied()).meets(seen) {
            continue;
        }
        rings.push(outline);
        rings.extend(piece.cut.cutouts.iter().map(|c| place(c)));
    }
    let ground: Vec<Ring> =
        plan.cloths.iter().filter(|c| c.name == pass.cloth).map(|c| place(&c.outline)).collect();
    el("g")
        .add(
            el("path")
                .set("d", rings_data(&ground))
                .set("fill", "#ebe3d3")
                .set("stroke", FAINT)
                .num("stroke-width", 1.0),
        )
        .add(el("path").set("d", rings_data(&rings)).set("fill", "#d9cdb8").set("fill-rule", "evenodd"))
}

/// Burns by kind, and the key.
fn lines(sheet: &Sheet, pass: &PlanPass, cutter: &Cutter) -> El {
    let one = |path: &[Pair], closed: bool| {
        let ring = sheet.pairs(path);
        if closed { rings_data([&ring]) } else { line_data(&ring.points) }
    };
    let drawn = |data: String, kind: LineKind, width: f64| {
        el("path")
            .set("d", data)
            .set("fill", "none")
            .set("stroke", hex(kind.rgb(&cutter.colours)))
            .num("stroke-width", width)
            .set("stroke-linejoin", "round")
    };
    let key: String = pass.key.iter().map(|k| one(&k.path, k.closed)).collect();
    let mut group = el("g").add(drawn(key, LineKind::Key, 4.0).set("stroke-opacity", "0.45"));
    for kind in crate::write::colours::KINDS {
        let data =
            pass.burns.iter().filter(|b| b.kind == kind.word()).map(|b| one(&b.path, b.closed)).collect();
        group = group.add(drawn(data, kind, 1.5));
    }
    group
}

fn marks(sheet: &Sheet, pass: &PlanPass) -> El {
    const ARM: f64 = 6.0;
    const NAME: f64 = 10.0;
    let mut group = el("g");
    let (corner, w, h) = (sheet.corner, sheet.width(), sheet.height());
    let frame = Bounds::new(corner, corner + pt(w, h));
    let lines: Vec<Vec<Point>> = pass
        .burns
        .iter()
        .filter(|b| b.kind != "mark")
        .map(|b| thinned(sheet.pairs(&b.path).points, FLAT))
        .collect();
    let crosses: Vec<Point> = pass.marks.iter().map(|m| sheet.at_pair(m.bed)).collect();
    let arms = |at: Point| [pt(ARM, 0.0), pt(0.0, ARM)].map(|arm| [at - arm, at + arm]);
    let mut taken: Vec<Bounds> =
        crosses.iter().flat_map(|&at| arms(at)).map(|[a, b]| Bounds::new(a, b).grown(1.0)).collect();
    for &at in &crosses {
        for (colour, width) in [(PAPER, 4.5), (INK, 1.6)] {
            group = group.add_all(arms(at).map(|[a, b]| line(a, b, colour, width)));
        }
    }
    for (mark, &at) in pass.marks.iter().zip(&crosses) {
        let name = letters::fit(&mark.name, NAME, 90.0).unwrap_or_default();
        let size = pt(letters::width(&name, NAME), NAME);
        let plate = labels::beside(at, ARM, size, &labels::Clear { frame, taken: &taken, lines: &lines });
        group = group.add(Words::new(&name, NAME, pt(plate.min.x, plate.max.y)).drawn_with_rim(1.8));
        taken.push(plate);
    }
    group
}
