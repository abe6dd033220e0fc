//! Everything there is to say about a drawing or a job, gathered.

use std::io::Read;
use std::path::Path;

use super::CheckArgs;
use crate::drawing::faults::{self, Fault, FaultLimits, Severity};
use crate::drawing::{self, Drawing, Element, ReadOptions};
use crate::job::Job;
use crate::say::{Note, Trouble};
use crate::shape::{Region, tol};
use crate::{job, plan};

/// What was found.
pub(super) struct Checked {
    /// Name of the drawing's file.
    pub name: String,
    /// True when a job was checked.
    pub is_job: bool,
    pub drawing: Drawing,
    pub pieces: Vec<Row>,
    pub faults: Vec<Fault>,
    pub notes: Vec<Note>,
    /// Why pieces could not be made or laid; none for a bare drawing.
    pub troubles: Vec<Trouble>,
}

/// A line of the table of pieces.
pub(super) struct Row {
    pub id: String,
    pub line: u32,
    pub size_mm: [f64; 2],
    pub area_mm2: f64,
    pub edge_mm: f64,
    /// Copies, cloth, match and group; none for a bare drawing.
    pub job: Option<JobRow>,
}

/// What a job says of a piece.
pub(super) struct JobRow {
    pub count: u32,
    pub cloth: String,
    pub matching: &'static str,
    pub group: String,
}

impl Checked {
    /// How many faults there are of a severity, the folded ones counted in.
    pub fn count(&self, severity: Severity) -> usize {
        self.faults.iter().filter(|f| f.severity == severity).map(|f| 1 + f.more).sum()
    }

    pub fn exit_code(&self) -> u8 {
        u8::from(self.drawing.elements.is_empty() || self.count(Severity::Stops) > 0)
    }
}

/// Reads and checks what `args` name.
pub(super) fn gather(args: &CheckArgs) -> Result<Checked, Vec<Trouble>> {
    if is_job(&args.path) { of_job(args) } else { of_drawing(args) }
}

/// A job by its ending, or else by what it begins with: an SVG never begins with a brace.
fn is_job(path: &Path) -> bool {
    match path.extension().map(|e| e.to_string_lossy().to_lowercase()).as_deref() {
        Some("json") => true,
        Some("svg" | "svgz") => false,
        // Opening a pipe waits for its writer; what is no plain file is told of by the reader of drawings.
        _ if !path.is_file() => false,
        _ => {
            let mut start = Vec::new();
            let read = std::fs::File::open(path).and_then(|f| f.take(64).read_to_end(&mut start));
            // A file that cannot be opened is told of by the reader of drawings.
            read.is_ok() && start.iter().find(|b| !b.is_ascii_whitespace()) == Some(&b'{')
        }
    }
}

fn of_drawing(args: &CheckArgs) -> Result<Checked, Vec<Trouble>> {
    let options = ReadOptions { width_mm: args.width_mm, ..ReadOptions::default() };
    let drawing = drawing::read(&args.path, &options).map_err(|t| vec![t])?;
    let limits = FaultLimits { neck_mm: args.neck_mm, ..FaultLimits::default() };
    Ok(Checked {
        name: name_of(&args.path),
        is_job: false,
        pieces: drawing.elements.iter().flat_map(rows_of_element).collect(),
        faults: faults::of_drawing(&drawing, &limits),
        notes: drawing.notes.clone(),
        drawing,
        troubles: Vec::new(),
    })
}

fn of_job(args: &CheckArgs) -> Result<Checked, Vec<Trouble>> {
    let job = job::read(&args.path)?;
    let path = args.path.parent().unwrap_or(Path::new("")).join(&job.drawing);
    let options = ReadOptions {
        drawing_scale: job.drawing_scale,
        confirmed: job.scale_said,
        width_mm: args.width_mm,
        chord_mm: tol::CHORD_MM,
    };
    let drawing = drawing::read(&path, &options).map_err(|t| vec![t])?;
    let limits = FaultLimits { neck_mm: args.neck_mm, crumb_mm: job.lay.gap_mm, ..FaultLimits::default() };
    let mut checked = Checked {
        name: name_of(&path),
        is_job: true,
        pieces: Vec::new(),
        faults: faults::of_drawing(&drawing, &limits),
        notes: plan::unsaid(&job).into_iter().chain(drawing.notes.iter().cloned()).collect(),
        troubles: Vec::new(),
        drawing,
    };
    match drawing::pieces(&job, &checked.drawing) {
        Ok(picked) => {
            checked.add_pieces(&job, &picked.pieces);
            // What is said there of the drawing as a whole is told here shape by shape.
            checked.notes.extend(picked.notes.into_iter().filter(|n| n.about != "drawing"));
        }
        Err(troubles) => checked.troubles.extend(troubles),
    }
    Ok(checked)
}

impl Checked {
    fn add_pieces(&mut self, job: &Job, pieces: &[drawing::Piece]) {
        self.pieces = pieces
            .iter()
            .map(|piece| {
                let line = self.drawing.elements.get(piece.element).map_or(0, |e| e.line);
                let cloth = job.cloths.get(piece.cloth).map_or_else(String::new, |c| c.name.clone());
                Row {
                    job: Some(JobRow {
                        count: piece.count,
                        cloth,
                        matching: piece.matching.word(),
                        group: piece.group.clone(),
                    }),
                    ..row(piece.id.clone(), line, &piece.cut)
                }
            })
            .collect();
        let (sizes, notes, troubles) = plan::sizes(job);
        self.notes.extend(notes);
        self.troubles.extend(troubles);
        let mut of_pieces = faults::of_pieces(pieces, &sizes);
        for fault in &mut of_pieces {
            fault.line = self.drawing.elements.get(fault.stacking).map_or(0, |e| e.line);
        }
        self.faults.extend(of_pieces);
        self.faults.extend(faults::unpicked(&self.drawing, pieces));
        faults::sort(&mut self.faults);
    }
}

fn name_of(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}

fn row(id: String, line: u32, region: &Region) -> Row {
    let b = region.bounds();
    Row {
        id,
        line,
        size_mm: [b.width(), b.height()],
        area_mm2: region.area(),
        edge_mm: region.edge_length(),
        job: None,
    }
}

/// The separate parts of an element, as a job would make pieces of them.
fn rows_of_element(element: &Element) -> Vec<Row> {
    let parts = if element.filled.is_empty() { &element.band } else { &element.filled };
    let name =
        |k: usize| if parts.len() == 1 { element.id.clone() } else { format!("{}-{}", element.id, k + 1) };
    parts.iter().enumerate().map(|(k, part)| row(name(k), element.line, part)).collect()
}
