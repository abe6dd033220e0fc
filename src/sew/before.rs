//! What of a piece has to be stitched before what of another that lies on it.

use super::order::{Over, Unit};
use super::placement::Line;
use crate::shape::{Bounds, Point, Region, distance, lerp};

/// Steps in which stitched lines are looked at, mm.
const STEP_MM: f64 = 4.0;

/// Cloth of a piece that is spread over fields is folded back from where it is not sewn yet; stitches of two pieces this
/// near each other are not kept apart so: the foot of the machine needs the room, mm (common practice, no source).
const NEAR_MM: f64 = 10.0;

/// Points along lines, near enough to one another to tell where the lines run.
pub(super) fn along<'a>(lines: impl Iterator<Item = &'a Line>) -> Vec<Point> {
    let mut points = Vec::new();
    for (p, q) in lines.flat_map(Line::sides) {
        let count = (distance(p, q) / STEP_MM).ceil().clamp(1.0, 1.0e5) as u32;
        points.extend((0..=count).map(|k| lerp(p, q, f64::from(k) / f64::from(count))));
    }
    points
}

/// Fills in what comes before what. `units` stand in stacking order of their pieces, `stitched` are points along the
/// lines of each.
///
/// Whole pieces wait for one another. Of two pieces that are both spread over fields, the parts in one field wait for
/// each other, and parts in different fields where they are stitched near each other on the common place; elsewhere the
/// upper cloth is folded back. A whole piece and a spread one wait for each other by the parts stitched on the place.
/// Where no stitches tell, every part whose field reaches the place counts.
pub(super) fn link(units: &mut [Unit], overs: &[Over], fields: &[Bounds], stitched: &[Vec<Point>]) {
    for over in overs {
        let of = |piece: usize| (0..units.len()).filter(|&k| units[k].piece == piece).collect::<Vec<_>>();
        let (lower, upper) = (of(over.lower), of(over.upper));
        let whole = |k: usize| !units[k].spread;
        let there = |k: usize| {
            whole(k)
                || units[k].fields.iter().all(|&f| over.places.iter().any(|p| p.bounds().meets(fields[f])))
        };
        let on = |k: usize| on_places(stitched.get(k).map_or(&[][..], |s| s), &over.places);
        let (lower_on, upper_on): (Vec<_>, Vec<_>) =
            (lower.iter().map(|&k| on(k)).collect(), upper.iter().map(|&k| on(k)).collect());
        let any = |all: &[Vec<Vec<Point>>]| all.iter().flatten().any(|p| !p.is_empty());
        let (lower_seen, upper_seen) = (any(&lower_on), any(&upper_on));
        let sewn_there = |k: usize, on: &[Vec<Point>], seen: bool| {
            whole(k) || if seen { on.iter().any(|p| !p.is_empty()) } else { there(k) }
        };
        let mut pairs: Vec<(usize, usize)> = Vec::new();
        for (&u, u_on) in upper.iter().zip(&upper_on) {
            for (&l, l_on) in lower.iter().zip(&lower_on) {
                let waits = if whole(u) || whole(l) {
                    sewn_there(u, u_on, upper_seen) && sewn_there(l, l_on, lower_seen)
                } else {
                    (units[u].fields == units[l].fields && there(u))
                        || u_on.iter().zip(l_on).any(|(a, b)| come_near(a, b))
                };
                if waits {
                    pairs.push((u, l));
                }
            }
        }
        // A part that lies on the place and waits for nothing there would be sewn upon nothing, or nothing beneath it.
        for &u in upper.iter().filter(|&&u| there(u)) {
            if !pairs.iter().any(|p| p.0 == u) {
                pairs.extend(lower.iter().filter(|&&l| there(l)).map(|&l| (u, l)));
            }
        }
        for (&l, _) in
            lower.iter().zip(&lower_on).filter(|(l, on)| there(**l) && any(std::slice::from_ref(*on)))
        {
            if !pairs.iter().any(|p| p.1 == l) {
                pairs.extend(upper.iter().filter(|&&u| there(u)).map(|&u| (u, l)));
            }
        }
        for (u, l) in pairs {
            if !units[u].after.contains(&l) {
                units[u].after.push(l);
            }
        }
    }
}

/// Those of the points that lie on each place.
fn on_places(points: &[Point], places: &[Region]) -> Vec<Vec<Point>> {
    let on = |place: &Region| {
        let near = place.bounds();
        points.iter().copied().filter(|p| near.contains(*p) && place.contains(*p)).collect()
    };
    places.iter().map(on).collect()
}

fn come_near(some: &[Point], others: &[Point]) -> bool {
    let reach = Bounds::of(others.iter().copied()).grown(NEAR_MM);
    some.iter().filter(|p| reach.contains(**p)).any(|p| others.iter().any(|q| distance(*p, *q) < NEAR_MM))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::pt;

    fn place(x0: f64, y0: f64, x1: f64, y1: f64) -> Region {
        Region::rectangle(Bounds::new(pt(x0, y0), pt(x1, y1)))
    }

    fn spread(piece: usize, field: usize) -> Unit {
        Unit { piece, fields: vec![field], spread: true, after: vec![] }
    }

    fn line(points: &[(f64, f64)]) -> Vec<Point> {
        let line = Line { points: points.iter().map(|p| pt(p.0, p.1)).collect(), closed: false };
        along(std::iter::once(&line))
    }

    /// A long band over another, 20 mm wide both, over two fields. Each half waits for the half beneath it, and where one
    /// field takes over from the other for the near end of the other half.
    #[test]
    fn halves_of_long_bands_wait_for_what_is_near() {
        let fields =
            [Bounds::new(pt(0.0, 0.0), pt(300.0, 100.0)), Bounds::new(pt(250.0, 0.0), pt(550.0, 100.0))];
        // They cross in the first field alone.
        let over = Over { lower: 0, upper: 1, places: vec![place(40.0, 40.0, 60.0, 60.0)] };
        let mut units = vec![spread(0, 0), spread(0, 1), spread(1, 0), spread(1, 1)];
        let first = line(&[(10.0, 50.0), (275.0, 50.0)]);
        let second = line(&[(275.0, 50.0), (500.0, 50.0)]);
        link(
            &mut units,
            std::slice::from_ref(&over),
            &fields,
            &[first.clone(), second.clone(), first.clone(), second.clone()],
        );
        assert_eq!((&units[2].after[..], &units[3].after[..]), (&[0][..], &[][..]));
        // They lie on each other all along: at 275 mm the fields take over.
        let over = Over { lower: 0, upper: 1, places: vec![place(10.0, 40.0, 500.0, 60.0)] };
        let mut units = vec![spread(0, 0), spread(0, 1), spread(1, 0), spread(1, 1)];
        link(&mut units, &[over], &fields, &[first.clone(), second.clone(), first, second]);
        assert_eq!((&units[2].after[..], &units[3].after[..]), (&[0, 1][..], &[0, 1][..]));
    }

    /// A box round an overlap that runs aslant reaches fields in which nothing of it is stitched.
    #[test]
    fn a_whole_piece_waits_only_for_the_parts_stitched_beneath_it() {
        let fields =
            [Bounds::new(pt(0.0, 0.0), pt(200.0, 200.0)), Bounds::new(pt(150.0, 0.0), pt(350.0, 200.0))];
        let over = Over { lower: 0, upper: 1, places: vec![place(100.0, 90.0, 160.0, 110.0)] };
        let whole = Unit { piece: 1, fields: vec![0], spread: false, after: vec![] };
        let mut units = vec![spread(0, 0), spread(0, 1), whole];
        let stitched = [
            line(&[(10.0, 100.0), (170.0, 100.0)]),
            line(&[(170.0, 100.0), (340.0, 100.0)]),
            line(&[(100.0, 95.0), (160.0, 95.0)]),
        ];
        link(&mut units, &[over], &fields, &stitched);
        assert_eq!(units[2].after, [0]);
    }

    /// The upper part has no edge where the lower one's lies beneath it: it waits all the same.
    #[test]
    fn what_no_stitches_tell_is_told_by_the_fields() {
        let fields =
            [Bounds::new(pt(0.0, 0.0), pt(200.0, 200.0)), Bounds::new(pt(150.0, 0.0), pt(350.0, 200.0))];
        let over = Over { lower: 0, upper: 1, places: vec![place(100.0, 90.0, 120.0, 110.0)] };
        let mut units = vec![spread(0, 1), spread(1, 0)];
        link(&mut units, &[over], &fields, &[line(&[(100.0, 100.0), (120.0, 100.0)]), vec![]]);
        assert_eq!(units[1].after, [] as [usize; 0], "the lower part's field does not reach the place");
        let over = Over { lower: 0, upper: 1, places: vec![place(100.0, 90.0, 180.0, 110.0)] };
        link(&mut units, &[over], &fields, &[line(&[(100.0, 100.0), (180.0, 100.0)]), vec![]]);
        assert_eq!(units[1].after, [0]);
    }
}
