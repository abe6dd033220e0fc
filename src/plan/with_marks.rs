//! Lays for an estimate with all that a plan keeps clear: passes, and room for their marks.

use crate::drawing::Drawing;
use crate::estimate::{Bare, LaidOut, Lays, ToLay};
use crate::job::Job;
use crate::say::{Kind, Trouble, Watch};

use super::run::{MOST_PIECES_TO_CHOOSE, Prepared, Split, lay_and_split};

/// Lays as a plan does.
#[derive(Clone, Copy, Debug)]
pub struct WithMarks;

impl Lays for WithMarks {
    fn laid(&self, asked: &ToLay, watch: &dyn Watch) -> Result<LaidOut, Vec<Trouble>> {
        let single: u32 = asked.pieces.iter().map(|p| p.count).fold(0, u32::saturating_add);
        if single > MOST_PIECES_TO_CHOOSE {
            return Bare("there are too many pieces for an estimate to split into passes").laid(asked, watch);
        }
        let cloth = asked.cloth;
        let job = Job { pieces: asked.rules.to_vec(), lay: asked.spec.clone(), ..asked.job.clone() };
        let prepared = Prepared {
            job,
            drawing: Drawing {
                page_mm: [0.0; 2],
                elements: Vec::new(),
                notes: Vec::new(),
                losses: Vec::new(),
                measured: true,
            },
            pieces: asked.pieces.to_vec(),
            cloths: vec![cloth.clone()],
            notes: Vec::new(),
        };
        match lay_and_split(&prepared, asked.spec, None, watch) {
            Ok(Split { mut lay, passes, .. }) => {
                let cut = passes.iter().all(Option::is_some);
                let on =
                    lay.cloths.pop().ok_or_else(|| vec![Trouble::cannot("the lay", "it has no cloth")])?;
                let why = "no lay that was found leaves waste for marks in every shared band";
                Ok(LaidOut { on, no_room: (!cut).then(|| why.to_owned()) })
            }
            Err(troubles) if troubles.iter().any(|t| t.kind == Kind::Stopped) => Err(troubles),
            // Laid it may be all the same: another cutter may do.
            Err(troubles) => {
                let bare = Bare("").laid(asked, watch)?;
                let why = troubles.first().map_or(String::new(), |t| format!("{}: {}", t.about, t.what));
                Ok(LaidOut { no_room: Some(why), ..bare })
            }
        }
    }
}
