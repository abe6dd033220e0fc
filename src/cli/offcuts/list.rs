//! `settlay offcuts list`.

use crate::offcuts::{Offcut, Place, State};
use crate::say::Trouble;

use super::said;
use crate::cli::tell;

/// Words of `settlay offcuts list`.
#[derive(clap::Args, Debug)]
pub struct ListArgs {
    /// Only offcuts of this fabric
    #[arg(long, value_name = "NAME")]
    cloth: Option<String>,
    /// Also those taken
    #[arg(long)]
    all: bool,
    /// Print them as JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &ListArgs, place: &Place) -> Result<u8, Vec<Trouble>> {
    let (shelf, notes) = place.read().map_err(|t| vec![t])?;
    said(&notes);
    let wanted = |o: &&Offcut| {
        (args.all || o.state == State::Kept) && args.cloth.as_ref().is_none_or(|c| *c == o.cloth.name)
    };
    let listed: Vec<&Offcut> = shelf.offcuts.iter().filter(wanted).collect();
    if args.json {
        let text = serde_json::to_string_pretty(&listed)
            .map_err(|e| vec![Trouble::cannot("the shelf", e.to_string())])?;
        return tell::out(&format!("{text}\n")).map(|()| 0);
    }
    let mut text = String::new();
    let mut fabrics: Vec<&str> = listed.iter().map(|o| o.cloth.name.as_str()).collect();
    fabrics.sort_unstable();
    fabrics.dedup();
    for fabric in fabrics {
        text.push_str(&format!("{fabric}\n"));
        for o in listed.iter().filter(|o| o.cloth.name == fabric) {
            let state = match o.state {
                State::Kept => String::new(),
                State::Taken if o.taken_for.is_empty() => ", taken".into(),
                State::Taken => format!(", taken for {}", o.taken_for),
                State::Discarded => ", discarded".into(),
            };
            text.push_str(&format!("  {}{state}\n", o.line()));
        }
    }
    // A sum of nothing is -0, which would be told.
    let area = listed.iter().map(|o| o.area_mm2).sum::<f64>() + 0.0;
    let weight: f64 = listed.iter().filter_map(|o| o.weight_g).sum();
    let weight = if weight > 0.0 { format!(", {:.2} kg", weight / 1000.0) } else { String::new() };
    text.push_str(&format!(
        "{} offcut{}, {:.2} m²{weight}, on the shelf {}\n",
        listed.len(),
        if listed.len() == 1 { "" } else { "s" },
        area / 1.0e6,
        place.file().display()
    ));
    tell::out(&text).map(|()| 0)
}
