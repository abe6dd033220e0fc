//! What a maker should know about the passes.

use super::assign::Hand;
use super::calm::Calm;
use super::model::{Pass, Request, Verdict};
use crate::job::Cutter;
use crate::say::Note;
use crate::shape::Bounds;

/// What a note on burns close to the margins begins with.
pub const CLOSE: &str = "Its burns come within ";
/// What a note on cloth that hangs over the bed begins with.
pub const HANGS: &str = "Cloth hangs over the bed: ";

/// Cloth that hangs over the bed by less than this needs no word, mm.
const HANGS_MM: f64 = 1.0;

/// A pass whose burns have less room than this to the margins is told, mm: cloth is seldom put down truer.
const LEAST_PLAY_MM: f64 = 2.0;

pub(super) fn notes(
    request: &Request,
    passes: &[Pass],
    calm: &Calm,
    hands: &[(usize, Hand)],
    out_of_turn: &[usize],
) -> Vec<Note> {
    let mut notes = Vec::new();
    let pieces: std::collections::BTreeSet<usize> =
        hands.iter().map(|(contour, _)| request.contours[*contour].placed).collect();
    if passes.len() > 1 {
        let joints = match (hands.len(), pieces.len()) {
            (0, _) => "no piece is cut in more than one pass".to_string(),
            (n, 1) => format!("one piece is handed from pass to pass, at {n} joints"),
            (n, p) => format!("{p} pieces are handed from pass to pass, at {n} joints"),
        };
        notes.push(Note::advice("passes", format!(
            "The cloth takes {} passes; {joints}. Hold up what hangs over the bed so that it does not pull.",
            passes.len()
        )));
    }
    for pass in passes {
        let Cutter { bed_mm, margin_mm, .. } = *request.cutter;
        let burnt = pass.burns.iter().flat_map(|b| &b.path).map(|p| pass.cloth_to_bed.apply(*p));
        let close = close_to_the_margin(Bounds::of(burnt), bed_mm, margin_mm).filter(|_| pass.number > 1);
        let hangs = hanging(pass.cloth_to_bed.ring(request.cloth_outline).bounds(), bed_mm);
        let about = format!("pass {}", pass.number);
        notes.extend(close.into_iter().chain(hangs).map(|text| Note::advice(&about, text)));
    }
    for &(contour, hand) in hands {
        if let Some(where_to) = calm.warning(contour, hand.spot) {
            let name = request.name(request.contours[contour].placed);
            let text = format!(
                "The joint of passes {} and {} at ({:.0}, {:.0}) lies {where_to}; the shared band offers nothing calmer. \
                 A wider band may.",
                hand.before.min(hand.after) + 1,
                hand.before.max(hand.after) + 1,
                hand.spot.at.x,
                hand.spot.at.y
            );
            notes.push(Note::caution(format!("piece {name}"), text));
        }
    }
    for &contour in out_of_turn {
        let name = request.name(request.contours[contour].placed);
        let text = "Its edge is finished in an earlier pass than what lies inside it; leave it lying and hold it down.";
        notes.push(Note::caution(format!("piece {name}"), text));
    }
    notes
}

/// The worst verdict of a pass's joints in a sentence; empty when it has none.
pub fn verdict_of(pass: &Pass, cutter: &Cutter) -> String {
    let worst = pass
        .joints
        .iter()
        .max_by(|a, b| a.verdict.cmp(&b.verdict).then(a.step_95_mm.total_cmp(&b.step_95_mm)));
    let Some(joint) = worst else { return String::new() };
    let (word, most, hidden) = (joint.verdict.word(), joint.step_95_mm, cutter.border_mm.max(0.0) / 2.0);
    let step = format!("95 of 100 steps within {most:.2} mm with marks measured");
    match joint.verdict {
        Verdict::Covered => format!("{word}: {step}; the border hides {hidden:.2} mm."),
        Verdict::Barely => {
            format!("{word}: {step}; the border hides {hidden:.2} mm and has little hold left.")
        }
        Verdict::WillShow if hidden > 0.0 => {
            format!("{word}: {step}; the border hides {hidden:.2} mm. Widen the band or add a mark.")
        }
        Verdict::WillShow => {
            format!("{word}: {step}; no border stitching hides a step (cutter.border_mm 0).")
        }
    }
}

/// That burns, which reach as far as `burnt`, come close to the margins of the bed; `None` when they have room.
pub fn close_to_the_margin(burnt: Bounds, bed_mm: [f64; 2], margin_mm: f64) -> Option<String> {
    let reach = bed(bed_mm).grown(-margin_mm);
    let rooms = [
        (burnt.min.x - reach.min.x, "on the left"),
        (reach.max.x - burnt.max.x, "on the right"),
        (burnt.min.y - reach.min.y, "on the near side"),
        (reach.max.y - burnt.max.y, "on the far side"),
    ];
    let (room, side) = rooms.into_iter().min_by(|a, b| a.0.total_cmp(&b.0))?;
    let room = room.max(0.0);
    (room < LEAST_PLAY_MM).then(|| {
        format!(
            "{CLOSE}{room:.1} mm of what the cutter reaches {side}: lay the cloth as true as that, else realigning asks for \
             it to be moved."
        )
    })
}

/// How far cloth, which lies on the bed as far as `cloth`, hangs over which of its sides; `None` where it does not.
pub fn hanging(cloth: Bounds, bed_mm: [f64; 2]) -> Option<String> {
    let bed = bed(bed_mm);
    let over = [
        (bed.min.x - cloth.min.x, "on the left"),
        (cloth.max.x - bed.max.x, "on the right"),
        (bed.min.y - cloth.min.y, "on the near side"),
        (cloth.max.y - bed.max.y, "on the far side"),
    ];
    let over: Vec<String> =
        over.iter().filter(|(d, _)| *d > HANGS_MM).map(|(d, side)| format!("{d:.0} mm {side}")).collect();
    (!over.is_empty()).then(|| format!("{HANGS}{}.", over.join(", ")))
}

fn bed([w, h]: [f64; 2]) -> Bounds {
    Bounds::new(crate::shape::pt(0.0, 0.0), crate::shape::pt(w, h))
}
