//! What the pieces of a job have to fit into.

use crate::cloth;
use crate::drawing::faults::{Sizes, Turns};
use crate::job::{ClothSpec, Feed, Grain, Job};
use crate::lay;
use crate::say::{Note, Trouble};
use crate::shape::{Bounds, pt};

/// Cloths, bed and turns of `job`, and what there is to say of them: cloths that cannot be understood and rules that
/// contradict theirs count as if they let everything through.
pub fn sizes(job: &Job) -> (Sizes, Vec<Note>, Vec<Trouble>) {
    let (mut said, mut troubles) = (Vec::new(), Vec::new());
    let mut cloths = Vec::new();
    for (k, spec) in job.cloths.iter().enumerate() {
        match cloth::understand(spec, &format!("cloths[{k}]")) {
            Ok((cloth, notes)) => {
                said.extend(notes);
                cloths.push(Some(cloth));
            }
            Err(t) => {
                troubles.extend(t);
                cloths.push(None);
            }
        }
    }
    let mut turns = Vec::new();
    for (k, rule) in job.pieces.iter().enumerate() {
        let of = job.cloth_of(rule).and_then(|c| cloths[c].as_ref());
        let allowed = of.map(|cloth| lay::allowed_turns(rule, cloth, &format!("pieces[{k}]")));
        turns.push(match allowed {
            Some(Ok(turns)) if rule.grain != Grain::Any => Turns::Only(turns),
            Some(Err(trouble)) => {
                troubles.push(trouble);
                Turns::Any
            }
            _ => Turns::Any,
        });
    }
    let margin = 2.0 * job.cutter.margin_mm;
    let [x, y] = job.cutter.bed_mm.map(|side| (side - margin).max(0.0));
    let window_mm = match job.cutter.feed {
        Feed::AlongX => [y, x],
        Feed::AlongY => [x, y],
    };
    (Sizes { cloths: job.cloths.iter().map(room).collect(), window_mm, turns }, said, troubles)
}

/// Name, usable width and usable length of a cloth; of an offcut those of its box, which its pieces never pass.
fn room(spec: &ClothSpec) -> (String, Option<f64>, Option<f64>) {
    let less = |side: f64| (side - 2.0 * spec.edge_mm).max(0.0);
    let [width, length] = match &spec.outline_mm {
        Some(outline) => {
            let b = Bounds::of(outline.iter().map(|[x, y]| pt(*x, *y)));
            [Some(b.width()), Some(b.height())]
        }
        None => [spec.width_mm, spec.length_mm],
    };
    (spec.name.clone(), width.map(less), length.map(less))
}
