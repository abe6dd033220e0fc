//! Realigning: a pass corrected from marks measured on the bed, a record of what is cut.
//!
//! In: a plan, what is recorded as cut, measured marks. Out: the plan with that pass where the cloth truly lies, and
//! what was found. `folder` alone writes, by the writers above; the rest knows no files but the text of its two (`marks`,
//! `done`). No terminal.
//!
//! `measured` reads what the maker measured, `suspect` says what cannot be, `fit` is the closed-form least squares,
//! `choose` weighs one explanation against another, `error` says how far to trust it, `moved` moves a pass, `marks` and
//! `pivots` put these together for a later pass and for the first, `done` keeps what is cut, `reopen` takes
//! it back, `told_anew` keeps the plan's notes true of where its passes lie.

mod choose;
mod done;
mod error;
mod fit;
mod folder;
mod marks;
mod measured;
mod moved;
mod pivots;
mod refuse;
mod reopen;
mod report;
mod suspect;
mod told_anew;
mod words;

pub use choose::{Chosen, Purpose, Refused, choose};
pub use done::{DONE_FILE, Done, DonePass, stamp};
pub use error::{Spread, radius_holding_95};
pub use fit::{Distortion, FitKind, Sighting, fit};
pub use folder::{
    AS_PLANNED, as_planned, lacking, mark_done, nothing_cut, read_done, text_of, write_aligned,
    write_reopened, write_rest,
};
pub use marks::{Aligned, Request, find, realign};
pub use measured::{At, LARGEST_FILE as LARGEST_MARKS_FILE, Measured, parse};
pub use moved::{Overrun, moved, overrun, rest_of};
pub use reopen::{Reopened, reopen};
pub use report::{JointStep, MarkFound, PieceOutOfStep, RepeatFound, Report};
