//! The server: one address on this computer, open until it is told to end.

use std::net::{Ipv4Addr, SocketAddr, TcpListener};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::Request;
use axum::middleware::from_fn_with_state;
use axum::response::Response;
use hyper::service::Service as _;
use hyper_util::service::TowerToHyperService;

use super::guard::{self, Guard};
use super::home::{self, Found, Home};
use super::rooms::Rooms;
use super::store::Store;
use super::{api, callers, surface};
use crate::files::{self, system};
use crate::say::Trouble;

/// What to open.
#[derive(Clone, Debug, Default)]
pub struct Setup {
    /// The job; `None` begins with an empty table in the folder we are in.
    pub job: Option<PathBuf>,
    /// The port; 0 takes any that is free.
    pub port: u16,
    /// The server ends when nobody has looked at it for so long; `None` has it stay.
    pub patience: Option<Duration>,
}

/// A table that can be reached and waits to be served.
pub struct Opened {
    listener: TcpListener,
    rooms: Arc<Rooms>,
    secret: String,
    port: u16,
    patience: Option<Duration>,
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
    let mut said = settled(&mut store)?;
    if setup.job.is_none()
        && let Some(name) = &store.name
    {
        said.push(format!("going on with {name}, which was begun here and not saved yet"));
    }
    furnished(setup, store, None, said)
}

/// What was found out when a job was opened, and what killed runs have left in its folders, settled.
///
/// # Errors
/// It can be neither completed nor undone.
pub(super) fn settled(store: &mut Store) -> Result<Vec<String>, Trouble> {
    let mut said = std::mem::take(&mut store.said);
    let folder = surface::plan_folder(store).filter(|f| f.is_dir()).unwrap_or_else(|| store.folder.clone());
    said.extend(files::settle(&folder)?.into_iter().map(|n| format!("{}: {}", n.about, n.text)));
    Ok(said)
}

/// Opens the table of somebody who sits in no folder of theirs; the address of the one that runs already (it leads in once)
/// where there is one.
///
/// # Errors
/// There is no folder for jobs, or the port is taken.
pub fn open_at_home(setup: &Setup) -> Result<Result<Opened, String>, Trouble> {
    let home = match home::come()? {
        Found::Running(door) => return Ok(Err(door)),
        Found::Empty(home) => *home,
    };
    let store = Store::empty(&home.jobs);
    let opened = furnished(setup, store, Some(home), Vec::new())?;
    if let Some(home) = &opened.rooms.home {
        home.say_where(opened.port)?;
    }
    Ok(Ok(opened))
}

fn furnished(setup: &Setup, store: Store, home: Option<Home>, said: Vec<String>) -> Result<Opened, Trouble> {
    let listener = TcpListener::bind(SocketAddr::from((Ipv4Addr::LOCALHOST, setup.port)))
        .map_err(|e| no_port(setup.port, &e))?;
    let port =
        listener.local_addr().map_err(|e| Trouble::cannot("the table's address", files::why_not(&e)))?.port();
    let rooms = Arc::new(Rooms::new(port, home));
    let secret = rooms.furnish(store)?;
    Ok(Opened { listener, rooms, secret, port, patience: setup.patience, said })
}

fn here() -> Result<PathBuf, Trouble> {
    std::env::current_dir().map_err(|e| Trouble::cannot("this folder", format!("it cannot be found: {e}")))
}

/// A job by its path.
pub(super) fn open_job(path: &Path) -> Result<Store, Trouble> {
    let about = path.display().to_string();
    let bad = |what: &str| Trouble::bad_input(&about, what.to_owned());
    if path.is_dir() {
        return Err(bad("this is a folder, not a job file").hint("name the job file in it"));
    }
    // A link leads to the job it stands for: what is kept beside a job is kept once.
    let real = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let path = real.as_path();
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

impl Opened {
    /// The address to open, secret and all.
    pub fn address(&self) -> String {
        format!("http://127.0.0.1:{}/{}/", self.port, self.secret)
    }

    /// An address that leads to [`Opened::address`] once. It is what another program may be told: what programs are
    /// started with is no secret on a computer, and by then this one is spent.
    pub fn door(&self) -> Option<String> {
        self.rooms.door(&self.secret)
    }

    /// Serves until Ctrl-C or a request to end; what is being laid then ends with its best, and the job is let go.
    ///
    /// # Errors
    /// The system refuses threads or the listener.
    pub fn serve(self) -> Result<(), Trouble> {
        let cannot = |e: std::io::Error| Trouble::cannot("the table's server", files::why_not(&e));
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(2)
            .max_blocking_threads(64)
            .enable_all()
            .build()
            .map_err(cannot)?;
        let rooms = self.rooms.clone();
        let ended = runtime.block_on(self.until_ended()).map_err(cannot);
        if let Some(home) = &rooms.home {
            home.leave();
        }
        // Event streams never end by themselves: nobody waits for them.
        let tables = rooms.tables();
        let busy: Vec<_> = tables.iter().filter(|t| t.heavy.stop()).collect();
        busy.iter().for_each(|t| t.heavy.wait(Duration::from_secs(20)));
        runtime.shutdown_timeout(Duration::from_millis(500));
        tables.iter().for_each(|t| t.store().release());
        ended
    }

    async fn until_ended(self) -> std::io::Result<()> {
        self.listener.set_nonblocking(true)?;
        let listener = tokio::net::TcpListener::from_std(self.listener)?;
        let guard = Arc::new(Guard::new(self.port, self.rooms.clone()));
        let rooms = self.rooms.clone();
        let app = Router::new()
            .fallback(move |request: Request| into_room(rooms.clone(), request))
            .layer(from_fn_with_state(guard, guard::stand));
        tokio::select! {
            () = callers::serve(listener, app) => Ok(()),
            () = until_left(&self.rooms, self.patience) => Ok(()),
            () = system::asked_to_end() => Ok(()),
        }
    }
}

/// Hands a call on to the room whose secret it begins with; the guard has seen that there is one.
async fn into_room(rooms: Arc<Rooms>, request: Request) -> Response {
    let path = request.uri().path();
    let given = path.split('/').nth(1).unwrap_or_default();
    if let Some(way) = rooms.way(given) {
        let Ok(answer) = TowerToHyperService::new(way).call(request).await;
        return answer;
    }
    // What is known and no room is whoever starts the program once more, and asks for a way in.
    let wanted = rooms.home.as_ref().is_some_and(|h| path == format!("/{}/door", h.secret));
    if wanted && request.method() == axum::http::Method::POST {
        return api::door(rooms).await;
    }
    guard::nowhere().await
}

/// Looks after the tables once a second; ends when nobody has looked at any for so long.
async fn until_left(rooms: &Arc<Rooms>, patience: Option<Duration>) {
    let mut each = tokio::time::interval(Duration::from_secs(1));
    each.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Delay);
    loop {
        each.tick().await;
        if patience.is_some_and(|most| rooms.left_for() > most) {
            return;
        }
        let rooms = rooms.clone();
        let _ = tokio::task::spawn_blocking(move || {
            let tables = rooms.tables();
            tables.iter().for_each(|t| t.watch_disk());
            if let Some(home) = &rooms.home {
                home.note(&tables.iter().filter_map(|t| t.store().job_path()).collect::<Vec<_>>());
            }
        })
        .await;
    }
}
