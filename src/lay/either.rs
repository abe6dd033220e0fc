//! Groups that may lie along or across their cloth, all their pieces alike: which way they are laid.

use std::collections::BTreeMap;

use crate::say::{Quiet, Trouble};

use super::board::{Board, Layout};
use super::compute::Request;
use super::locked::Locked;
use super::places::Single;
use super::search::{Budget, Listener};
use super::stand::{self, Stands};
use super::task::Task;

/// Moves spent on a lay whose length is compared with that of another.
const MOVES: u64 = 600;

/// The task of laying `on_cloth` on cloth `c` of the request round the `locked` pieces. A group that may lie along or
/// across lies as its locked pieces do, else the only way it goes, else the way a quick search finds the shorter lay of
/// all for, one group after another. The clock has no say in it, so the same pieces always give the same task.
///
/// # Errors
/// Everything that makes it impossible, as far as it can be seen without a search.
pub fn task<'a>(
    request: &'a Request<'a>,
    c: usize,
    on_cloth: &[Single],
    locked: &[Locked],
) -> Result<Task<'a>, Vec<Trouble>> {
    let cloth = &request.cloths[c];
    let here = locked.iter().filter(|l| l.cloth == c);
    let by_hand = stand::of_laid(here.map(|l| (&request.pieces[l.piece], l.pose.turn_deg)), cloth);
    let mut stands = by_hand.clone();
    let with = |stands: &Stands| Task::new(request, c, on_cloth, locked, stands);
    let first = with(&stands);
    // Where even the places cannot be told, or every group knows its way, there is nothing to choose.
    let open = match &first {
        Ok(task) => task.places.open.clone(),
        Err(_) => open(request, c, on_cloth, &stands),
    };
    let open: Vec<_> = open.into_iter().filter(|(g, _)| !by_hand.contains_key(g)).collect();
    if open.is_empty() {
        return first;
    }
    let of_group = members(request, on_cloth);
    let mut to_choose = Vec::new();
    for (group, all) in open {
        let own = of_group.get(group.as_str()).map_or(&[][..], |s| s);
        let goes = |s: &&stand::Stand| {
            let alone = Stands::from([(group.clone(), **s)]);
            Task::new(request, c, own, &[], &alone).is_ok()
        };
        match all.iter().filter(goes).copied().collect::<Vec<_>>()[..] {
            [] => {}
            [only] => drop(stands.insert(group, only)),
            [first, ..] => {
                stands.insert(group.clone(), first);
                to_choose.push((group, all));
            }
        }
    }
    let length = |task: &Result<Task, Vec<Trouble>>| match task {
        Ok(task) => {
            let budget = Budget { time: None, moves: Some(MOVES) };
            let found = task.search(budget, request.spec.seed, task.goal, &Deaf(&Quiet));
            found.map_or(f64::INFINITY, |f| f.length)
        }
        Err(_) => f64::INFINITY,
    };
    let mut best = with(&stands);
    if to_choose.is_empty() {
        return best;
    }
    let mut shortest = length(&best);
    for (group, all) in to_choose {
        for other in all {
            if stands.get(&group) == Some(&other) {
                continue;
            }
            let mut turned = stands.clone();
            turned.insert(group.clone(), other);
            let task = with(&turned);
            let found = length(&task);
            if found < shortest || (best.is_err() && task.is_ok()) {
                (best, shortest, stands) = (task, found, turned);
            }
        }
    }
    best
}

/// The groups that may lie in several ways.
fn open(
    request: &Request,
    c: usize,
    on_cloth: &[Single],
    stands: &Stands,
) -> Vec<(String, Vec<stand::Stand>)> {
    let places = super::places::places(request.pieces, on_cloth, request.rules, &request.cloths[c], stands);
    places.map(|p| p.open).unwrap_or_default()
}

/// The singles of every group.
fn members<'a>(request: &Request<'a>, on_cloth: &[Single]) -> BTreeMap<&'a str, Vec<Single>> {
    let mut all: BTreeMap<&str, Vec<Single>> = BTreeMap::new();
    for single in on_cloth {
        all.entry(&request.pieces[single.0].group).or_default().push(*single);
    }
    all
}

struct Deaf<'a>(&'a Quiet);

impl Listener for Deaf<'_> {
    fn hear(&self, _share: f64, _length: f64, _board: &Board, _layout: &Layout) {}

    fn stopped(&self) -> bool {
        use crate::say::Watch as _;
        self.0.stopped()
    }
}
