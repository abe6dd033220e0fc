//! The rules of cloth: which turns a piece may take.

use crate::cloth::{Cloth, Pattern};
use crate::job::{Grain, Match, PieceRule, Weave};
use crate::say::Trouble;
use crate::shape::tol;

use super::pivots;
use super::stand;

/// How finely a range of turns is walked, degrees.
const STEP_IN_RANGE_DEG: f64 = 1.0;

/// How finely a full turn is walked for pieces that may lie any way, degrees.
const STEP_ANY_DEG: f64 = 5.0;

/// The turns a piece may take, degrees in [0, 360), in increasing order.
///
/// The piece's own grain runs along drawing +y unless `grain_deg` says otherwise, so the base turn is
/// −`grain_deg`. Nap, or a pattern that a half turn changes, leaves one way; a twill forbids quarter turns,
/// which would make a Z line lean like an S line, unless the rule asks for one. On patterned cloth a group matched
/// `drawn` or `pair` may be turned by a quarter as a whole; that all its pieces are is for
/// [`places`](super::places::places) to see to. A tolerance widens each turn to a range on unpatterned cloth, walked
/// degree by degree and including both ends.
///
/// # Errors
/// A rule that contradicts the cloth, with what would free it. `place` names the rule: `pieces[2]`.
pub fn allowed_turns(rule: &PieceRule, cloth: &Cloth, place: &str) -> Result<Vec<f64>, Trouble> {
    if let Some(trouble) = pivots::unknown(rule, cloth, place) {
        return Err(trouble);
    }
    let base = -rule.grain_deg;
    let patterned = cloth.pattern.is_some();
    let twill = matches!(cloth.weave, Weave::TwillZ | Weave::TwillS);
    if rule.grain == Grain::Any {
        if patterned || cloth.nap || twill {
            let reason = if patterned {
                "a pattern"
            } else if cloth.nap {
                "a nap"
            } else {
                "a twill line"
            };
            return Err(Trouble::cannot(
                format!("{place}.grain"),
                format!("\"any\" on cloth \"{}\", which has {reason} and so a direction", cloth.name),
            )
            .hint("use \"along\", or lay these pieces on plain, unpatterned cloth without nap, or felt"));
        }
        let steps = (360.0 / STEP_ANY_DEG).round() as i32;
        return Ok((0..steps).map(|k| f64::from(k) * STEP_ANY_DEG).collect());
    }
    // A half turn is about a pivot: what must lie in step is not turned where none is known.
    let about = |p: &Pattern| p.half_turn && (p.pivots_known || rule.matching == Match::Free);
    let half = !cloth.nap && cloth.pattern.as_ref().is_none_or(about);
    let mut turns = if half { vec![0.0, 180.0] } else { vec![0.0] };
    match rule.grain {
        Grain::Along | Grain::Any => {}
        Grain::Across => turns.iter_mut().for_each(|t| *t += 90.0),
        Grain::Either => {
            if !cloth.nap && stand::binds(rule.matching, cloth) {
                let across: Vec<f64> = turns.iter().map(|t| t + 90.0).collect();
                turns.extend(across);
            } else if half && !patterned && !twill {
                turns.extend([90.0, 270.0]);
            }
        }
        Grain::Bias => {
            // On a twill the two bias directions look different: only the counter-clockwise one is meant.
            let ways: &[f64] = if twill { &[45.0] } else { &[45.0, -45.0] };
            turns = turns.iter().flat_map(|t| ways.iter().map(move |w| t + w)).collect();
        }
    }
    if matches!(rule.matching, Match::Drawn | Match::Pair)
        && !turns.iter().all(|t| stand::quarters(t + base).is_some())
    {
        return Err(Trouble::cannot(
            format!("{place}.match"),
            format!("\"{}\" needs the piece's grain along the cloth's or square to it", rule.matching.word()),
        )
        .hint("set grain_deg to 0 and grain to \"along\" or \"across\", or match to \"free\""));
    }
    let mut all = Vec::new();
    for t in turns {
        let t = t + base;
        all.push(t);
        if !patterned && rule.grain_tolerance_deg > 0.0 {
            let steps = (rule.grain_tolerance_deg / STEP_IN_RANGE_DEG).ceil().max(1.0);
            for k in 1..=steps as i32 {
                let off = rule.grain_tolerance_deg * f64::from(k) / steps;
                all.extend([t - off, t + off]);
            }
        }
    }
    all.iter_mut().for_each(|t| *t = t.rem_euclid(360.0));
    all.sort_by(f64::total_cmp);
    all.dedup_by(|a, b| (*a - *b).abs() < tol::SAME_TURN_DEG);
    Ok(all)
}

/// How far, degrees, an allowed turn may lie from the nearest one that [`allowed_turns`] lists.
pub fn between_turns_deg(rule: &PieceRule, cloth: &Cloth) -> f64 {
    if rule.grain == Grain::Any {
        STEP_ANY_DEG / 2.0
    } else if cloth.pattern.is_none() && rule.grain_tolerance_deg > 0.0 {
        STEP_IN_RANGE_DEG / 2.0
    } else {
        0.0
    }
}

/// Lowest and highest turn, degrees, of the ranges within which any turn is allowed; none where
/// [`allowed_turns`] lists all there are.
pub fn turn_ranges(rule: &PieceRule, cloth: &Cloth) -> Vec<(f64, f64)> {
    let off = rule.grain_tolerance_deg;
    if rule.grain == Grain::Any {
        return vec![(0.0, 360.0)];
    }
    if cloth.pattern.is_some() || off <= 0.0 {
        return Vec::new();
    }
    let exact = PieceRule { grain_tolerance_deg: 0.0, ..rule.clone() };
    allowed_turns(&exact, cloth, "").unwrap_or_default().iter().map(|t| (t - off, t + off)).collect()
}

/// True when a piece may be turned by `turn_deg`: where [`allowed_turns`] walks a range step by step, any turn
/// within the range will do.
///
/// # Errors
/// As [`allowed_turns`].
pub fn may_turn(rule: &PieceRule, cloth: &Cloth, place: &str, turn_deg: f64) -> Result<bool, Trouble> {
    let within = if cloth.pattern.is_some() { 0.0 } else { rule.grain_tolerance_deg };
    let exact = PieceRule { grain_tolerance_deg: 0.0, ..rule.clone() };
    let turns = allowed_turns(&exact, cloth, place)?;
    let off = |t: &f64| {
        let d = (turn_deg - t).rem_euclid(360.0);
        d.min(360.0 - d)
    };
    Ok(turn_deg.is_finite()
        && (rule.grain == Grain::Any || turns.iter().any(|t| off(t) <= within + tol::SAME_TURN_DEG)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::{Select, ShapeKind};
    use crate::shape::{Lattice, Ring, pt};

    fn rule(grain: Grain) -> PieceRule {
        PieceRule {
            select: Select::default(),
            cloth: "c".into(),
            count: 1,
            grain,
            grain_deg: 0.0,
            grain_tolerance_deg: 0.0,
            matching: Match::Free,
            group: None,
            pattern_at_mm: None,
            anchor_mm: None,
            allowance_mm: 0.0,
            underlap_mm: 0.0,
            shape: ShapeKind::Fill,
        }
    }

    fn cloth(weave: Weave, nap: bool, half_turn: Option<bool>) -> Cloth {
        Cloth {
            name: "c".into(),
            stock: None,
            weave,
            nap,
            outline: Ring::from_pairs(&[[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]]),
            open_length: false,
            edge_mm: 0.0,
            flaws: Vec::new(),
            pattern: half_turn.map(|half_turn| {
                let lattice =
                    Lattice { a: Some(pt(10.0, 0.0)), b: Some(pt(0.0, 10.0)), origin: pt(0.0, 0.0) };
                Pattern::measured(lattice, half_turn)
            }),
            match_tolerance_mm: 0.0,
            photo: None,
            colour: [0, 0, 0],
        }
    }

    /// Twill has no up or down, a quarter turn flips its look; nap and uneven checks lay every piece head
    /// the same way ("with nap" layout): sewing.org "Working with Plaids"; Vilumsone-Nemes, Industrial
    /// Cutting of Textile Materials, p. 20 and 231; twill under turns: derived, common practice.
    #[test]
    fn the_table_of_turns() {
        let t = |g, w, nap, pat| allowed_turns(&rule(g), &cloth(w, nap, pat), "pieces[0]").unwrap();
        assert_eq!(t(Grain::Along, Weave::Plain, true, None), [0.0]);
        assert_eq!(t(Grain::Either, Weave::Plain, true, None), [0.0]);
        assert_eq!(t(Grain::Along, Weave::TwillZ, false, Some(false)), [0.0]);
        assert_eq!(t(Grain::Along, Weave::TwillZ, false, Some(true)), [0.0, 180.0]);
        assert_eq!(t(Grain::Along, Weave::TwillS, false, None), [0.0, 180.0]);
        assert_eq!(t(Grain::Either, Weave::TwillS, false, None), [0.0, 180.0]);
        assert_eq!(t(Grain::Along, Weave::Plain, false, None), [0.0, 180.0]);
        assert_eq!(t(Grain::Either, Weave::Plain, false, None), [0.0, 90.0, 180.0, 270.0]);
        assert_eq!(t(Grain::Across, Weave::TwillZ, false, None), [90.0, 270.0]);
        assert_eq!(t(Grain::Bias, Weave::Plain, false, None), [45.0, 135.0, 225.0, 315.0]);
        assert_eq!(t(Grain::Bias, Weave::Felt, false, None), [45.0, 135.0, 225.0, 315.0]);
        assert_eq!(t(Grain::Bias, Weave::TwillZ, false, None), [45.0, 225.0]);
        assert_eq!(t(Grain::Any, Weave::Felt, false, None).len(), 72);
    }

    #[test]
    fn any_way_on_a_cloth_with_a_direction_is_refused() {
        for c in [
            cloth(Weave::Plain, true, None),
            cloth(Weave::TwillZ, false, None),
            cloth(Weave::Plain, false, Some(true)),
        ] {
            let e = allowed_turns(&rule(Grain::Any), &c, "pieces[3]").unwrap_err();
            assert!(e.about == "pieces[3].grain" && !e.hint.is_empty());
        }
    }

    #[test]
    fn a_tolerance_widens_to_both_ends_on_plain_cloth_only() {
        let mut r = rule(Grain::Along);
        r.grain_tolerance_deg = 2.5;
        r.grain_deg = 10.0;
        let plain = allowed_turns(&r, &cloth(Weave::Plain, true, None), "p").unwrap();
        assert_eq!(plain.len(), 7);
        assert!((plain[0] - 347.5).abs() < 1e-9 && (plain[6] - 352.5).abs() < 1e-9);
        let check = allowed_turns(&r, &cloth(Weave::Plain, false, Some(true)), "p").unwrap();
        assert_eq!(check, [170.0, 350.0]);
    }

    #[test]
    fn a_group_matched_to_the_pattern_lies_along_or_across_and_no_other_way() {
        for matching in [Match::Drawn, Match::Pair] {
            let t = |grain, w, nap, half| {
                let r = PieceRule { matching, ..rule(grain) };
                allowed_turns(&r, &cloth(w, nap, Some(half)), "p")
            };
            assert_eq!(t(Grain::Along, Weave::TwillZ, false, true).unwrap(), [0.0, 180.0]);
            assert_eq!(t(Grain::Across, Weave::TwillZ, false, true).unwrap(), [90.0, 270.0]);
            assert_eq!(t(Grain::Either, Weave::TwillZ, false, true).unwrap(), [0.0, 90.0, 180.0, 270.0]);
            assert_eq!(t(Grain::Either, Weave::Plain, false, false).unwrap(), [0.0, 90.0]);
            // Nap keeps one way: along unless the maker asks for across.
            assert_eq!(t(Grain::Across, Weave::Plain, true, true).unwrap(), [90.0]);
            assert_eq!(t(Grain::Either, Weave::Plain, true, true).unwrap(), [0.0]);
            assert!(t(Grain::Bias, Weave::Plain, false, true).is_err());
            let off = PieceRule { matching, grain_deg: 15.0, ..rule(Grain::Along) };
            assert!(allowed_turns(&off, &cloth(Weave::Plain, false, Some(true)), "p").is_err());
        }
    }
}
