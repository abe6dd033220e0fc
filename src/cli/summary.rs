//! A finished plan in a few lines.

use std::path::Path;

use crate::job::Cutter;
use crate::plan::Plan;
use crate::say::{Level, counted};
use crate::write;

/// The plan in a few lines: what to buy, passes, what to heed.
pub fn of(plan: &Plan) -> String {
    let mut s = String::new();
    for cloth in &plan.cloths {
        let pieces = plan.pieces.iter().filter(|p| p.cloth == cloth.name).count();
        let width = cloth.outline.iter().map(|p| p[0]).fold(f64::NEG_INFINITY, f64::max)
            - cloth.outline.iter().map(|p| p[0]).fold(f64::INFINITY, f64::min);
        let cost = cloth.cost.map_or(String::new(), |c| format!(" (cost {c:.2})"));
        s.push_str(&format!("\n{}\n", cloth.name));
        if cloth.open_length {
            let metres = cloth.buy_length_mm / 1000.0;
            s.push_str(&format!("  buy     {metres:.2} m of {width:.0} mm width{cost}\n"));
            if let Some(b) = &cloth.buying {
                s.push_str(&format!("          {}\n", b.words()));
            }
        }
        s.push_str(&format!(
            "  lay     {} in {width:.0} × {:.0} mm, {:.0} % of it used\n",
            counted(pieces, "piece", "pieces"),
            cloth.used_length_mm,
            100.0 * cloth.efficiency
        ));
        let passes: Vec<_> = plan.passes.iter().filter(|p| p.cloth == cloth.name).collect();
        let (cut, seconds) = passes.iter().fold((0.0, 0.0), |t, p| (t.0 + p.cut_length_mm, t.1 + p.seconds));
        s.push_str(&format!(
            "  cut     {}, {:.1} m, about {:.0} min on the cutter\n",
            counted(passes.len(), "pass", "passes"),
            cut / 1000.0,
            (seconds / 60.0).ceil()
        ));
        // Every joint stands in both passes that meet there.
        let joints: usize = passes.iter().map(|p| p.joints.len()).sum::<usize>() / 2;
        let step = passes.iter().flat_map(|p| &p.joints).map(|j| j.expected_step_mm).fold(0.0, f64::max);
        if joints > 0 {
            s.push_str(&format!(
                "  joints  {joints} from pass to pass, a step of up to {step:.2} mm to expect\n"
            ));
            for pass in passes.iter().filter(|p| !p.joints.is_empty()) {
                s.push_str(&format!("  pass {:<3}{}\n", pass.number, pass.verdict));
            }
        }
    }
    s.push_str(&as_sewn(plan));
    s.push_str(&sewing(plan));
    s.push('\n');
    let cautions: Vec<_> = plan.notes.iter().filter(|n| n.level == Level::Caution).collect();
    for note in cautions.iter().take(CAUTIONS) {
        s.push_str(&format!("caution: {}: {}\n", note.about, note.text));
    }
    let more = cautions.len().saturating_sub(CAUTIONS);
    if more > 0 {
        s.push_str(&format!("and {} in the report\n", counted(more, "more caution", "more cautions")));
    }
    s
}

/// What the work will look like, in a line or two; empty when there is nothing to say.
fn as_sewn(plan: &Plan) -> String {
    let mut s = String::new();
    let through = plan.run_across.iter().filter(|r| r.runs_through).count();
    if !plan.run_across.is_empty() {
        s.push_str(&format!(
            "  pattern runs through {through} of {}\n",
            counted(plan.run_across.len(), "pair of neighbours", "pairs of neighbours")
        ));
    }
    let asked = plan.run_across.iter().filter(|r| r.asked);
    match (asked.clone().count(), asked.filter(|r| !r.runs_through).count()) {
        (0, _) => {}
        (n, 0) => s.push_str(&format!("  asked   at {n} of them, and it does\n")),
        (n, k) => s.push_str(&format!("  asked   at {n} of them, and it breaks at {k}: see the cautions\n")),
    }
    let runs = plan.pieces.iter().flat_map(|p| p.slender.iter().map(move |r| (p, r)));
    let longest = runs.clone().max_by(|a, b| a.1.length_mm.total_cmp(&b.1.length_mm));
    if let Some((piece, run)) = longest {
        s.push_str(&format!(
            "  bias    {}, the longest of {:.0} mm in {}: {}\n",
            counted(runs.count(), "narrow run on the bias", "narrow runs on the bias"),
            run.length_mm,
            piece.id,
            run.verdict
        ));
    }
    if s.is_empty() { s } else { format!("\nas sewn\n{s}") }
}

/// The sewing in a line or two; empty without a frame.
fn sewing(plan: &Plan) -> String {
    let Some(sewing) = &plan.sewing else { return String::new() };
    let [w, h] = sewing.field_mm;
    let spread = sewing.order.iter().filter(|o| {
        let own = sewing.hoopings.iter().flat_map(|h| &h.pieces);
        own.clone().any(|p| p.piece == o.piece && !p.whole)
    });
    let parted = match spread.count() {
        0 => String::new(),
        n => format!(
            "          {} spread over several; their loose tails wait for {} in all, {} at most\n",
            counted(n, "piece", "pieces"),
            counted(sewing.waits, "hooping", "hoopings"),
            sewing.order.iter().map(|o| o.waits).max().unwrap_or(0)
        ),
    };
    let t = sewing.total;
    format!(
        "\nsewing\n  frame   {} of {w:.0} × {h:.0} mm; {}\n{parted}  stitch  about {} stitches, {:.0} min at the machine, {:.0} m of thread\n",
        counted(sewing.hoopings.len(), "hooping", "hoopings"),
        sewing.how_few(),
        t.stitches,
        t.minutes.ceil(),
        t.thread_m.ceil()
    )
}

/// Cautions printed one by one; the rest are counted.
const CAUTIONS: usize = 5;

/// How many points the cut files have, and how close they keep to the curves.
pub fn curves(plan: &Plan, cutter: &Cutter) -> String {
    let (chords, nodes) = write::nodes(plan, cutter);
    if nodes == 0 {
        return String::new();
    }
    format!(
        "Cut files: {nodes} points as lines and arcs within {} mm of the curves (chords would take {chords}).\n",
        cutter.curve_error_mm
    )
}

/// What was written and where to look.
pub fn written(out: &Path, files: usize) -> String {
    format!(
        "Wrote {}. Open {} first; the cutter's files are in {}.\n",
        counted(files, "file", "files"),
        out.join("report.html").display(),
        out.join("cut").display()
    )
}

/// Printed with every set of cut files.
pub const CAUTION: &str = "A laser can blind, burn and poison. Never leave it running alone, draw off the fumes (wool and \
silk give off hydrogen cyanide), never cut PVC or an unknown coating; the machine's manual and local rules go first.\n";
