//! Hints about the bed, the passes and the frame.

use crate::case::{Case, Do, PLAN, of};

pub fn cases() -> Vec<Case> {
    vec![
        of(
            "check cutter.bed_mm and cutter.margin_mm",
            Do::Job(&[("/cutter/bed_mm", "[70, 70]"), ("/cutter/shared_band_mm", "20")]),
            PLAN,
            &[(
                "the bed",
                Do::Job(&[("/cutter/bed_mm", "[300, 200]"), ("/cutter/shared_band_mm", "60")]),
                &[],
            )],
        ),
        of(
            "set cutter.shared_band_mm to {:.0} and cutter.joint_overlap_mm to 2",
            Do::Job(&[
                ("/cutter/bed_mm", "[600, 300]"),
                ("/cutter/shared_band_mm", "290"),
                ("/pieces/0/select", r#"{"id": "leaf"}"#),
                ("/drawing_scale", "7"),
            ]),
            PLAN,
            &[(
                "96 mm",
                Do::Job(&[("/cutter/shared_band_mm", "96"), ("/cutter/joint_overlap_mm", "2")]),
                &[],
            )],
        ),
        of(
            "set cutter.overhang to \"both\", or cut the cloth to size",
            Do::Job(&[("/cutter/overhang", "\"none\""), ("/cutter/feed", "\"along-y\"")]),
            PLAN,
            &[
                ("both", Do::Job(&[("/cutter/overhang", "\"both\"")]), &[]),
                ("to size", Do::Job(&[("/cloths/0/width_mm", "290"), ("/cloths/0/length_mm", "190")]), &[]),
            ],
        ),
        of(
            "set cutter.feed to \"{other}\" or cutter.overhang to \"both\", or cut the cloth to size",
            Do::Job(&[
                ("/cutter/overhang", "\"along\""),
                ("/cutter/feed", "\"along-x\""),
                ("/cloths/0/width_mm", "290"),
            ]),
            PLAN,
            &[
                ("the feed", Do::Job(&[("/cutter/feed", "\"along-y\"")]), &[]),
                ("both", Do::Job(&[("/cutter/overhang", "\"both\"")]), &[]),
                ("to size", Do::Job(&[("/cloths/0/width_mm", "190")]), &[]),
            ],
        ),
        of(
            "set cutter.overhang to \"both\", or give the cloth a wider edge_mm",
            Do::Job(&[
                ("/cutter/overhang", "\"none\""),
                ("/cutter/feed", "\"along-y\""),
                ("/cloths/0/width_mm", "300"),
                ("/cloths/0/length_mm", "200"),
                ("/cloths/0/edge_mm", "0"),
                ("/pieces/0/match", "\"free\""),
            ]),
            PLAN,
            &[
                ("both", Do::Job(&[("/cutter/overhang", "\"both\"")]), &[]),
                (
                    "a wider edge",
                    Do::Job(&[
                        ("/cloths/0/edge_mm", "8"),
                        ("/pieces/0/match", "\"free\""),
                        ("/pieces/0/pattern_at_mm", "-"),
                    ]),
                    &[],
                ),
            ],
        ),
    ]
}
