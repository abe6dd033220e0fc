//! Pieces larger than their cloth or than the bed.

use geo::ConvexHull;

use super::{Fault, FaultKind, Severity, Sizes, Turns};
use crate::drawing::Piece;
use crate::shape::{Point, tol, turn_cos_sin};

/// When any turn is allowed, turns this far apart are tried besides those that lay a side of the piece's
/// hull along the cloth, degrees.
const STEP_DEG: f64 = 0.25;

/// Pieces larger than their cloth in every allowed turn, and pieces that no pass can cut at once.
pub(super) fn find(pieces: &[Piece], sizes: &Sizes) -> Vec<Fault> {
    pieces.iter().filter(|p| p.cut.is_sane()).flat_map(|piece| of_piece(piece, sizes)).collect()
}

fn of_piece(piece: &Piece, sizes: &Sizes) -> Option<Fault> {
    let hull = hull(piece);
    let turns = turns(sizes.turns.get(piece.rule).unwrap_or(&Turns::Any), &hull);
    let extents: Vec<[f64; 2]> = turns.iter().map(|&t| extent(&hull, t)).collect();
    let cloth = sizes.cloths.get(piece.cloth);
    let room =
        cloth.map_or([f64::INFINITY; 2], |c| [c.1.unwrap_or(f64::INFINITY), c.2.unwrap_or(f64::INFINITY)]);
    let [across, along] = *nearest_fit(&extents, room)?;
    if !fits([across, along], room) {
        let name = cloth.map_or("", |c| c.0.as_str());
        return Some(fault(
            piece,
            FaultKind::LargerThanCloth,
            Severity::Stops,
            (across - room[0]).max(along - room[1]),
            format!(
                "It needs {across:.0} mm across and {along:.0} mm along, allowance included, but {name} \
                 offers {} across and {} along inside its edge strip.",
                length_words(room[0]),
                length_words(room[1])
            ),
            "Divide it in the drawing, or take a larger cloth.",
        ));
    }
    let on_cloth: Vec<[f64; 2]> = extents.into_iter().filter(|&e| fits(e, room)).collect();
    let [across, along] = *nearest_fit(&on_cloth, sizes.window_mm)?;
    if fits([across, along], sizes.window_mm) {
        return None;
    }
    let [w, l] = sizes.window_mm;
    Some(fault(
        piece,
        FaultKind::LargerThanBed,
        Severity::Note,
        (across - w).max(along - l),
        format!(
            "It is {across:.0} mm across and {along:.0} mm along the cloth, and the bed reaches {w:.0} mm across \
             and {l:.0} mm along: it will be cut in several passes."
        ),
        "Nothing needs doing; the joints are put where they show least.",
    ))
}

fn fault(
    piece: &Piece,
    kind: FaultKind,
    severity: Severity,
    size_mm: f64,
    text: String,
    advice: &str,
) -> Fault {
    Fault {
        kind,
        element: piece.id.clone(),
        stacking: piece.element,
        line: 0,
        at: piece.cut.bounds().centre(),
        size_mm,
        severity,
        text,
        advice: advice.to_string(),
        more: 0,
        also: Vec::new(),
    }
}

fn length_words(mm: f64) -> String {
    if mm.is_finite() { format!("{mm:.0} mm") } else { "as much as is needed".to_string() }
}

fn hull(piece: &Piece) -> Vec<Point> {
    let line: geo::LineString<f64> = geo::LineString::new(piece.cut.outline.points.clone());
    line.convex_hull().exterior().0.clone()
}

/// The turns to try, degrees.
fn turns(allowed: &Turns, hull: &[Point]) -> Vec<f64> {
    match allowed {
        Turns::Only(turns) => turns.clone(),
        Turns::Any => {
            let steps = (0..(180.0 / STEP_DEG) as u32).map(|k| f64::from(k) * STEP_DEG);
            let sides = hull.windows(2).map(|w| w[1] - w[0]).map(|d| -libm::atan2(d.y, d.x).to_degrees());
            steps.chain(sides.flat_map(|t| [t, t + 90.0])).collect()
        }
    }
}

/// Size across and along after a turn, mm.
fn extent(hull: &[Point], turn_deg: f64) -> [f64; 2] {
    let (c, s) = turn_cos_sin(turn_deg);
    let size = |f: &dyn Fn(&Point) -> f64| {
        let (low, high) =
            hull.iter().map(f).fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
        (high - low).max(0.0)
    };
    [size(&|p| c * p.x - s * p.y), size(&|p| s * p.x + c * p.y)]
}

fn fits(extent: [f64; 2], room: [f64; 2]) -> bool {
    (0..2).all(|k| extent[k] <= room[k] + tol::CLEAR_MM)
}

/// The extent that exceeds the room least; the first of equals.
fn nearest_fit(extents: &[[f64; 2]], room: [f64; 2]) -> Option<&[f64; 2]> {
    let excess = |e: &[f64; 2]| (e[0] - room[0]).max(e[1] - room[1]).max(0.0);
    extents.iter().min_by(|a, b| excess(a).total_cmp(&excess(b)))
}
