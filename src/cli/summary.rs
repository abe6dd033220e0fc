//! A finished plan in a few lines.

use std::path::Path;

use crate::plan::Plan;
use crate::say::Level;

/// The plan in a few lines: cloths, passes, what to heed.
pub fn of(plan: &Plan) -> String {
    let mut s = String::new();
    for cloth in &plan.cloths {
        let pieces = plan.pieces.iter().filter(|p| p.cloth == cloth.name).count();
        let width = cloth.outline.iter().map(|p| p[0]).fold(f64::NEG_INFINITY, f64::max)
            - cloth.outline.iter().map(|p| p[0]).fold(f64::INFINITY, f64::min);
        s.push_str(&format!(
            "lay      {:<12} {} pieces on {:.0} × {:.0} mm, {:.1} % used\n",
            cloth.name,
            pieces,
            width,
            cloth.used_length_mm,
            100.0 * cloth.efficiency
        ));
        let passes: Vec<_> = plan.passes.iter().filter(|p| p.cloth == cloth.name).collect();
        let (cut, seconds) = passes.iter().fold((0.0, 0.0), |t, p| (t.0 + p.cut_length_mm, t.1 + p.seconds));
        // Every joint stands in both passes that meet there.
        let joints: usize = passes.iter().map(|p| p.joints.len()).sum::<usize>() / 2;
        let step = passes.iter().flat_map(|p| &p.joints).map(|j| j.expected_step_mm).fold(0.0, f64::max);
        s.push_str(&format!(
            "passes   {:<12} {}, {joints} joints{}, {:.1} m of cut, about {:.0} min on the cutter\n",
            cloth.name,
            passes.len(),
            if joints > 0 { format!(" (step to expect {step:.2} mm)") } else { String::new() },
            cut / 1000.0,
            (seconds / 60.0).ceil()
        ));
        if cloth.open_length {
            s.push_str(&format!("buy      {:<12} {:.2} m", cloth.name, cloth.buy_length_mm / 1000.0));
            if let Some(cost) = cloth.cost {
                s.push_str(&format!(", cost {cost:.2}"));
            }
            s.push('\n');
        }
    }
    let cautions = plan.notes.iter().filter(|n| n.level == Level::Caution).count();
    let advice = plan.notes.len() - cautions;
    s.push_str(&format!("notes    {cautions} cautions, {advice} pieces of advice in the report\n"));
    s
}

/// What was written and where to look.
pub fn written(out: &Path, files: usize) -> String {
    format!(
        "wrote    {files} files in {}\nlook at  {} first, then {}\n",
        out.display(),
        out.join("report.html").display(),
        out.join("lay.png").display()
    )
}

/// Printed with every set of cut files.
pub const CAUTION: &str = "A laser can blind, burn and poison. Never leave it running alone, draw off the fumes (wool and \
silk give off hydrogen cyanide), never cut PVC or an unknown coating; the machine's manual and local rules go first.\n";
