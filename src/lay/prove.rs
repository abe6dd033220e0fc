//! The shortest lay proved, where poses are few: every combination is tried or ruled out.
//!
//! Branch and bound over the lattice poses of all pieces. Pairs are judged on the true cut edges, not on the
//! search's slightly larger forms, so that what is proved holds for the rules themselves.

use std::collections::BTreeMap;

use geo::{Distance, Euclidean};

use crate::shape::{Point, Pose, Region, booleans, pt, tol};

use super::board::{Layout, Spot};
use super::kind::{Hold, PhaseSpace};
use super::task::Task;

/// What trying everything showed.
#[derive(Clone, Debug)]
pub enum Tried {
    /// The shortest lay, and where it ends.
    Shortest(Layout, f64),
    /// No lay ends nearer than the limit given.
    NoneShorter,
    /// Too many combinations.
    TooMany,
}

/// Most poses of all kinds together.
const MOST_POSES: usize = 2_000;
/// Most combinations of the groups' phases.
const MOST_PHASES: usize = 64;
/// Most pieces.
const MOST_ITEMS: usize = 40;
/// Most partial lays looked at.
pub const MOST_NODES: u64 = 1_000_000;
/// Most pairs of poses judged on their true edges.
const MOST_JUDGED: usize = 100_000;

/// True when all poses can be listed: every way held by a lattice, every phase one of a few.
pub fn is_listed(task: &Task) -> bool {
    let board = &task.board;
    let held = |k: &usize| board.kinds[*k].ways.iter().all(|w| matches!(w.hold, Hold::Lattice { .. }));
    (1..=MOST_ITEMS).contains(&board.items.len()) && board.items.iter().all(held) && phases(task).is_some()
}

/// Every combination of the groups' phases; `None` when they cannot be listed or are many.
fn phases(task: &Task) -> Option<Vec<Vec<Point>>> {
    let mut all: Vec<Vec<Point>> = vec![Vec::new()];
    for group in &task.board.groups {
        let PhaseSpace::Choices(choices) = group else { return None };
        if all.len() * choices.len() > MOST_PHASES {
            return None;
        }
        all = all.iter().flat_map(|head| choices.iter().map(move |c| [&head[..], &[*c]].concat())).collect();
    }
    Some(all)
}

/// Tries every lay that ends at least a thousandth of a millimetre before `limit` (and on the cloth).
/// `stopped` ends it early.
pub fn shortest(task: &Task, limit: f64, stopped: &dyn Fn() -> bool) -> Tried {
    let Some(all) = phases(task) else { return Tried::TooMany };
    let mut best: Option<(Layout, f64)> = None;
    let mut limit = limit.min(task.end() + 2.0 * tol::SAME_POINT_MM);
    let mut nodes = 0;
    for phases in all {
        let Some(mut tree) = Tree::new(task, &phases, limit) else { return Tried::TooMany };
        tree.nodes = nodes;
        if !tree.grow(stopped) {
            return Tried::TooMany;
        }
        nodes = tree.nodes;
        if let Some(chosen) = tree.best.take() {
            limit = tree.limit;
            best = Some((tree.layout(&chosen, phases), tree.limit));
        }
    }
    match best {
        Some((layout, end)) => Tried::Shortest(layout, end),
        None => Tried::NoneShorter,
    }
}

/// A pose of a kind.
#[derive(Clone, Copy)]
struct Way {
    kind: usize,
    way: usize,
    shift: Point,
    end: f64,
}

type Bits = Vec<u64>;

struct Tree<'t> {
    task: &'t Task<'t>,
    poses: Vec<Way>,
    /// The poses of each kind.
    of_kind: Vec<Bits>,
    /// For each pose, once asked: the poses that go with it.
    goes_with: Vec<Option<Bits>>,
    /// Pairs judged so far, by ways and distance.
    judged: BTreeMap<(usize, usize, usize, usize, i64, i64), bool>,
    regions: BTreeMap<(usize, usize), Region>,
    limit: f64,
    best: Option<Vec<usize>>,
    nodes: u64,
}

impl<'t> Tree<'t> {
    /// `None` when there are too many poses.
    fn new(task: &'t Task<'t>, phases: &[Point], limit: f64) -> Option<Tree<'t>> {
        let board = &task.board;
        let mut kinds: Vec<usize> = board.items.clone();
        kinds.sort_unstable();
        kinds.dedup();
        let mut regions = BTreeMap::new();
        let free: Vec<usize> = task.places.free().map(|p| p.piece).collect();
        let mut poses = Vec::new();
        for &kind in &kinds {
            let piece = board.items.iter().position(|k| *k == kind).and_then(|i| free.get(i))?;
            for (w, way) in board.kinds[kind].ways.iter().enumerate() {
                let pose = Pose { turn_deg: way.turn_deg, shift: pt(0.0, 0.0) };
                regions.insert((kind, w), pose.region(&task.request.pieces[*piece].cut));
                // A point on the strip's very edge counts.
                let reach = board.reach(way, limit).grown(tol::ON_LATTICE_MM);
                way.hold.points(phases, reach, |shift| {
                    let end = way.bounds.max.y + shift.y;
                    if end < limit - tol::SAME_POINT_MM {
                        poses.push(Way { kind, way: w, shift, end });
                    }
                    poses.len() <= MOST_POSES
                });
            }
        }
        if poses.len() > MOST_POSES {
            return None;
        }
        let mut tree = Tree {
            task,
            poses: Vec::new(),
            of_kind: Vec::new(),
            goes_with: Vec::new(),
            judged: BTreeMap::new(),
            regions,
            limit,
            best: None,
            nodes: 0,
        };
        poses.retain(|p| tree.lies_clear(p));
        poses.sort_by(|p, q| p.end.total_cmp(&q.end).then(p.kind.cmp(&q.kind)));
        let words = poses.len().div_ceil(64);
        tree.of_kind = vec![vec![0; words]; board.kinds.len()];
        for (k, p) in poses.iter().enumerate() {
            tree.of_kind[p.kind][k / 64] |= 1 << (k % 64);
        }
        tree.goes_with = vec![None; poses.len()];
        tree.poses = poses;
        Some(tree)
    }

    /// On the usable cloth, apart from pieces placed by hand.
    fn lies_clear(&self, p: &Way) -> bool {
        let form = &self.task.board.kinds[p.kind].ways[p.way].bare;
        let meets = |o: &std::sync::Arc<super::form::Form>| form.overlaps(o, pt(0.0, 0.0) - p.shift);
        if !self.task.board.obstacles.iter().any(meets) {
            return true;
        }
        // The forms are a little larger than the rules ask: look at the edges themselves.
        let Some(region) = self.regions.get(&(p.kind, p.way)) else { return false };
        let cut = region.map(|q| q + p.shift);
        let by_hand = self
            .task
            .places
            .places
            .iter()
            .filter_map(|l| Some(l.locked?.region(&self.task.request.pieces[l.piece].cut)));
        cut.minus(&self.task.cloth.usable()).is_empty()
            && booleans::intersection(std::slice::from_ref(&cut), &booleans::union(self.task.kept_clear))
                .is_empty()
            && by_hand.into_iter().all(|other| apart(&cut, &other, self.task.request.spec.gap_mm))
    }

    fn pair(&mut self, i: usize, j: usize) -> bool {
        let (p, q) = (self.poses[i], self.poses[j]);
        let by = q.shift - p.shift;
        let nano = |v: f64| (v * 1.0e6).round() as i64;
        let key = (p.kind, p.way, q.kind, q.way, nano(by.x), nano(by.y));
        if let Some(known) = self.judged.get(&key) {
            return *known;
        }
        let kinds = &self.task.board.kinds;
        let free = !kinds[p.kind].ways[p.way].form.overlaps(&kinds[q.kind].ways[q.way].form, by) || {
            let region = |w: &Way| self.regions.get(&(w.kind, w.way));
            match (region(&p), region(&q)) {
                (Some(a), Some(b)) => apart(a, &b.map(|v| v + by), self.task.request.spec.gap_mm),
                _ => false,
            }
        };
        self.judged.insert(key, free);
        free
    }

    /// The poses that go with one; `None` when too many pairs would have to be judged, or it was stopped.
    fn row(&mut self, i: usize, stopped: &dyn Fn() -> bool) -> Option<Bits> {
        if let Some(bits) = &self.goes_with[i] {
            return Some(bits.clone());
        }
        let mut bits = vec![0u64; self.poses.len().div_ceil(64)];
        for j in 0..self.poses.len() {
            if j != i && self.pair(i, j) {
                bits[j / 64] |= 1 << (j % 64);
            }
            if self.judged.len() > MOST_JUDGED || (j.is_multiple_of(256) && stopped()) {
                return None;
            }
        }
        self.goes_with[i] = Some(bits.clone());
        Some(bits)
    }

    /// True when everything was tried.
    fn grow(&mut self, stopped: &dyn Fn() -> bool) -> bool {
        let mut left = vec![0usize; self.of_kind.len()];
        for k in &self.task.board.items {
            left[*k] += 1;
        }
        let all = self.poses.len();
        let open = (0..all.div_ceil(64))
            .map(|w| if (w + 1) * 64 <= all { u64::MAX } else { (1u64 << (all % 64)) - 1 })
            .collect();
        self.branch(open, &mut left, &mut Vec::new(), f64::NEG_INFINITY, stopped)
    }

    fn branch(
        &mut self,
        mut open: Bits,
        left: &mut [usize],
        chosen: &mut Vec<usize>,
        end: f64,
        stopped: &dyn Fn() -> bool,
    ) -> bool {
        self.nodes += 1;
        if self.nodes > MOST_NODES || (self.nodes.is_multiple_of(1024) && stopped()) {
            return false;
        }
        if left.iter().all(|n| *n == 0) {
            self.limit = end;
            self.best = Some(chosen.clone());
            return true;
        }
        // Poses are in the order of their ends: those that end too far are a tail.
        self.close_tail(&mut open);
        let count = |kind: usize, open: &Bits| -> usize {
            self.of_kind[kind].iter().zip(open).map(|(a, b)| (a & b).count_ones() as usize).sum()
        };
        let mut narrowest: Option<(usize, usize)> = None;
        for kind in (0..left.len()).filter(|k| left[*k] > 0) {
            let n = count(kind, &open);
            if n < left[kind] {
                return true;
            }
            // The fewest to choose from first.
            if narrowest.is_none_or(|(m, _)| n < m) {
                narrowest = Some((n, kind));
            }
        }
        let Some((_, kind)) = narrowest else { return true };
        left[kind] -= 1;
        let mut whole = true;
        let mut k = 0;
        while k < self.poses.len() && whole {
            let bit = 1u64 << (k % 64);
            if self.of_kind[kind][k / 64] & open[k / 64] & bit != 0 {
                let p = self.poses[k];
                if p.end >= self.limit - tol::SAME_POINT_MM {
                    break;
                }
                let Some(row) = self.row(k, stopped) else { return false };
                let next = open.iter().zip(&row).map(|(a, b)| a & b).collect();
                chosen.push(k);
                whole = self.branch(next, left, chosen, end.max(p.end), stopped);
                chosen.pop();
                // Lays with this pose are all tried: the rest do without it.
                open[k / 64] &= !bit;
            }
            k += 1;
        }
        left[kind] += 1;
        whole
    }

    fn close_tail(&self, open: &mut Bits) {
        let from = self.poses.partition_point(|p| p.end < self.limit - tol::SAME_POINT_MM);
        for (w, bits) in open.iter_mut().enumerate() {
            let low = w * 64;
            if low >= from {
                *bits = 0;
            } else if low + 64 > from {
                *bits &= (1u64 << (from - low)) - 1;
            }
        }
    }

    fn layout(&self, chosen: &[usize], phases: Vec<Point>) -> Layout {
        let mut waiting: Vec<usize> = chosen.to_vec();
        let spots = self
            .task
            .board
            .items
            .iter()
            .map(|kind| {
                let at = waiting.iter().position(|k| self.poses[*k].kind == *kind);
                let pose = at.map(|a| self.poses[waiting.remove(a)]);
                pose.map_or(Spot::default(), |p| Spot { way: p.way, shift: p.shift })
            })
            .collect();
        Layout { spots, phases }
    }
}

/// True when the two are at least a gap apart (and do not overlap), on their true edges.
fn apart(a: &Region, b: &Region, gap_mm: f64) -> bool {
    if !a.bounds().grown(gap_mm).meets(b.bounds()) {
        return true;
    }
    let d = Euclidean.distance(&a.to_geo(), &b.to_geo());
    if d > 0.0 {
        return d >= gap_mm - tol::SAME_POINT_MM;
    }
    gap_mm <= tol::SAME_POINT_MM
        && booleans::intersection(std::slice::from_ref(a), std::slice::from_ref(b)).is_empty()
}
