//! How short a lay could be at best: lower bounds on its length.

use std::collections::BTreeMap;

use crate::cloth::Cloth;
use crate::drawing::Piece;
use crate::shape::{Bounds, Join, Point, Pose, Region, booleans, distance, offset, pt, tol};

use super::chords::Chords;
use super::kind::{Hold, PhaseSpace};
use super::places::{Place, Places};

/// Most upright lines laid across the cloth at once.
const MOST_LINES: usize = 6;

/// Where, along the cloth, the farthest piece of any lay of `places` must at least end (cloth frame, mm).
///
/// `slack` is what a test of the lay forgives: every clearance is taken that much smaller, the cloth that much
/// larger. The greatest of four bounds, each sound by itself:
///
/// * *The tallest.* Every piece lies within the strip, on its lattice where that is fixed, so none ends nearer than
///   the nearest end over its allowed poses; a piece placed by hand ends where it ends.
/// * *Area.* The pieces lie apart within the usable cloth up to the length, so that has at least their area.
/// * *Area with the gap.* Pieces at least a gap apart, each grown by half the gap, do not overlap, and lie within
///   the strip grown by half the gap: their grown area is at most (width + gap) · (length + gap).
/// * *Lines.* Draw K upright lines across the strip, K from 1 to 6. On one line the pieces' chords are apart, and
///   between two different pieces there is a gap: the chords and one gap a piece it meets, less one gap, take no
///   more than the length. Summed over the lines, each piece counts at least the least sum of chords and gaps
///   over all shifts across that keep it in the strip: K · length ≥ Σ − K · gap. With one line in the middle this
///   counts the pieces wider than half the strip, no two of which can lie side by side.
///
/// A piece that may lie at any turn of a range counts by its area, and as tall as the least height at the turns
/// listed less its diameter times the angle between (a height changes no faster than that).
pub fn least_far(places: &Places, pieces: &[Piece], cloth: &Cloth, gap_mm: f64, slack: f64) -> f64 {
    let strip = cloth.outline.bounds().grown(slack - cloth.edge_mm);
    let gap = (gap_mm - slack).max(0.0);
    let mut highest = strip.min.y;
    let mut area = 0.0;
    let mut grown = 0.0;
    let mut on_lines = [0.0; MOST_LINES];
    let mut areas: BTreeMap<usize, (f64, f64)> = BTreeMap::new();
    let mut known: Option<(&Place, Share)> = None;
    for place in &places.places {
        let cut = &pieces[place.piece].cut;
        let (own, with_gap) = *areas.entry(place.piece).or_insert_with(|| {
            let less = slack * cut.edge_length();
            let grown =
                offset(std::slice::from_ref(cut), gap / 2.0, Join::Round).iter().map(Region::area).sum();
            ((cut.area() - less).max(0.0), grown)
        });
        area += own;
        grown += with_gap;
        let same = |k: &Place| k.piece == place.piece && k.turns == place.turns && k.locked == place.locked;
        let share = match known {
            Some((k, share)) if same(k) => share,
            _ => share_of(place, cut, &places.groups, strip, gap, cloth.match_tolerance_mm),
        };
        known = Some((place, share));
        highest = highest.max(share.end);
        for (sum, of) in on_lines.iter_mut().zip(share.on_lines) {
            *sum += of;
        }
    }
    let width = strip.width().max(tol::SAME_POINT_MM);
    let mut length = area / width;
    length = length.max(grown / (width + gap) - gap);
    for (k, sum) in on_lines.iter().enumerate() {
        length = length.max(sum / (k + 1) as f64 - gap);
    }
    let far = highest.max(strip.min.y + length);
    far.max(area_end(cloth, area, slack))
}

/// Pieces with more corners are laid under two lines at most.
const MANY_CORNERS: usize = 500;

/// What one place adds.
#[derive(Clone, Copy)]
struct Share {
    /// Nearest end it can have.
    end: f64,
    /// Least sum of chords and gaps on 1, 2, … lines.
    on_lines: [f64; MOST_LINES],
}

fn share_of(
    place: &Place,
    cut: &Region,
    groups: &[PhaseSpace],
    strip: Bounds,
    gap: f64,
    off_lattice: f64,
) -> Share {
    let mut best = Share { end: f64::INFINITY, on_lines: [f64::INFINITY; MOST_LINES] };
    for &(turn_deg, hold) in &place.turns {
        let turned = Pose { turn_deg, shift: pt(0.0, 0.0) }.region(cut);
        let b = turned.bounds();
        let reach = Bounds::new(strip.min - b.min, pt(strip.max.x - b.max.x, strip.max.y - b.max.y));
        let shifts = match place.locked {
            Some(pose) => Shifts { lowest: pose.shift.y, across: vec![(pose.shift.x, pose.shift.x)] },
            None if reach.min.x > reach.max.x && place.between_deg == 0.0 => continue,
            None => shifts(&hold, groups, reach),
        };
        if place.between_deg > 0.0 {
            let less = distance(b.min, b.max) * place.between_deg.to_radians();
            best.end = best.end.min(b.max.y + shifts.lowest - less);
            best.on_lines = [0.0; MOST_LINES];
            continue;
        }
        best.end = best.end.min(b.max.y + shifts.lowest - off_lattice);
        let chords = Chords::new(&turned);
        // So many corners cost more than they tell.
        let most = if chords.corners() > MANY_CORNERS { 2 } else { MOST_LINES };
        best.on_lines[most..].fill(0.0);
        for (k, least) in best.on_lines.iter_mut().enumerate().take(most) {
            let lines: Vec<f64> =
                (1..=k + 1).map(|l| strip.min.x + strip.width() * l as f64 / (k + 2) as f64).collect();
            for (low, high) in &shifts.across {
                let across = (low - off_lattice, high + off_lattice);
                *least = least.min(chords.least_sum(&lines, across, gap));
            }
        }
    }
    if best.end == f64::INFINITY {
        return Share { end: f64::NEG_INFINITY, on_lines: [0.0; MOST_LINES] };
    }
    best
}

/// The shifts a way may have, as far as the bounds ask.
struct Shifts {
    lowest: f64,
    /// Ranges of the shift across.
    across: Vec<(f64, f64)>,
}

/// Phases and columns looked at before a lattice counts as free.
const MOST_COLUMNS: usize = 400;

fn shifts(hold: &Hold, groups: &[PhaseSpace], reach: Bounds) -> Shifts {
    let free = Shifts { lowest: reach.min.y, across: vec![(reach.min.x, reach.max.x)] };
    let Hold::Lattice { a, b, offset } = *hold else { return free };
    let choices = match offset.group.map(|g| &groups[g]) {
        None => vec![pt(0.0, 0.0)],
        Some(PhaseSpace::Choices(all)) => all.clone(),
        Some(PhaseSpace::Cell { .. }) => return free,
    };
    let mut window = reach;
    // Every shift below the first found one lies in this window too.
    window.max.y = reach.max.y.min(reach.min.y + 2.0 * (a.y.abs() + b.y.abs()));
    let mut found: Vec<Point> = Vec::new();
    for choice in choices {
        let mut phases = vec![Point::default(); offset.group.map_or(0, |g| g + 1)];
        if let Some(g) = offset.group {
            phases[g] = choice;
        }
        hold.points(&phases, window, |p| {
            found.push(p);
            found.len() <= MOST_COLUMNS
        });
    }
    if found.is_empty() || found.len() > MOST_COLUMNS {
        return free;
    }
    let lowest = found.iter().map(|p| p.y).fold(f64::INFINITY, f64::min);
    // Columns run straight up when b does; the window, two repeats high, then meets every column.
    if b.x != 0.0 || window.height() < b.y.abs() {
        return Shifts { lowest, ..free };
    }
    let mut columns: Vec<f64> = found.iter().map(|p| p.x).collect();
    columns.sort_by(f64::total_cmp);
    columns.dedup_by(|p, q| (*p - *q).abs() < tol::ON_LATTICE_MM);
    Shifts { lowest, across: columns.into_iter().map(|x| (x, x)).collect() }
}

/// The nearest y up to which the usable cloth has `area`; only cloths with flaws or an odd outline gain by it.
fn area_end(cloth: &Cloth, area: f64, slack: f64) -> f64 {
    let b = cloth.outline.bounds();
    let box_area = b.width() * b.height();
    let straight = (cloth.outline.signed_area().abs() - box_area).abs() <= tol::SLIVER_MM2;
    if (straight && cloth.flaws.is_empty()) || area <= 0.0 {
        return f64::NEG_INFINITY;
    }
    let usable = cloth.usable();
    // What lies within the slack of an edge may count as usable.
    let edges: f64 = usable.iter().map(Region::edge_length).sum::<f64>() + cloth.outline.length();
    let have = |y: f64| {
        let below = Region::rectangle(Bounds::new(b.min, pt(b.max.x, y)));
        let part: f64 = booleans::intersection(&usable, &[below]).iter().map(Region::area).sum();
        part + if cloth.open_length { 0.0 } else { slack * edges } + tol::SLIVER_MM2
    };
    let (mut low, mut high) = (b.min.y, b.max.y);
    if have(high) < area {
        // More than there is: at least the whole length and what is missing at full width.
        return high + (area - have(high)) / b.width().max(tol::SAME_POINT_MM);
    }
    // On open length the answer is near; do not cut up kilometres.
    if cloth.open_length {
        let flaws_end = cloth.flaws.iter().map(|f| f.bounds().max.y).fold(b.min.y, f64::max);
        high = high.min(flaws_end.max(b.min.y) + 2.0 * area / b.width().max(tol::SAME_POINT_MM) + 1000.0);
        if have(high) < area {
            return f64::NEG_INFINITY;
        }
    }
    while high - low > tol::SAME_POINT_MM {
        let middle = (low + high) / 2.0;
        if have(middle) < area { low = middle } else { high = middle }
    }
    low - slack
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::{Match, Weave};
    use crate::shape::Ring;

    fn rect(w: f64, h: f64) -> Region {
        Region::rectangle(Bounds::new(pt(0.0, 0.0), pt(w, h)))
    }

    fn piece(cut: Region) -> Piece {
        Piece {
            id: "p".into(),
            element: 0,
            rule: 0,
            cloth: 0,
            count: 1,
            drawn: cut.clone(),
            anchor: cut.bounds().centre(),
            cut,
            matching: Match::Free,
            group: "p".into(),
        }
    }

    fn cloth(width: f64) -> Cloth {
        Cloth {
            name: "c".into(),
            stock: None,
            weave: Weave::Plain,
            nap: true,
            outline: rect(width, Cloth::OPEN_LENGTH_MM).outline,
            open_length: true,
            edge_mm: 10.0,
            flaws: Vec::new(),
            pattern: None,
            match_tolerance_mm: 0.0,
            photo: None,
            colour: [0; 3],
        }
    }

    fn least(cuts: Vec<Region>, cloth: &Cloth, gap: f64) -> f64 {
        let pieces: Vec<Piece> = cuts.into_iter().map(piece).collect();
        let place = |p| Place {
            piece: p,
            copy: 1,
            turns: vec![(0.0, Hold::Free)],
            locked: None,
            between_deg: 0.0,
            ranges: vec![],
        };
        let mut places = Places::default();
        places.places = (0..pieces.len()).map(place).collect();
        least_far(&places, &pieces, cloth, gap, 0.0) - 10.0
    }

    #[test]
    fn pieces_wider_than_half_stack_up() {
        // Four of 101 on 200 usable: no two side by side, so their heights and three gaps.
        let l = least(vec![rect(101.0, 40.0); 4], &cloth(220.0), 3.0);
        assert!((l - (4.0 * 40.0 + 3.0 * 3.0)).abs() < 1e-6, "{l}");
        // Of 99 two lie side by side: two rows of two (98.5 with the gap) are possible.
        let l = least(vec![rect(98.0, 40.0); 4], &cloth(220.0), 3.0);
        assert!((78.0..=83.0 + 1e-6).contains(&l), "{l}");
    }

    #[test]
    fn pieces_wider_than_a_third_count_on_two_lines() {
        // 80 wide on 200: two abreast, five need three rows; two lines say at least 2.5 rows.
        let l = least(vec![rect(80.0, 50.0); 5], &cloth(220.0), 0.0);
        assert!((125.0 - 1e-6..=150.0 + 1e-6).contains(&l), "{l}");
    }

    #[test]
    fn a_triangle_counts_only_what_it_must_cover() {
        // Base 150 on 200 usable: the middle line stands 50 to 100 into it, where its chord is at least a third.
        let t = Region::new(Ring::from_pairs(&[[0.0, 0.0], [150.0, 0.0], [0.0, 90.0]]), vec![]);
        let l = least(vec![t; 3], &cloth(220.0), 0.0);
        assert!(l >= 3.0 * 90.0 / 3.0 - 1e-6, "{l}");
    }

    #[test]
    fn a_flaw_takes_its_area_away() {
        let mut c = cloth(220.0);
        c.flaws = vec![Ring::from_pairs(&[[0.0, 0.0], [220.0, 0.0], [220.0, 500.0], [0.0, 500.0]])];
        let l = least(vec![rect(100.0, 50.0)], &c, 0.0);
        assert!((l - (490.0 + 25.0)).abs() < 0.1, "{l}");
    }
}
