//! How things stand, and what happens.

use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;

use axum::body::Body;
use axum::http::{Response, StatusCode};
use axum::response::IntoResponse;
use axum::response::sse::{Event, KeepAlive, Sse};
use serde_json::{Value, json};
use tokio_stream::StreamExt as _;
use tokio_stream::wrappers::ReceiverStream;

use super::ask::Answer;
use crate::table::problem::Problem;
use crate::table::surface::Table;
use crate::{job, plan};

/// Everything of the state, the job with it.
pub fn get(table: &Table) -> Result<Value, Problem> {
    let mut state = table.state();
    state["job"] = table.store().copy.work.job.clone().unwrap_or(Value::Null);
    Ok(state)
}

/// A stream of what happens, which begins with how things stand.
pub async fn events(table: Arc<Table>) -> Response<Body> {
    let Some(heard) = table.hub.listen() else {
        let status = StatusCode::TOO_MANY_REQUESTS;
        return Problem::new(status, "This call is refused", "too many pages look on already")
            .into_response();
    };
    let now = match tokio::task::spawn_blocking(move || table.state()).await {
        Ok(state) => state.to_string(),
        Err(_) => json!({}).to_string(),
    };
    let first = tokio_stream::once(Event::default().event("state").data(now));
    let then = ReceiverStream::new(heard).map(|said| Event::default().event(said.name).data(said.data));
    let stream = first.chain(then).map(Ok::<_, Infallible>);
    Sse::new(stream).keep_alive(KeepAlive::new().interval(Duration::from_secs(15))).into_response()
}

/// The published schema of a kind of file.
pub fn schema(which: &str) -> Response<Body> {
    match which {
        "job" => Answer::Json(job::schema()).into_response(),
        "cutter" => Answer::Json(job::cutter_schema()).into_response(),
        _ => {
            let _ = plan::PLAN_FILE;
            Problem::none("expected job or cutter").into_response()
        }
    }
}
