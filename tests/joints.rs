//! Joints on the example jobs: away from corners, cut through by both passes, and told honestly.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::Path;

use geo::{Distance, Euclidean, LineString};
use settlay::plan::{self, Plan, PlanJoint};
use settlay::say::Quiet;

const EXAMPLES: [&str; 4] = ["reed-bed", "stole", "one-way", "offcut"];

fn planned(name: &str) -> Plan {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("examples/{name}/{name}.job.json"));
    let mut prepared = plan::prepare(&path, &Quiet).unwrap();
    prepared.job.lay.effort = Some(2);
    plan::run(prepared, &Quiet).unwrap().plan
}

/// The ring of the piece as cut that the joint is on.
fn ring(plan: &Plan, joint: &PlanJoint) -> Vec<[f64; 2]> {
    let piece = plan.pieces.iter().find(|p| p.id == joint.piece && p.copy == joint.copy).unwrap();
    match joint.ring {
        0 => piece.cut.outline.clone(),
        k => piece.cut.cutouts[k - 1].clone(),
    }
}

/// The corners of a ring that turn by more than 30° within a millimetre.
fn corners(ring: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let n = ring.len();
    let way = |i: usize| {
        let (p, q) = (ring[i % n], ring[(i + 1) % n]);
        [q[0] - p[0], q[1] - p[1]]
    };
    let length = |v: [f64; 2]| v[0].hypot(v[1]);
    let turn =
        |a: [f64; 2], b: [f64; 2]| (a[0] * b[1] - a[1] * b[0]).atan2(a[0] * b[0] + a[1] * b[1]).to_degrees();
    (0..n)
        .filter(|&i| {
            let (mut sum, mut run) = (0.0, 0.0);
            for k in 0..n {
                sum += turn(way(i + n + k - 1), way(i + k));
                run += length(way(i + k));
                if run > 1.0 {
                    break;
                }
            }
            sum.abs() > 30.0
        })
        .map(|i| ring[i])
        .collect()
}

#[test]
fn no_joint_of_any_example_lies_at_a_corner() {
    let mut joints = 0;
    for name in EXAMPLES {
        let plan = planned(name);
        for pass in &plan.passes {
            for joint in &pass.joints {
                joints += 1;
                let ring = ring(&plan, joint);
                for corner in corners(&ring) {
                    let d = (corner[0] - joint.cloth[0]).hypot(corner[1] - joint.cloth[1]);
                    assert!(d > 2.0, "{name}: joint of {} {d:.2} mm from a corner", joint.piece);
                }
            }
        }
    }
    assert!(joints > 0, "the examples have joints");
}

/// Both passes run past every joint by half the overlap: told from their burns by another library's distances.
#[test]
fn both_passes_cut_through_every_joint() {
    for name in EXAMPLES {
        let plan = planned(name);
        for cloth in &plan.cloths {
            let passes: Vec<_> = plan.passes.iter().filter(|p| p.cloth == cloth.name).collect();
            for joint in passes.iter().flat_map(|p| &p.joints) {
                let through = passes.iter().filter(|p| {
                    let [a, b, c, d, e, f] = p.cloth_to_bed;
                    let [x, y] = joint.cloth;
                    let at = geo::Point::new(a * x + c * y + e, b * x + d * y + f);
                    p.burns.iter().filter(|b| b.piece == joint.piece && b.copy == joint.copy).any(|b| {
                        let line: LineString = b.path.iter().map(|q| (q[0], q[1])).collect();
                        let ends = [b.path.first().unwrap(), b.path.last().unwrap()];
                        let past = ends
                            .iter()
                            .all(|q| (q[0] - at.x()).hypot(q[1] - at.y()) > 0.4 * joint.overlap_mm);
                        Euclidean.distance(&line, &at) < 0.01 && past
                    })
                });
                assert_eq!(through.count(), 2, "{name}: joint of {}", joint.piece);
            }
        }
    }
}

#[test]
fn every_joint_and_pass_has_its_verdict() {
    let plan = planned("reed-bed");
    for pass in &plan.passes {
        assert_eq!(pass.joints.is_empty(), pass.verdict.is_empty());
        for joint in &pass.joints {
            assert!(
                ["covered", "barely", "will show"].contains(&joint.verdict.as_str()),
                "{}",
                joint.verdict
            );
            assert!(joint.step_95_mm > joint.expected_step_mm && joint.expected_step_mm > 0.0);
        }
    }
}
