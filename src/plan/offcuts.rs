//! What of a cloth is left over and worth keeping.

use crate::cloth::Cloth;
use crate::lay::ClothLay;
use crate::shape::{Join, Region, Ring, booleans, offset};

use super::run::outline_used;

/// An offcut is at least this wide everywhere, mm: less is not worth laying anything on. Common practice,
/// no source.
pub const LEAST_WIDTH_MM: f64 = 100.0;

/// An offcut has at least this area, mm². Common practice, no source.
pub const LEAST_AREA_MM2: f64 = 40_000.0;

/// Beyond so many pieces what is left between them is dropped first: the whole of it is slow to take in so far.
const MANY: usize = 300;

/// By how much it is taken in then, mm: gaps between pieces close.
const FIRST_MM: f64 = 10.0;

/// Leftovers of `cloth` worth keeping, the largest first: at least `LEAST_WIDTH_MM` wide and clear of every
/// cut by `clear_mm`, and of the flaws. One that goes round pieces or flaws has a cut-out there.
pub fn leftovers(cloth: &Cloth, on: &ClothLay, clear_mm: f64) -> Vec<Region> {
    let mut left = clear_of_cuts(cloth, on, clear_mm);
    let mut in_mm = LEAST_WIDTH_MM / 2.0;
    if on.placed.len() > MANY {
        // Taken in twice is taken in by the sum; what lies between pieces is gone after the first time, and need not be
        // gone through again.
        left = offset(&left, -FIRST_MM, Join::Round);
        in_mm -= FIRST_MM;
    }
    let core = offset(&left, -in_mm, Join::Round);
    let mut kept: Vec<Region> = offset(&core, LEAST_WIDTH_MM / 2.0, Join::Round)
        .into_iter()
        .filter(|r| r.area() >= LEAST_AREA_MM2)
        .collect();
    kept.sort_by(|a, b| b.area().total_cmp(&a.area()).then(a.bounds().min.y.total_cmp(&b.bounds().min.y)));
    kept
}

/// Everything of `cloth` that is clear of every cut by `clear_mm`, and of the flaws.
pub fn clear_of_cuts(cloth: &Cloth, on: &ClothLay, clear_mm: f64) -> Vec<Region> {
    let whole = Region::new(outline_used(cloth, on.used_length_mm), Vec::new());
    let mut gone: Vec<Region> = on
        .placed
        .iter()
        // A cut-out's scrap falls out with the piece: only what lies outside the outline stays in the cloth.
        .map(|p| Region::new(p.cut.outline.clone(), Vec::new()))
        .flat_map(|r| offset(&[r], clear_mm, Join::Round))
        .collect();
    gone.extend(cloth.flaws.iter().map(|f: &Ring| Region::new(f.clone(), Vec::new())));
    whole.minus(&gone)
}

/// As [`clear_of_cuts`], and clear of burnt `marks`.
pub fn clear_of_burns(cloth: &Cloth, on: &ClothLay, clear_mm: f64, marks: &[Region]) -> Vec<Region> {
    booleans::difference(&clear_of_cuts(cloth, on, clear_mm), marks)
}

#[cfg(test)]
mod tests {
    use crate::drawing::{self, ReadOptions};
    use crate::plan::{Plan, PlanCloth, prepare_with, run};
    use crate::say::Quiet;
    use crate::shape::{Point, Ring, pt};
    use serde_json::json;

    /// A large cloth with a disc fixed in its middle and a flaw: the leftover goes round both.
    fn planned() -> Plan {
        let job = json!({"settlay": 1, "drawing": "d.svg",
            "cloths": [{"name": "fen", "width_mm": 900, "length_mm": 800, "edge_mm": 10, "weight_g_per_m2": 300,
                "flaws_mm": [[[100, 100], [140, 100], [140, 160], [100, 160]]]}],
            "pieces": [{"select": {"id": "*"}, "cloth": "fen"}],
            "lay": {"gap_mm": 3, "effort": 1, "locked": [{"piece": "disc", "shift_mm": [350, 300]}]},
            "cutter": {"bed_mm": [950, 850]}});
        let job = crate::job::parse(&job.to_string(), "d.job.json").unwrap();
        let svg = "<svg xmlns='http://www.w3.org/2000/svg' width='200mm' height='200mm' viewBox='0 0 200 200'>\
            <circle id='disc' cx='100' cy='100' r='80'/></svg>";
        let drawing = drawing::parse(svg.as_bytes(), "d.svg", &ReadOptions::default()).unwrap();
        run(prepare_with(job, drawing, &Quiet).unwrap(), &Quiet).unwrap().plan
    }

    fn counted_mm2(cloth: &PlanCloth, holds: &dyn Fn(Point) -> bool) -> f64 {
        const STEP_MM: f64 = 1.0;
        let b = Ring::from_pairs(&cloth.outline).bounds();
        let (nx, ny) = (b.width() as usize, b.height() as usize);
        let spots = (0..nx).flat_map(|x| (0..ny).map(move |y| (x as f64 + 0.5, y as f64 + 0.5)));
        spots.filter(|(x, y)| holds(b.min + pt(*x, *y))).count() as f64 * STEP_MM * STEP_MM
    }

    /// Areas by counting spots a millimetre apart.
    #[test]
    fn a_leftover_that_goes_round_a_piece_and_a_flaw_is_counted_without_them() {
        let plan = planned();
        let cloth = &plan.cloths[0];
        let [left] = &cloth.offcuts[..] else { panic!("{:?}", cloth.offcuts.len()) };
        assert_eq!(left.cutouts.len(), 2);
        let ring = |pairs: &[[f64; 2]]| Ring::from_pairs(pairs);
        let (outline, holes): (Ring, Vec<Ring>) =
            (ring(&left.outline), left.cutouts.iter().map(|c| ring(c)).collect());
        let kept = counted_mm2(cloth, &|p| outline.contains(p) && !holes.iter().any(|h| h.contains(p)));
        assert!((kept - left.area_mm2).abs() < 300.0, "{kept} counted, {} told", left.area_mm2);
        let cut = ring(&plan.pieces[0].cut.outline);
        assert_eq!(counted_mm2(cloth, &|p| cut.contains(p) && !holes.iter().any(|h| h.contains(p))), 0.0);
        // What is neither piece nor leftover: the flaw, a strip round it and round the disc, the rounded corners.
        let waste = counted_mm2(cloth, &|p| {
            let kept = outline.contains(p) && !holes.iter().any(|h| h.contains(p));
            !kept && !cut.contains(p)
        });
        let told = cloth.waste_g.unwrap() / 300.0 * 1.0e6;
        assert!((waste - told).abs() < 300.0, "{waste} counted, {told} told");
        assert!(told > 2_400.0 && told < 30_000.0, "{told}");
    }

    #[test]
    fn on_the_shelf_it_has_the_same_area_and_what_is_discarded_the_same_weight() {
        let plan = planned();
        let shelved =
            crate::offcuts::shelve(&plan, "2026-11-25", "drawer", crate::offcuts::Beside::default()).unwrap();
        let (left, kept) = (&plan.cloths[0].offcuts[0], &shelved.offcuts[0]);
        // The shelf's outline has fewer corners.
        assert!((kept.area_mm2 - left.area_mm2).abs() < 1_500.0, "{} {}", kept.area_mm2, left.area_mm2);
        let (told, weighed) = (plan.cloths[0].waste_g.unwrap(), shelved.discarded[0].weight_g.unwrap());
        assert!((told - weighed).abs() < 0.5, "{told} {weighed}");
    }
}
