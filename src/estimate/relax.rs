//! Rules that might be given up, one at a time.

use crate::cloth::Cloth;
use crate::drawing::Piece;
use crate::job::{EACH, Grain, Match, PieceRule, Weave};

/// What is laid: a cloth, its pieces and rules, the gap.
#[derive(Clone, Debug)]
pub(super) struct Case {
    /// The cloth.
    pub cloth: Cloth,
    /// The pieces cut from it.
    pub pieces: Vec<Piece>,
    /// The job's rules.
    pub rules: Vec<PieceRule>,
    /// Least distance between pieces, mm.
    pub gap_mm: f64,
}

impl Case {
    /// True when its lay must begin at a certain place of the repeat along: a piece is bound to the cloth's own
    /// pattern, not only to its group.
    pub fn is_bound(&self) -> bool {
        let along = self.cloth.pattern.as_ref().is_some_and(|p| p.lattice.b.is_some());
        along
            && self.pieces.iter().any(|p| match p.matching {
                Match::Centred => true,
                Match::Drawn => self.given(&p.group),
                Match::Free | Match::Pair => false,
            })
    }

    fn given(&self, group: &str) -> bool {
        let of = |p: &&Piece| p.matching == Match::Drawn && p.group == group;
        self.pieces
            .iter()
            .filter(of)
            .any(|p| self.rules.get(p.rule).is_some_and(|r| r.pattern_at_mm.is_some()))
    }

    fn rules_used(&self) -> impl Iterator<Item = &PieceRule> {
        let used = |k: usize| self.pieces.iter().any(|p| p.rule == k);
        self.rules.iter().enumerate().filter(move |(k, _)| used(*k)).map(|(_, r)| r)
    }

    /// The case with one rule given up each, and how that is put to a maker.
    pub fn relaxed(&self) -> Vec<(String, Case)> {
        let mut all = Vec::new();
        let matched = self.pieces.iter().any(|p| p.matching != Match::Free);
        let pattern = self.cloth.pattern.as_ref();
        if self.cloth.nap && pattern.is_none_or(|p| p.half_turn) {
            let cloth = Cloth { nap: false, ..self.cloth.clone() };
            all.push(("allow a half turn (against the nap)".into(), Case { cloth, ..self.clone() }));
        }
        if let Some(p) = pattern.filter(|p| !p.half_turn && !matched && !self.cloth.nap) {
            let turned = crate::cloth::Pattern { half_turn: true, ..p.clone() };
            let cloth = Cloth { pattern: Some(turned), ..self.cloth.clone() };
            all.push((
                "allow a half turn (the order of stripes then runs backwards)".into(),
                Case { cloth, ..self.clone() },
            ));
        }
        if matched && pattern.is_some() {
            let mut free = self.clone();
            free.pieces.iter_mut().for_each(|p| p.matching = Match::Free);
            free.rules.iter_mut().for_each(|r| r.matching = Match::Free);
            all.push(("let the pattern fall as it may (match free)".into(), free));
        }
        all.extend(self.kept_apart());
        all.extend(self.turned());
        let given = self.pieces.iter().any(|p| p.matching == Match::Drawn && self.given(&p.group));
        if given && pattern.is_some() {
            let mut open = self.clone();
            open.rules.iter_mut().for_each(|r| r.pattern_at_mm = None);
            all.push(("let the lay choose where the pattern falls (no pattern_at_mm)".into(), open));
        }
        if pattern.is_none() {
            let turns = self.cloth.weave == Weave::Plain && !self.cloth.nap;
            if turns && self.rules_used().any(|r| matches!(r.grain, Grain::Along | Grain::Across)) {
                let mut either = self.clone();
                either.rules.iter_mut().filter(|r| matches!(r.grain, Grain::Along | Grain::Across)).for_each(
                    |r| {
                        r.grain = Grain::Either;
                    },
                );
                all.push(("let the grain run along or across (grain either)".into(), either));
            }
            let tight = |r: &PieceRule| r.grain != Grain::Any && r.grain_tolerance_deg < OFF_GRAIN_DEG;
            if self.rules_used().any(tight) {
                let mut loose = self.clone();
                let all_tight = loose.rules.iter_mut().filter(|r| tight(r));
                all_tight.for_each(|r| r.grain_tolerance_deg = OFF_GRAIN_DEG);
                all.push((format!("let pieces lie up to {OFF_GRAIN_DEG}° off the grain"), loose));
            }
        }
        if self.gap_mm >= LEAST_GAP_HALVED_MM {
            let gap_mm = self.gap_mm / 2.0;
            all.push((
                format!("a gap of {gap_mm} mm in place of {} mm", self.gap_mm),
                Case { gap_mm, ..self.clone() },
            ));
        }
        all
    }

    /// Every piece of a group with a place of the pattern of its own; `None` where no group has several.
    fn kept_apart(&self) -> Option<(String, Case)> {
        self.cloth.pattern.as_ref()?;
        let may = |p: &Piece| matches!(p.matching, Match::Drawn | Match::Centred);
        let shares = |p: &Piece| self.pieces.iter().any(|o| may(o) && o.group == p.group && o.id != p.id);
        let grouped = |p: &Piece| may(p) && !self.given(&p.group) && shares(p);
        if !self.pieces.iter().any(grouped) {
            return None;
        }
        let mut each = self.clone();
        for (piece, was) in each.pieces.iter_mut().zip(&self.pieces).filter(|(_, was)| grouped(was)) {
            piece.group = format!("{} {}", was.group, was.id);
            if let Some(rule) = each.rules.get_mut(piece.rule) {
                rule.group = Some(EACH.into());
            }
        }
        Some(("let every piece have a place of the pattern of its own (group each)".into(), each))
    }

    /// Groups whose pattern runs through or mirrors turned by a quarter as a whole; `None` where there are none.
    fn turned(&self) -> Option<(String, Case)> {
        self.cloth.pattern.as_ref().filter(|_| !self.cloth.nap)?;
        let bound = |k: usize| {
            let of_rule = |p: &&Piece| p.rule == k && matches!(p.matching, Match::Drawn | Match::Pair);
            self.pieces.iter().any(|p| of_rule(&p))
        };
        let mut either = self.clone();
        let mut any = false;
        for (k, rule) in either.rules.iter_mut().enumerate() {
            if bound(k) && matches!(rule.grain, Grain::Along | Grain::Across) {
                (rule.grain, any) = (Grain::Either, true);
            }
        }
        let line = matches!(self.cloth.weave, Weave::TwillZ | Weave::TwillS);
        let look = if line { "; across, the twill's line leans the other way" } else { "" };
        any.then(|| (format!("let whole groups lie along or across (grain either{look})"), either))
    }
}

/// How far off the grain is offered, degrees (common practice, no source).
const OFF_GRAIN_DEG: f64 = 3.0;

/// Gaps below this are not offered halved, mm: the kerf and scorched edge need some.
const LEAST_GAP_HALVED_MM: f64 = 2.0;
