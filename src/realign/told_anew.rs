//! What the plan's notes say of how a pass lies on the bed, said anew once it lies elsewhere.

use super::moved::point;
use crate::passes;
use crate::plan::{Note, Plan, about_pass, is_realigned};
use crate::shape::{Affine, Bounds};

/// Brings the notes on the passes at `which` in line with where these passes lie now.
pub(super) fn told_anew(plan: &mut Plan, which: &[usize]) {
    for &i in which {
        let Some(pass) = plan.passes.get(i) else { continue };
        let about = about_pass(&pass.cloth, pass.number);
        let map = Affine(pass.cloth_to_bed);
        let cloth = plan.cloths.iter().find(|c| c.name == pass.cloth);
        let hangs = cloth.and_then(|c| {
            let lies = Bounds::of(c.outline.iter().map(|p| map.apply(point(p))));
            passes::hanging(lies, pass.bed_mm)
        });
        let burnt = Bounds::of(pass.burns.iter().flat_map(|b| &b.path).map(point));
        // How true the cloth has to be laid is of no use once it lies.
        let close = (pass.number > 1 && !is_realigned(plan, pass))
            .then(|| passes::close_to_the_margin(burnt, pass.bed_mm, pass.margin_mm))
            .flatten();
        put(&mut plan.notes, &about, passes::CLOSE, close);
        put(&mut plan.notes, &about, passes::HANGS, hangs);
    }
    plan.notes.sort_by_key(|n| n.level);
}

/// Has the notes on the passes at `which` as `planned` has them.
pub(super) fn told_as_planned(plan: &mut Plan, planned: &Plan, which: &[usize]) {
    for &i in which {
        let Some(pass) = plan.passes.get(i) else { continue };
        let about = about_pass(&pass.cloth, pass.number);
        for begin in [passes::CLOSE, passes::HANGS] {
            let was = planned.notes.iter().find(|n| n.about == about && n.text.starts_with(begin));
            put(&mut plan.notes, &about, begin, was.map(|n| n.text.clone()));
        }
    }
    plan.notes.sort_by_key(|n| n.level);
}

/// Puts `text` in the place of the note on `about` that begins with `begin`, or takes that note away.
fn put(notes: &mut Vec<Note>, about: &str, begin: &str, text: Option<String>) {
    let at = notes.iter().position(|n| n.about == about && n.text.starts_with(begin));
    match (at, text) {
        (Some(at), Some(text)) => notes[at].text = text,
        (Some(at), None) => drop(notes.remove(at)),
        (None, Some(text)) => notes.push(Note::advice(about, text)),
        (None, None) => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::sample::sample_plan;

    fn told(plan: &Plan, begin: &str) -> Vec<String> {
        let about = about_pass("saltmarsh", 2);
        let own = plan.notes.iter().filter(|n| n.about == about && n.text.starts_with(begin));
        own.map(|n| n.text.clone()).collect()
    }

    #[test]
    fn how_far_cloth_hangs_over_is_said_of_where_it_lies_now() {
        let mut plan = sample_plan();
        told_anew(&mut plan, &[1]);
        let before = told(&plan, passes::HANGS);
        told_anew(&mut plan, &[1]);
        assert_eq!((before.len(), told(&plan, passes::HANGS)), (1, before.clone()));
        plan.passes[1].cloth_to_bed[5] -= 3.0;
        told_anew(&mut plan, &[1]);
        let near = |text: &str| -> f64 {
            let words = text[passes::HANGS.len()..]
                .trim_end_matches('.')
                .split(", ")
                .find(|w| w.ends_with("near side"))
                .unwrap();
            words.split(' ').next().unwrap().parse().unwrap()
        };
        let after = told(&plan, passes::HANGS);
        assert!(after.len() == 1 && (near(&after[0]) - near(&before[0]) - 3.0).abs() < 1e-9, "{after:?}");
        // Nothing hangs over a bed that is larger than the cloth.
        plan.passes[1].bed_mm = [9000.0, 9000.0];
        plan.passes[1].cloth_to_bed = [1.0, 0.0, 0.0, 1.0, 10.0, 10.0];
        told_anew(&mut plan, &[1]);
        assert!(told(&plan, passes::HANGS).is_empty());
    }

    #[test]
    fn how_true_to_lay_the_cloth_is_said_until_it_lies() {
        let mut plan = sample_plan();
        let m = plan.passes[1].margin_mm;
        plan.passes[1].burns[0].path[0] = [m + 1.0, m + 50.0];
        told_anew(&mut plan, &[1]);
        assert!(told(&plan, passes::CLOSE)[0].contains("on the left"));
        plan.notes.push(Note::advice(about_pass("saltmarsh", 2), "Realigned by A, B: moved."));
        told_anew(&mut plan, &[1]);
        assert!(told(&plan, passes::CLOSE).is_empty());
    }
}
