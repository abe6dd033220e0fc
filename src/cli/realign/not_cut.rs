//! `settlay realign PLAN --pass N --not-cut`: a pass recorded as cut taken back.

use std::path::Path;

use crate::cli::offcuts::{place_of, said};
use crate::offcuts::{self, Unshelved};
use crate::plan::Plan;
use crate::realign::{self, Done};
use crate::say::Trouble;

use super::{RealignArgs, listed};

/// Takes the record of the pass back, with what followed from it, and says so in words and as JSON.
///
/// # Errors
/// It is not recorded, or a later pass is; a record or shelf that cannot be written.
pub(super) fn not_cut(
    args: &RealignArgs,
    plan: &Plan,
    pass: usize,
    record: &Done,
    folder: &Path,
) -> Result<(String, String), Vec<Trouble>> {
    let as_planned = realign::as_planned(folder, plan);
    let back = realign::reopen(plan, as_planned.as_ref(), record, pass).map_err(|t| vec![t])?;
    // A shelf that cannot be read is told before anything is taken back.
    let place = back.left_by.is_some().then(|| place_of(args.shelf.as_deref())).transpose();
    let place = place.map_err(|t| vec![t])?;
    if let Some(place) = &place {
        place.read().map_err(|t| vec![t])?;
    }
    let files = realign::write_reopened(&back, folder).map_err(|t| vec![t])?;
    let pass = &plan.passes[pass];
    let title = format!("pass {} of cloth {}", pass.number, pass.cloth);
    let mut text = format!("Taken back: {title} is not cut. It was recorded as cut {}.\n", back.was.recorded);
    for line in back.words() {
        text.push_str(&format!("{line}\n"));
    }
    let mut shelf = Unshelved::default();
    let cloth = plan.cloths.iter().find(|c| c.name == pass.cloth);
    if let (Some(cloth), Some(left_by), Some(place)) = (cloth, &back.left_by, &place) {
        let taken = offcuts::unshelve(plan, cloth, left_by, place);
        let (found, notes) = taken.map_err(|mut troubles| {
            let what = "it is taken back, but its cloth's leftovers are still on the shelf";
            troubles
                .push(Trouble::cannot(&title, what).hint("settlay offcuts take ID --discard takes one off"));
            troubles
        })?;
        said(&notes);
        shelf = found;
        if shelf == Unshelved::default() && !cloth.offcuts.is_empty() {
            let file = place.file().display();
            text.push_str(&format!(
                "None of its leftovers are on the shelf {file}. If they were put on another, take them off there: settlay \
                 offcuts take ID --discard --shelf PATH\n"
            ));
        }
    }
    for line in shelf.words() {
        text.push_str(&format!("{line}\n"));
    }
    text.push_str(&listed(folder, &files));
    let ids = |all: &[offcuts::Offcut]| all.iter().map(|o| o.id.clone()).collect::<Vec<_>>();
    let mut json = serde_json::to_value(&back.done).unwrap_or_default();
    json["taken_back"] = serde_json::to_value(&back.was).unwrap_or_default();
    json["as_planned_again"] = back.changed.iter().map(|&i| plan.passes[i].number).collect::<Vec<_>>().into();
    json["off_the_shelf"] = ids(&shelf.off).into();
    json["back_on_the_shelf"] = ids(&shelf.back).into();
    json["gone_from_the_shelf"] = ids(&shelf.gone).into();
    json["still_on_the_shelf"] = ids(&shelf.by_hand).into();
    json["files"] = files.iter().map(|f| f.display().to_string()).collect::<Vec<_>>().into();
    Ok((text, format!("{json:#}\n")))
}
