//! The cloth itself: its pattern, the veil over waste, edges, flaws, leftovers.

use crate::plan::{PlanCloth, PlanPiece};
use crate::shape::{Bounds, Join, Point, Region, Ring, offset, pt};

use super::frame::{Sheet, is_straight};
use super::pen::{INK, MADDER, MOSS, PAPER, Side, Words, line, rings_data};
use crate::write::xml::{El, el};

/// How much of the waste the veil hides: its pattern still shows, its colour does not compete.
const VEIL: &str = "0.72";

/// Ids of what is drawn once and used again.
pub(super) struct Ids {
    /// All pieces of the cloth, cut-outs open.
    pub pieces: String,
    /// The cloth without its pieces.
    pub waste: String,
    /// The same as a clip.
    pub clip: String,
}

impl Ids {
    /// Ids for cloth number `n`.
    pub fn new(n: usize) -> Ids {
        Ids { pieces: format!("pieces-{n}"), waste: format!("waste-{n}"), clip: format!("waste-clip-{n}") }
    }

    /// The value of a `clip-path` that leaves the waste only.
    pub fn clipped(&self) -> String {
        format!("url(#{})", self.clip)
    }
}

/// The shapes used again and again.
pub(super) fn shapes(ids: &Ids, sheet: &Sheet, cloth: &PlanCloth, pieces: &[&PlanPiece]) -> El {
    let cut: Vec<Region> = pieces.iter().map(|p| sheet.region(&p.cut)).collect();
    let pieces_data = rings_data(cut.iter().flat_map(Region::rings));
    let outline = rings_data([&sheet.pairs(&cloth.outline)]);
    el("defs")
        .add(el("path").set("id", &ids.pieces).set("d", pieces_data.clone()))
        .add(el("path").set("id", &ids.waste).set("d", outline + &pieces_data).set("clip-rule", "evenodd"))
        .add(el("clipPath").set("id", &ids.clip).add(used(&ids.waste).set("clip-rule", "evenodd")))
}

/// A shape drawn again.
pub(super) fn used(id: &str) -> El {
    el("use").set("href", format!("#{id}"))
}

/// The veil over all that is not a piece, and the pieces' shadow on it.
pub(super) fn veil(ids: &Ids) -> El {
    // Rims of growing width add up to a soft shadow without a filter, which not every viewer knows.
    let mut shadow = el("g")
        .set("clip-path", ids.clipped())
        .set("fill", "none")
        .set("stroke", INK)
        .set("stroke-opacity", "0.11")
        .set("stroke-linejoin", "round");
    for width in [3.0, 7.5, 12.0, 16.5] {
        shadow =
            shadow.add(used(&ids.pieces).num("stroke-width", width).set("transform", "translate(1.5 3)"));
    }
    el("g")
        .add(used(&ids.waste).set("fill", PAPER).set("fill-opacity", VEIL).set("fill-rule", "evenodd"))
        .add(shadow)
}

/// The cloth's own edges, the strip along them that is not used, the end of the used length.
pub(super) fn edges(sheet: &Sheet, cloth: &PlanCloth) -> El {
    let mut group = el("g");
    for inner in inner_edges(cloth) {
        group = group.add(
            el("path")
                .set("d", rings_data([&sheet.ring(&inner)]))
                .set("fill", "none")
                .set("stroke", INK)
                .set("stroke-opacity", "0.45")
                .num("stroke-width", 1.0)
                .set("stroke-dasharray", "1.5 4")
                .set("stroke-linecap", "round"),
        );
    }
    let outline = sheet.pairs(&cloth.outline);
    group = group.add(
        el("path")
            .set("d", rings_data([&outline]))
            .set("fill", "none")
            .set("stroke", INK)
            .num("stroke-width", 1.4),
    );
    if is_straight(cloth) {
        let b = outline.bounds();
        for x in [b.min.x, b.max.x] {
            group = group.add(line(pt(x, b.min.y), pt(x, b.max.y), INK, 4.5));
        }
    }
    group
}

/// The edge of what may be used. The far end of an open length has no strip.
fn inner_edges(cloth: &PlanCloth) -> Vec<Ring> {
    if cloth.edge_mm <= 0.0 {
        return Vec::new();
    }
    let outline = Ring::from_pairs(&cloth.outline);
    let b = outline.bounds();
    let longer = if cloth.open_length {
        outline.map(|p| if p.y == b.max.y { pt(p.x, p.y + 2.0 * cloth.edge_mm) } else { p })
    } else {
        outline
    };
    let inner = offset(&[Region::new(longer, Vec::new())], -cloth.edge_mm, Join::Mitre);
    let within = Region::rectangle(Bounds::new(b.min, b.max));
    let kept = if b.is_empty() { inner } else { crate::shape::booleans::intersection(&inner, &[within]) };
    kept.into_iter().map(|r| r.outline).collect()
}

/// Flaws, hatched.
pub(super) fn flaws(sheet: &Sheet, cloth: &PlanCloth) -> El {
    let rings: Vec<Ring> = cloth.flaws.iter().map(|f| sheet.pairs(f)).collect();
    let mut group = el("g");
    if rings.is_empty() {
        return group;
    }
    let data = rings_data(&rings);
    group = group.add(el("path").set("d", data.clone()).set("fill", PAPER).set("fill-opacity", "0.75")).add(
        el("path").set("d", data).set("fill", "url(#flaw)").set("stroke", MADDER).num("stroke-width", 1.6),
    );
    group
}

/// The hatching of flaws.
pub(super) fn flaw_hatch() -> El {
    el("pattern")
        .set("id", "flaw")
        .set("patternUnits", "userSpaceOnUse")
        .set("width", "7")
        .set("height", "7")
        .set("patternTransform", "rotate(45)")
        .add(el("path").set("d", "M0 3.5L7 3.5").set("stroke", MADDER).num("stroke-width", 1.8))
}

/// Leftovers worth keeping, with their areas where there is room.
pub(super) fn offcuts(sheet: &Sheet, cloth: &PlanCloth) -> El {
    let mut group = el("g");
    for offcut in &cloth.offcuts {
        let ring = sheet.pairs(&offcut.outline);
        let cutouts: Vec<_> = offcut.cutouts.iter().map(|c| sheet.pairs(c)).collect();
        group = group.add(
            el("path")
                .set("d", rings_data(std::iter::once(&ring).chain(&cutouts)))
                .set("fill-rule", "evenodd")
                .set("fill", MOSS)
                .set("fill-opacity", "0.1")
                .set("stroke", MOSS)
                .num("stroke-width", 1.8)
                .set("stroke-dasharray", "9 4 2 4"),
        );
        let room = super::spots::Room::new(&Region { outline: ring, cutouts });
        let text = format!("keep {:.2} m²", offcut.area_mm2 / 1.0e6);
        let small = Bounds::of([pt(0.0, 0.0), pt(crate::write::letters::width(&text, 13.5) + 8.0, 24.0)]);
        let fitting = room.spots().iter().find(|s| {
            room.holds(&super::spots::Plate {
                at: s.at,
                width: small.width(),
                height: small.height(),
                turn_deg: 0.0,
            })
        });
        if let Some(spot) = fitting {
            let at: Point = spot.at + pt(0.0, 6.75);
            group =
                group.add(Words::new(&text, 13.5, at).side(Side::Middle).colour(MOSS).drawn_with_rim(2.0));
        }
    }
    group
}

/// The length used, measured on the right, and which way the warp runs; `aside` is what stands between.
pub(super) fn used_length(sheet: &Sheet, cloth: &PlanCloth, nap: bool, aside: f64) -> El {
    let x = sheet.corner.x + sheet.width() + aside + 84.0;
    let near = sheet.corner.y + sheet.height();
    let far = sheet.at(pt(sheet.cloth.min.x, sheet.cloth.min.y + cloth.used_length_mm)).y.min(near);
    let text = format!("{:.0} mm used", cloth.used_length_mm);
    let length = crate::write::letters::width(&text, 14.0);
    let mut group = el("g");
    let middle = (near + far) / 2.0;
    let gap = length / 2.0 + 10.0;
    for (from, to, tip) in [(middle + gap, near, 1.0), (middle - gap, far, -1.0)] {
        group = group
            .add(line(pt(x - 7.0, to), pt(x + 7.0, to), INK, 1.2))
            .add(line(pt(x, from), pt(x, to), INK, 1.2))
            .add(el("path").set("d", head(pt(x, to), tip)).set("fill", INK));
    }
    group = group.add(Words::new(&text, 14.0, pt(x + 7.0, middle)).side(Side::Middle).turn(-90.0).drawn());
    let warp = if nap { "warp and nap" } else { "warp" };
    let at = pt(sheet.corner.x + sheet.width() + aside + 38.0, near - 6.0);
    let warp_length = crate::write::letters::width(warp, 14.0);
    let tip = at.y - warp_length - 44.0;
    group
        .add(Words::new(warp, 14.0, at).turn(-90.0).drawn())
        .add(line(pt(at.x - 6.0, at.y - warp_length - 10.0), pt(at.x - 6.0, tip + 4.0), INK, 1.4))
        .add(el("path").set("d", head(pt(at.x - 6.0, tip), -1.0)).set("fill", INK))
}

/// The head of an upright arrow with its tip at `tip`, pointing down (1) or up (−1).
fn head(tip: Point, down: f64) -> String {
    let back = tip - pt(0.0, 9.0 * down);
    rings_data([&Ring { points: vec![tip, back + pt(3.6, 0.0), back - pt(3.6, 0.0)] }])
}
