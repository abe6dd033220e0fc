//! Names of files that a page may ask for.

use super::problem::Problem;
use crate::files::names::{fault, is_unseen};

/// A name for a file in the job's own folder.
///
/// # Errors
/// A name with a folder in it, hidden, too long, or with letters that some system cannot take.
pub fn plain(name: &str, endings: &[&str]) -> Result<String, Problem> {
    let bad = |why: &str| Problem::bad(format!("\"{}\" is no name for a file here: {why}", shown(name)));
    if let Some(why) = fault(name) {
        return Err(bad(why));
    }
    let lower = name.to_lowercase();
    if !endings.is_empty() && !endings.iter().any(|e| lower.ends_with(e)) {
        return Err(bad(&format!("expected an ending {}", endings.join(" or "))));
    }
    Ok(name.to_owned())
}

/// A name cut short for a message.
fn shown(name: &str) -> String {
    name.chars().filter(|c| !c.is_control() && !is_unseen(*c)).take(60).collect()
}

/// The name a job made of a drawing gets.
pub fn job_of_drawing(drawing: &str) -> String {
    let stem = drawing.rsplit_once('.').map_or(drawing, |(stem, _)| stem);
    format!("{stem}.job.json")
}

/// The stem of a job's name: `hanging` of `hanging.job.json`.
pub fn stem_of_job(job: &str) -> &str {
    job.strip_suffix(".job.json").or_else(|| job.strip_suffix(".json")).unwrap_or(job)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_lead_elsewhere_are_refused() {
        for name in [
            "../a.svg",
            "a/b.svg",
            "a\\b.svg",
            "/etc/a.svg",
            "C:a.svg",
            ".a.svg",
            "",
            "a\0.svg",
            "nul.svg",
            "a\u{202e}gvs.svg",
            "a.txt",
        ] {
            assert!(plain(name, &[".svg"]).is_err(), "{name:?}");
        }
        for name in ["heron.svg", "Heron 2 (neu).SVG", "grüße.svg"] {
            assert!(plain(name, &[".svg"]).is_ok(), "{name:?}");
        }
    }
}
