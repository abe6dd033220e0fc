//! Pieces, rules and cloths that tests of the lay build their jobs from.
#![allow(missing_docs, dead_code, clippy::unwrap_used)]

use settlay::cloth::{Cloth, Pattern};
use settlay::drawing::Piece;
use settlay::job::{Grain, LaySpec, LockedSpec, Match, PieceRule, Select, ShapeKind, Weave};
use settlay::lay::{self, Lay, Request};
use settlay::say::{Quiet, Trouble};
use settlay::shape::{Bounds, Lattice, Point, Region, pt};

pub fn rule(matching: Match) -> PieceRule {
    PieceRule {
        select: Select::default(),
        cloth: "cloth".into(),
        count: 1,
        grain: Grain::Along,
        grain_deg: 0.0,
        grain_tolerance_deg: 0.0,
        matching,
        group: None,
        pattern_at_mm: None,
        anchor_mm: None,
        allowance_mm: 0.0,
        underlap_mm: 0.0,
        shape: ShapeKind::Fill,
    }
}

pub fn piece(id: &str, region: Region, rule: usize, matching: Match, group: &str) -> Piece {
    Piece {
        id: id.into(),
        element: 0,
        rule,
        cloth: 0,
        count: 1,
        cut: region.clone(),
        anchor: region.bounds().centre(),
        drawn: region,
        matching,
        group: group.into(),
    }
}

pub fn rect(x: f64, y: f64, w: f64, h: f64) -> Region {
    Region::rectangle(Bounds::new(pt(x, y), pt(x + w, y + h)))
}

pub fn cloth(width: f64, length: Option<f64>, pattern: Option<(Lattice, bool)>) -> Cloth {
    let long = length.unwrap_or(Cloth::OPEN_LENGTH_MM);
    Cloth {
        name: "cloth".into(),
        stock: None,
        weave: Weave::Plain,
        nap: false,
        outline: rect(0.0, 0.0, width, long).outline,
        open_length: length.is_none(),
        edge_mm: 10.0,
        flaws: Vec::new(),
        pattern: pattern.map(|(lattice, half_turn)| Pattern::measured(lattice, half_turn)),
        match_tolerance_mm: 0.0,
        photo: None,
        colour: [90, 90, 90],
    }
}

pub fn spec(effort: u32) -> LaySpec {
    LaySpec { gap_mm: 3.0, effort: Some(effort), ..LaySpec::default() }
}

/// Lays all pieces on one cloth.
pub fn do_lay(
    pieces: &[Piece],
    rules: &[PieceRule],
    cloth: &Cloth,
    spec: &LaySpec,
) -> Result<Lay, Vec<Trouble>> {
    let cloths = std::slice::from_ref(cloth);
    lay::lay(
        &Request { pieces, rules, cloths, spec, kept_clear: &[], struck: None, keep: 1, live: None },
        &Quiet,
    )
}

pub fn skewed() -> Lattice {
    Lattice { a: Some(pt(70.0, 1.1)), b: Some(pt(0.0, 64.0)), origin: pt(13.0, 7.0) }
}

/// Distance of `v` from a whole number of repeats, by trying every neighbour.
pub fn off_lattice(l: &Lattice, v: Point) -> f64 {
    let (a, b) = (l.a.unwrap(), l.b.unwrap());
    let mut best = f64::INFINITY;
    for i in -60..=60 {
        let j = ((v.y - a.y * f64::from(i)) / b.y).round();
        let w = v - a * f64::from(i) - b * j;
        best = best.min(w.x.hypot(w.y));
    }
    best
}

pub fn locked(piece: &str, copy: u32, turn_deg: f64, shift_mm: [f64; 2]) -> LockedSpec {
    LockedSpec { piece: piece.into(), copy, cloth: None, turn_deg, shift_mm }
}

pub fn told(troubles: &[Trouble]) -> String {
    troubles.iter().map(|t| format!("{t}\n")).collect()
}

pub fn lay_on(
    pieces: &[Piece],
    rules: &[PieceRule],
    cloths: &[Cloth],
    spec: &LaySpec,
) -> Result<Lay, Vec<Trouble>> {
    lay::lay(
        &Request { pieces, rules, cloths, spec, kept_clear: &[], struck: None, keep: 1, live: None },
        &Quiet,
    )
}
