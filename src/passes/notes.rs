//! What a maker should know about the passes.

use super::assign::Hand;
use super::calm::Calm;
use super::model::{Pass, Request, Verdict};
use crate::job::Cutter;
use crate::say::Note;
use crate::shape::Bounds;

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
        if pass.number > 1
            && let Some((room, side)) = tightest(request.cutter, pass)
            && room < LEAST_PLAY_MM
        {
            let text = format!(
                "Its burns come within {room:.1} mm of what the cutter reaches {side}: lay the cloth as true as that, else \
                 realigning asks for it to be moved."
            );
            notes.push(Note::advice(format!("pass {}", pass.number), text));
        }
        let sides = hanging(request, pass);
        if !sides.is_empty() {
            let text = format!("Cloth hangs over the bed: {}.", sides.join(", "));
            notes.push(Note::advice(format!("pass {}", pass.number), text));
        }
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

/// The least room between what a pass burns and the bed's margins, mm, and on which side.
fn tightest(cutter: &Cutter, pass: &Pass) -> Option<(f64, &'static str)> {
    let on_bed = pass.burns.iter().flat_map(|b| &b.path).map(|p| pass.cloth_to_bed.apply(*p));
    let (burnt, reach) = (Bounds::of(on_bed), bed(cutter).grown(-cutter.margin_mm));
    let rooms = [
        (burnt.min.x - reach.min.x, "on the left"),
        (reach.max.x - burnt.max.x, "on the right"),
        (burnt.min.y - reach.min.y, "on the near side"),
        (reach.max.y - burnt.max.y, "on the far side"),
    ];
    rooms.into_iter().min_by(|a, b| a.0.total_cmp(&b.0)).map(|(room, side)| (room.max(0.0), side))
}

/// How far the cloth hangs over which sides of the bed, in words.
fn hanging(request: &Request, pass: &Pass) -> Vec<String> {
    let cloth = pass.cloth_to_bed.ring(request.cloth_outline).bounds();
    let bed = bed(request.cutter);
    let over = [
        (bed.min.x - cloth.min.x, "on the left"),
        (cloth.max.x - bed.max.x, "on the right"),
        (bed.min.y - cloth.min.y, "on the near side"),
        (cloth.max.y - bed.max.y, "on the far side"),
    ];
    over.iter().filter(|(d, _)| *d > HANGS_MM).map(|(d, side)| format!("{d:.0} mm {side}")).collect()
}

fn bed(cutter: &Cutter) -> Bounds {
    let [w, h] = cutter.bed_mm;
    Bounds::new(crate::shape::pt(0.0, 0.0), crate::shape::pt(w, h))
}
