//! Hints whose proposal stands in the hint itself, figures and all: read from it, done, run again.

use serde_json::{Value, json};

use crate::desk::{Desk, job};

/// Tried here, as they stand in the sources.
pub const TRIED: [&str; 1] = ["the nearest place in step is lay.locked[{}].shift_mm [{:.3}, {:.3}]"];

#[test]
fn the_nearest_place_in_step_is_one() {
    let desk = Desk::new();
    let mut job = job();
    job["pieces"][0]["pattern_at_mm"] = json!([10, 10]);
    job["lay"]["locked"] = json!([{"piece": "leaf", "shift_mm": [101, 103]}]);
    desk.put("j.job.json", job.to_string());
    let before = desk.run(&["lay", "j.job.json"]);
    let (_, told) = before
        .err
        .split_once("the nearest place in step is lay.locked[0].shift_mm ")
        .unwrap_or_else(|| panic!("{}", before.err));
    let place: Value = serde_json::from_str(told.lines().next().unwrap()).unwrap();
    job["lay"]["locked"][0]["shift_mm"] = place;
    desk.put("j.job.json", job.to_string());
    let after = desk.run(&["lay", "j.job.json"]);
    assert_eq!(after.code, Some(0), "{}", after.err);
}
