//! Transforms as files write them, in SVG's way and in that of CSS, put into the plain numbers that the SVG
//! reading library knows.
//!
//! Functions and units: CSS Transforms Module Level 1, section 10 (two-dimensional functions); CSS Values and
//! Units Level 3, sections 6.2 and 7.1.

use std::fmt::Write;

use super::scale::{shape_length_px, split_length};
use crate::shape::{Affine, turn_cos_sin};

/// Numbers beyond this make no sense.
const LARGEST: f64 = 1e9;

/// A transform list in SVG's own functions and plain numbers.
///
/// # Errors
/// Says what cannot be read.
pub(super) fn plain(text: &str) -> Result<String, String> {
    let mut rest = text.trim();
    if rest == "none" {
        return Ok(String::new());
    }
    let mut out = String::new();
    while !rest.is_empty() {
        let (name, tail) = rest.split_once('(').ok_or("is not a list of transforms")?;
        let (inside, tail) = tail.split_once(')').ok_or("lacks a closing bracket")?;
        let words: Vec<&str> = inside
            .split(|c: char| c == ',' || c.is_ascii_whitespace())
            .filter(|w| !w.is_empty())
            .flat_map(split_signs)
            .collect();
        function(name.trim(), &words, &mut out)?;
        rest = tail.trim_start_matches(|c: char| c == ',' || c.is_ascii_whitespace());
    }
    Ok(out)
}

fn function(name: &str, words: &[&str], out: &mut String) -> Result<(), String> {
    let read = |of: fn(&str) -> Option<f64>, words: &[&str]| -> Result<Vec<f64>, String> {
        words
            .iter()
            .map(|w| of(w).filter(|v| v.abs() <= LARGEST))
            .collect::<Option<_>>()
            .ok_or_else(|| "holds something that is not a plain number".to_owned())
    };
    let lengths = || read(shape_length_px, words);
    let angles = || read(degrees, words);
    let numbers = || read(|w| w.parse().ok(), words);
    let fits: &[usize] = match name {
        "matrix" => &[6],
        "rotate" => &[1, 3],
        "translate" | "scale" | "skew" => &[1, 2],
        "translateX" | "translateY" | "scaleX" | "scaleY" | "skewX" | "skewY" => &[1],
        other => return Err(format!("names \"{other}\", which is no transform of SVG")),
    };
    if !fits.contains(&words.len()) {
        return Err(format!("gives {name} {} numbers", words.len()));
    }
    // Writing to a string cannot fail.
    let _ = match name {
        "matrix" => write_list(out, "matrix", &numbers()?),
        "scale" => write_list(out, "scale", &numbers()?),
        "scaleX" => write_list(out, "scale", &[numbers()?[0], 1.0]),
        "scaleY" => write_list(out, "scale", &[1.0, numbers()?[0]]),
        "translate" => write_list(out, "translate", &lengths()?),
        "translateX" => write_list(out, "translate", &[lengths()?[0], 0.0]),
        "translateY" => write_list(out, "translate", &[0.0, lengths()?[0]]),
        "rotate" => {
            let mut list = read(degrees, &words[..1])?;
            list.extend(read(shape_length_px, &words[1..])?);
            write_list(out, "rotate", &list)
        }
        "skewX" => write_list(out, "skewX", &angles()?),
        "skewY" => write_list(out, "skewY", &angles()?),
        // Both at once: not the same as one after the other.
        _ => {
            let lean = angles()?;
            let of = |k: usize| lean.get(k).map_or(0.0, |d| libm::tan(d.to_radians()));
            write_list(out, "matrix", &[1.0, of(1), of(0), 1.0, 0.0, 0.0])
        }
    };
    Ok(())
}

fn write_list(out: &mut String, name: &str, numbers: &[f64]) -> std::fmt::Result {
    let numbers: Vec<String> = numbers.iter().map(f64::to_string).collect();
    write!(out, "{}{name}({})", if out.is_empty() { "" } else { " " }, numbers.join(" "))
}

/// The map of a list in plain numbers.
pub(super) fn map(list: &str) -> Option<Affine> {
    let mut all = Affine::IDENTITY;
    for part in list.split(')').map(str::trim).filter(|p| !p.is_empty()) {
        let (name, numbers) = part.split_once('(')?;
        let n: Vec<f64> = numbers.split(' ').map(|w| w.parse().ok()).collect::<Option<_>>()?;
        let tan = |d: f64| libm::tan(d.to_radians());
        let one = match (name, n.as_slice()) {
            ("matrix", &[a, b, c, d, e, f]) => Affine([a, b, c, d, e, f]),
            ("translate", &[x, ref y @ ..]) => {
                Affine([1.0, 0.0, 0.0, 1.0, x, y.first().copied().unwrap_or(0.0)])
            }
            ("scale", &[x, ref y @ ..]) => Affine([x, 0.0, 0.0, y.first().copied().unwrap_or(x), 0.0, 0.0]),
            ("rotate", &[d, ref about @ ..]) => {
                let (c, s) = turn_cos_sin(d);
                let (x, y) = (about.first().copied().unwrap_or(0.0), about.get(1).copied().unwrap_or(0.0));
                Affine([c, s, -s, c, x - c * x + s * y, y - s * x - c * y])
            }
            ("skewX", &[d]) => Affine([1.0, 0.0, tan(d), 1.0, 0.0, 0.0]),
            ("skewY", &[d]) => Affine([1.0, tan(d), 0.0, 1.0, 0.0, 0.0]),
            _ => return None,
        };
        all = all.after(&one);
    }
    Some(all)
}

/// An angle in degrees; a bare number is one in degrees.
fn degrees(text: &str) -> Option<f64> {
    let (number, unit) = split_length(text)?;
    Some(match unit.to_ascii_lowercase().as_str() {
        "" | "deg" => number,
        "grad" => number * 0.9,
        "rad" => number.to_degrees(),
        "turn" => number * 360.0,
        _ => return None,
    })
}

/// `10-5` is two numbers, `1e-5` one.
fn split_signs(word: &str) -> Vec<&str> {
    let mut parts = Vec::new();
    let mut from = 0;
    for (i, c) in word.char_indices().skip(1) {
        let before = word[..i].chars().next_back();
        if matches!(c, '-' | '+') && !matches!(before, Some('e' | 'E')) {
            parts.push(&word[from..i]);
            from = i;
        }
    }
    parts.push(&word[from..]);
    parts
}

/// The beginning of a long text.
pub(super) fn shortened(text: &str) -> String {
    let short: String = text.chars().take(40).collect();
    if short.len() < text.len() { short + "…" } else { short }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_come_out_in_plain_numbers() {
        for (written, wanted) in [
            ("translate(3)", "translate(3)"),
            ("rotate(30, 5 5) scale(-1,2)", "rotate(30 5 5) scale(-1 2)"),
            ("matrix(1 0 0 1 10-5)", "matrix(1 0 0 1 10 -5)"),
            (" skewX(1e-3),skewY(2) ", "skewX(0.001) skewY(2)"),
            ("translate(3px, 1in) translateY(-2px)", "translate(3 96) translate(0 -2)"),
            ("rotate(.25turn) rotate(100grad)", "rotate(90) rotate(90)"),
            ("scaleX(2)scaleY(.5)", "scale(2 1) scale(1 0.5)"),
            ("none", ""),
        ] {
            assert_eq!(plain(written).as_deref(), Ok(wanted), "{written}");
        }
        assert!(plain("skew(45deg, 0)").unwrap().starts_with("matrix(1 0 0.99999"));
    }

    /// The library's own reading of the same lists, in single precision.
    #[test]
    fn maps_are_those_of_the_library() {
        for list in [
            "translate(3)",
            "rotate(30 5 7) scale(-1 2)",
            "matrix(1 2 3 -4 10 -5) skewX(20)",
            "skewY(-11) scale(3) rotate(70)",
        ] {
            let svg = format!(
                "<svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'><g transform='{list}'><path d='M0 0h1v1z'/></g></svg>"
            );
            let tree = usvg::Tree::from_str(&svg, &usvg::Options::default()).unwrap();
            let Some(usvg::Node::Group(g)) = tree.root().children().first() else { panic!("{list}") };
            let (ours, theirs) = (map(list).unwrap(), super::super::tree::affine(g.transform()));
            assert!(
                ours.0.iter().zip(theirs.0).all(|(a, b)| (a - b).abs() < 1e-4),
                "{list}: {ours:?} {theirs:?}"
            );
        }
        assert_eq!(map("spin(3)"), None);
    }

    #[test]
    fn what_the_library_would_drop_is_found() {
        for bad in [
            "rotate(a)",
            "translate(3em)",
            "translate(10%)",
            "rotate(3px)",
            "scale(2px)",
            "matrix(1 2)",
            "spin(3)",
            "scale(2",
            "scale",
            "scale(1e300)",
            "translate(calc(1px + 2px))",
        ] {
            assert!(plain(bad).is_err(), "{bad}");
        }
    }
}
