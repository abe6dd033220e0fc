//! Windows in strips across the cloth or along it.

use super::line::{Cost, FIT_MM, Line};
use super::links::room_for_marks;
use super::windows::Ground;
use crate::shape::{Bounds, Point, pt};

/// Times the places of the strips are gone over for fewer windows.
const ROUNDS: usize = 2;

/// Work spent on that, as pieces looked at for each strip: with very many of both the first places stand.
const MOST_LOOKED: usize = 200_000_000;

/// A cloth divided into strips as wide as a window, each with its own windows along it.
pub(super) struct Strips<'a> {
    ground: &'a Ground<'a>,
    /// Strips lie one above the other, windows follow one another across.
    swapped: bool,
    size: Point,
    boxes: Vec<Bounds>,
}

/// How pieces are shared out where two strips would do.
#[derive(Clone, Copy)]
enum Sharing {
    First,
    Last,
}

impl<'a> Strips<'a> {
    pub fn new(ground: &'a Ground<'a>, swapped: bool) -> Strips<'a> {
        let boxes = ground.items.iter().map(|i| swap_box(i.bounds, swapped)).collect();
        Strips { ground, swapped, size: swap(ground.size, swapped), boxes }
    }

    fn fits(&self, i: usize) -> bool {
        self.boxes[i].width() <= self.size.x + FIT_MM && self.boxes[i].height() <= self.size.y + FIT_MM
    }

    /// Number of windows, cuts handed over, and the windows.
    pub fn best(&self) -> Option<(usize, u32, Vec<Bounds>)> {
        let cloth = swap_box(self.ground.cloth, self.swapped);
        let prefer = swap(self.ground.prefer, self.swapped);
        let line = self.strip_line();
        let even = |p: f64, q: f64| (0, line.handed(p, q), line.narrowness(p, q));
        let mut starts = line.places((cloth.min.x, cloth.max.x), prefer.x, even)?;
        let choices = line.choices((cloth.min.x, cloth.max.x))?;
        let mut least = self.count(&starts)?;
        let mut tries = MOST_LOOKED / (starts.len() * self.boxes.len()).max(1);
        for _ in 0..ROUNDS {
            let mut better = false;
            for j in 0..starts.len() {
                if starts.len() == 1 {
                    break;
                }
                for &place in &choices[j] {
                    if tries == 0 {
                        break;
                    }
                    tries -= 1;
                    let mut other = starts.clone();
                    other[j] = place;
                    let follows = other.windows(2).all(|w| line.may_follow(w[0], w[1]));
                    if let Some(count) = self.count(&other).filter(|&c| follows && c < least) {
                        (starts, least, better) = (other, count, true);
                    }
                }
            }
            if !better {
                break;
            }
        }
        let lines = self.share_out(&starts, least.2)?;
        let mut windows = Vec::new();
        for (&u, line) in starts.iter().zip(&lines) {
            if line.is_empty() {
                continue;
            }
            let cost = |p: f64, q: f64| -> Cost {
                (u32::from(!self.room_for_marks(u, p, q)), line.handed(p, q), line.narrowness(p, q))
            };
            for v in line.places((cloth.min.y, cloth.max.y), prefer.y, cost)? {
                windows.push(Bounds::new(pt(u, v), pt(u, v) + self.size));
            }
        }
        Some((least.0, least.1, windows.into_iter().map(|w| swap_box(w, self.swapped)).collect()))
    }

    /// The line across all strips.
    fn strip_line(&self) -> Line {
        let mut line = Line { length: self.size.x, band: self.ground.band, ..Line::default() };
        for (item, b) in self.ground.items.iter().zip(&self.boxes) {
            let stretch = (b.min.x, b.max.x);
            let whole = item.outline && b.width() <= self.size.x + FIT_MM;
            if whole { line.rigid.push(stretch) } else { line.soft.push(stretch) }
        }
        line
    }

    /// Fewest windows and cuts handed over for strips at `starts`, and the better way of sharing out (0 or 1).
    fn count(&self, starts: &[f64]) -> Option<(usize, u32, usize)> {
        let sum = |way: usize| -> Option<(usize, u32, usize)> {
            let (mut count, mut handed) = (0, 0);
            for line in self.share_out(starts, way)?.iter().filter(|l| !l.is_empty()) {
                let places = line.furthest()?;
                count += places.len();
                handed += places.windows(2).map(|w| line.handed(w[0], w[1])).sum::<u32>();
            }
            Some((count, handed, way))
        };
        [sum(0), sum(1)].into_iter().flatten().min()
    }

    /// What each strip has to cover. A piece two strips could hold goes to a window that is there anyway if one is.
    fn share_out(&self, starts: &[f64], way: usize) -> Option<Vec<Line>> {
        let sharing = if way == 0 { Sharing::Last } else { Sharing::First };
        let (length, band) = (self.size.y, self.ground.band);
        let mut lines = vec![Line { length, band, ..Line::default() }; starts.len()];
        let mut holders: Vec<Vec<usize>> = Vec::with_capacity(self.boxes.len());
        for (i, b) in self.boxes.iter().enumerate() {
            let holds = |u: f64| u <= b.min.x + FIT_MM && b.max.x <= u + self.size.x + FIT_MM;
            let mut held: Vec<usize> = (0..starts.len()).filter(|&s| holds(starts[s])).collect();
            if held.is_empty() {
                for (line, &u) in lines.iter_mut().zip(starts) {
                    line.soft.extend(self.stretches(i, u));
                }
            } else if !(self.fits(i) && self.ground.items[i].outline) {
                let chosen = match sharing {
                    Sharing::First => held.first(),
                    Sharing::Last => held.last(),
                };
                lines[*chosen?].soft.push((b.min.y, b.max.y));
                held.clear();
            }
            holders.push(held);
        }
        let order: Vec<usize> = match sharing {
            Sharing::Last => (0..starts.len()).collect(),
            Sharing::First => (0..starts.len()).rev().collect(),
        };
        for (turn, &s) in order.iter().enumerate() {
            let later = &order[turn + 1..];
            let must = |held: &Vec<usize>| held.contains(&s) && !held.iter().any(|h| later.contains(h));
            for (held, b) in holders.iter_mut().zip(&self.boxes) {
                if must(held) {
                    lines[s].rigid.push((b.min.y, b.max.y));
                    held.clear();
                }
            }
            let Some(places) = lines[s].furthest() else {
                if lines[s].is_empty() {
                    continue;
                }
                return None;
            };
            for (held, b) in holders.iter_mut().zip(&self.boxes) {
                let within = |&p: &f64| p <= b.min.y + FIT_MM && b.max.y <= p + length + FIT_MM;
                if held.contains(&s) && places.iter().any(within) {
                    lines[s].rigid.push((b.min.y, b.max.y));
                    held.clear();
                }
            }
        }
        Some(lines)
    }

    /// The stretches along the strip at `u` of a line that runs out of the strip.
    fn stretches(&self, i: usize, u: f64) -> Vec<(f64, f64)> {
        let (low, high) = (u, u + self.size.x);
        if self.boxes[i].max.x < low || self.boxes[i].min.x > high {
            return Vec::new();
        }
        let mut all: Vec<(f64, f64)> = Vec::new();
        let mut running = false;
        for (a, b) in self.ground.items[i].ring.sides() {
            let (a, b) = (swap(a, self.swapped), swap(b, self.swapped));
            let Some((from, to)) = clip(a, b, low, high) else {
                running = false;
                continue;
            };
            let (near, far) = (from.min(to), from.max(to));
            match all.last_mut().filter(|_| running) {
                Some(last) => *last = (last.0.min(near), last.1.max(far)),
                None => all.push((near, far)),
            }
            running = b.x >= low && b.x <= high;
        }
        // A run over the line's first point is one run, not two that happen to touch.
        if running && all.len() > 1 {
            let last = all.swap_remove(all.len() - 1);
            if let Some(first) = all.first_mut() {
                *first = (first.0.min(last.0), first.1.max(last.1));
            }
        }
        all
    }

    /// True when the band between windows at `p` and `q` of the strip at `u` has two spots well apart.
    fn room_for_marks(&self, u: f64, p: f64, q: f64) -> bool {
        let band = Bounds::new(pt(u, q), pt(u + self.size.x, p + self.size.y));
        room_for_marks(band, self.ground.spots.iter().map(|&s| swap(s, self.swapped)), self.ground.inset)
    }
}

fn swap(p: Point, swapped: bool) -> Point {
    if swapped { pt(p.y, p.x) } else { p }
}

fn swap_box(b: Bounds, swapped: bool) -> Bounds {
    Bounds::new(swap(b.min, swapped), swap(b.max, swapped))
}

/// The y where the part of a–b with x in low..high begins and ends.
fn clip(a: Point, b: Point, low: f64, high: f64) -> Option<(f64, f64)> {
    if a.x.max(b.x) < low || a.x.min(b.x) > high {
        return None;
    }
    let y_at = |x: f64| {
        let d = b.x - a.x;
        if d == 0.0 { a.y } else { a.y + (b.y - a.y) * ((x - a.x) / d) }
    };
    let end = |p: Point| {
        if p.x < low {
            y_at(low)
        } else if p.x > high {
            y_at(high)
        } else {
            p.y
        }
    };
    Some((end(a), end(b)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::passes::marks::MARK_INSET_MM;
    use crate::passes::windows::Item;
    use crate::shape::Ring;

    /// Wherever a line's list of points begins, the strip sees the same stretches of it: else two windows could
    /// meet just there, with less than a band in common.
    #[test]
    fn a_stretch_over_the_first_point_of_a_line_is_one_stretch() {
        let corners = [[100.0, 0.0], [200.0, 90.0], [200.0, 300.0], [0.0, 300.0], [0.0, 90.0]];
        for begin in 0..corners.len() {
            let mut turned = corners;
            turned.rotate_left(begin);
            let ring = Ring::from_pairs(&turned);
            let items = [Item { bounds: ring.bounds(), outline: true, ring: &ring }];
            let size = pt(150.0, 120.0);
            let cloth = Bounds::new(pt(0.0, 0.0), pt(200.0, 300.0));
            let ground = Ground {
                items: &items,
                size,
                band: 40.0,
                cloth,
                prefer: cloth.min,
                spots: &[],
                inset: MARK_INSET_MM,
            };
            let along_rows = Strips::new(&ground, true);
            assert_eq!(along_rows.stretches(0, 0.0), [(0.0, 200.0)], "begun at corner {begin}");
        }
    }
}
