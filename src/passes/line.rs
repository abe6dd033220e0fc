//! Windows along one line: the fewest that do, and then the best places for them.

/// What fits within this fits, mm: rounding of coordinates to nanometres.
pub(super) const FIT_MM: f64 = 1e-6;

/// Places tried for one window besides those where something begins or ends.
const EVEN_PLACES: usize = 9;

/// Most places tried for one window; more are thinned evenly.
const MOST_PLACES: usize = 40;

/// Stretches of a line to be covered by windows of one length.
#[derive(Clone, Debug, Default)]
pub(super) struct Line {
    /// Stretches (from, to) that must each lie whole in one window; none longer than a window.
    pub rigid: Vec<(f64, f64)>,
    /// Stretches that may be handed from one window to the next where these overlap by `band`.
    pub soft: Vec<(f64, f64)>,
    /// Length of a window.
    pub length: f64,
    /// Overlap a soft stretch needs to be handed over; shorter than a window.
    pub band: f64,
}

/// What neighbouring windows cost, the first part weighing most: want of room for marks, stretches handed over,
/// narrowness.
pub(super) type Cost = (u32, u32, f64);

impl Line {
    fn all(&self) -> impl Iterator<Item = &(f64, f64)> {
        self.rigid.iter().chain(&self.soft)
    }

    /// True when nothing is to be covered.
    pub fn is_empty(&self) -> bool {
        self.rigid.is_empty() && self.soft.is_empty()
    }

    /// Where the fewest windows that do begin, each as far along as it may.
    ///
    /// Greedy and so least in number: pushing a window on never uncovers what comes after. `None` when a rigid
    /// stretch is longer than a window or the band leaves no way on.
    pub fn furthest(&self) -> Option<Vec<f64>> {
        let mut p = self.all().map(|s| s.0).reduce(f64::min)?;
        let mut places = vec![p];
        loop {
            let open = |s: &&(f64, f64)| s.1 > p + self.length + FIT_MM;
            let rigid = self.rigid.iter().filter(open).map(|s| s.0);
            let soft = self.soft.iter().filter(open).map(|s| s.0.max(p + self.length - self.band));
            let Some(q) = rigid.chain(soft).reduce(f64::min) else { return Some(places) };
            if q <= p + FIT_MM {
                return None;
            }
            places.push(q);
            p = q;
        }
    }

    /// The same number of windows, each as near as it may.
    fn nearest(&self) -> Option<Vec<f64>> {
        let turn = |list: &[(f64, f64)]| list.iter().map(|s| (-s.1, -s.0)).collect();
        let mirrored = Line { rigid: turn(&self.rigid), soft: turn(&self.soft), ..*self };
        let places = mirrored.furthest()?;
        Some(places.iter().rev().map(|m| -m - self.length).collect())
    }

    /// True when a window at `q` may be the next after one at `p`.
    pub fn may_follow(&self, p: f64, q: f64) -> bool {
        let end = p + self.length;
        let handed = q <= end - self.band + FIT_MM;
        let fits = |s: &(f64, f64), soft: bool| s.1 <= end + FIT_MM || s.0 >= q - FIT_MM || (soft && handed);
        q > p && self.rigid.iter().all(|s| fits(s, false)) && self.soft.iter().all(|s| fits(s, true))
    }

    /// How many soft stretches are handed over between windows at `p` and `q`.
    pub fn handed(&self, p: f64, q: f64) -> u32 {
        let end = p + self.length;
        self.soft.iter().filter(|s| s.1 > end + FIT_MM && s.0 < q - FIT_MM).count() as u32
    }

    /// How narrow the overlap of windows at `p` and `q` is against the band, from 0 up.
    pub fn narrowness(&self, p: f64, q: f64) -> f64 {
        let overlap = (p + self.length - q).max(self.band / 100.0);
        (self.band / overlap) * (self.band / overlap)
    }

    /// The places each of the fewest windows may take, nearest and furthest.
    fn ranges(&self, within: (f64, f64)) -> Option<Vec<(f64, f64)>> {
        let (near, far) = (self.nearest()?, self.furthest()?);
        if near.len() != far.len() {
            return None;
        }
        let mut ranges: Vec<(f64, f64)> = near.iter().zip(&far).map(|(&b, &f)| (b.min(f), f)).collect();
        // The first window begins with the cloth where it may, and no bed lies beyond the cloth unless it must.
        if let Some(first) = ranges.first_mut() {
            first.0 = first.0.max(within.0.min(first.1));
            if within.0 >= first.0 {
                first.1 = within.0.min(first.1);
            }
        }
        if let Some(last) = ranges.last_mut() {
            last.1 = last.1.min((within.1 - self.length).max(last.0));
        }
        Some(ranges)
    }

    /// Places worth trying for each of the fewest windows.
    pub fn choices(&self, within: (f64, f64)) -> Option<Vec<Vec<f64>>> {
        let ranges = self.ranges(within)?;
        let choices = ranges.iter().map(|&(near, far)| {
            let step = (far - near) / (EVEN_PLACES - 1) as f64;
            let mut places: Vec<f64> = (0..EVEN_PLACES).map(|i| near + step * i as f64).collect();
            let marked = self.all().flat_map(|s| [s.0, s.1 - self.length]);
            let mut marked: Vec<f64> = marked.filter(|&p| p > near && p < far).collect();
            marked.sort_by(f64::total_cmp);
            let thin = marked.len().div_ceil(MOST_PLACES - EVEN_PLACES).max(1);
            places.extend(marked.into_iter().step_by(thin));
            places.push(far);
            places.sort_by(f64::total_cmp);
            places.dedup_by(|a, b| (*a - *b).abs() < FIT_MM);
            places
        });
        Some(choices.collect())
    }

    /// The fewest windows at the places of least cost; `within` is what there is of cloth, `prefer` where a
    /// single window would rather begin, `cost` what a pair of neighbours costs besides.
    pub fn places(
        &self,
        within: (f64, f64),
        prefer: f64,
        cost: impl Fn(f64, f64) -> Cost,
    ) -> Option<Vec<f64>> {
        let layers = self.choices(within)?;
        if let [_] = layers[..] {
            let (near, far) = self.nearest()?.first().copied().zip(self.furthest()?.first().copied())?;
            return Some(vec![prefer.max(near).min(far)]);
        }
        let mut best: Vec<Vec<Option<(Cost, usize)>>> =
            vec![layers[0].iter().map(|_| Some(((0, 0, 0.0), 0))).collect()];
        for j in 1..layers.len() {
            let row = layers[j].iter().map(|&q| {
                let mut least: Option<(Cost, usize)> = None;
                for (i, &p) in layers[j - 1].iter().enumerate() {
                    let Some((so_far, _)) = best[j - 1][i] else { continue };
                    if !self.may_follow(p, q) {
                        continue;
                    }
                    let total = add(so_far, cost(p, q));
                    if least.is_none_or(|(l, _)| less(total, l)) {
                        least = Some((total, i));
                    }
                }
                least
            });
            let row = row.collect();
            best.push(row);
        }
        let reached = best.last()?.iter().enumerate().filter_map(|(i, b)| b.map(|(c, _)| (c, i)));
        let (_, mut at) = reached.reduce(|a, b| if less(b.0, a.0) { b } else { a })?;
        let mut places = Vec::new();
        for j in (0..layers.len()).rev() {
            places.push(layers[j][at]);
            at = best[j][at]?.1;
        }
        places.reverse();
        Some(places)
    }
}

pub(super) fn add(a: Cost, b: Cost) -> Cost {
    (a.0 + b.0, a.1 + b.1, a.2 + b.2)
}

pub(super) fn less(a: Cost, b: Cost) -> bool {
    (a.0, a.1) < (b.0, b.1) || ((a.0, a.1) == (b.0, b.1) && a.2 < b.2 - 1e-12)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn line(rigid: &[(f64, f64)], soft: &[(f64, f64)], length: f64, band: f64) -> Line {
        Line { rigid: rigid.to_vec(), soft: soft.to_vec(), length, band }
    }

    #[test]
    fn a_long_stretch_takes_as_many_windows_as_sums_say() {
        // n windows of 888 with bands of 80 reach 888·n − 80·(n − 1): 2400 needs 3, 3312 is just what 4 reach.
        assert_eq!(line(&[], &[(0.0, 2400.0)], 888.0, 80.0).furthest().unwrap().len(), 3);
        assert_eq!(line(&[], &[(0.0, 3312.0)], 888.0, 80.0).furthest().unwrap().len(), 4);
        assert_eq!(line(&[], &[(0.0, 3312.1)], 888.0, 80.0).furthest().unwrap().len(), 5);
    }

    #[test]
    fn bands_are_spread_evenly_where_nothing_else_matters() {
        let l = line(&[], &[(0.0, 2400.0)], 888.0, 80.0);
        let places = l.places((0.0, 2400.0), 0.0, |p, q| (0, 0, l.narrowness(p, q))).unwrap();
        let overlaps: Vec<f64> = places.windows(2).map(|w| w[0] + 888.0 - w[1]).collect();
        assert!(overlaps.iter().all(|o| (o - 132.0).abs() < 20.0), "{overlaps:?}");
    }

    #[test]
    fn what_cannot_be_covered_gives_nothing() {
        assert_eq!(line(&[(0.0, 11.0)], &[], 10.0, 2.0).furthest(), None);
        assert_eq!(line(&[], &[(0.0, 11.0)], 10.0, 10.0).furthest(), None);
    }

    /// Fewest windows on whole millimetres by looking at every set of places, the rules said anew.
    fn fewest_by_trying_all(l: &Line, end: i32) -> usize {
        let reaches = |p: i32| (f64::from(p), f64::from(p) + l.length);
        let good = |set: &[i32]| {
            let whole = |s: &(f64, f64)| set.iter().any(|&p| reaches(p).0 <= s.0 && s.1 <= reaches(p).1);
            let handed = |s: &(f64, f64)| {
                let runs = (0..set.len()).flat_map(|i| (i + 1..=set.len()).map(move |j| &set[i..j]));
                runs.map(|run| run.iter().map(|&p| reaches(p)).collect::<Vec<_>>()).any(|run| {
                    run[0].0 <= s.0
                        && run[run.len() - 1].1 >= s.1
                        && run.windows(2).all(|w| w[0].1 - w[1].0 >= l.band)
                })
            };
            l.rigid.iter().all(whole) && l.soft.iter().all(|s| whole(s) || handed(s))
        };
        fn sets(from: i32, end: i32, left: usize, set: &mut Vec<i32>, good: &dyn Fn(&[i32]) -> bool) -> bool {
            if left == 0 {
                return good(set);
            }
            (from..=end).any(|p| {
                set.push(p);
                let found = sets(p + 1, end, left - 1, set, good);
                set.pop();
                found
            })
        }
        (1..8).find(|&k| sets(-2, end, k, &mut Vec::new(), &good)).unwrap_or(usize::MAX)
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        #[test]
        fn windows_are_as_few_as_trying_all_finds(
            rigid in prop::collection::vec((0i32..18, 1i32..6), 0..5),
            soft in prop::collection::vec((0i32..14, 1i32..16), 0..3),
        ) {
            let stretch = |v: Vec<(i32, i32)>| v.into_iter().map(|(a, n)| (f64::from(a), f64::from(a + n))).collect();
            let l = Line { rigid: stretch(rigid), soft: stretch(soft), length: 6.0, band: 2.0 };
            prop_assume!(!l.is_empty());
            let far = l.furthest().unwrap();
            prop_assert_eq!(far.len(), fewest_by_trying_all(&l, 30));
            let places = l.places((0.0, 30.0), 0.0, |p, q| (0, l.handed(p, q), l.narrowness(p, q))).unwrap();
            prop_assert_eq!(places.len(), far.len());
            for w in places.windows(2) {
                prop_assert!(l.may_follow(w[0], w[1]));
            }
            for s in &l.rigid {
                prop_assert!(places.iter().any(|p| *p <= s.0 + 1e-6 && s.1 <= p + 6.0 + 1e-6));
            }
        }
    }
}
