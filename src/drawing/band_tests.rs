use std::f64::consts::PI;

use proptest::prelude::*;

use super::*;
use crate::shape::to_side;

fn line(pairs: &[[f64; 2]], closed: bool) -> Polyline {
    let points: Vec<Point> = pairs.iter().map(|p| pt(p[0], p[1])).collect();
    Polyline { local: points.clone(), smooth: vec![false; points.len()], points, closed, gap_mm: 0.0 }
}

fn pen(width: f64, cap: LineCap, join: LineJoin) -> Pen {
    Pen { half: width / 2.0, cap, join, mitre_limit: 4.0 }
}

fn area(lines: &[Polyline], pen: &Pen) -> f64 {
    band(lines, pen, &Affine::IDENTITY).iter().map(Region::area).sum()
}

fn close(found: f64, wanted: f64, within: f64) {
    assert!((found - wanted).abs() <= within, "{found} is not {wanted} ± {within}");
}

/// Areas by elementary geometry: a 100 mm line 6 mm wide, and what the caps of SVG 1.1 section 11.4 add.
#[test]
fn caps_add_what_the_specification_draws() {
    let l = [line(&[[0.0, 0.0], [100.0, 0.0]], false)];
    close(area(&l, &pen(6.0, LineCap::Butt, LineJoin::Miter)), 600.0, 1e-6);
    close(area(&l, &pen(6.0, LineCap::Square, LineJoin::Miter)), 636.0, 1e-6);
    close(area(&l, &pen(6.0, LineCap::Round, LineJoin::Miter)), 600.0 + PI * 9.0, 0.2);
}

/// A right angle of two 50 mm sides, 6 mm wide: two rectangles less their common square, and the corner.
#[test]
fn joins_add_what_the_specification_draws() {
    let l = [line(&[[0.0, 0.0], [50.0, 0.0], [50.0, 50.0]], false)];
    let sides = 600.0 - 9.0;
    close(area(&l, &pen(6.0, LineCap::Butt, LineJoin::Miter)), sides + 9.0, 1e-6);
    close(area(&l, &pen(6.0, LineCap::Butt, LineJoin::Bevel)), sides + 4.5, 1e-6);
    close(area(&l, &pen(6.0, LineCap::Butt, LineJoin::Round)), sides + PI * 9.0 / 4.0, 0.1);
}

/// A mitre longer than its limit (4) becomes a bevel; the tip of a 20° corner would be 5.76 widths long.
#[test]
fn a_mitre_past_its_limit_is_cut_off() {
    let tip = [line(
        &[
            [0.0, 0.0],
            [100.0, 0.0],
            [100.0 - 100.0 * 20f64.to_radians().cos(), 100.0 * 20f64.to_radians().sin()],
        ],
        false,
    )];
    let bevel = area(&tip, &pen(4.0, LineCap::Butt, LineJoin::Bevel));
    close(area(&tip, &pen(4.0, LineCap::Butt, LineJoin::Miter)), bevel, 1e-9);
    let long = Pen { mitre_limit: 6.0, ..pen(4.0, LineCap::Butt, LineJoin::Miter) };
    assert!(area(&tip, &long) > bevel + 15.0);
    let clipped = area(&tip, &pen(4.0, LineCap::Butt, LineJoin::MiterClip));
    assert!(clipped > bevel + 5.0 && clipped < area(&tip, &long));
}

#[test]
fn a_closed_line_is_a_ring_with_one_cut_out() {
    let l = [line(&[[0.0, 0.0], [40.0, 0.0], [40.0, 40.0], [0.0, 40.0]], true)];
    let b = band(&l, &pen(4.0, LineCap::Butt, LineJoin::Miter), &Affine::IDENTITY);
    assert_eq!((b.len(), b[0].cutouts.len()), (1, 1));
    close(b[0].area(), 44.0 * 44.0 - 36.0 * 36.0, 1e-6);
}

#[test]
fn an_uneven_scale_makes_an_uneven_band() {
    let l = [line(&[[0.0, 0.0], [10.0, 0.0]], false)];
    let b = band(&l, &pen(2.0, LineCap::Butt, LineJoin::Miter), &Affine([1.0, 0.0, 0.0, -5.0, 0.0, 0.0]));
    close(b[0].bounds().height(), 10.0, 1e-9);
    close(b[0].bounds().width(), 10.0, 1e-9);
}

#[test]
fn a_point_with_round_caps_is_a_disc_and_with_butt_caps_nothing() {
    let l = [line(&[[5.0, 5.0]], false)];
    close(area(&l, &pen(4.0, LineCap::Round, LineJoin::Miter)), PI * 4.0, 0.1);
    close(area(&l, &pen(4.0, LineCap::Square, LineJoin::Miter)), 16.0, 1e-9);
    assert_eq!(area(&l, &pen(4.0, LineCap::Butt, LineJoin::Miter)), 0.0);
}

proptest! {
    /// With round caps and joins the band is the set of points within half the width of the line, however it
    /// crosses itself.
    #[test]
    fn a_round_pen_covers_what_is_near_the_line(
        pairs in prop::collection::vec(prop::array::uniform2(0.0f64..60.0), 2..9),
        closed: bool, width in 1.0f64..20.0, at in prop::array::uniform2(-10.0f64..70.0)) {
        let l = line(&pairs, closed);
        let p = pt(at[0], at[1]);
        let mut near = l.points.windows(2).map(|w| to_side(p, w[0], w[1])).fold(f64::INFINITY, f64::min);
        if closed {
            near = near.min(to_side(p, l.points[0], l.points[l.points.len() - 1]));
        }
        let b = band(&[l], &pen(width, LineCap::Round, LineJoin::Round), &Affine::IDENTITY);
        let inside = b.iter().any(|r| r.contains(p));
        prop_assume!((near - width / 2.0).abs() > 2.0 * tol::ARC_MM);
        prop_assert_eq!(inside, near < width / 2.0);
    }
}
