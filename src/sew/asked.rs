//! Where the pattern was asked to run through from piece to neighbour, and whether it does: judged where the eye would see
//! it, in the drawing.
//!
//! It is asked wherever two pieces of one group matched `drawn` are neighbours. Neighbours of two such groups were not
//! asked to; that is told as well where their pattern breaks, unless their rule keeps its pieces apart.

use std::collections::BTreeMap;

use super::run_across::{Border, NEAR_BORDERS, borders, through};
use super::sewn::{SewnPiece, Work};
use crate::cloth::Cloth;
use crate::drawing::Piece;
use crate::job::{EACH, Match, PieceRule};
use crate::lay::{Lay, Placed};
use crate::say::Note;

/// Pairs a sentence names at most.
const MOST_NAMED: usize = 4;

/// What the notes are about.
const ABOUT: &str = "the pattern as sewn";

/// How far apart neighbours may be drawn where the border is `border_mm` wide.
pub fn near_mm(border_mm: f64) -> f64 {
    NEAR_BORDERS * border_mm
}

/// The borders of a drawing where its pattern was asked to run through, or might have been.
#[derive(Clone, Debug, Default)]
pub struct Seams {
    borders: Vec<(Border, bool)>,
}

/// Two neighbours whose pattern does not run through.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// The piece that lies higher, by index.
    pub upper: usize,
    /// The one that lies lower.
    pub lower: usize,
    /// Which copy of both.
    pub copy: u32,
    /// The cloths they are cut from, by index, the upper one's first.
    pub cloths: [usize; 2],
    /// By how much the lower pattern lies off the upper, across and along, mm; see [`RunAcross`](super::RunAcross).
    pub off_mm: [Option<f64>; 2],
}

/// What was asked of a work's pattern, and what came of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Judgement {
    /// How many places there are where it was asked to run through.
    pub asked: usize,
    /// Those at which it does not.
    pub broken: Vec<Judged>,
    /// Neighbours it was not asked to run through and does not.
    pub unasked: Vec<Judged>,
}

/// True when the pattern was asked to run through between two pieces, false when it was not though both are matched
/// `drawn`; `None` where nothing was asked of either, or they were to be kept apart.
pub fn asked(upper: &Piece, lower: &Piece, rules: &[PieceRule]) -> Option<bool> {
    let drawn = |p: &Piece| p.matching == Match::Drawn;
    let each = |p: &Piece| rules.get(p.rule).is_some_and(|r| r.group.as_deref() == Some(EACH));
    let same = upper.group == lower.group;
    (drawn(upper) && drawn(lower) && (same || !(each(upper) || each(lower)))).then_some(same)
}

/// The borders between pieces matched `drawn` within `near_mm`.
pub fn seams(pieces: &[Piece], rules: &[PieceRule], near_mm: f64) -> Seams {
    let sewn = pieces.iter().enumerate().filter(|(_, p)| p.count > 0).map(|(index, p)| SewnPiece {
        drawn: p.drawn.clone(),
        pose: crate::shape::Pose::default(),
        cloth: None,
        order: p.element,
        index,
    });
    let asked_of = |upper: usize, lower: usize| asked(&pieces[upper], &pieces[lower], rules);
    let wanted = |u: &SewnPiece, l: &SewnPiece| asked_of(u.index, l.index).is_some();
    let all = borders(&Work::new(sewn.collect()), near_mm, &wanted);
    let borders = all.into_iter().filter_map(|b| Some((b.clone(), asked_of(b.upper, b.lower)?)));
    Seams { borders: borders.collect() }
}

/// What came of the pattern at `seams` in a lay.
pub fn judge(seams: &Seams, lay: &Lay, pieces: &[Piece], cloths: &[Cloth]) -> Judgement {
    let mut placed: BTreeMap<usize, BTreeMap<u32, (usize, &Placed)>> = BTreeMap::new();
    for (c, on) in lay.cloths.iter().enumerate() {
        for p in &on.placed {
            placed.entry(p.piece).or_default().insert(p.copy, (c, p));
        }
    }
    let mut judgement = Judgement::default();
    for (border, asked) in &seams.borders {
        let (Some(uppers), Some(lowers)) = (placed.get(&border.upper), placed.get(&border.lower)) else {
            continue;
        };
        for (copy, (upper_on, upper)) in uppers {
            let Some((lower_on, lower)) = lowers.get(copy) else { continue };
            let sewn = |p: &Placed, cloth: usize| SewnPiece {
                drawn: crate::shape::Region::new(crate::shape::Ring::new(Vec::new()), Vec::new()),
                pose: p.pose,
                cloth: Some(cloth),
                order: pieces[p.piece].element,
                index: p.piece,
            };
            let (one, other) = (sewn(upper, *upper_on), sewn(lower, *lower_on));
            let Some((off_mm, runs)) = through(border, &one, &other, cloths) else { continue };
            judgement.asked += usize::from(*asked);
            if runs {
                continue;
            }
            let judged = Judged {
                upper: border.upper,
                lower: border.lower,
                copy: *copy,
                cloths: [*upper_on, *lower_on],
                off_mm,
            };
            if *asked { &mut judgement.broken } else { &mut judgement.unasked }.push(judged);
        }
    }
    judgement
}

impl Judgement {
    /// What there is to say, in whole sentences: a caution where it was asked to run through and does not.
    pub fn notes(&self, pieces: &[Piece], cloths: &[Cloth]) -> Vec<Note> {
        let mut notes = Vec::new();
        if let Some(text) = self.broken_words(pieces, cloths) {
            notes.push(Note::caution(ABOUT, text));
        } else if self.asked > 0 {
            notes.push(Note::advice(ABOUT, format!("The {}.", self.through_words())));
        }
        if !self.unasked.is_empty() {
            let text = format!(
                "Neighbours of different groups, whose pattern was not asked to run through, break it: {}. Give their \
                 rules one group name where it should.",
                listed(&self.unasked, pieces)
            );
            notes.push(Note::advice(ABOUT, text));
        }
        notes
    }

    /// That all is as asked: "pattern runs through at all 14 places where it was asked to".
    pub fn through_words(&self) -> String {
        match self.asked {
            1 => "pattern runs through at the one place where it was asked to".into(),
            n => format!("pattern runs through at all {n} places where it was asked to"),
        }
    }

    /// What is not as asked, and what would help; `None` where all is.
    pub fn broken_words(&self, pieces: &[Piece], cloths: &[Cloth]) -> Option<String> {
        if self.broken.is_empty() {
            return None;
        }
        let name = |c: usize| cloths.get(c).map_or("", |c| c.name.as_str());
        let why = match self.broken.iter().map(|b| b.cloths).find(|[one, other]| one != other) {
            Some([one, other]) => format!(
                " {} and {} are two cloths, and a group has one place for its pattern on each of them: cut neighbours \
                 from one cloth, or, where both are the same check, give their rules the same pattern_at_mm.",
                name(one),
                name(other)
            ),
            None => String::new(),
        };
        Some(format!(
            "The pattern was asked to run through at {} where pieces meet and does not at {}: {}.{why}",
            places(self.asked),
            self.broken.len(),
            listed(&self.broken, pieces)
        ))
    }
}

fn places(count: usize) -> String {
    if count == 1 { "the one place".into() } else { format!("{count} places") }
}

/// The first few pairs by name, with how far they are off.
fn listed(all: &[Judged], pieces: &[Piece]) -> String {
    let names: Vec<String> = all.iter().take(MOST_NAMED).map(|b| b.words(pieces)).collect();
    let more = all.len().saturating_sub(MOST_NAMED);
    if more > 0 { format!("{} and {more} more", names.join("; ")) } else { names.join("; ") }
}

impl Judged {
    /// The pair by name, and how far its pattern is off: "band-2 and band-1 (12.3 mm off across)".
    pub fn words(&self, pieces: &[Piece]) -> String {
        let id = |k: usize| pieces.get(k).map_or("", |p| p.id.as_str());
        let copy = if self.copy > 1 { format!(" (copy {})", self.copy) } else { String::new() };
        let off = |mm: Option<f64>, way: &str| mm.map(|mm| format!("{:.1} mm {way}", mm.abs()));
        let [across, along] = self.off_mm;
        let off: Vec<String> = [off(across, "across"), off(along, "along")].into_iter().flatten().collect();
        let off = if off.is_empty() { String::new() } else { format!(" ({} off)", off.join(" and ")) };
        format!("{} and {}{copy}{off}", id(self.upper), id(self.lower))
    }
}
