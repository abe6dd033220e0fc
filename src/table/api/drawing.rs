//! The drawing: taken in, and shown as we read it. The file itself is never shown: nothing in it can run.

use std::path::PathBuf;

use serde::Deserialize;
use serde_json::{Value, json};

use crate::drawing::faults::{self, Fault, FaultLimits, Severity};
use crate::drawing::{self, Drawing, ReadOptions, Subpath};
use crate::job::{Job, Select};
use crate::plan;
use crate::shape::{Point, Region};
use crate::table::disk::{self, fingerprint, write_whole};
use crate::table::names;
use crate::table::problem::{Problem, troubles};
use crate::table::surface::Table;
use crate::table::understood::Understood;

/// Words of the address a drawing is sent to.
#[derive(Debug, Deserialize)]
pub struct Named {
    name: String,
    #[serde(default)]
    over: u8,
}

/// `POST api/drawing`: kept beside the job and named in it; begins a job where there is none.
pub fn post(table: &Table, named: &Named, revision: u64, bytes: &[u8]) -> Result<Value, Problem> {
    let name = names::plain(&named.name, &[".svg", ".svgz"])?;
    // What cannot be read as a drawing is not kept.
    let drawing = drawing::parse(bytes, &name, &ReadOptions::default())?;
    table.store().expect(revision)?;
    table.heavy.idle()?;
    let made = own_folder(table, &name)?;
    let given = keep(table, &name, named.over == 1, revision, (&drawing, bytes));
    match (&given, made) {
        // Only ever takes away a folder that is empty.
        (Err(_), Some(folder)) => drop(std::fs::remove_dir(folder)),
        (Ok(_), Some(_)) => {
            if let (Some(rooms), Some(job)) = (table.rooms.upgrade(), table.store().job_path())
                && let Some(home) = &rooms.home
            {
                home.note_opened(&job);
            }
        }
        _ => {}
    }
    given
}

/// At home a job that is begun gets a folder of its own, named after its drawing.
fn own_folder(table: &Table, drawing: &str) -> Result<Option<PathBuf>, Problem> {
    let Some(rooms) = table.rooms.upgrade() else { return Ok(None) };
    let mut store = table.store();
    match &rooms.home {
        Some(home) if store.name.is_none() && store.folder == home.jobs => {
            store.folder = home.new_folder(drawing)?;
            Ok(Some(store.folder.clone()))
        }
        _ => Ok(None),
    }
}

/// Keeps a drawing that was read beside the job, and names it there.
fn keep(
    table: &Table,
    name: &str,
    over: bool,
    revision: u64,
    (drawing, bytes): (&Drawing, &[u8]),
) -> Result<Value, Problem> {
    let path = table.folder().join(name);
    let there = disk::read_limited(&path, super::LARGEST_DRAWING as u64).ok();
    let same = there.as_deref() == Some(bytes);
    if path.symlink_metadata().is_ok() && !same && !over {
        return Err(Problem::clash(format!("there is another drawing {name} in this folder already"))
            .hint("give yours another name, or say that it takes the other's place")
            .with("exists", name));
    }
    {
        let mut store = table.store();
        if store.copy.work.job.is_none() && store.name.is_none() {
            let begun = free_name(&store.folder, name);
            store.begin(&begun)?;
        }
    }
    let page_before = table.understood().ok().and_then(|u| match &u.drawing {
        Some(Ok(drawing)) => Some(drawing.page_mm),
        _ => None,
    });
    // That the size is true was said of another drawing.
    let asked_anew = !drawing.measured && page_before.is_some_and(|before| before != drawing.page_mm);
    let (_, ()) = table.change("drawing", revision, |work| {
        if !same {
            // One that is replaced is kept beside: undoing brings back the job, not the file.
            if let Some(old) = &there {
                write_whole(&path.with_file_name(format!(".{name}-before-{revision}")), old)?;
            }
            write_whole(&path, bytes)?;
        }
        match &mut work.job {
            Some(job) => {
                job["drawing"] = name.into();
                let stood_for = job.get("drawing_scale").and_then(Value::as_f64) == Some(1.0);
                if let Some(fields) = job.as_object_mut().filter(|_| asked_anew && stood_for) {
                    fields.shift_remove("drawing_scale");
                }
            }
            None => {
                work.job = Some(json!({
                    "settlay": 1, "title": "", "drawing": name, "cloths": [], "pieces": []
                }));
            }
        }
        Ok(())
    })?;
    table.note_drawing(fingerprint(&[bytes]))?;
    let state = table.state();
    Ok(json!({
        "revision": state["revision"], "job_file": state["job_file"], "drawing": name,
        "page_mm": drawing.page_mm, "shapes": drawing.elements.len(),
    }))
}

/// A name for a job made of this drawing that nothing in the folder has yet.
fn free_name(folder: &std::path::Path, drawing: &str) -> String {
    let name = names::job_of_drawing(drawing);
    let taken = |n: &str| folder.join(n).exists() || folder.join(crate::table::store::table_name(n)).exists();
    let stem = names::stem_of_job(&name).to_owned();
    let more = (2..1000).map(|k| format!("{stem}-{k}.job.json"));
    std::iter::once(name.clone()).chain(more).find(|n| !taken(n)).unwrap_or(name)
}

/// `GET api/drawing`.
pub fn get(table: &Table) -> Result<Value, Problem> {
    let job = table.store().copy.work.job.clone();
    let understood = table.understood()?;
    let drawing = match &understood.drawing {
        Some(Ok(drawing)) => drawing.clone(),
        Some(Err(t)) => return Err(t.clone().into()),
        None => return Err(Problem::none("the job names no drawing yet").hint("begin with a drawing")),
    };
    let selects: Vec<Select> = job
        .as_ref()
        .and_then(|j| j.get("pieces")?.as_array().cloned())
        .unwrap_or_default()
        .into_iter()
        .map(|rule| {
            let select = rule.get("select").cloned().unwrap_or(Value::Null);
            // A selection that cannot be read picks nothing.
            serde_json::from_value(select)
                .unwrap_or_else(|_| Select { fill: Some("none".into()), ..Select::default() })
        })
        .collect();
    let rules = drawing::picked_by(&selects, &drawing);
    let mut layers: Vec<&str> =
        drawing.elements.iter().flat_map(|e| e.layers.iter().map(String::as_str)).collect();
    layers.sort_unstable();
    layers.dedup();
    let shapes: Vec<Value> = drawing
        .elements
        .iter()
        .zip(&rules)
        .map(|(e, rule)| {
            json!({
                "id": e.id, "layer": e.layers.first(), "layers": e.layers, "fill": e.fill, "stroke": e.stroke,
                "stroke_width_mm": width_of(&e.band, e.stroke.is_some()),
                "closed": e.subpaths.iter().all(|s| s.closed),
                "paths": e.subpaths.iter().map(subpath).collect::<Vec<_>>(),
                "filled": e.filled.iter().map(region).collect::<Vec<_>>(),
                "band": e.band.iter().map(region).collect::<Vec<_>>(),
                "rule": rule, "line_no": e.line,
            })
        })
        .collect();
    let (faults, notes) = faults_of(&understood, &drawing);
    let said = job.as_ref().and_then(|j| j.get("drawing_scale")?.as_f64());
    let (scale, size_said) = (said.unwrap_or(1.0), said.is_some());
    let faults: Vec<Value> = faults.iter().enumerate().map(|(n, f)| fault(n + 1, f)).collect();
    Ok(json!({
        "page_mm": drawing.page_mm, "scale": scale, "measured": drawing.measured, "size_said": size_said, "shapes": shapes, "layers": layers, "faults": faults,
        "size_remarks": drawing.notes.iter().filter(|n| of_size(&n.text)).map(|n| n.text.clone()).collect::<Vec<_>>(),
        "losses": drawing.losses.iter().map(|l| json!({"box": [point(l.bounds.min), point(l.bounds.max)]})).collect::<Vec<_>>(),
        "notes": notes, "troubles": troubles(&understood.troubles()),
    }))
}

/// True for what the reader says of the drawing's size: all of it speaks of the page or of its size.
fn of_size(text: &str) -> bool {
    ["the page", "physical", "a page of"].iter().any(|words| text.contains(words))
}

/// A point, to a micrometre.
pub fn point(p: Point) -> Value {
    json!([(p.x * 1000.0).round() / 1000.0, (p.y * 1000.0).round() / 1000.0])
}

/// A region as its outline and cut-outs.
pub fn region(r: &Region) -> Value {
    let ring = |r: &crate::shape::Ring| r.points.iter().map(|p| point(*p)).collect::<Vec<_>>();
    json!({"outline": ring(&r.outline), "cutouts": r.cutouts.iter().map(ring).collect::<Vec<_>>()})
}

fn subpath(s: &Subpath) -> Vec<Value> {
    s.points.iter().map(|p| point(*p)).collect()
}

/// About how wide a stroke is: its area over half of its edges' length; none without a stroke.
fn width_of(band: &[Region], stroked: bool) -> Option<f64> {
    let edge: f64 = band.iter().map(Region::edge_length).sum();
    let area: f64 = band.iter().map(Region::area).sum();
    (stroked && edge > 0.0).then(|| (200.0 * area / edge).round() / 100.0)
}

/// All faults, those of pieces too where there are pieces; and everything else there is to say.
fn faults_of(understood: &Understood, drawing: &Drawing) -> (Vec<Fault>, Vec<Value>) {
    let job: Option<&Job> = understood.job.as_ref().ok();
    let gap = job.map(|j| j.lay.gap_mm);
    let mut limits = FaultLimits::default();
    limits.crumb_mm = gap.unwrap_or(limits.crumb_mm);
    let mut all = faults::of_drawing(drawing, &limits);
    let mut notes = drawing.notes.clone();
    if let Ok(prepared) = &understood.prepared {
        notes.clone_from(&prepared.notes);
        let (sizes, _, _) = plan::sizes(&prepared.job);
        let mut of_pieces = faults::of_pieces(&prepared.pieces, &sizes);
        for fault in &mut of_pieces {
            fault.line = drawing.elements.get(fault.stacking).map_or(0, |e| e.line);
        }
        all.extend(of_pieces);
        all.extend(faults::unpicked(drawing, &prepared.pieces));
        faults::sort(&mut all);
    }
    let notes = notes.iter().map(|n| json!({"level": n.level, "about": n.about, "text": n.text})).collect();
    (all, notes)
}

fn fault(n: usize, f: &Fault) -> Value {
    let level = match f.severity {
        Severity::Stops | Severity::Mend => "wrong",
        Severity::Note => "note",
    };
    // A ring round the spot that is seen at arm's length.
    let r_mm = (f.size_mm / 2.0).clamp(3.0, 200.0);
    json!({
        "n": n, "level": level, "severity": f.severity, "kind": f.kind, "about": f.element, "line_no": f.line,
        "at": point(f.at), "r_mm": r_mm, "text": f.text, "advice": f.advice,
        "also": f.also.iter().map(|p| point(*p)).collect::<Vec<_>>(), "more": f.more,
    })
}
