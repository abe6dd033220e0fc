//! Marks for putting the frame on again: small crosses stitched in one hooping and found in a later one.

use rstar::RTree;
use rstar::primitives::Line as Side;

use crate::shape::{Bounds, Point, Region, distance, pt};

/// Half the length of a cross, mm.
const ARM_MM: f64 = 3.0;

/// Room kept round a cross, mm.
const ROOM_MM: f64 = 1.0;

/// Distance of a mark from the edge of a field, mm.
const INSET_MM: f64 = 5.0;

/// Marks nearer to each other than this say nothing of a turn, mm.
const APART_MM: f64 = 40.0;

/// Spots looked at each way in what two fields share.
const GRID: u32 = 40;

/// Earlier hoopings that are tried, those that share most first.
const EARLIER: usize = 8;

/// By how much a mark that a piece will hide is preferred: as if it were this much farther from the other.
const HIDDEN_GAIN: f64 = 1.25;

/// A cross.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// `A`, `B`, …; one cross found in several hoopings has one name.
    pub name: String,
    /// Its middle.
    pub at: Point,
    /// The hooping it is stitched in, from 0.
    pub stitched: usize,
    /// The hooping it is found in.
    pub found: usize,
    /// The piece that hides it in the end, by index; without one it is basted and pulled out.
    pub hidden_by: Option<usize>,
}

/// The pieces over a work: where a mark can stand.
struct Ground<'a> {
    pieces: &'a [&'a Region],
    boxes: Vec<Bounds>,
    edges: RTree<Side<[f64; 2]>>,
    /// Distance of a mark from every drawn edge.
    clear: f64,
    /// The hooping from which a piece lies at a point of it.
    laid: &'a dyn Fn(usize, Point) -> usize,
}

impl<'a> Ground<'a> {
    fn new(pieces: &'a [&'a Region], laid: &'a dyn Fn(usize, Point) -> usize, border_mm: f64) -> Ground<'a> {
        let sides = pieces.iter().flat_map(|p| p.rings()).flat_map(|r| r.sides());
        let edges = RTree::bulk_load(sides.map(|(p, q)| Side::new([p.x, p.y], [q.x, q.y])).collect());
        let boxes = pieces.iter().map(|p| p.bounds()).collect();
        Ground { pieces, boxes, edges, clear: border_mm / 2.0 + ARM_MM + ROOM_MM, laid }
    }

    /// Whether a mark stitched in hooping `stitched` and found in hooping `found` can stand at `p`, and the piece that hides it
    /// in the end. `near` are the pieces that may be there, `upon` says whether it may be stitched upon one that lies there already.
    fn spot(
        &self,
        p: Point,
        near: &[usize],
        [stitched, found]: [usize; 2],
        upon: bool,
    ) -> Option<Option<usize>> {
        if self.edges.locate_within_distance([p.x, p.y], self.clear * self.clear).next().is_some() {
            return None;
        }
        let mut hidden = None;
        for &k in near {
            if self.boxes[k].contains(p) && self.pieces[k].contains(p) {
                // Laid after the mark is stitched and before it is needed, a piece would hide it too soon.
                match (self.laid)(k, p) {
                    laid if laid >= found => {
                        hidden.get_or_insert(k);
                    }
                    laid if upon && laid < stitched => {}
                    _ => return None,
                }
            }
        }
        Some(hidden)
    }

    /// The pieces that reach into `place`.
    fn near(&self, place: Bounds) -> Vec<usize> {
        (0..self.boxes.len()).filter(|&k| self.boxes[k].meets(place)).collect()
    }

    /// Two or three places in `shared` for marks of two hoopings, well apart, those first that a piece will hide.
    /// Fewer than two are none.
    fn places(&self, shared: Bounds, hoopings: [usize; 2], upon: bool) -> Vec<(Point, Option<usize>)> {
        let within = shared.grown(-INSET_MM);
        if within.is_empty() {
            return Vec::new();
        }
        let steps = |size: f64| ((size / 4.0).floor().clamp(1.0, f64::from(GRID))) as u32;
        let (nx, ny) = (steps(within.width()), steps(within.height()));
        let near = self.near(within);
        let share = |k: u32, n: u32| f64::from(k) / f64::from(n);
        let mut spots = Vec::new();
        for i in 0..=nx {
            for j in 0..=ny {
                let p = within.min + pt(within.width() * share(i, nx), within.height() * share(j, ny));
                spots.extend(self.spot(p, &near, hoopings, upon).map(|hidden| (p, hidden)));
            }
        }
        let worth = |a: &(Point, Option<usize>), b: &(Point, Option<usize>)| {
            let hidden = [a, b].iter().filter(|s| s.1.is_some()).count();
            distance(a.0, b.0) * [1.0, HIDDEN_GAIN.sqrt(), HIDDEN_GAIN][hidden.min(2)]
        };
        let mut best: Option<(f64, usize, usize)> = None;
        for a in 0..spots.len() {
            for b in a + 1..spots.len() {
                if distance(spots[a].0, spots[b].0) < APART_MM {
                    continue;
                }
                let w = worth(&spots[a], &spots[b]);
                if best.is_none_or(|(most, ..)| w > most) {
                    best = Some((w, a, b));
                }
            }
        }
        let Some((_, a, b)) = best else { return Vec::new() };
        let apart = |k: usize| distance(spots[k].0, spots[a].0).min(distance(spots[k].0, spots[b].0));
        let third = (0..spots.len()).filter(|&k| apart(k) >= APART_MM);
        let third = third.max_by(|&x, &y| apart(x).total_cmp(&apart(y)).then(y.cmp(&x)));
        [Some(a), Some(b), third].into_iter().flatten().map(|k| spots[k]).collect()
    }
}

/// Marks for every hooping but the first, each stitched in an earlier one that shares most ground with it and has room. `laid`
/// is the hooping from which a piece lies at a point of it; `fields` in order of work, without the border.
pub(super) fn of(
    drawn: &[&Region],
    laid: &dyn Fn(usize, Point) -> usize,
    fields: &[Bounds],
    border_mm: f64,
) -> Vec<Mark> {
    let ground = Ground::new(drawn, laid, border_mm);
    let mut marks: Vec<Mark> = Vec::new();
    let mut names = 0;
    for found in 1..fields.len() {
        let shared = |j: usize| {
            let (a, b) = (fields[j], fields[found]);
            Bounds::new(
                pt(a.min.x.max(b.min.x), a.min.y.max(b.min.y)),
                pt(a.max.x.min(b.max.x), a.max.y.min(b.max.y)),
            )
        };
        let size = |j: &usize| {
            let s = shared(*j);
            if s.is_empty() { 0.0 } else { s.width() * s.height() }
        };
        let mut earlier: Vec<usize> = (0..found).filter(|j| size(j) > 0.0).collect();
        earlier.sort_by(|a, b| size(b).total_cmp(&size(a)));
        earlier.truncate(EARLIER);
        // On the ground where there is room, else upon what is sewn already.
        let ways = [false, true].into_iter().flat_map(|upon| earlier.iter().map(move |&j| (j, upon)));
        let mut places = ways.map(|(j, upon)| (j, ground.places(shared(j), [j, found], upon)));
        if let Some((stitched, places)) = places.find(|(_, p)| !p.is_empty()) {
            for (at, hidden_by) in places {
                // One cross may serve several hoopings.
                let same = |m: &&Mark| {
                    m.stitched == stitched
                        && distance(m.at, at) < 2.0 * ARM_MM
                        && shared(stitched).grown(-INSET_MM).contains(m.at)
                        && ground
                            .spot(m.at, &ground.near(shared(stitched)), [stitched, found], true)
                            .is_some()
                };
                let there = marks.iter().find(same).map(|m| (m.name.clone(), m.at));
                let (name, at) = there.unwrap_or_else(|| (name(names), at));
                names += usize::from(!marks.iter().any(|m| m.name == name));
                marks.push(Mark { name, at, stitched, found, hidden_by });
            }
        }
    }
    marks
}

/// `A` to `Z`, then `AA` and on.
fn name(mut k: usize) -> String {
    let mut letters = Vec::new();
    loop {
        letters.push(char::from(b'A' + (k % 26) as u8));
        if k < 26 {
            break;
        }
        k = k / 26 - 1;
    }
    letters.iter().rev().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rect(x0: f64, y0: f64, x1: f64, y1: f64) -> Region {
        Region::rectangle(Bounds::new(pt(x0, y0), pt(x1, y1)))
    }

    #[test]
    fn marks_stand_off_edges_and_never_under_what_is_laid_already() {
        let (early, late) = (rect(0.0, 0.0, 40.0, 100.0), rect(60.0, 0.0, 100.0, 100.0));
        let pieces = [&early, &late];
        let ground = Ground::new(&pieces, &|k, _| k, 3.5);
        let found = ground.places(Bounds::new(pt(0.0, 0.0), pt(100.0, 100.0)), [0, 1], false);
        assert!((2..=3).contains(&found.len()));
        for (at, hidden) in found {
            assert!(at.x > 40.0 + 5.74, "{at:?}");
            assert_eq!(hidden.is_some(), at.x > 60.0);
        }
        // With everything laid before, only the gap is left.
        let ground = Ground::new(&pieces, &|_, _| 0, 3.5);
        let found = ground.places(Bounds::new(pt(0.0, 0.0), pt(100.0, 100.0)), [0, 1], false);
        assert!(found.len() >= 2 && found.iter().all(|f| f.1.is_none() && f.0.x > 45.0 && f.0.x < 55.0));
        assert!(ground.places(Bounds::new(pt(0.0, 0.0), pt(30.0, 100.0)), [0, 1], false).is_empty());
    }

    #[test]
    fn names_go_on_past_the_alphabet() {
        assert_eq!([0, 25, 26, 51, 52, 702].map(name), ["A", "Z", "AA", "AZ", "BA", "AAA"]);
    }
}
