//! What goes down before what, and so in which order the fields are worked.

use std::collections::BTreeSet;

use crate::lay::chance::Chance;
use crate::shape::booleans::intersection;
use crate::shape::{Bounds, Region, distance};

/// One piece lies on another.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Over {
    pub lower: usize,
    pub upper: usize,
    /// The places where it does, stitching counted.
    pub places: Vec<Region>,
}

/// Who lies on whom. `grown` are the pieces as drawn, grown by half a border, in stacking order; `element` their place in
/// it: parts of one shape do not lie on each other.
pub(super) fn overs(grown: &[Vec<Region>], element: &[usize]) -> Vec<Over> {
    let boxes: Vec<Bounds> =
        grown.iter().map(|g| g.iter().map(Region::bounds).fold(Bounds::EMPTY, Bounds::union)).collect();
    let mut found = Vec::new();
    for upper in 0..grown.len() {
        for lower in (0..upper).filter(|&l| element[l] != element[upper] && boxes[l].meets(boxes[upper])) {
            let places = intersection(&grown[lower], &grown[upper]);
            if !places.is_empty() {
                found.push(Over { lower, upper, places });
            }
        }
    }
    found
}

/// What is done in one go: a whole piece, or a piece's stitching in one field.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Unit {
    pub piece: usize,
    /// Fields it can be done in.
    pub fields: Vec<usize>,
    /// True when the piece is spread over several fields, of which this is one.
    pub spread: bool,
    /// Units that lie beneath it and come first.
    pub after: Vec<usize>,
}

/// The frame put on once: its field, and the units done, in order.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Visit {
    pub field: usize,
    pub units: Vec<usize>,
}

/// Fields in an order in which everything can be done, with as few visits as walks from every field find. A field is
/// visited again where overs and unders go to and fro between fields. Visits that share room for marks with an
/// earlier one (`linked`) are preferred.
pub(super) fn visits(units: &[Unit], fields: &[Bounds], linked: &dyn Fn(usize, usize) -> bool) -> Vec<Visit> {
    let straight: Vec<_> =
        (0..fields.len()).filter_map(|start| walk(units, fields, linked, start, None)).collect();
    let least = straight.iter().map(Vec::len).min().unwrap_or(0);
    let mut chance = Chance::new(1, 0);
    // Where no field is worked twice nothing can be better.
    let used = |v: &Vec<Visit>| v.iter().map(|v| v.field).collect::<BTreeSet<_>>().len();
    let tries = if straight.iter().any(|v| v.len() == least && used(v) == least) { 0 } else { STRAYS };
    let strays = (0..tries).filter_map(|k| walk(units, fields, linked, k % fields.len(), Some(&mut chance)));
    let strays: Vec<_> = strays.collect();
    let walks = straight.into_iter().chain(strays);
    let key = |v: &Vec<Visit>| {
        let lost = (1..v.len()).filter(|&k| !(0..k).any(|j| linked(v[j].field, v[k].field))).count();
        (v.len(), lost)
    };
    let way = |v: &Vec<Visit>| -> f64 {
        v.windows(2).map(|w| distance(fields[w[0].field].min, fields[w[1].field].min)).sum()
    };
    walks.min_by(|a, b| key(a).cmp(&key(b)).then(way(a).total_cmp(&way(b)))).unwrap_or_default()
}

/// Walks that stray, tried where a field has to be worked twice.
const STRAYS: usize = 400;

/// Always on to the field that can be finished, then to one with marks, then to where most can be done, then to the
/// nearest; with `stray`, how much can be done is weighed by chance. `None` when nothing can be done in the first.
fn walk(
    units: &[Unit],
    fields: &[Bounds],
    linked: &dyn Fn(usize, usize) -> bool,
    start: usize,
    mut stray: Option<&mut Chance>,
) -> Option<Vec<Visit>> {
    let mut done = vec![false; units.len()];
    let mut out: Vec<Visit> = Vec::new();
    let mut visited = vec![false; fields.len()];
    while done.iter().any(|d| !d) {
        let mut best: Option<((bool, bool, f64), f64, Visit)> = None;
        for field in 0..fields.len() {
            if out.is_empty() && field != start {
                continue;
            }
            let now = doable(units, &done, field);
            if now.is_empty() {
                continue;
            }
            let left =
                |k: usize| !done[k] && !now.contains(&k) && units[k].fields.iter().all(|&f| f == field);
            let finished = !(0..units.len()).any(left);
            let marked = out.is_empty() || (0..fields.len()).any(|f| visited[f] && linked(f, field));
            let weight = stray.as_mut().map_or(1.0, |c| c.between(0.3, 1.7));
            let rank = (finished, marked, weight * now.len() as f64);
            let far = out.last().map_or(0.0, |v| distance(fields[v.field].min, fields[field].min));
            let better = |b: &((bool, bool, f64), f64, Visit)| rank > b.0 || (rank == b.0 && far < b.1);
            if best.as_ref().is_none_or(better) {
                best = Some((rank, far, Visit { field, units: now }));
            }
        }
        let visit = best?.2;
        visited[visit.field] = true;
        visit.units.iter().for_each(|&u| done[u] = true);
        out.push(visit);
    }
    Some(out)
}

/// What can be done in a field by now, from the lowest up.
fn doable(units: &[Unit], done: &[bool], field: usize) -> Vec<usize> {
    let mut now = Vec::new();
    let mut then = done.to_vec();
    for (k, unit) in units.iter().enumerate() {
        if !done[k] && unit.fields.contains(&field) && unit.after.iter().all(|u| then[*u]) {
            now.push(k);
            then[k] = true;
        }
    }
    now
}

#[cfg(test)]
mod tests {
    use super::super::before::link;
    use super::*;
    use crate::shape::{Point, pt};

    fn rect(x0: f64, y0: f64, x1: f64, y1: f64) -> Vec<Region> {
        vec![Region::rectangle(Bounds::new(pt(x0, y0), pt(x1, y1)))]
    }

    fn unit(piece: usize, field: usize) -> Unit {
        Unit { piece, fields: vec![field], spread: false, after: vec![] }
    }

    fn bare(n: usize) -> Vec<Vec<Point>> {
        vec![Vec::new(); n]
    }

    fn row(n: usize) -> Vec<Bounds> {
        (0..n).map(|k| Bounds::new(pt(90.0 * k as f64, 0.0), pt(90.0 * k as f64 + 100.0, 100.0))).collect()
    }

    #[test]
    fn what_lies_beneath_goes_down_first_and_what_touches_nothing_waits_for_nobody() {
        let grown = [rect(0.0, 0.0, 50.0, 50.0), rect(40.0, 0.0, 90.0, 50.0), rect(200.0, 0.0, 250.0, 50.0)];
        let found = overs(&grown, &[0, 1, 2]);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].lower, found[0].upper), (0, 1));
        assert!(overs(&grown, &[0, 0, 2]).is_empty(), "islands of one shape");
    }

    #[test]
    fn fields_are_worked_so_that_none_is_needed_twice_where_that_can_be() {
        // The piece of field 1 lies beneath that of field 0.
        let mut units = vec![unit(0, 1), unit(1, 0), unit(2, 1)];
        let overs = [Over { lower: 0, upper: 1, places: vec![] }];
        link(&mut units, &overs, &row(2), &bare(3));
        let found = visits(&units, &row(2), &|_, _| true);
        assert_eq!(found.iter().map(|v| v.field).collect::<Vec<_>>(), [1, 0]);
    }

    /// Two strands that change sides between two fields: one field has to be put on twice.
    #[test]
    fn a_field_is_put_on_again_where_overs_and_unders_go_to_and_fro() {
        let mut units = vec![unit(0, 0), unit(1, 1), unit(2, 1), unit(3, 0)];
        let over = |lower, upper| Over { lower, upper, places: vec![] };
        link(&mut units, &[over(0, 1), over(2, 3)], &row(2), &bare(4));
        // 0 before 1, 2 before 3: both orders of fields would do only once 2 can wait for nothing.
        let found = visits(&units, &row(2), &|_, _| true);
        assert_eq!(found.len(), 3);
        let done: Vec<usize> = found.iter().flat_map(|v| v.units.clone()).collect();
        let at = |u: usize| done.iter().position(|&d| d == u).unwrap();
        assert!(at(0) < at(1) && at(2) < at(3) && done.len() == 4);
    }

    #[test]
    fn only_what_meets_in_a_field_holds_a_spread_piece_up() {
        let fields = row(2);
        let spread = |piece, field| Unit { spread: true, ..unit(piece, field) };
        let mut units = vec![spread(0, 0), spread(0, 1), unit(1, 0)];
        let over = Over { lower: 0, upper: 1, places: rect(10.0, 10.0, 20.0, 20.0) };
        let stitched = vec![vec![pt(15.0, 15.0)], vec![pt(150.0, 15.0)], vec![pt(12.0, 12.0)]];
        link(&mut units, &[over], &fields, &stitched);
        assert_eq!(units[2].after, [0]);
        assert_eq!(visits(&units, &fields, &|_, _| true).len(), 2);
    }
}
