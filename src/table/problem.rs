//! Why a call was not answered as asked, told as a problem report.

use axum::body::Body;
use axum::http::{HeaderValue, Response, StatusCode, header};
use axum::response::IntoResponse;
use serde_json::{Value, json};

use crate::say::{Kind, Trouble, Way};

/// A problem report as in RFC 9457 (Problem Details for HTTP APIs).
#[derive(Clone, Debug)]
pub struct Problem {
    /// The HTTP status.
    pub status: StatusCode,
    /// What sort of thing went wrong: the same words for the same sort.
    pub title: &'static str,
    /// What went wrong this time.
    pub detail: String,
    /// What would help; may be empty.
    pub hint: String,
    /// Everything wrong, where there are several things.
    pub troubles: Vec<Trouble>,
    /// Further fields.
    pub more: Vec<(String, Value)>,
}

impl Problem {
    /// A problem with nothing further to say.
    pub fn new(status: StatusCode, title: &'static str, detail: impl Into<String>) -> Problem {
        let detail = detail.into();
        Problem { status, title, detail, hint: String::new(), troubles: Vec::new(), more: Vec::new() }
    }

    /// A call that makes no sense.
    pub fn bad(detail: impl Into<String>) -> Problem {
        Problem::new(StatusCode::BAD_REQUEST, "That makes no sense", detail)
    }

    /// Something that is not there.
    pub fn none(detail: impl Into<String>) -> Problem {
        Problem::new(StatusCode::NOT_FOUND, "There is no such thing", detail)
    }

    /// Something that clashes with how things stand.
    pub fn clash(detail: impl Into<String>) -> Problem {
        Problem::new(StatusCode::CONFLICT, "That does not go now", detail)
    }

    /// The same problem with the next step said.
    pub fn hint(mut self, hint: impl Into<String>) -> Problem {
        self.hint = hint.into();
        self
    }

    /// The same problem with a further field.
    pub fn with(mut self, key: &str, value: impl Into<Value>) -> Problem {
        self.more.push((key.to_owned(), value.into()));
        self
    }

    /// The report as JSON.
    pub fn json(&self) -> Value {
        let mut body = json!({
            "type": "about:blank", "title": self.title, "status": self.status.as_u16(), "detail": self.detail,
        });
        if !self.hint.is_empty() {
            body["hint"] = self.hint.clone().into();
        }
        if let Some(first) = self.troubles.first() {
            body["place"] = first.about.clone().into();
            body["troubles"] = troubles(&self.troubles);
        }
        for (key, value) in &self.more {
            body[key] = value.clone();
        }
        body
    }
}

/// Troubles as JSON.
pub fn troubles(all: &[Trouble]) -> Value {
    all.iter()
        .map(|t| json!({"about": t.about, "what": t.what, "hint": t.hint, "place": t.about, "ways": ways(t)}))
        .collect::<Vec<_>>()
        .into()
}

/// What was tried and helps: for each way, fields of the job and their new values.
fn ways(t: &Trouble) -> Vec<Value> {
    let changes = |w: &Way| w.changes.iter().map(|c| json!({"place": c.place(), "value": c.value})).collect();
    t.ways.iter().map(changes).collect()
}

impl From<Vec<Trouble>> for Problem {
    fn from(all: Vec<Trouble>) -> Problem {
        let bad = all.iter().any(|t| t.kind == Kind::BadInput);
        let (status, title) = if bad {
            (StatusCode::UNPROCESSABLE_ENTITY, "This does not make sense yet")
        } else {
            (StatusCode::UNPROCESSABLE_ENTITY, "This cannot be done as asked")
        };
        let first = all.first();
        let detail = first.map_or_else(String::new, |t| format!("{}: {}", t.about, t.what));
        let hint = first.map_or_else(String::new, |t| t.hint.clone());
        Problem { troubles: all, ..Problem::new(status, title, detail).hint(hint) }
    }
}

impl From<Trouble> for Problem {
    fn from(one: Trouble) -> Problem {
        vec![one].into()
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response<Body> {
        let mut answer = Response::new(Body::from(self.json().to_string()));
        *answer.status_mut() = self.status;
        let kind = HeaderValue::from_static("application/problem+json");
        answer.headers_mut().insert(header::CONTENT_TYPE, kind);
        if self.status == StatusCode::TOO_MANY_REQUESTS {
            answer.headers_mut().insert(header::RETRY_AFTER, HeaderValue::from_static("1"));
        }
        answer
    }
}
