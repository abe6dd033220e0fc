//! Files given out: the page's own, and those written for the job; no others.

use std::fs;
use std::path::{Path, PathBuf};

use axum::body::Body;
use axum::http::{HeaderValue, Response, header};
use axum::response::IntoResponse;
use serde::Deserialize;
use serde_json::{Value, json};

use super::ask::Answer;
use super::plan::AS_LAID;
use crate::realign::{AS_PLANNED, DONE_FILE};
use crate::table::disk::read_limited;
use crate::table::page;
use crate::table::problem::Problem;
use crate::table::surface::{Table, again_folder, plan_folder};
use crate::write;

/// Largest file given out, bytes.
const LARGEST: u64 = 512 << 20;

/// A file of the page.
pub fn page(name: &str) -> Response<Body> {
    let Some((_, kind, text)) = page::file(name) else {
        return Problem::none("the page has no such file").into_response();
    };
    let mut answer = Response::new(Body::from(*text));
    answer.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    answer
}

/// A file written for the job.
struct Written {
    /// Its name as the page knows it.
    name: String,
    path: PathBuf,
    bytes: u64,
}

/// All files written for the job: those of its plan, and of pieces cut again below `again/`.
fn written(table: &Table) -> Vec<Written> {
    let (plan, again) = {
        let store = table.store();
        (plan_folder(&store), again_folder(&store))
    };
    let mut all = Vec::new();
    if let Some(folder) = plan {
        of_plan(&folder, "", &mut all);
    }
    if let Some(folder) = again {
        let inner = fs::read_dir(&folder).into_iter().flatten().flatten();
        for entry in inner.filter(|e| e.file_type().is_ok_and(|t| t.is_dir())) {
            of_plan(&entry.path(), &format!("again/{}/", entry.file_name().to_string_lossy()), &mut all);
        }
    }
    all.sort_by(|a, b| a.name.cmp(&b.name));
    all
}

/// The files of the plan in `folder`: those that a plan writes, plain files within the folder itself.
fn of_plan(folder: &Path, prefix: &str, all: &mut Vec<Written>) {
    let Ok(whole) = fs::canonicalize(folder) else { return };
    let mut names = write::names_of(&whole);
    names.extend([AS_LAID, AS_PLANNED, DONE_FILE].map(String::from));
    let rests = fs::read_dir(whole.join("cut")).into_iter().flatten().flatten();
    let rests = rests.map(|e| format!("cut/{}", e.file_name().to_string_lossy()));
    names.extend(rests.filter(|n| n.contains("-pass-") && n.contains("-from-")));
    names.sort();
    names.dedup();
    for name in names {
        let path = whole.join(&name);
        let Ok(meta) = path.symlink_metadata() else { continue };
        // A link, or a folder that is one, may lead anywhere.
        let within = fs::canonicalize(&path).is_ok_and(|real| real == path);
        if meta.is_file() && within {
            all.push(Written { name: format!("{prefix}{name}"), path, bytes: meta.len() });
        }
    }
}

/// What a file is for.
fn purpose(name: &str) -> &'static str {
    let file = name.rsplit('/').next().unwrap_or(name);
    let in_folder = |f: &str| name.contains(&format!("{f}/"));
    match file {
        "plan.json" | "plan-as-planned.json" | "done.json" => "plan",
        "as-laid.job.json" => "job",
        "report.html" => "report",
        "sheets.pdf" => "sheets",
        _ if in_folder("sewing") => "sewing",
        _ if file.contains("-key.") => "key",
        _ if in_folder("cut") => "cut",
        _ => "picture",
    }
}

/// `GET api/files`.
pub fn list(table: &Table) -> Result<Value, Problem> {
    let one = |w: &Written| json!({"path": w.name, "bytes": w.bytes, "kind": purpose(&w.name)});
    Ok(written(table).iter().map(one).collect::<Vec<_>>().into())
}

/// Words of a file's address.
#[derive(Debug, Deserialize)]
pub struct How {
    #[serde(default)]
    download: u8,
}

/// `GET files/PATH`: a file by its name in the list.
pub fn get(table: &Table, name: &str, how: &How) -> Result<Answer, Problem> {
    let found = written(table).into_iter().find(|w| w.name == name);
    let found = found.ok_or_else(|| Problem::none("no such file was written for this job"))?;
    let bytes = read_limited(&found.path, LARGEST)?;
    let ending = name.rsplit('.').next().unwrap_or_default();
    let kind = match ending {
        "svg" => "image/svg+xml",
        "png" => "image/png",
        "pdf" => "application/pdf",
        "html" => "text/html; charset=utf-8",
        "json" => "application/json",
        "dxf" => "image/vnd.dxf",
        _ => "text/plain; charset=utf-8",
    };
    let file = name.rsplit('/').next().unwrap_or(name).to_owned();
    Ok(Answer::File(kind, bytes, (how.download == 1).then_some(file)))
}
