//! `settlay buy JOB`.

use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::estimate::{self, Buying, Wish};
use crate::files;
use crate::plan::{self, PlanBuying};
use crate::say::{Trouble, Watch};
use crate::write;

use super::progress::Terminal;
use super::{folder, tell};

/// Words of `settlay buy`.
#[derive(clap::Args, Debug)]
pub struct BuyArgs {
    /// The job file
    job: PathBuf,
    /// Widths to look at besides the job's own, mm: 1400,1500
    #[arg(long, value_name = "MM,MM", value_delimiter = ',')]
    widths: Vec<f64>,
    /// How hard to search for each lay, thousands of moves; the same effort gives the same answer
    #[arg(long, value_name = "N")]
    effort: Option<u32>,
    /// Do not look what changing a rule would save
    #[arg(long)]
    no_savings: bool,
    /// Draw length against width; the file's ending says how: .svg or .png
    #[arg(long, value_name = "FILE")]
    picture: Option<PathBuf>,
    /// Print the figures as JSON
    #[arg(long)]
    json: bool,
}

/// Says what to buy.
///
/// # Errors
/// Why it cannot be told.
pub fn run(args: &BuyArgs) -> Result<u8, Vec<Trouble>> {
    let as_png = args.picture.as_deref().map(is_png).transpose()?;
    const WIDEST_MM: f64 = 20_000.0;
    if let Some(w) = args.widths.iter().find(|w| !(**w > 0.0 && **w <= WIDEST_MM)) {
        let what = format!("{w}: expected widths in mm, more than 0, at most {WIDEST_MM}");
        return Err(vec![Trouble::bad_input("--widths", what)]);
    }
    if args.effort.is_some_and(|e| !(1..=1_000_000).contains(&e)) {
        return Err(vec![Trouble::bad_input("--effort", "expected from 1 to 1000000")]);
    }
    let watch = Terminal::new();
    let prepared = plan::prepare(&args.job, &watch)?;
    let effort = args.effort.or(prepared.job.lay.effort).unwrap_or(estimate::EFFORT);
    let wish = Wish { widths_mm: args.widths.clone(), effort, savings: !args.no_savings };
    watch.step("lay", 0.0, "");
    let buyings = estimate::buy(&prepared.job, &prepared.pieces, &wish, &plan::WithMarks, &watch)?;
    watch.done();
    if let (Some(path), Some(png)) = (&args.picture, as_png) {
        let title = &prepared.job.title;
        let bytes = if png {
            write::buy_png(title, &buyings).map_err(|t| vec![t])?
        } else {
            write::buy_svg(title, &buyings).into_bytes()
        };
        folder::settled(folder::beside(path))?;
        files::write_whole(path, &bytes).map_err(|t| vec![t])?;
    }
    let none: Vec<Trouble> = buyings.iter().filter(|b| b.best.is_none()).map(no_width).collect();
    if !none.is_empty() {
        return Err(none);
    }
    if args.json {
        let all: Vec<Value> = buyings.iter().map(Buying::figures).collect();
        tell::out(&format!("{:#}\n", Value::from(all)))?;
    } else {
        for buying in &buyings {
            tell::out(&words(buying))?;
        }
        tell::out(
            "Each length is that of a lay found, with room for the marks of this bed's passes as a plan keeps it, begun\n\
             anywhere in the repeat the pieces allow. settlay plan reckons the length of its own lay in the same way: a panel\n\
             cut at one place of the repeat may take more. Measure a repeat before you order.\n",
        )?;
    }
    Ok(0)
}

fn is_png(path: &Path) -> Result<bool, Vec<Trouble>> {
    match path.extension().map(|e| e.to_string_lossy().to_lowercase()).as_deref() {
        Some("png") => Ok(true),
        Some("svg") => Ok(false),
        _ => Err(vec![
            Trouble::bad_input(
                path.display().to_string(),
                "its ending does not say what picture it is to be",
            )
            .hint("end the file's name in .svg or .png"),
        ]),
    }
}

fn no_width(buying: &Buying) -> Trouble {
    let why = buying.widths.last().and_then(|w| w.need.as_ref().err());
    match why {
        Some(t) => Trouble { about: format!("cloth {}, {}", buying.cloth, t.about), ..t.clone() },
        None => Trouble::cannot(format!("cloth {}", buying.cloth), "no width is known").hint("give --widths"),
    }
}

fn metres(mm: f64) -> String {
    format!("{:.2} m", mm / 1000.0)
}

fn words(buying: &Buying) -> String {
    let mut s = format!("\n{}: {} pieces\n", buying.cloth, buying.pieces);
    s.push_str("      width     to buy   price/m       cost   of it used\n");
    for (k, at) in buying.widths.iter().enumerate() {
        let sign = if buying.best == Some(k) { '>' } else { ' ' };
        let width = format!("{:.0} mm", at.width_mm);
        match &at.need {
            Ok(need) => {
                let money = |v: Option<f64>| v.map_or("-".to_owned(), |v| format!("{v:.2}"));
                s.push_str(&format!(
                    "  {sign} {width:>8} {:>10} {:>9} {:>10} {:>7.0} %{}\n",
                    metres(need.buy_mm),
                    money(at.price_per_m),
                    money(at.cost()),
                    100.0 * at.efficiency,
                    if at.proved { "   no lay is shorter" } else { "" }
                ));
                if let Some(why) = &at.no_room {
                    s.push_str(&format!(
                        "                 no room for marks in it, so a plan may take more: {why}\n"
                    ));
                }
            }
            Err(t) => s.push_str(&format!("    {width:>8}   will not do: {} {}\n", t.about, t.what)),
        }
    }
    let Some((at, need)) =
        buying.best.and_then(|k| Some((&buying.widths[k], buying.widths[k].need.as_ref().ok()?)))
    else {
        return s;
    };
    s.push_str(&format!("  at {:.0} mm: {}\n", at.width_mm, PlanBuying::from(*need).words()));
    if let Some(hand) = buying.in_hand_mm {
        let enough = if hand >= need.buy_mm { "enough" } else { "not enough" };
        s.push_str(&format!("  the job has {} of it, {enough}\n", metres(hand)));
    }
    if buying.widths.iter().any(|w| w.price_per_m == Some(0.0)) {
        s.push_str("  a price is 0, so length decides, not cost\n");
    }
    if buying.stopped {
        s.push_str("  it was stopped: widths and rules not named here were not looked at, and the last length may be too long\n");
    }
    for saving in &buying.savings {
        let money = saving.saves.filter(|m| *m > 0.0).map_or(String::new(), |m| format!(" ({m:.2})"));
        if saving.saves_mm > 0.0 {
            let no_room = match &saving.no_room {
                Some(_) => "; no room for marks in it, so a plan may not keep all of it",
                None => "",
            };
            s.push_str(&format!("  {}: {} less{money}{no_room}\n", saving.change, metres(saving.saves_mm)));
        } else {
            s.push_str(&format!("  {}: saves nothing\n", saving.change));
        }
    }
    s
}
