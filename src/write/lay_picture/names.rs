//! What stands on the pieces: names on plates, numbers where there is no room for a name, grain arrows.

use rayon::prelude::*;

use crate::job::Match;
use crate::plan::{Plan, PlanPiece};
use crate::shape::{Bounds, Point, Pose, pt, to_side, turn_cos_sin};

use super::frame::{Sheet, piece_name};
use super::pen::{INK, PAPER, Side, Words, direction, rectangle};
use super::pieces::{arrow, small_arrow};
use super::spots::{Plate, Room};
use crate::write::letters;
use crate::write::number::number;
use crate::write::xml::{El, el};

/// Heights of a name's capitals, tried in turn.
const NAME: [f64; 5] = [18.0, 15.5, 13.0, 10.5, 9.0];
/// Heights of a number's figures, tried in turn.
const FIGURE: [f64; 3] = [13.0, 10.5, 8.5];
/// What a plate keeps clear of a joint.
const JOINT: f64 = 7.0;
/// What names and arrows keep clear of the crossing a piece is centred on, which is what its maker wants to see.
const CROSSING: f64 = 16.0;
/// What a plate keeps off the cut-outs of its piece.
const PLATE_RIM: f64 = 4.0;
/// Height of a number beside its piece.
const BESIDE: f64 = 10.5;
/// Room round a name on its plate, as shares of its height: at its ends, above and below.
const ENDS: f64 = 0.62;
const ABOVE: f64 = 0.55;
/// Length of an arrow on a plate as a share of the height, and what it keeps clear of the name.
const ARROW: f64 = 1.5;
const CLEAR: f64 = 0.5;

/// What names keep clear of.
pub(super) struct Clear {
    /// Marks and their names.
    pub boxes: Vec<Bounds>,
    /// Joints.
    pub joints: Vec<Point>,
}

/// Names and grain arrows of the pieces of a cloth, given with their place in the plan. `up_deg` gives the way
/// a piece's own grain points on the cloth, degrees counter-clockwise; `one_way` is true on cloth that may not
/// be turned. Also says whether a piece had to be numbered for want of room.
pub(super) fn names(
    sheet: &Sheet,
    plan: &Plan,
    pieces: &[(usize, &PlanPiece)],
    clear: &Clear,
    up_deg: impl Fn(&PlanPiece) -> f64,
    one_way: bool,
) -> (El, bool) {
    let mut numbered = false;
    let mut arrows = el("g");
    let mut names = el("g");
    let regions: Vec<_> = pieces.iter().map(|(_, piece)| sheet.region(&piece.cut)).collect();
    let rooms: Vec<Room> = regions.par_iter().map(Room::new).collect();
    let mut taken: Vec<Bounds> = regions.iter().map(|r| r.bounds()).chain(clear.boxes.clone()).collect();
    for ((&(index, piece), region), room) in pieces.iter().zip(&regions).zip(rooms) {
        let shown = (piece.matching == Match::Centred).then(|| {
            let pose = Pose { turn_deg: piece.turn_deg, shift: pt(piece.shift[0], piece.shift[1]) };
            sheet.at(pose.apply(pt(piece.anchor[0], piece.anchor[1])))
        });
        let space = Space { room, joints: &clear.joints, shown };
        let up = direction(up_deg(piece));
        let name = piece_name(piece, &plan.pieces);
        let figure = (index + 1).to_string();
        // A name alone tells more than a number with an arrow: the grain is seen from the pieces beside it.
        let named = say(&space, &name, &NAME, up, one_way).or_else(|| alone(&space, &name, &NAME));
        if let Some(said) = named {
            arrows = arrows.add(said.arrow);
            names = names.add(said.name);
            continue;
        }
        numbered = true;
        let said = say(&space, &figure, &FIGURE, up, one_way).or_else(|| alone(&space, &figure, &FIGURE));
        if let Some(said) = said {
            arrows = arrows.add(said.arrow);
            names = names.add(said.name);
        } else if let Some(at) = beside(region.bounds(), letters::width(&figure, BESIDE), &mut taken) {
            names = names.add(Words::new(&figure, BESIDE, at).drawn_with_rim(2.2));
        }
    }
    (el("g").add(arrows).add(names), numbered)
}

/// A piece's room and what in it must stay to be seen.
struct Space<'a> {
    room: Room,
    joints: &'a [Point],
    /// The crossing it is centred on.
    shown: Option<Point>,
}

impl Space<'_> {
    fn holds(&self, plate: &Plate) -> bool {
        self.room.holds(plate)
            && self.room.leaves_cutouts(plate, PLATE_RIM)
            && !self.joints.iter().any(|&j| plate.covers(j, JOINT))
            && !self.shown.is_some_and(|c| plate.covers(c, CROSSING))
    }

    /// True when an arrow from `tail` to `tip` leaves the crossing to be seen.
    fn leaves_seen(&self, tail: Point, tip: Point) -> bool {
        self.shown.is_none_or(|c| to_side(c, tail, tip) >= CROSSING)
    }
}

/// The largest of `heights` at which the text finds room by itself.
fn alone(space: &Space, text: &str, heights: &[f64]) -> Option<Said> {
    heights.iter().find_map(|&h| {
        let plate = plate_for(space, text, h, None)?;
        Some(Said { name: plated(text, h, &plate, None), arrow: el("g") })
    })
}

/// A name and a grain arrow.
struct Said {
    name: El,
    arrow: El,
}

/// The largest of `heights` at which both the text and an arrow find room, the arrow by itself or on the plate.
fn say(space: &Space, text: &str, heights: &[f64], up: Point, one_way: bool) -> Option<Said> {
    heights.iter().find_map(|&h| {
        let alone = plate_for(space, text, h, None).and_then(|plate| {
            Some(Said {
                name: plated(text, h, &plate, None),
                arrow: arrow(&space.room, &plate, up, one_way, &|a, b| space.leaves_seen(a, b))?,
            })
        });
        alone.or_else(|| {
            let plate = plate_for(space, text, h, Some(up))?;
            Some(Said { name: plated(text, h, &plate, Some((up, one_way))), arrow: el("g") })
        })
    })
}

/// A plate for the text, and an arrow at its left where `grain` is given: upright where that fits, else along
/// the piece.
fn plate_for(space: &Space, text: &str, h: f64, grain: Option<Point>) -> Option<Plate> {
    let bare = letters::width(text, h) + 2.0 * ENDS * h;
    let height = h + 2.0 * ABOVE * h;
    let try_turn = |turned: bool| {
        space
            .room
            .spots()
            .iter()
            // No plate fits where not even the largest circle in it does.
            .filter(|s| 2.0 * s.clearance >= bare.min(height))
            .map(|s| {
                let turn_deg = if turned { s.along_deg } else { 0.0 };
                let width = bare + grain.map_or(0.0, |up| arrow_room(up, turn_deg, h));
                Plate { at: s.at, width, height, turn_deg }
            })
            .find(|plate| space.holds(plate))
    };
    try_turn(false).or_else(|| try_turn(true))
}

fn plated(text: &str, h: f64, plate: &Plate, grain: Option<(Point, bool)>) -> El {
    let place = format!(
        "translate({} {}) rotate({})",
        number(plate.at.x),
        number(plate.at.y),
        number(plate.turn_deg)
    );
    let board = rectangle(pt(-plate.width / 2.0, -plate.height / 2.0), plate.width, plate.height)
        .num("rx", plate.height * 0.28)
        .set("fill", PAPER)
        .set("fill-opacity", "0.93")
        .set("stroke", INK)
        .set("stroke-opacity", "0.55")
        .num("stroke-width", 0.8);
    let mut group = el("g").set("transform", place).add(board);
    let mut middle = 0.0;
    if let Some((up, one_way)) = grain {
        let taken = arrow_room(up, plate.turn_deg, h);
        middle = taken / 2.0;
        let at = pt(-plate.width / 2.0 + ENDS * h + (taken - CLEAR * h) / 2.0, 0.0);
        group = group.add(small_arrow(at, on_plate(up, plate.turn_deg), h * ARROW, one_way));
    }
    group.add(Words::new(text, h, pt(middle, h * 0.5)).side(Side::Middle).drawn())
}

/// Room an arrow takes along a plate: more the more it lies that way.
fn arrow_room(up: Point, turn_deg: f64, h: f64) -> f64 {
    (CLEAR + on_plate(up, turn_deg).x.abs() * ARROW).max(CLEAR + 0.3) * h
}

/// A direction of the picture as seen from a turned plate: the plate turns, the grain does not.
fn on_plate(up: Point, turn_deg: f64) -> Point {
    let (c, s) = turn_cos_sin(turn_deg);
    pt(up.x * c + up.y * s, up.y * c - up.x * s)
}

/// Where a number of the given width can stand beside a piece without touching another piece or number.
fn beside(piece: Bounds, width: f64, taken: &mut Vec<Bounds>) -> Option<Point> {
    let middle = piece.centre();
    let low = BESIDE / 2.0;
    let spots = [
        pt(piece.max.x + 5.0, middle.y + low),
        pt(piece.min.x - 5.0 - width, middle.y + low),
        pt(middle.x - width / 2.0, piece.min.y - 5.0),
        pt(middle.x - width / 2.0, piece.max.y + 5.0 + BESIDE),
    ];
    let box_at = |at: Point| Bounds::new(pt(at.x, at.y - BESIDE), pt(at.x + width, at.y)).grown(1.5);
    let at = spots.into_iter().find(|&at| !taken.iter().any(|t| t.meets(box_at(at))))?;
    taken.push(box_at(at));
    Some(at)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_stand_beside_small_pieces_only_where_nothing_else_is() {
        let piece = Bounds::new(pt(0.0, 0.0), pt(10.0, 10.0));
        let mut taken = vec![piece];
        let first = beside(piece, 12.0, &mut taken).unwrap();
        let second = beside(piece, 12.0, &mut taken).unwrap();
        assert!(first.x > 10.0 && second.x + 12.0 < 0.0);
        for _ in 0..2 {
            assert!(beside(piece, 12.0, &mut taken).is_some());
        }
        assert_eq!(beside(piece, 12.0, &mut taken), None);
    }
}
