//! What a job leaves unsaid that nobody but its maker can know.

use serde_json::Value;

/// Measures of the cutter that no file gives, so that a usual one stands for them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Unsaid {
    /// How large the bed is.
    pub bed: bool,
    /// How wide the kerf is.
    pub kerf: bool,
}

impl Unsaid {
    /// What the description of a cutter leaves unsaid; `None` where there is no description at all.
    pub(super) fn of(cutter: Option<&Value>) -> Unsaid {
        let lacks = |field: &str| cutter.and_then(|c| c.get(field)).is_none();
        Unsaid { bed: lacks("bed_mm"), kerf: lacks("kerf_mm") }
    }

    /// True when a measure is missing.
    pub fn any(self) -> bool {
        self.bed || self.kerf
    }
}
