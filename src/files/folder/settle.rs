//! What a run that was killed has left, found by the next one in the same folder: completed, undone or cleared away.

use std::path::Path;

use super::journal::{Journal, Way};
use super::one_step::bring_over;
use crate::files::staging::{self, Staging};
use crate::files::system;
use crate::say::{Note, Trouble};

/// Looks in `folder`, and in the one above it, for what a killed run has left; a change that was decided is completed, or
/// undone where it cannot be, the rest is cleared away. Gives what there is to say. What belongs to a run that still lives
/// is left alone.
///
/// # Errors
/// A change can be neither completed nor undone; then all of it stays for a later run.
pub fn settle(folder: &Path) -> Result<Vec<Note>, Trouble> {
    let folder =
        folder.canonicalize().or_else(|_| std::path::absolute(folder)).unwrap_or_else(|_| folder.to_owned());
    let mut notes = Vec::new();
    for place in [Some(folder.as_path()), folder.parent()].into_iter().flatten() {
        let (stagings, files) = staging::forsaken(place);
        let mut cleared = files > 0;
        let mut stagings = stagings.into_iter();
        while let Some(staging) = stagings.next() {
            match settled(staging, place) {
                Ok(Settled::Cleared) => cleared = true,
                Ok(Settled::Told(note)) => notes.push(note),
                Err(trouble) => {
                    stagings.for_each(Staging::leave);
                    return Err(trouble);
                }
            }
        }
        if cleared {
            let text = "an earlier run was cut off here; what it had to write is there whole or not at all, and what it left lying about is cleared away";
            notes.push(Note::caution(place.display().to_string(), text));
        }
    }
    Ok(notes)
}

enum Settled {
    Cleared,
    Told(Note),
}

fn settled(staging: Staging, place: &Path) -> Result<Settled, Trouble> {
    let told = |about: &Path, text: &str| Settled::Told(Note::caution(about.display().to_string(), text));
    let journal = match Journal::of(&staging) {
        Ok(Some(journal)) => journal,
        Ok(None) => return Ok(Settled::Cleared),
        Err(e) => return Err(stuck(staging, place, &e)),
    };
    let done = match &journal.way {
        Way::InOneStep { out, identity } => {
            let out = place.join(out);
            if system::identity(&out) != Some(*identity) {
                return Ok(Settled::Cleared);
            }
            let ours = journal.coming.iter().chain(&journal.going).map(String::as_str).collect();
            bring_over(&staging.new_folder(), &out, &ours, &journal.kept).map(|()| told(&out, FINISHED))
        }
        Way::FileByFile => match journal.forward(&staging, place) {
            Ok(()) => Ok(told(place, FINISHED)),
            Err(_) => journal.back(&staging, place).map(|()| told(place, UNDONE)),
        },
        Way::Back => journal.back(&staging, place).map(|()| told(place, UNDONE)),
    };
    match done {
        Ok(settled) => Ok(settled),
        Err(e) => Err(stuck(staging, place, &e)),
    }
}

/// What keeps a change from being completed or undone; all of it stays for a later run.
fn stuck(staging: Staging, place: &Path, e: &std::io::Error) -> Trouble {
    let what = format!(
        "an earlier run was cut off while it changed the files here, and its change can be neither completed nor undone: {e}"
    );
    staging.leave();
    Trouble::cannot(place.display().to_string(), what)
        .hint("see to the folder's permissions and room on the disk, then do the same again; nothing is lost")
}

const FINISHED: &str =
    "an earlier run was cut off while it changed the files here; its change is complete now";
const UNDONE: &str = "an earlier run was cut off while it changed the files here; its change could not be completed and is undone";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_that_this_program_cannot_read_is_left_as_it_is() {
        let place = tempfile::tempdir().unwrap();
        for text in ["{\"settlay_journal\": 2}", "no journal"] {
            let staging = Staging::within(place.path()).unwrap();
            std::fs::create_dir(staging.old_folder()).unwrap();
            std::fs::write(staging.old_folder().join("plan.json"), "old").unwrap();
            std::fs::write(staging.journal(), text).unwrap();
            let kept = staging.old_folder().join("plan.json");
            staging.leave();
            assert!(settle(place.path()).unwrap_err().what.contains("neither completed nor undone"));
            assert_eq!(std::fs::read_to_string(&kept).unwrap(), "old");
            std::fs::remove_dir_all(kept.parent().unwrap().parent().unwrap()).unwrap();
        }
    }
}
