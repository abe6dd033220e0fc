//! Joints on the example jobs: away from corners, cut through by both passes, and told honestly.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::LazyLock;

use geo::{Distance, Euclidean, Length, LineLocatePoint, LineString};
use settlay::plan::{self, Plan, PlanJoint};
use settlay::say::Quiet;

const EXAMPLES: [&str; 6] = ["reed-bed", "stole", "one-way", "offcut", "scraps", "braid"];

/// Every example, laid once for all tests.
static PLANS: LazyLock<BTreeMap<&str, Plan>> =
    LazyLock::new(|| EXAMPLES.into_iter().map(|name| (name, lay_out(name))).collect());

fn planned(name: &str) -> &'static Plan {
    &PLANS[name]
}

fn lay_out(name: &str) -> Plan {
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
                let ring = ring(plan, joint);
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

/// The two burns that meet at a joint cover exactly the overlap twice, half of it either side: lengths along them by
/// another library.
#[test]
fn both_burns_overlap_at_every_joint_by_just_so_much() {
    let mut looked_at = 0;
    for name in ["reed-bed", "stole", "one-way"] {
        let plan = planned(name);
        for cloth in &plan.cloths {
            let passes: Vec<_> = plan.passes.iter().filter(|p| p.cloth == cloth.name).collect();
            for joint in passes.iter().flat_map(|p| &p.joints) {
                let spot = geo::Point::new(joint.cloth[0], joint.cloth[1]);
                // The burns through the joint, on the cloth, each with the place of its end near the joint.
                let mut met: Vec<(LineString, f64, geo::Point)> = Vec::new();
                for pass in &passes {
                    let [a, b, c, d, e, f] = pass.cloth_to_bed;
                    let det = a * d - b * c;
                    let back = |q: &[f64; 2]| {
                        let (x, y) = (q[0] - e, q[1] - f);
                        ((d * x - c * y) / det, (a * y - b * x) / det)
                    };
                    for burn in &pass.burns {
                        if (&burn.piece, burn.copy, burn.ring) != (&joint.piece, joint.copy, joint.ring) {
                            continue;
                        }
                        let line: LineString = burn.path.iter().map(back).collect();
                        if Euclidean.distance(&line, &spot) > 0.001 {
                            continue;
                        }
                        let whole = Euclidean.length(&line);
                        let at = whole * line.line_locate_point(&spot).unwrap();
                        let ends = line.points().next().zip(line.points().next_back()).unwrap();
                        let past = if at < whole - at { (at, ends.0) } else { (whole - at, ends.1) };
                        met.push((line, past.0, past.1));
                    }
                }
                assert_eq!(met.len(), 2, "{name}: joint of {}", joint.piece);
                for (line, past, end) in &met {
                    assert!((past - joint.overlap_mm / 2.0).abs() < 1e-4, "{name}: {past} mm past a joint");
                    let other = met.iter().find(|m| m.0 != *line).unwrap();
                    assert!(Euclidean.distance(&other.0, end) < 1e-4, "{name}: along the true curve");
                    looked_at += 1;
                }
            }
        }
    }
    assert!(looked_at > 0);
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
