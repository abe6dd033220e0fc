//! The table itself: the work on it, what is understood of it, who looks on.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard};

use axum::http::StatusCode;
use serde_json::{Value, json};

use super::disk::{self, Signature, fingerprint};
use super::heavy::Heavy;
use super::hub::Hub;
use super::names;
use super::problem::Problem;
use super::seams::SeamsKept;
use super::standing::ReadLast;
use super::store::{Store, unfinished};
use super::understood::{Cache, Understood};
use super::working_copy::{Lies, Name, Work, WorkingCopy};
use crate::lay::{
    Break,
    BreakKind::{Edge, Overlap},
    ClothLay, Hand, Laid, Lay,
};
use crate::passes::PassTrouble;
use crate::plan::Prepared;
use crate::sew::Judgement;
use crate::shape::{Pose, pt};

/// The cutting table.
#[derive(Default)]
pub struct Table {
    /// The working copy.
    store: Mutex<Store>,
    /// What was understood last.
    cache: Cache,
    /// What goes on beside the server.
    pub heavy: Heavy,
    /// Who looks on.
    pub hub: Hub,
    /// The lay as it was looked over last.
    looked: Mutex<Option<Looked>>,
    /// Where the pattern was asked to run through.
    seams: SeamsKept,
    /// How many passes lays take.
    counted: Mutex<Counts>,
    /// What is to be bought, as it was worked out last.
    bought: Mutex<Option<Value>>,
    /// The files as they were looked at last.
    watched: Mutex<Watched>,
    /// The job as it was read last for what a plan of it is made of.
    pub(super) read: ReadLast,
    /// The other tables of the server, at home.
    pub(super) rooms: std::sync::Weak<super::rooms::Rooms>,
    /// Held by whoever reads the record of passes and writes it again.
    record: Mutex<()>,
}

/// How many passes, or why they cannot be counted.
pub type Counted = Result<usize, String>;

/// A number of passes as JSON.
pub fn told(passes: Option<Counted>) -> Value {
    match passes {
        None => json!({"count": null, "why": "not counted yet"}),
        Some(Ok(count)) => json!({"count": count}),
        Some(Err(why)) => json!({"count": null, "why": why}),
    }
}

/// Where every piece lies, for telling lays apart.
fn poses(on: &ClothLay) -> String {
    let mut text = String::new();
    for p in &on.placed {
        let s = p.pose.shift;
        text.push_str(&format!("{} {} {:?} {:?} {:?};", p.piece, p.copy, p.pose.turn_deg, s.x, s.y));
    }
    fingerprint(&[text.as_bytes()])
}

/// Passes counted, and what is to be counted next.
#[derive(Default)]
struct Counts {
    by_cloth: BTreeMap<usize, (String, Counted)>,
    next: Option<(Arc<Understood>, Looked)>,
    busy: bool,
}

/// A lay looked over.
#[derive(Clone)]
pub struct Looked {
    /// The revision it is of, and what pieces and cloths it was held against.
    key: (u64, String),
    /// The lay.
    pub lay: Arc<Lay>,
    /// Every rule it breaks, by cloth.
    pub breaks: Arc<Vec<Vec<Break>>>,
    /// No lay of these pieces is shorter, by cloth, mm.
    pub least_mm: Arc<Vec<f64>>,
    /// What came of the pattern where it was asked to run through.
    pub judgement: Arc<Judgement>,
}

/// Signatures of job and drawing; revision and fingerprints of the working copy.
type WatchKey = ([Option<Signature>; 2], (u64, Option<String>, Option<String>));

#[derive(Clone, Default)]
struct Watched {
    key: Option<WatchKey>,
    changed: bool,
    saved: bool,
}

impl Table {
    /// A table with a working copy on it.
    pub fn new(store: Store) -> Table {
        Table { store: Mutex::new(store), ..Table::default() }
    }

    /// The working copy, held: keep it short.
    pub fn store(&self) -> MutexGuard<'_, Store> {
        self.store.lock().unwrap_or_else(|e| e.into_inner())
    }

    /// The record of passes and their plan, held until it is written again.
    pub fn record(&self) -> MutexGuard<'_, ()> {
        self.record.lock().unwrap_or_else(|e| e.into_inner())
    }

    /// The folder of the job.
    pub fn folder(&self) -> PathBuf {
        self.store().folder.clone()
    }

    /// The job and its drawing understood.
    ///
    /// # Errors
    /// There is no job yet.
    pub fn understood(&self) -> Result<Arc<Understood>, Problem> {
        let (job, folder) = {
            let store = self.store();
            (store.copy.work.job.clone(), store.folder.clone())
        };
        let job = job.ok_or_else(|| Problem::none("There is no job yet").hint("begin with a drawing"))?;
        Ok(self.cache.understand(&job, &folder))
    }

    /// A change of the work, made on disk before anyone hears of it. `revision` is that which the page had in sight.
    ///
    /// # Errors
    /// An older revision, heavy work going on, a disk that does not take it, or what `change` finds.
    pub fn change<T>(
        &self,
        what: &str,
        revision: u64,
        change: impl FnOnce(&mut Work) -> Result<T, Problem>,
    ) -> Result<(u64, T), Problem> {
        let given = {
            let mut store = self.store();
            store.expect(revision)?;
            self.heavy.idle()?;
            let mut work = store.copy.work.clone();
            let given = change(&mut work)?;
            settle(&mut work);
            store.change(what, work)?;
            (store.copy.revision, given)
        };
        self.tell_state();
        Ok(given)
    }

    /// What everyone should know of the table at any time.
    pub fn state(&self) -> Value {
        let busy = self.heavy.busy();
        let (disk_changed, saved) = self.disk();
        let store = self.store();
        let copy = &store.copy;
        let standing = self.standing(&store);
        let job = copy.work.job.as_ref();
        json!({
            "revision": copy.revision,
            "job_file": store.name,
            "folder": store.folder.display().to_string(),
            "drawing": job.and_then(|j| j.get("drawing")),
            "saved": saved,
            "disk_changed": disk_changed,
            "can_undo": copy.undo.last().map(|c| c.what.clone()),
            "can_redo": copy.redo.last().map(|c| c.what.clone()),
            "has_lay": !copy.work.laid_for.is_empty(),
            // A plan of another lay counts for nothing until it is partly cut: then it is what the rest is cut by.
            "has_plan": standing.is_there && (standing.is_cut || standing.changed.is_empty()),
            "plan_cut": standing.is_there && standing.is_cut,
            "plan_changed": standing.changed,
            "plan_retold": standing.retold,
            "busy": busy,
            "home": self.rooms.strong_count() > 0,
            "schema_url": "api/schema/job",
            "version": env!("CARGO_PKG_VERSION"),
        })
    }

    /// Tells everyone how things stand.
    pub fn tell_state(&self) {
        self.hub.say("state", &self.state());
    }

    /// Looks whether job or drawing changed on disk, and tells everyone when that is news.
    pub fn watch_disk(&self) {
        let before = self.watched.lock().map(|w| w.changed).unwrap_or(false);
        let (now, _) = self.disk();
        if now != before {
            self.tell_state();
        }
    }

    /// Whether job or drawing changed on disk since they were read, and whether the job file holds what is shown. Files
    /// are read again only when their signature is new.
    fn disk(&self) -> (bool, bool) {
        let (paths, key) = {
            let store = self.store();
            let copy = &store.copy;
            let drawing = copy.work.job.as_ref().and_then(|j| j.get("drawing")).and_then(Value::as_str);
            let paths = [store.job_path(), drawing.map(|d| store.folder.join(d))];
            (paths, (copy.revision, copy.base.clone(), copy.drawing_base.clone()))
        };
        let signatures = paths.map(|p| p.as_deref().and_then(disk::signature));
        let key = (signatures, key);
        let known = self.watched.lock().unwrap_or_else(|e| e.into_inner()).clone();
        if known.key.as_ref() == Some(&key) {
            return (known.changed, known.saved);
        }
        let (job, folder, on_disk, saved) = {
            let store = self.store();
            let on_disk = store.read_job().ok().map(|(_, print)| print);
            (store.copy.work.job.clone(), store.folder.clone(), on_disk, store.is_saved())
        };
        let (_, base, drawing_base) = &key.1;
        let drawing_changed = match (&job, drawing_base) {
            (Some(job), Some(base)) => self.cache.drawing_fingerprint(job, &folder) != *base,
            _ => false,
        };
        let changed = on_disk != *base || drawing_changed;
        *self.watched.lock().unwrap_or_else(|e| e.into_inner()) = Watched { key: Some(key), changed, saved };
        (changed, saved)
    }

    /// Takes the drawing on disk as the one that was looked at.
    ///
    /// # Errors
    /// The working copy cannot be kept.
    pub fn look_at_drawing(&self) -> Result<(), Problem> {
        let (job, folder) = {
            let store = self.store();
            (store.copy.work.job.clone(), store.folder.clone())
        };
        let Some(job) = job else { return Ok(()) };
        self.note_drawing(self.cache.drawing_fingerprint(&job, &folder))
    }

    /// Notes the fingerprint of the drawing that was looked at.
    ///
    /// # Errors
    /// The working copy cannot be kept.
    pub fn note_drawing(&self, print: String) -> Result<(), Problem> {
        let mut store = self.store();
        // Another drawing than before is news to every page.
        let news = store.copy.drawing_base.as_ref().is_some_and(|before| *before != print);
        let revision = store.copy.revision + u64::from(news);
        let copy = WorkingCopy { drawing_base: Some(print), revision, ..store.copy.clone() };
        store.put(copy)
    }

    /// The pieces as they lie, as far as job and drawing still know them.
    pub fn laid(&self, prepared: &Prepared) -> Vec<Laid> {
        let store = self.store();
        laid(&store.copy.work, prepared)
    }

    /// How many passes the lay on cloth `c` takes, as far as that is known; else why it is not.
    pub fn passes_of(&self, c: usize, on: &ClothLay) -> Option<Counted> {
        if on.placed.is_empty() {
            return Some(Ok(0));
        }
        let counted = self.counted.lock().unwrap_or_else(|e| e.into_inner());
        counted.by_cloth.get(&c).filter(|(key, _)| *key == poses(on)).map(|(_, n)| n.clone())
    }

    /// Notes how many passes the lay on cloth `c` takes.
    pub fn note_passes(&self, c: usize, on: &ClothLay, passes: Counted) {
        let mut counted = self.counted.lock().unwrap_or_else(|e| e.into_inner());
        counted.by_cloth.insert(c, (poses(on), passes));
    }

    /// Counts the passes of a lay beside the server, and tells everyone; a lay that comes meanwhile is counted next.
    pub fn count_passes(self: &Arc<Table>, understood: &Arc<Understood>, looked: &Looked) {
        let unknown = |t: &Table| {
            let lay = &looked.lay.cloths;
            (0..lay.len()).any(|c| looked.breaks[c].is_empty() && t.passes_of(c, &lay[c]).is_none())
        };
        if !unknown(self) || self.heavy.busy().is_some() {
            return;
        }
        let mut counted = self.counted.lock().unwrap_or_else(|e| e.into_inner());
        counted.next = Some((understood.clone(), looked.clone()));
        if counted.busy {
            return;
        }
        counted.busy = true;
        drop(counted);
        let table = self.clone();
        let begun = std::thread::Builder::new().name("count".into()).spawn(move || {
            while let Some((understood, looked)) = table.next_to_count() {
                // A fault there costs the number of passes, nothing else.
                let work = std::panic::AssertUnwindSafe(|| table.count(&understood, &looked));
                let _ = std::panic::catch_unwind(work);
            }
        });
        if begun.is_err() {
            self.counted.lock().unwrap_or_else(|e| e.into_inner()).busy = false;
        }
    }

    fn next_to_count(&self) -> Option<(Arc<Understood>, Looked)> {
        let mut counted = self.counted.lock().unwrap_or_else(|e| e.into_inner());
        let next = counted.next.take();
        counted.busy = next.is_some();
        next
    }

    fn count(&self, understood: &Understood, looked: &Looked) {
        let Ok(prepared) = &understood.prepared else { return };
        let mut all = Vec::new();
        for (c, on) in looked.lay.cloths.iter().enumerate() {
            if looked.breaks[c].is_empty() && self.passes_of(c, on).is_none() {
                let counted = match crate::plan::passes_of(prepared, c, on) {
                    Ok(passes) => Ok(passes.passes.len()),
                    Err(PassTrouble::NoRoomForMarks(_)) => {
                        Err("no waste is left for marks where two passes meet".into())
                    }
                    Err(PassTrouble::Cannot(t)) => Err(format!("{}: {}", t.about, t.what)),
                };
                self.note_passes(c, on, counted);
            }
            all.push(told(self.passes_of(c, on)));
        }
        self.hub.say("passes", &json!({"revision": looked.key.0, "cloths": all}));
    }

    /// Keeps what is to be bought for whoever asks again.
    pub fn remember_buying(&self, told: Value) {
        *self.bought.lock().unwrap_or_else(|e| e.into_inner()) = Some(told);
    }

    /// What is to be bought, as it was worked out last.
    pub fn buying(&self) -> Option<Value> {
        self.bought.lock().unwrap_or_else(|e| e.into_inner()).clone()
    }

    /// The lay as it lies, with its figures and every rule it breaks. Only what moved since is looked over anew.
    ///
    /// # Errors
    /// Rules that contradict the cloth or the pieces.
    pub fn looked(&self, understood: &Understood) -> Result<Looked, Problem> {
        let prepared = understood.prepared()?;
        let (revision, laid) = {
            let store = self.store();
            (store.copy.revision, laid(&store.copy.work, prepared))
        };
        let key = (revision, understood.laid_for.clone());
        let mut held = self.looked.lock().unwrap_or_else(|e| e.into_inner());
        if let Some(known) = held.as_ref().filter(|l| l.key == key) {
            return Ok(known.clone());
        }
        let before = held.take().filter(|l| l.key.1 == key.1);
        let hand = hand(prepared);
        let lay = hand.lay(&laid)?;
        let mut least = Vec::new();
        let mut breaks = Vec::new();
        for (c, on) in lay.cloths.iter().enumerate() {
            let old = before.as_ref().map(|b| (&b.lay.cloths[c], &b.breaks[c]));
            let names = |on: &ClothLay| on.placed.iter().map(|p| (p.piece, p.copy)).collect::<Vec<_>>();
            let same_pieces = old.is_some_and(|(o, _)| names(o) == names(on));
            // The bound asks which pieces there are, not where they lie.
            least.push(match &before {
                Some(b) if same_pieces => b.least_mm[c],
                _ => hand.least_length_mm(&laid, c)?,
            });
            let old_poses: BTreeMap<(usize, u32), Pose> =
                old.iter().flat_map(|(o, _)| &o.placed).map(|p| ((p.piece, p.copy), p.pose)).collect();
            let stays: Vec<bool> =
                on.placed.iter().map(|p| old_poses.get(&(p.piece, p.copy)) == Some(&p.pose)).collect();
            let asked = |i: usize| !stays[i];
            let Hand { pieces, rules, cloths, gap_mm } = hand;
            let mut all = crate::lay::breaks(c, on, pieces, rules, cloths, gap_mm, &asked);
            if let Some((_, known)) = old {
                // Between pieces that both stayed nothing changed.
                let stayed: std::collections::BTreeSet<(usize, u32)> = on
                    .placed
                    .iter()
                    .zip(&stays)
                    .filter(|(_, s)| **s)
                    .map(|(p, _)| (p.piece, p.copy))
                    .collect();
                let of_places = |b: &&Break| {
                    matches!(b.kind, Edge | Overlap) && b.about.iter().all(|a| stayed.contains(a))
                };
                all.extend(known.iter().filter(of_places).cloned());
            }
            all.sort_by(|a, b| (&a.about, a.kind).cmp(&(&b.about, b.kind)));
            breaks.push(all);
        }
        let judgement = Arc::new(self.seams.judge(&key.1, prepared, &lay));
        let (lay, breaks, least_mm) = (Arc::new(lay), Arc::new(breaks), Arc::new(least));
        let looked = Looked { key, lay, breaks, least_mm, judgement };
        *held = Some(looked.clone());
        Ok(looked)
    }
}

/// A job's pieces and cloths under the hand.
pub fn hand(prepared: &Prepared) -> Hand<'_> {
    Hand {
        pieces: &prepared.pieces,
        rules: &prepared.job.pieces,
        cloths: &prepared.cloths,
        gap_mm: prepared.job.lay.gap_mm,
    }
}

/// The pieces of `work` as they lie.
pub fn laid(work: &Work, prepared: &Prepared) -> Vec<Laid> {
    let hand = hand(prepared);
    let locked: std::collections::BTreeSet<Name> = work.job.as_ref().map(locked_names).unwrap_or_default();
    let mut all = Vec::new();
    for (piece, p) in prepared.pieces.iter().enumerate() {
        for copy in 1..=p.count {
            let name = (p.id.clone(), copy);
            let Some(lies) = work.lies.get(&name) else { continue };
            let choices = hand.choices(piece);
            let named = choices.iter().copied().find(|c| prepared.cloths[*c].name == lies.cloth);
            let Some(cloth) = named.or(choices.first().copied()) else { continue };
            let pose = Pose { turn_deg: lies.turn_deg, shift: pt(lies.shift[0], lies.shift[1]) };
            all.push(Laid { piece, copy, cloth, pose, locked: locked.contains(&name) });
        }
    }
    all
}

/// The pieces that `lay.locked` of a job names.
pub fn locked_names(job: &Value) -> std::collections::BTreeSet<Name> {
    locked(job).map(|(name, _)| name).collect()
}

fn locked(job: &Value) -> impl Iterator<Item = (Name, &Value)> {
    let entries = job.pointer("/lay/locked").and_then(Value::as_array);
    entries.into_iter().flatten().filter_map(|entry| {
        let piece = entry.get("piece")?.as_str()?.to_owned();
        let copy = entry.get("copy").map_or(Some(1), Value::as_u64)?;
        Some(((piece, u32::try_from(copy).ok()?), entry))
    })
}

/// Pieces placed by hand lie where the job says.
pub fn settle(work: &mut Work) {
    let Some(job) = &work.job else { return };
    for (name, entry) in locked(job) {
        let number = |v: Option<&Value>| v.and_then(Value::as_f64).filter(|n| n.is_finite());
        let shift = entry.get("shift_mm").and_then(Value::as_array);
        let xy = shift.and_then(|s| Some([number(s.first())?, number(s.get(1))?]));
        let Some(shift) = xy else { continue };
        let turn_deg = number(entry.get("turn_deg")).unwrap_or(0.0);
        let there = work.lies.get(&name).map(|l| l.cloth.clone()).unwrap_or_default();
        let cloth = entry.get("cloth").and_then(Value::as_str).map_or(there, str::to_owned);
        work.lies.insert(name, Lies { cloth, turn_deg, shift });
    }
}

/// The folder a job's plan is written to: `hanging-cut` beside `hanging.job.json`.
pub fn plan_folder(store: &Store) -> Option<PathBuf> {
    let name = store.name.as_deref()?;
    Some(store.folder.join(format!("{}-cut", names::stem_of_job(name))))
}

/// The folder of pieces cut again: `hanging-again` beside `hanging.job.json`, one folder in it for each.
pub fn again_folder(store: &Store) -> Option<PathBuf> {
    let name = store.name.as_deref()?;
    Some(store.folder.join(format!("{}-again", names::stem_of_job(name))))
}

/// What to open when no job is named: the folder alone, or the job begun in it last and never saved.
pub fn resume(folder: &std::path::Path) -> Result<Store, crate::say::Trouble> {
    for name in unfinished(folder) {
        if let Ok(store) = Store::open(folder, &name) {
            return Ok(store);
        }
    }
    Ok(Store::empty(folder))
}

/// A fault of the program itself.
pub fn fault(what: impl Into<String>) -> Problem {
    Problem::new(StatusCode::INTERNAL_SERVER_ERROR, "A fault of the program", what)
}
