//! Setts: the stripe order of a check or stripe, its true period and its pivots, worked out thread by thread.
//!
//! Nothing is believed that the expanded order does not show: a list written out in full without slashes may
//! be symmetrical, and a list may hold its period more than once.

use crate::job::{PivotCount, StripeFault, StripeOrder};

/// A thread count as the registers write it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sett {
    /// The stripes as listed.
    pub listed: StripeOrder,
}

impl Sett {
    /// Reads a thread count such as `N/6 G24 W4 G24 K/10`; see [`StripeOrder::parse`].
    ///
    /// # Errors
    /// The first stripe that cannot be read, or a slash where none can be.
    pub fn parse(text: &str) -> Result<Sett, StripeFault> {
        StripeOrder::parse(text).map(|listed| Sett { listed })
    }

    /// One full reading of the list, thread by thread, from the first thread of the first listed stripe: to and
    /// fro between pivots (each woven once as listed, or twice when `pivots` are half counts), else as listed.
    ///
    /// Full count: first + last + 2 × what lies between. Half count: 2 × the sum of all. Source: Scottish
    /// Tartans Authority, "Understanding Thread Counts"; the two conventions: "Tartan weaving and design", 2024.
    pub fn expand(&self, pivots: PivotCount) -> Vec<&str> {
        let stripes = &self.listed.stripes;
        let last = stripes.len().saturating_sub(1);
        let times = |k: usize| {
            let is_pivot = self.listed.to_and_fro && (k == 0 || k == last);
            if is_pivot && pivots == PivotCount::Half { 2 } else { 1 }
        };
        let there = 0..stripes.len();
        let back = if self.listed.to_and_fro { 1..last } else { 0..0 };
        there
            .chain(back.rev())
            .filter_map(|k| stripes.get(k).map(|s| (s, s.threads as usize * times(k))))
            .flat_map(|(s, threads)| std::iter::repeat_n(s.colour.as_str(), threads))
            .collect()
    }

    /// The order the list weaves, from its own lattice point on.
    pub fn order(&self, pivots: PivotCount) -> Order {
        Order::of(&self.expand(pivots))
    }
}

/// One true period of a stripe order, begun where its lattice point lies: at the pivot nearest to the centre of
/// the first listed stripe, or at that centre itself when the order has no pivots.
///
/// ```text
///  K/3 W2 K/3 …      first listed stripe K K K, its centre in the middle of a thread
///     K  K  K  W  W  K  K  K  W  W  K  …
///        ^ lattice point: threads[0] is this K, start = -0.5
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Order {
    /// The colours of one true period.
    pub threads: Vec<String>,
    /// Where `threads[0]` begins, in threads from the lattice point: 0 when the point lies between two threads,
    /// −0.5 when it lies in the middle of one.
    pub start: f64,
    /// True when the endless order reads the same backwards.
    pub symmetrical: bool,
    /// How far the lattice point lies beyond the centre of the first listed stripe, in threads; 0 unless that
    /// centre is no pivot of a symmetrical order.
    pub moved: f64,
    /// Threads of one full reading of the list; a multiple of the period.
    pub listed_threads: usize,
}

impl Order {
    /// The order that repeats `expanded` for ever. Cost: proportional to its length.
    fn of(expanded: &[&str]) -> Order {
        let period = true_period(expanded);
        let threads = expanded.get(..period).unwrap_or_default();
        let centre = first_centre(threads);
        let pivot = first_pivot(threads);
        // All places in half threads from the first thread's near side: pivots lie half a period apart.
        let point = match pivot {
            Some(pivot) if period > 1 => {
                let steps = (centre - pivot as isize).div_euclid(period as isize);
                let before = pivot as isize + steps * period as isize;
                let after = before + period as isize;
                // Of two pivots equally near the farther along is taken.
                if centre - before < after - centre { before } else { after }
            }
            _ => centre,
        };
        let begin = point.div_euclid(2).rem_euclid(period.max(1) as isize) as usize;
        Order {
            threads: (0..period)
                .filter_map(|k| threads.get((begin + k) % period).map(ToString::to_string))
                .collect(),
            start: if point.rem_euclid(2) == 1 { -0.5 } else { 0.0 },
            symmetrical: pivot.is_some(),
            moved: (point - centre) as f64 / 2.0,
            listed_threads: expanded.len(),
        }
    }

    /// True when there is one colour only, so that nothing repeats.
    pub fn is_one_colour(&self) -> bool {
        self.threads.len() <= 1
    }
}

/// Length of the shortest run that, repeated whole, gives `order`. (Knuth, Morris and Pratt's failure function.)
fn true_period(order: &[&str]) -> usize {
    let n = order.len();
    let border = borders(order).last().copied().unwrap_or(0);
    let candidate = n - border;
    if n > 0 && n.is_multiple_of(candidate) { candidate } else { n }
}

/// For every beginning of `word`: the length of its longest proper part that is both its beginning and its end.
fn borders(word: &[&str]) -> Vec<usize> {
    let mut borders = vec![0; word.len()];
    for k in 1..word.len() {
        let mut length = borders[k - 1];
        while length > 0 && word[k] != word[length] {
            length = borders[length - 1];
        }
        borders[k] = length + usize::from(word[k] == word[length]);
    }
    borders
}

/// Where the stripe that holds the first thread of the endless order has its centre, in half threads from the
/// first thread's near side. The stripe is taken as it is seen: a like-coloured last stripe belongs to it.
fn first_centre(period: &[&str]) -> isize {
    let same = |thread: &&&str| Some(*thread) == period.first();
    let forward = period.iter().take_while(same).count();
    let backward = if forward < period.len() { period.iter().rev().take_while(same).count() } else { 0 };
    forward as isize - backward as isize
}

/// A pivot of the endless order, in half threads from the first thread's near side (thread i changes places with
/// thread pivot − 1 − i); the others lie half a period apart. `None` when it does not read the same backwards.
///
/// A mirror image of the order is the order itself begun elsewhere: the reversed period is sought in the
/// doubled one.
fn first_pivot(period: &[&str]) -> Option<usize> {
    let n = period.len();
    let reversed: Vec<&str> = period.iter().rev().copied().collect();
    let borders = borders(&reversed);
    let mut matched = 0;
    for k in 0..2 * n {
        let thread = period[k % n];
        while matched > 0 && (matched == n || thread != reversed[matched]) {
            matched = borders[matched - 1];
        }
        if n > 0 && thread == reversed[matched] {
            matched += 1;
        }
        if matched == n {
            return Some(k + 1 - n);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn sett(count: &str) -> Sett {
        Sett::parse(count).unwrap()
    }

    fn full(count: &str) -> Order {
        sett(count).order(PivotCount::Full)
    }

    /// Published setts: count, threads of a full reading, true period, symmetrical.
    /// Source: Scottish Register of Tartans, entries by number, repeats recomputed on the full-count rule.
    const PUBLISHED: &[(&str, &str, usize, usize, bool)] = &[
        ("Black Watch 277", "DB/44 K4 DB4 K4 DB4 K32 G32 K4 G32 K32 DB32 K4 DB/4", 416, 416, true),
        ("Royal Stewart 3957", "R/87 B8 K11 Y2 K3 W2 K3 G13 R11 K2 R5 W/3", 210, 210, true),
        ("Royal Stewart 3958", "R/144 B16 K24 Y8 K8 W8 K8 G32 R16 K8 R8 W/8", 424, 424, true),
        ("Wallace 4482", "K/6 R48 K48 Y/6", 204, 204, true),
        ("Wallace, encyclopaedia", "K/4 R32 K32 Y/4", 136, 136, true),
        ("Wallace Hunting 4486, no slash", "K4 G32 K32 Y4 K32 G32", 136, 136, true),
        ("Rob Roy MacGregor 3516", "K172 R172", 344, 344, true),
        ("Moncreiffe 2980", "G50 R50", 100, 100, true),
        ("Shepherd 3781, listed twice over", "K6 LN6 K6 LN6", 24, 12, true),
        ("Northumberland 3162, hides a shorter period", "K/10 W10 K/10", 40, 20, true),
        ("Fraser of Boblainy 1263", "R/4 B28 G28 R56 B/4", 232, 232, true),
        ("Gordon 1449", "B/20 K4 B4 K4 B4 K16 G20 Y4 G20 K16 B24 K/4", 256, 256, true),
        ("Buchanan 414", "B18 G46 K6 B18 K6 Y40 K6 Y40 K6 B18 K6 R40 W6 R40 K6 B18 K6 G46", 372, 372, false),
        (
            "Campbell of Argyll 511",
            "B2 K2 B2 K2 B16 K2 B2 K2 B2 K16 G16 K2 W4 K2 G16 K16 B16 K2 B2 K2 B16 K16 G16 K2 Y4 K2 G16 K32",
            230,
            230,
            false,
        ),
        // Worked in the notation notes of the same authority, with and without slashes.
        ("with slashes", "B/24 W4 B24 R2 K24 G24 W/2", 182, 182, true),
        ("without slashes", "B24 W4 B24 R2 K24 G24 W2", 104, 104, false),
        // A hand-weaver's kilt sett.
        ("kilt sett", "L/12 R4 L56 B56 R4 L4 R4 L4 R/8", 284, 284, true),
    ];

    #[test]
    fn published_setts_have_their_published_repeats_and_symmetry() {
        for (name, count, listed, period, symmetrical) in PUBLISHED {
            let order = full(count);
            assert_eq!(order.listed_threads, *listed, "{name}");
            assert_eq!(order.threads.len(), *period, "{name}");
            assert_eq!(order.symmetrical, *symmetrical, "{name}");
        }
    }

    /// Black Watch read with half counts must differ: 464 against 416. (Derived from the two conventions.)
    #[test]
    fn half_counts_weave_the_pivots_twice() {
        let black_watch = sett(PUBLISHED[0].1);
        assert_eq!(black_watch.order(PivotCount::Half).listed_threads, 464);
        // K/2 R24 K24 Y/2 in half counts and K/4 R24 K24 Y/4 in full ones are the same cloth ("Tartan weaving
        // and design", 2024).
        assert_eq!(sett("K/2 R24 K24 Y/2").order(PivotCount::Half), full("K/4 R24 K24 Y/4"));
        // Without pivots there is nothing to double.
        assert_eq!(sett("K6 R24").order(PivotCount::Half), full("K6 R24"));
    }

    /// Wallace, K/4 R32 K32 Y/4: 68 black, 64 red, 4 yellow threads in a repeat. (Derived.)
    #[test]
    fn the_colours_of_wallace_add_up() {
        let order = full("K/4 R32 K32 Y/4");
        let count = |letter: &str| order.threads.iter().filter(|t| *t == letter).count();
        assert_eq!((count("K"), count("R"), count("Y")), (68, 64, 4));
    }

    #[test]
    fn the_lattice_point_is_the_centre_of_the_first_stripe_when_that_is_a_pivot() {
        let even = full("K/4 W6 Y/2");
        assert_eq!((even.start, even.moved), (0.0, 0.0));
        assert_eq!(even.threads.join(""), "KKWWWWWWYYWWWWWWKK");
        let odd = full("K/3 W2 Y/1");
        assert_eq!((odd.start, odd.moved), (-0.5, 0.0));
        assert_eq!(odd.threads.join(""), "KKWWYWWK");
    }

    #[test]
    fn a_first_stripe_that_is_no_pivot_sends_the_point_to_the_nearest_one() {
        // W2 K4 W2 R6: the pivots are the centres of K and R, 3 and 4 threads from the first W's centre.
        let order = full("W2 K4 W2 R6");
        assert!(order.symmetrical);
        assert_eq!((order.moved, order.start), (3.0, 0.0));
        assert_eq!(order.threads.join(""), "KKWWRRRRRRWWKK");
        // Equally near on both sides: the one farther along.
        assert_eq!(full("W2 K4 W2 R4").moved, 3.0);
        // Nearer on the near side.
        assert_eq!(full("W2 K8 W2 R4").moved, -3.0);
    }

    #[test]
    fn an_order_without_pivots_stays_at_its_first_stripe() {
        let order = full("W3 K4 R5");
        assert!(!order.symmetrical);
        assert_eq!((order.moved, order.start), (0.0, -0.5));
        assert_eq!(order.threads.join(""), "WWKKKKRRRRRW");
    }

    #[test]
    fn a_stripe_split_by_the_end_of_the_list_is_one_stripe_on_the_cloth() {
        let order = full("K2 W6 K4");
        assert_eq!(order.threads.join(""), "KKKWWWWWWKKK");
        assert_eq!((order.moved, order.start), (0.0, 0.0));
    }

    #[test]
    fn one_colour_has_no_repeat() {
        for count in ["N", "N12", "N12 N4", "N/6 N/2"] {
            let order = full(count);
            assert!(order.is_one_colour() && order.symmetrical, "{count}");
        }
    }

    fn count() -> impl Strategy<Value = String> {
        (prop::collection::vec(("[KWR]", 1u32..7), 1..9), any::<bool>()).prop_map(|(stripes, slashed)| {
            let last = stripes.len() - 1;
            let slash = |k: usize| if slashed && (k == 0 || k == last) { "/" } else { "" };
            let words: Vec<String> =
                stripes.iter().enumerate().map(|(k, (c, n))| format!("{c}{}{n}", slash(k))).collect();
            words.join(" ")
        })
    }

    proptest! {
        /// Against the plain definitions: every shift tried, every rotation compared.
        #[test]
        fn period_and_symmetry_agree_with_their_definitions(count in count()) {
            let sett = sett(&count);
            let all = sett.expand(PivotCount::Full);
            let n = all.len();
            let shifted_by = |k: usize| (0..n).all(|i| all[i] == all[(i + k) % n]);
            let period = (1..=n).find(|k| n.is_multiple_of(*k) && shifted_by(*k)).unwrap();
            let mirrored = (0..n).any(|k| (0..n).all(|i| all[i] == all[(2 * n - 1 - i + k) % n]));
            let order = sett.order(PivotCount::Full);
            prop_assert_eq!(order.threads.len(), period);
            prop_assert_eq!(order.symmetrical, mirrored);
        }

        /// The lattice point of a symmetrical order is a pivot: mirrored about it, thread meets like thread.
        #[test]
        fn the_lattice_point_is_a_pivot(count in count()) {
            let order = sett(&count).order(PivotCount::Full);
            let n = order.threads.len();
            prop_assume!(order.symmetrical && n > 1);
            let twice_start = (2.0 * order.start) as isize;
            for i in 0..n as isize {
                // Thread i has its centre at start + i + ½; its mirror image at the negative of that.
                let mirror = (-twice_start - 1 - i).rem_euclid(n as isize) as usize;
                prop_assert_eq!(&order.threads[i as usize], &order.threads[mirror]);
            }
            prop_assert!(order.moved.abs() <= n as f64 / 4.0);
        }
    }
}
