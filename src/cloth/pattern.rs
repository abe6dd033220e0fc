//! From a pattern's description to its lattice, its symmetry and its threads.

use std::collections::BTreeMap;

use super::sett::{Order, Sett};
use super::{Pattern, colours};
use crate::job::PatternSpec;
use crate::say::{Note, Trouble};
use crate::shape::{Lattice, Point, pt};

/// Threads per centimetre of a cloth nobody counted, for its look only.
pub(super) const THREADS_PER_CM: f64 = 20.0;

/// A measured repeat further than this from the computed one is worth a second look, as a share.
const MEASURED_OFF: f64 = 0.10;

/// How a note on letters without a colour begins.
pub const NO_COLOUR: &str = "No colour is given";

/// More skew than this is commonly refused by buyers, mm on a metre (2 to 3 %; common practice, no source).
const USUAL_SKEW_MM_PER_M: f64 = 30.0;

/// What is known of a pattern in one direction.
struct Direction {
    /// The order, if there is a thread count.
    order: Option<Order>,
    /// The repeat, if it repeats, mm.
    repeat_mm: Option<f64>,
    /// Width of one thread, mm.
    thread_mm: f64,
    /// True when it reads the same backwards.
    symmetrical: bool,
}

/// The fields of one direction.
struct Words {
    order_key: &'static str,
    repeat_key: &'static str,
    density_key: &'static str,
    direction: &'static str,
    farther: &'static str,
    nearer: &'static str,
}

const ACROSS: Words = Words {
    order_key: "warp",
    repeat_key: "repeat_across_mm",
    density_key: "ends_per_cm",
    direction: "across",
    farther: "to the right",
    nearer: "to the left",
};
const ALONG: Words = Words {
    order_key: "weft",
    repeat_key: "repeat_along_mm",
    density_key: "picks_per_cm",
    direction: "along",
    farther: "farther along",
    nearer: "nearer the near cut end",
};

/// Reads a pattern; `place` is its path in the job, `about` what notes are about.
pub(super) fn understand(
    spec: &PatternSpec,
    place: &str,
    about: &str,
    notes: &mut Vec<Note>,
    troubles: &mut Vec<Trouble>,
) -> Option<Pattern> {
    let before = troubles.len();
    let own = own_colours(spec, place, troubles);
    let mut order = |text: &Option<String>, key: &str| {
        let text = text.as_ref()?;
        match Sett::parse(text) {
            Ok(sett) => Some(sett.order(spec.pivots)),
            Err(fault) => {
                let what = format!("\"{text}\": {}", fault.what);
                troubles.push(Trouble::bad_input(format!("{place}.{key}"), what).hint(fault.hint));
                None
            }
        }
    };
    let warp = order(&spec.warp, "warp");
    let weft = order(&spec.weft, "weft");
    if troubles.len() > before {
        return None;
    }
    let weft = weft.or_else(|| warp.clone());
    let letters = warp.iter().chain(&weft).flat_map(|o| &o.threads).map(String::as_str);
    let made_up = colours::made_up(letters, &own);
    let shown: BTreeMap<String, [u8; 3]> = made_up.iter().chain(&own).map(|(l, c)| (l.clone(), *c)).collect();
    let mut read = Read { spec, place, about, notes, troubles };
    let [across_mm, along_mm] = spec.measured_mm();
    let across = read.direction(warp, across_mm, spec.ends_per_cm, &ACROSS);
    let along = read.direction(weft, along_mm, spec.picks_per_cm, &ALONG);
    let warp_threads = threads(across.order.as_ref(), &shown);
    let weft_threads = if spec.weft.is_none() && across.order.is_some() {
        warp_threads.clone()
    } else {
        threads(along.order.as_ref(), &shown)
    };
    read.colours_made_up(&made_up);
    read.colours_said(&across, &along, &own);
    let half_turn = read.half_turn(&across, &along);
    if across.repeat_mm.is_none() && along.repeat_mm.is_none() && read.troubles.len() == before {
        let what = "neither a thread count of several colours nor a measured repeat is given";
        let hint = "a cloth without a check or stripe has no \"pattern\"; give its \"colour\" instead";
        read.troubles.push(Trouble::bad_input(place, what).hint(hint));
    }
    let lattice = read.lattice(&across, &along);
    if troubles.len() > before {
        return None;
    }
    let start = |d: &Direction| d.order.as_ref().map_or(0.0, |o| o.start);
    Some(Pattern {
        lattice,
        half_turn,
        pivots_known: spec.pivots_known(),
        mirrors_across: across.symmetrical,
        mirrors_along: along.symmetrical,
        warp_threads,
        weft_threads,
        threads_start: [start(&across), start(&along)],
        thread_mm: [across.thread_mm, along.thread_mm],
    })
}

fn own_colours(spec: &PatternSpec, place: &str, troubles: &mut Vec<Trouble>) -> BTreeMap<String, [u8; 3]> {
    let mut own = BTreeMap::new();
    for (letters, text) in &spec.colours {
        match colours::from_hex(text) {
            Some(colour) => {
                own.insert(letters.trim().to_uppercase(), colour);
            }
            None => troubles.push(Trouble::bad_input(
                format!("{place}.colours.{letters}"),
                format!("\"{text}\": expected a colour written #rrggbb"),
            )),
        }
    }
    own
}

/// The colours of one period, thread by thread.
fn threads(order: Option<&Order>, shown: &BTreeMap<String, [u8; 3]>) -> Vec<[u8; 3]> {
    let threads = order.into_iter().flat_map(|o| &o.threads);
    threads.map(|letters| colours::of_letters(letters, shown).unwrap_or(colours::NATURAL)).collect()
}

struct Read<'a> {
    spec: &'a PatternSpec,
    place: &'a str,
    about: &'a str,
    notes: &'a mut Vec<Note>,
    troubles: &'a mut Vec<Trouble>,
}

impl Read<'_> {
    fn direction(
        &mut self,
        order: Option<Order>,
        measured_given: Option<f64>,
        density_given: Option<f64>,
        words: &Words,
    ) -> Direction {
        let Words { repeat_key, density_key, order_key, direction, .. } = words;
        let mut sound = |key: &str, value: Option<f64>| {
            let value = value?;
            if value > 0.0 && value.is_finite() {
                return Some(value);
            }
            let what = format!("{value}: expected more than 0");
            self.troubles.push(Trouble::bad_input(format!("{}.{key}", self.place), what));
            None
        };
        let (measured, per_cm) = (sound(repeat_key, measured_given), sound(density_key, density_given));
        let counted_thread_mm = per_cm.map(|n| 10.0 / n);
        let plain_thread_mm = counted_thread_mm.unwrap_or(10.0 / THREADS_PER_CM);
        let Some(order) = order else {
            if measured.is_some() && self.spec.symmetrical.is_none() {
                let said = self.spec.repeat_across_mm.is_some() || self.spec.repeat_along_mm.is_some();
                let given = if said {
                    format!("\"{repeat_key}\" is given")
                } else {
                    "a photograph shows the repeat".to_owned()
                };
                let what = format!("the field \"symmetrical\" is missing: {given} without a thread count");
                let hint = "say true when a half turn leaves the pattern the same, else false";
                let trouble = Trouble::bad_input(self.place, what).hint(hint);
                // A photograph shows both directions, and it is asked once.
                if !self.troubles.contains(&trouble) {
                    self.troubles.push(trouble);
                }
            }
            let symmetrical = measured.is_none() || self.spec.symmetrical == Some(true);
            return Direction { order: None, repeat_mm: measured, thread_mm: plain_thread_mm, symmetrical };
        };
        let symmetrical = order.symmetrical;
        if order.is_one_colour() {
            if let Some(repeat) = measured {
                let what = format!(
                    "{repeat}: expected null: the {order_key} order has one colour, so nothing repeats"
                );
                self.troubles.push(Trouble::bad_input(format!("{}.{repeat_key}", self.place), what));
            }
            return Direction {
                order: Some(order),
                repeat_mm: None,
                thread_mm: plain_thread_mm,
                symmetrical,
            };
        }
        let threads = order.threads.len() as f64;
        let computed = counted_thread_mm.map(|thread_mm| thread_mm * threads);
        if let (Some(measured), Some(computed)) = (measured, computed)
            && (measured - computed).abs() > MEASURED_OFF * computed
        {
            let text = format!(
                "The repeat {direction} is {measured} mm as measured but {computed:.1} mm by the thread count \
                 ({threads} threads at {} per cm); the measured one is used. Check the count, {density_key} and pivots.",
                per_cm.unwrap_or_default()
            );
            self.notes.push(Note::advice(self.about, text));
        }
        let repeat_mm = measured.or(computed);
        if measured_given.is_none() && density_given.is_none() {
            let what = format!("the field \"{density_key}\" is missing (or \"{repeat_key}\" as measured)");
            let hint = "a thread count has no size of its own";
            self.troubles.push(Trouble::bad_input(self.place, what).hint(hint));
        }
        let thread_mm = repeat_mm.map_or(plain_thread_mm, |repeat| repeat / threads);
        if order.moved != 0.0 {
            let text = format!(
                "The centre of the first listed {order_key} stripe is no pivot; the pattern is matched by the pivot {:.1} mm {}.",
                (order.moved * thread_mm).abs(),
                if order.moved > 0.0 { words.farther } else { words.nearer }
            );
            self.notes.push(Note::advice(self.about, text));
        }
        Direction { order: Some(order), repeat_mm, thread_mm, symmetrical }
    }

    /// Colours nobody gave.
    fn colours_made_up(&mut self, made_up: &BTreeMap<String, [u8; 3]>) {
        if made_up.is_empty() {
            return;
        }
        let shown: Vec<String> = made_up
            .iter()
            .map(|(letters, colour)| format!("{letters} is shown as {}", colours::to_hex(*colour)))
            .collect();
        let fields: Vec<String> =
            made_up.keys().map(|letters| format!("\"{letters}\": \"#rrggbb\"")).collect();
        let text = format!(
            "{NO_COLOUR} for {} of its thread count: {}, which changes nothing that is cut. Give {} in {}.colours: {{{}}}.",
            if made_up.len() == 1 { "a letter" } else { "some letters" },
            shown.join(", "),
            if made_up.len() == 1 { "its own" } else { "their own" },
            self.place,
            fields.join(", ")
        );
        self.notes.push(Note::advice(self.about, text));
    }

    /// Colours given but not used, and different letters of one colour.
    fn colours_said(&mut self, across: &Direction, along: &Direction, own: &BTreeMap<String, [u8; 3]>) {
        let orders = [across, along].into_iter().filter_map(|d| d.order.as_ref());
        let mut used: Vec<&String> = orders.flat_map(|o| &o.threads).collect();
        used.sort_unstable();
        used.dedup();
        for letters in own.keys().filter(|l| !used.contains(l)) {
            let text = format!("The colour {letters} is given but no stripe has it.");
            self.notes.push(Note::advice(self.about, text));
        }
        for (k, one) in used.iter().enumerate() {
            for other in &used[k + 1..] {
                let colour = colours::of_letters(one, own);
                if colour.is_some() && colour == colours::of_letters(other, own) {
                    let text = format!(
                        "{one} and {other} have the same colour; they are still taken as two when the repeat and its symmetry are found."
                    );
                    self.notes.push(Note::advice(self.about, text));
                }
            }
        }
    }

    /// A half turn reads both orders backwards: it leaves the pattern the same when each reads the same so.
    fn half_turn(&mut self, across: &Direction, along: &Direction) -> bool {
        let found = across.symmetrical && along.symmetrical;
        let counted = [across, along].iter().any(|d| d.repeat_mm.is_some() && d.order.is_some());
        match self.spec.symmetrical {
            Some(true) if !found && counted => {
                let text = "It is said to be symmetrical, but its thread count reads differently backwards: no piece is turned by half.";
                self.notes.push(Note::caution(self.about, text));
                false
            }
            Some(false) => {
                if found {
                    let text = "Its thread count reads the same backwards, but it is said not to be symmetrical: no piece is turned by half.";
                    self.notes.push(Note::advice(self.about, text));
                }
                false
            }
            _ => found,
        }
    }

    /// Repeats as vectors. Warp lines run along y; weft lines climb by the skew. The vector of a stripe stands
    /// square on its lines, so that shares of it count repeats everywhere on the cloth.
    fn lattice(&mut self, across: &Direction, along: &Direction) -> Lattice {
        let climb = self.spec.skew_mm_per_m / 1000.0;
        let origin = pt(self.spec.origin_mm[0], self.spec.origin_mm[1]);
        if !(climb.is_finite() && origin.x.is_finite() && origin.y.is_finite()) {
            let what = "expected finite numbers for skew_mm_per_m and origin_mm";
            self.troubles.push(Trouble::bad_input(self.place, what));
        }
        if self.spec.skew_mm_per_m.abs() > USUAL_SKEW_MM_PER_M {
            let text = format!(
                "The weft climbs by {} mm over a metre, {:.1} %. More than 3 % is much: steam the cloth straight, then measure again.",
                self.spec.skew_mm_per_m,
                climb.abs() * 100.0
            );
            self.notes.push(Note::advice(self.about, text));
        }
        let (a, b): (Option<Point>, Option<Point>) = match (across.repeat_mm, along.repeat_mm) {
            (Some(across), Some(along)) => (Some(pt(across, across * climb)), Some(pt(0.0, along))),
            (Some(across), None) => (Some(pt(across, 0.0)), None),
            (None, Some(along)) => {
                let square = along / (1.0 + climb * climb);
                (None, Some(pt(-climb * square, square)))
            }
            (None, None) => (None, None),
        };
        let lattice = Lattice { a, b, origin };
        let share = |d: &Direction| {
            let order = d.order.as_ref().filter(|_| d.repeat_mm.is_some());
            order.map_or(0.0, |o| o.moved / o.threads.len() as f64)
        };
        Lattice { origin: origin + lattice.vector(pt(share(across), share(along))), ..lattice }
    }
}
