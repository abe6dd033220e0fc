//! `settlay offcuts add`.

use std::io::Read as _;
use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::cli::folder;
use crate::job::{self, ClothSpec};
use crate::offcuts::{self, Offcut, Place, Shelved};
use crate::say::{Trouble, json};
use crate::write;

use super::{keep, said};
use crate::cli::tell;

/// Words of `settlay offcuts add`.
#[derive(clap::Args, Debug)]
pub struct AddArgs {
    /// An offcut described as a cloth of a job is, with outline_mm; - reads it from stdin
    #[arg(value_name = "CLOTH.json", required_unless_present_any = ["plan", "job"], conflicts_with_all = ["plan", "job"])]
    cloth_file: Option<PathBuf>,
    /// A plan that has been cut: its leftovers go on the shelf. The folder or its plan.json
    #[arg(long, value_name = "PLAN", conflicts_with = "job")]
    plan: Option<PathBuf>,
    /// A job that describes the fabric; with --outline
    #[arg(long, value_name = "JOB", requires = "outline")]
    job: Option<PathBuf>,
    /// Which cloth of that job it is of; needed when there are several
    #[arg(long, value_name = "NAME", requires = "job")]
    cloth: Option<String>,
    /// Its corners once round, mm, warp along y: "0,0 300,0 300,210 0,180"
    #[arg(long, value_name = "CORNERS", requires = "job", allow_hyphen_values = true)]
    outline: Option<String>,
    /// Where a crossing of the first listed stripes lies in these corners' frame, mm: 40,25
    #[arg(long, value_name = "X,Y", requires = "outline", allow_hyphen_values = true)]
    origin: Option<String>,
    /// The side the outline was measured from: up for the face, down for the back
    #[arg(long, value_name = "up|down", default_value = "up", value_parser = ["up", "down"])]
    face: String,
    /// Where it is kept
    #[arg(long, value_name = "TEXT", default_value = "")]
    place: String,
    /// The day, in place of today
    #[arg(long, value_name = "YYYY-MM-DD")]
    date: Option<String>,
    /// The work it is left from
    #[arg(long, value_name = "TEXT", default_value = "")]
    from: String,
    /// Print the new offcuts as JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &AddArgs, place: &Place) -> Result<u8, Vec<Trouble>> {
    let date = args.date.clone().unwrap_or_else(offcuts::today);
    let of_plan = args.plan.as_deref().map(folder::plan_at).transpose().map_err(|t| vec![t])?;
    let what = match &of_plan {
        Some(plan) => {
            let (shelf, _) = place.read().map_err(|t| vec![t])?;
            let beside = offcuts::Beside { since: &[], shelf: &shelf.offcuts };
            offcuts::shelve(plan, &date, &args.place, beside)?
        }
        None => {
            let spec = by_hand(args)?;
            let spec = if args.face == "down" { turned_over(spec) } else { spec };
            Shelved {
                offcuts: vec![Offcut::new(&spec, &date, &args.place, &args.from)?],
                discarded: Vec::new(),
            }
        }
    };
    let write::Put { added, cut_up, notes } = write::put_on_shelf(place, &what.offcuts, of_plan.as_ref())?;
    said(&notes);
    if args.json {
        let text = serde_json::to_string_pretty(&added)
            .map_err(|e| vec![Trouble::cannot("the offcuts", e.to_string())])?;
        return tell::out(&format!("{text}\n")).map(|()| 0);
    }
    let mut text = keep::cut_up_words(&cut_up);
    for offcut in &added {
        text.push_str(&format!("{}\n", offcut.line()));
    }
    text.push_str(&keep::discarded_words(&what.discarded));
    if of_plan.is_some_and(|p| p.cloths.iter().all(offcuts::is_of_another_plan)) {
        text.push_str(keep::LEFT_ELSEWHERE);
    } else if added.is_empty() {
        text.push_str("Nothing is left that is worth keeping.\n");
    } else {
        text.push_str(&format!("Pin the id to each. The shelf is {}\n", place.file().display()));
    }
    tell::out(&text).map(|()| 0)
}

/// The description of an offcut that is no plan's leftover, checked like a cloth of a job.
fn by_hand(args: &AddArgs) -> Result<ClothSpec, Vec<Trouble>> {
    if let Some(path) = &args.cloth_file {
        let (text, name) = read_text(path).map_err(|t| vec![t])?;
        return checked(&text, &name);
    }
    let (Some(path), Some(outline)) = (&args.job, &args.outline) else {
        return Err(vec![Trouble::bad_input("settlay offcuts add", "nothing to put on the shelf is named")]);
    };
    let job = job::read(path)?;
    let spec = match &args.cloth {
        Some(name) => job.cloths.iter().find(|c| c.name == *name || c.stock.as_ref() == Some(name)),
        None if job.cloths.len() == 1 => job.cloths.first(),
        None => None,
    };
    let Some(spec) = spec else {
        let names: Vec<&str> = job.cloths.iter().map(|c| c.name.as_str()).collect();
        let what = format!("expected the name of one of the job's cloths: {}", names.join(", "));
        return Err(vec![Trouble::bad_input("--cloth", what)]);
    };
    let corners = corners(outline, "--outline").map_err(|t| vec![t])?;
    if let Some(fault) = job::outline_fault(&corners) {
        let hint = "list the corners once round, without crossing";
        return Err(vec![Trouble::bad_input("--outline", fault).hint(hint)]);
    }
    let mut spec = ClothSpec {
        name: offcuts::fabric_of(spec).to_owned(),
        stock: None,
        outline_mm: Some(corners),
        width_mm: None,
        length_mm: None,
        flaws_mm: Vec::new(),
        ..spec.clone()
    };
    match (&mut spec.pattern, &args.origin) {
        (Some(pattern), Some(text)) => {
            pattern.origin_mm = pair(text, "--origin").map_err(|t| vec![t])?;
        }
        (Some(_), None) => {
            let what = "the fabric has a pattern, and where it falls on the offcut is not said";
            return Err(vec![Trouble::bad_input("--origin", what).hint("measure it: --origin X,Y")]);
        }
        (None, Some(_)) => {
            return Err(vec![Trouble::bad_input("--origin", "the fabric has no pattern")]);
        }
        (None, None) => {}
    }
    let text =
        serde_json::to_string(&spec).map_err(|e| vec![Trouble::bad_input("--outline", e.to_string())])?;
    checked(&text, "--outline")
}

fn read_text(path: &Path) -> Result<(String, String), Trouble> {
    let name = if path == Path::new("-") { "stdin".to_owned() } else { path.display().to_string() };
    let cannot = |e: &std::io::Error| Trouble::bad_input(&name, format!("it cannot be read: {e}"));
    let mut bytes = Vec::new();
    let read = if name == "stdin" {
        std::io::stdin().lock().take(job::LARGEST_FILE + 1).read_to_end(&mut bytes)
    } else {
        std::fs::File::open(path).and_then(|f| f.take(job::LARGEST_FILE + 1).read_to_end(&mut bytes))
    };
    read.map_err(|e| cannot(&e))?;
    if bytes.len() as u64 > job::LARGEST_FILE {
        return Err(Trouble::bad_input(&name, "the file is far larger than any description of a cloth"));
    }
    let text = String::from_utf8(bytes).map_err(|_| Trouble::bad_input(&name, "this is not text (UTF-8)"))?;
    Ok((text, name))
}

/// A cloth's description checked by all the rules for a cloth of a job.
fn checked(text: &str, name: &str) -> Result<ClothSpec, Vec<Trouble>> {
    let value = json::value(text).map_err(|wrong| vec![wrong.in_file(name)])?;
    let fabric = value.get("name").and_then(Value::as_str).unwrap_or("cloth");
    // The description stays where it stands in its file, so that lines are told right.
    let head = format!(
        "{{\"settlay\":1,\"drawing\":\"-\",\"pieces\":[{{\"select\":{{\"id\":\"*\"}},\"cloth\":{}}}],\"cloths\":[",
        Value::from(fabric)
    );
    let mut job = job::parse(&format!("{head}{text}]}}"), name)?;
    Ok(job.cloths.swap_remove(0))
}

fn pair(text: &str, about: &str) -> Result<[f64; 2], Trouble> {
    let numbers: Vec<f64> = text.split(',').filter_map(|n| n.trim().parse().ok()).collect();
    match (&numbers[..], text.split(',').count()) {
        ([x, y], 2) if x.is_finite() && y.is_finite() => Ok([*x, *y]),
        _ => Err(Trouble::bad_input(about, format!("\"{text}\": expected two numbers, X,Y"))),
    }
}

pub(super) fn corners(text: &str, about: &str) -> Result<Vec<[f64; 2]>, Trouble> {
    text.split_whitespace().map(|p| pair(p, about)).collect()
}

/// A description measured from the back, as it is seen from the face: mirrored left to right.
fn turned_over(spec: ClothSpec) -> ClothSpec {
    let flip = |r: &Vec<[f64; 2]>| r.iter().map(|[x, y]| [-x, *y]).collect::<Vec<_>>();
    ClothSpec {
        outline_mm: spec.outline_mm.as_ref().map(flip),
        flaws_mm: spec.flaws_mm.iter().map(flip).collect(),
        pattern: spec
            .pattern
            .clone()
            .map(|p| job::PatternSpec { origin_mm: [-p.origin_mm[0], p.origin_mm[1]], ..p }),
        ..spec
    }
}
