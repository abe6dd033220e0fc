//! A lay that keeps slender runs off the bias where that costs little cloth (`lay.avoid_bias`).

use rayon::prelude::*;

use crate::job::Weave;
use crate::lay::{self, ClothLay, Lay, allowed_turns};
use crate::say::{Note, Trouble, Watch};

use super::axis::{Axis, narrow_axis};
use super::slender::{narrow_mm, slender};

/// How much more cloth may be spent on it, as a share of the length used. (Common practice, no source: about what a
/// second search may find by chance.)
pub const WORTH: f64 = 0.02;

/// Lengths of slender run count as the same within this, mm: no run shorter than that is told.
const SAME_MM: f64 = 10.0;

/// Lays all pieces. With `spec.avoid_bias` they are laid twice: once with every turn struck out that puts more of a
/// piece's slender runs on the bias than another turn it may take, once with all turns. Of each cloth the first lay is
/// taken when it uses at most [`WORTH`] more length than the second; the notes say what that costs or would cost.
///
/// # Errors
/// As [`lay::lay`] with all turns.
pub fn lay_off_bias(
    request: &lay::Request,
    border_mm: f64,
    watch: &dyn Watch,
) -> Result<(Lay, Vec<Note>), Vec<Trouble>> {
    if !request.spec.avoid_bias {
        return Ok((lay::lay(request, watch)?, Vec::new()));
    }
    let bias = Bias::of(request, border_mm);
    if !bias.can_choose(request) {
        let text = "lay.avoid_bias has nothing to choose: no piece with slender runs may take turns that differ in how \
                    much of them lies on the bias. Half and quarter turns do not.";
        return Ok((lay::lay(request, watch)?, vec![Note::advice("the lay", text)]));
    }
    let struck = |piece: usize, turn: f64| bias.is_struck(piece, turn);
    let off = lay::lay(&lay::Request { struck: Some(&struck), ..*request }, watch);
    let free = match (lay::lay(request, watch), &off) {
        (Ok(free), _) => free,
        // Stopped before the second lay: the first stands.
        (Err(_), Ok(off)) if watch.stopped() => return Ok((off.clone(), Vec::new())),
        (Err(t), _) => return Err(t),
    };
    let Ok(off) = off else {
        let told = bias.of_lay(&free.cloths);
        let text = format!(
            "The pieces cannot be laid without turns that put slender runs on the bias: {told:.0} mm of narrow run lie \
             on it."
        );
        return Ok((free, vec![Note::caution("the lay", text)]));
    };
    Ok(bias.weigh(request, &off, free))
}

/// What of each piece lies on the bias at which turn.
struct Bias {
    /// The narrow middle lines, by piece; `None` where there is nothing to choose.
    axes: Vec<Option<Axis>>,
    /// The least that must lie on the bias, by piece, mm.
    least_mm: Vec<f64>,
    border_mm: f64,
}

impl Bias {
    fn of(request: &lay::Request, border_mm: f64) -> Bias {
        let looked: Vec<(Option<Axis>, f64)> = request
            .pieces
            .par_iter()
            .map(|piece| {
                let (rule, cloth) = (request.rules.get(piece.rule), request.cloths.get(piece.cloth));
                let (Some(rule), Some(cloth)) = (rule, cloth) else { return (None, 0.0) };
                // Felt has no threads and no bias.
                if cloth.weave == Weave::Felt || piece.count == 0 {
                    return (None, 0.0);
                }
                let axis = narrow_axis(&piece.drawn, narrow_mm(border_mm));
                let turns = allowed_turns(rule, cloth, "").unwrap_or_default();
                let all = turns.iter().map(|t| on_bias_mm(&axis, *t, border_mm));
                let least = all.fold(f64::INFINITY, f64::min);
                (Some(axis), if least.is_finite() { least } else { 0.0 })
            })
            .collect();
        let (axes, least_mm) = looked.into_iter().unzip();
        Bias { axes, least_mm, border_mm }
    }

    /// Length of slender run of a piece at a turn, mm.
    fn on_bias_mm(&self, piece: usize, turn_deg: f64) -> f64 {
        let axis = self.axes.get(piece).and_then(Option::as_ref);
        axis.map_or(0.0, |a| on_bias_mm(a, turn_deg, self.border_mm))
    }

    fn is_struck(&self, piece: usize, turn_deg: f64) -> bool {
        let least = self.least_mm.get(piece).copied().unwrap_or(0.0);
        self.on_bias_mm(piece, turn_deg) > least + SAME_MM
    }

    fn can_choose(&self, request: &lay::Request) -> bool {
        request.pieces.iter().enumerate().any(|(p, piece)| {
            let (Some(rule), Some(cloth)) = (request.rules.get(piece.rule), request.cloths.get(piece.cloth))
            else {
                return false;
            };
            let turns = allowed_turns(rule, cloth, "").unwrap_or_default();
            cloth.pattern.is_none() && turns.iter().any(|t| self.is_struck(p, *t))
        })
    }

    fn of_lay(&self, cloths: &[ClothLay]) -> f64 {
        // A sum of nothing is -0, which would be told.
        cloths
            .iter()
            .flat_map(|on| &on.placed)
            .map(|p| self.on_bias_mm(p.piece, p.pose.turn_deg))
            .sum::<f64>()
            + 0.0
    }

    /// The better of the two lays of each cloth; of all cloths at once where they share the pieces out otherwise.
    fn weigh(&self, request: &lay::Request, off: &Lay, free: Lay) -> (Lay, Vec<Note>) {
        let count = free.cloths.len();
        let singles = |on: &ClothLay| {
            let mut all: Vec<(usize, u32)> = on.placed.iter().map(|p| (p.piece, p.copy)).collect();
            all.sort_unstable();
            all
        };
        let alike = (0..count).all(|c| singles(&free.cloths[c]) == singles(&off.cloths[c]));
        let parts: Vec<(usize, usize)> =
            if alike { (0..count).map(|c| (c, c + 1)).collect() } else { vec![(0, count)] };
        let mut chosen = free.clone();
        let mut notes = Vec::new();
        for (from, to) in parts {
            let (with, without) = (&free.cloths[from..to], &off.cloths[from..to]);
            let about = match request.cloths.get(from).filter(|_| alike) {
                Some(cloth) => format!("cloth {}", cloth.name),
                None => "the lay".to_owned(),
            };
            let (take, note) = judged(&Weighed::of(self, with), &Weighed::of(self, without), &about);
            notes.extend(note);
            if take {
                let bound = with.iter().zip(without).map(|(free, off)| ClothLay {
                    // What was proved holds for the turns that were left.
                    proved: off.proved && free.proved && off.used_length_mm <= free.used_length_mm,
                    least_length_mm: free.least_length_mm.min(off.used_length_mm),
                    ..off.clone()
                });
                chosen.cloths.splice(from..to, bound);
            }
        }
        // Each cloth passed the exact test beside its own others; together they must as well, or the pattern would run
        // through a group on one cloth otherwise than on the other.
        let faults = lay::faults(&chosen, request.pieces, request.rules, request.cloths, request.spec.gap_mm);
        if let Some(fault) = faults.first() {
            let text = format!(
                "The lay that keeps off the bias on some cloths does not go with that of the others ({fault}), so \
                 lay.avoid_bias was not followed."
            );
            return (free, vec![Note::caution("the lay", text)]);
        }
        (chosen, notes)
    }
}

/// What a lay takes, and what of it lies on the bias.
struct Weighed {
    length_mm: f64,
    bias_mm: f64,
}

impl Weighed {
    fn of(bias: &Bias, on: &[ClothLay]) -> Weighed {
        Weighed { length_mm: on.iter().map(|o| o.used_length_mm).sum(), bias_mm: bias.of_lay(on) }
    }
}

/// Whether the lay `without` the struck turns is taken in place of the one `with` them, and what to say.
fn judged(with: &Weighed, without: &Weighed, about: &str) -> (bool, Option<Note>) {
    let more = without.length_mm - with.length_mm;
    let less_bias = without.bias_mm + SAME_MM < with.bias_mm;
    if !less_bias {
        return (more <= 0.0 && without.bias_mm <= with.bias_mm + SAME_MM, None);
    }
    let (bias, saved) = (with.bias_mm, with.bias_mm - without.bias_mm);
    if more > WORTH * with.length_mm {
        let share = 100.0 * more / with.length_mm;
        let text = format!(
            "{bias:.0} mm of narrow run lie on the bias. To lay {saved:.0} mm of them off it would take {more:.0} mm \
             more cloth ({share:.1} %), which is over the {:.0} % that lay.avoid_bias spends.",
            100.0 * WORTH
        );
        return (false, Some(Note::advice(about, text)));
    }
    let cost = if more > 0.5 {
        format!("costs {more:.0} mm of cloth ({:.1} %)", 100.0 * more / with.length_mm)
    } else {
        "costs no cloth".to_owned()
    };
    let text = format!(
        "Pieces were turned so that {:.0} mm of narrow run lie on the bias in place of {bias:.0} mm (lay.avoid_bias); it \
         {cost}.",
        without.bias_mm
    );
    (true, Some(Note::advice(about, text)))
}

fn on_bias_mm(axis: &Axis, turn_deg: f64, border_mm: f64) -> f64 {
    slender(axis, turn_deg, border_mm, &[]).iter().map(|s| s.length_mm).sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::{self, ReadOptions};
    use crate::plan::{Prepared, prepare_with};
    use crate::say::{Level, Quiet};
    use serde_json::json;

    const BORDER_MM: f64 = 3.5;

    /// Bands of 160 × 8 mm that may lie any way.
    fn bands(width_mm: f64, grain: &str, count: u32) -> Prepared {
        let job = json!({"settlay": 1, "drawing": "d.svg", "cloths": [{"name": "fen", "width_mm": width_mm, "edge_mm": 0}],
            "pieces": [{"select": {"id": "*"}, "cloth": "fen", "grain": grain, "count": count, "allowance_mm": 0}],
            "lay": {"effort": 4, "avoid_bias": true}});
        let job = crate::job::parse(&job.to_string(), "d.job.json").unwrap();
        let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='300mm' height='200mm' viewBox='0 0 300 200'>\
            <path id='band' d='M10 10h160v8h-160z'/></svg>";
        let drawing = drawing::parse(svg.as_bytes(), "d.svg", &ReadOptions::default()).unwrap();
        prepare_with(job, drawing, &Quiet).unwrap()
    }

    fn laid(p: &Prepared) -> (Lay, Vec<Note>) {
        lay_off_bias(&request(p), BORDER_MM, &Quiet).unwrap()
    }

    fn request(p: &Prepared) -> lay::Request<'_> {
        lay::Request {
            pieces: &p.pieces,
            rules: &p.job.pieces,
            cloths: &p.cloths,
            spec: &p.job.lay,
            kept_clear: &[],
            struck: None,
            keep: 1,
            live: None,
        }
    }

    /// On cloth 130 mm wide two bands of 160 mm take about 135 mm of length aslant, and 150 mm or more off the bias.
    #[test]
    fn where_the_bias_saves_much_cloth_it_is_used_and_that_is_said() {
        let p = bands(130.0, "any", 2);
        let (lay, notes) = laid(&p);
        let on = Bias::of(&request(&p), BORDER_MM).of_lay(&lay.cloths);
        assert!(lay.cloths[0].used_length_mm < 142.0 && on > 290.0, "{} {on}", lay.cloths[0].used_length_mm);
        assert_eq!((notes.len(), notes[0].level), (1, Level::Advice));
        assert!(notes[0].text.contains("mm more cloth ("), "{notes:?}");
    }

    #[test]
    fn both_lays_are_weighed_by_the_rule() {
        let at = |length_mm, bias_mm| Weighed { length_mm, bias_mm };
        let (take, note) = judged(&at(1000.0, 800.0), &at(1015.0, 100.0), "cloth fen");
        let text = note.unwrap().text;
        assert!(take && text.contains("100 mm of narrow run lie on the bias in place of 800 mm"), "{text}");
        assert!(text.contains("costs 15 mm of cloth (1.5 %)"), "{text}");
        let (take, note) = judged(&at(1000.0, 800.0), &at(1030.0, 100.0), "cloth fen");
        let text = note.unwrap().text;
        assert!(
            !take && text.contains("700 mm of them off it would take 30 mm more cloth (3.0 %)"),
            "{text}"
        );
        let (take, note) = judged(&at(1000.0, 800.0), &at(990.0, 0.0), "cloth fen");
        assert!(take && note.unwrap().text.contains("costs no cloth"));
        assert!(judged(&at(1000.0, 5.0), &at(1001.0, 0.0), "cloth fen") == (false, None), "no difference");
    }

    #[test]
    fn slender_pieces_are_laid_off_the_bias_where_that_is_cheap() {
        let p = bands(600.0, "any", 6);
        let (lay, _) = laid(&p);
        let bias = Bias::of(&request(&p), BORDER_MM);
        assert_eq!(bias.of_lay(&lay.cloths), 0.0, "six bands across take no more than six aslant");
        let on = bias.on_bias_mm(0, 45.0);
        assert!((on - 152.0).abs() < 1.7, "160 less half a width at either end: {on}");
        assert!(bias.is_struck(0, 30.0) && !bias.is_struck(0, 20.0) && !bias.is_struck(0, 90.0));
    }

    #[test]
    fn half_and_quarter_turns_leave_nothing_to_choose() {
        let (_, notes) = laid(&bands(600.0, "either", 6));
        assert!(notes[0].text.contains("nothing to choose"), "{notes:?}");
    }

    /// Struck turns are not taken, between those that are left any angle is.
    #[test]
    fn ranges_shrink_to_what_is_left() {
        let p = bands(600.0, "any", 6);
        let bias = Bias::of(&request(&p), BORDER_MM);
        let struck = |piece: usize, turn: f64| bias.is_struck(piece, turn);
        let lay = lay::lay(&lay::Request { struck: Some(&struck), ..request(&p) }, &Quiet).unwrap();
        for placed in &lay.cloths[0].placed {
            let off = (placed.pose.turn_deg.rem_euclid(90.0) - 45.0).abs();
            assert!(off > 22.5, "{}", placed.pose.turn_deg);
        }
    }
}
