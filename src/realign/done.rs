//! Which passes are cut: a small file beside the plan.

use std::time::{SystemTime, UNIX_EPOCH};

use serde::{Deserialize, Serialize};

use crate::plan::{Plan, PlanPass};
use crate::say::{Trouble, json};

/// Its name, in the plan's folder.
pub const DONE_FILE: &str = "done.json";

/// Version of its format.
const FORMAT: u32 = 1;

/// The passes of one plan that are cut.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Done {
    /// Version of the format: 1.
    pub settlay_done: u32,
    /// Which program wrote it; the first did not say.
    #[serde(default)]
    pub program: String,
    /// Fingerprint of the plan: of what stays the same when its passes are realigned, or its title changes.
    pub plan: String,
    /// The passes, in the order they were recorded.
    pub passes: Vec<DonePass>,
    /// Passes, as cloth and number, that the plan says are cut and the record that was read does not.
    #[serde(skip)]
    pub lacked: Vec<(String, usize)>,
}

/// A pass that is cut.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DonePass {
    /// The cloth's name.
    pub cloth: String,
    /// Its number.
    pub number: usize,
    /// When it was recorded, universal time, as in ISO 8601: `2026-05-01T14:03:00Z`.
    pub recorded: String,
    /// Fingerprint of its burns and of how the cloth lay.
    pub burns: String,
}

impl Done {
    /// Nothing of `plan` is cut yet.
    pub fn none(plan: &Plan) -> Done {
        Done {
            settlay_done: FORMAT,
            program: crate::PROGRAM.into(),
            plan: fingerprint(plan),
            passes: Vec::new(),
            lacked: Vec::new(),
        }
    }

    /// Reads the text of a record and holds it against `plan`; `file` stands for it in troubles.
    ///
    /// # Errors
    /// It is no record, of another plan, or a pass has changed since it was cut.
    pub fn parse(text: &str, file: &str, plan: &Plan) -> Result<Done, Trouble> {
        let done: Done = json::read(text).map_err(|wrong| {
            Trouble::bad_input(file, format!("this is no record of passes that are cut: {wrong}"))
                .hint("move it elsewhere, and record with --mark-done what is cut")
        })?;
        if done.settlay_done != FORMAT {
            let what = format!("this record is in format {}; this settlay reads {FORMAT}", done.settlay_done);
            return Err(Trouble::bad_input(file, what));
        }
        if done.plan != fingerprint(plan) && done.plan != fingerprint_with_title(plan) {
            return Err(Trouble::bad_input(file, "it records passes of another plan than the one beside it")
                .hint("if nothing of this plan is cut yet, move the record elsewhere"));
        }
        for entry in &done.passes {
            let pass = plan.passes.iter().find(|p| entry.is_of(p));
            if pass.is_none_or(|p| burns_print(p) != entry.burns) {
                let what = format!(
                    "pass {} of cloth {} is not in the plan as it was when it was cut",
                    entry.number, entry.cloth
                );
                return Err(Trouble::bad_input(file, what).hint("put back the plan.json it was cut from"));
            }
        }
        Ok(done)
    }

    /// Takes over what the plan itself says is cut and this record does not.
    pub fn take_from(&mut self, plan: &Plan) {
        for pass in &plan.passes {
            let Some(on) = &pass.cut_on else { continue };
            if self.record(pass, on) {
                self.lacked.push((pass.cloth.clone(), pass.number));
            }
        }
    }

    /// The record of `pass`, when it is cut.
    pub fn of(&self, pass: &PlanPass) -> Option<&DonePass> {
        self.passes.iter().find(|d| d.is_of(pass))
    }

    /// Records `pass` as cut at `now`; false when it was already.
    pub fn record(&mut self, pass: &PlanPass, now: &str) -> bool {
        if self.of(pass).is_some() {
            return false;
        }
        self.passes.push(DonePass {
            cloth: pass.cloth.clone(),
            number: pass.number,
            recorded: now.into(),
            burns: burns_print(pass),
        });
        true
    }

    /// The plan with what is recorded in it, for those who write what a maker reads.
    pub fn seen_in(&self, plan: &Plan) -> Plan {
        let mut seen = plan.clone();
        for pass in &mut seen.passes {
            pass.cut_on = self.of(pass).map(|d| d.recorded.clone());
        }
        seen
    }

    /// Refuses to change `pass` when it, or a later one of its cloth, is cut.
    ///
    /// # Errors
    /// Which one, and since when.
    pub fn may_change(&self, pass: &PlanPass) -> Result<(), Trouble> {
        let about = format!("pass {} of cloth {}", pass.number, pass.cloth);
        if let Some(done) = self.of(pass) {
            let what = format!("it is cut already, as recorded {}", done.recorded);
            return Err(Trouble::cannot(about, what).hint(
                "a pass that is cut is never changed; if it is not cut, take that back first (--not-cut)",
            ));
        }
        let later = self.passes.iter().filter(|d| d.cloth == pass.cloth && d.number > pass.number);
        if let Some(done) = later.min_by_key(|d| d.number) {
            let what = format!(
                "pass {} comes after it and is cut already, as recorded {}",
                done.number, done.recorded
            );
            return Err(Trouble::cannot(about, what).hint("look whether the pass number is right"));
        }
        Ok(())
    }

    /// Takes the record of `pass` back: it is not cut after all. Gives what was recorded.
    ///
    /// # Errors
    /// It is not recorded as cut, or a later pass of its cloth is.
    pub fn take_back(&mut self, pass: &PlanPass) -> Result<DonePass, Trouble> {
        let about = format!("pass {} of cloth {}", pass.number, pass.cloth);
        let later = self.passes.iter().filter(|d| d.cloth == pass.cloth && d.number > pass.number);
        if let Some(last) = later.max_by_key(|d| d.number) {
            let what =
                format!("pass {} comes after it and is cut, as recorded {}", last.number, last.recorded);
            let hint = format!("if pass {} is not cut either, take that back first", last.number);
            return Err(Trouble::cannot(about, what).hint(hint));
        }
        let Some(at) = self.passes.iter().position(|d| d.is_of(pass)) else {
            return Err(
                Trouble::cannot(about, "it is not recorded as cut").hint("there is nothing to take back")
            );
        };
        Ok(self.passes.remove(at))
    }

    /// The name of one cutting of a cloth: the first of its passes to be recorded tells it from the next.
    pub fn cutting_of(&self, cloth: &str) -> String {
        let began = self.passes.iter().find(|d| d.cloth == cloth).map_or("", |d| d.recorded.as_str());
        format!("{} {began} {cloth}", self.plan)
    }

    /// The record of a plan that is told anew under another title: it stays the record of that plan.
    #[must_use]
    pub fn of_retitled(self, plan: &Plan) -> Done {
        Done { plan: fingerprint(plan), ..self }
    }

    /// The record as text.
    pub fn text(&self) -> String {
        let written = Done { program: crate::PROGRAM.into(), ..self.clone() };
        // A struct of text and whole numbers always becomes JSON.
        serde_json::to_string_pretty(&written).unwrap_or_default() + "\n"
    }
}

impl DonePass {
    fn is_of(&self, pass: &PlanPass) -> bool {
        (self.cloth.as_str(), self.number) == (pass.cloth.as_str(), pass.number)
    }
}

/// Fingerprint of what realigning leaves as it is: pieces, and the windows of all passes. The title is words alone.
fn fingerprint(plan: &Plan) -> String {
    let (pieces, windows) = lasting(plan);
    print_of(&(pieces, windows))
}

/// The same as earlier versions took it.
fn fingerprint_with_title(plan: &Plan) -> String {
    let (pieces, windows) = lasting(plan);
    print_of(&(&plan.title, pieces, windows))
}

fn lasting(plan: &Plan) -> (impl Serialize, impl Serialize) {
    let windows: Vec<_> = plan.passes.iter().map(|p| (&p.cloth, p.number, p.window)).collect();
    let pieces: Vec<_> = plan.pieces.iter().map(|p| (&p.id, p.copy, &p.cloth, &p.cut)).collect();
    (pieces, windows)
}

fn burns_print(pass: &PlanPass) -> String {
    print_of(&(&pass.burns, pass.cloth_to_bed))
}

/// FNV-1a, 64 bit (G. Fowler, L. C. Noll & K.-P. Vo; IETF draft-eastlake-fnv), of the value as JSON: against mix-ups,
/// not against forgers.
fn print_of(value: &impl Serialize) -> String {
    let bytes = serde_json::to_vec(value).unwrap_or_default();
    format!("{:016x}", fnv1a(&bytes))
}

fn fnv1a(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |h, b| (h ^ u64::from(*b)).wrapping_mul(0x0000_0100_0000_01b3))
}

/// A moment as ISO 8601 text in universal time. Days to dates: the proleptic Gregorian calendar in whole numbers, eras
/// of 400 years begun in March (common practice).
pub fn stamp(moment: SystemTime) -> String {
    let seconds = moment.duration_since(UNIX_EPOCH).map_or(0, |d| d.as_secs());
    let (days, rest) = (seconds / 86_400 + 719_468, seconds % 86_400);
    let (era, day) = (days / 146_097, days % 146_097);
    let year = (day - day / 1460 + day / 36_524 - day / 146_096) / 365;
    let of_year = day - (365 * year + year / 4 - year / 100);
    let month = (5 * of_year + 2) / 153;
    let of_month = of_year - (153 * month + 2) / 5 + 1;
    let calendar = if month < 10 { month + 3 } else { month - 9 };
    let year = year + era * 400 + u64::from(calendar <= 2);
    format!(
        "{year:04}-{calendar:02}-{of_month:02}T{:02}:{:02}:{:02}Z",
        rest / 3600,
        rest / 60 % 60,
        rest % 60
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    /// From GNU `date -u -d @N`.
    #[test]
    fn moments_are_dated() {
        let at = |s: u64| stamp(UNIX_EPOCH + Duration::from_secs(s));
        assert_eq!(at(0), "1970-01-01T00:00:00Z");
        assert_eq!(at(951_782_399), "2000-02-28T23:59:59Z");
        assert_eq!(at(951_782_400), "2000-02-29T00:00:00Z");
        assert_eq!(at(1_798_761_599), "2026-12-31T23:59:59Z");
    }

    #[test]
    fn a_record_outlives_a_change_of_title_and_one_of_an_earlier_version_is_still_read() {
        let plan = crate::write::sample::sample_plan();
        let mut done = Done::none(&plan);
        done.record(&plan.passes[0], "2026-05-01T14:03:00Z");
        let retitled = Plan { title: "Another".into(), ..plan.clone() };
        assert_eq!(Done::parse(&done.text(), "done.json", &retitled).unwrap(), done);
        let earlier = Done { plan: fingerprint_with_title(&plan), ..done.clone() };
        assert_eq!(Done::parse(&earlier.text(), "done.json", &plan).unwrap(), earlier);
        assert!(Done::parse(&earlier.text(), "done.json", &retitled).is_err());
        assert_eq!(earlier.of_retitled(&retitled), done);
    }

    /// Test vectors of draft-eastlake-fnv.
    #[test]
    fn the_fingerprint_is_fnv_1a() {
        assert_eq!(fnv1a(b""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(fnv1a(b"a"), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(fnv1a(b"foobar"), 0x8594_4171_f739_67e8);
    }
}
