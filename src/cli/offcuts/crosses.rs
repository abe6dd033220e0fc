//! `settlay offcuts crosses`.

use crate::offcuts::{Offcut, Place, SAME_CROSS_MM, Shelf};
use crate::say::Trouble;
use crate::write;

use super::add::corners;
use super::said;
use crate::cli::tell;

/// Words of `settlay offcuts crosses`.
#[derive(clap::Args, Debug)]
#[command(group = clap::ArgGroup::new("where").required(true))]
pub struct CrossesArgs {
    /// The offcut, by id
    #[arg(value_name = "ID")]
    id: String,
    /// Middles of the crosses burnt into it, mm, as its picture lies: from its left side, and from its near one: "40,25 310,88"
    #[arg(long, value_name = "PLACES", group = "where", allow_hyphen_values = true)]
    at: Option<String>,
    /// It was looked at, and there are none
    #[arg(long, group = "where")]
    none: bool,
    /// Middles of crosses that are not there after all, told by mistake
    #[arg(long, value_name = "PLACES", group = "where", allow_hyphen_values = true)]
    not: Option<String>,
}

pub(super) fn run(args: &CrossesArgs, place: &Place) -> Result<u8, Vec<Trouble>> {
    let (text, word) = if args.not.is_some() { (&args.not, "--not") } else { (&args.at, "--at") };
    let middles = text.as_deref().map(|text| corners(text, word)).transpose().map_err(|t| vec![t])?;
    if middles.as_ref().is_some_and(Vec::is_empty) {
        return Err(vec![
            Trouble::bad_input(word, "no place is given").hint("give X,Y of each cross, in mm"),
        ]);
    }
    let middles = middles.unwrap_or_default();
    let (changed, notes) = place.change(|shelf| noted(shelf, args, &middles, place))?;
    said(&notes);
    tell::out(&format!("{}\n", changed.line())).map(|()| 0)
}

fn noted(
    shelf: &mut Shelf,
    args: &CrossesArgs,
    middles: &[[f64; 2]],
    place: &Place,
) -> Result<Offcut, Vec<Trouble>> {
    let offcut = shelf.named(&args.id).map_err(|t| vec![t])?;
    let about = format!("offcut {}", offcut.id);
    let known = offcut.burnt_mm.as_ref().map_or(0, Vec::len);
    if args.none && known > 0 {
        let s = if known == 1 { "" } else { "s" };
        let what = format!("it is known to have {known} burnt mark{s}");
        let hint =
            format!("settlay offcuts crosses {} --not \"X,Y\" takes one back that is not there", offcut.id);
        return Err(vec![Trouble::cannot(about, what).hint(hint)]);
    }
    if args.not.is_some() {
        for [x, y] in middles {
            if !offcut.unburn([*x, *y]) {
                let what = format!("no cross is known within {SAME_CROSS_MM:.0} mm of {x}, {y}");
                return Err(vec![Trouble::bad_input("--not", what).hint("its picture shows where they are")]);
            }
        }
        write::picture(offcut, place)?;
        return Ok(offcut.clone());
    }
    if offcut.burn(middles) > 0 {
        let b = offcut.bounds();
        let what = format!("a cross lies off it: it is {:.0} × {:.0} mm", b.width(), b.height());
        return Err(vec![Trouble::bad_input("--at", what).hint("measure from its left and its near side")]);
    }
    if let Some(fault) = offcut.fault() {
        return Err(vec![Trouble::bad_input("--at", fault)]);
    }
    write::picture(offcut, place)?;
    Ok(offcut.clone())
}
