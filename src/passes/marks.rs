//! Marks: which spots of the waste the passes find their place by.

use super::budget::Budget;
use super::links::{linked, shared};
use super::model::NoRoomForMarks;
use super::waste::{Spot, Waste};
use crate::job::Cutter;
use crate::shape::{Bounds, Point, Region, distance, lerp, pt};

/// Half the length of a mark's strokes, mm: long enough to find, short enough for waste.
pub const MARK_ARM_MM: f64 = 4.0;
/// Waste a mark needs round its centre, mm: its arms and a little more.
pub(super) const MARK_ROOM_MM: f64 = MARK_ARM_MM + 1.5;
/// How far from a window's border a mark's centre stays at least, mm.
pub(super) const MARK_INSET_MM: f64 = MARK_ARM_MM + 1.0;
/// Room in which a mark has some choice between the borders of two windows, mm.
const MARK_CHOICE_MM: f64 = 14.0;
/// Least distance of the two marks a pass finds its place by, mm.
pub(super) const MARK_APART_MM: f64 = 60.0;

/// Least distance of any two marks, mm: one cannot be taken for the other.
const MARKS_CLEAR_MM: f64 = 30.0;
/// Marks chosen for the joints of a pass; more add little once these are well spread (Franaszek & Cheok, NIST).
const MARKS_WANTED: usize = 4;
/// Most marks a pass is asked to find.
const MARKS_MOST: usize = 6;
/// A further mark must lessen the greatest expected error to this share.
const WORTH_A_MARK: f64 = 0.95;
/// An error away from the joints counts this much of one at a joint.
const AWAY_FROM_JOINTS: f64 = 0.5;
/// Spots looked at closely for one band.
const MOST_SPOTS: usize = 48;
/// Distance between spots looked at, mm; finer when too few are found.
const SPOT_STEP_MM: f64 = 6.0;
const FINE_STEP_MM: f64 = 3.0;
/// Radius of waste asked for where there is none, mm: a fine step away from its centre a mark still fits.
const ASKED_ROOM_MM: f64 = MARK_ROOM_MM + FINE_STEP_MM;
/// Spots offered where there is no room.
const ASKED_SPOTS: usize = 8;

/// Least overlap of windows that share marks, mm: marks, `inset` away from both borders, and some choice.
pub(super) fn mark_band(inset: f64) -> f64 {
    2.0 * inset + MARK_CHOICE_MM
}

/// How far marks stay from the borders of windows on this cutter, mm: off pegs, clamps and weights at the bed's edge.
pub(super) fn mark_inset(cutter: &Cutter) -> f64 {
    let pegs = cutter.peg_strip_mm - cutter.margin_mm + MARK_ARM_MM;
    if pegs.is_finite() { pegs.max(MARK_INSET_MM) } else { MARK_INSET_MM }
}

/// A mark, passes counted from 0.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct ChosenMark {
    pub at: Point,
    pub burnt_by: usize,
    /// Passes that know it: the one that burns it and those that find their place by it.
    pub known_to: Vec<usize>,
}

/// Error to expect at `target` of a pass placed by `marks`, mm root mean square, both directions together:
/// √(e²/N · (1 + d²/(2·f²))), where e is the error of a measured mark (both directions together), d the target's
/// distance from the marks' centroid and f² the mean squared distance of the marks from it. Infinite for fewer than
/// two marks. The form in space: Fitzpatrick, West & Maurer 1998, IEEE Trans. Med. Imaging 17, 694-702; this is its
/// form in the plane, where a rigid fit turns about one axis only.
pub fn expected_error_mm(marks: &[Point], target: Point, mark_error_mm: f64) -> f64 {
    let n = marks.len() as f64;
    if marks.len() < 2 {
        return f64::INFINITY;
    }
    let centroid = marks.iter().fold(pt(0.0, 0.0), |sum, &m| sum + m) / n;
    let square = |p: Point| (p.x - centroid.x).powi(2) + (p.y - centroid.y).powi(2);
    let f2 = marks.iter().map(|&m| square(m)).sum::<f64>() / n;
    if f2 <= 0.0 {
        return f64::INFINITY;
    }
    (mark_error_mm * mark_error_mm / n * (1.0 + square(target) / (2.0 * f2))).sqrt()
}

/// What marks are chosen for.
pub(super) struct Wanted<'a> {
    pub windows: &'a [Bounds],
    /// Joints: the two passes, and the spot.
    pub joints: &'a [(usize, usize, Point)],
    /// By pass, where it burns: what must lie true when it has no joints.
    pub burnt: &'a [Bounds],
    pub waste: &'a Waste<'a>,
    /// Pieces larger than a window: nothing is won by asking for room within one.
    pub large: &'a [&'a Region],
    /// How far marks stay from the borders of windows, mm.
    pub inset: f64,
    /// The last pass that burns a cut-out (piece, ring): what lies in it is gone afterwards.
    pub last_of: &'a dyn Fn((usize, usize)) -> usize,
}

/// A spot that must lie true to what pass `with` cut.
struct Target {
    at: Point,
    with: usize,
    weight: f64,
}

/// The pass that burns a candidate.
fn burner(candidate: &Candidate, marks: &[ChosenMark]) -> usize {
    match candidate.source {
        Ok(mark) => marks[mark].burnt_by,
        Err(by) => by,
    }
}

#[derive(Clone, Copy)]
struct Candidate {
    at: Point,
    /// A mark burnt already, by index; else the pass that would burn it.
    source: Result<usize, usize>,
}

impl Wanted<'_> {
    /// Marks for all passes: every pass but the first shares at least two with one earlier pass, chosen so that the
    /// greatest step to expect at its joints is least, the errors counted that earlier passes hand on through the marks
    /// they burnt.
    pub fn choose(&self) -> Result<Vec<ChosenMark>, NoRoomForMarks> {
        let mut marks: Vec<ChosenMark> = Vec::new();
        // Errors in proportion: the least is the same whatever a mark's own error is.
        let mut budget = Budget::default();
        budget.push(&[], 1.0);
        for pass in 1..self.windows.len() {
            let neighbours = self.neighbours(pass);
            let found =
                neighbours.iter().find_map(|&j| self.for_pair(pass, j, &marks, &budget).map(|set| (j, set)));
            let Some((j, mut set)) = found else { return Err(self.no_room(pass, &neighbours)) };
            for &other in neighbours.iter().filter(|&&n| n != j && self.meetings(pass, n) > 0) {
                self.widen(pass, other, &marks, &mut set);
            }
            let found: Vec<(Point, usize)> = set.iter().map(|c| (c.at, burner(c, &marks))).collect();
            budget.push(&found, 1.0);
            for candidate in set {
                match candidate.source {
                    Ok(mark) => marks[mark].known_to.push(pass),
                    Err(by) => {
                        marks.push(ChosenMark { at: candidate.at, burnt_by: by, known_to: vec![by, pass] })
                    }
                }
            }
        }
        Ok(marks)
    }

    fn meetings(&self, a: usize, b: usize) -> usize {
        self.joints.iter().filter(|j| (j.0, j.1) == (a, b) || (j.0, j.1) == (b, a)).count()
    }

    /// Earlier passes that share room, those with most joints first, then those that share most cloth.
    fn neighbours(&self, pass: usize) -> Vec<usize> {
        let here = self.windows[pass];
        let mut list: Vec<usize> = (0..pass).filter(|&j| linked(self.windows[j], here, self.inset)).collect();
        let area = |j: usize| shared(self.windows[j], here).map_or(0.0, |s| s.width() * s.height());
        list.sort_by(|&a, &b| {
            let more_joints = self.meetings(pass, b).cmp(&self.meetings(pass, a));
            more_joints.then(area(b).total_cmp(&area(a))).then(a.cmp(&b))
        });
        list
    }

    /// What must lie true to which earlier pass, and how much it counts: the joints, and the corners of what the pass
    /// burns against pass `by`, so that marks are far apart even where all joints are close together.
    fn targets(&self, pass: usize, by: usize) -> Vec<Target> {
        let own = self.joints.iter().filter(|j| (j.0 == pass && j.1 < pass) || (j.1 == pass && j.0 < pass));
        let mut targets: Vec<Target> =
            own.map(|j| Target { at: j.2, with: j.0.min(j.1), weight: 1.0 }).collect();
        let burnt = if self.burnt[pass].is_empty() { self.windows[pass] } else { self.burnt[pass] };
        targets.extend(burnt.corners().map(|at| Target { at, with: by, weight: AWAY_FROM_JOINTS }));
        targets
    }

    /// Marks burnt already that `pass` can reach and that are not gone by then.
    fn known(&self, pass: usize, marks: &[ChosenMark]) -> Vec<Candidate> {
        let here = self.windows[pass].grown(-self.inset);
        let lasts =
            |m: &ChosenMark| self.waste.spot(m.at, MARK_ROOM_MM / 2.0).is_some_and(|s| self.lasts(&s, pass));
        let usable = marks.iter().enumerate().filter(|(_, m)| here.contains(m.at) && lasts(m));
        usable.map(|(i, m)| Candidate { at: m.at, source: Ok(i) }).collect()
    }

    fn lasts(&self, spot: &Spot, pass: usize) -> bool {
        spot.holes.iter().all(|&hole| (self.last_of)(hole) >= pass)
    }

    /// New spots pass `by` could burn for `pass`, solid waste before waste in cut-outs.
    fn fresh(&self, pass: usize, by: usize, marks: &[ChosenMark]) -> Vec<Candidate> {
        let Some(both) = shared(self.windows[by], self.windows[pass]) else { return Vec::new() };
        let area = both.grown(-self.inset);
        let mut poor = Vec::new();
        for (step, most) in [(SPOT_STEP_MM, 4_000), (FINE_STEP_MM, 60_000)] {
            let spots = self.waste.spots(area, step, most, MARK_ROOM_MM).into_iter();
            let free = |s: &Spot| marks.iter().all(|m| distance(m.at, s.at) >= MARKS_CLEAR_MM);
            let usable = spots.filter(|s| free(s) && self.lasts(s, pass));
            let (good, other): (Vec<Spot>, Vec<Spot>) = usable.partition(|s| s.holes.is_empty());
            let points: Vec<Point> = good.iter().map(|s| s.at).collect();
            let round = Bounds::of(points.iter().copied());
            if round.width().max(round.height()) >= MARK_APART_MM {
                return spread(&points).into_iter().map(|at| Candidate { at, source: Err(by) }).collect();
            }
            poor = good.iter().chain(&other).map(|s| s.at).collect();
        }
        spread(&poor).into_iter().map(|at| Candidate { at, source: Err(by) }).collect()
    }

    /// The greatest weighted step to expect at `targets` when the next pass is placed by `set`.
    fn worst(&self, set: &[Candidate], targets: &[Target], marks: &[ChosenMark], budget: &Budget) -> f64 {
        let found: Vec<(Point, usize)> = set.iter().map(|c| (c.at, burner(c, marks))).collect();
        let at: Vec<Point> = found.iter().map(|f| f.0).collect();
        // Marks all of one pass tell its place without error.
        let one = found.first().map(|f| f.1).filter(|by| found.iter().all(|f| f.1 == *by));
        let plain = targets.iter().all(|t| Some(t.with) == one);
        let placing = if plain { None } else { budget.placed(&found, 1.0) };
        let step = |t: &Target| match &placing {
            Some(placing) => budget.expected_with_mm(t.with, placing, t.at),
            None => expected_error_mm(&at, t.at, 1.0),
        };
        targets.iter().map(|t| t.weight * step(t)).fold(0.0, f64::max)
    }

    /// The marks `pass` finds its place by against pass `by`; `None` when there is no room for two.
    fn for_pair(
        &self,
        pass: usize,
        by: usize,
        marks: &[ChosenMark],
        budget: &Budget,
    ) -> Option<Vec<Candidate>> {
        let targets = self.targets(pass, by);
        let worst = |set: &[Candidate]| self.worst(set, &targets, marks, budget);
        let known = self.known(pass, marks);
        let fresh = self.fresh(pass, by, marks);
        let both = known.iter().filter(|c| c.source.is_ok_and(|m| marks[m].known_to.contains(&by)));
        let pool: Vec<Candidate> = both.chain(&fresh).copied().collect();
        let mut best: Option<(f64, [Candidate; 2])> = None;
        for (i, a) in pool.iter().enumerate() {
            for b in &pool[i + 1..] {
                if distance(a.at, b.at) < MARK_APART_MM {
                    continue;
                }
                let new = [a, b].iter().filter(|c| c.source.is_err()).count();
                let worst = worst(&[*a, *b]) / WORTH_A_MARK.powi(new as i32);
                if best.as_ref().is_none_or(|(w, _)| worst < *w - 1e-12) {
                    best = Some((worst, [*a, *b]));
                }
            }
        }
        let mut set = best?.1.to_vec();
        let pool: Vec<Candidate> = known.into_iter().chain(fresh).collect();
        while set.len() < MARKS_WANTED {
            let now = worst(&set);
            let apart = |c: &&Candidate| set.iter().all(|s| distance(s.at, c.at) >= MARKS_CLEAR_MM);
            let with = |c: &Candidate| {
                let mut more = set.clone();
                more.push(*c);
                worst(&more)
            };
            let next = pool.iter().filter(apart).map(|c| (with(c), *c)).min_by(|a, b| a.0.total_cmp(&b.0));
            match next {
                Some((worst, c)) if worst <= now * WORTH_A_MARK => set.push(c),
                _ => break,
            }
        }
        Some(set)
    }

    /// Adds marks shared with a further neighbour, so that joints with it are looked after too; where there is room.
    fn widen(&self, pass: usize, by: usize, marks: &[ChosenMark], set: &mut Vec<Candidate>) {
        let knows = |c: &Candidate| match c.source {
            Ok(mark) => marks[mark].known_to.contains(&by),
            Err(burner) => burner == by,
        };
        let mut pool: Vec<Candidate> = self.known(pass, marks).into_iter().filter(|c| knows(c)).collect();
        pool.extend(self.fresh(pass, by, marks));
        while set.len() < MARKS_MOST && set.iter().filter(|c| knows(c)).count() < 2 {
            let near = |c: &Candidate| set.iter().map(|s| distance(s.at, c.at)).fold(f64::INFINITY, f64::min);
            let next =
                pool.iter().filter(|c| near(c) >= MARKS_CLEAR_MM).max_by(|a, b| near(a).total_cmp(&near(b)));
            let Some(next) = next.copied() else { return };
            set.push(next);
        }
    }

    /// Where room would help: far apart, little in the way, in the band of the first neighbour that has such spots.
    fn no_room(&self, pass: usize, neighbours: &[usize]) -> NoRoomForMarks {
        let here = self.windows[pass];
        let bands = neighbours.iter().filter_map(|&j| shared(self.windows[j], here));
        let mut asked = bands.map(|band| self.room_asked(band));
        let first = asked.next();
        let with_spots = first.iter().cloned().chain(asked).find(|no| no.spots.len() >= 2);
        with_spots.or(first).unwrap_or_else(|| self.room_asked(here))
    }

    fn room_asked(&self, band: Bounds) -> NoRoomForMarks {
        let area = band.grown(-ASKED_ROOM_MM.max(self.inset + FINE_STEP_MM));
        let (nx, ny) = (steps(area.width()), steps(area.height()));
        let grid = (0..=ny).flat_map(|j| (0..=nx).map(move |i| (i, j)));
        let at = |(i, j): (usize, usize)| {
            let share = |k: usize, n: usize| if n == 0 { 0.5 } else { k as f64 / n as f64 };
            let x = lerp(area.min, area.max, share(i, nx)).x;
            pt(x, lerp(area.min, area.max, share(j, ny)).y)
        };
        let open: Vec<(Point, f64)> = grid
            .map(at)
            .filter(|&p| self.waste.on_cloth(p, ASKED_ROOM_MM) && !self.large.iter().any(|r| r.contains(p)))
            .map(|p| (p, self.waste.depth(p)))
            .collect();
        let worth = |a: &(Point, f64), b: &(Point, f64)| distance(a.0, b.0) - 4.0 * (a.1 + b.1);
        let mut best: Option<(f64, usize, usize)> = None;
        for i in 0..open.len() {
            for j in i + 1..open.len() {
                let w = worth(&open[i], &open[j]);
                if distance(open[i].0, open[j].0) >= MARK_APART_MM && best.is_none_or(|b| w > b.0) {
                    best = Some((w, i, j));
                }
            }
        }
        let mut chosen: Vec<usize> = best.map_or(Vec::new(), |(_, i, j)| vec![i, j]);
        while !chosen.is_empty() && chosen.len() < ASKED_SPOTS {
            let rate =
                |k: usize| chosen.iter().map(|&c| worth(&open[c], &open[k])).fold(f64::INFINITY, f64::min);
            let clear = |k: &usize| chosen.iter().all(|&c| distance(open[c].0, open[*k].0) >= MARKS_CLEAR_MM);
            let next = (0..open.len()).filter(clear).max_by(|&a, &b| rate(a).total_cmp(&rate(b)));
            let Some(next) = next else { break };
            chosen.push(next);
        }
        NoRoomForMarks { band, spots: chosen.into_iter().map(|k| (open[k].0, ASKED_ROOM_MM)).collect() }
    }
}

/// Steps of a grid about twice a spot wide, at most 24.
fn steps(side: f64) -> usize {
    if side > 0.0 { ((side / (2.0 * ASKED_ROOM_MM)).ceil() as usize).min(24) } else { 0 }
}

/// At most [`MOST_SPOTS`] of `points`, those at the borders first, then always the one farthest from those taken.
fn spread(points: &[Point]) -> Vec<Point> {
    if points.len() <= MOST_SPOTS {
        return points.to_vec();
    }
    let mut taken: Vec<Point> = Vec::with_capacity(MOST_SPOTS);
    let mut near = vec![f64::INFINITY; points.len()];
    let corner = |dx: f64, dy: f64| {
        points.iter().copied().max_by(|a, b| (a.x * dx + a.y * dy).total_cmp(&(b.x * dx + b.y * dy)))
    };
    let mut next = corner(-1.0, -1.0);
    let mut ends = [corner(1.0, 1.0), corner(1.0, -1.0), corner(-1.0, 1.0)].into_iter().flatten();
    while let Some(p) = next {
        taken.push(p);
        for (n, &q) in near.iter_mut().zip(points) {
            *n = n.min(distance(p, q));
        }
        if taken.len() >= MOST_SPOTS {
            break;
        }
        let farthest = (0..points.len()).max_by(|&a, &b| near[a].total_cmp(&near[b]));
        let farthest = farthest.filter(|&i| near[i] > 0.0).map(|i| points[i]);
        next = ends.find(|e| !taken.contains(e)).or(farthest);
    }
    taken
}

/// `A` to `Z`, then `AA`, `AB`, …
pub(super) fn mark_name(index: usize) -> String {
    let mut name = String::new();
    let mut left = index + 1;
    while left > 0 {
        name.insert(0, char::from(b'A' + ((left - 1) % 26) as u8));
        left = (left - 1) / 26;
    }
    name
}

#[cfg(test)]
#[path = "marks_tests.rs"]
mod tests;
