//! The gauge as a pass of its own.

use crate::burn::gauge::{BLOCKS, SIDE_MM, STRIP_MM};
use crate::job::Cutter;
use crate::say::Trouble;

use super::{Pair, PlanBurn, PlanPass, PlanTime};

/// Waste round the gauge's parts, mm.
const AROUND_MM: f64 = 10.0;
/// Waste on the near side of the square, which bears a sign, mm.
const NEAR_MM: f64 = 20.0;

/// How far from the near edge of the square the arrows run, the square's own within and the surround's without, mm: both
/// keep clear of that edge, where callipers touch it, and of the border of the waste.
const SIGN_OFF_MM: f64 = 10.0;
/// How far from the left edge of the square the arrows begin, mm: so far that the square's own lies off its diagonal.
const SIGN_FROM_MM: f64 = 16.0;
/// Length of an arrow, of its head, and half the widths of shaft and head, mm: large enough to fall out and be seen.
const SIGN_MM: [f64; 4] = [20.0, 8.0, 1.0, 3.0];

/// The gauge at the near left corner of the bed: a square, and beyond it a strip cut into blocks. Burnt along its nominal
/// lines, without kerf; inner cuts first. `cloth` is what it is cut in.
///
/// Square and surround each have an arrow cut out that lies at the near left and points along x: no turn of the square,
/// nor turning it over, brings its arrow there pointing that way.
///
/// # Errors
/// A bed too small for it.
pub fn gauge_pass(cutter: &Cutter, cloth: &str) -> Result<PlanPass, Trouble> {
    let at: Pair = [cutter.margin_mm + AROUND_MM, cutter.margin_mm + NEAR_MM];
    let strip = at[1] + SIDE_MM + AROUND_MM;
    let beyond = AROUND_MM + cutter.margin_mm;
    let needed = [at[0] + SIDE_MM + beyond, strip + STRIP_MM + beyond];
    if cutter.bed_mm[0] < needed[0] || cutter.bed_mm[1] < needed[1] {
        let what = format!(
            "the gauge does not fit on the bed: it needs {} × {} mm, margins counted; this one has {} × {} mm",
            needed[0], needed[1], cutter.bed_mm[0], cutter.bed_mm[1]
        );
        return Err(
            Trouble::cannot("cutter.bed_mm", what).hint("the gauge is for beds of that size and more")
        );
    }
    let burn = |kind: &str, piece: String, ring: usize, closed: bool, path: Vec<Pair>| PlanBurn {
        kind: kind.into(),
        piece,
        copy: 1,
        ring,
        closed,
        lead_in: None,
        path,
    };
    let block = SIDE_MM / BLOCKS as f64;
    let sign = |piece: &str, y: f64| burn("cutout", piece.into(), 1, true, arrow([at[0] + SIGN_FROM_MM, y]));
    let mut burns = vec![sign("surround", at[1] - SIGN_OFF_MM), sign("square", at[1] + SIGN_OFF_MM)];
    burns.extend((1..BLOCKS).map(|k| {
        let x = at[0] + block * k as f64;
        // To and fro.
        let (from, to) = if k % 2 == 1 { (strip, strip + STRIP_MM) } else { (strip + STRIP_MM, strip) };
        burn("cutout", format!("block {k}"), 0, false, vec![[x, from], [x, to]])
    }));
    let (left, right) = (at[0], at[0] + SIDE_MM);
    let rectangle = |y: f64, high: f64| vec![[left, y], [right, y], [right, y + high], [left, y + high]];
    burns.push(burn("outline", "strip".into(), 0, true, rectangle(strip, STRIP_MM)));
    burns.push(burn("outline", "square".into(), 0, true, rectangle(at[1], SIDE_MM)));
    Ok(PlanPass {
        cloth: cloth.into(),
        number: 1,
        bed_mm: cutter.bed_mm,
        margin_mm: cutter.margin_mm,
        window: [0.0, 0.0, cutter.bed_mm[0], cutter.bed_mm[1]],
        cloth_to_bed: [1.0, 0.0, 0.0, 1.0, 0.0, 0.0],
        burns,
        marks: Vec::new(),
        joints: Vec::new(),
        key: Vec::new(),
        verdict: String::new(),
        bridges: Vec::new(),
        plain_travel_mm: 0.0,
        time: PlanTime::default(),
        cut_length_mm: 0.0,
        travel_length_mm: 0.0,
        seconds: 0.0,
        cut_on: None,
    })
}

/// An arrow along +x whose shaft begins at `tail`.
fn arrow(tail: Pair) -> Vec<Pair> {
    let [long, head, shaft, barb] = SIGN_MM;
    let neck = long - head;
    [[0.0, -shaft], [neck, -shaft], [neck, -barb], [long, 0.0], [neck, barb], [neck, shaft], [0.0, shaft]]
        .map(|[x, y]| [tail[0] + x, tail[1] + y])
        .to_vec()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn burns<'a>(pass: &'a PlanPass, kind: &str, piece: &str) -> Vec<&'a PlanBurn> {
        pass.burns.iter().filter(|b| b.kind == kind && b.piece == piece).collect()
    }

    /// Corners of a closed burn as hundredths of a millimetre, whatever its direction and start.
    fn corners(path: impl IntoIterator<Item = Pair>) -> Vec<[i64; 2]> {
        let mut all: Vec<_> = path.into_iter().map(|p| p.map(|v| (v * 100.0).round() as i64)).collect();
        all.sort_unstable();
        all
    }

    #[test]
    fn the_square_fits_its_surround_by_the_arrows_in_one_way_only() {
        let pass = gauge_pass(&Cutter::default(), "card").unwrap();
        let square = burns(&pass, "outline", "square")[0];
        let [own, around] = ["square", "surround"].map(|piece| burns(&pass, "cutout", piece)[0]);
        let middle = [0, 1].map(|k| (square.path[0][k] + square.path[2][k]) / 2.0);
        // The eight ways to lay a square into its hole: four turns, face up and face down.
        let same = (0..8).filter(|way| {
            let laid = |p: &Pair| {
                let (mut x, y) = (p[0] - middle[0], p[1] - middle[1]);
                if way / 4 == 1 {
                    x = -x;
                }
                let [x, y] = [[x, y], [-y, x], [-x, -y], [y, -x]][way % 4];
                [middle[0] + x, middle[1] + y]
            };
            corners(own.path.iter().map(laid)) == corners(own.path.iter().copied())
        });
        assert_eq!(same.collect::<Vec<_>>(), [0]);
        let shifted = own.path.iter().map(|p| [p[0], p[1] - 2.0 * SIGN_OFF_MM]);
        assert_eq!(corners(shifted), corners(around.path.iter().copied()), "one below the other");
        let tip = own.path.iter().copied().max_by(|a, b| a[0].total_cmp(&b[0])).unwrap();
        assert!(tip[0] < middle[0] && tip[1] < middle[1], "at the near left");
        assert_eq!(own.path.iter().filter(|p| p[0] >= tip[0]).count(), 1, "pointing along x");
    }

    #[test]
    fn the_arrows_keep_clear_of_all_that_callipers_touch() {
        let pass = gauge_pass(&Cutter::default(), "card").unwrap();
        let square = burns(&pass, "outline", "square")[0];
        let (low, high) = (square.path[0], square.path[2]);
        for p in &burns(&pass, "cutout", "square")[0].path {
            assert!((0..2).all(|k| p[k] - low[k] > 5.0 && high[k] - p[k] > 5.0), "{p:?}");
            assert!(p[0] - low[0] - (p[1] - low[1]) > 3.0, "off the rising diagonal: {p:?}");
        }
        for p in &burns(&pass, "cutout", "surround")[0].path {
            assert!(low[1] - p[1] > 5.0 && p[1] > pass.margin_mm + 5.0 && p[0] > low[0], "{p:?}");
        }
    }

    #[test]
    fn nothing_is_cut_in_what_is_already_loose() {
        let pass = gauge_pass(&Cutter::default(), "card").unwrap();
        let last = pass.burns.iter().rposition(|b| b.kind == "cutout").unwrap();
        let first = pass.burns.iter().position(|b| b.kind == "outline").unwrap();
        assert!(last < first);
    }

    #[test]
    fn the_gauge_fits_on_the_bed_it_asks_for_and_on_no_smaller_one() {
        let with = |bed_mm: Pair| gauge_pass(&Cutter { bed_mm, ..Cutter::default() }, "card");
        let pass = with([132.0, 167.0]).unwrap();
        for p in pass.burns.iter().flat_map(|b| &b.path) {
            assert!(
                (0..2).all(|k| p[k] >= pass.margin_mm && p[k] <= pass.bed_mm[k] - pass.margin_mm),
                "{p:?}"
            );
        }
        for bed in [[131.9, 600.0], [600.0, 166.9]] {
            let said = with(bed).unwrap_err().what;
            assert!(said.contains("does not fit on the bed: it needs 132 × 167 mm"), "{said}");
        }
    }
}
