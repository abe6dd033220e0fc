//! Progress of heavy work, and the wish to stop it.

/// Listens to heavy work. Called from several threads.
pub trait Watch: Sync {
    /// `stage` is a short word (`read`, `lay`, …), `share` how much of it is done from 0 to 1, `now` a
    /// short phrase on the state of things (`1312 mm, 81.4 %`).
    fn step(&self, stage: &str, share: f64, now: &str);

    /// True once the maker has asked to stop; work then ends soon with the best result so far.
    fn stopped(&self) -> bool;
}

/// Passes on a wish to stop and tells nothing of what is done: for lays that are only tried.
pub struct Silent<'a>(pub &'a dyn Watch);

impl Watch for Silent<'_> {
    fn step(&self, _stage: &str, _share: f64, _now: &str) {}

    fn stopped(&self) -> bool {
        self.0.stopped()
    }
}

/// Hears nothing and never stops anything.
pub struct Quiet;

impl Watch for Quiet {
    fn step(&self, _stage: &str, _share: f64, _now: &str) {}

    fn stopped(&self) -> bool {
        false
    }
}
