//! One function for every kind of file the program reads: takes any bytes and does with them what the program would, as far
//! as it comes. The fuzz targets and the table of hostile inputs feed the same.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use settlay::burn;
use settlay::cloth::{HalfTurn, Photo};
use settlay::drawing::{self, ReadOptions, faults};
use settlay::job;
use settlay::offcuts;
use settlay::plan::{self, Plan};
use settlay::realign::{self, Done};
use settlay::say::{Quiet, Trouble};
use settlay::shape::pt;
use settlay::write;

/// What came of an input: `Err` has the exit code the program would end with.
pub type Told = Result<(), u8>;

/// Exit code of an input that cannot be read.
const UNREADABLE: u8 = 2;

/// Where the project lies: the fuzz targets are a package of their own within it.
pub fn root() -> &'static Path {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    if here.join("fixtures").is_dir() { here } else { here.parent().unwrap_or(here) }
}

/// The job of every version that is kept, whose drawing and plan the other feeds lean on.
pub fn kept(name: &str) -> PathBuf {
    root().join("fixtures/older/0.1.0").join(name)
}

static DRAWING: LazyLock<Vec<u8>> = LazyLock::new(|| fs::read(kept("leaves.svg")).unwrap_or_default());
static PLAN: LazyLock<Option<Plan>> =
    LazyLock::new(|| plan::parse(&fs::read_to_string(kept("plan.json")).ok()?, "plan.json").ok());

fn code(troubles: &[Trouble]) -> u8 {
    troubles.iter().map(Trouble::exit_code).max().unwrap_or(1)
}

fn text(bytes: &[u8]) -> Result<&str, u8> {
    std::str::from_utf8(bytes).map_err(|_| UNREADABLE)
}

/// A drawing: read, and looked over for faults.
pub fn drawing(bytes: &[u8]) -> Told {
    let read = drawing::parse(bytes, "drawing.svg", &ReadOptions::default()).map_err(|t| t.exit_code())?;
    faults::of_drawing(&read, &faults::FaultLimits::default());
    Ok(())
}

/// A job: read, and made ready to be laid with a drawing that fits most jobs ill.
pub fn job(bytes: &[u8]) -> Told {
    let job = job::parse(text(bytes)?, "a.job.json").map_err(|t| code(&t))?;
    let drawing =
        drawing::parse(&DRAWING, "leaves.svg", &ReadOptions::default()).map_err(|t| t.exit_code())?;
    let prepared = plan::prepare_with(job, drawing, &Quiet).map_err(|t| code(&t))?;
    plan::sizes(&prepared.job);
    Ok(())
}

/// A plan: read, its first passes written as cut files, its last put where its own marks say it lies.
pub fn plan(bytes: &[u8]) -> Told {
    let plan = plan::parse(text(bytes)?, "plan.json").map_err(|t| t.exit_code())?;
    write::plan_json(&plan).map_err(|t| t.exit_code())?;
    for pass in plan.passes.iter().take(2) {
        let lines = write::pass_lines(pass, &plan.cutter);
        write::cut_svg(&plan.title, pass, &lines, &plan.cutter);
        write::cut_dxf(pass, &lines, &plan.cutter);
    }
    let Some(last) = plan.passes.len().checked_sub(1) else { return Ok(()) };
    let mut marks = String::from("name,x_mm,y_mm\n");
    for mark in &plan.passes[last].marks {
        marks.push_str(&format!("{},{},{}\n", mark.name, mark.bed[0], mark.bed[1]));
    }
    realigned(&plan, last, &marks)
}

/// Measured marks: read, and a pass of a plan realigned by them.
pub fn marks(bytes: &[u8]) -> Told {
    let text = text(bytes)?;
    match &*PLAN {
        Some(plan) => realigned(plan, 1.min(plan.passes.len().saturating_sub(1)), text),
        None => realign::parse(text, "marks.csv").map(drop).map_err(|t| t.exit_code()),
    }
}

fn realigned(plan: &Plan, pass: usize, marks: &str) -> Told {
    let measured = realign::parse(marks, "marks.csv").map_err(|t| t.exit_code())?;
    let request = realign::Request {
        plan,
        done: &Done::none(plan),
        pass,
        measured: &measured,
        file: "marks.csv",
        kind: None,
        from_burn: None,
    };
    let aligned = realign::realign(&request).map_err(|t| t.exit_code())?;
    aligned.report.words();
    Ok(())
}

/// Readings of a gauge: read, and kerf and scale reckoned from them.
pub fn readings(bytes: &[u8]) -> Told {
    let measured = burn::readings::read(text(bytes)?, "readings.json").map_err(|t| code(&t))?;
    burn::gauge::found(&measured).map(drop).map_err(|t| t.exit_code())
}

/// A shelf of offcuts: read, mended where it is damaged, changed and read again.
pub fn shelf(bytes: &[u8]) -> Told {
    let Ok(desk) = tempfile::tempdir() else { return Ok(()) };
    let place = offcuts::Place::at(&desk.path().join("offcuts.json"));
    fs::write(place.file(), bytes).map_err(|_| UNREADABLE)?;
    let (shelf, _) = place.read().map_err(|t| t.exit_code())?;
    place.change(|_| Ok(())).map_err(|t| code(&t))?;
    let (again, _) = place.read().map_err(|t| t.exit_code())?;
    assert_eq!(shelf.offcuts.len(), again.offcuts.len(), "what was sound on the shelf stays on it");
    Ok(())
}

/// A photograph of a cloth: read, and judged by a half turn.
pub fn photograph(bytes: &[u8]) -> Told {
    let photo = Photo::parse(bytes, [84.0, 92.0], pt(0.0, 0.0)).map_err(|_| UNREADABLE)?;
    HalfTurn::of(&photo);
    Ok(())
}
