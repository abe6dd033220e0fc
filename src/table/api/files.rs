//! Files given out: the page's own.

use axum::body::Body;
use axum::http::{HeaderValue, Response, header};
use axum::response::IntoResponse;

use crate::table::page;
use crate::table::problem::Problem;

/// A file of the page.
pub fn page(name: &str) -> Response<Body> {
    let Some((_, kind, text)) = page::file(name) else {
        return Problem::none("the page has no such file").into_response();
    };
    let mut answer = Response::new(Body::from(*text));
    answer.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    answer
}
