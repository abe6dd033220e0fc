//! G-code read as a machine would: a head that moves, a beam that is on or off.

use crate::job::Cutter;
use crate::say::Trouble;
use crate::shape::{Point, distance, pt, tol};

use super::{ReadLine, differs, turned};

/// The lines burnt, bed frame.
///
/// # Errors
/// A move outside the bed, a travel with the beam on, a beam left on, an arc whose ends lie on no one circle, a word of
/// a kind the writer has no use for.
pub(super) fn read(name: &str, file: &str, cutter: &Cutter, header: usize) -> Result<Vec<ReadLine>, Trouble> {
    let Some(settings) = &cutter.gcode else { return Err(differs(name, "there are no settings for it")) };
    let (mut lines, mut beam): (Vec<ReadLine>, bool) = (Vec::new(), false);
    let mut at: Option<Point> = None;
    let bad = |row: usize, what: &str| differs(name, &format!("block {}: {what}", row + 1));
    let footer = file.lines().count().saturating_sub(settings.footer.len());
    for (row, text) in file.lines().enumerate() {
        let own = (header..header + settings.header.len()).contains(&row) || row >= footer;
        if own && moves_or_lights(text, &settings.beam_on) {
            return Err(bad(row, "a line of the maker's own moves the head or lights the beam"));
        }
        if text.starts_with('(') && !own && !is_harmless(text) {
            return Err(bad(row, "a remark has a sign that some machines act on"));
        }
        if text.starts_with('(') || own {
            continue;
        }
        let words: Vec<&str> = text.split(' ').collect();
        let value = |letter: char| words.iter().find_map(|w| w.strip_prefix(letter)?.parse::<f64>().ok());
        let body = if text.starts_with('N') { text.split_once(' ').map_or("", |t| t.1) } else { text };
        let [low, high] = settings.power_range;
        let power = settings.power_word.chars().next().and_then(value);
        if power.is_some_and(|p| !(low..=high).contains(&p)) {
            return Err(bad(row, "a power outside the machine's range"));
        }
        // Whatever the settings call them, these turn a beam or a spindle on (ISO 6983-1).
        let lights = words.iter().any(|w| matches!(*w, "M3" | "M03" | "M4" | "M04"));
        if body == settings.beam_off && !lights {
            beam = false;
        } else if lights || body.starts_with(&format!("{} ", settings.beam_on)) {
            beam = true;
            let from = at.ok_or_else(|| bad(row, "the beam is on before the head is placed"))?;
            lines.push(ReadLine { layer: String::new(), closed: false, points: vec![from] });
        }
        let Some(motion) = words.iter().find(|w| matches!(**w, "G0" | "G1" | "G2" | "G3")) else { continue };
        let (Some(x), Some(y)) = (value('X'), value('Y')) else { return Err(bad(row, "a move to nowhere")) };
        let to = pt(x, y);
        let mut walked: Vec<Point> = at.into_iter().collect();
        match (*motion, at) {
            ("G0", _) if beam => return Err(bad(row, "a travel with the beam on")),
            ("G2" | "G3", Some(from)) => {
                let (Some(i), Some(j)) = (value('I'), value('J')) else {
                    return Err(bad(row, "an arc without a centre"));
                };
                let centre = from + pt(i, j);
                if (distance(centre, from) - distance(centre, to)).abs() > 2.0 * tol::SAME_POINT_MM {
                    return Err(bad(row, "the ends of an arc lie on no one circle"));
                }
                let (u, v) = (from - centre, to - centre);
                let turn = libm::atan2(u.x * v.y - u.y * v.x, u.x * v.x + u.y * v.y);
                let full = std::f64::consts::TAU;
                let angle = match *motion {
                    "G3" if turn <= 0.0 => turn + full,
                    "G2" if turn >= 0.0 => turn - full,
                    _ => turn,
                };
                turned(&mut walked, centre, angle);
            }
            _ => {}
        }
        walked.push(to);
        let bed = cutter.bed_mm;
        let inside = |p: &Point| {
            let slack = tol::SAME_POINT_MM;
            (-slack..=bed[0] + slack).contains(&p.x) && (-slack..=bed[1] + slack).contains(&p.y)
        };
        if !walked.iter().all(inside) {
            return Err(bad(row, "the head leaves the bed"));
        }
        if let Some(line) = lines.last_mut().filter(|_| beam) {
            line.points.extend(walked.iter().skip(1));
        }
        at = Some(to);
    }
    if beam {
        return Err(differs(name, "the beam stays on at the end"));
    }
    for p in lines.iter_mut().flat_map(|l| &mut l.points) {
        let [x, y] = cutter.home.machine([p.x, p.y], cutter.bed_mm);
        *p = pt(x, y);
    }
    Ok(lines)
}

/// True for a remark of letters, figures and spaces, points, commas and dashes alone, closed at its end.
fn is_harmless(remark: &str) -> bool {
    let inside = remark.strip_prefix('(').and_then(|r| r.strip_suffix(')'));
    inside.is_some_and(|r| r.bytes().all(|b| b.is_ascii_alphanumeric() || b" .,-_".contains(&b)))
}

/// True when a line that is not the writer's own has a word for motion, or for the beam or a spindle (ISO 6983-1); spaces
/// and nought digits in front mean nothing, and what stands in brackets or after a semicolon is a remark.
fn moves_or_lights(line: &str, beam_on: &str) -> bool {
    let mut depth = 0_i32;
    let plain: String = line
        .chars()
        .take_while(|c| *c != ';')
        .filter(|c| {
            depth += i32::from(*c == '(');
            let told = depth == 0 && !c.is_whitespace();
            depth -= i32::from(*c == ')');
            told
        })
        .collect::<String>()
        .to_ascii_uppercase();
    let words = plain.split_inclusive(|c: char| c.is_ascii_alphabetic());
    // Each part ends with the letter of the next word.
    let mut letter = None;
    for part in words {
        let figure = part.trim_end_matches(|c: char| c.is_ascii_alphabetic());
        if let (Some(letter), Ok(number)) = (letter, figure.parse::<f64>()) {
            let word = format!("{letter}{number}");
            if ["G0", "G1", "G2", "G3", "M3", "M4"].contains(&word.as_str()) || word == beam_on {
                return true;
            }
        }
        letter = part.chars().last();
    }
    false
}
