//! What to buy, a piece cut again, and the offcut shelf.

use std::path::Path;
use std::sync::Arc;

use serde::Deserialize;
use serde_json::{Value, json};

use super::ask::{Answer, Asked};
use crate::estimate::{self, Buying, Wish};
use crate::offcuts::{self, Place, Source};
use crate::plan::{self, Plan};
use crate::table::heavy;
use crate::table::problem::Problem;
use crate::table::surface::{Table, again_folder, plan_folder};
use crate::write;

/// `POST api/buy`: the answer comes with the event `done`, and from `GET api/buy` after it.
pub fn buy(table: &Arc<Table>, asked: &Asked) -> Result<Answer, Problem> {
    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Body {
        #[serde(default)]
        widths_mm: Vec<f64>,
        #[serde(default)]
        effort: Option<u32>,
        #[serde(default)]
        savings: bool,
    }
    let body: Body = asked.body()?;
    const WIDEST_MM: f64 = 20_000.0;
    if body.widths_mm.len() > 50 || body.widths_mm.iter().any(|w| !(*w > 0.0 && *w <= WIDEST_MM)) {
        return Err(Problem::bad("widths_mm: expected widths in mm, more than 0, at most 20000"));
    }
    if body.effort.is_some_and(|e| !(1..=1_000_000).contains(&e)) {
        return Err(Problem::bad("effort: expected from 1 to 1000000"));
    }
    let understood = table.understood()?;
    understood.prepared()?;
    heavy::start(table, "buy", None, move |table, progress| {
        let prepared = understood.prepared()?;
        let effort = body.effort.or(prepared.job.lay.effort).unwrap_or(estimate::EFFORT);
        let wish = Wish { widths_mm: body.widths_mm.clone(), effort, savings: body.savings };
        let buyings = estimate::buy(&prepared.job, &prepared.pieces, &wish, &plan::WithMarks, progress)?;
        let told: Vec<Value> = buyings.iter().map(Buying::figures).collect();
        table.remember_buying(told.clone().into());
        Ok(told.into())
    })?;
    Ok(Answer::Begun(json!({"busy": "buy"})))
}

/// `POST api/recut`: a spoilt piece cut again from the shelf or the rest of the cloth.
pub fn recut(table: &Arc<Table>, asked: &Asked) -> Result<Answer, Problem> {
    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Body {
        piece: String,
        #[serde(default = "first")]
        copy: u32,
    }
    let body: Body = asked.body()?;
    let understood = table.understood()?;
    let prepared = understood.prepared()?.clone();
    let (plan_at, again) = {
        let store = table.store();
        (plan_folder(&store), again_folder(&store))
    };
    let (Some(plan_at), Some(again)) = (plan_at, again) else {
        return Err(Problem::clash("There is no job yet"));
    };
    if !plan_at.join(plan::PLAN_FILE).is_file() {
        return Err(Problem::none("There is no plan yet")
            .hint("make one of the lay; then a piece of it can be cut again"));
    }
    heavy::start(table, "recut", None, move |table, progress| {
        let (plan, _) = plan::read(&plan_at)?;
        // Every piece cut again from the same cloth since is in the way.
        let since = cut_again(&again)?;
        let (shelf, _) = Place::usual()?.read()?;
        let asked = offcuts::Asked {
            prepared,
            plan: Some(&plan),
            since: &since,
            piece: &body.piece,
            copy: body.copy,
            shelf: &shelf.offcuts,
        };
        let recut = offcuts::recut(asked, progress)?;
        let number = since.len() + 1;
        let name = (number..).map(|k| format!("{k}")).find(|n| !again.join(n).exists()).unwrap_or_default();
        let out = again.join(&name);
        let run = &recut.run;
        write::all(&run.prepared.job, &run.plan, &run.prepared.cloths, &out)?;
        table.tell_state();
        let offcut = if let Source::Shelf(id) = &recut.source { Some(id.clone()) } else { None };
        let placed = run.plan.pieces.first().map(|p| json!({"turn_deg": p.turn_deg, "shift": p.shift}));
        Ok(json!({
            "piece": body.piece, "copy": body.copy, "from": recut.source.words(), "offcut": offcut,
            "off_mm": recut.off_mm, "drift_mm": recut.drift_mm, "looked_at": recut.looked_at, "placed": placed,
            "files": format!("again/{name}/"),
        }))
    })?;
    Ok(Answer::Begun(json!({"busy": "recut"})))
}

/// The plans of pieces cut again, in the order of their folders' names.
fn cut_again(again: &Path) -> Result<Vec<Plan>, Problem> {
    let entries = std::fs::read_dir(again).into_iter().flatten().flatten().map(|e| e.path());
    let mut folders: Vec<_> = entries.filter(|p| p.join(plan::PLAN_FILE).is_file()).collect();
    folders.sort();
    Ok(folders.iter().map(|f| plan::read(f).map(|(p, _)| p)).collect::<Result<_, _>>()?)
}

fn first() -> u32 {
    1
}

/// `GET api/offcuts`: what is on the shelf.
pub fn shelf(_: &Table) -> Result<Value, Problem> {
    let place = Place::usual()?;
    let (shelf, notes) = place.read()?;
    let all: Vec<Value> = shelf
        .kept()
        .map(|o| {
            let mut told = serde_json::to_value(o).unwrap_or_default();
            told["line"] = o.line().into();
            told
        })
        .collect();
    let notes: Vec<String> = notes.into_iter().map(|n| n.text).collect();
    Ok(json!({"file": place.file().display().to_string(), "offcuts": all, "notes": notes}))
}

/// `POST api/offcuts/add`: the plan's leftovers go on the shelf.
pub fn add(table: &Table, asked: &Asked) -> Result<Value, Problem> {
    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Body {
        #[serde(default)]
        place: String,
    }
    let body: Body = asked.body()?;
    table.heavy.idle()?;
    let (folder, again) = {
        let store = table.store();
        (plan_folder(&store).filter(|f| f.join(plan::PLAN_FILE).is_file()), again_folder(&store))
    };
    let folder = folder.ok_or_else(|| Problem::none("There is no plan yet").hint("make one of the lay"))?;
    let (plan, _) = plan::read(&folder)?;
    let since = again.as_deref().map_or(Ok(Vec::new()), cut_again)?;
    let place = Place::usual()?;
    let (shelf, _) = place.read()?;
    let beside = offcuts::Beside { since: &since, shelf: &shelf.offcuts };
    let what = offcuts::shelve(&plan, &offcuts::today(), &body.place, beside)?;
    let write::Put { added, cut_up, .. } = write::put_on_shelf(&place, &what.offcuts, Some(&plan))?;
    let discarded: Vec<Value> = what
        .discarded
        .iter()
        .map(|c| json!({"cloth": c.cloth, "area_mm2": c.area_mm2, "weight_g": c.weight_g}))
        .collect();
    let lines: Vec<Value> = added.iter().map(|o| json!({"id": o.id, "line": o.line()})).collect();
    Ok(
        json!({"added": lines, "cut_up": cut_up, "discarded": discarded, "file": place.file().display().to_string()}),
    )
}
