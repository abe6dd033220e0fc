//! DXF read by a small reader of its own: pairs of lines, POLYLINE and VERTEX, bulges as angles.

use crate::say::Trouble;
use crate::shape::{Point, pt};

use super::{ReadLine, differs, turned};

/// The lines of a file, bed frame.
pub(super) fn read(name: &str, file: &str) -> Result<Vec<ReadLine>, Trouble> {
    let bad = |what: &str| differs(name, what);
    let mut lines: Vec<ReadLine> = Vec::new();
    let (mut entity, mut bulge, mut first) = ("", 0.0_f64, 0.0_f64);
    let mut rows = file.lines();
    let mut at = pt(0.0, 0.0);
    // A vertex is whole when the next entity begins.
    let mut waiting = false;
    while let Some(code) = rows.next() {
        let value = rows.next().ok_or_else(|| bad("a group code stands alone"))?;
        let number = || value.trim().parse::<f64>().map_err(|_| bad("a coordinate is no number"));
        match (code.trim(), entity) {
            ("0", _) => {
                if waiting && let Some(line) = lines.last_mut() {
                    to(line, at, first);
                    first = bulge;
                }
                (waiting, bulge, entity) = (false, 0.0, value);
                match value {
                    "POLYLINE" => {
                        lines.push(ReadLine { layer: String::new(), closed: false, points: Vec::new() });
                        first = 0.0;
                    }
                    "VERTEX" => waiting = true,
                    "SEQEND" => {
                        if let Some(line) = lines.last_mut().filter(|l| l.closed)
                            && let Some(&start) = line.points.first()
                        {
                            to(line, start, first);
                        }
                    }
                    _ => {}
                }
            }
            ("8", "POLYLINE") => {
                if let Some(line) = lines.last_mut() {
                    line.layer = value.to_lowercase();
                }
            }
            ("70", "POLYLINE") => {
                if let Some(line) = lines.last_mut() {
                    line.closed = value.trim() == "1";
                }
            }
            ("10", "VERTEX") => at.x = number()?,
            ("20", "VERTEX") => at.y = number()?,
            ("42", "VERTEX") => bulge = number()?,
            _ => {}
        }
    }
    Ok(lines)
}

/// Walks to `to` by an arc whose bulge is the tangent of a quarter of its angle.
fn to(line: &mut ReadLine, to: Point, bulge: f64) {
    let Some(&from) = line.points.last() else { return line.points.push(to) };
    if bulge != 0.0 {
        let angle = 4.0 * libm::atan(bulge);
        let chord = to - from;
        // The centre lies on the chord's middle line, where half the angle sees half the chord.
        let centre = (from + to) / 2.0 + pt(-chord.y, chord.x) / (2.0 * libm::tan(angle / 2.0));
        turned(&mut line.points, centre, angle);
    }
    line.points.push(to);
}
