//! What to buy, as figures.

use serde_json::{Value, json};

use super::buy::{AtWidth, Buying};

/// Effort of each lay when neither the job nor the maker says.
pub const EFFORT: u32 = 4;

impl Buying {
    /// The figures as JSON.
    pub fn figures(&self) -> Value {
        let buying = self;
        let at = |w: &AtWidth| match &w.need {
            Ok(n) => json!({
                "width_mm": w.width_mm, "buy_mm": n.buy_mm, "laid_mm": n.laid_mm, "start_mm": n.start_mm,
                "skew_mm": n.skew_mm, "cutting_mm": n.cutting_mm, "shrinkage_mm": n.shrinkage_mm,
                "price_per_m": w.price_per_m, "cost": w.cost(), "efficiency": w.efficiency, "proved_shortest": w.proved,
                "no_room_for_marks": w.no_room,
            }),
            Err(t) => {
                json!({ "width_mm": w.width_mm, "buy_mm": null, "why": format!("{}: {}", t.about, t.what) })
            }
        };
        json!({
            "cloth": buying.cloth, "pieces": buying.pieces, "in_hand_mm": buying.in_hand_mm,
            "widths": buying.widths.iter().map(at).collect::<Vec<_>>(),
            "best_width_mm": buying.best.map(|k| buying.widths[k].width_mm),
            "by_price": buying.by_price,
            "savings": buying.savings.iter().map(|s| {
                json!({ "change": s.change, "saves_mm": s.saves_mm, "saves": s.saves, "no_room_for_marks": s.no_room })
            }).collect::<Vec<_>>(),
        })
    }
}
