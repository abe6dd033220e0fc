//! The gauge as a pass of its own.

use crate::burn::gauge::{BLOCKS, SIDE_MM, STRIP_MM};
use crate::job::Cutter;
use crate::say::Trouble;

use super::{Pair, PlanBurn, PlanPass, PlanTime};

/// Waste round the gauge's parts, mm.
const AROUND_MM: f64 = 10.0;

/// The gauge at the near left corner of the bed: a square, and beyond it a strip cut into blocks. Burnt along its nominal
/// lines, without kerf; inner cuts first. `cloth` is what it is cut in.
///
/// # Errors
/// A bed too small for it.
pub fn gauge_pass(cutter: &Cutter, cloth: &str) -> Result<PlanPass, Trouble> {
    let at = cutter.margin_mm + AROUND_MM;
    let strip = at + SIDE_MM + AROUND_MM;
    let needed = [at + SIDE_MM + at, strip + STRIP_MM + at];
    if cutter.bed_mm[0] < needed[0] || cutter.bed_mm[1] < needed[1] {
        let what = format!(
            "the gauge needs a bed of {} × {} mm, margins counted; this one has {} × {} mm",
            needed[0], needed[1], cutter.bed_mm[0], cutter.bed_mm[1]
        );
        return Err(Trouble::cannot("cutter.bed_mm", what));
    }
    let burn = |kind: &str, piece: String, closed: bool, path: Vec<Pair>| PlanBurn {
        kind: kind.into(),
        piece,
        copy: 1,
        ring: 0,
        closed,
        lead_in: None,
        path,
    };
    let block = SIDE_MM / BLOCKS as f64;
    let mut burns: Vec<PlanBurn> = (1..BLOCKS)
        .map(|k| {
            let x = at + block * k as f64;
            // To and fro.
            let (from, to) = if k % 2 == 1 { (strip, strip + STRIP_MM) } else { (strip + STRIP_MM, strip) };
            burn("cutout", format!("block {k}"), false, vec![[x, from], [x, to]])
        })
        .collect();
    let rectangle =
        |y: f64, high: f64| vec![[at, y], [at + SIDE_MM, y], [at + SIDE_MM, y + high], [at, y + high]];
    burns.push(burn("outline", "strip".into(), true, rectangle(strip, STRIP_MM)));
    burns.push(burn("outline", "square".into(), true, rectangle(at, SIDE_MM)));
    Ok(PlanPass {
        cloth: cloth.into(),
        number: 1,
        bed_mm: cutter.bed_mm,
        margin_mm: cutter.margin_mm,
        window: [0.0, 0.0, cutter.bed_mm[0], cutter.bed_mm[1]],
        cloth_to_bed: [1.0, 0.0, 0.0, 1.0, 0.0, 0.0],
        burns,
        marks: Vec::new(),
        joints: Vec::new(),
        key: Vec::new(),
        verdict: String::new(),
        bridges: Vec::new(),
        plain_travel_mm: 0.0,
        time: PlanTime::default(),
        cut_length_mm: 0.0,
        travel_length_mm: 0.0,
        seconds: 0.0,
    })
}
