//! Do the numbers of a job make sense together? What a field may hold by itself is in `limits`.

use std::collections::BTreeMap;

use super::limits::MOST_CORNERS_OF_ONE;
use super::stripes::StripeOrder;
use super::structure::{Fault, Finding};
use super::{
    ClothSpec, Cutter, EACH, Feed, Grain, Job, LaySpec, Match, PatternSpec, PieceRule, SheetsSpec, outline,
};
use crate::say::json::Place;
use crate::say::nearest_name;

/// Corners of all outlines together, so that the tests for crossings stay quick.
const MOST_CORNERS: usize = 40_000;

/// Kinds of line whose colour a job may choose.
const LINE_KINDS: [&str; 4] = ["cutout", "outline", "mark", "key"];

/// Everything about `job` that makes no sense.
pub(super) fn findings(job: &Job) -> Vec<Finding> {
    let mut sense = Sense { found: Vec::new(), may_cross: true };
    let root = Place::default();
    sense.names(job, &root.key("cloths"));
    sense.corners(job, &root.key("cloths"));
    for (k, cloth) in job.cloths.iter().enumerate() {
        sense.cloth(cloth, &root.key("cloths").index(k));
    }
    for (k, rule) in job.pieces.iter().enumerate() {
        sense.rule(rule, job, &root.key("pieces").index(k));
    }
    sense.groups(job, &root.key("pieces"));
    sense.cutter(&job.cutter, job.lay.gap_mm, &root.key("cutter"));
    if let Some(frame) = &job.frame {
        sense.frame(frame, job.cutter.border_mm, &root.key("frame"));
    }
    sense.found
}

/// True when a rule makes sense by itself: whatever its cloth and the other rules.
pub fn makes_sense(rule: &PieceRule) -> bool {
    let alone = Job {
        settlay: 1,
        title: String::new(),
        drawing: String::new(),
        drawing_scale: 1.0,
        cloths: Vec::new(),
        pieces: Vec::new(),
        cutter: Cutter::default(),
        frame: None,
        lay: LaySpec::default(),
        sheets: SheetsSpec::default(),
        scale_said: true,
    };
    let mut sense = Sense { found: Vec::new(), may_cross: true };
    sense.rule(rule, &alone, &Place::default());
    sense.found.is_empty()
}

/// Everything about a cutter, in a file of its own, that makes no sense.
pub(super) fn of_cutter(cutter: &Cutter) -> Vec<Finding> {
    let mut sense = Sense { found: Vec::new(), may_cross: true };
    sense.cutter(cutter, f64::INFINITY, &Place::default());
    sense.found
}

pub(super) struct Sense {
    pub(super) found: Vec<Finding>,
    /// False when there are too many corners to look for crossings.
    may_cross: bool,
}

impl Sense {
    /// `what` is said of the value at `place`, which the reader puts in front.
    pub(super) fn value(&mut self, place: Place, what: impl Into<String>, hint: impl Into<String>) {
        self.found.push(Finding { place, what: what.into(), hint: hint.into(), fault: Fault::Senseless });
    }

    /// Something an object lacks.
    fn lacks(&mut self, place: &Place, what: impl Into<String>, hint: impl Into<String>) {
        let (what, hint) = (what.into(), hint.into());
        self.found.push(Finding { place: place.clone(), what, hint, fault: Fault::Unreadable });
    }

    fn names(&mut self, job: &Job, cloths: &Place) {
        let mut first: BTreeMap<&str, usize> = BTreeMap::new();
        for (k, cloth) in job.cloths.iter().enumerate() {
            if let Some(other) = first.get(cloth.name.as_str()) {
                let what = format!("expected a name of its own; cloths[{other}] has the same");
                self.value(cloths.index(k).key("name"), what, "");
            } else {
                first.insert(&cloth.name, k);
            }
        }
        for (k, cloth) in job.cloths.iter().enumerate() {
            let other = cloth.stock.as_deref().and_then(|s| first.get(s));
            if let Some(other) = other {
                let what = format!("expected a name that no cloth has; cloths[{other}] has it");
                self.value(cloths.index(k).key("stock"), what, "");
            }
        }
    }

    fn corners(&mut self, job: &Job, cloths: &Place) {
        let of = |c: &ClothSpec| {
            c.outline_mm.as_ref().map_or(0, Vec::len) + c.flaws_mm.iter().map(Vec::len).sum::<usize>()
        };
        let total: usize = job.cloths.iter().map(of).sum();
        self.may_cross = total <= MOST_CORNERS;
        if total > MOST_CORNERS {
            let what =
                format!("{total} corners in outlines and flaws together: expected at most {MOST_CORNERS}");
            self.lacks(cloths, what, "draw outlines and flaws with fewer corners");
        }
    }

    fn cloth(&mut self, cloth: &ClothSpec, at: &Place) {
        if cloth.width_mm.is_none() && cloth.outline_mm.is_none() {
            let what = "the field \"width_mm\" is missing (or \"outline_mm\" for an offcut)";
            self.lacks(at, what, "give the full width from selvedge to selvedge");
        }
        if cloth.outline_mm.is_none() {
            let sizes = [("width_mm", cloth.width_mm), ("length_mm", cloth.length_mm)];
            for (key, size) in sizes {
                if let Some(size) = size.filter(|size| *size > 0.0 && 2.0 * cloth.edge_mm >= *size) {
                    let what =
                        format!("expected less than half of {key}, {}: nothing would be left", number(size));
                    self.value(at.key("edge_mm"), what, "");
                }
            }
        }
        // Too few or too many corners are said already.
        let may = self.may_cross;
        let fit = |corners: &[[f64; 2]]| may && (3..=MOST_CORNERS_OF_ONE).contains(&corners.len());
        if let Some(fault) = cloth.outline_mm.as_deref().filter(|o| fit(o)).and_then(outline::fault) {
            self.lacks(&at.key("outline_mm"), fault, "list the corners once round, without crossing");
        }
        for (k, flaw) in cloth.flaws_mm.iter().enumerate().filter(|(_, flaw)| fit(flaw)) {
            if let Some(fault) = outline::fault(flaw) {
                let place = at.key("flaws_mm").index(k);
                self.lacks(&place, fault, "list the corners once round, without crossing");
            }
        }
        if let Some(pattern) = &cloth.pattern {
            self.pattern(pattern, &at.key("pattern"));
        }
    }

    fn pattern(&mut self, pattern: &PatternSpec, at: &Place) {
        for key in pattern.colours.keys().filter(|key| !key.chars().all(char::is_alphabetic)) {
            let what = "expected a colour's letter or letters as the field's name";
            self.value(at.key("colours").key(key), what, "letters as in the thread count: K, DB");
        }
        let warp = self.order(pattern.warp.as_deref(), at.key("warp"));
        let weft = self.order(pattern.weft.as_deref(), at.key("weft"));
        let (Ok(warp), Ok(weft)) = (warp, weft) else { return };
        let along = weft.as_ref().or(warp.as_ref());
        let [across_mm, along_mm] = pattern.measured_mm();
        self.direction(warp.as_ref(), across_mm, pattern.ends_per_cm, pattern, at, &ACROSS);
        self.direction(along, along_mm, pattern.picks_per_cm, pattern, at, &ALONG);
        let changes = |order: Option<&StripeOrder>, repeat: Option<f64>| {
            repeat.is_some() || order.is_some_and(|o| !o.is_one_colour())
        };
        if !changes(warp.as_ref(), across_mm) && !changes(along, along_mm) {
            let what = "neither a thread count of several colours nor a measured repeat is given";
            self.lacks(
                at,
                what,
                "a cloth without a check or stripe has no \"pattern\"; give its \"colour\" instead",
            );
        }
    }

    /// The order read, or `Err` when it could not be and was said so.
    fn order(&mut self, text: Option<&str>, place: Place) -> Result<Option<StripeOrder>, ()> {
        match text.map(StripeOrder::parse) {
            None => Ok(None),
            Some(Ok(order)) => Ok(Some(order)),
            Some(Err(fault)) => {
                self.value(place, fault.what, fault.hint);
                Err(())
            }
        }
    }

    fn direction(
        &mut self,
        order: Option<&StripeOrder>,
        repeat: Option<f64>,
        per_cm: Option<f64>,
        pattern: &PatternSpec,
        at: &Place,
        words: &Direction,
    ) {
        let Direction { repeat_key, density_key, order_key } = words;
        match order {
            Some(order) if order.is_one_colour() && repeat.is_some() => {
                let what = format!("expected null: the {order_key} has one colour, so nothing repeats");
                self.value(at.key(repeat_key), what, "");
            }
            Some(order) if !order.is_one_colour() && repeat.is_none() && per_cm.is_none() => {
                let what =
                    format!("the field \"{density_key}\" is missing (or \"{repeat_key}\" as measured)");
                self.lacks(at, what, "a thread count has no size of its own");
            }
            None if repeat.is_some() && pattern.symmetrical.is_none() => {
                let what = format!(
                    "the field \"symmetrical\" is missing: \"{repeat_key}\" is given without a thread count"
                );
                self.lacks(at, what, "say true when a half turn leaves the pattern the same, else false");
            }
            _ => {}
        }
    }

    fn rule(&mut self, rule: &PieceRule, job: &Job, at: &Place) {
        // A job without cloths is told of already.
        let mut names: Vec<&str> = job.cloths.iter().map(|c| c.name.as_str()).collect();
        for stock in job.cloths.iter().filter_map(|c| c.stock.as_deref()) {
            if !names.contains(&stock) {
                names.push(stock);
            }
        }
        if !job.cloths.is_empty() && !names.contains(&rule.cloth.as_str()) && !rule.cloth.is_empty() {
            let hint = nearest_name(&rule.cloth, names.iter().copied())
                .map_or(String::new(), |name| format!("did you mean \"{name}\"?"));
            self.value(at.key("cloth"), format!("expected the name of a cloth: {}", names.join(", ")), hint);
        }
        if rule.matching == Match::Drawn {
            if rule.grain_deg != 0.0 {
                let what = "expected 0 with match \"drawn\": the piece's grain is then the cloth's";
                self.value(at.key("grain_deg"), what, "leave grain_deg out, or set match to \"free\"");
            }
            if rule.grain == Grain::Bias {
                let what = "expected \"along\", \"across\" or \"either\" with match \"drawn\": the pattern runs as drawn";
                self.value(at.key("grain"), what, "leave grain out, or set match to \"free\"");
            }
        } else if rule.pattern_at_mm.is_some() {
            let what = format!("expected only with match \"drawn\"; it is \"{}\"", rule.matching.word());
            self.value(at.key("pattern_at_mm"), what, "");
        }
        if rule.anchor_mm.is_some() && !matches!(rule.matching, Match::Centred | Match::Pair) {
            let what = format!(
                "expected only with match \"centred\" or \"pair\"; it is \"{}\"",
                rule.matching.word()
            );
            self.value(at.key("anchor_mm"), what, "");
        }
    }

    /// What rules of one group must agree in, and what keeps the pieces of a rule apart.
    fn groups(&mut self, job: &Job, pieces: &Place) {
        let mut shift: BTreeMap<(&str, &str), (usize, [f64; 2])> = BTreeMap::new();
        let mut matching: BTreeMap<&str, (usize, Match)> = BTreeMap::new();
        for (k, rule) in job.pieces.iter().enumerate() {
            let (Some(group), at) = (&rule.group, pieces.index(k)) else { continue };
            if group == EACH {
                if rule.matching == Match::Pair {
                    let what = "it keeps every piece by itself, and match \"pair\" takes two";
                    let hint = "leave group out: pieces of the rule that are each other's mirror image are then paired";
                    self.value(at.key("group"), what, hint);
                }
                continue;
            }
            let (other, one) = *matching.entry(group).or_insert((k, rule.matching));
            if one != rule.matching {
                let what = format!(
                    "\"{}\" here and \"{}\" in pieces[{other}]: a group has one match",
                    rule.matching.word(),
                    one.word()
                );
                self.value(at.key("group"), what, "give one of them another group, or leave its group out");
            }
            let Some(here) = rule.pattern_at_mm else { continue };
            let (other, there) = *shift.entry((&rule.cloth, group)).or_insert((k, here));
            if there != here {
                let what = format!(
                    "expected [{}, {}] as in pieces[{other}]: a group has one place for its pattern",
                    there[0], there[1]
                );
                self.value(at.key("pattern_at_mm"), what, "");
            }
        }
    }

    fn cutter(&mut self, cutter: &Cutter, gap_mm: f64, at: &Place) {
        if cutter.kerf_mm > 0.0 && cutter.kerf_mm >= gap_mm {
            let what = format!(
                "expected less than lay.gap_mm, {}: neighbouring cuts would run into each other",
                number(gap_mm)
            );
            self.value(at.key("kerf_mm"), what, "");
        }
        let window = cutter.bed_mm.map(|side| side - 2.0 * cutter.margin_mm);
        for (k, side) in cutter.bed_mm.iter().enumerate().filter(|(k, _)| window[*k] <= 0.0) {
            if *side > 0.0 {
                let what = format!("expected more than twice margin_mm, {}", number(cutter.margin_mm));
                self.value(at.key("bed_mm").index(k), what, "");
            }
        }
        let along_feed = match cutter.feed {
            Feed::AlongX => window[0],
            Feed::AlongY => window[1],
        };
        if along_feed > 0.0 && cutter.shared_band_mm >= along_feed {
            let what = format!("expected less than the bed can reach along the feed, {}", number(along_feed));
            self.value(at.key("shared_band_mm"), what, "");
        }
        if cutter.joint_overlap_mm > 0.0 && cutter.joint_overlap_mm > cutter.shared_band_mm / 2.0 {
            let what = format!("expected at most half of shared_band_mm, {}", number(cutter.shared_band_mm));
            self.value(at.key("joint_overlap_mm"), what, "");
        }
        self.machine(cutter, at);
        for kind in cutter.colours.keys().filter(|kind| !LINE_KINDS.contains(&kind.as_str())) {
            let hint =
                nearest_name(kind, LINE_KINDS).map_or(String::new(), |k| format!("did you mean \"{k}\"?"));
            let what = format!("unknown kind of line; expected one of {}", LINE_KINDS.join(", "));
            self.value(at.key("colours").key(kind), what, hint);
        }
    }
}

/// A number for people: without the dust of reckoning, and never hundreds of digits long.
fn number(v: f64) -> String {
    if v.abs() >= 1.0e9 { format!("{v:e}") } else { ((v * 1000.0).round() / 1000.0).to_string() }
}

/// What the fields of one direction of a pattern are called.
struct Direction {
    repeat_key: &'static str,
    density_key: &'static str,
    order_key: &'static str,
}

const ACROSS: Direction =
    Direction { repeat_key: "repeat_across_mm", density_key: "ends_per_cm", order_key: "warp order" };
const ALONG: Direction =
    Direction { repeat_key: "repeat_along_mm", density_key: "picks_per_cm", order_key: "weft order" };
