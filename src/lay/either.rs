//! Groups that may lie along or across their cloth, all their pieces alike: which way they are laid.

use std::collections::BTreeMap;

use crate::say::{Trouble, Watch};

use super::compute::Request;
use super::locked::Locked;
use super::places::Single;
use super::search::{Budget, Deaf};
use super::stand::{self, Stands};
use super::task::Task;

/// Moves spent on a lay whose length is compared with that of another.
const MOVES: u64 = 600;

/// Most lays compared: beyond these the other groups stand as the first way that goes.
const MOST_LAYS: usize = 12;

/// The task of laying `on_cloth` on cloth `c` of the request round the `locked` pieces. A group that may lie along or
/// across lies as its locked pieces do, else the only way it goes, else the way a quick search finds the shorter lay of
/// all for: all groups at once, then one after another, those with the largest pieces first, as far as [`MOST_LAYS`] goes.
/// The clock has no say in it, so the same pieces always give the same task; a wish to stop has.
///
/// # Errors
/// Everything that makes it impossible, as far as it can be seen without a search.
pub fn task<'a>(
    request: &'a Request<'a>,
    c: usize,
    on_cloth: &[Single],
    locked: &[Locked],
    watch: &dyn Watch,
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
            let found = task.search(budget, request.spec.seed, task.goal, &Deaf(watch));
            found.map_or(f64::INFINITY, |f| f.length)
        }
        Err(_) => f64::INFINITY,
    };
    let mut best = with(&stands);
    if to_choose.is_empty() {
        return best;
    }
    let mut shortest = length(&best);
    let size = |group: &String| {
        let own = of_group.get(group.as_str()).map_or(&[][..], |s| s);
        own.iter().map(|s| request.pieces[s.0].cut.area()).fold(0.0, f64::max)
    };
    to_choose.sort_by(|a, b| size(&b.0).total_cmp(&size(&a.0)).then(a.0.cmp(&b.0)));
    let mut sets: Vec<Vec<(String, stand::Stand)>> = Vec::new();
    let others = |group: &String, all: &[stand::Stand]| -> Vec<stand::Stand> {
        all.iter().filter(|s| stands.get(group) != Some(s)).copied().collect()
    };
    if to_choose.len() > 1 {
        let all = to_choose.iter().filter_map(|(g, all)| Some((g.clone(), *others(g, all).first()?)));
        sets.push(all.collect());
    }
    sets.extend(to_choose.iter().flat_map(|(g, all)| {
        others(g, all).into_iter().map(|other| vec![(g.clone(), other)]).collect::<Vec<_>>()
    }));
    for set in sets.into_iter().take(MOST_LAYS) {
        if watch.stopped() {
            break;
        }
        // What stands so already would give the same lay.
        if set.iter().all(|(group, way)| stands.get(group) == Some(way)) {
            continue;
        }
        let mut turned = stands.clone();
        turned.extend(set);
        let task = with(&turned);
        let found = length(&task);
        if found < shortest || (best.is_err() && task.is_ok()) {
            (best, shortest, stands) = (task, found, turned);
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
