//! From one pass to its entry in the plan: bridges, burn order, lead-ins, lengths and time.

use std::collections::BTreeSet;

use crate::burn::{self, Bridge, Burn, BurnKind};
use crate::job::{BridgeSpec, Cutter};
use crate::lay::ClothLay;
use crate::passes::{self, Pass, Passes};
use crate::say::{Note, Trouble};
use crate::shape::{Bounds, Point, Region, pt, tol};

use super::build::{found_sound, pair, round};
use super::model::{PlanBridge, PlanBurn, PlanJoint, PlanKeyLine, PlanMark, PlanPass, PlanTime};
use super::run::Prepared;

/// Where the head rests before a pass and returns to after it, bed frame: the machine's nought.
pub fn resting_place(cutter: &Cutter) -> Point {
    let [x, y] = cutter.home.machine([0.0, 0.0], cutter.bed_mm);
    pt(x, y)
}

pub(super) fn plan_pass(
    prepared: &Prepared,
    cloth: &str,
    pass: &Pass,
    names: &[(&str, u32)],
    cuts: &[Region],
    bridges: &[Bridge],
) -> Result<PlanPass, Vec<Trouble>> {
    let cutter = &prepared.job.cutter;
    let to_bed = |path: &[Point]| path.iter().map(|p| pass.cloth_to_bed.apply(*p)).collect::<Vec<_>>();
    let width_mm = cutter.bridges.as_ref().map_or(0.0, |b| b.width_mm);
    let gap_mm = width_mm + cutter.kerf_mm;
    let (burns, met) = burn::bridged(pass.burns.clone(), bridges, gap_mm);
    let length = |burns: &[Burn]| burns.iter().map(Burn::length_mm).sum::<f64>();
    let missing = length(&pass.burns) - length(&burns) - met.len() as f64 * gap_mm;
    let odd = (missing.abs() > tol::SAME_POINT_MM).then(|| format!("{missing:.3} mm too much is left uncut"));
    found_sound(&format!("pass {}", pass.number), "the bridges", odd.as_slice())?;
    let on_bed: Vec<Burn> = burns.iter().map(|b| Burn { path: to_bed(&b.path), ..b.clone() }).collect();
    let rest = resting_place(cutter);
    let by_piece = piece_after_piece(&on_bed);
    let plain = burn::lengths(&by_piece, rest).travel_mm + burn::way_back(&by_piece, rest);
    let ordered = burn::arrange(on_bed, cuts, rest);
    found_sound(&format!("pass {}", pass.number), "the burn order", &burn::order_faults(&ordered, cuts))?;
    let (ordered, lead_ins) = led_in(pass, ordered, cuts, cutter);
    // What the beam does in truth: with a lead-in a closed line is run from the waste and once round.
    let runs: Vec<Burn> = ordered
        .iter()
        .zip(&lead_ins)
        .map(|(b, lead)| match lead {
            Some(at) => {
                let path = std::iter::once(*at).chain(b.path.iter().copied()).chain(b.path.first().copied());
                Burn { closed: false, path: path.collect(), ..b.clone() }
            }
            None => b.clone(),
        })
        .collect();
    let (lengths, seconds) = burn::there_and_back(&runs, rest, cutter, cloth);
    let w = pass.window;
    let burns = ordered
        .iter()
        .zip(&lead_ins)
        .map(|(b, lead)| {
            let (piece, copy) = match b.placed {
                Some(k) => (names[k].0.to_string(), names[k].1),
                None => (nearest_mark(pass, b), 1),
            };
            PlanBurn {
                kind: b.kind.word().into(),
                piece,
                copy,
                ring: b.ring,
                closed: b.closed,
                lead_in: lead.map(pair),
                path: b.path.iter().map(|p| pair(*p)).collect(),
            }
        })
        .collect();
    Ok(PlanPass {
        cloth: cloth.into(),
        number: pass.number,
        bed_mm: cutter.bed_mm,
        margin_mm: cutter.margin_mm,
        window: [w.min.x, w.min.y, w.max.x, w.max.y].map(round),
        cloth_to_bed: pass.cloth_to_bed.0,
        burns,
        marks: pass
            .marks
            .iter()
            .map(|m| PlanMark {
                name: m.name.clone(),
                cloth: pair(m.at),
                bed: pair(pass.cloth_to_bed.apply(m.at)),
                measured: None,
                left_out: false,
                burnt_here: m.burnt_here,
            })
            .collect(),
        joints: pass
            .joints
            .iter()
            .map(|j| PlanJoint {
                piece: names[j.placed].0.into(),
                copy: names[j.placed].1,
                ring: j.ring,
                cloth: pair(j.at),
                overlap_mm: j.overlap_mm,
                expected_step_mm: round(j.expected_step_mm),
                step_95_mm: round(j.step_95_mm),
                key_step_mm: j.key_step_mm.map(|s| s.map(round)),
                verdict: j.verdict.word().into(),
            })
            .collect(),
        verdict: passes::verdict_of(pass, cutter),
        key: pass
            .key
            .iter()
            .map(|k| PlanKeyLine {
                path: to_bed(&k.path).iter().map(|p| pair(*p)).collect(),
                closed: k.closed,
                piece: names[k.placed].0.into(),
            })
            .collect(),
        cut_length_mm: round(lengths.cut_mm),
        travel_length_mm: round(lengths.travel_mm),
        plain_travel_mm: round(plain),
        bridges: met
            .iter()
            .map(|&k| PlanBridge {
                piece: names[bridges[k].placed].0.into(),
                copy: names[bridges[k].placed].1,
                cloth: pair(bridges[k].at),
                bed: pair(pass.cloth_to_bed.apply(bridges[k].at)),
                width_mm,
            })
            .collect(),
        seconds: round(seconds.total()),
        time: PlanTime {
            cut_s: round(seconds.cut),
            travel_s: round(seconds.travel),
            start_up_s: round(seconds.start_up),
            handling_s: cutter.handling_s,
        },
        cut_on: None,
    })
}

/// The bridges of all pieces of one cloth, where the cutter's settings ask for them.
pub(super) fn bridges_of(prepared: &Prepared, c: usize, on: &ClothLay, cut: &Passes) -> Vec<Bridge> {
    let cutter = &prepared.job.cutter;
    let Some(spec) = &cutter.bridges else { return Vec::new() };
    let cuts: Vec<Region> = on.placed.iter().map(|p| p.cut.clone()).collect();
    let contours = burn::contours(&cuts, cutter.kerf_mm).contours;
    let weight = |k: usize| prepared.job.cloths[c].weight_g_per_m2.map(|w| w * cuts[k].area() / 1.0e6);
    let joints = |k: usize| {
        let all = cut.passes.iter().flat_map(|p| &p.joints).filter(move |j| j.placed == k && j.ring == 0);
        all.map(|j| j.at).collect::<Vec<_>>()
    };
    contours.iter().flat_map(|o| burn::bridges(o, weight(o.placed), &joints(o.placed), spec)).collect()
}

/// Where bridges leave more than this share of the edges they hold uncut, scissors do much of the laser's work.
const MUCH_UNCUT: f64 = 0.1;

/// What the bridges of one cloth ask of its maker. `cuts` are its placed pieces.
pub(super) fn bridge_notes(
    cloth: &str,
    bridges: &[Bridge],
    cuts: &[Region],
    spec: Option<&BridgeSpec>,
) -> Vec<Note> {
    let (Some(spec), count @ 1..) = (spec, bridges.len()) else { return Vec::new() };
    let s = if count == 1 { "" } else { "s" };
    let text = format!(
        "{count} bridge{s} hold its pieces in place; every pass lists its own. Cut a piece's with scissors once its last pass is \
         done, before it is lifted."
    );
    let mut notes = vec![Note::advice(format!("cloth {cloth}"), text)];
    let held: BTreeSet<usize> = bridges.iter().map(|b| b.placed).collect();
    let length: f64 = held.iter().filter_map(|&k| cuts.get(k)).map(|c| c.outline.length()).sum();
    let share = count as f64 * spec.width_mm / length;
    if share > MUCH_UNCUT {
        let text = format!(
            "Its bridges leave {:.0} % of the edges they hold uncut, {:.0} mm to cut by hand. A smaller width_mm or a larger \
             every_mm of the cutter's bridges leaves less.",
            100.0 * share,
            count as f64 * spec.width_mm
        );
        notes.push(Note::caution(format!("cloth {cloth}"), text));
    }
    notes
}

/// The burns as they come, marks first, then cut-outs, then outlines.
fn piece_after_piece(burns: &[Burn]) -> Vec<Burn> {
    let turn = |kind: BurnKind| {
        [BurnKind::Mark, BurnKind::Cutout, BurnKind::Outline].iter().position(|k| *k == kind)
    };
    let mut all = burns.to_vec();
    all.sort_by_key(|b| turn(b.kind));
    all
}

/// The burns, bed frame, begun where a lead-in finds room within the bed's margins, and where each is pierced off its
/// line.
fn led_in(
    pass: &Pass,
    ordered: Vec<Burn>,
    cuts: &[Region],
    cutter: &Cutter,
) -> (Vec<Burn>, Vec<Option<Point>>) {
    let back = pass.cloth_to_bed.inverse();
    let Some(back) = back.filter(|_| cutter.lead_in_mm > 0.0) else {
        let none = vec![None; ordered.len()];
        return (ordered, none);
    };
    let edges = burn::Edges::new(cuts);
    let [w, h] = cutter.bed_mm;
    let m = cutter.margin_mm;
    let reach = Bounds::new(pt(m, m), pt(w - m, h - m));
    let spot = |b: &Burn| {
        // Seen from the face, where the waste's side is known.
        let path = b.path.iter().map(|p| back.apply(*p)).collect();
        let at = burn::lead_in(&Burn { path, ..b.clone() }, &edges, cutter.lead_in_mm)?;
        let on_bed = pass.cloth_to_bed.apply(at);
        reach.contains(on_bed).then_some(on_bed)
    };
    ordered
        .into_iter()
        .map(|b| match burn::led_in(&b, spot) {
            Some((begun, at)) => (begun, Some(at)),
            None => (b, None),
        })
        .unzip()
}

/// The name of the mark a stroke belongs to: the one it runs through.
fn nearest_mark(pass: &Pass, burn: &Burn) -> String {
    debug_assert_eq!(burn.kind, BurnKind::Mark);
    let middle = burn.path.iter().fold(pt(0.0, 0.0), |s, p| s + *p) / burn.path.len().max(1) as f64;
    pass.marks
        .iter()
        .min_by(|a, b| {
            let d = |m: &passes::Mark| crate::shape::distance(pass.cloth_to_bed.apply(m.at), middle);
            d(a).total_cmp(&d(b))
        })
        .map_or_else(String::new, |m| m.name.clone())
}
