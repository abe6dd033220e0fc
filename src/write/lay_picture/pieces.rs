//! The pieces: edges, names, grain arrows.

use crate::plan::{Plan, PlanPiece};
use crate::shape::{Point, Pose, Region, distance, pt};

use super::frame::{Sheet, piece_name};
use super::pen::{INK, PAPER, Side, Words, direction, line_data, rectangle, rings_data};
use super::spots::{Plate, Room};
use crate::write::letters;
use crate::write::number::number;
use crate::write::xml::{El, el};

/// Heights of a name's capitals tried in turn.
const HEIGHTS: [f64; 4] = [18.0, 15.5, 13.0, 10.5];
/// Room round a name on its plate, as shares of the capitals' height: beside, above and below.
const BESIDE: f64 = 0.62;
const ABOVE: f64 = 0.55;
/// How far a grain arrow keeps from the edge, and its longest half.
const RIM: f64 = 8.0;
const LONGEST: f64 = 86.0;
/// The least of an arrow that must show beyond a plate, and the shortest arrow.
const SHOWS: f64 = 17.0;
const SHORTEST: f64 = 24.0;

/// The edges of the pieces: the cut edge in ink, the drawn edge inside it as a light thread.
pub(super) fn edges(sheet: &Sheet, pieces_id: &str, pieces: &[&PlanPiece]) -> El {
    let drawn: String = pieces
        .iter()
        .map(|piece| {
            let pose = Pose { turn_deg: piece.turn_deg, shift: pt(piece.shift[0], piece.shift[1]) };
            let place =
                |ring: &Vec<crate::plan::Pair>| sheet.ring(&pose.ring(&crate::shape::Ring::from_pairs(ring)));
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

/// What a piece says about itself in the picture.
struct Saying {
    plate: Option<Plate>,
    name: El,
}

/// Names and grain arrows. `up_deg` gives the way a piece's own grain points on the cloth, degrees
/// counter-clockwise; `one_way` is true on cloth that has a nap or a pattern that may not be turned.
pub(super) fn names(
    sheet: &Sheet,
    plan: &Plan,
    pieces: &[(usize, &PlanPiece)],
    up_deg: impl Fn(&PlanPiece) -> f64,
    one_way: bool,
) -> El {
    let mut arrows = el("g");
    let mut names = el("g");
    for &(index, piece) in pieces {
        let room = Room::new(&sheet.region(&piece.cut));
        let saying = say(&room, &piece_name(piece, &plan.pieces), index + 1);
        arrows = arrows.add(arrow(&room, saying.plate.as_ref(), direction(up_deg(piece)), one_way));
        names = names.add(saying.name);
    }
    el("g").add(arrows).add(names)
}

/// The name on a plate where there is room: upright first, along the piece next, smaller last; else the
/// piece's number, inside when there is room for that, beside it when there is not.
fn say(room: &Room, name: &str, number: usize) -> Saying {
    let fitting =
        HEIGHTS.iter().find_map(|&h| plate_for(room, name, h).map(|plate| (plate, h, name.to_owned())));
    if let Some((plate, h, text)) = fitting {
        return Saying { plate: Some(plate), name: plated(&text, h, &plate) };
    }
    let figure = number.to_string();
    for h in [13.0, 10.5] {
        if let Some(plate) = plate_for(room, &figure, h) {
            return Saying { plate: Some(plate), name: plated(&figure, h, &plate) };
        }
    }
    let at = room.spots().first().map_or(room.middle(), |s| pt(s.at.x + s.clearance + 6.0, s.at.y + 4.5));
    Saying { plate: None, name: Words::new(&figure, 10.5, at).drawn_with_rim(2.2) }
}

fn plate_for(room: &Room, text: &str, h: f64) -> Option<Plate> {
    let width = letters::width(text, h) + 2.0 * BESIDE * h;
    let height = h + 2.0 * ABOVE * h;
    let try_turn = |turned: bool| {
        room.spots()
            .iter()
            .map(|s| Plate { at: s.at, width, height, turn_deg: if turned { s.along_deg } else { 0.0 } })
            .find(|plate| room.holds(plate))
    };
    try_turn(false).or_else(|| try_turn(true))
}

fn plated(text: &str, h: f64, plate: &Plate) -> El {
    let place = format!(
        "translate({} {}) rotate({})",
        number(plate.at.x),
        number(plate.at.y),
        number(plate.turn_deg)
    );
    el("g")
        .set("transform", place)
        .add(
            rectangle(pt(-plate.width / 2.0, -plate.height / 2.0), plate.width, plate.height)
                .num("rx", plate.height * 0.28)
                .set("fill", PAPER)
                .set("fill-opacity", "0.93")
                .set("stroke", INK)
                .set("stroke-opacity", "0.55")
                .num("stroke-width", 0.8),
        )
        .add(Words::new(text, h, pt(0.0, h * 0.5)).side(Side::Middle).drawn())
}

/// The grain arrow: through the plate when both ends show, else where the piece is longest beside it.
fn arrow(room: &Room, plate: Option<&Plate>, up: Point, one_way: bool) -> El {
    let reach = |from: Point| (room.reach(from, up, RIM, LONGEST), room.reach(from, -up, RIM, LONGEST));
    if let Some(plate) = plate {
        let (ahead, behind) = reach(plate.at);
        let hidden = |way: Point| {
            (0..200).map(f64::from).find(|&t| !plate.covers(plate.at + way * t, 2.0)).unwrap_or(200.0)
        };
        if ahead - hidden(up) >= SHOWS && behind - hidden(-up) >= SHOWS {
            let even = ahead.min(behind);
            return drawn_arrow(plate.at + up * even, plate.at - up * even, one_way);
        }
    }
    let mut best = (SHORTEST, None);
    for spot in room.spots() {
        let (ahead, behind) = reach(spot.at);
        let (ahead, behind) = (ahead.min(LONGEST * 0.6), behind.min(LONGEST * 0.6));
        let (tip, tail) = (spot.at + up * ahead, spot.at - up * behind);
        let length = ahead + behind;
        let clear = plate.is_none_or(|plate| {
            let steps = (length / 3.0).ceil().clamp(1.0, 100.0) as u32;
            (0..=steps)
                .all(|i| !plate.covers(crate::shape::lerp(tail, tip, f64::from(i) / f64::from(steps)), 5.0))
        });
        if clear && length > best.0 + 1.0 {
            best = (length, Some((tip, tail)));
        }
    }
    let (tip, tail) = best.1.unwrap_or_else(|| {
        // Too small for an arrow of its own: a short one beside its name, or where there is most room.
        let from = plate.map_or_else(
            || room.spots().first().map_or(room.middle(), |s| s.at),
            |plate| plate.at - pt(plate.width.min(plate.height * 2.0) / 2.0 + 9.0, 0.0),
        );
        (from + up * (SHORTEST / 2.2), from - up * (SHORTEST / 2.2))
    });
    drawn_arrow(tip, tail, one_way)
}

fn drawn_arrow(tip: Point, tail: Point, one_way: bool) -> El {
    let length = distance(tip, tail);
    let way = if length > 0.0 { (tip - tail) / length } else { pt(0.0, -1.0) };
    let size = (length * 0.24).clamp(6.0, 10.0);
    let across = pt(-way.y, way.x);
    let head = |point: Point, way: Point| {
        let back = point - way * size;
        let notch = point - way * (size * 0.72);
        crate::shape::Ring {
            points: vec![point, back + across * (size * 0.42), notch, back - across * (size * 0.42)],
        }
    };
    let mut heads = vec![head(tip, way)];
    let mut foot = tail;
    if one_way {
        foot = tail;
    } else {
        heads.push(head(tail, -way));
        foot = foot + way * (size * 0.7);
    }
    let shaft = line_data(&[foot, tip - way * (size * 0.7)]);
    let heads = rings_data(&heads);
    let tail_bar =
        if one_way { line_data(&[tail + across * 4.0, tail - across * 4.0]) } else { String::new() };
    let lines = shaft + &tail_bar;
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
