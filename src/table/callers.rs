//! Who is connected: so many at most, none for long without a word, and whoever knows the secret before those who do not.
//!
//! Anyone on this computer can open connections and leave requests half sent. Such a caller is shown out after a while; when
//! there are many of them, the one that has waited longest goes for the next, so that the page, which asks at once, is
//! always let in. Requests whose head arrived whole and who know the secret are never shown out.

use std::collections::VecDeque;
use std::future::Future;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, Weak};
use std::time::Duration;

use axum::Router;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::{Service as _, service_fn};
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{Notify, Semaphore};

/// Most connections at once: a browser opens six to a page.
const MOST: usize = 192;

/// Most of them whose callers have not shown that they know the secret.
const MOST_UNKNOWN: usize = 64;

/// Longest that the head of a request may take to arrive, and that a connection may stay without one.
const PATIENCE: Duration = Duration::from_secs(15);

/// Longest head of a request, bytes, and most headers in it: far more than a browser sends.
const LONGEST_HEAD: usize = 64 << 10;
const MOST_HEADERS: usize = 100;

/// How long accepting rests when the system has no room for one more connection.
const REST: Duration = Duration::from_millis(20);

/// One connection.
#[derive(Debug, Default)]
pub struct Caller {
    known: AtomicBool,
    out: Notify,
}

impl Caller {
    /// It knows the secret: it stays as long as it has something to ask.
    pub fn is_known(&self) {
        self.known.store(true, Ordering::Relaxed);
    }
}

/// Those who have not shown that they know the secret, in the order they came.
#[derive(Debug, Default)]
struct Unknown {
    waiting: Mutex<VecDeque<Weak<Caller>>>,
}

impl Unknown {
    /// Lets one more wait; with too many, the first of them goes.
    fn enters(&self, caller: &Arc<Caller>) {
        let mut waiting = self.waiting.lock().unwrap_or_else(|e| e.into_inner());
        waiting.retain(|w| w.upgrade().is_some_and(|c| !c.known.load(Ordering::Relaxed)));
        while waiting.len() >= MOST_UNKNOWN {
            shown_out(&mut waiting);
        }
        waiting.push_back(Arc::downgrade(caller));
    }

    /// Makes room: the first of them goes.
    fn one_goes(&self) {
        shown_out(&mut self.waiting.lock().unwrap_or_else(|e| e.into_inner()));
    }
}

fn shown_out(waiting: &mut VecDeque<Weak<Caller>>) {
    while let Some(first) = waiting.pop_front() {
        if let Some(caller) = first.upgrade().filter(|c| !c.known.load(Ordering::Relaxed)) {
            caller.out.notify_one();
            return;
        }
    }
}

/// Serves `app` to whoever connects, until the task is dropped. The [`Caller`] stands among each request's extensions.
pub async fn serve(listener: TcpListener, app: Router) {
    let room = Arc::new(Semaphore::new(MOST));
    let unknown = Unknown::default();
    let app = TowerToHyperService::new(app);
    loop {
        let Ok(place) = room.clone().acquire_owned().await else { return };
        let stream = loop {
            match listener.accept().await {
                Ok((stream, _)) => break stream,
                // The caller is gone already, or the system has no room: it has as soon as somebody goes.
                Err(_) => {
                    unknown.one_goes();
                    tokio::time::sleep(REST).await;
                }
            }
        };
        let caller = Arc::new(Caller::default());
        unknown.enters(&caller);
        let talk = talk(stream, app.clone(), caller.clone());
        tokio::spawn(async move {
            tokio::select! {
                () = talk => {}
                () = caller.out.notified() => {}
            }
            drop(place);
        });
    }
}

/// Answers what is asked on one connection.
fn talk(
    stream: TcpStream,
    app: TowerToHyperService<Router>,
    caller: Arc<Caller>,
) -> impl Future<Output = ()> + Send {
    let service = service_fn(move |mut request: hyper::Request<Incoming>| {
        request.extensions_mut().insert(caller.clone());
        app.call(request)
    });
    let _ = stream.set_nodelay(true);
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(PATIENCE)
        .max_buf_size(LONGEST_HEAD)
        .max_headers(MOST_HEADERS)
        .serve_connection(TokioIo::new(stream), service);
    async move {
        // How a connection ends is the caller's affair.
        let _ = connection.await;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn with_too_many_the_first_who_is_unknown_goes() {
        let unknown = Unknown::default();
        let all: Vec<Arc<Caller>> = (0..MOST_UNKNOWN + 3).map(|_| Arc::new(Caller::default())).collect();
        let gone = |c: &Arc<Caller>| {
            let mut told = std::pin::pin!(c.out.notified());
            let mut context = std::task::Context::from_waker(std::task::Waker::noop());
            told.as_mut().poll(&mut context).is_ready()
        };
        for caller in &all[..MOST_UNKNOWN] {
            unknown.enters(caller);
        }
        assert!(!all.iter().any(gone));
        all[0].is_known();
        unknown.enters(&all[MOST_UNKNOWN]);
        assert!(!all.iter().any(gone), "one who is known no longer counts");
        unknown.enters(&all[MOST_UNKNOWN + 1]);
        assert!(gone(&all[1]) && !gone(&all[0]) && !gone(&all[2]));
        unknown.one_goes();
        assert!(gone(&all[2]) && !gone(&all[3]));
    }
}
