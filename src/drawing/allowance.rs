//! The cut edge: the drawn edge moved out by the allowance.

use crate::say::Trouble;
use crate::shape::{Join, Region, offset, tol};

/// How often the largest bearable allowance is halved in on: to well below a hundredth of a millimetre.
const HALVINGS: u32 = 16;

/// Allowances are told rounded down to this, mm.
const TOLD_STEP_MM: f64 = 0.05;

/// `drawn` grown by `allowance_mm`. The result is one region with as many cut-outs, each inside its own.
///
/// # Errors
/// The allowance closes a cut-out or joins edges across a gap; names the largest one that does not.
pub(super) fn grown(drawn: &Region, allowance_mm: f64, about: &str) -> Result<Region, Trouble> {
    if !(allowance_mm.is_finite() && allowance_mm >= 0.0) {
        return Err(Trouble::bad_input(about, format!("{allowance_mm} mm is no allowance"))
            .hint("give allowance_mm as a number of millimetres, 0 or more"));
    }
    if allowance_mm <= tol::SAME_POINT_MM {
        return Ok(drawn.clone());
    }
    if let Some(cut) = sound(drawn, allowance_mm) {
        return Ok(cut);
    }
    let (mut bears, mut fails) = (0.0, allowance_mm);
    for _ in 0..HALVINGS {
        let mid = (bears + fails) / 2.0;
        if sound(drawn, mid).is_some() {
            bears = mid;
        } else {
            fails = mid;
        }
    }
    let told = (bears / TOLD_STEP_MM).floor() * TOLD_STEP_MM;
    let (which, what) = match offset(std::slice::from_ref(drawn), allowance_mm, Join::Round).first() {
        Some(cut) if cut.cutouts.len() < drawn.cutouts.len() => ("closes", "a cut-out"),
        Some(_) => ("joins", "edges across a narrow gap"),
        None => ("swallows", "the piece"),
    };
    Err(Trouble::cannot(
        about,
        format!("its allowance of {allowance_mm} mm {which} {what}; it can bear {told:.2} mm"),
    )
    .hint(format!("set allowance_mm to {told:.2} or less for this piece, or widen the gap in the drawing")))
}

/// The grown region, if it has kept its shape: one part, every cut-out still there and in one part.
fn sound(drawn: &Region, by_mm: f64) -> Option<Region> {
    let mut grown = offset(std::slice::from_ref(drawn), by_mm, Join::Round);
    let cut = grown.pop()?;
    if !grown.is_empty() || cut.cutouts.len() != drawn.cutouts.len() {
        return None;
    }
    let kept = drawn.cutouts.iter().all(|old| {
        let inside = |new: &crate::shape::Ring| new.points.first().is_some_and(|p| old.contains(*p));
        cut.cutouts.iter().filter(|new| inside(new)).count() == 1
    });
    kept.then_some(cut)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::{Bounds, Ring, pt};

    fn rect(x: f64, y: f64, w: f64, h: f64) -> Region {
        Region::rectangle(Bounds::new(pt(x, y), pt(x + w, y + h)))
    }

    #[test]
    fn no_allowance_leaves_every_point_where_it_is() {
        let r = rect(0.1, 0.2, 3.3, 4.4);
        assert_eq!(grown(&r, 0.0, "piece a").unwrap(), r);
    }

    #[test]
    fn a_cut_out_grows_smaller_with_the_allowance() {
        let piece = rect(0.0, 0.0, 40.0, 40.0).minus(&[rect(10.0, 10.0, 20.0, 20.0)]).remove(0);
        let cut = grown(&piece, 1.5, "piece a").unwrap();
        assert!((cut.bounds().width() - 43.0).abs() < 0.01);
        assert!((cut.cutouts[0].bounds().width() - 17.0).abs() < 1e-6);
    }

    #[test]
    fn an_allowance_that_closes_a_cut_out_names_the_largest_that_does_not() {
        let piece = rect(0.0, 0.0, 40.0, 40.0).minus(&[rect(10.0, 10.0, 20.0, 4.0)]).remove(0);
        let t = grown(&piece, 2.5, "piece a").unwrap_err();
        assert_eq!(t.what, "its allowance of 2.5 mm closes a cut-out; it can bear 1.95 mm");
        assert_eq!(t.exit_code(), 1);
        assert!(grown(&piece, 1.95, "piece a").is_ok());
    }

    /// A C whose mouth is 2 mm wide: 1.5 mm of allowance makes it an O.
    #[test]
    fn an_allowance_that_joins_across_a_gap_is_refused() {
        let c = Region::new(
            Ring::from_pairs(&[
                [0.0, 0.0],
                [40.0, 0.0],
                [40.0, 19.0],
                [30.0, 19.0],
                [30.0, 10.0],
                [10.0, 10.0],
                [10.0, 30.0],
                [30.0, 30.0],
                [30.0, 21.0],
                [40.0, 21.0],
                [40.0, 40.0],
                [0.0, 40.0],
            ]),
            vec![],
        );
        let t = grown(&c, 1.5, "piece c").unwrap_err();
        assert!(t.what.contains("joins edges across a narrow gap"), "{}", t.what);
        assert!(t.what.contains("0.95 mm") || t.what.contains("1.00 mm"), "{}", t.what);
    }

    #[test]
    fn an_allowance_that_is_no_number_is_refused() {
        for bad in [f64::NAN, f64::INFINITY, -1.0] {
            assert_eq!(grown(&rect(0.0, 0.0, 9.0, 9.0), bad, "piece a").unwrap_err().exit_code(), 2);
        }
    }
}
