//! A whole lay moved on its cloth.

use crate::cloth::Cloth;
use crate::shape::{Point, Pose};

use super::model::{ClothLay, Placed};
use super::task::Used;

/// The lay with all its pieces moved by `by`. Nothing is tested: whether they still lie on the cloth and in step is for
/// [`faults`](super::faults) to say.
pub fn moved(on: &ClothLay, cloth: &Cloth, by: Point) -> ClothLay {
    let one = |p: &Placed| {
        let cut = p.cut.map(|q| q + by);
        Placed { pose: Pose { shift: p.pose.shift + by, ..p.pose }, cut, ..p.clone() }
    };
    let placed: Vec<Placed> = on.placed.iter().map(one).collect();
    let far = placed.iter().map(|p| p.cut.bounds().max.y).fold(f64::NEG_INFINITY, f64::max);
    let all = Used { cloth, far }.by(placed);
    ClothLay { least_length_mm: on.least_length_mm, ended_by_clock: on.ended_by_clock, ..all }
}
