//! Which pieces of a group matched `pair` belong together: each other's mirror image, left to right.
//!
//! Where several would do, the drawing decides: pieces that face each other across one upright line are meant, and the
//! line that most of them face each other across comes first.

use std::collections::{BTreeMap, BTreeSet};

use crate::drawing::Piece;
use crate::job::Match;
use crate::say::Trouble;
use crate::shape::{Region, Ring, booleans, pt, tol};

use super::places::Single;

/// Share of their area by which two pieces may differ and still be each other's mirror image.
const MIRROR_SHARE: f64 = 0.01;

/// Names a trouble lists at most.
const MOST_NAMED: usize = 6;

/// The pairs among `singles`, all of one group, by their place in it; one whose other half is not among them is in none.
///
/// # Errors
/// Pieces of the group without a mirror image in it, or with several.
pub fn pairs(pieces: &[Piece], singles: &[Single]) -> Result<Vec<(usize, usize)>, Trouble> {
    let Some(first) = singles.first().map(|s| &pieces[s.0]) else { return Ok(Vec::new()) };
    let all = of_group(pieces, &first.group)?;
    let place: BTreeMap<Single, usize> = singles.iter().enumerate().map(|(k, s)| (*s, k)).collect();
    let mut found = Vec::new();
    for (one, other) in all {
        let count = pieces[one].count;
        let copies: Vec<(Single, Single)> = if one == other {
            (1..count).step_by(2).map(|copy| ((one, copy), (one, copy + 1))).collect()
        } else {
            (1..=count).map(|copy| ((one, copy), (other, copy))).collect()
        };
        found.extend(copies.iter().filter_map(|(a, b)| Some((*place.get(a)?, *place.get(b)?))));
    }
    Ok(found)
}

/// The pairs of a group, by piece; a piece cut several times may be its own other half.
///
/// # Errors
/// Pieces without a mirror image in the group, or with several.
pub fn of_group(pieces: &[Piece], group: &str) -> Result<Vec<(usize, usize)>, Trouble> {
    let of_group = |p: &Piece| p.matching == Match::Pair && p.group == group && p.count > 0;
    let members: Vec<usize> = (0..pieces.len()).filter(|k| of_group(&pieces[*k])).collect();
    let left: BTreeSet<usize> = members.iter().copied().collect();
    let mut pairing = Pairing { pieces, left, mirrors: BTreeMap::new(), pairs: Vec::new() };
    // Pieces that are drawn alike are compared once.
    let mut shapes: BTreeMap<Vec<[i64; 2]>, usize> = BTreeMap::new();
    let shape: Vec<usize> = members
        .iter()
        .map(|&k| {
            let next = shapes.len();
            *shapes.entry(drawn_as(&pieces[k])).or_insert(next)
        })
        .collect();
    let mut known: BTreeMap<(usize, usize), bool> = BTreeMap::new();
    for (k, &one) in members.iter().enumerate() {
        for (l, &other) in members.iter().enumerate().skip(k) {
            let alike = known
                .entry((shape[k], shape[l]))
                .or_insert_with(|| is_mirror_image(&pieces[one], &pieces[other]));
            if *alike {
                pairing.mirrors.entry(one).or_default().push(other);
                if other != one {
                    pairing.mirrors.entry(other).or_default().push(one);
                }
            }
        }
    }
    pairing.face_to_face()?;
    pairing.only_ones();
    pairing.with_themselves();
    pairing.done()
}

/// Which pieces were taken for a pair, by name: "left with right"; of the groups that have more than one.
pub fn pairs_by_name(pieces: &[Piece], on_pattern: &dyn Fn(&Piece) -> bool) -> Vec<(String, String)> {
    let of_pair = |p: &&Piece| p.matching == Match::Pair && p.count > 0 && on_pattern(p);
    let mut groups: Vec<&str> = pieces.iter().filter(of_pair).map(|p| p.group.as_str()).collect();
    groups.sort_unstable();
    groups.dedup();
    let named = |group: &str| {
        // What cannot be paired is refused when it is laid.
        let pairs = of_group(pieces, group).ok().filter(|p| p.len() > 1)?;
        let id = |k: usize| pieces[k].id.as_str();
        let words = pairs.iter().map(|&(one, other)| match one == other {
            true => format!("copies of {}", id(one)),
            false => format!("{} with {}", id(one), id(other)),
        });
        Some((group.to_owned(), words.collect::<Vec<_>>().join(", ")))
    };
    groups.into_iter().filter_map(named).collect()
}

struct Pairing<'a> {
    pieces: &'a [Piece],
    /// Pieces without a partner yet.
    left: BTreeSet<usize>,
    /// For each piece all that are its mirror image, itself among them where it is.
    mirrors: BTreeMap<usize, Vec<usize>>,
    pairs: Vec<(usize, usize)>,
}

impl Pairing<'_> {
    fn take(&mut self, one: usize, other: usize) {
        self.pairs.push((one.min(other), one.max(other)));
        self.left.remove(&one);
        self.left.remove(&other);
    }

    /// Mirror images of a piece that have no partner yet either.
    fn candidates(&self, one: usize) -> Vec<usize> {
        let all = self.mirrors.get(&one).map_or(&[][..], |m| m);
        all.iter().copied().filter(|k| *k != one && self.left.contains(k)).collect()
    }

    /// Pieces that face each other across an upright line of the drawing: most of them at once.
    fn face_to_face(&mut self) -> Result<(), Trouble> {
        loop {
            // Twice the line's place across, and the two that face each other there.
            let mut facing: Vec<(f64, usize, usize)> = Vec::new();
            for &one in &self.left {
                for other in self.candidates(one).into_iter().filter(|o| *o > one) {
                    let (a, b) = (self.pieces[one].anchor, self.pieces[other].anchor);
                    if (a.y - b.y).abs() <= tol::ALONGSIDE_MM {
                        facing.push((a.x + b.x, one, other));
                    }
                }
            }
            facing.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
            let apart =
                |a: &(f64, usize, usize), b: &(f64, usize, usize)| b.0 - a.0 <= 2.0 * tol::ALONGSIDE_MM;
            let lines: Vec<&[(f64, usize, usize)]> = facing.chunk_by(apart).collect();
            let Some(most) = lines.iter().map(|l| l.len()).max() else { return Ok(()) };
            let best: Vec<&&[(f64, usize, usize)]> = lines.iter().filter(|l| l.len() == most).collect();
            let mut chosen: BTreeMap<usize, usize> = BTreeMap::new();
            for (_, one, other) in best.iter().flat_map(|l| l.iter()) {
                for (k, with) in [(one, other), (other, one)] {
                    if let Some(also) = chosen.insert(*k, *with) {
                        return Err(self.ambiguous(*k, &[also, *with]));
                    }
                }
            }
            chosen
                .into_iter()
                .filter(|(one, other)| one < other)
                .for_each(|(one, other)| self.take(one, other));
        }
    }

    /// Pieces that are the only mirror image of each other, wherever they are drawn.
    fn only_ones(&mut self) {
        for one in self.left.iter().copied().collect::<Vec<_>>() {
            if let [other] = self.candidates(one)[..]
                && self.left.contains(&one)
                && self.candidates(other).len() == 1
            {
                self.take(one, other);
            }
        }
    }

    /// Pieces that are their own mirror image, cut several times.
    fn with_themselves(&mut self) {
        for one in self.left.iter().copied().collect::<Vec<_>>() {
            let own = self.mirrors.get(&one).is_some_and(|m| m.contains(&one));
            if own && self.pieces[one].count.is_multiple_of(2) && self.candidates(one).is_empty() {
                self.take(one, one);
            }
        }
    }

    fn done(self) -> Result<Vec<(usize, usize)>, Trouble> {
        if let Some((one, several)) =
            self.left.iter().map(|k| (*k, self.candidates(*k))).find(|(_, c)| c.len() > 1)
        {
            return Err(self.ambiguous(one, &several));
        }
        if !self.left.is_empty() {
            let left: Vec<usize> = self.left.iter().copied().collect();
            let what = match &left[..] {
                [one] => format!("piece {} has no mirror image in its group", self.pieces[*one].id),
                left => format!("pieces {} have no mirror image in their group", self.names(left)),
            };
            let hint = "a pair needs two pieces that mirror each other left to right; give single pieces a rule of \
                        their own with match \"free\"";
            return Err(Trouble::cannot("", what).hint(hint));
        }
        for &(one, other) in &self.pairs {
            let (a, b) = (&self.pieces[one], &self.pieces[other]);
            if a.cloth != b.cloth {
                let what = format!(
                    "pieces {} and {} mirror each other but are cut from different cloths",
                    a.id, b.id
                );
                return Err(
                    Trouble::cannot("", what).hint("name one cloth for both, or set match to \"free\"")
                );
            }
            if a.count != b.count {
                let what = format!(
                    "piece {} is cut {} times and its mirror image {} {} times",
                    a.id, a.count, b.id, b.count
                );
                return Err(Trouble::cannot("", what).hint("give both the same count"));
            }
        }
        Ok(self.pairs)
    }

    fn ambiguous(&self, one: usize, several: &[usize]) -> Trouble {
        let what = format!(
            "piece {} might be paired with {} as well as with {}",
            self.pieces[one].id,
            self.pieces[several[0]].id,
            self.names(&several[1..])
        );
        Trouble::cannot("", what).hint("give each pair a rule of its own, so that there is no doubt")
    }

    fn names(&self, all: &[usize]) -> String {
        let names: Vec<&str> = all.iter().take(MOST_NAMED).map(|k| self.pieces[*k].id.as_str()).collect();
        let more = all.len().saturating_sub(MOST_NAMED);
        if more > 0 { format!("{} and {more} more", names.join(", ")) } else { names.join(", ") }
    }
}

/// The drawn edge seen from the piece's anchor, in steps far below what is told apart.
fn drawn_as(piece: &Piece) -> Vec<[i64; 2]> {
    let steps = |v: f64| (v / tol::SAME_POINT_MM).round() as i64;
    let rings = std::iter::once(&piece.drawn.outline).chain(&piece.drawn.cutouts);
    rings
        .flat_map(|r| r.points.iter().map(|p| [steps(p.x - piece.anchor.x), steps(p.y - piece.anchor.y)]))
        .collect()
}

fn is_mirror_image(one: &Piece, other: &Piece) -> bool {
    let (a, b) = (one.drawn.area(), other.drawn.area());
    if (a - b).abs() > MIRROR_SHARE * b {
        return false;
    }
    let mirrored =
        |r: &Ring| r.map(|p| pt(one.anchor.x - p.x + other.anchor.x, p.y - one.anchor.y + other.anchor.y));
    let image = Region::new(mirrored(&one.drawn.outline), one.drawn.cutouts.iter().map(mirrored).collect());
    if !image.bounds().meets(other.drawn.bounds()) {
        return false;
    }
    let shared: f64 =
        booleans::intersection(&[image], std::slice::from_ref(&other.drawn)).iter().map(|r| r.area()).sum();
    a + b - 2.0 * shared < 2.0 * MIRROR_SHARE * b
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::Point;

    /// A flag of a height of its own whose slant looks right or left, its box's lower left corner at `at`.
    fn piece(id: &str, at: Point, right: bool, height: f64, count: u32) -> Piece {
        let corners = [[0.0, 0.0], [30.0, 0.0], [10.0, height], [0.0, height]];
        let ring = Ring::from_pairs(&corners).map(|p| if right { p } else { pt(30.0 - p.x, p.y) });
        let ring = if right { ring } else { ring.reversed() };
        of(id, Region::new(ring.map(|p| p + at), Vec::new()), count)
    }

    fn square(id: &str, at: Point, count: u32) -> Piece {
        let ring = Ring::from_pairs(&[[0.0, 0.0], [8.0, 0.0], [8.0, 8.0], [0.0, 8.0]]).map(|p| p + at);
        of(id, Region::new(ring, Vec::new()), count)
    }

    fn of(id: &str, region: Region, count: u32) -> Piece {
        Piece {
            id: id.into(),
            element: 0,
            rule: 0,
            cloth: 0,
            count,
            cut: region.clone(),
            anchor: region.bounds().centre(),
            drawn: region,
            matching: Match::Pair,
            group: "wings".into(),
        }
    }

    fn names(pieces: &[Piece]) -> Vec<(String, String)> {
        let mut all: Vec<(String, String)> = of_group(pieces, "wings")
            .unwrap()
            .iter()
            .map(|(a, b)| (pieces[*a].id.clone(), pieces[*b].id.clone()))
            .collect();
        all.sort();
        all
    }

    fn said(pieces: &[Piece]) -> String {
        of_group(pieces, "wings").unwrap_err().to_string()
    }

    fn two(a: &str, b: &str) -> (String, String) {
        (a.into(), b.into())
    }

    #[test]
    fn wings_of_one_rule_find_each_other_across_the_middle() {
        // Two pairs of one shape one above the other, and a third of another.
        let pieces = [
            piece("a-left", pt(0.0, 0.0), true, 20.0, 1),
            piece("b-left", pt(10.0, 50.0), true, 20.0, 1),
            piece("c-left", pt(20.0, 90.0), true, 33.0, 1),
            piece("c-right", pt(150.0, 90.0), false, 33.0, 1),
            piece("a-right", pt(170.0, 0.0), false, 20.0, 1),
            piece("b-right", pt(160.0, 50.0), false, 20.0, 1),
        ];
        let want = [two("a-left", "a-right"), two("b-left", "b-right"), two("c-left", "c-right")];
        assert_eq!(names(&pieces), want);
    }

    #[test]
    fn the_line_that_most_face_each_other_across_comes_first() {
        let row: Vec<Piece> =
            [0.0, 20.0, 40.0, 60.0].iter().map(|x| square(&format!("s{x}"), pt(*x, 0.0), 1)).collect();
        assert_eq!(names(&row), [two("s0", "s60"), two("s20", "s40")]);
    }

    #[test]
    fn mirror_images_drawn_anywhere_are_a_pair_when_there_is_no_other() {
        let pieces =
            [piece("one", pt(0.0, 0.0), true, 20.0, 2), piece("two", pt(17.0, 81.0), false, 20.0, 2)];
        assert_eq!(names(&pieces), [two("one", "two")]);
        let singles = [(0, 1), (0, 2), (1, 1), (1, 2)];
        assert_eq!(pairs(&pieces, &singles).unwrap(), [(0, 2), (1, 3)]);
        // One that is not on the cloth leaves its partner alone.
        assert_eq!(pairs(&pieces, &singles[..3]).unwrap(), [(0, 2)]);
    }

    #[test]
    fn a_piece_that_is_its_own_mirror_image_pairs_its_copies() {
        let pieces = [square("boss", pt(0.0, 0.0), 4)];
        assert_eq!(pairs(&pieces, &[(0, 1), (0, 2), (0, 3), (0, 4)]).unwrap(), [(0, 1), (2, 3)]);
        assert!(said(&[square("boss", pt(0.0, 0.0), 3)]).contains("piece boss has no mirror image"));
    }

    #[test]
    fn what_is_odd_or_in_doubt_is_named() {
        let left = piece("left", pt(0.0, 0.0), true, 20.0, 1);
        let right = piece("right", pt(100.0, 0.0), false, 20.0, 1);
        let odd = [left.clone(), right.clone(), square("boss", pt(60.0, 3.0), 1)];
        assert!(said(&odd).contains("piece boss has no mirror image in its group"), "{}", said(&odd));
        let doubt = [left.clone(), right.clone(), piece("other", pt(200.0, 0.0), false, 20.0, 1)];
        let text = said(&doubt);
        assert!(text.contains("piece left might be paired with right as well as with other"), "{text}");
        let apart = [left.clone(), Piece { cloth: 1, ..right.clone() }];
        assert!(said(&apart).contains("different cloths"));
        let more = [left, Piece { count: 3, ..right }];
        assert!(said(&more).contains("cut 1 times and its mirror image right 3 times"));
    }
}
