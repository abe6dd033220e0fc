//! From a cloth's description to the cloth.

use super::pattern;
use super::{Cloth, colours};
use crate::job::ClothSpec;
use crate::say::{Note, Trouble};
use crate::shape::{Bounds, Region, Ring, booleans, pt};

/// Reads a cloth's description. `place` is its path in the job (`cloths[0]`), for troubles.
///
/// # Errors
/// Every trouble found: a thread count that cannot be read, a colour letter nobody knows, sizes or repeats that
/// are missing or make no sense, a cloth of which nothing can be used.
pub fn understand(spec: &ClothSpec, place: &str) -> Result<(Cloth, Vec<Note>), Vec<Trouble>> {
    let mut troubles = Vec::new();
    let mut notes = Vec::new();
    let about = format!("cloth {}", spec.name);
    let outline = outline(spec, place).map_err(|t| troubles.push(t)).ok();
    let pattern = spec
        .pattern
        .as_ref()
        .and_then(|p| pattern::understand(p, &format!("{place}.pattern"), &about, &mut notes, &mut troubles));
    let colour = match &spec.colour {
        Some(text) => colours::from_hex(text).unwrap_or_else(|| {
            troubles.push(Trouble::bad_input(
                format!("{place}.colour"),
                format!("\"{text}\": expected a colour written #rrggbb"),
            ));
            colours::NATURAL
        }),
        None => colours::mean(pattern.iter().flat_map(|p| p.warp_threads.iter().chain(&p.weft_threads))),
    };
    let flaws: Vec<Ring> = spec.flaws_mm.iter().map(|f| Ring::from_pairs(f).oriented(true)).collect();
    for (k, _) in flaws.iter().enumerate().filter(|(_, f)| f.points.len() < 3 || !f.is_sane()) {
        let what = "expected an outline of 3 or more corners";
        troubles.push(Trouble::bad_input(format!("{place}.flaws_mm[{k}]"), what));
    }
    if !(spec.edge_mm >= 0.0 && spec.edge_mm.is_finite()) {
        troubles.push(Trouble::bad_input(
            format!("{place}.edge_mm"),
            format!("{}: expected 0 or more", spec.edge_mm),
        ));
    }
    let (Some(outline), true) = (outline, troubles.is_empty()) else { return Err(troubles) };

    if spec.outline_mm.is_some() && spec.width_mm.is_some() {
        notes.push(Note::advice(
            &about,
            "It has an outline of its own, so its width and length are not used.",
        ));
    }
    note_flaws_beside(&outline, &flaws, &about, &mut notes);
    let cloth = Cloth {
        name: spec.name.clone(),
        stock: spec.stock.clone(),
        weave: spec.weave,
        nap: spec.nap,
        open_length: spec.outline_mm.is_none() && spec.length_mm.is_none(),
        outline,
        edge_mm: spec.edge_mm,
        flaws,
        pattern,
        match_tolerance_mm: spec.match_tolerance_mm,
        colour,
        photo: None,
    };
    if let Some(trouble) = loose_match(&cloth, place) {
        return Err(vec![trouble]);
    }
    if cloth.usable().is_empty() {
        let what = "nothing of the cloth is left once its edge strip and flaws are taken off";
        return Err(vec![Trouble::cannot(place, what).hint(
            "make edge_mm smaller or look whether the flaws are true; or leave this cloth and its rules out",
        )]);
    }
    Ok((cloth, notes))
}

fn outline(spec: &ClothSpec, place: &str) -> Result<Ring, Trouble> {
    if let Some(corners) = &spec.outline_mm {
        let ring = Ring::from_pairs(corners).oriented(true);
        if ring.points.len() < 3 || !ring.is_sane() || ring.signed_area() <= 0.0 {
            let what = "expected an outline of 3 or more corners that encloses an area";
            return Err(Trouble::bad_input(format!("{place}.outline_mm"), what));
        }
        return Ok(ring);
    }
    let size = |key: &str, value: f64| {
        if value > 0.0 && value <= Cloth::OPEN_LENGTH_MM {
            return Ok(value);
        }
        let what = format!("{value}: expected more than 0, at most {}", Cloth::OPEN_LENGTH_MM);
        Err(Trouble::bad_input(format!("{place}.{key}"), what))
    };
    let Some(width) = spec.width_mm else {
        return Err(Trouble::bad_input(
            place,
            "the field \"width_mm\" is missing (or \"outline_mm\" for an offcut)",
        ));
    };
    let width = size("width_mm", width)?;
    let length = size("length_mm", spec.length_mm.unwrap_or(Cloth::OPEN_LENGTH_MM))?;
    Ok(Region::rectangle(Bounds::new(pt(0.0, 0.0), pt(width, length))).outline)
}

/// A flaw that misses the cloth was probably measured in another frame.
fn note_flaws_beside(outline: &Ring, flaws: &[Ring], about: &str, notes: &mut Vec<Note>) {
    let whole = [Region::new(outline.clone(), Vec::new())];
    for (k, flaw) in flaws.iter().enumerate() {
        if booleans::intersection(&[Region::new(flaw.clone(), Vec::new())], &whole).is_empty() {
            let text = format!(
                "Flaw {} lies beside the cloth. Flaws are measured from the left selvedge and the near cut end, face up.",
                k + 1
            );
            notes.push(Note::caution(about, text));
        }
    }
}

/// A tolerance of half a repeat lets every pose through.
fn loose_match(cloth: &Cloth, place: &str) -> Option<Trouble> {
    let lattice = cloth.pattern.as_ref()?.lattice;
    let repeats = [lattice.a, lattice.b].into_iter().flatten().map(|v| v.x.hypot(v.y));
    let least = repeats.fold(f64::INFINITY, f64::min);
    let tolerance = cloth.match_tolerance_mm;
    if tolerance >= 0.0 && tolerance < least / 2.0 {
        return None;
    }
    let what = format!("{tolerance}: expected from 0 to less than half the repeat of {least:.2} mm");
    Some(Trouble::bad_input(format!("{place}.match_tolerance_mm"), what))
}
