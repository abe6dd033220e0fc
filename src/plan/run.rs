//! The whole run: job → drawing → cloth → lay → passes → burn → plan.

use std::path::{Path, PathBuf};

use crate::burn;
use crate::cloth::{self, Cloth};
use crate::drawing::{self, Drawing, Piece, ReadOptions};
use crate::job::{self, Cutter, Job, LaySpec, Match};
use crate::lay::{self, Lay, Live};
use crate::passes::{self, PassTrouble, Passes};
use crate::say::{Note, Trouble, Watch};
use crate::sew;
use crate::shape::{Bounds, Point, Region, Ring, pt};

use super::model::Plan;
use super::unsaid::unsaid;
use super::{build, choose, room};

/// A job read and understood, before anything is laid.
#[derive(Clone, Debug)]
pub struct Prepared {
    /// The job.
    pub job: Job,
    /// Its drawing.
    pub drawing: Drawing,
    /// The pieces its rules pick.
    pub pieces: Vec<Piece>,
    /// Its cloths.
    pub cloths: Vec<Cloth>,
    /// What was noted on the way.
    pub notes: Vec<Note>,
}

/// So many rules that pick nothing are named where none picks anything.
const MOST_IDLE: usize = 5;

/// A finished run.
#[derive(Debug)]
pub struct Run {
    /// The job, drawing, pieces and cloths it is about.
    pub prepared: Prepared,
    /// The lay.
    pub lay: Lay,
    /// The plan.
    pub plan: Plan,
}

/// Reads the job at `path` and its drawing.
///
/// # Errors
/// Everything wrong with them.
pub fn prepare(path: &Path, watch: &dyn Watch) -> Result<Prepared, Vec<Trouble>> {
    let job = job::read(path)?;
    let drawing_path = drawing_path(path, &job);
    watch.step("read", 0.0, &drawing_path.display().to_string());
    let options =
        ReadOptions { drawing_scale: job.drawing_scale, confirmed: job.scale_said, ..ReadOptions::default() };
    let drawing = drawing::read(&drawing_path, &options).map_err(|t| vec![t])?;
    let mut prepared = prepare_with(job, drawing, watch)?;
    take_up_photos(&mut prepared, path.parent().unwrap_or(Path::new("")))?;
    Ok(prepared)
}

/// Takes up the photographs that the job's cloths name, looked for in `folder`.
///
/// # Errors
/// Those that cannot be read.
pub fn take_up_photos(prepared: &mut Prepared, folder: &Path) -> Result<(), Vec<Trouble>> {
    let mut troubles = Vec::new();
    for (k, (spec, cloth)) in prepared.job.cloths.iter().zip(&mut prepared.cloths).enumerate() {
        match cloth::take_up(cloth, spec, folder, &format!("cloths[{k}]")) {
            Ok(notes) => prepared.notes.extend(notes),
            Err(t) => troubles.push(t),
        }
    }
    if troubles.is_empty() { Ok(()) } else { Err(troubles) }
}

/// Understands a job with its drawing already read.
///
/// # Errors
/// Every rule, shape or cloth that makes no sense.
pub fn prepare_with(job: Job, drawing: Drawing, watch: &dyn Watch) -> Result<Prepared, Vec<Trouble>> {
    let mut troubles = Vec::new();
    let mut notes = unsaid(&job);
    notes.extend(drawing.notes.iter().cloned());
    let mut cloths = Vec::new();
    for (i, spec) in job.cloths.iter().enumerate() {
        match cloth::understand(spec, &format!("cloths[{i}]")) {
            Ok((cloth, said)) => {
                cloths.push(cloth);
                notes.extend(said);
            }
            Err(t) => troubles.extend(t),
        }
    }
    let mut pieces = Vec::new();
    match drawing::pieces(&job, &drawing) {
        Ok(picked) => {
            pieces = picked.pieces;
            notes.extend(picked.notes);
        }
        Err(t) => troubles.extend(t),
    }
    if !troubles.is_empty() {
        return Err(troubles);
    }
    if pieces.iter().all(|p| p.count == 0) {
        let rules = notes.iter().filter(|n| n.about.starts_with("pieces["));
        let mut why: Vec<Trouble> =
            rules.take(MOST_IDLE).map(|n| Trouble::cannot(&n.about, n.text.trim_end_matches('.'))).collect();
        let what = "no shape of the drawing is picked by any rule, so there is nothing to cut";
        let hint = "settlay check lists the shapes and the rules that pick them";
        why.push(Trouble::cannot("the job", what).hint(hint));
        return Err(why);
    }
    notes.extend(idle_rules(&job, &cloths, &pieces));
    watch.step("read", 1.0, &format!("{} pieces", pieces.len()));
    Ok(Prepared { job, drawing, pieces, cloths, notes })
}

/// Conditions of rules that have nothing to work on: a match without a pattern, a grain tolerance with one.
fn idle_rules(job: &Job, cloths: &[Cloth], pieces: &[Piece]) -> Vec<Note> {
    let mut notes = Vec::new();
    for (r, rule) in job.pieces.iter().enumerate() {
        let Some(piece) = pieces.iter().find(|p| p.rule == r) else { continue };
        let cloth = &cloths[piece.cloth];
        let about = format!("rule pieces[{r}]");
        if cloth.pattern.is_none() && rule.matching != Match::Free {
            let word = rule.matching.word();
            let text =
                format!("Cloth {} has no pattern, so match \"{word}\" asks nothing of it.", cloth.name);
            notes.push(Note::advice(&about, text));
        }
        if cloth.pattern.is_some() && rule.grain_tolerance_deg > 0.0 {
            let text = format!(
                "Cloth {} has a pattern, so its pieces keep to the grain: grain_tolerance_deg is not used.",
                cloth.name
            );
            notes.push(Note::advice(&about, text));
        }
    }
    for (group, pairs) in lay::pairs_by_name(pieces, &|p| cloths[p.cloth].pattern.is_some()) {
        notes.push(Note::advice(format!("group {group}"), format!("These were taken for pairs: {pairs}.")));
    }
    notes
}

/// Where the job at `path` keeps its drawing.
pub fn drawing_path(path: &Path, job: &Job) -> PathBuf {
    path.parent().unwrap_or(Path::new("")).join(&job.drawing)
}

/// Lays of nearly the same length that are looked at for one with fewer passes, for as many pieces at most.
const LAYS_KEPT: usize = 4;
pub(super) const MOST_PIECES_TO_CHOOSE: u32 = 200;

/// How often a lay is made anew to leave room for marks before the run gives up.
const MOST_LAYS: usize = 8;

/// Spots kept clear for a band that has no room: at first the best two, after a few lays a wider choice.
const SPOTS_AT_FIRST: usize = 2;
const SPOTS_LATER: usize = 4;
const LAYS_WITH_FEW_SPOTS: usize = 3;

/// A lay, split into passes.
#[derive(Debug)]
pub struct Split {
    /// The lay.
    pub lay: Lay,
    /// The passes of every cloth of the job; `None` where the lay leaves no room for their marks.
    pub passes: Vec<Option<Passes>>,
    /// What was noted on the way.
    pub notes: Vec<Note>,
}

/// Lays the pieces, splits the work into passes and writes the plan.
///
/// # Errors
/// Why it cannot be done as asked, and what would help.
pub fn run(prepared: Prepared, watch: &dyn Watch) -> Result<Run, Vec<Trouble>> {
    let Split { lay, passes, notes } = lay_and_split(&prepared, &prepared.job.lay, None, watch)?;
    let cramped: Vec<usize> = (0..passes.len()).filter(|c| passes[*c].is_none()).collect();
    let Some(cut) = passes.into_iter().collect::<Option<Vec<Passes>>>() else {
        return Err(vec![room::none(&prepared, &lay, &cramped, watch)]);
    };
    let mut plan = build::plan(&prepared, &lay, &cut, watch)?;
    plan.notes.extend(notes);
    plan.notes.sort_by_key(|n| n.level);
    Ok(Run { lay, plan, prepared })
}

/// Lays the pieces as `spec` says, anew where a lay leaves no room for marks, and splits the work into passes. Where no
/// lay leaves room, or the maker stops, the last one found comes without passes.
///
/// # Errors
/// Why they cannot be laid or split.
pub fn lay_and_split(
    prepared: &Prepared,
    spec: &LaySpec,
    live: Option<&dyn Live>,
    watch: &dyn Watch,
) -> Result<Split, Vec<Trouble>> {
    let Prepared { job, pieces, cloths, .. } = prepared;
    let mut kept_clear: Vec<Vec<Region>> = vec![Vec::new(); cloths.len()];
    let single: u32 = pieces.iter().map(|p| p.count).fold(0, u32::saturating_add);
    let keep = if single <= MOST_PIECES_TO_CHOOSE { LAYS_KEPT } else { 1 };
    let mut cramped_first: Option<Split> = None;
    for round in 0..MOST_LAYS {
        let request = lay::Request {
            pieces,
            rules: &job.pieces,
            cloths,
            spec,
            kept_clear: &kept_clear,
            struck: None,
            keep,
            live,
        };
        let (mut lay, mut said) = match sew::lay_off_bias(&request, job.cutter.border_mm, watch) {
            Ok(found) => found,
            // It is the room kept for marks that a later lay lacks, not room for the pieces.
            Err(t) => {
                return match cramped_first {
                    Some(found) => Ok(with_room(prepared, found, watch)),
                    None => Err(t),
                };
            }
        };
        watch.step("passes", 0.0, "");
        let mut cut = Vec::new();
        let (mut cramped, mut asked) = (false, false);
        for (c, cloth) in cloths.iter().enumerate() {
            let others = std::mem::take(&mut lay.cloths[c].others);
            let clear_mm = job.lay.gap_mm.max(job.cutter.kerf_mm);
            watch.step("passes", c as f64 / cloths.len() as f64, &cloth.name);
            match choose::best(
                cloth,
                &lay.cloths[c],
                others,
                clear_mm,
                &|on| split(prepared, cloth, on),
                watch,
            ) {
                Ok(chosen) => {
                    said.extend(chosen.note);
                    if let Some(on) = chosen.other {
                        lay.cloths[c] = on;
                    }
                    cut.push(Some(chosen.passes));
                }
                Err(PassTrouble::Cannot(t)) => {
                    let about = format!("cloth {}, {}", cloth.name, t.about);
                    return Err(vec![Trouble { about, ..t }]);
                }
                Err(PassTrouble::NoRoomForMarks(need)) => {
                    cramped = true;
                    cut.push(None);
                    // A piece placed by hand does not make room.
                    let by_hand = |at: Point| {
                        let locked = lay.cloths[c].placed.iter().filter(|p| p.locked);
                        locked.clone().any(|p| p.cut.contains(at))
                    };
                    let free = need.spots.iter().filter(|(at, _)| !by_hand(*at));
                    let spots = if round < LAYS_WITH_FEW_SPOTS { SPOTS_AT_FIRST } else { SPOTS_LATER };
                    let before = kept_clear[c].len();
                    kept_clear[c].extend(free.take(spots).map(|(at, r)| octagon(*at, *r)));
                    asked |= kept_clear[c].len() > before;
                }
            }
        }
        let found = Split { lay, passes: cut, notes: said };
        if !cramped || watch.stopped() {
            watch.step("passes", 1.0, "");
            return Ok(found);
        }
        cramped_first.get_or_insert(found);
        // Without a spot to keep clear the next lay would be the same.
        if round + 1 == MOST_LAYS || !asked {
            break;
        }
        watch.step("passes", 1.0, "no waste left for marks; laying again with room for them");
    }
    watch.step("passes", 1.0, "");
    let none =
        || Split { lay: Lay { cloths: Vec::new() }, passes: vec![None; cloths.len()], notes: Vec::new() };
    Ok(cramped_first.map_or_else(none, |found| with_room(prepared, found, watch)))
}

/// The lay with those of its cloths that lack room for marks moved as a whole, where that makes room.
fn with_room(prepared: &Prepared, found: Split, watch: &dyn Watch) -> Split {
    let Split { mut lay, mut passes, notes } = found;
    for (c, of_cloth) in passes.iter_mut().enumerate() {
        if of_cloth.is_none()
            && let Some((on, cut)) =
                room::made(prepared, &lay, c, &|on| split(prepared, &prepared.cloths[c], on), watch)
        {
            lay.cloths[c] = on;
            *of_cloth = Some(cut);
        }
    }
    Split { lay, passes, notes }
}

/// The passes of a lay on cloth `c`.
///
/// # Errors
/// It cannot be split, or leaves no room for marks.
pub fn passes_of(prepared: &Prepared, c: usize, on: &lay::ClothLay) -> Result<Passes, PassTrouble> {
    split(prepared, &prepared.cloths[c], on)
}

fn octagon(at: Point, r: f64) -> Region {
    let corner = r * 0.414;
    let ring = [
        (r, -corner),
        (r, corner),
        (corner, r),
        (-corner, r),
        (-r, corner),
        (-r, -corner),
        (-corner, -r),
        (corner, -r),
    ];
    Region::new(Ring::new(ring.map(|(x, y)| at + pt(x, y)).to_vec()), Vec::new())
}

/// The outline of the part of `cloth` that a lay of `used_length_mm` takes: all of it on a fixed cloth.
pub fn outline_used(cloth: &Cloth, used_length_mm: f64) -> Ring {
    if !cloth.open_length {
        return cloth.outline.clone();
    }
    let b = cloth.outline.bounds();
    Region::rectangle(Bounds::new(b.min, pt(b.max.x, b.min.y + used_length_mm))).outline
}

fn split(prepared: &Prepared, cloth: &Cloth, on: &lay::ClothLay) -> Result<Passes, PassTrouble> {
    split_with(prepared, &prepared.job.cutter, cloth, on)
}

/// The passes of a lay with another cutter than the job's.
///
/// # Errors
/// It cannot be split, or leaves no room for marks.
pub(super) fn split_with(
    prepared: &Prepared,
    cutter: &Cutter,
    cloth: &Cloth,
    on: &lay::ClothLay,
) -> Result<Passes, PassTrouble> {
    if on.placed.is_empty() {
        return Ok(Passes { passes: Vec::new(), notes: Vec::new() });
    }
    let cuts: Vec<Region> = on.placed.iter().map(|p| p.cut.clone()).collect();
    let outline = outline_used(cloth, on.used_length_mm);
    let kerfed = burn::contours(&cuts, cutter.kerf_mm);
    let names: Vec<String> = on.placed.iter().map(|p| prepared.pieces[p.piece].id.clone()).collect();
    let mut split = passes::plan(&passes::Request {
        cloth_outline: &outline,
        edge_mm: cloth.edge_mm,
        flaws: &cloth.flaws,
        cuts: &cuts,
        contours: &kerfed.contours,
        names: &names,
        cutter,
    })?;
    split.notes.extend(kerfed.lost.iter().map(|lost| lost.note(&names[lost.placed])));
    Ok(split)
}
