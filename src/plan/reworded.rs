//! A plan told anew: title, prices and sewing as the job has them now, its cut lines left as they are.

use crate::cloth::NO_COLOUR;
use crate::lay::Lay;
use crate::say::{Note, Trouble, Watch};

use super::build::{plan_cloth, round};
use super::model::Plan;
use super::run::Prepared;
use super::stitching;

/// What notes on the sewing are about.
const SEWING: &str = "sewing";

/// `plan` with the title, the prices, what is to be bought and the sewing of `prepared`, whose pieces lie as in `lay`. Pieces,
/// passes and everything else of the cutting stay untouched, realigned passes too.
///
/// # Errors
/// A frame the work cannot be sewn in.
pub fn reworded(
    plan: &Plan,
    prepared: &Prepared,
    lay: &Lay,
    watch: &dyn Watch,
) -> Result<Plan, Vec<Trouble>> {
    let mut new = Plan {
        title: prepared.job.title.clone(),
        sheets: prepared.job.sheets.clone(),
        sewing: None,
        ..plan.clone()
    };
    for cloth in &mut new.cloths {
        let Some(c) = prepared.cloths.iter().position(|known| known.name == cloth.name) else { continue };
        let told = plan_cloth(prepared, c, &lay.cloths[c], &[]);
        cloth.buy_length_mm = told.buy_length_mm;
        cloth.buying = told.buying;
        cloth.cost = told.cost;
        let weight = prepared.job.cloths[c].weight_g_per_m2;
        cloth.waste_g = weight.map(|w| round(w * cloth.waste_mm2() / 1.0e6));
        cloth.described = told.described;
    }
    // What is said of how cloths look is said anew.
    let of_looks = |n: &Note| n.text.starts_with(NO_COLOUR);
    new.notes.retain(|n| n.about != SEWING && !of_looks(n));
    new.notes.extend(prepared.notes.iter().filter(|n| of_looks(n)).cloned());
    if let Some((sewing, said)) = stitching::sewing(prepared, watch)? {
        new.sewing = Some(sewing);
        new.notes.extend(said);
    }
    new.notes.sort_by_key(|n| n.level);
    Ok(new)
}
