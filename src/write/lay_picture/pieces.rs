//! The pieces: edges and grain arrows.

use crate::plan::PlanPiece;
use crate::shape::{Point, Pose, Region, Ring, distance, lerp, pt};

use super::frame::Sheet;
use super::pen::{INK, PAPER, line_data, rings_data};
use super::spots::{Plate, Room};
use crate::write::xml::{El, el};

/// How far a grain arrow keeps from the edge, and its longest half.
const RIM: f64 = 7.0;
const LONGEST: f64 = 86.0;
/// What an arrow keeps off cut-outs beside it.
const BESIDE: f64 = 4.0;
/// The least of an arrow that must show beyond a plate, and the shortest arrow.
const SHOWS: f64 = 17.0;
const SHORTEST: f64 = 24.0;

/// The edges of the pieces: the cut edge in ink, the drawn edge inside it as a light thread.
pub(super) fn edges(sheet: &Sheet, pieces_id: &str, pieces: &[&PlanPiece]) -> El {
    let drawn: String = pieces
        .iter()
        .map(|piece| {
            let pose = Pose { turn_deg: piece.turn_deg, shift: pt(piece.shift[0], piece.shift[1]) };
            let place = |ring: &Vec<crate::plan::Pair>| sheet.ring(&pose.ring(&Ring::from_pairs(ring)));
            let rings: Vec<_> =
                std::iter::once(&piece.drawn.outline).chain(&piece.drawn.cutouts).map(place).collect();
            rings_data(&rings)
        })
        .collect();
    el("g")
        .set("fill", "none")
        .set("stroke-linejoin", "round")
        .add(super::ground::used(pieces_id).set("stroke", INK).num("stroke-width", 2.0))
        .add(
            el("path")
                .set("d", drawn)
                .set("stroke", PAPER)
                .set("stroke-opacity", "0.85")
                .num("stroke-width", 0.9)
                .set("stroke-dasharray", "5 2.5"),
        )
}

/// The grain arrow of a piece with a name on `plate`: through the plate when both ends show, else where the
/// piece is longest beside it; `None` when there is room for neither. `up` is where the piece's grain points; `allowed` is
/// asked of an arrow's tail and tip.
pub(super) fn arrow(
    room: &Room,
    plate: &Plate,
    up: Point,
    one_way: bool,
    allowed: &dyn Fn(Point, Point) -> bool,
) -> Option<El> {
    let reach = |from: Point| (room.reach(from, up, RIM, LONGEST), room.reach(from, -up, RIM, LONGEST));
    let (ahead, behind) = reach(plate.at);
    // Close beside a cut-out an arrow would read as part of it.
    let off_cutouts = |tail: Point, tip: Point| on_the_way(tail, tip).all(|p| room.is_off_cutouts(p, BESIDE));
    let hidden = |way: Point| {
        (0..200).map(f64::from).find(|&t| !plate.covers(plate.at + way * t, 2.0)).unwrap_or(200.0)
    };
    if ahead - hidden(up) >= SHOWS && behind - hidden(-up) >= SHOWS {
        let even = ahead.min(behind);
        let (tip, tail) = (plate.at + up * even, plate.at - up * even);
        if off_cutouts(tail, tip) && allowed(tail, tip) {
            return Some(drawn_arrow(tip, tail, one_way));
        }
    }
    let mut best = (SHORTEST, None);
    for spot in room.spots() {
        let (ahead, behind) = reach(spot.at);
        let (ahead, behind) = (ahead.min(LONGEST * 0.6), behind.min(LONGEST * 0.6));
        let (tip, tail) = (spot.at + up * ahead, spot.at - up * behind);
        let length = ahead + behind;
        if length <= best.0 + 1.0 {
            continue;
        }
        let off_plate = on_the_way(tail, tip).all(|p| !plate.covers(p, 5.0));
        if off_plate && off_cutouts(tail, tip) && allowed(tail, tip) {
            best = (length, Some((tip, tail)));
        }
    }
    best.1.map(|(tip, tail)| drawn_arrow(tip, tail, one_way))
}

/// Points of an arrow, close together.
fn on_the_way(tail: Point, tip: Point) -> impl Iterator<Item = Point> {
    let steps = (distance(tail, tip) / 3.0).ceil().clamp(1.0, 100.0) as u32;
    (0..=steps).map(move |i| lerp(tail, tip, f64::from(i) / f64::from(steps)))
}

/// A small arrow of the given length about `at`, for a place of one colour.
pub(super) fn small_arrow(at: Point, up: Point, length: f64, one_way: bool) -> El {
    let (lines, heads) = arrow_data(at + up * (length / 2.0), at - up * (length / 2.0), one_way);
    el("g")
        .set("stroke-linejoin", "round")
        .set("stroke-linecap", "round")
        .add(el("path").set("d", lines).set("fill", "none").set("stroke", INK).num("stroke-width", 1.3))
        .add(el("path").set("d", heads).set("fill", INK))
}

fn drawn_arrow(tip: Point, tail: Point, one_way: bool) -> El {
    let (lines, heads) = arrow_data(tip, tail, one_way);
    el("g")
        .set("stroke-linejoin", "round")
        .set("stroke-linecap", "round")
        .add(
            el("path")
                .set("d", format!("{lines}{heads}"))
                .set("fill", PAPER)
                .set("stroke", PAPER)
                .num("stroke-width", 5.0)
                .set("opacity", "0.85"),
        )
        .add(el("path").set("d", lines).set("fill", "none").set("stroke", INK).num("stroke-width", 1.7))
        .add(el("path").set("d", heads).set("fill", INK))
}

/// Path data of an arrow's lines and of its heads: one head and a bar across the tail where the way counts,
/// two heads where it does not.
fn arrow_data(tip: Point, tail: Point, one_way: bool) -> (String, String) {
    let length = distance(tip, tail);
    let way = if length > 0.0 { (tip - tail) / length } else { pt(0.0, -1.0) };
    let size = (length * 0.3).clamp(3.0, 10.0);
    let across = pt(-way.y, way.x);
    let head = |point: Point, way: Point| {
        let back = point - way * size;
        let notch = point - way * (size * 0.72);
        Ring { points: vec![point, back + across * (size * 0.42), notch, back - across * (size * 0.42)] }
    };
    let shaft_from = if one_way { tail } else { tail + way * (size * 0.7) };
    let mut lines = line_data(&[shaft_from, tip - way * (size * 0.7)]);
    let mut heads = vec![head(tip, way)];
    if one_way {
        lines.push_str(&line_data(&[tail + across * (size * 0.4), tail - across * (size * 0.4)]));
    } else {
        heads.push(head(tail, -way));
    }
    (lines, rings_data(&heads))
}

/// A sample of a piece for the legend.
pub(super) fn swatch(region: &Region) -> El {
    el("path")
        .set("d", rings_data(region.rings()))
        .set("fill", "#9fb0a4")
        .set("stroke", INK)
        .num("stroke-width", 2.0)
}

/// An arrow for the legend.
pub(super) fn sample_arrow(at: Point, one_way: bool) -> El {
    drawn_arrow(at + pt(15.0, 0.0), at - pt(15.0, 0.0), one_way)
}
