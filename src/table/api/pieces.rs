//! The pieces as they are cut.

use serde_json::{Value, json};

use super::drawing::{point, region};
use crate::table::problem::Problem;
use crate::table::surface::{Table, hand};

/// `GET api/pieces`.
pub fn get(table: &Table) -> Result<Value, Problem> {
    let understood = table.understood()?;
    let prepared = understood.prepared()?;
    let hand = hand(prepared);
    let pieces: Vec<Value> = prepared
        .pieces
        .iter()
        .enumerate()
        .map(|(k, p)| {
            json!({
                "piece": k, "id": p.id, "copy_count": p.count, "rule": p.rule, "cloth": p.cloth,
                "cloths": hand.choices(k), "match": p.matching.word(), "group": p.group, "order": p.element,
                "drawn": region(&p.drawn), "cut": region(&p.cut), "anchor": point(p.anchor),
                "area_mm2": p.cut.area(),
            })
        })
        .collect();
    Ok(pieces.into())
}
