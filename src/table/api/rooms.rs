//! At home: the jobs that were on the table, one of them opened, and a way in for whoever starts the program once more.

use std::path::Path;
use std::sync::Arc;

use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use serde_json::{Value, json};

use super::ask::{Answer, Asked};
use crate::table::problem::Problem;
use crate::table::rooms::Rooms;
use crate::table::server::{open_job, settled};
use crate::table::store::Store;
use crate::table::surface::{Table, fault};

fn at_home(table: &Table) -> Result<Arc<Rooms>, Problem> {
    let rooms = table.rooms.upgrade().filter(|r| r.home.is_some());
    rooms.ok_or_else(|| Problem::none("this table was opened in a folder; its jobs are opened from there"))
}

/// `GET api/recent`: the jobs that may be opened, the last first.
pub fn recent(table: &Table) -> Result<Value, Problem> {
    let rooms = at_home(table)?;
    Ok(rooms.home.as_ref().map(|h| h.told()).unwrap_or_default())
}

/// `POST api/open`: puts one of them on a table of its own, and says where that is; without a job, where there is an empty
/// table.
pub fn open(table: &Table, asked: &Asked) -> Result<Value, Problem> {
    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Body {
        job: Option<String>,
    }
    let Body { job } = asked.body()?;
    let rooms = at_home(table)?;
    let Some(home) = &rooms.home else { return Err(Problem::none("there is no list of jobs here")) };
    let Some(job) = job else { return Ok(json!({"to": format!("/{}/", empty(&rooms)?)})) };
    // A page names no other file of this computer.
    let known = home.known().into_iter().find(|j| j.display().to_string() == job);
    let Some(path) = known else {
        return Err(Problem::none("this job is gone").hint("look at the list as it is now"));
    };
    let (secret, found) = match rooms.with_job(&path) {
        Some(open_already) => (open_already, Vec::new()),
        None => {
            let mut store = open_job(Path::new(&path))?;
            let found = settled(&mut store)?;
            (rooms.furnish(store)?, found)
        }
    };
    home.note_opened(&path);
    Ok(json!({"to": format!("/{secret}/"), "told": found}))
}

/// An empty table that nobody looks at.
fn empty(rooms: &Arc<Rooms>) -> Result<String, Problem> {
    let Some(home) = &rooms.home else { return Err(Problem::none("there is no list of jobs here")) };
    match rooms.empty() {
        Some(empty) => Ok(empty),
        None => Ok(rooms.furnish(Store::empty(&home.jobs))?),
    }
}

/// `POST door` below the secret of the home: an address that leads once to an empty table.
pub async fn door(rooms: Arc<Rooms>) -> Response {
    let found = tokio::task::spawn_blocking(move || -> Result<Value, Problem> {
        let secret = empty(&rooms)?;
        let door = rooms.door(&secret).ok_or_else(|| fault("this system gives no random numbers"))?;
        Ok(json!({"door": door}))
    });
    match found.await {
        Ok(Ok(told)) => Answer::Json(told).into_response(),
        Ok(Err(problem)) => problem.into_response(),
        Err(_) => fault("the answer could not be worked out").into_response(),
    }
}
