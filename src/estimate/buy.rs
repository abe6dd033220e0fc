//! What to buy: every cloth at every width, each length found by a lay.

use crate::cloth::{self, Cloth};
use crate::drawing::Piece;
use crate::job::{ClothSpec, Job, LaySpec, PieceRule};
use crate::lay;
use crate::say::{Kind, Trouble, Watch};
use crate::sew;
use crate::shape::tol;

use super::need::{Need, need};
use super::relax::Case;

/// How it is asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Wish {
    /// Widths to look at besides the job's own and its offers, mm.
    pub widths_mm: Vec<f64>,
    /// Thousands of moves for each lay: counted, so that the answer repeats.
    pub effort: u32,
    /// Whether to look what changing a rule would save.
    pub savings: bool,
}

/// What is to be laid for an estimate: the pieces of one cloth.
#[derive(Clone, Copy, Debug)]
pub struct ToLay<'a> {
    /// The job.
    pub job: &'a Job,
    /// The cloth, of open length.
    pub cloth: &'a Cloth,
    /// Its pieces.
    pub pieces: &'a [Piece],
    /// The rules, all for this cloth.
    pub rules: &'a [PieceRule],
    /// How to lay them.
    pub spec: &'a LaySpec,
}

/// A lay for an estimate.
#[derive(Clone, Debug)]
pub struct LaidOut {
    /// The lay.
    pub on: lay::ClothLay,
    /// Why no room is kept in it for marks, where a plan would keep some; `None` when it is.
    pub no_room: Option<String>,
}

/// Who lays: the estimate knows nothing of beds, and what a plan keeps clear counts.
pub trait Lays {
    /// Lays the pieces.
    ///
    /// # Errors
    /// Why they cannot be laid.
    fn laid(&self, asked: &ToLay, watch: &dyn Watch) -> Result<LaidOut, Vec<Trouble>>;
}

/// Lays without a thought for beds: no room is kept for marks.
#[derive(Clone, Copy, Debug)]
pub struct Bare(
    /// Why.
    pub &'static str,
);

impl Lays for Bare {
    fn laid(&self, asked: &ToLay, watch: &dyn Watch) -> Result<LaidOut, Vec<Trouble>> {
        let request = lay::Request {
            pieces: asked.pieces,
            rules: asked.rules,
            cloths: std::slice::from_ref(asked.cloth),
            spec: asked.spec,
            kept_clear: &[],
            struck: None,
            keep: 1,
            live: None,
        };
        let (mut lay, _) = sew::lay_off_bias(&request, asked.job.cutter.border_mm, watch)?;
        let on = lay.cloths.pop().ok_or_else(|| vec![Trouble::cannot("the lay", "it has no cloth")])?;
        Ok(LaidOut { on, no_room: Some(self.0.to_owned()) })
    }
}

/// What to buy of one cloth.
#[derive(Clone, Debug, PartialEq)]
pub struct Buying {
    /// The cloth's name.
    pub cloth: String,
    /// How many single pieces are cut from it.
    pub pieces: usize,
    /// The length the job says is there, mm.
    pub in_hand_mm: Option<f64>,
    /// Each width, the narrowest first.
    pub widths: Vec<AtWidth>,
    /// The width to buy, by index: the cheapest where every price is known and none is 0, else the one that takes the
    /// least length, the narrower of two alike. `None` when no width will do.
    pub best: Option<usize>,
    /// True when prices decided.
    pub by_price: bool,
    /// What giving up one rule at that width would save, the most first.
    pub savings: Vec<Saving>,
    /// True when the maker stopped it: widths that are not among these, or savings, were not looked at, and the last
    /// length is that of a search cut short.
    pub stopped: bool,
}

/// One width.
#[derive(Clone, Debug, PartialEq)]
pub struct AtWidth {
    /// Full width, mm.
    pub width_mm: f64,
    /// The length, or why no length will do.
    pub need: Result<Need, Trouble>,
    /// Price of a metre.
    pub price_per_m: Option<f64>,
    /// Share of the lay that is pieces.
    pub efficiency: f64,
    /// True when no shorter lay exists under the rules.
    pub proved: bool,
    /// Why no room is kept for marks, where a plan would keep some.
    pub no_room: Option<String>,
}

impl AtWidth {
    /// Price of the length to buy.
    pub fn cost(&self) -> Option<f64> {
        let need = self.need.as_ref().ok()?;
        self.price_per_m.map(|p| (p * need.buy_mm / 10.0).round() / 100.0)
    }
}

/// What giving up one rule would save.
#[derive(Clone, Debug, PartialEq)]
pub struct Saving {
    /// The rule, as put to a maker.
    pub change: String,
    /// Length saved, mm; 0 when no shorter lay was found.
    pub saves_mm: f64,
    /// Money saved.
    pub saves: Option<f64>,
    /// Why no room is kept for marks in the lay that saves it, where a plan would keep some.
    pub no_room: Option<String>,
}

/// What to buy for a job: every cloth that is bought by width and has pieces. An offcut is not bought.
///
/// # Errors
/// A description that makes no sense at another width; a job all of whose cloths are offcuts.
pub fn buy(
    job: &Job,
    pieces: &[Piece],
    wish: &Wish,
    lays: &dyn Lays,
    watch: &dyn Watch,
) -> Result<Vec<Buying>, Vec<Trouble>> {
    let mut all = Vec::new();
    for (c, spec) in job.cloths.iter().enumerate() {
        if watch.stopped() && !all.is_empty() {
            break;
        }
        let own: Vec<Piece> = pieces.iter().filter(|p| p.cloth == c && p.count > 0).cloned().collect();
        if spec.outline_mm.is_some() || own.is_empty() {
            continue;
        }
        all.push(of_cloth(job, spec, own, wish, lays, watch)?);
    }
    if all.is_empty() {
        let what = "none of its cloths is bought by width: pieces are cut from offcuts alone";
        return Err(vec![
            Trouble::cannot("the job", what).hint("settlay lay says whether they take the pieces"),
        ]);
    }
    Ok(all)
}

fn of_cloth(
    job: &Job,
    spec: &ClothSpec,
    mut pieces: Vec<Piece>,
    wish: &Wish,
    lays: &dyn Lays,
    watch: &dyn Watch,
) -> Result<Buying, Vec<Trouble>> {
    pieces.iter_mut().for_each(|p| p.cloth = 0);
    let rules: Vec<PieceRule> =
        job.pieces.iter().map(|r| PieceRule { cloth: spec.name.clone(), ..r.clone() }).collect();
    let singles = pieces.iter().map(|p| p.count as usize).sum();
    let case =
        |cloth: Cloth| Case { cloth, pieces: pieces.clone(), rules: rules.clone(), gap_mm: job.lay.gap_mm };
    let mut widths: Vec<AtWidth> = Vec::new();
    let (mut shortest, mut begun) = (f64::INFINITY, 0.0);
    let mut cases = Vec::new();
    for (width_mm, price_per_m) in offered(spec, &wish.widths_mm) {
        if watch.stopped() && !widths.is_empty() {
            break;
        }
        let of_width = ClothSpec { width_mm: Some(width_mm), length_mm: None, stock: None, ..spec.clone() };
        let (cloth, _) = cloth::understand(&of_width, &format!("cloth {}", spec.name))?;
        let lattice = cloth.pattern.as_ref().map(|p| p.lattice);
        let case = case(cloth);
        watch.step("lay", 0.0, &format!("{} at {width_mm:.0} mm", spec.name));
        let mut at = AtWidth {
            width_mm,
            need: Err(Trouble::cannot("", "")),
            price_per_m,
            efficiency: 0.0,
            proved: false,
            no_room: None,
        };
        match laid(job, &case, wish.effort, lays, watch) {
            Ok(LaidOut { on, no_room }) => {
                // A lay on a narrower cloth lies on this one just as well.
                let (own, begins) = extent(&case, &on);
                if own <= shortest {
                    (shortest, begun) = (own, begins);
                }
                let length = shortest;
                at.efficiency = on.pieces_area_mm2 / (length * width_mm).max(tol::SLIVER_MM2);
                at.no_room = no_room;
                at.proved = on.proved && length == on.used_length_mm;
                at.need = Ok(need(length, width_mm, &of_width, lattice, case.is_bound()));
            }
            // Stopped before it had a length, a width says nothing; those before it stand.
            Err(troubles) if troubles.iter().any(|t| t.kind == Kind::Stopped) => {
                if widths.is_empty() {
                    return Err(troubles);
                }
                break;
            }
            Err(mut troubles) => at.need = Err(troubles.swap_remove(0)),
        }
        cases.push((of_width, case, begun));
        widths.push(at);
    }
    let (best, by_price) = choose(&widths);
    let mut savings = Vec::new();
    if let Some(k) = best.filter(|_| wish.savings)
        && let Ok(now) = &widths[k].need
    {
        let (of_width, case, begins) = &cases[k];
        let base = Base {
            spec: of_width,
            case,
            now: *now,
            begins: *begins,
            price: widths[k].price_per_m,
            no_room: widths[k].no_room.clone(),
        };
        savings = relaxed(job, &base, wish, lays, watch);
    }
    Ok(Buying {
        cloth: spec.name.clone(),
        pieces: singles,
        in_hand_mm: spec.length_mm,
        widths,
        best,
        by_price,
        savings,
        stopped: watch.stopped(),
    })
}

/// Widths and their prices, the narrowest first; of two alike the one whose price is given.
fn offered(spec: &ClothSpec, more: &[f64]) -> Vec<(f64, Option<f64>)> {
    let mut all: Vec<(f64, Option<f64>)> =
        spec.offers.iter().map(|o| (o.width_mm, o.price_per_m.or(spec.price_per_m))).collect();
    all.extend(spec.width_mm.iter().chain(more).map(|w| (*w, spec.price_per_m)));
    // The sort keeps the order of equals, so an offer stays before the same width without one.
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    all.dedup_by(|b, a| (a.0 - b.0).abs() < tol::SAME_POINT_MM);
    all
}

fn choose(widths: &[AtWidth]) -> (Option<usize>, bool) {
    let able: Vec<usize> = (0..widths.len()).filter(|k| widths[*k].need.is_ok()).collect();
    let by_price = !able.is_empty() && able.iter().all(|k| widths[*k].price_per_m.is_some_and(|p| p > 0.0));
    let length = |k: usize| widths[k].need.as_ref().map_or(f64::INFINITY, |n| n.buy_mm);
    let worth = |k: usize| if by_price { widths[k].cost().unwrap_or(f64::INFINITY) } else { length(k) };
    (able.into_iter().min_by(|a, b| worth(*a).total_cmp(&worth(*b)).then(a.cmp(b))), by_price)
}

fn laid(
    job: &Job,
    case: &Case,
    effort: u32,
    lays: &dyn Lays,
    watch: &dyn Watch,
) -> Result<LaidOut, Vec<Trouble>> {
    let spec = LaySpec { gap_mm: case.gap_mm, effort: Some(effort), locked: Vec::new(), ..job.lay.clone() };
    let asked = ToLay { job, cloth: &case.cloth, pieces: &case.pieces, rules: &case.rules, spec: &spec };
    lays.laid(&asked, watch)
}

/// The length a lay takes and where it begins, mm. One that is bound to the pattern and begins farther on, at the first
/// place in step, is measured from there: what lies before is the start of the repeat, which is counted by itself.
fn extent(case: &Case, on: &lay::ClothLay) -> (f64, f64) {
    let near = case.cloth.outline.bounds().min.y + case.cloth.edge_mm;
    let first = on.placed.iter().map(|p| p.cut.bounds().min.y).fold(f64::INFINITY, f64::min);
    let begins = if case.is_bound() && case.cloth.flaws.is_empty() { (first - near).max(0.0) } else { 0.0 };
    (on.used_length_mm - begins, begins)
}

/// The lay that rules are given up against.
struct Base<'a> {
    spec: &'a ClothSpec,
    case: &'a Case,
    now: Need,
    begins: f64,
    price: Option<f64>,
    no_room: Option<String>,
}

/// What giving up each rule would save, found by laying without it. A rule given up never costs anything: the lay
/// under it still stands.
fn relaxed(job: &Job, base: &Base, wish: &Wish, lays: &dyn Lays, watch: &dyn Watch) -> Vec<Saving> {
    let &Base { spec, case, now, begins, price, .. } = base;
    let lattice = case.cloth.pattern.as_ref().map(|p| p.lattice);
    let width_mm = case.cloth.width_mm();
    let saving = |change: String, then: Need, no_room: Option<String>| {
        let saves_mm = (now.buy_mm - then.buy_mm).max(0.0);
        let saves = price.map(|p| (p * saves_mm / 10.0).round() / 100.0);
        Saving { change, saves_mm, saves, no_room }
    };
    let mut all = Vec::new();
    if let Some((l, b)) = lattice.and_then(|l| Some((l, l.b?))).filter(|_| case.is_bound()) {
        let before = (l.origin.y - begins).rem_euclid(b.y.abs().max(tol::SAME_POINT_MM));
        let change = format!("have it cut {before:.0} mm before a pivot of the stripes along");
        all.push(saving(change, need(now.laid_mm, width_mm, spec, lattice, false), base.no_room.clone()));
    }
    for (change, other) in case.relaxed() {
        if watch.stopped() {
            break;
        }
        watch.step("lay", 0.0, &format!("{}: {change}?", spec.name));
        let (laid_mm, no_room) = laid(job, &other, wish.effort, lays, watch)
            .map_or((now.laid_mm, base.no_room.clone()), |l| (extent(&other, &l.on).0, l.no_room));
        let then = need(laid_mm.min(now.laid_mm), width_mm, spec, lattice, other.is_bound());
        all.push(saving(change, then, no_room));
    }
    all.sort_by(|a, b| b.saves_mm.total_cmp(&a.saves_mm));
    all
}

#[cfg(test)]
#[path = "buy_tests.rs"]
mod tests;
