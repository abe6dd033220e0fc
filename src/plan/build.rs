//! From a lay and its passes to the plan file.

use std::collections::BTreeSet;

use crate::burn;
use crate::cloth::Cloth;
use crate::drawing;
use crate::estimate;
use crate::job::{ClothSpec, Cutter, Grain, Unsaid};
use crate::lay::{ClothLay, Lay, choice_notes};
use crate::passes::{self, Passes};
use crate::say::{Note, Trouble, Watch};
use crate::shape::{Point, Region, Ring, pt};

use super::burnt::{burnt, spoilt_by_marks};
use super::cloth_model::{PlanBuying, PlanCloth, PlanOffcut, PlanPattern, PlanRectangle};
use super::model::{Pair, Plan, PlanPass, PlanPiece, PlanRegion};
use super::offcuts;
use super::pass::{bridge_notes, bridges_of, plan_pass};
use super::rectangle::largest_rectangle;
use super::run::{Prepared, outline_used};
use super::sewn;
use super::stitching;

/// Names of pieces a note lists at most.
const MOST_NAMED: usize = 5;

/// Builds the plan. `cut` has the passes of every cloth of the job.
///
/// # Errors
/// A fault found when the passes are put together again.
pub fn plan(prepared: &Prepared, lay: &Lay, cut: &[Passes], watch: &dyn Watch) -> Result<Plan, Vec<Trouble>> {
    let Prepared { job, drawing, pieces, cloths, notes } = prepared;
    let mut plan = Plan {
        settlay_plan: 1,
        title: job.title.clone(),
        units: "mm".into(),
        program: crate::PROGRAM.into(),
        seed: job.lay.seed,
        page_mm: drawing.page_mm.map(round),
        // In a plan all measures are said: they are what its passes are made for.
        cutter: Cutter { unsaid: Unsaid::default(), ..job.cutter.clone() },
        sheets: job.sheets.clone(),
        cloths: Vec::new(),
        pieces: Vec::new(),
        passes: Vec::new(),
        run_across: Vec::new(),
        sewing: None,
        notes: notes.clone(),
    };
    for (c, cloth) in cloths.iter().enumerate() {
        let on = &lay.cloths[c];
        if on.placed.is_empty() {
            let text = match &cloth.stock {
                Some(stock) => {
                    format!("It is not needed: the pieces of stock {stock} fit the others. It stays whole.")
                }
                None => "No piece is cut from this cloth.".into(),
            };
            plan.notes.push(Note::advice(format!("cloth {}", cloth.name), text));
            continue;
        }
        plan.cloths.push(plan_cloth(prepared, c, on, &spoilt_by_marks(&cut[c])));
        for placed in &on.placed {
            let piece = &pieces[placed.piece];
            plan.pieces.push(PlanPiece {
                id: piece.id.clone(),
                copy: placed.copy,
                rule: piece.rule,
                cloth: cloth.name.clone(),
                matching: piece.matching,
                group: piece.group.clone(),
                group_shift: placed.group_shift.map(|s| s.map(round)),
                anchor: pair(piece.anchor),
                allowance_mm: job.pieces[piece.rule].allowance_mm,
                underlap_mm: drawing::underlap_of(piece, &job.pieces[piece.rule]),
                turn_deg: placed.pose.turn_deg,
                shift: pair(placed.pose.shift),
                grain_deg: match job.pieces[piece.rule].grain {
                    // On cloth without a direction the piece's own upright is the only thing to show.
                    Grain::Any => 0.0,
                    _ => job.pieces[piece.rule].grain_deg,
                },
                order: piece.element,
                drawn: plan_region(&piece.drawn),
                cut: plan_region(&placed.cut),
                slender: Vec::new(),
            });
        }
        check_passes(prepared, cloth, on, &cut[c])?;
        let names: Vec<(&str, u32)> =
            on.placed.iter().map(|p| (pieces[p.piece].id.as_str(), p.copy)).collect();
        let cuts: Vec<Region> = on.placed.iter().map(|p| p.cut.clone()).collect();
        let bridges = bridges_of(prepared, c, on, &cut[c]);
        for pass in &cut[c].passes {
            plan.passes.push(plan_pass(prepared, &cloth.name, pass, &names, &cuts, &bridges)?);
        }
        let burnt = burnt(&plan, &cloth.name);
        if let Some(told) = plan.cloths.last_mut() {
            told.offcuts.iter_mut().for_each(|left| left.keep_burnt(&burnt));
        }
        plan.notes.extend(bridge_notes(&cloth.name, &bridges, &cuts, job.cutter.bridges.as_ref()));
        let of_cloth = |n: &Note| Note { about: format!("{}, {}", cloth.name, n.about), ..n.clone() };
        plan.notes.extend(cut[c].notes.iter().map(of_cloth));
        plan.notes.extend(panel_note(cloth, on, &cut[c]));
        plan.notes.extend(tolerance_note(cloth));
        if on.proved {
            let exact = if cloth.match_tolerance_mm > 0.0 { ", with every match exact," } else { "" };
            let text = format!(
                "Its lay is proved the shortest: no other under the same rules{exact} takes less length."
            );
            plan.notes.push(Note::advice(format!("cloth {}", cloth.name), text));
        }
    }
    if lay.cloths.iter().any(|on| on.ended_by_clock) {
        plan.notes.push(Note::advice(
            "the lay",
            format!(
                "It was searched for by the clock (lay.seconds {}), so another run may find another. Set \
                 lay.effort in its place for a lay that repeats on any machine.",
                job.lay.seconds
            ),
        ));
    }
    plan.notes.extend(choice_notes(lay, cloths));
    if let Some((sewing, said)) = stitching::sewing(prepared, watch)? {
        plan.sewing = Some(sewing);
        plan.notes.extend(said);
    }
    plan.notes.extend(lead_in_notes(&job.cutter, &plan.passes));
    plan.notes.extend(machine_notes(&job.cutter, &plan.passes));
    sewn::look_over(&mut plan, prepared, lay);
    plan.notes.sort_by_key(|n| n.level);
    Ok(plan)
}

/// What to cut from the bolt before the first of several passes, and where its first pivot lies.
fn panel_note(cloth: &Cloth, on: &ClothLay, cut: &Passes) -> Option<Note> {
    if !cloth.open_length || cut.passes.len() < 2 {
        return None;
    }
    let panel = outline_used(cloth, on.used_length_mm).bounds();
    let pivot = cloth.pattern.as_ref().map(|p| {
        let corner = p.lattice.fractions(panel.min - p.lattice.origin);
        let step = |v: Option<Point>, share: f64| v.map_or(pt(0.0, 0.0), |v| v * share.ceil());
        let first = p.lattice.origin + step(p.lattice.a, corner.x) + step(p.lattice.b, corner.y);
        let from = first - panel.min;
        format!(
            " so that its first pivot lies {:.1} mm from the left selvedge and {:.1} mm from the near cut end",
            from.x, from.y
        )
    });
    let text = format!(
        "Cut a panel {:.0} mm long from the bolt before pass 1{}.",
        panel.height(),
        pivot.unwrap_or_default()
    );
    Some(Note::advice(format!("cloth {}", cloth.name), text))
}

/// Kinds of line of a pass for which the cutter has no power and speed found by test.
pub fn without_power<'a>(pass: &'a PlanPass, cutter: &Cutter) -> BTreeSet<&'a str> {
    let kinds: BTreeSet<&str> = pass.burns.iter().map(|b| b.kind.as_str()).collect();
    kinds.into_iter().filter(|kind| cutter.tested_for(&pass.cloth, kind).is_none()).collect()
}

/// What a maker who asks for lead-ins should know: which edges have room for none.
fn lead_in_notes(cutter: &Cutter, passes: &[PlanPass]) -> Vec<Note> {
    if cutter.lead_in_mm <= 0.0 {
        return Vec::new();
    }
    let note = |pass: &PlanPass| {
        let bare = pass.burns.iter().filter(|b| b.closed && b.lead_in.is_none());
        let mut names: Vec<&str> = bare.map(|b| b.piece.as_str()).collect();
        let count = names.len();
        names.sort_unstable();
        names.dedup();
        let named = match names.as_slice() {
            [] => return None,
            few if few.len() <= MOST_NAMED => few.join(", "),
            few => format!("{} and {} more", few[..MOST_NAMED].join(", "), few.len() - MOST_NAMED),
        };
        let what =
            if count == 1 { "One closed edge begins".into() } else { format!("{count} closed edges begin") };
        let text = format!(
            "{what} on the line itself, as the waste has no room for a lead-in of {} mm there: {named}. A shorter lead-in \
             or a wider gap gives it room.",
            cutter.lead_in_mm
        );
        Some(Note::caution(format!("{}, pass {}", pass.cloth, pass.number), text))
    };
    passes.iter().filter_map(note).collect()
}

/// What a maker who wants G-code should know: nothing is burnt with a power nobody has tested.
fn machine_notes(cutter: &Cutter, passes: &[PlanPass]) -> Vec<Note> {
    if cutter.gcode.is_none() {
        return Vec::new();
    }
    let mut untested: Vec<(&str, &str)> = passes
        .iter()
        .flat_map(|p| without_power(p, cutter).into_iter().map(|kind| (p.cloth.as_str(), kind)))
        .collect();
    untested.sort_unstable();
    untested.dedup();
    // A cutter's file serves many jobs, so a cloth of another job is no fault; a misspelt one looks just like it.
    let others: BTreeSet<&str> = cutter.tested.iter().filter_map(|t| t.cloth.as_deref()).collect();
    let used: BTreeSet<&str> = passes.iter().map(|p| p.cloth.as_str()).collect();
    let strangers: Vec<&str> = others.difference(&used).copied().collect();
    let meant = if strangers.is_empty() {
        String::new()
    } else {
        format!(" The list has some for {}, which this plan does not cut.", strangers.join(", "))
    };
    let missing = untested.iter().map(|(cloth, kind)| {
        let text = format!(
            "No power and speed found by test are given for {kind} on this cloth, so its passes that burn one have no \
             G-code. Find them on a scrap of the same cloth and write them into the cutter's tested list.{meant}"
        );
        Note::caution(format!("cloth {cloth}"), text)
    });
    let mut notes: Vec<Note> = missing.collect();
    if !cutter.tested.is_empty() {
        let text = "Power and speed are those of the cutter's tested list. Try them on a scrap of the same cloth, under \
                    the same backing, before the first pass, and run the rehearsal with the beam off.";
        notes.push(Note::advice("G-code", text));
    }
    notes
}

fn tolerance_note(cloth: &Cloth) -> Option<Note> {
    (cloth.match_tolerance_mm > 0.0).then(|| {
        Note::advice(
            format!("cloth {}", cloth.name),
            format!(
                "A match tolerance of {} mm was allowed; this lay keeps every match exact and does not use it.",
                cloth.match_tolerance_mm
            ),
        )
    })
}

pub(super) fn plan_cloth(prepared: &Prepared, c: usize, on: &ClothLay, marks: &[Region]) -> PlanCloth {
    let (cloth, spec) = (&prepared.cloths[c], &prepared.job.cloths[c]);
    let clear_mm = prepared.job.lay.gap_mm.max(prepared.job.cutter.kerf_mm);
    let leftovers = offcuts::leftovers(cloth, on, clear_mm);
    let outline = outline_used(cloth, on.used_length_mm);
    let need = estimate::need_of_lay(&prepared.pieces, cloth, spec, on);
    let mut told = PlanCloth {
        name: cloth.name.clone(),
        outline: pairs(&outline),
        flaws: cloth.flaws.iter().map(pairs).collect(),
        edge_mm: cloth.edge_mm,
        gap_mm: prepared.job.lay.gap_mm,
        open_length: cloth.open_length,
        pattern: cloth.pattern.as_ref().map(|p| PlanPattern {
            a: p.lattice.a.map(exact),
            b: p.lattice.b.map(exact),
            origin: exact(p.lattice.origin),
            half_turn: p.half_turn,
        }),
        used_length_mm: round(on.used_length_mm),
        pieces_area_mm2: round(on.pieces_area_mm2),
        used_area_mm2: round(on.used_area_mm2),
        efficiency: round(on.efficiency()),
        least_length_mm: round(on.least_length_mm),
        proved_shortest: on.proved,
        largest_rectangle_mm: largest_rectangle(&offcuts::clear_of_burns(cloth, on, clear_mm, marks)).map(
            |b| PlanRectangle {
                x: round(b.min.x),
                y: round(b.min.y),
                width: round(b.width()),
                height: round(b.height()),
            },
        ),
        offcuts: leftovers
            .iter()
            .map(|r| PlanOffcut {
                outline: pairs(&r.outline),
                cutouts: r.cutouts.iter().map(pairs).collect(),
                flaws: Vec::new(),
                area_mm2: round(r.area()),
            })
            .collect(),
        buy_length_mm: need.buy_mm,
        buying: Some(rounded(need.into())),
        cost: spec.price_per_m.map(|p| round(p * need.buy_mm / 1000.0)),
        waste_g: None,
        cut_from: None,
        // The photograph stays beside its job: what is kept on the shelf stands by itself.
        described: Some(described(spec, cloth)),
        photographed: cloth.photo.is_some(),
    };
    told.waste_g = spec.weight_g_per_m2.map(|w| round(w * told.waste_mm2() / 1.0e6));
    told
}

/// The description of a cloth for who has not its photograph: with what that said of a half turn.
fn described(spec: &ClothSpec, cloth: &Cloth) -> ClothSpec {
    let mut told = spec.clone().without_photo();
    if let (Some(told), Some(pattern)) = (&mut told.pattern, &cloth.pattern)
        && told.symmetrical == Some(true)
        && !pattern.half_turn
    {
        told.symmetrical = Some(false);
    }
    told
}

fn rounded(b: PlanBuying) -> PlanBuying {
    PlanBuying {
        laid_mm: round(b.laid_mm),
        start_mm: round(b.start_mm),
        skew_mm: round(b.skew_mm),
        cutting_mm: round(b.cutting_mm),
        shrinkage_mm: round(b.shrinkage_mm),
    }
}

/// The passes joined up again must be the contours: a second computation before anything is written.
fn check_passes(prepared: &Prepared, cloth: &Cloth, on: &ClothLay, cut: &Passes) -> Result<(), Vec<Trouble>> {
    let cuts: Vec<Region> = on.placed.iter().map(|p| p.cut.clone()).collect();
    let kerfed = burn::contours(&cuts, prepared.job.cutter.kerf_mm);
    let faults = passes::check(&cut.passes, &kerfed.contours, &prepared.job.cutter);
    found_sound(&format!("cloth {}", cloth.name), "the passes", &faults)
}

/// A second computation of `what` found `faults`: nothing is written.
pub(super) fn found_sound(about: &str, what: &str, faults: &[String]) -> Result<(), Vec<Trouble>> {
    let Some(first) = faults.first() else { return Ok(()) };
    let said = format!("{what} did not pass its own check ({} faults): {first}", faults.len());
    let hint =
        "this is a fault of the program; another lay.seed may avoid it, and a report with the job would help";
    Err(vec![Trouble::cannot(about, said).hint(hint)])
}

fn plan_region(region: &Region) -> PlanRegion {
    PlanRegion { outline: pairs(&region.outline), cutouts: region.cutouts.iter().map(pairs).collect() }
}

fn pairs(ring: &Ring) -> Vec<Pair> {
    ring.points.iter().map(|p| pair(*p)).collect()
}

pub(super) fn pair(p: Point) -> Pair {
    [round(p.x), round(p.y)]
}

/// Lattice vectors are kept whole: an error in one repeat adds up over many.
fn exact(p: Point) -> Pair {
    [p.x, p.y]
}

/// Whole nanometres, and never −0.
pub(super) fn round(v: f64) -> f64 {
    (v * 1.0e6).round() / 1.0e6 + 0.0
}
