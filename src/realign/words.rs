//! The report in words.

use super::fit::FitKind;
use super::report::{PieceOutOfStep, Report};

/// Pieces out of step that are named in words; JSON has all.
const NAMED_PIECES: usize = 8;

/// What a realigned pass was found to be, in words.
pub(super) fn words(report: &Report) -> String {
    let mut s = format!(
        "Pass {} of cloth {}: moved {:.1} mm to the {} and {:.1} mm {}, turned {:.2}° {} ({} fit)\n",
        report.pass,
        report.cloth,
        report.shift_mm[0].abs(),
        if report.shift_mm[0] < 0.0 { "left" } else { "right" },
        report.shift_mm[1].abs(),
        if report.shift_mm[1] < 0.0 { "towards you" } else { "away from you" },
        report.turn_deg.abs(),
        if report.turn_deg < 0.0 { "clockwise" } else { "counter-clockwise" },
        report.fit.word()
    );
    if report.fit != FitKind::Rigid && report.repeat.is_none() {
        s.push_str(&format!(
            "  stretched {:+.2} % across, {:+.2} % along the cloth, {:.2}° out of square\n",
            report.stretch_percent[0],
            report.stretch_percent[1],
            report.shear_deg.abs()
        ));
    }
    if let Some(repeat) = &report.repeat {
        s.push_str(&format!(
            "  repeat across {:.2} mm, noted {:.2}; along {:.2} mm, noted {:.2}; skew {:.1} mm/m, noted {:.1}\n",
            repeat.across_mm[1],
            repeat.across_mm[0],
            repeat.along_mm[1],
            repeat.along_mm[0],
            repeat.skew_mm_per_m[1],
            repeat.skew_mm_per_m[0]
        ));
        let named = |p: &PieceOutOfStep| {
            let copy = if p.copy > 1 { format!(" (copy {})", p.copy) } else { String::new() };
            format!("{}{copy} {:.2} mm", p.piece, p.mismatch_mm)
        };
        let mut named: Vec<String> = repeat.pieces.iter().take(NAMED_PIECES).map(named).collect();
        let more = repeat.pieces.len().saturating_sub(NAMED_PIECES);
        if more > 0 {
            named.push(format!("{more} more by less"));
        }
        if !named.is_empty() {
            s.push_str(&format!("  the pattern is then out of step by: {}\n", named.join(", ")));
        }
    }
    s.push_str("\n  mark             planned           measured       off\n");
    for mark in &report.marks {
        s.push_str(&format!(
            "  {:<10} {:>8.2} {:>8.2}  {:>8.2} {:>8.2}  {:>6.2} mm{}\n",
            mark.name,
            mark.planned_mm[0],
            mark.planned_mm[1],
            mark.measured_mm[0],
            mark.measured_mm[1],
            mark.off_mm,
            if mark.used { "" } else { "  left out" }
        ));
    }
    if let Some(worst) = report.joints.iter().max_by(|a, b| a.within_95_mm.total_cmp(&b.within_95_mm)) {
        let copy = if worst.copy > 1 { format!(" (copy {})", worst.copy) } else { String::new() };
        s.push_str(&format!(
            "\n  joints with earlier passes: {}; the worst, on {}{copy}: {:.2} mm to expect, within {:.2} mm in 95 of 100: {}\n",
            report.joints.len(),
            worst.piece,
            worst.expected_mm,
            worst.within_95_mm,
            worst.verdict
        ));
    }
    if !report.later.is_empty() {
        let later: Vec<String> = report.later.iter().map(ToString::to_string).collect();
        s.push_str(&format!("  the stretch is carried on to pass {}\n", later.join(", ")));
    }
    if !report.records.is_empty() {
        let passes: Vec<String> = report.records.iter().map(ToString::to_string).collect();
        let (pass, its) = if passes.len() == 1 { ("pass", "its") } else { ("passes", "their") };
        s.push_str(&format!(
            "  this records {pass} {} as cut, for {its} marks are on the cloth; --not-cut takes that back\n",
            passes.join(" and ")
        ));
    }
    s.push('\n');
    for caution in &report.cautions {
        s.push_str(&format!("caution: {caution}\n"));
    }
    s
}
