//! How calls are read and answers given.

use std::sync::Arc;
use std::time::Duration;

use axum::body::{Body, Bytes};
use axum::extract::{FromRequest, Request};
use axum::http::{HeaderMap, HeaderValue, Response, StatusCode, header};
use axum::response::IntoResponse;
use serde::de::DeserializeOwned;
use serde_json::Value;
use tokio_stream::StreamExt as _;

use crate::say::json;
use crate::table::guard::FILE_POLICY;
use crate::table::problem::Problem;
use crate::table::surface::{Table, fault};

/// Largest drawing taken, bytes: the largest that is read.
pub const LARGEST_DRAWING: usize = crate::drawing::limits::MAX_BYTES;

/// Largest photograph taken, bytes: a camera's whole frame.
pub const LARGEST_PICTURE: usize = 64 << 20;

/// Largest job, and any other JSON, bytes.
pub const LARGEST_JOB: usize = 4 << 20;

/// Longest that a body may take to arrive, and that nothing of it may.
const PATIENCE: Duration = Duration::from_secs(60);
const SILENCE: Duration = Duration::from_secs(10);

/// A call with a JSON body, which may be empty, and the revision its page had in sight.
#[derive(Debug)]
pub struct Asked {
    revision: Option<u64>,
    body: Value,
}

impl Asked {
    /// The revision.
    ///
    /// # Errors
    /// The call gives none.
    pub fn revision(&self) -> Result<u64, Problem> {
        known(self.revision)
    }

    /// The body as `B`.
    ///
    /// # Errors
    /// It has not the fields that it should.
    pub fn body<B: DeserializeOwned>(&self) -> Result<B, Problem> {
        json::typed(&self.body)
            .map_err(|wrong| Problem::bad(wrong.to_string()).with("place", wrong.place.to_string()))
    }
}

impl<S: Send + Sync> FromRequest<S> for Asked {
    type Rejection = Problem;

    async fn from_request(request: Request, _: &S) -> Result<Asked, Problem> {
        let kind = request.headers().get(header::CONTENT_TYPE).and_then(|v| v.to_str().ok()).unwrap_or("");
        // A form of another site cannot send this type unasked (OWASP CSRF cheat sheet; from memory).
        let is_json =
            kind.split(';').next().is_some_and(|k| k.trim().eq_ignore_ascii_case("application/json"));
        let revision = revision(request.headers())?;
        let bytes = arrived(request, LARGEST_JOB).await?;
        if bytes.is_empty() {
            return Ok(Asked { revision, body: Value::Object(serde_json::Map::new()) });
        }
        if !is_json {
            let status = StatusCode::UNSUPPORTED_MEDIA_TYPE;
            return Err(Problem::new(
                status,
                "This call is refused",
                "its body is not marked application/json",
            ));
        }
        let body =
            json::value_of_bytes(&bytes).map_err(|wrong| Problem::bad(format!("the body: {wrong}")))?;
        Ok(Asked { revision, body })
    }
}

/// A call with a body of any kind, at most so long.
///
/// # Errors
/// It is too long, or gives no revision.
pub async fn raw(request: Request, most: usize) -> Result<(u64, Bytes), Problem> {
    let revision = known(revision(request.headers())?)?;
    Ok((revision, arrived(request, most).await?))
}

fn known(revision: Option<u64>) -> Result<u64, Problem> {
    revision.ok_or_else(|| {
        let status = StatusCode::PRECONDITION_REQUIRED;
        Problem::new(
            status,
            "This call is refused",
            "a change must say which revision it was made in sight of",
        )
        .hint("send the header If-Match with the revision of api/state")
    })
}

fn revision(headers: &HeaderMap) -> Result<Option<u64>, Problem> {
    let Some(value) = headers.get(header::IF_MATCH) else { return Ok(None) };
    let number = value.to_str().ok().and_then(|v| v.trim().trim_matches('"').parse().ok());
    number.map(Some).ok_or_else(|| Problem::bad("If-Match: expected the revision, a whole number"))
}

async fn arrived(request: Request, most: usize) -> Result<Bytes, Problem> {
    let too_large = || {
        let detail = format!("the body is longer than {} MB", most >> 20);
        Problem::new(StatusCode::PAYLOAD_TOO_LARGE, "This call is refused", detail)
    };
    let stated =
        request.headers().get(header::CONTENT_LENGTH).and_then(|v| v.to_str().ok()?.parse::<u64>().ok());
    if stated.is_some_and(|n| n > most as u64) {
        return Err(too_large());
    }
    let late = || {
        let status = StatusCode::REQUEST_TIMEOUT;
        Problem::new(status, "This call is refused", "its body did not arrive in time")
    };
    let whole = async {
        let mut parts = request.into_body().into_data_stream();
        let mut bytes = Vec::new();
        while let Some(part) = tokio::time::timeout(SILENCE, parts.next()).await.map_err(|_| late())? {
            let part = part.map_err(|_| Problem::bad("the body did not arrive whole"))?;
            if bytes.len() + part.len() > most {
                return Err(too_large());
            }
            bytes.extend_from_slice(&part);
        }
        Ok(bytes.into())
    };
    tokio::time::timeout(PATIENCE, whole).await.map_err(|_| late())?
}

/// What a call is answered with.
pub enum Answer {
    /// JSON.
    Json(Value),
    /// JSON, for work that has only begun.
    Begun(Value),
    /// A file: its media type, its bytes, and the name it is to be kept under when it is to be kept.
    File(&'static str, Vec<u8>, Option<String>),
}

impl From<Value> for Answer {
    fn from(value: Value) -> Answer {
        Answer::Json(value)
    }
}

impl IntoResponse for Answer {
    fn into_response(self) -> Response<Body> {
        let json = |status: StatusCode, value: Value| {
            let mut answer = Response::new(Body::from(value.to_string()));
            *answer.status_mut() = status;
            answer.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static("application/json"));
            answer
        };
        match self {
            Answer::Json(value) => json(StatusCode::OK, value),
            Answer::Begun(value) => json(StatusCode::ACCEPTED, value),
            Answer::File(kind, bytes, keep_as) => {
                let mut answer = Response::new(Body::from(bytes));
                let headers = answer.headers_mut();
                headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
                if kind.starts_with("text/html") || kind.starts_with("image/svg") {
                    headers.insert(header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(FILE_POLICY));
                }
                if let Some(name) = keep_as {
                    let plain: String =
                        name.chars()
                            .map(|c| {
                                if c.is_ascii_graphic() && c != '"' && c != '\\' || c == ' ' {
                                    c
                                } else {
                                    '_'
                                }
                            })
                            .collect();
                    if let Ok(value) = HeaderValue::from_str(&format!("attachment; filename=\"{plain}\"")) {
                        headers.insert(header::CONTENT_DISPOSITION, value);
                    }
                }
                answer
            }
        }
    }
}

/// Works out an answer beside the server's own threads.
pub async fn answer<A: Into<Answer>>(
    table: Arc<Table>,
    work: impl FnOnce(&Arc<Table>) -> Result<A, Problem> + Send + 'static,
) -> Response<Body> {
    let done = tokio::task::spawn_blocking(move || work(&table).map(|a| a.into().into_response())).await;
    match done {
        Ok(Ok(response)) => response,
        Ok(Err(problem)) => problem.into_response(),
        Err(_) => fault("the answer could not be worked out; nothing was changed").into_response(),
    }
}
