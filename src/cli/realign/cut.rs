//! `settlay realign PLAN --pass N --mark-done`: a pass recorded as cut, and with the last one what is left of the cloth.

use std::path::Path;

use crate::cli::folder;
use crate::cli::offcuts::{Kept, keep_leftovers, place_of};
use crate::offcuts::Offcut;
use crate::plan::Plan;
use crate::realign::{self, Done};
use crate::say::Trouble;

use super::RealignArgs;

/// Records the pass, puts the leftovers of a cloth that is cut on the shelf, and says so in words and as JSON.
///
/// # Errors
/// A record or shelf that cannot be written.
pub(super) fn mark_done(
    args: &RealignArgs,
    plan: &Plan,
    pass: usize,
    mut record: Done,
    folder: &Path,
) -> Result<(String, String), Vec<Trouble>> {
    let new = realign::mark_done(&mut record, plan, pass, folder).map_err(|t| vec![t])?;
    let pass = &plan.passes[pass];
    let title = format!("pass {} of cloth {}", pass.number, pass.cloth);
    let mut text = if new {
        format!(
            "Recorded as cut: {title}. It is not changed from now on; if it is not cut after all, --not-cut takes that back.\n"
        )
    } else {
        let since = record.of(pass).map_or("", |d| d.recorded.as_str());
        format!("{} is recorded as cut already, since {since}.\n", title.replacen('p', "P", 1))
    };
    let mut of_cloth = plan.passes.iter().filter(|p| p.cloth == pass.cloth);
    let cloth = plan.cloths.iter().find(|c| c.name == pass.cloth);
    let (Some(cloth), true) = (cloth, of_cloth.all(|p| record.of(p).is_some())) else {
        return Ok((text, record.text()));
    };
    let left_by = record.cutting_of(&cloth.name);
    let since = args.since.iter().map(|p| folder::plan_at(p));
    let since = since.collect::<Result<Vec<Plan>, Trouble>>();
    let shelved = place_of(args.shelf.as_deref()).map_err(|t| vec![t]).and_then(|place| {
        let since = since.map_err(|t| vec![t])?;
        let kept = keep_leftovers(plan, cloth, &left_by, &args.place, &since, &place)?;
        text.push_str(&format!("That was the last pass of {}.\n{}", cloth.name, kept.words(&place)));
        Ok(kept)
    });
    let Kept { new, known, discarded, cut_up, .. } = shelved.map_err(|mut troubles| {
        let what = "it is recorded as cut, but its cloth's leftovers are not on the shelf";
        let hint = "once that is mended, the same command puts them there";
        troubles.push(Trouble::cannot(title, what).hint(hint));
        troubles
    })?;
    let ids = |all: &[Offcut]| all.iter().map(|o| o.id.clone()).collect::<Vec<_>>();
    let mut json = serde_json::to_value(&record).unwrap_or_default();
    json["shelved"] = ids(&new).into();
    json["on_the_shelf_before"] = ids(&known).into();
    json["cut_up"] = cut_up.into();
    json["discarded_mm2"] = discarded.iter().map(|c| c.area_mm2).sum::<f64>().into();
    Ok((text, format!("{json:#}\n")))
}
