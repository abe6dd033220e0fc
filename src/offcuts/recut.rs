//! One spoilt piece cut again, in the step of the one it replaces.

use crate::cloth::Cloth;
use crate::drawing::Piece;
use crate::job::{ClothSpec, Grain, Job, LaySpec, LockedSpec, Match, PieceRule};
use crate::lay::{self, allowed_turns};
use crate::plan::{self, Plan, PlanPiece, Prepared, Run};
use crate::say::{Note, Quiet, Trouble, Watch, nearest_name};
use crate::shape::{Point, Pose, Region, pt, tol};

use super::model::{Offcut, State};
use super::rests::{self, Rest, Source};
use super::room::Room;
use super::seat::{Looks, Seat, Sitter, Way};
use super::take::fabric_of;

/// What is asked.
pub struct Asked<'a> {
    /// The job the piece belongs to.
    pub prepared: Prepared,
    /// The plan it was cut by.
    pub plan: Option<&'a Plan>,
    /// Plans of pieces cut again from the same cloth since: they are in the way.
    pub since: &'a [Plan],
    /// The piece's name.
    pub piece: &'a str,
    /// Which copy, from 1.
    pub copy: u32,
    /// The shelf, with what was taken from it.
    pub shelf: &'a [Offcut],
}

/// A piece placed again and ready to be cut.
#[derive(Debug)]
pub struct Recut {
    /// Where it is cut from.
    pub source: Source,
    /// How far out of step it is with the one it replaces, mm; 0 when it is exact. `None` when no pattern binds it.
    pub off_mm: Option<f64>,
    /// By how much repeats measured otherwise on this cloth may pull the pattern out over the piece, mm.
    pub drift_mm: f64,
    /// How many cloths were looked at.
    pub looked_at: usize,
    /// The run for that piece alone: plan, passes, cloth.
    pub run: Run,
}

/// Finds the smallest offcut, scrap or rest of the plan's cloth on which the piece can be cut in the same step; where
/// there is none, the one with the place least out of step; and makes the plan of that one piece.
///
/// # Errors
/// A piece, copy or plan that does not fit the job; no cloth that takes the piece.
pub fn recut(asked: Asked, watch: &dyn Watch) -> Result<Recut, Vec<Trouble>> {
    let Asked { prepared, plan, since, piece: id, copy, shelf } = asked;
    let piece = named(&prepared.pieces, id, copy)?.clone();
    let rule = prepared.job.pieces[piece.rule].clone();
    let was = plan.map(|p| planned(p, &piece, copy)).transpose()?;
    let name = was.map_or_else(|| prepared.job.cloths[piece.cloth].name.clone(), |w| w.cloth.clone());
    let like = described(&prepared.job, plan, &name, piece.cloth);
    let ways = ways(&prepared.cloths[piece.cloth], plan, was, &piece, &rule)?;

    let kept: Vec<&Offcut> = shelf.iter().filter(|o| o.state == State::Kept).collect();
    let mut all = rests::of_shelf(&kept, &like, piece.cut.area(), since);
    if let Some(plan) = plan {
        rests::less_of_plan(&mut all, plan, &name, since, shelf)?;
        all.extend(rests::of_plan(plan, &name, since, shelf)?);
    }
    let looked_at = all.len();
    watch.step("lay", 0.0, &format!("{looked_at} cloths for piece {id}"));
    let choice = choose(&all, &piece, &rule, &ways, &prepared.job.lay);
    let Some((at, seat)) = choice.at else {
        return Err(vec![nothing(&piece, &like, looked_at, plan.is_some(), choice.all)]);
    };
    let Rest { source, spec, cloth, .. } = all.swap_remove(at);
    let off_mm = ways.as_ref().map(|_| seat.off_mm);
    let drift_mm = drift(&cloth, plan, &name, piece.cut.bounds().width(), piece.cut.bounds().height());
    let mut run_of = alone(&prepared.job, &piece, &rule, spec, &cloth, seat, off_mm);
    run_of.notes = notes(id, &source, off_mm, drift_mm);
    if !choice.all && off_mm.is_some_and(|off| off > 0.0) {
        let text =
            "Not every place was looked at, for there are too many: one nearer to its step may be there.";
        run_of.notes.push(Note::caution(format!("piece {id}"), text));
    }
    run_of.notes.extend(was.and_then(|was| other_size(was, &piece)));
    for other in rests::of_no_account(since, &name, shelf) {
        let text = "It takes no place away: what it was cut from is neither the plan's cloth nor an offcut of this shelf.";
        run_of.notes.push(Note::caution(format!("--since {}", other.title), text));
    }
    let alone = Prepared { drawing: prepared.drawing, ..run_of };
    let mut run = plan::run(alone, watch)?;
    for c in &mut run.plan.cloths {
        c.cut_from = Some(source.kept());
        // What is left of an offcut is of its fabric.
        if let (Source::Shelf(_), Some(spec)) = (&source, &mut c.described) {
            spec.stock = Some(fabric_of(&like).to_owned());
        }
    }
    Ok(Recut { source, off_mm, drift_mm, looked_at, run })
}

fn named<'a>(pieces: &'a [Piece], id: &str, copy: u32) -> Result<&'a Piece, Vec<Trouble>> {
    let Some(piece) = pieces.iter().find(|p| p.id == id) else {
        let near = nearest_name(id, pieces.iter().map(|p| p.id.as_str()));
        let hint =
            near.map_or("settlay check lists the job's pieces".into(), |n| format!("did you mean {n}?"));
        return Err(vec![Trouble::bad_input("--piece", format!("the job has no piece {id}")).hint(hint)]);
    };
    if copy == 0 || copy > piece.count {
        let what = format!("{copy}: piece {id} is cut {} times", piece.count);
        return Err(vec![Trouble::bad_input("--copy", what).hint("copies are counted from 1")]);
    }
    Ok(piece)
}

/// The piece as the plan has it.
fn planned<'a>(plan: &'a Plan, piece: &Piece, copy: u32) -> Result<&'a PlanPiece, Vec<Trouble>> {
    let found = plan.pieces.iter().find(|p| p.id == piece.id && p.copy == copy);
    let Some(was) = found else {
        let what = format!("the plan has no piece {} ({copy})", piece.id);
        return Err(vec![Trouble::bad_input("--plan", what).hint("name the plan that the piece was cut by")]);
    };
    let now = piece.drawn.bounds();
    let then = crate::shape::Ring::from_pairs(&was.drawn.outline).bounds();
    let moved = [now.min - then.min, now.max - then.max];
    if moved.iter().any(|d| d.x.abs().max(d.y.abs()) > tol::CHORD_MM) {
        let what = format!("piece {} was drawn otherwise when the plan was made", piece.id);
        let hint = "cut it again from the drawing the plan was made from";
        return Err(vec![Trouble::cannot(format!("piece {}", piece.id), what).hint(hint)]);
    }
    Ok(was)
}

fn described(job: &Job, plan: Option<&Plan>, name: &str, cloth: usize) -> ClothSpec {
    let planned = plan.and_then(|p| p.cloths.iter().find(|c| c.name == name));
    let named = || job.cloths.iter().find(|c| c.name == name);
    planned
        .and_then(|c| c.described.clone())
        .or_else(|| named().cloned())
        .unwrap_or_else(|| job.cloths[cloth].clone())
}

/// The turns in which the piece carries the pattern it carried, and the step of each; `None` when no pattern binds it.
fn ways(
    cloth: &Cloth,
    plan: Option<&Plan>,
    was: Option<&PlanPiece>,
    piece: &Piece,
    rule: &PieceRule,
) -> Result<Option<Vec<Way>>, Vec<Trouble>> {
    let Some(pattern) = cloth.pattern.as_ref().filter(|_| piece.matching != Match::Free) else {
        return Ok(None);
    };
    let (turn_deg, phase) = match (was, plan) {
        (Some(was), Some(plan)) => {
            let of = plan.cloths.iter().find(|c| c.name == was.cloth).and_then(|c| c.pattern.as_ref());
            let origin = of.map_or([pattern.lattice.origin.x, pattern.lattice.origin.y], |p| p.origin);
            (was.turn_deg, pt(was.shift[0] - origin[0], was.shift[1] - origin[1]))
        }
        _ => match (piece.matching, rule.pattern_at_mm) {
            (Match::Drawn, Some([x, y])) if rule.grain != Grain::Either => {
                let turn_deg = if rule.grain == Grain::Across { 90.0 } else { 0.0 };
                (turn_deg, Pose { turn_deg, shift: Point::default() }.apply(pt(-x, -y)))
            }
            _ => {
                let what = format!(
                    "piece {} is matched \"{}\", and only the plan it was cut by knows where its pattern sits",
                    piece.id,
                    piece.matching.word()
                );
                return Err(vec![Trouble::bad_input("--plan", what).hint("name that plan with --plan DIR")]);
            }
        },
    };
    let mut ways = vec![Way { turn_deg, phase }];
    if pattern.half_turn && !cloth.nap {
        // Turned by half, the pattern about a pivot crossing is the same: the step changes its sign.
        ways.push(Way { turn_deg: (turn_deg + 180.0).rem_euclid(360.0), phase: phase * -1.0 });
    }
    Ok(Some(ways))
}

/// The cloth and the place on it.
struct Choice {
    at: Option<(usize, Seat)>,
    /// False when something was left out for want of looks.
    all: bool,
}

/// Places and boxes of places looked at in one search over all cloths: a second or two.
const MOST_LOOKS: usize = 400_000;

fn choose(all: &[Rest], piece: &Piece, rule: &PieceRule, ways: &Option<Vec<Way>>, spec: &LaySpec) -> Choice {
    let turns: Vec<f64> = match (ways, all.first()) {
        (Some(ways), _) => ways.iter().map(|w| w.turn_deg).collect(),
        (None, Some(rest)) => allowed_turns(rule, &rest.cloth, "rule").unwrap_or_default(),
        (None, None) => Vec::new(),
    };
    let sitter = Sitter::new(&piece.cut, turns);
    let mut rooms = Rooms { all, sitter: &sitter, made: all.iter().map(|_| None).collect() };
    let mut looks = Looks::new(MOST_LOOKS);
    let Some(ways) = ways else {
        let found = (0..all.len()).find_map(|k| Some((k, sitter.anywhere(rooms.of(k)?, &mut looks)?)));
        // Turns between those that were tried.
        let mut between = |k: usize| {
            let open = all[k].cloth.pattern.is_none() && may_lean(rule);
            let room = Some(k).filter(|_| open).and_then(|k| rooms.wide(k))?;
            sitter.might_turn(room).then(|| leaning(&all[k], piece, rule, spec)).flatten()
        };
        let at = found.or_else(|| (0..all.len()).find_map(|k| Some((k, between(k)?))));
        return Choice { at, all: looks.all };
    };
    let lattice = |k: usize| all[k].cloth.pattern.as_ref().map(|p| p.lattice);
    let exact =
        (0..all.len()).find_map(|k| Some((k, sitter.in_step(rooms.of(k)?, &lattice(k)?, ways, &mut looks)?)));
    if exact.is_some() {
        return Choice { at: exact, all: true };
    }
    let mut closer = Looks::new(MOST_LOOKS);
    let mut at: Option<(usize, Seat)> = None;
    // The largest leave most freedom.
    for k in (0..all.len()).rev() {
        let (Some(lattice), Some(room)) = (lattice(k), rooms.of(k)) else { continue };
        let below = at.map_or(f64::INFINITY, |(_, s)| s.off_mm);
        if let Some(seat) = sitter.nearest(room, &lattice, ways, below, &mut closer) {
            at = Some((k, seat));
        }
    }
    Choice { at, all: looks.all && closer.all }
}

/// The rooms of cloths that a piece might go on, made when they are first asked for.
struct Rooms<'a> {
    all: &'a [Rest],
    sitter: &'a Sitter,
    made: Vec<Option<Room>>,
}

impl Rooms<'_> {
    /// Most of what is left is smaller than a long piece: that needs no room.
    fn of(&mut self, k: usize) -> Option<&Room> {
        let cloth = &self.all[k].cloth;
        let goes = self.sitter.might_go(cloth.outline.bounds());
        goes.then(|| self.wide(k)).flatten()
    }

    /// The same whatever the size of the piece: turned otherwise it may be narrower.
    fn wide(&mut self, k: usize) -> Option<&Room> {
        let cloth = &self.all[k].cloth;
        Some(&*self.made[k].get_or_insert_with(|| Room::new(cloth)))
    }
}

fn may_lean(rule: &PieceRule) -> bool {
    rule.grain == Grain::Any || rule.grain_tolerance_deg > 0.0
}

/// A place for a piece that may lie at any angle of a range, by a short search.
fn leaning(rest: &Rest, piece: &Piece, rule: &PieceRule, spec: &LaySpec) -> Option<Seat> {
    let one = Piece { cloth: 0, rule: 0, count: 1, matching: Match::Free, ..piece.clone() };
    let rule = PieceRule { cloth: rest.cloth.name.clone(), matching: Match::Free, ..rule.clone() };
    let spec = LaySpec { effort: Some(1), locked: Vec::new(), ..spec.clone() };
    let request = lay::Request {
        pieces: std::slice::from_ref(&one),
        rules: std::slice::from_ref(&rule),
        cloths: std::slice::from_ref(&rest.cloth),
        spec: &spec,
        kept_clear: &[],
        struck: None,
        keep: 1,
        live: None,
    };
    let lay = lay::attempt(&request, &Quiet).ok()?;
    lay.cloths.first()?.placed.first().map(|p| Seat { pose: p.pose, off_mm: 0.0 })
}

/// The job of that one piece on that cloth, placed by hand. Where it is exact the place is bound to the pattern
/// again, so that the lay's own test checks the step once more.
fn alone(
    job: &Job,
    piece: &Piece,
    rule: &PieceRule,
    spec: ClothSpec,
    cloth: &Cloth,
    seat: Seat,
    off_mm: Option<f64>,
) -> Prepared {
    let Pose { turn_deg, shift } = seat.pose;
    let mut rule =
        PieceRule { cloth: spec.name.clone(), count: 1, matching: Match::Free, group: None, ..rule.clone() };
    rule.pattern_at_mm = None;
    let quarters = turn_deg % 90.0 == 0.0;
    let origin = cloth.pattern.as_ref().map(|p| p.lattice.origin);
    if let (Some(0.0), Some(o), true) = (off_mm, origin, quarters) {
        let drawn = PieceRule { matching: Match::Drawn, ..rule.clone() };
        if allowed_turns(&drawn, cloth, "rule").is_ok_and(|t| t.contains(&turn_deg)) {
            // The point of the drawing that shows the first pivots.
            let at = Pose { turn_deg: -turn_deg, shift: pt(0.0, 0.0) }.apply(o - shift);
            rule = PieceRule { pattern_at_mm: Some([at.x, at.y]), ..drawn };
        }
    }
    let one = Piece {
        rule: 0,
        cloth: 0,
        count: 1,
        matching: rule.matching,
        group: piece.id.clone(),
        ..piece.clone()
    };
    let locked =
        LockedSpec { piece: piece.id.clone(), copy: 1, cloth: None, turn_deg, shift_mm: [shift.x, shift.y] };
    let mut job = job.clone();
    job.title = format!("{}: {} again", job.title, piece.id);
    job.cloths = vec![ClothSpec { stock: None, ..spec }];
    job.pieces = vec![rule];
    job.lay = LaySpec { effort: Some(1), avoid_bias: false, locked: vec![locked], ..job.lay };
    let cloth = Cloth { stock: None, ..cloth.clone() };
    let drawing = crate::drawing::Drawing {
        page_mm: [0.0; 2],
        elements: Vec::new(),
        notes: Vec::new(),
        losses: Vec::new(),
        measured: true,
    };
    Prepared { job, drawing, pieces: vec![one], cloths: vec![cloth], notes: Vec::new() }
}

fn notes(id: &str, source: &Source, off_mm: Option<f64>, drift_mm: f64) -> Vec<Note> {
    let about = format!("piece {id}");
    let mut notes = vec![match off_mm {
        None => Note::advice(&about, format!("It is cut again from {}.", source.words())),
        Some(0.0) => {
            let text =
                format!("It is cut again from {}, in the step of the one it replaces.", source.words());
            Note::advice(&about, text)
        }
        Some(off) => {
            let text = format!(
                "It is cut again from {}; its pattern is {off:.2} mm out of step with the one it replaces, the best \
                 that was found.",
                source.words()
            );
            Note::caution(&about, text)
        }
    }];
    if drift_mm > DRIFT_SAID_MM {
        let text = format!(
            "The repeat was measured otherwise on this cloth: over the piece the pattern may run out of step by \
             {drift_mm:.1} mm."
        );
        notes.push(Note::caution(about, text));
    }
    notes
}

/// A caution when the piece is cut to another size than the one it replaces: its allowance changed.
fn other_size(was: &PlanPiece, piece: &Piece) -> Option<Note> {
    let ring = |pairs: &Vec<[f64; 2]>| crate::shape::Ring::from_pairs(pairs);
    let then = Region::new(ring(&was.cut.outline), was.cut.cutouts.iter().map(ring).collect()).area();
    let now = piece.cut.area();
    let bound = piece.cut.edge_length() * tol::CHORD_MM;
    ((now - then).abs() > bound.max(tol::SLIVER_MM2)).then(|| {
        let text = format!(
            "It is cut to another size than the one it replaces, {:.1} in place of {:.1} cm²: its allowance changed since.",
            now / 100.0,
            then / 100.0
        );
        Note::caution(format!("piece {}", piece.id), text)
    })
}

/// Drift below this goes unseen beneath a border, mm (common practice, no source).
const DRIFT_SAID_MM: f64 = 0.5;

/// How far apart repeats of the plan's cloth and of `cloth` run over a piece of this size.
fn drift(cloth: &Cloth, plan: Option<&Plan>, name: &str, width: f64, height: f64) -> f64 {
    let was = plan.and_then(|p| p.cloths.iter().find(|c| c.name == name)).and_then(|c| c.pattern.as_ref());
    let (Some(was), Some(now)) = (was, &cloth.pattern) else { return 0.0 };
    let over = |v: Option<[f64; 2]>, w: Option<Point>, size: f64| match (v, w) {
        (Some(v), Some(w)) => {
            let (v, zero) = (pt(v[0], v[1]), pt(0.0, 0.0));
            crate::shape::distance(v, w) * size / crate::shape::distance(v, zero).max(tol::SAME_POINT_MM)
        }
        _ => 0.0,
    };
    over(was.a, now.lattice.a, width).max(over(was.b, now.lattice.b, height))
}

fn nothing(piece: &Piece, like: &ClothSpec, looked_at: usize, with_plan: bool, all: bool) -> Trouble {
    let b: crate::shape::Bounds = Region::bounds(&piece.cut);
    let rest = if with_plan { " and no rest of its cloth" } else { "" };
    let short = if all { "" } else { ", not at every place: there are too many" };
    let what = format!(
        "no offcut of {}{rest} takes it ({:.0} × {:.0} mm with its allowance; {looked_at} looked at{short})",
        fabric_of(like),
        b.width(),
        b.height()
    );
    let hint = if with_plan {
        "settlay buy says how much new cloth it takes"
    } else {
        "name the plan it was cut by with --plan, so that the rest of that cloth counts too"
    };
    Trouble::cannot(format!("piece {}", piece.id), what).hint(hint)
}
