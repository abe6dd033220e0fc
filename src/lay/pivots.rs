//! Matches that go by a pivot need to know where one is.

use crate::cloth::Cloth;
use crate::job::{Match, PieceRule};
use crate::say::Trouble;

/// Why a rule cannot be kept on a cloth of whose pattern no pivot is known; `None` where it can. `place` names the rule:
/// `pieces[2]`.
pub fn unknown(rule: &PieceRule, cloth: &Cloth, place: &str) -> Option<Trouble> {
    let by_pivot = matches!(rule.matching, Match::Centred | Match::Pair);
    let pattern = cloth.pattern.as_ref().filter(|p| by_pivot && !p.pivots_known)?;
    let way = if pattern.half_turn { "" } else { ", if it has any" };
    let what = format!(
        "\"{}\" goes by a pivot of the pattern, and where on cloth {} its pivots lie{way} is not known: {}",
        rule.matching.word(),
        cloth.name,
        if cloth.photo.is_some() {
            "a photograph shows the repeat from any corner on"
        } else {
            "pattern.pivot_at_origin says that none is measured"
        }
    );
    let hint = "give the cloth's thread count (pattern.warp, with ends_per_cm and picks_per_cm); or put pattern.origin_mm on a \
                spot where a pivot across meets a pivot along, measured on the cloth, and set pattern.pivot_at_origin to \
                true; or set match to \"drawn\" or \"free\" (and leave anchor_mm out)";
    Some(Trouble::cannot(format!("{place}.match"), what).hint(hint))
}
