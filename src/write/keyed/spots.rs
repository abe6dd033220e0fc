//! Where a name stands among lines: every so far along its own lines to either side, and on a grid over them.

use crate::shape::{Bounds, Point, distance, pt, to_side_squared};
use crate::write::sheets::view::enters;

/// Spots of the grid each way.
const GRID: u32 = 12;
/// How far apart spots stand along a line at least, mm, and how many there are at most along all lines of a name.
const STEP_MM: f64 = 10.0;
const MOST_STEPS: f64 = 150.0;
/// How far a name stands off the line it is put beside, tried in turn, mm.
const BESIDE_MM: [f64; 3] = [2.0, 4.5, 9.0];
/// A line or another name nearer to a name than this is in its way, mm.
const CLEAR_MM: f64 = 1.2;

/// What counts against a spot for a name: something said there already, a line through it, a millimetre of its middle
/// away from its own lines, and a millimetre away from the middle of a line along it.
const NAME_THERE: f64 = 1.0e5;
const LINE_THERE: f64 = 1.0e3;
const MM_AWAY: f64 = 1.0;
const MM_ALONG: f64 = 0.01;

/// Everything names have to keep clear of.
#[derive(Default)]
pub(super) struct Field {
    /// All lines, side by side.
    pub sides: Vec<(Point, Point)>,
    /// What is said already.
    pub taken: Vec<Bounds>,
}

/// A spot: its cost, and by how much what is to stand there must be shifted.
#[derive(Clone, Copy, Debug)]
pub(super) struct Best {
    pub cost: f64,
    pub shift: Point,
}

impl Best {
    /// True where neither a line nor another name is in the way.
    pub fn is_clear(&self) -> bool {
        self.cost < LINE_THERE
    }
}

impl Field {
    /// What counts against a name standing in `plate`, apart from being away from its lines.
    pub fn against(&self, plate: Bounds) -> f64 {
        let wide = plate.grown(CLEAR_MM);
        let said = self.taken.iter().filter(|t| t.meets(wide)).count() as f64;
        let crossed = self.sides.iter().filter(|(p, q)| enters(wide, *p, *q)).count() as f64;
        NAME_THERE * said + LINE_THERE * crossed
    }

    /// The best spot for `plate`, the box of a name as it lies with its baseline at the origin, near `own` lines and wholly
    /// in one of `rooms`; `None` where no room takes it.
    pub fn best(&self, plate: Bounds, own: &[Vec<Point>], rooms: &[Bounds]) -> Option<Best> {
        let size = pt(plate.width(), plate.height());
        let rooms: Vec<Bounds> =
            rooms.iter().copied().filter(|r| r.width() >= size.x && r.height() >= size.y).collect();
        let own_sides: Vec<(Point, Point)> = own.iter().flat_map(|l| sides(l)).collect();
        let mut spots: Vec<(f64, Bounds)> = Vec::new();
        for (middle, along) in middles(own, size) {
            let Some(middle) = kept_in(&rooms, middle, size) else { continue };
            let off = own_sides.iter().map(|(p, q)| to_side_squared(middle, *p, *q)).fold(f64::MAX, f64::min);
            let cost = MM_AWAY * off.sqrt() + MM_ALONG * along;
            spots.push((cost, Bounds::new(middle - size * 0.5, middle + size * 0.5)));
        }
        spots.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut best: Option<Best> = None;
        for (away, spot) in spots {
            if best.is_some_and(|b| b.cost <= away) {
                break;
            }
            let cost = away + self.against(spot);
            if best.is_none_or(|b| cost < b.cost) {
                best = Some(Best { cost, shift: spot.min - plate.min });
            }
        }
        best
    }
}

/// The sides of an open line.
pub(super) fn sides(line: &[Point]) -> impl Iterator<Item = (Point, Point)> + '_ {
    line.iter().zip(line.iter().skip(1)).map(|(p, q)| (*p, *q))
}

/// Middles of boxes of `size` beside lines and on a grid over them, each with its way to the middle of its line.
fn middles(own: &[Vec<Point>], size: Point) -> Vec<(Point, f64)> {
    let length = |l: &[Point]| sides(l).map(|(p, q)| distance(p, q)).sum::<f64>();
    let whole: f64 = own.iter().map(|l| length(l)).sum();
    let b = Bounds::of(own.iter().flatten().copied());
    if !(whole.is_finite() && b.width().is_finite() && b.height().is_finite()) {
        return Vec::new();
    }
    let step = (whole / MOST_STEPS).max(STEP_MM);
    let mut all = Vec::new();
    for line in own {
        let long = length(line);
        let count = (long / step).ceil().max(1.0);
        let mut next = 0.5;
        let mut gone = 0.0;
        for (p, q) in sides(line) {
            let side = distance(p, q);
            while side > 0.0 && next < count && next / count * long <= gone + side {
                let at = next / count * long;
                let way = (q - p) * (1.0 / side);
                let on = p + way * (at - gone);
                for across in [pt(-way.y, way.x), pt(way.y, -way.x)] {
                    let half = (across.x.abs() * size.x + across.y.abs() * size.y) / 2.0;
                    let beside = |off: f64| (on + across * (off + half), (at - long / 2.0).abs());
                    all.extend(BESIDE_MM.map(beside));
                }
                next += 1.0;
            }
            gone += side;
        }
    }
    let around = b.grown(size.y + BESIDE_MM[0]);
    let share = |k: u32| f64::from(k) / f64::from(GRID);
    let grid = (0..=GRID).flat_map(|j| (0..=GRID).map(move |i| (i, j)));
    all.extend(grid.map(|(i, j)| {
        (around.min + pt(around.width() * share(i), around.height() * share(j)), around.width() / 2.0)
    }));
    all
}

/// A middle moved so that its box lies wholly in the room that is nearest to it.
fn kept_in(rooms: &[Bounds], middle: Point, size: Point) -> Option<Point> {
    let moved = rooms.iter().map(|r| {
        let (low, high) = (r.min + size * 0.5, r.max - size * 0.5);
        pt(middle.x.min(high.x).max(low.x), middle.y.min(high.y).max(low.y))
    });
    moved.min_by(|a, b| distance(*a, middle).total_cmp(&distance(*b, middle)))
}
