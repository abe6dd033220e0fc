//! Which bridges are cut with scissors, and when: a piece that later passes go on with keeps its own until the last of them.

use crate::plan::{Plan, PlanBridge, PlanPass};
use crate::write::report::html::coordinate;

use super::book::{Book, TO_WRITE, column};

/// The pass in which a bridge is cut: the last that burns its piece.
pub(in crate::write) fn cut_in(plan: &Plan, pass: &PlanPass, bridge: &PlanBridge) -> usize {
    let burns = |p: &&PlanPass| {
        let of_it =
            |b: &crate::plan::PlanBurn| b.piece == bridge.piece && b.copy == bridge.copy && b.kind != "mark";
        p.cloth == pass.cloth && p.burns.iter().any(of_it)
    };
    plan.passes.iter().filter(burns).map(|p| p.number).max().unwrap_or(pass.number).max(pass.number)
}

/// What to do about bridges once the pass is cut, step by step.
pub(super) fn steps(plan: &Plan, pass: &PlanPass) -> Vec<String> {
    let now = pass.bridges.iter().filter(|b| cut_in(plan, pass, b) == pass.number).count();
    let later = pass.bridges.len() - now;
    let earlier: Vec<&PlanPass> = plan
        .passes
        .iter()
        .filter(|p| p.cloth == pass.cloth && p.number < pass.number)
        .filter(|p| p.bridges.iter().any(|b| cut_in(plan, p, b) == pass.number))
        .collect();
    let count = |n: usize| if n == 1 { "1 bridge".to_owned() } else { format!("{n} bridges") };
    let mut steps = Vec::new();
    if later > 0 {
        steps.push(format!(
            "Leave {} uncut: their pieces are cut on in a later pass and must lie still until then. The list of bridges says in which.",
            count(later)
        ));
    }
    if now > 0 {
        steps.push(format!(
            "Cut {} with scissors, those the list says for this pass, and tick them off.",
            count(now)
        ));
    }
    if !earlier.is_empty() {
        let numbers: Vec<String> = earlier.iter().map(|p| p.number.to_string()).collect();
        steps.push(format!("Cut what was left for this pass in the list of pass {}.", numbers.join(" and ")));
    }
    steps
}

/// The list.
pub(super) fn list(book: &mut Book, plan: &Plan, pass: &PlanPass) {
    if pass.bridges.is_empty() {
        return;
    }
    let rows: Vec<Vec<String>> = pass
        .bridges
        .iter()
        .map(|b| {
            let [x, y] = b.bed.map(coordinate);
            let cut_in = cut_in(plan, pass, b);
            let when = if cut_in == pass.number { "now".into() } else { format!("in pass {cut_in}") };
            let width = crate::write::number(b.width_mm);
            vec![b.piece.clone(), b.copy.to_string(), x, y, width, when, TO_WRITE.into()]
        })
        .collect();
    let columns = [
        column("Piece", 2.6, false),
        column("copy", 0.8, true),
        column("bed x", 1.2, true),
        column("bed y", 1.2, true),
        column("wide", 0.8, true),
        column("cut it", 1.2, false),
        column("done", 0.8, false),
    ];
    book.table_under("Bridges, to be cut with scissors", &columns, &rows);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::sample::sample_plan;

    #[test]
    fn a_piece_cut_on_later_keeps_its_bridges_until_its_last_pass() {
        let mut plan = sample_plan();
        let outline = plan.passes[0].burns.iter().find(|b| b.kind == "outline").cloned().unwrap();
        let bridge = PlanBridge {
            piece: outline.piece.clone(),
            copy: outline.copy,
            cloth: [0.0, 0.0],
            bed: [0.0, 0.0],
            width_mm: 0.6,
        };
        plan.passes[0].bridges = vec![bridge];
        plan.passes[1].burns.retain(|b| b.piece != outline.piece);
        assert_eq!(steps(&plan, &plan.passes[0]).len(), 1);
        assert!(steps(&plan, &plan.passes[0])[0].starts_with("Cut 1 bridge"));
        assert!(steps(&plan, &plan.passes[1]).is_empty());
        plan.passes[1].burns.push(outline);
        assert_eq!(cut_in(&plan, &plan.passes[0], &plan.passes[0].bridges[0]), 2);
        assert!(steps(&plan, &plan.passes[0])[0].starts_with("Leave 1 bridge uncut"));
        assert!(steps(&plan, &plan.passes[1])[0].contains("in the list of pass 1"));
    }
}
