//! The server: one address on this computer, open until it is told to end.

use std::net::{Ipv4Addr, SocketAddr, TcpListener};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::middleware::from_fn_with_state;

use super::api;
use super::guard::{self, Guard};
use super::store::Store;
use super::surface::{self, Table};
use crate::files::system;
use crate::say::Trouble;

/// What to open.
#[derive(Clone, Debug, Default)]
pub struct Setup {
    /// The job; `None` begins with an empty table in the folder we are in.
    pub job: Option<PathBuf>,
    /// The port; 0 takes any that is free.
    pub port: u16,
}

/// A table that can be reached and waits to be served.
pub struct Opened {
    listener: TcpListener,
    table: Arc<Table>,
    secret: String,
    door: String,
    port: u16,
    /// What was found out when it was opened.
    pub said: Vec<String>,
}

impl std::fmt::Debug for Opened {
    /// Without the secret.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Opened").field("port", &self.port).finish_non_exhaustive()
    }
}

/// Opens a job and the port.
///
/// # Errors
/// The job is open on another table or cannot be read; the port is taken.
pub fn open(setup: &Setup) -> Result<Opened, Trouble> {
    let mut store = match &setup.job {
        Some(path) => open_job(path)?,
        None => surface::resume(&here()?)?,
    };
    let listener = TcpListener::bind(SocketAddr::from((Ipv4Addr::LOCALHOST, setup.port)))
        .map_err(|e| no_port(setup.port, &e))?;
    let about = "the table's address";
    let port = listener.local_addr().map_err(|e| Trouble::cannot(about, e.to_string()))?.port();
    let mut said = std::mem::take(&mut store.said);
    if setup.job.is_none()
        && let Some(name) = &store.name
    {
        said.push(format!("going on with {name}, which was begun here and not saved yet"));
    }
    store.say_where(&format!("http://127.0.0.1:{port}/"));
    let random = || secret().ok_or_else(|| Trouble::cannot(about, "this system gives no random numbers"));
    let (secret, door) = (random()?, random()?);
    Ok(Opened { listener, table: Arc::new(Table::new(store)), secret, door, port, said })
}

fn here() -> Result<PathBuf, Trouble> {
    std::env::current_dir().map_err(|e| Trouble::cannot("this folder", format!("it cannot be found: {e}")))
}

fn open_job(path: &Path) -> Result<Store, Trouble> {
    let about = path.display().to_string();
    let bad = |what: &str| Trouble::bad_input(&about, what.to_owned());
    if path.is_dir() {
        return Err(bad("this is a folder, not a job file").hint("name the job file in it"));
    }
    let Some(name) = path.file_name().map(|n| n.to_string_lossy().into_owned()) else {
        return Err(bad("this is no name of a file"));
    };
    if !name.to_lowercase().ends_with(".json") {
        return Err(bad("a job's name ends in .json")
            .hint("to begin with a drawing, start settlay table alone and drop the drawing on the page"));
    }
    let folder = super::disk::folder_of(path);
    let folder = system::whole_path(folder).map_err(|e| bad(&format!("its folder cannot be opened: {e}")))?;
    Store::open(&folder, &name)
}

fn no_port(port: u16, e: &std::io::Error) -> Trouble {
    let what = match e.kind() {
        std::io::ErrorKind::AddrInUse => "the port is taken by another program, or another table".to_owned(),
        std::io::ErrorKind::PermissionDenied => "the system keeps this port for itself".to_owned(),
        _ => format!("it cannot be opened: {e}"),
    };
    Trouble::cannot(format!("port {port}"), what)
        .hint("name another with --port, or leave --port out: any free one is taken")
}

/// 258 bits from the system's own source, in letters that need no escaping.
fn secret() -> Option<String> {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
    let mut bytes = [0u8; 43];
    getrandom::fill(&mut bytes).ok()?;
    bytes.iter().map(|b| LETTERS.get(usize::from(b & 63)).copied().map(char::from)).collect()
}

impl Opened {
    /// The address to open, secret and all.
    pub fn address(&self) -> String {
        format!("http://127.0.0.1:{}/{}/", self.port, self.secret)
    }

    /// An address that leads to [`Opened::address`] once. It is what another program may be told: what programs are
    /// started with is no secret on a computer, and by then this one is spent.
    pub fn door(&self) -> String {
        format!("http://127.0.0.1:{}/{}", self.port, self.door)
    }

    /// The job that is open, if there is one.
    pub fn job(&self) -> Option<String> {
        self.table.store().name.clone()
    }

    /// Serves until Ctrl-C or a request to end; what is being laid then ends with its best, and the job is let go.
    ///
    /// # Errors
    /// The system refuses threads or the listener.
    pub fn serve(self) -> Result<(), Trouble> {
        let cannot = |e: std::io::Error| Trouble::cannot("the table's server", e.to_string());
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(2)
            .max_blocking_threads(64)
            .enable_all()
            .build()
            .map_err(cannot)?;
        let table = self.table.clone();
        let ended = runtime.block_on(self.until_ended()).map_err(cannot);
        // Event streams never end by themselves: nobody waits for them.
        if table.heavy.stop() {
            table.heavy.wait(Duration::from_secs(20));
        }
        runtime.shutdown_timeout(Duration::from_millis(500));
        table.store().release();
        ended
    }

    async fn until_ended(self) -> std::io::Result<()> {
        self.listener.set_nonblocking(true)?;
        let listener = tokio::net::TcpListener::from_std(self.listener)?;
        let guard = Arc::new(Guard::new(self.port, self.secret.clone(), self.door.clone()));
        let watched = self.table.clone();
        let first = self.table.clone();
        // A job opened for the first time: its drawing is taken as it lies there.
        drop(tokio::task::spawn_blocking(move || {
            if first.store().copy.drawing_base.is_none() {
                // Nothing was looked at yet, so nothing is lost when it cannot be noted.
                let _ = first.look_at_drawing();
            }
        }));
        tokio::spawn(async move {
            let mut each = tokio::time::interval(Duration::from_secs(1));
            each.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
            loop {
                each.tick().await;
                let table = watched.clone();
                let _ = tokio::task::spawn_blocking(move || table.watch_disk()).await;
            }
        });
        let app = Router::new()
            .route(&format!("/{}/", self.secret), axum::routing::get(api::home))
            .nest(&format!("/{}", self.secret), api::router())
            .fallback(guard::nowhere)
            .method_not_allowed_fallback(guard::no_such_method)
            .layer(from_fn_with_state(guard, guard::stand))
            .with_state(self.table);
        tokio::select! {
            served = axum::serve(listener, app).into_future() => served,
            () = system::asked_to_end() => Ok(()),
        }
    }
}

use std::future::IntoFuture as _;
