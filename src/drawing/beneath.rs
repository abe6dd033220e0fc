//! Bands in segments that end at the sides of the band they go beneath, but are drawn above it.
//!
//! Where segments merely meet, nothing but the stacking says which lies over which: an end drawn above the band it stops
//! at has its border over that band and no extra cloth beneath it. Two segments of one cloth that stop opposite each
//! other at the two sides of a band which runs on past both are one band that goes beneath; when the stacking says
//! otherwise it is said.

use super::model::Piece;
use super::remarks;
use crate::say::Note;
use crate::shape::{Join, Point, Region, distance, lerp, offset, pt, tol};

/// Edges are looked at in steps of this, mm.
const STEP_MM: f64 = 1.0;

/// An end meets the side of a band for at least this length, mm, and at most this share of the segment's own edge.
const LEAST_END_MM: f64 = 3.0;
const MOST_OF_EDGE: f64 = 0.35;

/// The two ends are as wide as each other, up to this share.
const AS_WIDE: f64 = 0.3;

/// They stand no farther apart than so many times their width, on either side of the band.
const APART_WIDTHS: f64 = 4.0;

/// Where a segment's end meets the side of another piece.
struct End {
    piece: usize,
    middle: Point,
    width: f64,
}

/// What there is to say about segments drawn above the band they go beneath.
pub(super) fn notes(pieces: &[Piece]) -> Vec<Note> {
    let found: Vec<String> = (0..pieces.len()).flat_map(|band| crossing(band, pieces)).collect();
    if found.is_empty() {
        return Vec::new();
    }
    let text = format!(
        "Segments that meet look like bands going beneath others, but the stacking has them above: {}. Drawn so, \
         their borders lie over the other band and they get no underlap there. Draw what goes beneath first.",
        remarks::listed(&found)
    );
    vec![Note::advice("drawing", text)]
}

/// Bands that go beneath `band` but of which a segment is drawn above it.
fn crossing(band: usize, pieces: &[Piece]) -> Vec<String> {
    let over = &pieces[band];
    let near = over.drawn.bounds().grown(tol::ALONGSIDE_MM);
    let meeting: Vec<usize> = (0..pieces.len())
        .filter(|&k| pieces[k].element != over.element && pieces[k].drawn.bounds().meets(near))
        .collect();
    // It takes two ends, one of them drawn above: most pieces are done with here.
    if meeting.len() < 2 || !meeting.iter().any(|&k| pieces[k].element > over.element) {
        return Vec::new();
    }
    let alone = std::slice::from_ref(&over.drawn);
    let reach = offset(alone, tol::ALONGSIDE_MM, Join::Round);
    let deep = offset(alone, -tol::ALONGSIDE_MM, Join::Round);
    let ends: Vec<End> =
        meeting.into_iter().filter_map(|k| end(k, &pieces[k].drawn, &reach, &deep)).collect();
    let mut found = Vec::new();
    for (n, a) in ends.iter().enumerate() {
        for b in &ends[n + 1..] {
            let (one, other) = (&pieces[a.piece], &pieces[b.piece]);
            let above: Vec<&str> =
                [one, other].iter().filter(|p| p.element > over.element).map(|p| p.id.as_str()).collect();
            if one.cloth == other.cloth && !above.is_empty() && is_one_band(a, b, &over.drawn) {
                found.push(format!(
                    "{} and {} beneath {} ({} drawn above it)",
                    one.id,
                    other.id,
                    over.id,
                    above.join(" and ")
                ));
            }
        }
    }
    found
}

/// The end of `drawn` that meets the edge of a band, given grown and shrunk; `None` when it meets none or lies on it.
fn end(piece: usize, drawn: &Region, reach: &[Region], deep: &[Region]) -> Option<End> {
    let mut met: Vec<(Point, bool)> = Vec::new();
    for (p, q) in drawn.outline.sides() {
        let steps = (distance(p, q) / STEP_MM).ceil().clamp(1.0, 1.0e4) as u32;
        for k in 0..steps {
            let at = lerp(p, q, (f64::from(k) + 0.5) / f64::from(steps));
            if deep.iter().any(|r| r.contains(at)) {
                return None;
            }
            met.push((at, reach.iter().any(|r| r.contains(at))));
        }
    }
    // Once round from where it meets nothing, so that the run is whole.
    let start = met.iter().position(|m| !m.1)?;
    met.rotate_left(start);
    let (mut longest, mut run): (Vec<Point>, Vec<Point>) = Default::default();
    for (at, meets) in met {
        if meets {
            run.push(at);
            continue;
        }
        if run.len() > longest.len() {
            longest = std::mem::take(&mut run);
        }
        run.clear();
    }
    if run.len() > longest.len() {
        longest = run;
    }
    let (first, last) = (*longest.first()?, *longest.last()?);
    let width = distance(first, last);
    let middle = longest[longest.len() / 2];
    let is_end = width >= LEAST_END_MM && width <= MOST_OF_EDGE * drawn.outline.length();
    is_end.then_some(End { piece, middle, width })
}

/// True when two ends face each other across `over`, which runs on past both.
fn is_one_band(a: &End, b: &End, over: &Region) -> bool {
    let width = (a.width + b.width) / 2.0;
    let across = distance(a.middle, b.middle);
    if (a.width - b.width).abs() > AS_WIDE * width
        || !(tol::ALONGSIDE_MM..=APART_WIDTHS * width).contains(&across)
    {
        return false;
    }
    let within = (1..10).all(|k| over.contains(lerp(a.middle, b.middle, f64::from(k) / 10.0)));
    let way = (b.middle - a.middle) / across;
    let centre = lerp(a.middle, b.middle, 0.5);
    let past = [1.0, -1.0].map(|s| centre + pt(-way.y, way.x) * (s * width));
    within && past.iter().all(|p| over.contains(*p))
}

#[cfg(test)]
mod tests {
    use crate::drawing::{self, ReadOptions};
    use serde_json::json;

    fn told(body: &str) -> Vec<String> {
        let svg = format!(
            "<svg xmlns='http://www.w3.org/2000/svg' width='200mm' height='200mm' viewBox='0 0 200 200'>{body}</svg>"
        );
        let job = json!({"settlay": 1, "drawing": "-", "cloths": [{"name": "fen", "width_mm": 500}],
            "pieces": [{"select": {"id": "*"}, "cloth": "fen", "underlap_mm": 3}]});
        let job = crate::job::parse(&job.to_string(), "job").unwrap();
        let drawing = drawing::parse(svg.as_bytes(), "d.svg", &ReadOptions::default()).unwrap();
        let notes = drawing::pieces(&job, &drawing).unwrap().notes;
        notes.iter().filter(|n| n.text.starts_with("Segments that meet")).map(|n| n.text.clone()).collect()
    }

    const BAND: &str = "<path id='band' d='M0 90h200v20h-200z'/>";
    const LEFT: &str = "<path id='below' d='M90 110h20v60h-20z'/>";
    const RIGHT: &str = "<path id='above' d='M90 20h20v70h-20z'/>";

    #[test]
    fn segments_that_stop_at_a_band_from_both_sides_go_beneath_it() {
        assert!(told(&format!("{LEFT}{RIGHT}{BAND}")).is_empty(), "drawn first: as it should be");
        let one = told(&format!("{LEFT}{BAND}{RIGHT}"));
        assert_eq!(one.len(), 1);
        assert!(one[0].contains("below and above beneath band (above drawn above it)"), "{one:?}");
        let both = told(&format!("{BAND}{LEFT}{RIGHT}"));
        assert!(both[0].contains("(below and above drawn above it)"), "{both:?}");
    }

    #[test]
    fn what_only_lies_beside_is_no_band_beneath() {
        // Three tiles in a row.
        assert!(told(
            "<path id='a' d='M10 10h20v20h-20z'/><path id='b' d='M30 10h20v20h-20z'/><path id='c' d='M50 10h20v20h-20z'/>"
        )
        .is_empty());
        // Two that stop at a band a long way apart.
        assert!(told(&format!("{BAND}{LEFT}<path id='far' d='M150 20h20v70h-20z'/>")).is_empty());
        // One alone.
        assert!(told(&format!("{BAND}{LEFT}")).is_empty());
        // Overlapping ones lie where the stacking has them.
        assert!(told(&format!("{BAND}<path id='over' d='M90 20h20v150h-20z'/>")).is_empty());
    }
}
