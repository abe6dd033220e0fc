//! From contours to passes.

use super::assign::{Cutting, Hand, settled_anew, share_out};
use super::budget::{Budget, key_step, share_of_hidden, verdict};
use super::calm::Calm;
use super::key::{Burnt, key};
use super::line::FIT_MM;
use super::links::{all_linked, in_turn};
use super::map::{cloth_to_bed, window_size};
use super::marks::{
    ChosenMark, MARK_APART_MM, MARK_ARM_MM, MARK_INSET_MM, MARK_ROOM_MM, Wanted, mark_band, mark_inset,
};
use super::model::{Joint, Mark, Pass, PassTrouble, Passes, Request};
use super::play::Play;
use super::shifted::for_room;
use super::track::Track;
use super::traverse::carried;
use super::waste::Waste;
use super::windows::{Ground, Item, windows};
use super::{marks, notes};
use crate::burn::{Burn, BurnKind, nested};
use crate::job::{Cutter, Feed, Overhang};
use crate::say::{Note, Trouble};
use crate::shape::{Bounds, Point, Region, Ring, pt};

/// Waste is first sampled this coarsely, to choose windows by, mm.
const COARSE_STEP_MM: f64 = 20.0;
const MOST_COARSE_SPOTS: usize = 20_000;

/// Most passes of one cloth, counted as beds laid side by side: what every pass hands on to others is weighed against all
/// of them.
const MOST_PASSES: f64 = 400.0;

/// The passes that burn `request.contours`: fewest windows (a piece that fits in one is never handed over), joints at
/// the calmest spots of the shared bands, marks in the waste, a key for every further pass.
///
/// Cloth frame, mm. Neighbouring windows overlap by at least the cutter's shared band (and by enough for marks) where
/// a cut is handed over between them. Same request, same passes.
///
/// # Errors
/// [`PassTrouble::Cannot`] when bed, band or overhang do not let it be done; [`PassTrouble::NoRoomForMarks`] when only
/// waste for marks is missing.
pub fn plan(request: &Request) -> Result<Passes, PassTrouble> {
    if request.contours.is_empty() {
        return Ok(Passes { passes: Vec::new(), notes: Vec::new() });
    }
    let cutter = request.cutter;
    let size = window_size(cutter);
    let inset = mark_inset(cutter);
    let band = cutter.shared_band_mm.max(mark_band(inset));
    let waste = Waste::new(request.cloth_outline, request.flaws, request.cuts).less_edge(request.edge_mm);
    let (mut windows, spots) = choose_windows(request, size, band, &waste)?;

    let rings: Vec<&Ring> = request.contours.iter().map(|c| &c.path).collect();
    let tracks: Vec<Track> = rings.iter().map(|r| Track::new(r)).collect();
    let inside = nested(request.cuts);
    let share = |windows: &[Bounds]| {
        let calm = Calm::new(&tracks, &rings, windows, band);
        share_out(request.contours, &inside, &calm, cutter.joint_overlap_mm).map_err(|no| {
            let name = request.name(request.contours[no.contour].placed);
            let what = "no spot in the shared bands where its cut can be handed over";
            Trouble::cannot(format!("piece {name}"), what)
                .hint("widen cutter.shared_band_mm, or lessen cutter.joint_overlap_mm")
        })
    };
    let is_large =
        |r: &&Region| r.bounds().width() > size.x + FIT_MM || r.bounds().height() > size.y + FIT_MM;
    let large: Vec<&Region> = request.cuts.iter().filter(is_large).collect();
    let (mut shares, chosen) = loop {
        let mut shares = share(&windows)?;
        // Earlier passes may have left a later one nothing to do.
        while let Some(fewer) = without_idle(&windows, &shares.cuttings, &spots, inset) {
            windows = fewer;
            shares = share(&windows)?;
        }
        let mut burnt = vec![Bounds::EMPTY; windows.len()];
        for (i, cutting) in shares.cuttings.iter().enumerate() {
            for (pass, burn) in burns_of(request, &tracks[i], i, cutting) {
                burnt[pass] = burnt[pass].union(Bounds::of(burn.path.iter().copied()));
            }
        }
        let last_of = |hole: (usize, usize)| {
            let own =
                request.contours.iter().zip(&shares.cuttings).filter(|(c, _)| (c.placed, c.ring) == hole);
            own.map(|(_, cutting)| cutting.last()).max().unwrap_or(0)
        };
        let joints: Vec<(usize, usize, Point)> =
            joints_of(&shares.cuttings).iter().map(|(_, h)| (h.before, h.after, h.spot.at)).collect();
        let marks_for = |windows: &[Bounds]| {
            let (joints, burnt, waste, large, last_of) =
                (&joints[..], &burnt[..], &waste, &large[..], &last_of);
            Wanted { windows, joints, burnt, waste, large, inset, last_of }.choose()
        };
        let (contours, cuttings, overhang) = (request.contours, &shares.cuttings[..], cutter.overhang);
        let play = Play { contours, cuttings, burnt: &burnt, spots: &spots, band, inset, overhang };
        let given = play.given(&windows);
        let chosen = match marks_for(&given) {
            Ok(chosen) => {
                windows = given;
                chosen
            }
            Err(_) => marks_for(&windows).map_err(|no| {
                if no.spots.len() >= 2 || !large.is_empty() {
                    return PassTrouble::NoRoomForMarks(no);
                }
                let what = "the band two passes share has no cloth for two marks";
                let hint =
                    "widen cutter.shared_band_mm, lessen cutter.peg_strip_mm, or use a larger bed or cloth";
                PassTrouble::Cannot(Trouble::cannot("cutter.shared_band_mm", what).hint(hint))
            })?,
        };
        // What a window was put in for may have been found elsewhere.
        let idle = |k: &usize| burnt[*k].is_empty() && chosen.iter().all(|m| m.burnt_by != *k);
        match (0..windows.len()).rev().find(idle) {
            Some(k) => drop(windows.remove(k)),
            None => break (shares, chosen),
        }
    };
    let mut passes: Vec<Pass> = windows
        .iter()
        .enumerate()
        .map(|(k, &window)| Pass {
            number: k + 1,
            window,
            cloth_to_bed: cloth_to_bed(window, cutter),
            burns: Vec::new(),
            marks: Vec::new(),
            joints: Vec::new(),
            key: Vec::new(),
        })
        .collect();
    add_marks(&mut passes, &chosen);
    let budget = Budget::new(&passes, cutter.mark_error_mm);
    // Now that marks are chosen it is known how large a step each spot may show.
    let shown =
        |a: usize, b: usize, at: Point| share_of_hidden(budget.expected_mm(a, b, at), cutter.border_mm);
    let mut calm = Calm::new(&tracks, &rings, &windows, band);
    calm.step = Some(&shown);
    shares.cuttings = settled_anew(&shares.cuttings, &calm, cutter.joint_overlap_mm);
    let hands = joints_of(&shares.cuttings);
    for (i, cutting) in shares.cuttings.iter().enumerate() {
        for (pass, burn) in burns_of(request, &tracks[i], i, cutting) {
            passes[pass].burns.push(burn);
        }
    }
    add_strokes(&mut passes, &chosen);
    for (k, pass) in passes.iter_mut().enumerate().skip(1) {
        pass.key = key(
            pass.window,
            request.cuts,
            cutter.kerf_mm.max(0.0) / 2.0,
            cutter.key_clearance_mm,
            |placed, ring| already_burnt(request, &tracks, &shares.cuttings, k, (placed, ring)),
        );
    }
    for (contour, hand) in &hands {
        let later = hand.before.max(hand.after);
        let step = budget.step(hand.before, hand.after, hand.spot.at);
        let by_key = key_step(&passes[later].key, hand.spot.at, cutter.key_clearance_mm);
        let joint = Joint {
            placed: request.contours[*contour].placed,
            ring: request.contours[*contour].ring,
            at: hand.spot.at,
            overlap_mm: cutter.joint_overlap_mm,
            expected_step_mm: step.expected_mm,
            step_95_mm: step.most_mm,
            key_step_mm: by_key.map(|s| [s.expected_mm, s.most_mm]),
            verdict: verdict(step, cutter.border_mm),
        };
        passes[hand.before].joints.push(joint.clone());
        passes[hand.after].joints.push(joint);
    }
    let mut notes = notes::notes(request, &passes, &calm, &hands, &shares.out_of_turn);
    notes.extend(other_feed(request, passes.len(), band, &waste));
    Ok(Passes { passes, notes })
}

/// Advice to feed the cloth the other way when that takes fewer passes.
fn other_feed(request: &Request, count: usize, band: f64, waste: &Waste) -> Option<Note> {
    let (feed, word) = match request.cutter.feed {
        Feed::AlongX => (Feed::AlongY, "along-y"),
        Feed::AlongY => (Feed::AlongX, "along-x"),
    };
    let [x, y] = request.cutter.bed_mm;
    if count < 2 || x == y {
        return None;
    }
    let cutter = Cutter { feed, ..request.cutter.clone() };
    let turned = Request { cutter: &cutter, ..*request };
    let (windows, _) = choose_windows(&turned, window_size(&cutter), band, waste).ok()?;
    (windows.len() < count).then(|| {
        let passes = if windows.len() == 1 { "1 pass".into() } else { format!("{} passes", windows.len()) };
        Note::advice("passes", format!("cutter.feed \"{word}\" would take {passes} in place of {count}."))
    })
}

/// The windows, and the waste they were chosen by.
fn choose_windows(
    request: &Request,
    size: Point,
    band: f64,
    waste: &Waste,
) -> Result<(Vec<Bounds>, Vec<Point>), Trouble> {
    let cutter = request.cutter;
    let inset = mark_inset(cutter);
    let least = MARK_APART_MM + mark_band(MARK_INSET_MM);
    if !(size.x >= least && size.y >= least) {
        let what = format!(
            "less its margins it reaches {:.0} × {:.0} mm; {least:.0} mm each way are the least",
            size.x, size.y
        );
        return Err(Trouble::cannot("cutter.bed_mm", what).hint("check cutter.bed_mm and cutter.margin_mm"));
    }
    let all = request.contours.iter().map(|c| c.path.bounds()).fold(Bounds::EMPTY, Bounds::union);
    let cloth = request.cloth_outline.bounds().union(all);
    let prefer = must_lie(request, size, cloth, all)?;
    let bed_bound = all.width() > size.x + FIT_MM || all.height() > size.y + FIT_MM;
    if bed_bound && !(band < size.x.min(size.y) && (0.0..band).contains(&cutter.joint_overlap_mm)) {
        let what = format!(
            "the band of {band:.0} mm must be wider than the overlap of {:.1} mm and narrower than the {:.0} mm the bed reaches",
            cutter.joint_overlap_mm,
            size.x.min(size.y)
        );
        let pegs = mark_band(inset) > cutter.shared_band_mm;
        let hint = if pegs {
            "lessen cutter.peg_strip_mm, or use a larger bed"
        } else {
            // A third of what the bed reaches: wide enough for any overlap a band may have.
            &format!(
                "set cutter.shared_band_mm to {:.0} and cutter.joint_overlap_mm to 2",
                (size.x.min(size.y) / 3.0).floor()
            )
        };
        return Err(Trouble::cannot("cutter.shared_band_mm", what).hint(hint));
    }
    let across = (all.width() / size.x).ceil().max(1.0);
    let about = across * (all.height() / size.y).ceil().max(1.0);
    if about > MOST_PASSES {
        let what = format!(
            "the pieces lie over {:.0} × {:.0} mm, about {about:.0} passes of a bed that reaches {:.0} × {:.0} mm; at most \
             {MOST_PASSES} are planned for one cloth",
            all.width(),
            all.height(),
            size.x,
            size.y
        );
        return Err(Trouble::cannot("cutter.bed_mm", what)
            .hint("use a larger bed, or make several jobs of the pieces"));
    }
    let fits = |b: Bounds| b.width() <= size.x + FIT_MM && b.height() <= size.y + FIT_MM;
    let mut whole = vec![true; request.cuts.len()];
    for c in request.contours.iter().filter(|c| c.kind() == BurnKind::Outline) {
        if let Some(w) = whole.get_mut(c.placed) {
            *w &= fits(c.path.bounds());
        }
    }
    let items: Vec<Item> = request
        .contours
        .iter()
        .map(|c| Item { bounds: c.path.bounds(), outline: c.kind() == BurnKind::Outline, ring: &c.path })
        .zip(request.contours)
        .filter(|(item, c)| item.outline || !whole.get(c.placed).copied().unwrap_or(true))
        .map(|(item, _)| item)
        .collect();
    // What is cut out of a piece that takes several passes stays with the cloth until the last of them.
    let stays = |holes: &[(usize, usize)]| holes.iter().all(|h| !whole.get(h.0).copied().unwrap_or(true));
    let spots = waste.spots(cloth, COARSE_STEP_MM, MOST_COARSE_SPOTS, MARK_ROOM_MM);
    let spots: Vec<Point> = spots.into_iter().filter(|s| stays(&s.holes)).map(|s| s.at).collect();
    let ground = Ground { items: &items, size, band, cloth, prefer, spots: &spots, inset };
    let found = windows(&ground).ok_or_else(|| {
        let what = "the windows cannot be laid so that all pieces are covered";
        Trouble::cannot("cutter.shared_band_mm", what).hint("use a narrower band or a larger bed")
    })?;
    let may = [cutter.overhang == Overhang::Both, cutter.overhang != Overhang::None];
    Ok((carried(for_room(found, &ground, may), &ground, may), spots))
}

/// Where a window must or should begin for the cloth to lie on the bed: both ways at the cloth's edge, moved as little
/// as it takes.
fn must_lie(request: &Request, size: Point, cloth: Bounds, all: Bounds) -> Result<Point, Trouble> {
    let cutter = request.cutter;
    let m = cutter.margin_mm;
    let own = request.cloth_outline.bounds();
    let across = cutter.overhang != Overhang::Both;
    let along = cutter.overhang == Overhang::None;
    let lie = |low: f64, high: f64, first: f64, last: f64, reach: f64, must: bool, way: &str| {
        let bed = reach + 2.0 * m;
        // The cloth on the bed, and the pieces within reach.
        let (from, to) = ((high - reach - m).max(last - reach), (low + m).min(first));
        if must && high - low > bed + FIT_MM {
            let what =
                format!("it is {:.0} mm {way}, the bed {bed:.0} mm, and must not hang over", high - low);
            // Turned on the bed, it must not hang over either.
            let turned = own.width() <= size.y + 2.0 * m + FIT_MM
                && (!along || own.height() <= size.x + 2.0 * m + FIT_MM);
            let hint = if turned {
                let other = if cutter.feed == Feed::AlongX { "along-y" } else { "along-x" };
                format!(
                    "set cutter.feed to \"{other}\" or cutter.overhang to \"both\", or cut the cloth to size"
                )
            } else {
                "set cutter.overhang to \"both\", or cut the cloth to size".to_owned()
            };
            return Err(Trouble::cannot("cloth", what).hint(hint));
        }
        if must && from > to + FIT_MM {
            let what = format!("its pieces lie too near its edge {way} to be within the bed's margins");
            return Err(Trouble::cannot("cloth", what)
                .hint("set cutter.overhang to \"both\", or give the cloth a wider edge_mm"));
        }
        Ok(if from <= to + FIT_MM { low.max(from).min(to) } else { low.min(first) })
    };
    let x = lie(own.min.x, own.max.x, all.min.x, all.max.x, size.x, across, "wide")?;
    let y = lie(own.min.y, own.max.y, all.min.y, all.max.y, size.y, along, "long")?;
    debug_assert!(cloth.holds(all));
    Ok(pt(x, y))
}

/// The windows less one that cuts nothing and that no other finds its place by; `None` when there is none.
fn without_idle(
    windows: &[Bounds],
    cuttings: &[Cutting],
    spots: &[Point],
    inset: f64,
) -> Option<Vec<Bounds>> {
    let mut busy = vec![false; windows.len()];
    for cutting in cuttings {
        match cutting {
            Cutting::Whole(pass) => busy[*pass] = true,
            Cutting::Shared(hands) => hands.iter().for_each(|h| busy[h.after] = true),
        }
    }
    let (_, without_room) = in_turn(windows.to_vec(), spots, inset);
    (0..windows.len()).rev().filter(|&k| !busy[k]).find_map(|k| {
        let mut left = windows.to_vec();
        left.remove(k);
        let (left, now) = in_turn(left, spots, inset);
        (now <= without_room && all_linked(&left, inset)).then_some(left)
    })
}

/// All spots where cuts are handed over, with their contour.
fn joints_of(cuttings: &[Cutting]) -> Vec<(usize, Hand)> {
    let shared = cuttings.iter().enumerate().filter_map(|(i, c)| match c {
        Cutting::Shared(hands) => Some(hands.iter().map(move |&h| (i, h))),
        Cutting::Whole(_) => None,
    });
    shared.flatten().collect()
}

/// The stretches of a shared contour: pass, from, to, half the overlap past each joint.
fn stretches(hands: &[Hand], total: f64, half: f64) -> Vec<(usize, f64, f64)> {
    let n = hands.len();
    let between = |k: usize| {
        let (from, to) = (&hands[k], &hands[(k + 1) % n]);
        let end = if k + 1 == n { to.spot.s + total } else { to.spot.s };
        (from.after, from.spot.s - half, end + half)
    };
    (0..n).map(between).collect()
}

fn burns_of(request: &Request, track: &Track, contour: usize, cutting: &Cutting) -> Vec<(usize, Burn)> {
    let c = &request.contours[contour];
    let burn = |closed: bool, path: Vec<Point>| Burn {
        kind: c.kind(),
        placed: Some(c.placed),
        ring: c.ring,
        closed,
        path,
    };
    match cutting {
        Cutting::Whole(pass) => vec![(*pass, burn(true, c.path.points.clone()))],
        Cutting::Shared(hands) => stretches(hands, track.total(), request.cutter.joint_overlap_mm / 2.0)
            .into_iter()
            .map(|(pass, from, to)| (pass, burn(false, track.path(from, to))))
            .collect(),
    }
}

fn add_marks(passes: &mut [Pass], chosen: &[ChosenMark]) {
    for (k, mark) in chosen.iter().enumerate() {
        let name = marks::mark_name(k);
        for &pass in &mark.known_to {
            let burnt_here = pass == mark.burnt_by;
            passes[pass].marks.push(Mark { name: name.clone(), at: mark.at, burnt_here });
        }
    }
}

/// Burns the crosses.
fn add_strokes(passes: &mut [Pass], chosen: &[ChosenMark]) {
    for mark in chosen {
        for arm in [pt(MARK_ARM_MM, 0.0), pt(0.0, MARK_ARM_MM)] {
            let path = vec![mark.at - arm, mark.at + arm];
            let stroke = Burn { kind: BurnKind::Mark, placed: None, ring: 0, closed: false, path };
            passes[mark.burnt_by].burns.push(stroke);
        }
    }
}

/// What passes before `pass` have burnt of a ring.
fn already_burnt(
    request: &Request,
    tracks: &[Track],
    cuttings: &[Cutting],
    pass: usize,
    ring: (usize, usize),
) -> Burnt {
    let mut done = Burnt { whole: true, stretches: Vec::new() };
    let mut any = false;
    for i in (0..cuttings.len()).filter(|&i| (request.contours[i].placed, request.contours[i].ring) == ring) {
        any = true;
        done.whole &= cuttings[i].last() < pass;
        let total = tracks[i].total();
        match &cuttings[i] {
            Cutting::Whole(by) if *by < pass => done.stretches.push(tracks[i].path(0.0, total)),
            Cutting::Whole(_) => {}
            Cutting::Shared(hands) => {
                let early = stretches(hands, total, 0.0).into_iter().filter(|s| s.0 < pass);
                done.stretches.extend(early.map(|(_, from, to)| tracks[i].path(from, to)));
            }
        }
    }
    done.whole &= any;
    done
}
