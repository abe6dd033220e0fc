//! Which pass cuts what: whole contours, or stretches of one with joints between.

use super::calm::Calm;
use super::line::FIT_MM;
use super::track::Station;
use crate::burn::{Contour, Nested};
use crate::shape::Bounds;

/// Cost of a joint whatever its spot: above any spot's cost, so that joints are fewest.
const JOINT_COST: f64 = 1000.0;

/// Least stretch between two joints of one contour, mm.
const LEAST_STRETCH_MM: f64 = 10.0;

/// Times the joints of a contour are moved in turn.
const SETTLE_ROUNDS: usize = 3;

/// A spot where a contour is handed over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Hand {
    pub spot: Station,
    /// Passes, from 0, before and after the spot in the direction of the contour.
    pub before: usize,
    pub after: usize,
}

/// How one contour is cut.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Cutting {
    /// By one pass, from 0.
    Whole(usize),
    /// By several: handed over at these spots, in the direction of the contour; at least two.
    Shared(Vec<Hand>),
}

impl Cutting {
    /// The last pass that cuts any of it.
    pub fn last(&self) -> usize {
        match self {
            Cutting::Whole(pass) => *pass,
            Cutting::Shared(hands) => hands.iter().map(|h| h.after).max().unwrap_or(0),
        }
    }
}

/// Why a contour cannot be shared out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct NoSpot {
    pub contour: usize,
}

/// All contours shared out, and the contours whose last pass comes before the last pass of what they enclose.
pub(super) struct Shares {
    pub cuttings: Vec<Cutting>,
    pub out_of_turn: Vec<usize>,
}

/// Gives every contour to the earliest pass that holds it whole; one that none holds is handed from pass to pass at
/// the fewest and calmest spots. What encloses other cuts is finished no earlier than these.
pub(super) fn share_out(
    contours: &[Contour],
    nested: &[Nested],
    calm: &Calm,
    overlap: f64,
) -> Result<Shares, NoSpot> {
    let boxes: Vec<Bounds> = contours.iter().map(|c| c.path.bounds()).collect();
    // Inner pieces first: what lies in a cut-out is smaller than it; within a piece cut-outs before the outline.
    let mut order: Vec<usize> = (0..contours.len()).collect();
    let pieces = contours.iter().map(|c| c.placed + 1).max().unwrap_or(0);
    let mut size = vec![0.0_f64; pieces];
    for c in contours {
        size[c.placed] = size[c.placed].max(c.path.signed_area().abs());
    }
    order.sort_by(|&i, &j| {
        let (a, b) = (&contours[i], &contours[j]);
        let outer = |c: &Contour| c.kind() == crate::burn::BurnKind::Outline;
        size[a.placed].total_cmp(&size[b.placed]).then(a.placed.cmp(&b.placed)).then(outer(a).cmp(&outer(b)))
    });
    let mut piece_last = vec![0; pieces];
    let mut cuttings: Vec<Option<Cutting>> = vec![None; contours.len()];
    let mut out_of_turn = Vec::new();
    let mut hands: Vec<crate::shape::Point> = Vec::new();
    for i in order {
        let c = &contours[i];
        let outline = c.kind() == crate::burn::BurnKind::Outline;
        let within = nested.iter().filter(|n| n.outer == c.placed && (outline || n.ring == c.ring));
        let inside = within.filter_map(|n| piece_last.get(n.inner).copied()).max().unwrap_or(0);
        let not_before = if outline { inside.max(piece_last[c.placed]) } else { inside };
        let holds: Vec<usize> =
            (0..calm.windows.len()).filter(|&p| calm.windows[p].grown(FIT_MM).holds(boxes[i])).collect();
        let cutting = match holds.iter().find(|&&p| p >= not_before).or(holds.last()) {
            Some(&pass) => Cutting::Whole(pass),
            None => {
                let reach = Reach::new(i, calm, overlap / 2.0);
                let found =
                    reach.least(not_before).or_else(|| reach.least(0)).ok_or(NoSpot { contour: i })?;
                Cutting::Shared(reach.settled(found, &hands))
            }
        };
        if cutting.last() < not_before {
            out_of_turn.push(i);
        }
        if let Cutting::Shared(new) = &cutting {
            hands.extend(new.iter().map(|h| h.spot.at));
        }
        piece_last[c.placed] = piece_last[c.placed].max(cutting.last());
        cuttings[i] = Some(cutting);
    }
    Ok(Shares { cuttings: cuttings.into_iter().flatten().collect(), out_of_turn })
}

/// The same cuttings with every joint moved to where it is calmest, all other joints in mind.
pub(super) fn settled_anew(cuttings: &[Cutting], calm: &Calm, overlap: f64) -> Vec<Cutting> {
    let mut all = cuttings.to_vec();
    for i in 0..all.len() {
        let Cutting::Shared(hands) = &all[i] else { continue };
        let others = all.iter().enumerate().filter(|(k, _)| *k != i).filter_map(|(_, c)| match c {
            Cutting::Shared(hands) => Some(hands.iter().map(|h| h.spot.at)),
            Cutting::Whole(_) => None,
        });
        let others: Vec<crate::shape::Point> = others.flatten().collect();
        let moved = Reach::new(i, calm, overlap / 2.0).settled(hands.clone(), &others);
        all[i] = Cutting::Shared(moved);
    }
    all
}

/// Which passes reach which stretches of one contour.
struct Reach<'a> {
    contour: usize,
    calm: &'a Calm<'a>,
    stations: &'a [Station],
    /// The passes that reach any of it.
    passes: Vec<usize>,
    /// By pass: the stretch from each station to the next lies in its window.
    holds: Vec<Vec<bool>>,
    /// By pass: the window holds this much contour, mm, before and after each station, as far as matters.
    room: Vec<Vec<(f64, f64)>>,
    half: f64,
    /// What is against each station where two passes reach.
    cost: Vec<f64>,
}

impl<'a> Reach<'a> {
    fn new(contour: usize, calm: &'a Calm<'a>, half: f64) -> Reach<'a> {
        let track = &calm.tracks[contour];
        let stations = &track.stations[..];
        let n = stations.len();
        let gap = |i: usize| {
            (stations[(i + 1) % n].s - stations[i].s).rem_euclid(track.total().max(f64::MIN_POSITIVE))
        };
        let (mut passes, mut holds, mut room) = (Vec::new(), Vec::new(), Vec::new());
        for (pass, window) in calm.windows.iter().enumerate() {
            let window = window.grown(FIT_MM);
            let inside: Vec<bool> = stations.iter().map(|s| window.contains(s.at)).collect();
            let held: Vec<bool> = (0..n).map(|i| inside[i] && inside[(i + 1) % n]).collect();
            if !held.contains(&true) {
                continue;
            }
            let mut here = vec![(0.0, 0.0); n];
            // Twice round, so that runs over the contour's first point are measured whole.
            for k in 0..2 * n {
                let (i, j) = (k % n, (k + 1) % n);
                here[j].0 = if held[i] { f64::min(here[i].0 + gap(i), 2.0 * half) } else { 0.0 };
            }
            for k in (0..2 * n).rev() {
                let (i, j) = (k % n, (k + 1) % n);
                here[i].1 = if held[i] { f64::min(here[j].1 + gap(i), 2.0 * half) } else { 0.0 };
            }
            passes.push(pass);
            holds.push(held);
            room.push(here);
        }
        let mut reach = Reach { contour, calm, stations, passes, holds, room, half, cost: Vec::new() };
        let two = |i: usize| reach.room.iter().filter(|r| r[i].0 >= half && r[i].1 >= half).count() > 1;
        reach.cost = (0..n).map(|i| if two(i) { calm.cost(contour, stations[i]) } else { 0.0 }).collect();
        reach
    }

    /// True when passes `a` and `b` (by place in `passes`) share a whole band and can both cut half the overlap past
    /// station `i`.
    fn may_meet(&self, i: usize, a: usize, b: usize) -> bool {
        if !self.calm.neighbours(self.passes[a], self.passes[b]) {
            return false;
        }
        let enough = |(before, after): (f64, f64)| before >= self.half && after >= self.half;
        enough(self.room[a][i]) && enough(self.room[b][i])
    }

    fn meet_cost(&self, i: usize, a: usize, b: usize) -> f64 {
        self.cost[i] + self.calm.pair_cost(self.contour, self.stations[i], self.passes[a], self.passes[b])
    }

    /// The fewest and calmest spots with at least one stretch in pass `not_before` or later: shortest way round the
    /// contour through the passes, exact, cost stations × passes².
    fn least(&self, not_before: usize) -> Option<Vec<Hand>> {
        let n = self.stations.len();
        let states = self.passes.len() * 2;
        let late = |a: usize| self.passes[a] >= not_before;
        // Begin where the fewest passes reach: each of them must be tried as the first.
        let reach = |i: usize| self.holds.iter().filter(|h| h[i]).count();
        let begin = (0..n).min_by_key(|&i| reach(i)).filter(|&i| reach(i) > 0)?;
        let mut best: Option<(f64, Vec<Hand>)> = None;
        for first in (0..self.passes.len()).filter(|&a| self.holds[a][begin]) {
            let mut now = vec![f64::INFINITY; states];
            now[2 * first + usize::from(late(first))] = 0.0;
            let mut from: Vec<Vec<u16>> = Vec::with_capacity(n);
            for k in 1..n {
                let i = (begin + k) % n;
                let mut next = vec![f64::INFINITY; states];
                let mut came = vec![u16::MAX; states];
                for (old, &so_far) in now.iter().enumerate().filter(|(_, c)| c.is_finite()) {
                    let (a, seen) = (old / 2, old % 2);
                    for b in (0..self.passes.len()).filter(|&b| self.holds[b][i]) {
                        let new = 2 * b + (seen | usize::from(late(b)));
                        let cost = if a == b {
                            so_far
                        } else if self.may_meet(i, a, b) {
                            so_far + JOINT_COST + self.meet_cost(i, a, b)
                        } else {
                            continue;
                        };
                        if cost < next[new] {
                            (next[new], came[new]) = (cost, old as u16);
                        }
                    }
                }
                from.push(came);
                now = next;
            }
            for last in 0..self.passes.len() {
                let closing = if last == first {
                    0.0
                } else if self.may_meet(begin, last, first) {
                    JOINT_COST + self.meet_cost(begin, last, first)
                } else {
                    continue;
                };
                let total = now[2 * last + 1] + closing;
                if total.is_finite() && best.as_ref().is_none_or(|(c, _)| total < *c) {
                    best = Some((total, self.hands(begin, first, last, &from)));
                }
            }
        }
        best.map(|(_, hands)| hands).filter(|hands| hands.len() > 1)
    }

    fn hands(&self, begin: usize, first: usize, last: usize, from: &[Vec<u16>]) -> Vec<Hand> {
        let n = self.stations.len();
        let hand = |i: usize, a: usize, b: usize| Hand {
            spot: self.stations[i % n],
            before: self.passes[a],
            after: self.passes[b],
        };
        let mut hands = Vec::new();
        if last != first {
            hands.push(hand(begin, last, first));
        }
        let mut state = 2 * last + 1;
        for k in (1..n).rev() {
            let old = from[k - 1][state] as usize;
            if old / 2 != state / 2 {
                hands.push(hand(begin + k, old / 2, state / 2));
            }
            state = old;
        }
        hands.sort_by(|a, b| a.spot.s.total_cmp(&b.spot.s));
        hands
    }

    /// The same hands, each moved in turn to where it is calmest with all other joints in mind.
    fn settled(&self, mut hands: Vec<Hand>, others: &[crate::shape::Point]) -> Vec<Hand> {
        let n = self.stations.len();
        let track = &self.calm.tracks[self.contour];
        for _ in 0..SETTLE_ROUNDS {
            for h in 0..hands.len() {
                let hand = hands[h];
                let place = |pass| self.passes.iter().position(|&p| p == pass);
                let (Some(a), Some(b)) = (place(hand.before), place(hand.after)) else { continue };
                let Ok(here) = self.stations.binary_search_by(|s| s.s.total_cmp(&hand.spot.s)) else {
                    continue;
                };
                let near = |at| {
                    let own = hands.iter().enumerate().filter(move |(k, _)| *k != h).map(|(_, x)| x.spot.at);
                    self.calm.crowd_cost(at, others.iter().copied().chain(own))
                };
                let room = |i: usize| {
                    let apart =
                        |x: &Hand| track.apart(x.spot.s, self.stations[i].s) >= LEAST_STRETCH_MM + self.half;
                    hands.iter().enumerate().all(|(k, x)| k == h || apart(x))
                };
                let cost = |i: usize| self.meet_cost(i, a, b) + near(self.stations[i].at);
                let mut best = (cost(here), here);
                // On while the pass after could give up, and back while it could take more, up to the next hand.
                let stops = |i: usize| i != here && hands.iter().any(|x| x.spot.s == self.stations[i].s);
                let on = (0..n).map(|k| (here + k) % n).take_while(|&i| self.holds[a][i] && !stops(i));
                let on = on.map(|i| (i + 1) % n);
                let back = (1..n).map(|k| (here + n - k) % n).take_while(|&i| self.holds[b][i] && !stops(i));
                let tried: Vec<usize> = on.chain(back).collect();
                for i in tried {
                    if i != here && self.may_meet(i, a, b) && room(i) {
                        let c = cost(i);
                        if c < best.0 - 1e-9 {
                            best = (c, i);
                        }
                    }
                }
                hands[h].spot = self.stations[best.1];
            }
        }
        hands.sort_by(|a, b| a.spot.s.total_cmp(&b.spot.s));
        hands
    }
}
