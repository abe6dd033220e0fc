//! The tables of one server, each a room of its own behind a secret of its own.
//!
//! Started with a job there is one. At home ([`super::home`]) each job that is opened gets its own, so that several may be open in
//! several tabs, and none hears of another.

use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard};
use std::time::{Duration, Instant};

use axum::Router;

use super::home::Home;
use super::store::Store;
use super::surface::Table;
use super::{api, guard};
use crate::say::Trouble;

/// Most tables open at once; the one nobody looks at for the longest makes room.
const MOST: usize = 16;

/// Most ways in that wait to be gone through.
const MOST_DOORS: usize = 8;

/// All tables of a server.
pub struct Rooms {
    all: Mutex<Vec<Room>>,
    /// Addresses that lead into a room once, and are then nothing; with the room's secret.
    doors: Mutex<Vec<(String, String)>>,
    /// When somebody known asked last.
    asked: Mutex<Instant>,
    port: u16,
    /// What holds at home alone.
    pub home: Option<Home>,
}

struct Room {
    secret: String,
    table: Arc<Table>,
    way: Router,
}

impl Rooms {
    /// None yet, for a server at `port`.
    pub fn new(port: u16, home: Option<Home>) -> Rooms {
        Rooms {
            all: Mutex::default(),
            doors: Mutex::default(),
            asked: Mutex::new(Instant::now()),
            port,
            home,
        }
    }

    fn all(&self) -> MutexGuard<'_, Vec<Room>> {
        self.all.lock().unwrap_or_else(|e| e.into_inner())
    }

    /// Puts a working copy on a table of its own; gives the table's secret.
    ///
    /// # Errors
    /// No random numbers are to be had, or too many tables are looked at.
    pub fn furnish(self: &Arc<Rooms>, mut store: Store) -> Result<String, Trouble> {
        let about = "the table's address";
        let secret = secret().ok_or_else(|| Trouble::cannot(about, "this system gives no random numbers"))?;
        store.say_where(&format!("http://127.0.0.1:{}/", self.port));
        let mut table = Table::new(store);
        if self.home.is_some() {
            table.rooms = Arc::downgrade(self);
        }
        let table = Arc::new(table);
        let first = table.clone();
        let mut all = self.all();
        if all.len() >= MOST {
            let left = all.iter().position(|r| !r.is_used());
            let what = "too many jobs are open";
            let left = left.ok_or_else(|| Trouble::cannot(about, what).hint("close some of their pages"))?;
            all.remove(left).table.store().release();
        }
        let way = Router::new()
            .route(&format!("/{secret}/"), axum::routing::get(api::home))
            .nest(&format!("/{secret}"), api::router())
            .fallback(guard::nowhere)
            .method_not_allowed_fallback(guard::no_such_method)
            .with_state(table.clone());
        all.push(Room { secret: secret.clone(), table, way });
        drop(all);
        // A job opened for the first time: its drawing is taken as it lies there.
        let _ = std::thread::Builder::new().name("look".into()).spawn(move || {
            if first.store().copy.drawing_base.is_none() {
                // Nothing was looked at yet, so nothing is lost when it cannot be noted.
                let _ = first.look_at_drawing();
            }
        });
        Ok(secret)
    }

    /// The secret of the table that has the job at `path`.
    pub fn with_job(&self, path: &Path) -> Option<String> {
        let has = |r: &&Room| r.table.store().job_path().as_deref() == Some(path);
        self.all().iter().find(has).map(|r| r.secret.clone())
    }

    /// The secret of a table without a job that nobody looks at.
    pub fn empty(&self) -> Option<String> {
        let empty = |r: &&Room| r.table.store().name.is_none() && !r.is_used();
        self.all().iter().find(empty).map(|r| r.secret.clone())
    }

    /// A new way into the room of this secret, which may be told to another program: it leads in once.
    pub fn door(&self, secret_of: &str) -> Option<String> {
        let door = secret()?;
        let mut doors = self.doors.lock().unwrap_or_else(|e| e.into_inner());
        if doors.len() >= MOST_DOORS {
            doors.remove(0);
        }
        doors.push((door.clone(), secret_of.to_owned()));
        Some(format!("http://127.0.0.1:{}/{door}", self.port))
    }

    /// Where a door leads, for the first who asks for it.
    pub fn through_the_door(&self, asked: &str) -> Option<String> {
        let mut doors = self.doors.lock().unwrap_or_else(|e| e.into_inner());
        let at = doors.iter().position(|(door, _)| same(asked.as_bytes(), door.as_bytes()))?;
        Some(doors.remove(at).1)
    }

    /// True for the secret of a room, and at home for that of whoever starts the program once more.
    pub fn knows(&self, given: &str) -> bool {
        let known =
            self.all().iter().fold(false, |known, r| known | same(given.as_bytes(), r.secret.as_bytes()))
                | self.home.as_ref().is_some_and(|h| same(given.as_bytes(), h.secret.as_bytes()));
        if known {
            *self.asked.lock().unwrap_or_else(|e| e.into_inner()) = Instant::now();
        }
        known
    }

    /// The way through the room of a secret.
    pub fn way(&self, given: &str) -> Option<Router> {
        self.all().iter().find(|r| same(given.as_bytes(), r.secret.as_bytes())).map(|r| r.way.clone())
    }

    /// Every table.
    pub fn tables(&self) -> Vec<Arc<Table>> {
        self.all().iter().map(|r| r.table.clone()).collect()
    }

    /// How long nobody has looked at any table, asked anything or had anything done.
    pub fn left_for(&self) -> Duration {
        let used = self.all().iter().any(Room::is_used);
        let mut asked = self.asked.lock().unwrap_or_else(|e| e.into_inner());
        if used {
            *asked = Instant::now();
        }
        asked.elapsed()
    }
}

impl Room {
    fn is_used(&self) -> bool {
        self.table.hub.is_heard() || self.table.heavy.busy().is_some()
    }
}

/// Compares in a time that depends on the lengths alone.
fn same(given: &[u8], wanted: &[u8]) -> bool {
    let differs = given.iter().zip(wanted).fold(0, |d, (a, b)| d | (a ^ b));
    std::hint::black_box(differs) == 0 && given.len() == wanted.len()
}

/// 258 bits from the system's own source, in letters that need no escaping.
pub fn secret() -> Option<String> {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
    let mut bytes = [0u8; 43];
    getrandom::fill(&mut bytes).ok()?;
    bytes.iter().map(|b| LETTERS.get(usize::from(b & 63)).copied().map(char::from)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_door_leads_in_once_and_old_ones_make_room() {
        let rooms = Arc::new(Rooms::new(4000, None));
        let place = tempfile::tempdir().unwrap();
        let room = rooms.furnish(Store::empty(place.path())).unwrap();
        assert!(rooms.knows(&room) && rooms.way(&room).is_some());
        assert!(!rooms.knows(&room[1..]) && rooms.way("").is_none());
        let doors: Vec<String> = (0..=MOST_DOORS)
            .map(|_| rooms.door(&room).unwrap().rsplit('/').next().unwrap().to_owned())
            .collect();
        assert_eq!(rooms.through_the_door(&doors[0]), None);
        assert_eq!(rooms.through_the_door(&doors[1]).as_ref(), Some(&room));
        assert_eq!(rooms.through_the_door(&doors[1]), None);
        assert_eq!(rooms.through_the_door(""), None);
    }

    #[test]
    fn a_table_is_left_when_nobody_asks_looks_on_or_has_work_done() {
        let rooms = Arc::new(Rooms::new(4000, None));
        let place = tempfile::tempdir().unwrap();
        let room = rooms.furnish(Store::empty(place.path())).unwrap();
        let hour = Duration::from_secs(3600);
        let wait = || *rooms.asked.lock().unwrap() = Instant::now().checked_sub(hour).unwrap();
        wait();
        assert!(rooms.left_for() >= hour);
        assert!(!rooms.knows("guess") && rooms.left_for() >= hour, "strangers do not count");
        assert!(rooms.knows(&room) && rooms.left_for() < hour);
        let heard = rooms.tables()[0].hub.listen().unwrap();
        wait();
        assert!(rooms.left_for() < hour && rooms.left_for() < hour);
        drop(heard);
        wait();
        assert!(rooms.left_for() >= hour);
    }

    #[test]
    fn tables_nobody_looks_at_make_room_for_others() {
        let rooms = Arc::new(Rooms::new(4000, None));
        let place = tempfile::tempdir().unwrap();
        let first = rooms.furnish(Store::open(place.path(), "a.job.json").unwrap()).unwrap();
        let heard: Vec<_> = rooms.tables().iter().map(|t| t.hub.listen().unwrap()).collect();
        let more: Vec<String> =
            (1..MOST).map(|_| rooms.furnish(Store::empty(place.path())).unwrap()).collect();
        rooms.furnish(Store::empty(place.path())).unwrap();
        assert!(rooms.knows(&first) && !rooms.knows(&more[0]) && rooms.knows(&more[1]));
        drop(heard);
        rooms.furnish(Store::empty(place.path())).unwrap();
        assert!(!rooms.knows(&first));
        assert!(Store::open(place.path(), "a.job.json").is_ok(), "it is let go");
    }
}
