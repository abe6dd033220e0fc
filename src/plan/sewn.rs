//! What follows from a plan for the work as sewn: how the pattern runs across neighbours, what is slender on the
//! bias.

use std::collections::BTreeMap;

use rayon::prelude::*;

use crate::job::Weave;
use crate::lay::{Lay, allowed_turns};
use crate::say::Note;
use crate::sew::{self, Axis, SewnPiece, Slender, Work};

use super::build::{pair, round};
use super::model::{Plan, PlanRunAcross, PlanSlender};
use super::run::Prepared;

/// Runs named one by one in the note.
const NAMED: usize = 4;

/// Fills in `run_across` and every piece's `slender`, and says what is slender. The plan's pieces stand cloth by cloth
/// in the order of the lay.
pub(super) fn look_over(plan: &mut Plan, prepared: &Prepared, lay: &Lay) {
    let placed: Vec<(usize, &crate::lay::Placed)> =
        lay.cloths.iter().enumerate().flat_map(|(c, on)| on.placed.iter().map(move |p| (c, p))).collect();
    let border_mm = prepared.job.cutter.border_mm;
    // Copies of a piece have one middle line.
    let mut axes: BTreeMap<usize, Option<Axis>> = placed.iter().map(|(_, p)| (p.piece, None)).collect();
    axes.par_iter_mut().for_each(|(piece, axis)| {
        let drawn = prepared.pieces.get(*piece).map(|p| &p.drawn);
        *axis = drawn.map(|d| sew::narrow_axis(d, sew::narrow_mm(border_mm)));
    });
    let runs: Vec<Vec<Slender>> = placed
        .par_iter()
        .map(|(c, p)| {
            let (piece, cloth) = (&prepared.pieces[p.piece], &prepared.cloths[*c]);
            let Some(Some(axis)) = axes.get(&p.piece) else { return Vec::new() };
            if cloth.weave == Weave::Felt {
                // Felt has no threads and no bias.
                return Vec::new();
            }
            let turns = allowed_turns(&prepared.job.pieces[piece.rule], cloth, "").unwrap_or_default();
            sew::slender(axis, p.pose.turn_deg, border_mm, &turns)
        })
        .collect();
    for (piece, runs) in plan.pieces.iter_mut().zip(&runs) {
        piece.slender = runs.iter().map(plan_slender).collect();
    }
    plan.notes.extend(slender_note(plan));

    let near_mm = sew::near_mm(border_mm);
    let seams = sew::seams(&prepared.pieces, &prepared.job.pieces, near_mm);
    let judgement = sew::judge(&seams, lay, &prepared.pieces, &prepared.cloths);
    plan.notes.extend(judgement.notes(&prepared.pieces, &prepared.cloths));
    plan.notes.extend(crate::lay::turned_notes(
        lay,
        &prepared.pieces,
        &prepared.job.pieces,
        &prepared.cloths,
    ));
    let mut works: BTreeMap<u32, Vec<SewnPiece>> = BTreeMap::new();
    for (index, (c, p)) in placed.iter().enumerate() {
        let piece = &prepared.pieces[p.piece];
        works.entry(p.copy).or_default().push(SewnPiece {
            drawn: piece.drawn.clone(),
            pose: p.pose,
            cloth: Some(*c),
            order: piece.element,
            index,
        });
    }
    for (copy, pieces) in works {
        let pairs = sew::run_across(&Work::new(pieces), &prepared.cloths, near_mm);
        let id = |index: usize| plan.pieces.get(index).map_or(String::new(), |p| p.id.clone());
        let piece = |index: usize| placed.get(index).and_then(|(_, p)| prepared.pieces.get(p.piece));
        let asked = |r: &sew::RunAcross| {
            let (upper, lower) = (piece(r.upper)?, piece(r.lower)?);
            sew::asked(upper, lower, &prepared.job.pieces)
        };
        let told: Vec<PlanRunAcross> = pairs
            .iter()
            .map(|r| PlanRunAcross {
                upper: id(r.upper),
                lower: id(r.lower),
                copy,
                at: pair(r.at),
                common_mm: round(r.common_mm),
                off_across_mm: r.off_mm[0].map(round),
                off_along_mm: r.off_mm[1].map(round),
                colours: r.colours.map(round),
                score: round(r.score),
                runs_through: r.runs_through,
                asked: asked(r) == Some(true),
            })
            .collect();
        plan.run_across.extend(told);
    }
}

fn plan_slender(run: &Slender) -> PlanSlender {
    PlanSlender {
        axis: run.axis.iter().map(|p| pair(*p)).collect(),
        length_mm: round(run.length_mm),
        width_mm: round(run.width_mm),
        least_width_mm: round(run.least_width_mm),
        off_bias_deg: round(run.off_bias_deg),
        verdict: run.verdict.words().into(),
        turn_deg: run.turn_deg.map(round),
    }
}

/// One note for the whole work, the longest runs by name.
fn slender_note(plan: &Plan) -> Option<Note> {
    let mut runs: Vec<(&str, &PlanSlender)> =
        plan.pieces.iter().flat_map(|p| p.slender.iter().map(|r| (p.id.as_str(), r))).collect();
    runs.sort_by(|a, b| b.1.length_mm.total_cmp(&a.1.length_mm));
    if runs.is_empty() {
        return None;
    }
    let named: Vec<String> = runs
        .iter()
        .take(NAMED)
        .map(|(id, r)| format!("{id} ({:.0} × {:.0} mm: {})", r.length_mm, r.width_mm, r.verdict))
        .collect();
    let more = match runs.len().saturating_sub(NAMED) {
        0 => String::new(),
        n => format!(", and {n} more"),
    };
    let text = format!(
        "Narrow runs lie on the bias, where woven cloth gives most and is drawn out of shape in sewing: {}{more}. \
         sewn.svg shows them.",
        named.join(", ")
    );
    Some(Note::advice("the work as sewn", text))
}

#[cfg(test)]
mod tests {
    use crate::drawing::{self, ReadOptions};
    use crate::plan::{Plan, prepare_with, run};
    use crate::say::{Level, Quiet};
    use serde_json::{Value, json};

    /// Two halves of a disc side by side, a slanting band over them, and a straight one.
    const DRAWING: &str = r##"<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="200mm" viewBox="0 0 300 200">
      <g id="halves"><path id="left" d="M95,20 A80,80 0 0 0 95,180 Z"/><path id="right" d="M101,20 A80,80 0 0 1 101,180 Z"/></g>
      <g id="bands"><path id="slant" d="M200,40 L260,100 L255,105 L195,45 Z"/><path id="upright" d="M280,20 L287,20 L287,180 L280,180 Z"/></g>
    </svg>"##;

    fn planned(bands: Value, grain: &str) -> Plan {
        let check = json!({"name": "check", "width_mm": 700, "weave": "twill-z",
            "pattern": {"warp": "K/6 W10 R4 Y/8", "ends_per_cm": 10, "picks_per_cm": 9}});
        let job = json!({"settlay": 1, "drawing": "d.svg", "cloths": [check, bands],
            "pieces": [
                {"select": {"layer": "halves"}, "cloth": "check", "match": "drawn", "group": "halves"},
                {"select": {"layer": "bands"}, "cloth": "bands", "grain": grain, "count": 2}],
            "lay": {"effort": 1}});
        let job = crate::job::parse(&job.to_string(), "d.job.json").unwrap();
        let drawing = drawing::parse(DRAWING.as_bytes(), "d.svg", &ReadOptions::default()).unwrap();
        run(prepare_with(job, drawing, &Quiet).unwrap(), &Quiet).unwrap().plan
    }

    fn slender(plan: &Plan, id: &str) -> Vec<(u32, String)> {
        let of = plan.pieces.iter().filter(|p| p.id == id);
        of.flat_map(|p| p.slender.iter().map(|s| (p.copy, s.verdict.clone()))).collect()
    }

    #[test]
    fn a_plan_tells_what_the_work_will_look_like() {
        let plan = planned(json!({"name": "bands", "width_mm": 400, "weave": "twill-s"}), "along");
        assert_eq!(plan.run_across.len(), 1);
        let pair = &plan.run_across[0];
        assert_eq!((pair.upper.as_str(), pair.lower.as_str(), pair.copy), ("right", "left", 1));
        assert!(pair.runs_through && pair.score > 0.999 && pair.common_mm > 100.0, "{pair:?}");
        // 85 long and 7 wide, both copies; the upright one lies along the grain.
        assert_eq!(slender(&plan, "slant"), [(1, "back it".into()), (2, "back it".into())]);
        assert!(slender(&plan, "upright").is_empty());
        let note = plan.notes.iter().find(|n| n.about == "the work as sewn").unwrap();
        assert!(note.text.contains("× 7 mm: back it), slant ("), "{}", note.text);
    }

    #[test]
    fn cloth_that_may_lie_any_way_is_to_be_turned_and_felt_has_no_bias() {
        let plain = planned(json!({"name": "bands", "width_mm": 400}), "any");
        for piece in plain.pieces.iter().filter(|p| p.cloth == "bands") {
            assert!(
                piece.slender.iter().all(|s| s.verdict == "turn it" && s.turn_deg.is_some()),
                "{piece:?}"
            );
        }
        let felt = planned(json!({"name": "bands", "width_mm": 400, "weave": "felt"}), "along");
        assert!(felt.pieces.iter().all(|p| p.slender.is_empty()));
        assert!(felt.notes.iter().all(|n| n.about != "the work as sewn"));
    }

    /// Three bands one above the other and a strip beside them, by the rules given, on two bolts of one check.
    fn bands(rules: &[Value]) -> Plan {
        let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='300mm' height='200mm' viewBox='0 0 300 200'><g id='wave'>\
            <path id='top' d='M10 10h200v50h-200z'/><path id='middle' d='M10 62h200v50h-200z'/>\
            <path id='low' d='M10 114h200v50h-200z'/></g><path id='strip' d='M212 10h40v154h-40z'/></svg>";
        let bolt = |name: &str, x: f64| {
            json!({"name": name, "width_mm": 500, "weave": "twill-z",
            "pattern": {"warp": "K/6 W10 R4 Y/8", "ends_per_cm": 10, "picks_per_cm": 9, "origin_mm": [x, 3]}})
        };
        let job = json!({"settlay": 1, "drawing": "d.svg", "cloths": [bolt("one", 5.0), bolt("other", 17.0)],
            "pieces": rules, "lay": {"effort": 1}});
        let job = crate::job::parse(&job.to_string(), "d.job.json").unwrap();
        let drawing = drawing::parse(svg.as_bytes(), "d.svg", &ReadOptions::default()).unwrap();
        run(prepare_with(job, drawing, &Quiet).unwrap(), &Quiet).unwrap().plan
    }

    fn as_sewn(plan: &Plan) -> Vec<(Level, &str)> {
        let of = plan.notes.iter().filter(|n| n.about == "the pattern as sewn");
        of.map(|n| (n.level, n.text.as_str())).collect()
    }

    fn seen(plan: &Plan) -> Vec<(&str, &str, bool, bool)> {
        let all = plan.run_across.iter();
        all.map(|r| (r.upper.as_str(), r.lower.as_str(), r.asked, r.runs_through)).collect()
    }

    #[test]
    fn bands_of_one_rule_run_through_without_a_word_more() {
        let plan = bands(&[
            json!({"select": {"layer": "wave"}, "cloth": "one", "match": "drawn"}),
            json!({"select": {"id": "*"}, "cloth": "one"}),
        ]);
        let bands: Vec<_> = seen(&plan).into_iter().filter(|r| r.0 != "strip").collect();
        assert_eq!(bands, [("middle", "top", true, true), ("low", "middle", true, true)]);
        assert!(plan.pieces.iter().all(|p| p.group == if p.id == "strip" { "pieces[1]" } else { "wave" }));
        let said = "The pattern runs through at all 2 places where it was asked to.";
        assert_eq!(as_sewn(&plan), [(Level::Advice, said)]);
    }

    #[test]
    fn a_group_on_two_cloths_is_told_where_its_pattern_breaks() {
        let rule = |id: &str, cloth: &str| json!({"select": {"id": id}, "cloth": cloth, "match": "drawn", "group": "wave"});
        let rules = [rule("top", "one"), rule("middle", "one"), rule("low", "other"), rule("strip", "one")];
        let plan = bands(&rules);
        let low: Vec<_> = seen(&plan).into_iter().filter(|r| r.0 == "low" || r.1 == "low").collect();
        assert_eq!(low, [("low", "middle", true, false), ("strip", "low", true, false)]);
        let said = as_sewn(&plan);
        assert!(
            matches!(said[..], [(Level::Caution, text)] if text.starts_with(
            "The pattern was asked to run through at 5 places where pieces meet and does not at 2: low and middle (")
            && text.contains("strip and low (") && text.contains("are two cloths")),
            "{said:?}"
        );
        // What it proposes is accepted and helps.
        let placed = rules.map(|mut r| {
            r["pattern_at_mm"] = json!([40, 25]);
            r
        });
        let plan = bands(&placed);
        assert!(seen(&plan).iter().all(|r| r.2 && r.3), "{:?}", seen(&plan));
    }

    #[test]
    fn pieces_kept_apart_are_not_asked_and_groups_side_by_side_are_mentioned() {
        let each = bands(&[
            json!({"select": {"layer": "wave"}, "cloth": "one", "match": "drawn", "group": "each"}),
            json!({"select": {"id": "strip"}, "cloth": "one", "match": "drawn"}),
        ]);
        assert!(seen(&each).iter().all(|r| !r.2));
        assert_eq!(as_sewn(&each), []);
        let groups: Vec<&str> = each.pieces.iter().map(|p| p.group.as_str()).collect();
        assert_eq!(groups, ["top", "middle", "low", "strip"]);
        let two = bands(&[
            json!({"select": {"layer": "wave"}, "cloth": "one", "match": "drawn"}),
            json!({"select": {"id": "strip"}, "cloth": "other", "match": "drawn"}),
        ]);
        let said = as_sewn(&two);
        assert_eq!(said.len(), 2, "{said:?}");
        assert!(
            said[1].1.contains("Neighbours of different groups") && said[1].1.contains("strip and "),
            "{said:?}"
        );
    }

    #[test]
    fn a_group_across_its_cloth_is_told_what_that_does_to_its_look() {
        let plan = bands(&[
            json!({"select": {"layer": "wave"}, "cloth": "one", "match": "drawn", "grain": "across"}),
            json!({"select": {"id": "*"}, "cloth": "one"}),
        ]);
        assert!(plan.pieces.iter().filter(|p| p.group == "wave").all(|p| p.turn_deg % 180.0 == 90.0));
        let bands: Vec<_> = seen(&plan).into_iter().filter(|r| r.0 != "strip").collect();
        assert_eq!(bands, [("middle", "top", true, true), ("low", "middle", true, true)]);
        let note = plan.notes.iter().find(|n| n.about == "rule pieces[0]").unwrap();
        assert_eq!(
            note.text,
            "Its 3 pieces lie across cloth one, so the twill's line leans like an S line in the work."
        );
    }
}
