//! Offcuts put on the shelf, each with its picture.

use std::path::Path;

use super::lay_picture::offcut_svg;
use crate::files::write_whole;
use crate::offcuts::{self, Offcut, Place, Shelf};
use crate::plan::{CutFrom, Plan};
use crate::say::{Note, Trouble};

/// What was put on the shelf, and what went off it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Put {
    /// The offcuts under their new names.
    pub added: Vec<Offcut>,
    /// Offcuts that the plan's cloths were, by id: they are cut up.
    pub cut_up: Vec<String>,
    /// Notes on the shelf.
    pub notes: Vec<Note>,
}

/// Puts offcuts on the shelf and draws a picture of each beside it. `of_plan`: they are its leftovers, which are put there
/// once only.
///
/// # Errors
/// The shelf or a picture cannot be written; leftovers of the plan are there already.
pub fn put_on_shelf(
    place: &Place,
    leftovers: &[Offcut],
    of_plan: Option<&Plan>,
) -> Result<Put, Vec<Trouble>> {
    let cloths = of_plan.map_or(&[][..], |p| &p.cloths);
    if leftovers.is_empty() && !cloths.iter().any(|c| matches!(c.cut_from, Some(CutFrom::Offcut { .. }))) {
        return Ok(Put::default());
    }
    let ((added, cut_up), notes) = place.change(|shelf| {
        let mut added = Vec::new();
        for offcut in leftovers {
            let twin = shelf.offcuts.iter().find(|o| of_plan.is_some() && o.is_again(offcut));
            if let Some(twin) = twin {
                let what = format!("the plan's leftovers are on it already, {} among them", twin.id);
                return Err(vec![Trouble::cannot("the offcut shelf", what).hint("nothing was changed")]);
            }
            added.push(put_pictured(shelf, offcut.clone(), place)?);
        }
        let of_plan = of_plan.into_iter().flat_map(|p| p.cloths.iter().map(move |c| (p, c)));
        let cut_up = of_plan.filter_map(|(plan, cloth)| offcuts::take_cut_up(shelf, plan, cloth)).collect();
        Ok((added, cut_up))
    })?;
    Ok(Put { added, cut_up, notes })
}

/// Puts one offcut on a shelf in hand, with its picture. Gives it under its new name.
///
/// # Errors
/// A picture that cannot be written.
pub fn put_pictured(shelf: &mut Shelf, offcut: Offcut, place: &Place) -> Result<Offcut, Vec<Trouble>> {
    let new = shelf.put(offcut);
    picture(new, place)?;
    Ok(new.clone())
}

/// Draws the picture of an offcut that has changed.
///
/// # Errors
/// It cannot be written.
pub fn picture(offcut: &mut Offcut, place: &Place) -> Result<(), Vec<Trouble>> {
    offcut.picture = Some(pictured(offcut, place)?);
    Ok(())
}

/// Draws the offcut's picture into its file beside the shelf and gives the file's name.
fn pictured(offcut: &Offcut, place: &Place) -> Result<String, Vec<Trouble>> {
    let cloth = offcut.understood()?;
    let folder = place.pictures();
    let name = format!("{folder}/{}.svg", offcut.id);
    let beside = place.file().parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let path = beside.join(&folder).join(format!("{}.svg", offcut.id));
    std::fs::create_dir_all(beside.join(&folder)).map_err(|e| {
        vec![Trouble::cannot(folder.clone(), format!("the folder for pictures cannot be made: {e}"))]
    })?;
    let words = offcut.line().trim_start_matches(&offcut.id).trim().to_owned();
    write_whole(
        &path,
        offcut_svg(&cloth, offcut.burnt_mm.as_deref().unwrap_or_default(), &offcut.id, &words).as_bytes(),
    )
    .map_err(|t| vec![t])?;
    Ok(name)
}
