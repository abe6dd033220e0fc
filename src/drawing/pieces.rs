//! Pieces by the job's rules.

use std::collections::{BTreeMap, BTreeSet};

use super::groups::GroupNames;
use super::model::{Drawing, Element, Piece};
use super::remarks::list;
use super::select::Selection;
use super::{allowance, beneath, interlaced, underlap};
use crate::job::{EACH, Job, PieceRule, Select, ShapeKind};
use crate::say::{Note, Trouble};
use crate::shape::{Region, pt};

/// The pieces of a drawing and what there is to say about the picking.
#[derive(Clone, Debug, PartialEq)]
pub struct Picked {
    /// The pieces in stacking order, the lowest first; parts of one shape from left to right.
    pub pieces: Vec<Piece>,
    /// Shapes no rule picks, rules that pick nothing.
    pub notes: Vec<Note>,
}

/// Picks the pieces of `drawing` by the rules of `job`; for each shape the first rule that fits wins.
///
/// Every separate part of a shape is a piece. A piece alone under its shape's id has that id; several get
/// `-1`, `-2`, … in order, past names that other shapes have.
///
/// # Errors
/// All troubles at once: a rule's colour that is none, a shape without the fill or stroke its rule cuts, an
/// allowance a piece cannot bear, a cloth that is not in the job.
pub fn pieces(job: &Job, drawing: &Drawing) -> Result<Picked, Vec<Trouble>> {
    let mut troubles = Vec::new();
    let mut selections = Vec::new();
    for (rule, spec) in job.pieces.iter().enumerate() {
        match Selection::read(&spec.select, rule) {
            Ok(s) => selections.push(s),
            Err(t) => troubles.push(t),
        }
    }
    if !troubles.is_empty() {
        return Err(troubles);
    }
    let rule_of: Vec<Option<usize>> =
        drawing.elements.iter().map(|e| selections.iter().position(|s| s.fits(e))).collect();

    let mut parts = Vec::new();
    for ((at, element), rule) in drawing.elements.iter().enumerate().zip(&rule_of) {
        let Some((rule, spec)) = rule.and_then(|r| Some((r, job.pieces.get(r)?))) else { continue };
        if spec.count == 0 {
            continue;
        }
        match regions(element, spec, rule) {
            Ok(regions) => parts.extend(regions.iter().map(|region| Part { at, rule, region })),
            Err(t) => troubles.push(t),
        }
    }
    let names = names(&parts, drawing);
    let singly = |p: &Part<'_>| job.pieces.get(p.rule).is_some_and(|r| r.group.as_deref() == Some(EACH));
    let of_singly = parts.iter().zip(&names).filter(|(p, _)| singly(p)).map(|(_, id)| id.as_str());
    let groups = GroupNames::of(&job.pieces, of_singly);
    let mut pieces = Vec::new();
    for (part, id) in parts.iter().zip(&names) {
        match piece(job, *part, id.clone(), groups.name(part.rule, id)) {
            Ok(p) => pieces.push(p),
            Err(t) => troubles.push(t),
        }
    }
    if troubles.is_empty() {
        let mut notes = notes(job, drawing, &selections, &rule_of);
        notes.extend(underlap::tuck(&mut pieces, &job.pieces));
        notes.extend(interlaced::notes(&pieces));
        notes.extend(beneath::notes(&pieces));
        Ok(Picked { pieces, notes })
    } else {
        Err(troubles)
    }
}

/// For each element of `drawing` the selection that picks it first, by index; what is no selection picks nothing.
pub fn picked_by(selects: &[Select], drawing: &Drawing) -> Vec<Option<usize>> {
    let all: Vec<Option<Selection>> =
        selects.iter().enumerate().map(|(rule, s)| Selection::read(s, rule).ok()).collect();
    let first = |e: &Element| all.iter().position(|s| s.as_ref().is_some_and(|s| s.fits(e)));
    drawing.elements.iter().map(first).collect()
}

#[derive(Clone, Copy)]
struct Part<'a> {
    at: usize,
    rule: usize,
    region: &'a Region,
}

fn regions<'a>(element: &'a Element, spec: &PieceRule, rule: usize) -> Result<&'a [Region], Trouble> {
    let about = format!("shape {}", element.id);
    let line =
        if element.line > 0 { format!(" (line {} of the drawing)", element.line) } else { String::new() };
    match spec.shape {
        ShapeKind::Fill if element.filled.is_empty() => Err(Trouble::cannot(
            about,
            format!("pieces[{rule}] cuts its filled area, but it has none{line}"),
        )
        .hint("fill it in the drawing, write \"shape\": \"line\" to cut its stroke, or leave it out of the rule")),
        ShapeKind::Line if element.band.is_empty() => Err(Trouble::cannot(
            about,
            format!("pieces[{rule}] cuts its stroke as a band, but it has no stroke of any width{line}"),
        )
        .hint("give it a stroke in the drawing, write \"shape\": \"fill\", or leave it out of the rule")),
        ShapeKind::Fill => Ok(&element.filled),
        ShapeKind::Line => Ok(&element.band),
    }
}

/// Names of the parts, each once.
fn names(parts: &[Part<'_>], drawing: &Drawing) -> Vec<String> {
    let id = |p: &Part<'_>| drawing.elements.get(p.at).map_or("", |e| e.id.as_str());
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for p in parts {
        *counts.entry(id(p)).or_default() += 1;
    }
    let mut taken: BTreeSet<String> = drawing.elements.iter().map(|e| e.id.clone()).collect();
    let mut last: BTreeMap<&str, usize> = BTreeMap::new();
    parts
        .iter()
        .map(|p| {
            let id = id(p);
            if counts.get(id) == Some(&1) {
                return id.to_owned();
            }
            let number = last.entry(id).or_default();
            loop {
                *number += 1;
                let name = format!("{id}-{number}");
                if taken.insert(name.clone()) {
                    return name;
                }
            }
        })
        .collect()
}

fn piece(job: &Job, part: Part<'_>, id: String, group: String) -> Result<Piece, Trouble> {
    let about = format!("piece {id}");
    let spec =
        job.pieces.get(part.rule).ok_or_else(|| Trouble::bad_input(about.as_str(), "its rule is gone"))?;
    let cloth = job.cloth_of(spec).ok_or_else(|| {
        Trouble::bad_input(
            format!("pieces[{}].cloth", part.rule),
            format!("there is no cloth \"{}\" in the job", spec.cloth),
        )
    })?;
    let cut = allowance::grown(part.region, spec.allowance_mm, &about)?;
    let anchor = spec.anchor_mm.map_or_else(|| part.region.bounds().centre(), |[x, y]| pt(x, y));
    Ok(Piece {
        group,
        id,
        element: part.at,
        rule: part.rule,
        cloth,
        count: spec.count,
        drawn: part.region.clone(),
        cut,
        matching: spec.matching,
        anchor,
    })
}

fn notes(job: &Job, drawing: &Drawing, selections: &[Selection<'_>], rule_of: &[Option<usize>]) -> Vec<Note> {
    let mut notes = Vec::new();
    for (rule, (spec, selection)) in job.pieces.iter().zip(selections).enumerate() {
        let about = format!("pieces[{rule}]");
        let words = selection.words();
        if spec.count == 0 {
            notes.push(Note::advice(
                about,
                format!("this rule ({words}) has count 0: its shapes are not cut."),
            ));
        } else if !rule_of.contains(&Some(rule)) {
            let text = if drawing.elements.iter().any(|e| selection.fits(e)) {
                format!("this rule ({words}) picks nothing: earlier rules take every shape it fits.")
            } else {
                let hint =
                    selection.suggestion(&drawing.elements).map(|s| format!("; {s}")).unwrap_or_default();
                format!("this rule ({words}) fits no shape of the drawing{hint}.").replace("?.", "?")
            };
            notes.push(Note::caution(about, text));
        }
    }
    let mut left: Vec<String> = Vec::new();
    let mut seen = BTreeSet::new();
    for (element, rule) in drawing.elements.iter().zip(rule_of) {
        if rule.is_none() && seen.insert(element.id.as_str()) {
            left.push(element.id.clone());
        }
    }
    if !left.is_empty() {
        notes.push(Note::caution(
            "drawing",
            format!("no rule picks these shapes, so they are not cut: {}.", list(&left)),
        ));
    }
    notes
}

#[cfg(test)]
#[path = "pieces_tests.rs"]
mod tests;
