//! What was found, as text and as JSON.

use serde_json::{Value, json};

use super::gather::{Checked, Row};
use super::table::{Align, columns, printable, set, wrap};
use crate::drawing::faults::{Fault, FaultKind, Severity, area_words};
use crate::job::Match;
use crate::say::Level;

/// Sentences are broken at this many columns.
const LINE: usize = 110;

/// The report for people.
pub(super) fn text(checked: &Checked) -> String {
    let [w, h] = checked.drawing.page_mm;
    let shapes = plural(checked.drawing.elements.len(), "shape", "shapes");
    let mut out = format!("{}  page {w:.1} × {h:.1} mm, {shapes}\n", printable(&checked.name));
    push_faults(&mut out, checked);
    push_pieces(&mut out, checked);
    push_notes(&mut out, checked);
    out.push_str(&format!("\n{}\n", verdict(checked)));
    out
}

/// What was found, by how grave it is.
fn verdict(checked: &Checked) -> String {
    let [stops, mend, note] =
        [Severity::Stops, Severity::Mend, Severity::Note].map(|severity| checked.count(severity));
    let heed = match checked.notes.iter().filter(|n| n.level == Level::Caution).count() {
        0 => "",
        1 => " Heed the caution above.",
        _ => " Heed the cautions above.",
    };
    if checked.drawing.elements.is_empty() {
        // Without a shape nothing was looked at: that is no praise.
        let found = match (stops + mend, note) {
            (0, 0) => String::new(),
            (0, n) => format!("; {n} to note"),
            (faults, _) => format!("; {}", plural(faults, "fault", "faults")),
        };
        return format!("Nothing to cut: no shape was found in the drawing{found}.{heed}");
    }
    match (stops + mend, note) {
        (0, 0) => format!("No faults found.{heed}"),
        (0, n) => format!("Nothing to stop for, nothing to mend, {n} to note.{heed}"),
        (faults, _) => {
            let faults = plural(faults, "fault", "faults");
            format!("{faults}: {stops} to stop for, {mend} to mend; {note} to note")
        }
    }
}

fn plural(n: usize, one: &str, many: &str) -> String {
    match n {
        0 => format!("no {many}"),
        1 => format!("1 {one}"),
        _ => format!("{n} {many}"),
    }
}

fn push_faults(out: &mut String, checked: &Checked) {
    if checked.faults.is_empty() {
        return;
    }
    let graver = checked.faults.iter().any(|f| f.severity != Severity::Note);
    let heading = if graver { "Faults" } else { "To note" };
    out.push_str(&format!("\n{heading} (places in mm from the lower left corner of the page)\n"));
    let digits = checked.faults.len().to_string().len();
    let numbered: Vec<(usize, &Fault)> = checked.faults.iter().enumerate().map(|(i, f)| (i + 1, f)).collect();
    // What is not as drawn is so for one reason or another.
    let same_kind =
        |a: &Fault, b: &Fault| a.kind == b.kind && (a.kind != FaultKind::Lost || reason(a) == reason(b));
    let alike = |fault: &Fault| {
        let same = |f: &&Fault| f.severity == Severity::Note && same_kind(f, fault);
        fault.severity == Severity::Note && checked.faults.iter().filter(same).count() >= ALIKE
    };
    let (folded, single): (Vec<_>, Vec<_>) = numbered.into_iter().partition(|(_, f)| alike(f));
    for group in single.chunk_by(|(_, a), (_, b)| (a.stacking, &a.element) == (b.stacking, &b.element)) {
        let Some((_, first)) = group.first() else { continue };
        out.push_str(&format!("\n{}{}\n", printable(&first.element), line_of(first)));
        for &(number, fault) in group {
            push_fault(out, fault, number, digits);
        }
    }
    for kind in FaultKind::ALL {
        let mut left: Vec<_> = folded.iter().filter(|(_, f)| f.kind == kind).collect();
        while let Some(&&(_, first)) = left.first() {
            let (of_kind, others): (Vec<_>, Vec<_>) =
                left.into_iter().partition(|(_, f)| same_kind(f, first));
            push_alike(out, kind, &of_kind);
            left = others;
        }
    }
}

/// The first sentence: what the fault is, without how many there are.
fn reason(fault: &Fault) -> &str {
    fault.text.split_inclusive('.').next().unwrap_or_default()
}

/// So many notes of one kind are told together.
const ALIKE: usize = 3;

fn line_of(fault: &Fault) -> String {
    if fault.line > 0 { format!("  line {}", fault.line) } else { String::new() }
}

/// Notes of one kind: what they are about, and the first of them in full.
fn push_alike(out: &mut String, kind: FaultKind, faults: &[&(usize, &Fault)]) {
    let Some((first, fault)) = faults.first() else { return };
    out.push_str(&format!("\n{}: {} to note\n", kind.word(), faults.len()));
    let one = |(n, f): &&(usize, &Fault)| {
        let line = if f.line > 0 { format!(" (line {})", f.line) } else { String::new() };
        format!("{n} {}{line}", f.element)
    };
    let mut lines: Vec<String> = Vec::new();
    for name in faults.iter().map(one).map(|words| printable(&words)) {
        match lines.last_mut() {
            // A number is not parted from its name.
            Some(line) if columns(line) + columns(&name) + 4 <= LINE => line.push_str(&format!(", {name}")),
            _ => lines.push(name),
        }
    }
    let (text, advice) = (&fault.text, &fault.advice);
    let place = format!("at ({:.1}, {:.1})", fault.at.x, fault.at.y);
    lines.extend(wrap(&printable(&format!("Number {first}, {place}: {text} {advice}")), LINE - 2));
    for line in lines {
        out.push_str(&format!("  {line}\n"));
    }
}

fn push_fault(out: &mut String, fault: &Fault, number: usize, digits: usize) {
    let head = format!("  {number:>digits$}  {:<5}  ", fault.severity.word());
    let place = format!("{} at ({:.1}, {:.1}):", fault.kind.word(), fault.at.x, fault.at.y);
    let words = printable(&format!("{place} {} {}", fault.text, fault.advice));
    for (k, line) in wrap(&words, LINE.saturating_sub(columns(&head))).iter().enumerate() {
        match k {
            0 => out.push_str(&format!("{head}{line}\n")),
            _ => out.push_str(&format!("{}{line}\n", " ".repeat(columns(&head)))),
        }
    }
}

fn push_pieces(out: &mut String, checked: &Checked) {
    if checked.pieces.is_empty() {
        return;
    }
    let mut head = vec!["piece", "size mm", "area cm²", "edge mm"];
    let mut aligns = vec![Align::Left, Align::Right, Align::Right, Align::Right];
    if checked.is_job {
        head.extend(["copies", "cloth", "match", "group"]);
        aligns.extend([Align::Right, Align::Left, Align::Left, Align::Left]);
    }
    let mut rows: Vec<Vec<String>> = vec![head.into_iter().map(String::from).collect()];
    rows.extend(checked.pieces.iter().map(cells));
    let (shapes, area) = checked.pieces.iter().fold((0, 0.0), |(n, a), row| {
        let copies = row.job.as_ref().map_or(1, |j| j.count);
        (n + copies as usize, a + f64::from(copies) * row.area_mm2)
    });
    let what = if checked.is_job { "Pieces as cut, allowance included" } else { "Shapes" };
    out.push_str(&format!("\n{what} ({shapes}, {} in all)\n{}", area_words(area), set(&rows, &aligns)));
}

fn cells(row: &Row) -> Vec<String> {
    let [w, h] = row.size_mm;
    let mut cells = vec![
        printable(&row.id),
        format!("{w:.1} × {h:.1}"),
        format!("{:.2}", row.area_mm2 / 100.0),
        format!("{:.0}", row.edge_mm),
    ];
    if let Some(job) = &row.job {
        // A piece whose pattern may fall anywhere, or that is matched by itself, has none to speak of.
        let none = job.matching == Match::Free.word() || job.group == row.id;
        let group = if none { String::new() } else { printable(&job.group) };
        cells.extend([job.count.to_string(), printable(&job.cloth), job.matching.to_string(), group]);
    }
    cells
}

fn push_notes(out: &mut String, checked: &Checked) {
    if checked.notes.is_empty() {
        return;
    }
    out.push_str("\nNotes\n");
    for note in &checked.notes {
        let level = match note.level {
            Level::Caution => "caution",
            Level::Advice => "advice ",
        };
        let words = printable(&format!("{}: {}", note.about, note.text));
        for (k, line) in wrap(&words, LINE - 11).iter().enumerate() {
            out.push_str(&format!("  {}  {line}\n", if k == 0 { level } else { "       " }));
        }
    }
}

/// The report for machines: one object, numbers in mm and mm², faults in the order of the text.
pub(super) fn json(checked: &Checked) -> String {
    let pieces: Vec<Value> = checked.pieces.iter().map(piece).collect();
    let troubles: Vec<Value> =
        checked.troubles.iter().map(|t| json!({"about": t.about, "what": t.what, "hint": t.hint})).collect();
    let value = json!({
        "settlay_check": 1,
        "drawing": checked.name,
        "page_mm": checked.drawing.page_mm,
        "shapes": checked.drawing.elements.len(),
        "stops": checked.count(Severity::Stops),
        "mend": checked.count(Severity::Mend),
        "note": checked.count(Severity::Note),
        "faults": checked.faults,
        "pieces": pieces,
        "notes": checked.notes,
        "troubles": troubles,
    });
    format!("{value:#}\n")
}

fn piece(row: &Row) -> Value {
    let mut value = json!({
        "id": row.id,
        "line": row.line,
        "size_mm": row.size_mm,
        "area_mm2": row.area_mm2,
        "edge_mm": row.edge_mm,
    });
    if let (Some(job), Some(map)) = (&row.job, value.as_object_mut()) {
        map.insert("count".into(), json!(job.count));
        map.insert("cloth".into(), json!(job.cloth));
        map.insert("match".into(), json!(job.matching));
        map.insert("group".into(), json!(job.group));
    }
    value
}
