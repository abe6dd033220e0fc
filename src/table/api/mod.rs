//! What the page asks and says. Every answer is JSON, a file, or a problem report.

mod address;
mod ask;
mod cloth_work;
mod cloths;
mod cutter;
mod drawing;
mod files;
mod job;
mod lay;
mod passes;
mod pieces;
mod plan;
mod rooms;
mod state;

use std::sync::Arc;

use axum::Router;
use axum::extract::State;
use axum::routing::{get, post};

use super::guard;
use super::problem::Problem;
use super::surface::Table;
use address::{Path, Query};
pub use rooms::door;

use ask::{Asked, LARGEST_DRAWING, LARGEST_JOB, LARGEST_PICTURE, answer, raw};

type T = State<Arc<Table>>;

/// The page itself.
pub async fn home() -> axum::response::Response {
    files::page("index.html")
}

/// All addresses of the table, below its secret.
pub fn router() -> Router<Arc<Table>> {
    Router::new()
        .route("/page/{name}", get(|Path(name): Path<String>| async move { files::page(&name) }))
        .route("/api/state", get(|State(t): T| answer(t, |t| state::get(t))))
        .route("/api/recent", get(|State(t): T| answer(t, |t| rooms::recent(t))))
        .route("/api/open", post(|State(t): T, a: Asked| answer(t, move |t| rooms::open(t, &a))))
        .route("/api/events", get(|State(t): T| state::events(t)))
        .route("/api/schema/{which}", get(|Path(which): Path<String>| async move { state::schema(&which) }))
        .route("/api/job", axum::routing::put(|State(t): T, a: Asked| answer(t, move |t| job::put(t, &a))))
        .route("/api/cutter", get(|State(t): T| answer(t, |t| cutter::get(t))))
        .route("/api/cutter/own", post(|State(t): T, a: Asked| answer(t, move |t| cutter::own(t, &a))))
        .route("/api/undo", post(|State(t): T, a: Asked| answer(t, move |t| job::undo(t, &a))))
        .route("/api/redo", post(|State(t): T, a: Asked| answer(t, move |t| job::redo(t, &a))))
        .route("/api/save", post(|State(t): T, a: Asked| answer(t, move |t| job::save(t, &a))))
        .route("/api/reload", post(|State(t): T, a: Asked| answer(t, move |t| job::reload(t, &a))))
        .route(
            "/api/drawing",
            get(|State(t): T| answer(t, |t| drawing::get(t))).post(
                |State(t): T, Query(q): Query<drawing::Named>, request: axum::extract::Request| async move {
                    match raw(request, LARGEST_DRAWING).await {
                        Ok((revision, bytes)) => {
                            answer(t, move |t| drawing::post(t, &q, revision, &bytes)).await
                        }
                        Err(problem) => axum::response::IntoResponse::into_response(problem),
                    }
                },
            ),
        )
        .route("/api/pieces", get(|State(t): T| answer(t, |t| pieces::get(t))))
        .route("/api/cloths", get(|State(t): T| answer(t, |t| cloths::get(t))))
        .route(
            "/api/cloths/{cloth}/tile.png",
            get(|State(t): T, Path(cloth): Path<usize>, Query(q): Query<cloths::Side>| {
                answer(t, move |t| cloths::tile(t, cloth, &q))
            }),
        )
        .route(
            "/api/photo",
            post(
                |State(t): T, Query(q): Query<cloths::PhotoOf>, request: axum::extract::Request| async move {
                    match raw(request, LARGEST_PICTURE).await {
                        Ok((revision, bytes)) => {
                            answer(t, move |t| cloths::photo(t, &q, revision, &bytes)).await
                        }
                        Err(problem) => axum::response::IntoResponse::into_response(problem),
                    }
                },
            ),
        )
        .route("/api/lay", get(|State(t): T| answer(t, lay::get)))
        .route(
            "/api/lay/allowed",
            get(|State(t): T, Query(q): Query<lay::Which>| answer(t, move |t| lay::allowed(t, &q))),
        )
        .route("/api/lay/move", post(|State(t): T, a: Asked| answer(t, move |t| lay::shift(t, &a))))
        .route("/api/lay/lock", post(|State(t): T, a: Asked| answer(t, move |t| lay::lock(t, &a))))
        .route("/api/lay/start", post(|State(t): T, a: Asked| answer(t, move |t| lay::start(t, &a))))
        .route("/api/lay/stop", post(|State(t): T, _: Asked| answer(t, |t| lay::stop(t))))
        .route("/api/lay/check", post(|State(t): T, _: Asked| answer(t, |t| lay::check(t))))
        .route(
            "/api/plan",
            get(|State(t): T| answer(t, |t| plan::get(t)))
                .post(|State(t): T, a: Asked| answer(t, move |t| plan::make(t, &a))),
        )
        .route("/api/plan/words", post(|State(t): T, a: Asked| answer(t, move |t| plan::words(t, &a))))
        .route("/api/files", get(|State(t): T| answer(t, |t| files::list(t))))
        .route(
            "/files/{*path}",
            get(|State(t): T, Path(path): Path<String>, Query(q): Query<files::How>| {
                answer(t, move |t| files::get(t, &path, &q))
            }),
        )
        .route("/api/passes", get(|State(t): T| answer(t, |t| passes::get(t))))
        .route(
            "/api/passes/{number}/realign",
            post(|State(t): T, Path(n): Path<usize>, a: Asked| {
                answer(t, move |t| passes::realign_pass(t, n, &a))
            }),
        )
        .route(
            "/api/passes/{number}/done",
            post(|State(t): T, Path(n): Path<usize>, a: Asked| answer(t, move |t| passes::done(t, n, &a))),
        )
        .route(
            "/api/passes/{number}/rest",
            post(|State(t): T, Path(n): Path<usize>, a: Asked| answer(t, move |t| passes::rest(t, n, &a))),
        )
        .route("/api/recut", post(|State(t): T, a: Asked| answer(t, move |t| cloth_work::recut(t, &a))))
        .route(
            "/api/buy",
            get(|State(t): T| answer(t, |t| Ok::<_, Problem>(t.buying().unwrap_or_default())))
                .post(|State(t): T, a: Asked| answer(t, move |t| cloth_work::buy(t, &a))),
        )
        .route("/api/offcuts", get(|State(t): T| answer(t, |t| cloth_work::shelf(t))))
        .route("/api/offcuts/add", post(|State(t): T, a: Asked| answer(t, move |t| cloth_work::add(t, &a))))
        .fallback(guard::nowhere)
        .method_not_allowed_fallback(guard::no_such_method)
        .layer(axum::extract::DefaultBodyLimit::max(LARGEST_JOB))
}
