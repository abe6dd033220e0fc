//! What would free a job that cannot be laid: changes are tried, and only those that help are told.

use std::cell::Cell;
use std::time::{Duration, Instant};

use serde_json::Value;

use super::compute::{Request, attempt};
use crate::cloth::Cloth;
use crate::drawing::{self, Piece};
use crate::job::{self, EACH, Grain, LaySpec, LockedSpec, Match, PieceRule};
use crate::say::{Change, Silent, Stuck, Trouble, Watch, Way};
use crate::shape::{Bounds, Region, pt};

/// Troubles for which changes are tried, and ways told of each.
const MOST_TRIED: usize = 6;
const MOST_TOLD: usize = 3;

/// Changes are tried for so many seconds at least, where the job says how long to search and that is less.
const LEAST_S: f64 = 2.0;

/// Units of effort spent to see whether a changed job can be laid.
const EFFORT: u32 = 2;

/// Single pieces laid in all tries of one job together: of a large job few changes are tried.
const MOST_LAID: u64 = 40_000;

/// A length found by a quick search is told with so much to spare, since a search by the clock may end a little longer;
/// and rounded up to whole centimetres.
const TO_SPARE: f64 = 1.01;
const ROUND_MM: f64 = 10.0;

/// Repeats by which a cloth is tried wider, where a match needs more than the piece's own width.
const WIDER_REPEATS: usize = 3;

/// The troubles with what would help: first the changes that were tried and do, then what each says itself.
pub fn told(request: &Request, troubles: Vec<Trouble>, watch: &dyn Watch) -> Vec<Trouble> {
    let mut left = MOST_TRIED;
    let singles: u64 = request.pieces.iter().map(|p| u64::from(p.count)).sum();
    let tries = Cell::new(MOST_LAID.div_ceil(singles.max(1)));
    // By the clock the tries take no longer than the search itself may.
    let time = Duration::from_secs_f64(request.spec.seconds.max(LEAST_S));
    let until = request.spec.effort.is_none().then(|| Instant::now() + time);
    let mut known: Vec<(Stuck, Vec<Way>)> = Vec::new();
    troubles
        .into_iter()
        .map(|mut trouble| {
            let Some(stuck) = trouble.stuck.take().map(|stuck| *stuck) else { return trouble };
            let ways = match known.iter().find(|(s, _)| *s == stuck) {
                Some((_, ways)) => ways.clone(),
                None if left == 0 || tries.get() == 0 || watch.stopped() => Vec::new(),
                None => {
                    left -= 1;
                    watch.step("lay", 0.0, &format!("{}: what would help?", trouble.about));
                    Trial { request, watch, stuck: &stuck, tries: &tries, until }.ways()
                }
            };
            known.push((stuck, ways.clone()));
            let mut words: Vec<String> = ways.iter().map(Way::told).collect();
            words.extend((!trouble.hint.is_empty()).then(|| trouble.hint.clone()));
            trouble.hint = words.join("; or ");
            trouble.ways = ways;
            trouble
        })
        .collect()
}

struct Trial<'a> {
    request: &'a Request<'a>,
    watch: &'a dyn Watch,
    stuck: &'a Stuck,
    /// Lays that may still be tried.
    tries: &'a Cell<u64>,
    /// When trying ends, by the clock.
    until: Option<Instant>,
}

/// A request of its own.
struct Changed {
    rules: Vec<PieceRule>,
    cloths: Vec<Cloth>,
    pieces: Vec<Piece>,
}

impl Trial<'_> {
    fn ways(&self) -> Vec<Way> {
        let mut found: Vec<Way> = Vec::new();
        for way in self.of_rules() {
            if self.watch.stopped() {
                return found;
            }
            // No way is told that holds another, or leaves to the lay what another says outright.
            let same = |c: &Change, d: &Change| {
                (c.owner, c.index, c.field) == (d.owner, d.index, d.field)
                    && (c.value == d.value || d.value == "either")
            };
            let more_of_it = |w: &Way| w.changes.iter().all(|c| way.changes.iter().any(|d| same(c, d)));
            if found.len() + 1 < MOST_TOLD && !found.iter().any(more_of_it) && self.helps(&way) {
                found.push(way);
            }
        }
        found.extend(self.wider().or_else(|| self.longer()));
        found
    }

    /// Rules whose pieces are stuck.
    fn rules(&self) -> Vec<usize> {
        if !self.stuck.rules.is_empty() {
            return self.stuck.rules.clone();
        }
        let cloth = &self.request.cloths[self.stuck.cloth];
        let of = |name: &String| *name == cloth.name || Some(name) == cloth.stock.as_ref();
        let used = |r: usize| self.request.pieces.iter().any(|p| p.rule == r && p.count > 0);
        let all = self.request.rules.iter().enumerate();
        all.filter(|(r, rule)| of(&rule.cloth) && used(*r)).map(|(r, _)| r).collect()
    }

    /// These rules and those that share a group with one of them: a group lies one way.
    fn together(&self, rules: &[usize]) -> Vec<usize> {
        let pieces = self.request.pieces;
        let shares = |p: &Piece| {
            let with = |q: &Piece| rules.contains(&q.rule) && q.group == p.group && q.matching == p.matching;
            p.matching != Match::Free && pieces.iter().any(with)
        };
        let mut all = rules.to_vec();
        all.extend(pieces.iter().filter(|p| p.count > 0 && shares(p)).map(|p| p.rule));
        all.sort_unstable();
        all.dedup();
        all
    }

    /// Rules that might be given up, the least first.
    fn of_rules(&self) -> Vec<Way> {
        let rules = self.rules();
        let together = self.together(&rules);
        let rule = |r: &usize| &self.request.rules[*r];
        let patterned = self.request.cloths[self.stuck.cloth].pattern.is_some();
        let grains = |grain: &str, from: &[Grain]| -> Vec<Change> {
            let of = together.iter().filter(|r| from.contains(&rule(r).grain));
            of.map(|r| Change::of_rule(*r, "grain", grain)).collect()
        };
        let across = grains("across", &[Grain::Along, Grain::Bias]);
        let along = grains("along", &[Grain::Across, Grain::Bias]);
        let either = grains("either", &[Grain::Along, Grain::Across, Grain::Bias]);
        let open: Vec<Change> = rules
            .iter()
            .filter(|r| rule(r).pattern_at_mm.is_some())
            .map(|r| Change::of_rule(*r, "pattern_at_mm", Value::Null))
            .collect();
        let apart: Vec<Change> = rules
            .iter()
            .filter(|r| patterned && matches!(rule(r).matching, Match::Drawn | Match::Centred))
            .filter(|r| rule(r).group.as_deref() != Some(EACH) && rule(r).pattern_at_mm.is_none())
            .map(|r| Change::of_rule(*r, "group", EACH))
            .collect();
        let free: Vec<Change> = rules
            .iter()
            .filter(|r| patterned && rule(r).matching != Match::Free)
            .flat_map(|r| {
                let idle = [
                    ("pattern_at_mm", rule(r).pattern_at_mm.is_some()),
                    ("anchor_mm", rule(r).anchor_mm.is_some()),
                ];
                let idle = idle.into_iter().filter(|(_, given)| *given);
                let out = idle.map(|(field, _)| Change::of_rule(*r, field, Value::Null));
                std::iter::once(Change::of_rule(*r, "match", "free")).chain(out)
            })
            .collect();
        let both = |one: &[Change], other: &[Change]| [one, other].concat();
        let all = [
            across.clone(),
            along.clone(),
            either.clone(),
            open,
            apart,
            free.clone(),
            if free.is_empty() { Vec::new() } else { both(&across, &free) },
            if free.is_empty() { Vec::new() } else { both(&along, &free) },
            if free.is_empty() { Vec::new() } else { both(&either, &free) },
        ];
        all.into_iter().filter(|c| !c.is_empty()).map(|changes| Way { changes }).collect()
    }

    /// A cloth just wide enough for the piece, and for its match.
    fn wider(&self) -> Option<Way> {
        let cloth = &self.request.cloths[self.stuck.cloth];
        let [width, length] = self.stuck.size_mm.filter(|_| is_straight(cloth))?;
        let b = cloth.outline.bounds();
        let repeat = cloth.pattern.as_ref().and_then(|p| p.lattice.a).map_or(0.0, |a| a.x.abs());
        let narrowest = (width + 2.0 * cloth.edge_mm).max(b.width());
        let longest = ((length + 2.0 * cloth.edge_mm) * TO_SPARE / ROUND_MM).ceil() * ROUND_MM;
        let tried = (0..=WIDER_REPEATS).map(|k| {
            let mm = (narrowest + repeat * k as f64).ceil();
            let mut changes = vec![Change::of_cloth(self.stuck.cloth, "width_mm", mm as u64)];
            if !cloth.open_length && longest > b.height() {
                changes.push(Change::of_cloth(self.stuck.cloth, "length_mm", longest as u64));
            }
            changes.retain(|c| c.field != "width_mm" || mm > b.width());
            Way { changes }
        });
        tried.filter(|way| !way.changes.is_empty()).find(|way| self.helps(way))
    }

    /// A cloth long enough.
    fn longer(&self) -> Option<Way> {
        let c = self.stuck.cloth;
        let cloth = self.request.cloths.get(c).filter(|cloth| is_straight(cloth) && !cloth.open_length)?;
        let told = |used: f64| {
            let mm = (used * TO_SPARE / ROUND_MM).ceil() * ROUND_MM;
            (mm > cloth.outline.bounds().height())
                .then(|| Way { changes: vec![Change::of_cloth(c, "length_mm", mm as u64)] })
        };
        // A lay of all pieces that needs no more is at hand.
        if let Some(known) = self.stuck.length_mm {
            return told(known);
        }
        let mut changed = self.changed(&Way::default())?;
        changed.cloths[c] = Cloth { open_length: true, ..resized(cloth, None, Some(Cloth::OPEN_LENGTH_MM)) };
        let used = self.laid(&changed)?.get(c).copied()?;
        told(used).filter(|way| self.helps(way))
    }

    fn helps(&self, way: &Way) -> bool {
        self.changed(way).is_some_and(|changed| self.laid(&changed).is_some())
    }

    /// The request with the changes made, of the pieces concerned alone; `None` where a rule would make no sense.
    fn changed(&self, way: &Way) -> Option<Changed> {
        let Request { rules, cloths, pieces, .. } = *self.request;
        let mut all = Changed { rules: rules.to_vec(), cloths: cloths.to_vec(), pieces: pieces.to_vec() };
        for change in &way.changes {
            let number = change.value.as_f64();
            let index = change.index?;
            match (change.owner, change.field) {
                ("cloths", "width_mm") => all.cloths[index] = resized(&all.cloths[index], number, None),
                ("cloths", "length_mm") => all.cloths[index] = resized(&all.cloths[index], None, number),
                _ => all.rules[index] = with_field(&all.rules[index], change)?,
            }
        }
        let stuck = self.rules();
        if stuck.iter().any(|r| !job::makes_sense(&all.rules[*r])) {
            return None;
        }
        let in_step = |p: &Piece| {
            let with = |q: &Piece| stuck.contains(&q.rule) && q.group == p.group && q.matching == p.matching;
            p.matching != Match::Free && pieces.iter().any(with)
        };
        for piece in &mut all.pieces {
            if !stuck.contains(&piece.rule) && !in_step(piece) {
                piece.count = 0;
            }
        }
        for piece in &mut all.pieces {
            piece.matching = all.rules[piece.rule].matching;
        }
        drawing::regroup(&mut all.pieces, &all.rules);
        Some(all)
    }

    /// The length used of every cloth, where a quick search lays the changed request.
    fn laid(&self, changed: &Changed) -> Option<Vec<f64>> {
        let late = self.until.is_some_and(|u| Instant::now() >= u);
        if self.tries.get() == 0 || late || self.watch.stopped() {
            return None;
        }
        self.tries.set(self.tries.get() - 1);
        let spec = self.request.spec;
        let there = |l: &&LockedSpec| changed.pieces.iter().any(|p| p.id == l.piece && p.count >= l.copy);
        let locked = spec.locked.iter().filter(there).cloned().collect();
        let effort = Some(spec.effort.unwrap_or(EFFORT).min(EFFORT));
        let spec = LaySpec { effort, locked, ..spec.clone() };
        let request = Request {
            pieces: &changed.pieces,
            rules: &changed.rules,
            cloths: &changed.cloths,
            spec: &spec,
            struck: None,
            live: None,
            ..*self.request
        };
        attempt(&request, &Silent(self.watch))
            .ok()
            .map(|lay| lay.cloths.iter().map(|on| on.used_length_mm).collect())
    }
}

/// True when the cloth is a rectangle, as one told by width and length is, and none of a stock of scraps, which are as
/// they are.
fn is_straight(cloth: &Cloth) -> bool {
    let b = cloth.outline.bounds();
    cloth.stock.is_none()
        && cloth.outline.points.len() == 4
        && (cloth.outline.signed_area() - b.width() * b.height()).abs() < 1.0
}

fn resized(cloth: &Cloth, width: Option<f64>, length: Option<f64>) -> Cloth {
    let b = cloth.outline.bounds();
    let far = pt(b.min.x + width.unwrap_or(b.width()), b.min.y + length.unwrap_or(b.height()));
    Cloth { outline: Region::rectangle(Bounds::new(b.min, far)).outline, ..cloth.clone() }
}

fn with_field(rule: &PieceRule, change: &Change) -> Option<PieceRule> {
    let mut value = serde_json::to_value(rule).ok()?;
    value.as_object_mut()?.insert(change.field.to_owned(), change.value.clone());
    serde_json::from_value(value).ok()
}
