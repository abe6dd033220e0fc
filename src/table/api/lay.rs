//! The lay: shown, moved by hand, locked, searched for anew.

use std::sync::Arc;

use serde::Deserialize;
use serde_json::{Value, json};

use super::ask::{Answer, Asked};
use super::drawing::point;
use crate::cloth::Cloth;
use crate::lay::{self, Allowed, Break, BreakKind, ClothLay, Hand, Laid, Placed, Turns};
use crate::plan::{self, Prepared};
use crate::shape::{Point, Pose, Region, booleans, pt};
use crate::table::heavy;
use crate::table::problem::Problem;
use crate::table::seams;
use crate::table::surface::{Looked, Table, hand, laid, locked_names, told};
use crate::table::understood::Understood;
use crate::table::working_copy::{Lies, Work};

/// `GET api/lay`.
pub fn get(table: &Arc<Table>) -> Result<Value, Problem> {
    let understood = table.understood()?;
    let prepared = understood.prepared()?;
    let looked = table.looked(&understood)?;
    table.count_passes(&understood, &looked);
    let laid = table.laid(prepared);
    let hand = hand(prepared);
    let mut cloths = Vec::new();
    for (c, on) in looked.lay.cloths.iter().enumerate() {
        let mut placed = Vec::new();
        for p in &on.placed {
            let turns = hand.turns(&laid, (p.piece, p.copy), c).unwrap_or_default();
            let allowed = hand.allowed(&laid, (p.piece, p.copy), p.pose.turn_deg)?;
            placed.push(one_placed(prepared, p, &turns, allowed));
        }
        let mut figures = figures(table, prepared, &looked, c);
        figures["placed"] = placed.into();
        cloths.push(figures);
    }
    let wanted =
        prepared.pieces.iter().enumerate().flat_map(|(k, p)| (1..=p.count).map(move |copy| (k, copy)));
    let there: std::collections::BTreeSet<(usize, u32)> = laid.iter().map(|l| (l.piece, l.copy)).collect();
    let missing: Vec<Value> = wanted
        .filter(|w| !there.contains(w))
        .map(|(k, copy)| json!({"piece": k, "copy": copy, "id": prepared.pieces[k].id}))
        .collect();
    let (revision, laid_for) = {
        let store = table.store();
        (store.copy.revision, store.copy.work.laid_for.clone())
    };
    Ok(json!({
        "revision": revision, "has_lay": !laid_for.is_empty(), "cloths": cloths,
        "breaks": breaks(prepared, &looked), "sewn": seams::told(prepared, &looked.judgement), "missing": missing,
        "stale": !laid_for.is_empty() && (laid_for != understood.laid_for || !missing.is_empty()),
        "gap_mm": prepared.job.lay.gap_mm,
    }))
}

fn one_placed(prepared: &Prepared, p: &Placed, turns: &Turns, allowed: Allowed) -> Value {
    let piece = &prepared.pieces[p.piece];
    json!({
        "piece": p.piece, "copy": p.copy, "id": piece.id, "group": piece.group, "match": piece.matching.word(),
        "turn_deg": p.pose.turn_deg, "shift": [p.pose.shift.x, p.pose.shift.y], "locked": p.locked,
        "group_shift": p.group_shift, "allowed": allowed_json(turns, allowed),
    })
}

fn allowed_json(turns: &Turns, allowed: Allowed) -> Value {
    let v = |p: Point| json!([p.x, p.y]);
    let lattice = match allowed {
        Allowed::Free => Value::Null,
        Allowed::Lattice { a, b, at } => json!({"a": v(a), "b": v(b), "at": v(at)}),
        Allowed::Lines { step, along, at } => {
            json!({"line": {"dir": v(along), "step": v(step), "at": v(at)}})
        }
    };
    let mut out = json!({"lattice": lattice});
    if turns.ranges_deg.is_empty() {
        out["turns_deg"] = turns.few_deg.clone().into();
    } else {
        out["ranges"] = turns.ranges_deg.iter().map(|(l, h)| json!([l, h])).collect::<Vec<_>>().into();
    }
    out
}

/// The figures of the lay on cloth `c`.
fn figures(table: &Table, prepared: &Prepared, looked: &Looked, c: usize) -> Value {
    let (on, cloth, spec) = (&looked.lay.cloths[c], &prepared.cloths[c], &prepared.job.cloths[c]);
    let buy_mm = crate::estimate::need_of_lay(&prepared.pieces, cloth, spec, on).buy_mm;
    let counted = told(table.passes_of(c, on));
    let price = spec.price_per_m.filter(|_| !on.placed.is_empty());
    json!({
        "cloth": c, "name": cloth.name, "pieces": on.placed.len(), "used_length_mm": on.used_length_mm,
        "efficiency": on.efficiency(), "least_length_mm": looked.least_mm[c].min(on.used_length_mm),
        "proved": is_shortest(on, looked, c), "buy_length_mm": buy_mm,
        "cost": price.map(|p| p * buy_mm / 1000.0), "passes": counted["count"], "passes_why": counted["why"],
    })
}

fn is_shortest(on: &ClothLay, looked: &Looked, c: usize) -> bool {
    !on.placed.is_empty()
        && looked.breaks[c].is_empty()
        && on.used_length_mm <= looked.least_mm[c] + crate::shape::tol::CLEAR_MM
}

/// Every rule the lay breaks, with a spot that shows it.
fn breaks(prepared: &Prepared, looked: &Looked) -> Vec<Value> {
    let mut all = Vec::new();
    for (c, broken) in looked.breaks.iter().enumerate() {
        let cloth = &prepared.cloths[c];
        all.extend(broken.iter().map(|b| one_break(prepared, cloth, c, &looked.lay.cloths[c], b)));
    }
    all
}

fn one_break(prepared: &Prepared, cloth: &Cloth, c: usize, on: &ClothLay, b: &Break) -> Value {
    let placed = |k: usize| {
        let name = b.about.get(k)?;
        on.placed.iter().find(|p| (p.piece, p.copy) == *name)
    };
    let (one, other) = (placed(0), placed(1));
    let mut kind = match b.kind {
        BreakKind::Overlap => "overlap",
        BreakKind::Edge => "edge",
        BreakKind::Match => "match",
        BreakKind::Turn => "turn",
        BreakKind::Cloth => "cloth",
    };
    let mut at = one.map_or(pt(0.0, 0.0), |p| p.cut.bounds().centre());
    match (b.kind, one, other) {
        (BreakKind::Overlap, Some(p), Some(q)) => at = between(&p.cut, &q.cut),
        (BreakKind::Edge, Some(p), _) => {
            let flaws: Vec<Region> = cloth.flaws.iter().map(|f| Region::new(f.clone(), Vec::new())).collect();
            let on_flaw = booleans::intersection(std::slice::from_ref(&p.cut), &flaws);
            let out = if on_flaw.is_empty() { p.cut.minus(&cloth.usable()) } else { on_flaw.clone() };
            kind = if on_flaw.is_empty() { "edge" } else { "flaw" };
            at = largest(&out).unwrap_or(at);
        }
        _ => {}
    }
    let mut said = json!({"cloth": c, "kind": kind, "text": b.text, "at": point(at)});
    if let Some(p) = one {
        said["piece"] = p.piece.into();
        said["copy"] = p.copy.into();
        said["id"] = prepared.pieces[p.piece].id.clone().into();
    }
    if let Some(q) = other {
        said["other"] = json!({"piece": q.piece, "copy": q.copy, "id": prepared.pieces[q.piece].id});
    }
    said
}

fn largest(parts: &[Region]) -> Option<Point> {
    parts.iter().max_by(|a, b| a.area().total_cmp(&b.area())).map(|r| r.bounds().centre())
}

/// A spot where two pieces lie on each other, or nearest to each other.
fn between(a: &Region, b: &Region) -> Point {
    let shared = booleans::intersection(std::slice::from_ref(a), std::slice::from_ref(b));
    if let Some(at) = largest(&shared) {
        return at;
    }
    use geo::{ClosestPoint as _, Distance as _, Euclidean};
    let (ga, gb) = (a.to_geo(), b.to_geo());
    let mut best = (f64::INFINITY, a.bounds().centre());
    for (corners, other) in [(a, &gb), (b, &ga)] {
        for p in corners.rings().flat_map(|r| &r.points) {
            if let geo::Closest::SinglePoint(q) | geo::Closest::Intersection(q) =
                other.closest_point(&(*p).into())
            {
                let d = Euclidean.distance(geo::Point::from(*p), q);
                if d < best.0 {
                    best = (d, (*p + q.0) * 0.5);
                }
            }
        }
    }
    best.1
}

/// Words of the address that asks where a piece may lie.
#[derive(Debug, Deserialize)]
pub struct Which {
    piece: usize,
    #[serde(default = "first")]
    copy: u32,
    turn_deg: f64,
}

fn first() -> u32 {
    1
}

/// `GET api/lay/allowed`.
pub fn allowed(table: &Table, which: &Which) -> Result<Value, Problem> {
    let understood = table.understood()?;
    let prepared = understood.prepared()?;
    let laid = table.laid(prepared);
    let lies = laid.iter().find(|l| (l.piece, l.copy) == (which.piece, which.copy));
    let lies = lies.ok_or_else(|| Problem::none("there is no such piece on the table"))?;
    let hand = hand(prepared);
    let turns = hand.turns(&laid, (which.piece, which.copy), lies.cloth)?;
    let at = hand.allowed(&laid, (which.piece, which.copy), which.turn_deg)?;
    Ok(allowed_json(&turns, at))
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Move {
    piece: usize,
    #[serde(default = "first")]
    copy: u32,
    turn_deg: f64,
    shift: [f64; 2],
    #[serde(default)]
    cloth: Option<usize>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Moves {
    #[serde(default)]
    moves: Vec<Move>,
    #[serde(default)]
    group: Option<String>,
    #[serde(default)]
    by: Option<[f64; 2]>,
}

/// Farthest a piece may be moved to, mm.
const FARTHEST_MM: f64 = 1.0e6;

/// `POST api/lay/move`: every piece goes to the allowed pose nearest to the one asked for.
pub fn shift(table: &Arc<Table>, asked: &Asked) -> Result<Value, Problem> {
    let body: Moves = asked.body()?;
    let understood = table.understood()?;
    let prepared = understood.prepared()?;
    let hand = hand(prepared);
    let (_, moved) = table.change("move", asked.revision()?, |work| {
        let now = laid(work, prepared);
        let moves = wanted(&body, &hand, &now)?;
        let names: Vec<(usize, u32)> = moves.iter().map(|m| (m.piece, m.copy)).collect();
        let new = hand.moved(&now, &moves)?;
        for l in new.iter().filter(|l| names.contains(&(l.piece, l.copy))) {
            put(work, prepared, l);
        }
        if work.laid_for.is_empty() {
            work.laid_for.clone_from(&understood.laid_for);
        }
        Ok(names)
    })?;
    after_move(table, &understood, &moved)
}

fn put(work: &mut Work, prepared: &Prepared, l: &Laid) {
    let lies = Lies {
        cloth: prepared.cloths[l.cloth].name.clone(),
        turn_deg: l.pose.turn_deg,
        shift: [l.pose.shift.x, l.pose.shift.y],
    };
    work.lies.insert((prepared.pieces[l.piece].id.clone(), l.copy), lies);
}

/// The poses asked for.
fn wanted(body: &Moves, hand: &Hand, now: &[Laid]) -> Result<Vec<Laid>, Problem> {
    let sane = |v: f64| v.is_finite() && v.abs() <= FARTHEST_MM;
    let name = |l: &Laid| format!("piece {} ({})", hand.pieces[l.piece].id, l.copy);
    let mut all: Vec<Laid> = Vec::new();
    if let (Some(group), Some([x, y])) = (&body.group, body.by) {
        if !(sane(x) && sane(y)) {
            return Err(Problem::bad("by: expected two numbers of a sensible size"));
        }
        let of_group = now.iter().filter(|l| hand.pieces[l.piece].group == *group);
        all.extend(of_group.map(|l| Laid { pose: Pose { shift: l.pose.shift + pt(x, y), ..l.pose }, ..*l }));
        if all.is_empty() {
            return Err(Problem::none(format!("no piece of group {group} is on the table")));
        }
    }
    for m in &body.moves {
        let [x, y] = m.shift;
        if !(sane(x) && sane(y) && sane(m.turn_deg)) {
            return Err(Problem::bad("moves: expected numbers of a sensible size"));
        }
        let piece = hand.pieces.get(m.piece).filter(|p| (1..=p.count).contains(&m.copy));
        piece.ok_or_else(|| Problem::none(format!("there is no piece {} ({})", m.piece, m.copy)))?;
        let there = now.iter().find(|l| (l.piece, l.copy) == (m.piece, m.copy));
        let choices = hand.choices(m.piece);
        let cloth = m.cloth.or(there.map(|l| l.cloth)).or(choices.first().copied()).unwrap_or_default();
        if !choices.contains(&cloth) {
            return Err(Problem::clash("this piece is not cut from that cloth")
                .hint("its rule in the job says which"));
        }
        if all.iter().any(|l| (l.piece, l.copy) == (m.piece, m.copy)) {
            return Err(Problem::bad(format!("piece {} ({}) is moved twice", m.piece, m.copy)));
        }
        let pose = Pose { turn_deg: m.turn_deg.rem_euclid(360.0), shift: pt(x, y) };
        all.push(Laid { piece: m.piece, copy: m.copy, cloth, pose, locked: false });
    }
    if all.is_empty() {
        return Err(Problem::bad("moves: nothing is moved"));
    }
    let locked = |l: &&Laid| now.iter().any(|n| n.locked && (n.piece, n.copy) == (l.piece, l.copy));
    if let Some(l) = all.iter().find(locked) {
        return Err(Problem::clash(format!("{} is locked", name(l))).hint("unlock it first"));
    }
    Ok(all)
}

/// What a page wants to know after a move: where the pieces went, all breaks, all figures.
fn after_move(
    table: &Arc<Table>,
    understood: &Arc<Understood>,
    moved: &[(usize, u32)],
) -> Result<Value, Problem> {
    let prepared = understood.prepared()?;
    let looked = table.looked(understood)?;
    table.count_passes(understood, &looked);
    let laid = table.laid(prepared);
    let hand = hand(prepared);
    let mut placed = Vec::new();
    for (c, on) in looked.lay.cloths.iter().enumerate() {
        for p in on.placed.iter().filter(|p| moved.contains(&(p.piece, p.copy))) {
            let turns = hand.turns(&laid, (p.piece, p.copy), c)?;
            let allowed = hand.allowed(&laid, (p.piece, p.copy), p.pose.turn_deg)?;
            let mut one = one_placed(prepared, p, &turns, allowed);
            one["cloth"] = c.into();
            placed.push(one);
        }
    }
    let figures: Vec<Value> =
        (0..looked.lay.cloths.len()).map(|c| figures(table, prepared, &looked, c)).collect();
    let revision = table.store().copy.revision;
    Ok(json!({
        "revision": revision, "placed": placed, "breaks": breaks(prepared, &looked),
        "sewn": seams::told(prepared, &looked.judgement), "figures": figures,
    }))
}

/// `POST api/lay/lock`: locked pieces are written into the job, so that the command line knows them too.
pub fn lock(table: &Arc<Table>, asked: &Asked) -> Result<Value, Problem> {
    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Body {
        pieces: Vec<(usize, u32)>,
        locked: bool,
    }
    let body: Body = asked.body()?;
    let understood = table.understood()?;
    let prepared = understood.prepared()?;
    let what = if body.locked { "lock" } else { "unlock" };
    let (_, names) = table.change(what, asked.revision()?, |work| {
        let now = laid(work, prepared);
        let mut names = Vec::new();
        for single in &body.pieces {
            let lies = now.iter().find(|l| (l.piece, l.copy) == *single);
            let lies = lies.ok_or_else(|| {
                Problem::none(format!("piece {} ({}) is not on the table", single.0, single.1))
            })?;
            names.push((prepared.pieces[lies.piece].id.clone(), lies.copy, *lies));
        }
        let Some(job) = work.job.as_mut().and_then(Value::as_object_mut) else {
            return Err(Problem::clash("There is no job yet"));
        };
        let mut entries: Vec<Value> =
            job.get("lay").and_then(|l| l.get("locked")?.as_array().cloned()).unwrap_or_default();
        let is = |e: &Value, name: &str, copy: u32| {
            e.get("piece").and_then(Value::as_str) == Some(name)
                && e.get("copy").map_or(Some(1), Value::as_u64) == Some(u64::from(copy))
        };
        entries.retain(|e| !names.iter().any(|(n, copy, _)| is(e, n, *copy)));
        if body.locked {
            let hand = hand(prepared);
            entries.extend(names.iter().map(|(name, copy, l)| locked_entry(&hand, name, *copy, l)));
        }
        let lay = job.entry("lay").or_insert_with(|| json!({}));
        if let Some(lay) = lay.as_object_mut() {
            if entries.is_empty() {
                lay.remove("locked");
            } else {
                lay.insert("locked".into(), entries.into());
            }
        }
        if job.get("lay").is_some_and(|l| l.as_object().is_some_and(serde_json::Map::is_empty)) {
            job.remove("lay");
        }
        Ok(names.iter().map(|n| (n.2.piece, n.2.copy)).collect::<Vec<_>>())
    })?;
    let understood = table.understood()?;
    after_move(table, &understood, &names)
}

/// An entry of `lay.locked`.
pub fn locked_entry(hand: &Hand, name: &str, copy: u32, l: &Laid) -> Value {
    let mut entry = json!({"piece": name});
    if copy != 1 {
        entry["copy"] = copy.into();
    }
    if hand.choices(l.piece).len() > 1 {
        entry["cloth"] = hand.cloths[l.cloth].name.clone().into();
    }
    entry["turn_deg"] = l.pose.turn_deg.into();
    entry["shift_mm"] = json!([l.pose.shift.x, l.pose.shift.y]);
    entry
}

/// `POST api/lay/start`: lays all pieces that are not locked anew, told as it gets better.
pub fn start(table: &Arc<Table>, asked: &Asked) -> Result<Answer, Problem> {
    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Body {
        #[serde(default)]
        seconds: Option<f64>,
        #[serde(default)]
        effort: Option<u32>,
    }
    let body: Body = asked.body()?;
    if body.seconds.is_some_and(|s| !(s > 0.0 && s <= 86_400.0)) {
        return Err(Problem::bad("seconds: expected more than 0, at most a day"));
    }
    if body.effort.is_some_and(|e| !(1..=1_000_000).contains(&e)) {
        return Err(Problem::bad("effort: expected from 1 to 1000000"));
    }
    let revision = asked.revision()?;
    table.store().expect(revision)?;
    let understood = table.understood()?;
    understood.prepared()?;
    heavy::start(table, "lay", Some(revision), move |table, progress| {
        let prepared = understood.prepared()?;
        let mut spec = prepared.job.lay.clone();
        if let Some(seconds) = body.seconds {
            (spec.seconds, spec.effort) = (seconds, None);
        }
        spec.effort = body.effort.or(spec.effort);
        let split = plan::lay_and_split(prepared, &spec, Some(progress), progress)?;
        let found = split.lay;
        for (c, (on, passes)) in found.cloths.iter().zip(&split.passes).enumerate() {
            let none = || "no waste is left for marks where two passes meet".to_owned();
            table.note_passes(c, on, passes.as_ref().map(|p| p.passes.len()).ok_or_else(none));
        }
        let revision = table.keep_lay(&understood, &found)?;
        let lengths: Vec<f64> = found.cloths.iter().map(|on| on.used_length_mm).collect();
        Ok(json!({"revision": revision, "used_length_mm": lengths}))
    })?;
    Ok(Answer::Begun(json!({"busy": "lay"})))
}

/// `POST api/lay/stop`: the search ends soon; its best lay is kept.
pub fn stop(table: &Table) -> Result<Value, Problem> {
    Ok(json!({"stopping": table.heavy.stop()}))
}

/// `POST api/lay/check`: the exact test of the whole lay, from the start.
pub fn check(table: &Table) -> Result<Value, Problem> {
    let understood = table.understood()?;
    let prepared = understood.prepared()?;
    let looked = table.looked(&understood)?;
    let Prepared { pieces, job, cloths, .. } = prepared;
    let faults = lay::faults(&looked.lay, pieces, &job.pieces, cloths, job.lay.gap_mm);
    let revision = table.store().copy.revision;
    Ok(
        json!({"revision": revision, "sound": faults.is_empty(), "faults": faults, "breaks": breaks(prepared, &looked)}),
    )
}

impl Table {
    /// Puts a lay that was searched for on the table.
    ///
    /// # Errors
    /// It cannot be kept.
    fn keep_lay(&self, understood: &Understood, found: &lay::Lay) -> Result<u64, Problem> {
        let prepared = understood.prepared()?;
        let mut store = self.store();
        let mut work = store.copy.work.clone();
        let locked = work.job.as_ref().map(locked_names).unwrap_or_default();
        // What is locked lies exactly as the job says.
        work.lies.retain(|name, _| locked.contains(name));
        for (c, on) in found.cloths.iter().enumerate() {
            for p in &on.placed {
                let l = Laid { piece: p.piece, copy: p.copy, cloth: c, pose: p.pose, locked: p.locked };
                let name = (prepared.pieces[p.piece].id.clone(), p.copy);
                if !locked.contains(&name) {
                    put(&mut work, prepared, &l);
                }
            }
        }
        work.laid_for.clone_from(&understood.laid_for);
        store.change("lay", work)?;
        Ok(store.copy.revision)
    }
}
