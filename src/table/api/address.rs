//! What a call says in its address, refused in words where it makes no sense.

use axum::extract::{self, FromRequestParts};
use axum::http::request::Parts;
use serde::de::DeserializeOwned;

use crate::table::problem::Problem;

/// The parts of an address's path that are not fixed.
#[derive(Debug)]
pub struct Path<T>(pub T);

impl<T: DeserializeOwned + Send, S: Send + Sync> FromRequestParts<S> for Path<T> {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Path<T>, Problem> {
        let read = extract::Path::<T>::from_request_parts(parts, state).await;
        read.map(|p| Path(p.0)).map_err(|e| Problem::bad(format!("the address: {}", e.body_text())))
    }
}

/// What stands after an address's question mark.
#[derive(Debug)]
pub struct Query<T>(pub T);

impl<T: DeserializeOwned, S: Send + Sync> FromRequestParts<S> for Query<T> {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Query<T>, Problem> {
        let read = extract::Query::<T>::from_request_parts(parts, state).await;
        read.map(|q| Query(q.0)).map_err(|e| Problem::bad(format!("the address: {}", e.body_text())))
    }
}
