//! What a job leaves unsaid: measures only its maker can know, for which usual ones stand.

use crate::job::Job;
use crate::say::Note;

/// What these cautions are about.
const CUTTER: &str = "the cutter";

/// A caution for every measure that nobody has given, with the one that is taken in its place.
pub fn unsaid(job: &Job) -> Vec<Note> {
    let cutter = &job.cutter;
    let mut notes = Vec::new();
    if cutter.unsaid.bed {
        let [w, h] = cutter.bed_mm;
        let text = format!(
            "The job does not say how large its bed is; {w} × {h} mm is taken. Passes, marks and keys fit no other: measure \
             yours and write it as bed_mm."
        );
        notes.push(Note::caution(CUTTER, text));
    }
    if cutter.unsaid.kerf {
        let text = format!(
            "The job does not say how wide its kerf is; {} mm is taken, and every piece comes out wrong by what it differs. \
             settlay gauge measures it; write it as kerf_mm.",
            cutter.kerf_mm
        );
        notes.push(Note::caution(CUTTER, text));
    }
    notes
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(cutter: &str) -> Vec<String> {
        let text = format!(
            r#"{{"settlay": 1, "drawing": "a.svg", "cloths": [{{"name": "reed", "width_mm": 900}}],
            "pieces": [{{"select": {{"id": "*"}}, "cloth": "reed"}}]{cutter}}}"#
        );
        let job = crate::job::parse(&text, "a.job.json").unwrap();
        unsaid(&job).into_iter().map(|n| n.text).collect()
    }

    #[test]
    fn a_measure_nobody_gave_is_told_with_the_one_that_is_taken() {
        let both = told("");
        assert!(
            both.len() == 2 && both[0].contains("900 × 600 mm") && both[1].contains("0.2 mm"),
            "{both:?}"
        );
        assert_eq!(told(r#", "cutter": {}"#), both);
        let kerf = told(r#", "cutter": {"bed_mm": [900, 600]}"#);
        assert!(kerf.len() == 1 && kerf[0].contains("kerf_mm"), "{kerf:?}");
        assert!(
            told(r#", "cutter": {"bed_mm": [900, 600], "kerf_mm": 0.2}"#).is_empty(),
            "said, be it the usual"
        );
    }
}
