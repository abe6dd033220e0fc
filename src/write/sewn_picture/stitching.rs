//! Border stitching: a satin of parallel stitches along the drawn edge, as wide as the cutter's `border_mm`, half of it on
//! either side.

use crate::cloth::Cloth;

use super::super::colours::hex;
use super::super::lay_picture::{pen::INK, weave::UNBLEACHED};
use super::super::xml::{El, el};

/// Stitches are drawn this far apart, mm and units of the picture at least: in truth they lie 0.4 mm apart, too fine for a
/// picture of the whole work.
const STITCH_MM: f64 = 0.8;
const STITCH: f64 = 2.6;

/// Narrower borders, units, are drawn plain.
const PLAIN_BELOW: f64 = 2.5;

/// The thread a border is shown in: the cloth's own mean colour, darker, so that it frames the piece and belongs to it;
/// lighter on dark cloth. (The job does not say what thread is used.)
pub(super) fn thread_for(cloth: Option<&Cloth>) -> [u8; 3] {
    let mean = cloth.map_or(UNBLEACHED.map(f64::from), mean_of);
    let light = 0.2126 * mean[0] + 0.7152 * mean[1] + 0.0722 * mean[2];
    let toward = |to: f64, share: f64| mean.map(|v| (v + (to - v) * share).clamp(0.0, 255.0) as u8);
    if light < 80.0 { toward(226.0, 0.42) } else { toward(20.0, 0.55) }
}

fn mean_of(cloth: &Cloth) -> [f64; 3] {
    let threads: Vec<[u8; 3]> = cloth
        .pattern
        .as_ref()
        .map(|p| p.warp_threads.iter().chain(&p.weft_threads).copied().collect())
        .unwrap_or_default();
    if threads.is_empty() {
        return cloth.colour.map(f64::from);
    }
    let n = threads.len() as f64;
    std::array::from_fn(|c| threads.iter().filter_map(|t| t.get(c)).map(|v| f64::from(*v)).sum::<f64>() / n)
}

/// The stitching along the edges `edge` (path data), `width` units wide on a picture of `scale` units a mm.
pub(super) fn satin(edge: &str, width: f64, scale: f64, thread: [u8; 3]) -> El {
    let mut group = el("g").set("fill", "none").set("stroke-linejoin", "round");
    if !(width.is_finite() && width > 0.0) {
        return group;
    }
    let line = |colour: String, width: f64| {
        el("path").set("d", edge).set("stroke", colour).num("stroke-width", width)
    };
    // A little of its shadow falls on what lies beneath.
    let shadow = line(INK.into(), width + 1.6).set("stroke-opacity", "0.3");
    group = group.add(shadow.set("transform", "translate(0.6 0.9)")).add(line(hex(thread), width));
    if width < PLAIN_BELOW {
        return group;
    }
    let apart = (STITCH_MM * scale).max(STITCH);
    let between = format!("{} {}", super::super::number(apart * 0.38), super::super::number(apart * 0.62));
    let lighter = thread.map(|v| v.saturating_add(90));
    group
        .add(line(INK.into(), width).set("stroke-opacity", "0.3").set("stroke-dasharray", between))
        // Silk shines where the stitch is highest, along the middle.
        .add(line(hex(lighter), width * 0.42).set("stroke-opacity", "0.32"))
}
