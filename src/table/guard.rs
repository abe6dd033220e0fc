//! Who is let in: this computer, the page's own origin, whoever knows the secret, and not too often.
//!
//! The dangers of a server on the loopback address, and their answers: another site's page posting to it (Origin,
//! Fetch Metadata), a name pointed at 127.0.0.1 (Host), other programs of this computer (the secret), floods.
//! After OWASP's Cheat Sheet Series, "Cross-Site Request Forgery Prevention", "HTTP Headers" and "Content Security
//! Policy", and its Web Security Testing Guide (WSTG-INPV-17, Host header injection); from memory.

use std::sync::{Arc, Mutex};
use std::time::Instant;

use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};

use super::callers::Caller;
use super::problem::Problem;
use super::rooms::Rooms;

/// The port of an address that names none.
const USUAL_PORT: u16 = 80;

/// What the guard knows.
pub struct Guard {
    port: u16,
    rooms: Arc<Rooms>,
    ours: Bucket,
    strangers: Bucket,
}

impl Guard {
    /// A guard for a server at `port` with these rooms.
    pub fn new(port: u16, rooms: Arc<Rooms>) -> Guard {
        let (ours, strangers) = (Bucket::new(600.0, 200.0), Bucket::new(60.0, 10.0));
        Guard { port, rooms, ours, strangers }
    }

    /// Why a call is not let in for where it comes from and whom it means to ask.
    fn foreign(&self, request: &Request) -> Option<Problem> {
        let headers = request.headers();
        let refuse =
            |status: StatusCode, detail: &str| Some(Problem::new(status, "This call is refused", detail));
        let host = one(headers, &header::HOST);
        let authority = request.uri().authority().map(|a| a.as_str());
        let ours = |h: &str| self.is_us(h);
        if !matches!(host, Ok(Some(h)) if ours(h)) || authority.is_some_and(|a| !ours(a)) {
            return refuse(StatusCode::MISDIRECTED_REQUEST, "it is addressed to another host");
        }
        match one(headers, &header::ORIGIN) {
            Ok(None) => {}
            Ok(Some(origin)) if origin.strip_prefix("http://").is_some_and(ours) => {}
            _ => return refuse(StatusCode::FORBIDDEN, "it comes from another site's page"),
        }
        let site = HeaderName::from_static("sec-fetch-site");
        match one(headers, &site) {
            Ok(None | Some("same-origin" | "none")) => {}
            _ => return refuse(StatusCode::FORBIDDEN, "it comes from another site's page"),
        }
        None
    }

    /// Why a call is not let in for what it does not know, or for too many of its kind.
    fn stranger(&self, request: &Request) -> Option<Problem> {
        let refuse =
            |status: StatusCode, detail: &str| Some(Problem::new(status, "This call is refused", detail));
        let given = request.uri().path().split('/').nth(1).unwrap_or_default();
        if !self.rooms.knows(given) {
            if !self.strangers.take() {
                return refuse(StatusCode::TOO_MANY_REQUESTS, "too many calls with a wrong address");
            }
            return refuse(StatusCode::FORBIDDEN, "its address lacks the table's secret").map(|p| {
                p.hint("open the whole address that settlay table printed; each start has a new one")
            });
        }
        if !self.ours.take() {
            return refuse(StatusCode::TOO_MANY_REQUESTS, "more calls than any page makes")
                .map(|p| p.hint("wait a second"));
        }
        None
    }

    fn is_us(&self, host: &str) -> bool {
        // A browser leaves out the port that is the usual one (RFC 9110, section 4.2.1).
        let name =
            host.strip_suffix(&format!(":{}", self.port)).or((self.port == USUAL_PORT).then_some(host));
        name.is_some_and(|n| n == "127.0.0.1" || n.eq_ignore_ascii_case("localhost"))
    }
}

/// The header's value, when it is given once at most.
fn one<'h>(headers: &'h HeaderMap, name: &HeaderName) -> Result<Option<&'h str>, ()> {
    let mut all = headers.get_all(name).iter();
    match (all.next(), all.next()) {
        (None, _) => Ok(None),
        (Some(value), None) => value.to_str().map(Some).map_err(|_| ()),
        _ => Err(()),
    }
}

/// Lets in or refuses, and puts the safety headers on every answer.
pub async fn stand(State(guard): State<Arc<Guard>>, request: Request, next: Next) -> Response {
    let mut answer = if let Some(problem) = guard.foreign(&request) {
        problem.into_response()
    } else if let Some(inside) =
        guard.rooms.through_the_door(request.uri().path().strip_prefix('/').unwrap_or_default())
    {
        is_known(&request);
        Redirect::to(&format!("/{inside}/")).into_response()
    } else if let Some(problem) = guard.stranger(&request) {
        problem.into_response()
    } else {
        is_known(&request);
        next.run(request).await
    };
    harden(answer.headers_mut());
    answer
}

/// Has whoever asks stay connected before others.
fn is_known(request: &Request) {
    if let Some(caller) = request.extensions().get::<Arc<Caller>>() {
        caller.is_known();
    }
}

/// Headers of every answer.
const HEADERS: [(HeaderName, &str); 8] = [
    (header::CONTENT_SECURITY_POLICY, PAGE_POLICY),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    (header::CACHE_CONTROL, "no-store"),
    (header::X_FRAME_OPTIONS, "DENY"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    (HeaderName::from_static("permissions-policy"), "camera=(), microphone=(), geolocation=()"),
];

/// Scripts and connections of our own alone; pictures also made on the page itself.
const PAGE_POLICY: &str = "default-src 'self'; img-src 'self' data: blob:; style-src 'self' 'unsafe-inline'; \
    object-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// For a plan's own files shown by themselves: their looks, nothing that runs.
pub const FILE_POLICY: &str = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; sandbox; \
    base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

fn harden(headers: &mut HeaderMap) {
    for (name, value) in HEADERS {
        headers.entry(name).or_insert(HeaderValue::from_static(value));
    }
}

/// An answer for a path that leads nowhere.
pub async fn nowhere() -> Response<Body> {
    Problem::none("nothing is at this address").into_response()
}

/// An answer for a method that a path does not take.
pub async fn no_such_method() -> Response<Body> {
    let status = StatusCode::METHOD_NOT_ALLOWED;
    Problem::new(status, "This call is refused", "this address does not take that method").into_response()
}

/// A token bucket: `most` calls at once, `per_second` in the long run.
#[derive(Debug)]
struct Bucket {
    most: f64,
    per_second: f64,
    left: Mutex<(f64, Instant)>,
}

impl Bucket {
    fn new(most: f64, per_second: f64) -> Bucket {
        Bucket { most, per_second, left: Mutex::new((most, Instant::now())) }
    }

    fn take(&self) -> bool {
        self.take_at(Instant::now())
    }

    fn take_at(&self, now: Instant) -> bool {
        let Ok(mut left) = self.left.lock() else { return false };
        let passed = now.saturating_duration_since(left.1).as_secs_f64();
        *left = ((left.0 + passed * self.per_second).min(self.most), now.max(left.1));
        if left.0 < 1.0 {
            return false;
        }
        left.0 -= 1.0;
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    fn at(port: u16) -> (Guard, String) {
        let rooms = Arc::new(Rooms::new(port, None));
        let secret = rooms.furnish(crate::table::store::Store::empty(std::path::Path::new("."))).unwrap();
        (Guard::new(port, rooms), secret)
    }

    fn asked(guard: &Guard, path: &str, headers: &[(&str, &str)]) -> Option<u16> {
        let mut request = Request::builder().uri(path);
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let request = request.body(Body::empty()).unwrap();
        guard.foreign(&request).or_else(|| guard.stranger(&request)).map(|p| p.status.as_u16())
    }

    /// OWASP WSTG-INPV-17 (Host header injection) and the CSRF cheat sheet's checks of source and target origin and of
    /// Fetch Metadata; from memory.
    #[test]
    fn only_our_own_page_is_let_in() {
        let (guard, secret) = at(4000);
        let asked = |path: &str, headers: &[(&str, &str)]| asked(&guard, path, headers);
        let home = format!("/{secret}/");
        let host = ("host", "127.0.0.1:4000");
        assert_eq!(asked(&home, &[host]), None);
        assert_eq!(asked(&home, &[("host", "LOCALHOST:4000")]), None);
        assert_eq!(
            asked(&home, &[host, ("origin", "http://127.0.0.1:4000"), ("sec-fetch-site", "same-origin")]),
            None
        );
        for other in [
            "127.0.0.1",
            "127.0.0.1:4001",
            "example.org:4000",
            "127.0.0.1:4000.example.org",
            "127.0.0.1.example.org:4000",
            "",
        ] {
            assert_eq!(asked(&home, &[("host", other)]), Some(421), "{other}");
        }
        assert_eq!(asked(&home, &[]), Some(421));
        assert_eq!(asked(&home, &[host, host]), Some(421));
        assert_eq!(asked(&format!("http://example.org{home}"), &[host]), Some(421));
        for other in [
            "null",
            "http://example.org",
            "https://127.0.0.1:4000",
            "http://127.0.0.1:4001",
            "http://127.0.0.1:4000.example.org",
        ] {
            assert_eq!(asked(&home, &[host, ("origin", other)]), Some(403), "{other}");
        }
        for site in ["cross-site", "same-site", "anything"] {
            assert_eq!(asked(&home, &[host, ("sec-fetch-site", site)]), Some(403), "{site}");
        }
        for path in ["/", "/s/", "/api/state", &format!("/{}/", &secret[1..]), &format!("/{secret}x/")] {
            assert_eq!(asked(path, &[host]), Some(403), "{path}");
        }
    }

    #[test]
    fn at_the_usual_port_an_address_may_leave_it_out() {
        let (usual, other) = (at(80).0, at(8080).0);
        for host in ["127.0.0.1", "localhost", "LocalHost:80", "127.0.0.1:80"] {
            assert!(usual.is_us(host), "{host}");
        }
        for host in ["127.0.0.1:8080", "example.org", "127.0.0.1:", "[::1]", ":80", ""] {
            assert!(!usual.is_us(host), "{host}");
        }
        assert!(!other.is_us("127.0.0.1") && other.is_us("127.0.0.1:8080"));
    }

    #[test]
    fn a_bucket_lets_bursts_through_and_floods_not() {
        let bucket = Bucket::new(10.0, 5.0);
        let start = Instant::now();
        let passed = |at: f64| bucket.take_at(start + Duration::from_secs_f64(at));
        assert_eq!((0..100).filter(|_| passed(0.1)).count(), 10);
        assert_eq!((0..100).filter(|_| passed(1.1)).count(), 5);
        assert_eq!((0..100).filter(|_| passed(60.0)).count(), 10);
    }
}
