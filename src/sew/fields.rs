//! Fields over a work, in order of work, and what each sews.

use super::bound::Fewest;
use super::given::{centred, given};
use super::search::{Effort, Search};
use super::task::Task;
use crate::passes;
use crate::shape::Point;

/// Looks that the search for fewer fields may take, by item and in all: on two cores of an ordinary computer about a second.
const LOOKS_AT_EACH: u64 = 200_000;
const LOOKS: u64 = 120_000_000;

/// Times fields are put in between those that share no room for marks.
const BRIDGED: usize = 3;

/// Fields in order, and what each sews.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Found {
    /// Their lower-left corners.
    pub fields: Vec<Point>,
    /// By item: the hooping it is sewn in.
    pub given: Vec<usize>,
    /// Hoopings whose fields share room for marks with no earlier one.
    pub lost: usize,
}

impl Found {
    /// The less, the better: a hooping without marks counts as two.
    pub fn worth(&self) -> (usize, usize) {
        (self.fields.len() + self.lost, self.lost)
    }
}

/// As few fields as can be found for `task`, not fewer than the bound says; `None` when something fits in none.
pub(super) fn find(task: &Task, at_least: Fewest, stopped: &(dyn Fn() -> bool + Sync)) -> Option<Found> {
    let linked = |a: Point, b: Point| passes::share_marks(task.field(a), task.field(b));
    let apart = apart(task);
    let search = Search::new(task, &linked, apart, stopped);
    let first = search.walk()?;
    let looks = LOOKS.min(LOOKS_AT_EACH * task.items.len() as u64);
    let least = if apart == 0 { at_least.with_marks } else { at_least.anyhow };
    let (fields, _) = search.fewer(first, least, false, &mut Effort::new(looks / 2));
    let (mut fields, mut lost) = search.fewer(fields, least, true, &mut Effort::new(looks / 2));
    for _ in 0..BRIDGED {
        if lost == 0 || stopped() {
            break;
        }
        // One more in between may be what marks need; it may then do without another.
        let more = search.fewer(search.bridged(&fields), least, true, &mut Effort::new(looks / 4));
        if (more.0.len() + more.1, more.1) < (fields.len() + lost, lost) {
            (fields, lost) = more;
        }
    }
    let lost = |f: &[Point]| (1..f.len()).filter(|&k| !f[..k].iter().any(|&e| linked(e, f[k]))).count();
    let (fields, given) = given(task, fields, &lost, stopped)?;
    let fields = centred(task, &fields, &given, &lost);
    Some(Found { lost: lost(&fields), fields, given })
}

/// How many hoopings can share no ground with an earlier one, whatever the fields: pieces in groups so far from each other
/// that no field over one shares room for marks with a field over another.
fn apart(task: &Task) -> usize {
    let mut items: Vec<Vec<usize>> = vec![Vec::new(); task.upon.len()];
    task.items.iter().enumerate().for_each(|(k, i)| items[i.piece].push(k));
    let near = |a: usize, b: usize| {
        let (a, b) = (&task.items[a], &task.items[b]);
        // The nearest two corners of fields that hold them.
        let p = b.nearest(a.from);
        let q = a.nearest(p);
        passes::share_marks(task.field(p), task.field(q))
    };
    let mut group: Vec<usize> = (0..items.len()).collect();
    for a in 0..items.len() {
        for b in 0..a {
            if group[a] != group[b] && items[a].iter().any(|&i| items[b].iter().any(|&j| near(i, j))) {
                let (from, to) = (group[b].max(group[a]), group[b].min(group[a]));
                group.iter_mut().filter(|g| **g == from).for_each(|g| *g = to);
            }
        }
    }
    group.sort_unstable();
    group.dedup();
    group.len().saturating_sub(1)
}
