//! Which piece goes down first.

use super::model::{Plan, PlanPiece};

impl Plan {
    /// The place of every piece in the order of work, from 1, one for each of `pieces`: as the work is sewn where the plan
    /// has that, else as the drawing stacks them, the lowest first. Copies of a piece share a place.
    pub fn order_of_work(&self) -> Vec<usize> {
        let sewn = self.sewing.as_ref().map_or(&[][..], |s| s.order.as_slice());
        // What is not sewn comes last.
        let turn = |p: &PlanPiece| {
            let at = sewn.iter().position(|o| o.piece == p.id);
            (at.unwrap_or(sewn.len()), if at.is_some() { 0 } else { p.order })
        };
        let mut turns: Vec<(usize, usize)> = self.pieces.iter().map(turn).collect();
        turns.sort_unstable();
        turns.dedup();
        self.pieces.iter().map(|p| turns.partition_point(|t| *t < turn(p)) + 1).collect()
    }
}

#[cfg(test)]
mod tests {
    use crate::plan::{PlanLaidDown, PlanSewing};
    use crate::write::sample::sample_plan;

    #[test]
    fn pieces_go_down_as_they_are_sewn_and_without_sewing_as_they_are_stacked() {
        let mut plan = sample_plan();
        // Gaps in the stacking, from elements that are no pieces, leave none in the order of work; copies share a place.
        plan.pieces.truncate(4);
        plan.pieces[3].id = plan.pieces[0].id.clone();
        for (piece, order) in plan.pieces.iter_mut().zip([7, 2, 30, 7]) {
            piece.order = order;
        }
        assert_eq!(plan.order_of_work(), [2, 1, 3, 2]);
        let laid = |k: usize| PlanLaidDown {
            piece: plan.pieces[k].id.clone(),
            hooping: 1,
            upon: vec![],
            finished: 1,
            waits: 0,
        };
        plan.sewing = Some(PlanSewing { order: vec![laid(2), laid(0)], ..Default::default() });
        assert_eq!(plan.order_of_work(), [2, 3, 1, 2]);
    }
}
