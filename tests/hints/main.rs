//! Hints propose only what will be accepted: every hint that proposes a change of the job, a file or the command is
//! provoked, what it proposes is done, and the program runs again. Hints are found in the sources, so that none is forgotten.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod case;
#[allow(dead_code)]
#[path = "../bad_input/desk.rs"]
mod desk;
mod files;
mod found;
mod jobs;
mod passes;
mod sources;
mod untried;
mod ways;

use std::collections::BTreeSet;

use case::Case;

fn all() -> Vec<Case> {
    [jobs::cases(), passes::cases(), files::cases()].concat()
}

#[test]
fn what_a_hint_about_a_job_proposes_is_accepted() {
    case::try_all(&jobs::cases());
}

#[test]
fn what_a_hint_about_passes_proposes_is_accepted() {
    case::try_all(&passes::cases());
}

#[test]
fn what_a_hint_about_a_file_or_command_proposes_is_accepted() {
    case::try_all(&files::cases());
}

/// A hint new in the sources must be tried, or stand among those that there is nothing to try of, with the reason.
#[test]
fn no_hint_of_the_sources_is_forgotten() {
    let found = sources::hints();
    assert!(found.len() > 200, "only {} hints found: look at the scan", found.len());
    let tried: BTreeSet<&str> = all().iter().map(|c| c.hint).chain(found::TRIED).collect();
    let untried: BTreeSet<&str> = untried::ALL.iter().flat_map(|(_, hints)| hints.iter().copied()).collect();
    let missing: Vec<String> = found
        .iter()
        .filter(|h| !tried.contains(h.words.as_str()) && !untried.contains(h.words.as_str()))
        .map(|h| format!("{}: {}", h.file, h.words))
        .collect();
    assert!(missing.is_empty(), "neither tried nor said why not:\n{}", missing.join("\n"));
    let words: BTreeSet<&str> = found.iter().map(|h| h.words.as_str()).collect();
    let gone: Vec<&&str> = tried.iter().chain(&untried).filter(|h| !words.contains(**h)).collect();
    assert!(gone.is_empty(), "no longer in the sources: {gone:#?}");
    let both: Vec<&&str> = tried.intersection(&untried).collect();
    assert!(both.is_empty(), "tried after all: {both:#?}");
}
