//! What lies on the shelf.

use geo::ConvexHull;
use serde::{Deserialize, Serialize};

use crate::cloth::{self, Cloth};
use crate::job::{self, ClothSpec, Face};
use crate::plan;
use crate::say::Trouble;
use crate::shape::{Bounds, Join, Point, Region, Ring, booleans, distance, offset, pt, tol};

use super::date;

/// A leftover worth keeping.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Offcut {
    /// Its name on the shelf, no two alike; it goes on a label pinned to it.
    pub id: String,
    /// Whether it is still there.
    #[serde(default)]
    pub state: State,
    /// The side its outline is seen from: always the face.
    #[serde(default)]
    pub face: Face,
    /// The day it was put there, `2026-11-25`.
    pub date: String,
    /// Where it is kept, in the maker's words.
    #[serde(default)]
    pub place: String,
    /// The work it is left from.
    #[serde(default)]
    pub from: String,
    /// Which cutting of which plan it is left by, when it was put here as that was marked cut: it goes on once.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub left_by: String,
    /// What it was taken for.
    #[serde(default)]
    pub taken_for: String,
    /// The middles of the crosses burnt into it, in its own frame; they stand among its flaws too. Null for one put
    /// here before they were kept: nobody knows where it has some.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub burnt_mm: Option<Vec<[f64; 2]>>,
    /// Its area less its flaws, mm².
    pub area_mm2: f64,
    /// Its weight, g; null when the cloth's weight is not known.
    pub weight_g: Option<f64>,
    /// Its picture, a file beside the shelf's.
    #[serde(default)]
    pub picture: Option<String>,
    /// The fabric as a job describes a cloth, in the offcut's own frame: face up, warp along y, the lower left corner
    /// of its box at (0, 0). `name` is the fabric's; `pattern.origin_mm` says how the pattern lies on it; places that
    /// are cut away within the outline stand among the flaws.
    pub cloth: ClothSpec,
}

/// Whether an offcut is still on the shelf.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// It is.
    #[default]
    Kept,
    /// It was taken for a work.
    Taken,
    /// It was discarded; shelves of older programs call it composted.
    #[serde(alias = "composted")]
    Discarded,
}

impl Offcut {
    /// A new offcut of the fabric `spec` describes, whose outline and pattern origin may lie anywhere: it is moved
    /// to its own frame. It has no id yet.
    ///
    /// # Errors
    /// A description that makes no sense, or an outline that crosses itself.
    pub fn new(spec: &ClothSpec, date: &str, place: &str, from: &str) -> Result<Offcut, Vec<Trouble>> {
        let about = format!("offcut of {}", spec.name);
        let Some(corners) = spec.outline_mm.as_ref() else {
            return Err(vec![
                Trouble::bad_input(about, "it has no outline")
                    .hint("give \"outline_mm\", its corners once round"),
            ]);
        };
        if !date::is_day(date) {
            let what = format!("\"{date}\": expected a day written like 2026-11-25");
            return Err(vec![Trouble::bad_input("--date", what)]);
        }
        let Point { x: dx, y: dy } = Offcut::corner(corners);
        let moved = |ring: &[[f64; 2]]| -> Vec<[f64; 2]> {
            ring.iter().map(|[x, y]| [tidy(x - dx), tidy(y - dy)]).collect()
        };
        let mut cloth = ClothSpec {
            outline_mm: Some(moved(corners)),
            width_mm: None,
            length_mm: None,
            flaws_mm: spec.flaws_mm.iter().map(|f| moved(f)).collect(),
            stock: None,
            ..spec.clone()
        };
        if let Some(pattern) = &mut cloth.pattern {
            let [x, y] = pattern.origin_mm;
            pattern.origin_mm = [x - dx, y - dy];
        }
        let mut offcut = Offcut {
            id: String::new(),
            state: State::Kept,
            face: Face::Up,
            date: date.into(),
            place: place.into(),
            from: from.into(),
            left_by: String::new(),
            taken_for: String::new(),
            burnt_mm: Some(Vec::new()),
            area_mm2: 0.0,
            weight_g: None,
            picture: None,
            cloth,
        };
        if let Some(fault) = offcut.fault() {
            return Err(vec![
                Trouble::bad_input(about, fault).hint("list the corners once round, without crossing"),
            ]);
        }
        cloth::understand(&offcut.cloth, &about)?;
        offcut.weigh();
        Ok(offcut)
    }

    fn weigh(&mut self) {
        let area: f64 = self.region().iter().map(Region::area).sum();
        self.area_mm2 = area.round();
        self.weight_g = self.cloth.weight_g_per_m2.map(|w| (w * area / 1.0e5).round() / 10.0);
    }

    /// Where the frame of an offcut with this outline lies: the corner of its box, in the outline's own frame.
    pub(super) fn corner(outline: &[[f64; 2]]) -> Point {
        let at = Ring::from_pairs(outline).bounds().min;
        pt(tidy(at.x), tidy(at.y))
    }

    /// Notes where crosses are burnt into it: their middles, in its own frame. What a cross spoils becomes a flaw, where
    /// it is none yet. Those known already are
    /// left out, and those that lie wholly off it: gives how many these are.
    pub fn burn(&mut self, middles: &[[f64; 2]]) -> usize {
        let mut off_it = 0;
        let outline = Region::new(self.outline(), Vec::new());
        for [x, y] in middles {
            let spoilt = plan::cross(pt(*x, *y));
            let on_it = booleans::intersection(std::slice::from_ref(&outline), std::slice::from_ref(&spoilt));
            let again = |m: &[f64; 2]| distance(pt(m[0], m[1]), pt(*x, *y)) <= SAME_CROSS_MM;
            if on_it.is_empty() {
                off_it += 1;
                continue;
            }
            if self.burnt_mm.iter().flatten().any(again) {
                continue;
            }
            self.burnt_mm.get_or_insert_default().push([tidy(*x), tidy(*y)]);
            let known = booleans::intersection(&self.region(), &[spoilt]);
            if !known.is_empty() {
                self.cloth.flaws_mm.extend(on_it.iter().map(sound));
            }
        }
        self.burnt_mm.get_or_insert_default();
        self.weigh();
        off_it
    }

    /// What of `taken`, in its own frame, lies on it is cut out of it.
    pub(super) fn lose(&mut self, taken: &[Region]) {
        if taken.is_empty() {
            return;
        }
        let whole = Region::new(self.outline(), Vec::new());
        self.cloth.flaws_mm.extend(cut_away(&whole, taken));
        self.weigh();
    }

    /// Takes back the cross nearest to `at`, in its own frame, within [`SAME_CROSS_MM`]; false where none is known.
    pub fn unburn(&mut self, at: [f64; 2]) -> bool {
        let off = |m: &[f64; 2]| distance(pt(m[0], m[1]), pt(at[0], at[1]));
        let Some(known) = &mut self.burnt_mm else { return false };
        let nearest = (0..known.len()).min_by(|&a, &b| off(&known[a]).total_cmp(&off(&known[b])));
        let Some(k) = nearest.filter(|&k| off(&known[k]) <= SAME_CROSS_MM) else { return false };
        let [x, y] = known.remove(k);
        let outline = Region::new(self.outline(), Vec::new());
        let spoilt = booleans::intersection(&[outline], &[plan::cross(pt(x, y))]);
        let flaws: Vec<_> = spoilt.iter().map(sound).collect();
        self.cloth.flaws_mm.retain(|f| !flaws.contains(f));
        self.weigh();
        true
    }

    /// True when both are the same leftover: in shape, fabric and where its pattern lies. Flaws may differ, since burnt
    /// marks were not always kept, and so may the title of the work, which may have changed meanwhile.
    pub fn is_again(&self, other: &Offcut) -> bool {
        let bare = |o: &Offcut| ClothSpec { flaws_mm: Vec::new(), ..o.cloth.clone() };
        bare(self) == bare(other)
    }

    /// Its outline.
    pub fn outline(&self) -> Ring {
        Ring::from_pairs(self.cloth.outline_mm.as_deref().unwrap_or_default()).oriented(true)
    }

    /// The box round it.
    pub fn bounds(&self) -> Bounds {
        self.outline().bounds()
    }

    /// What it is, in one line.
    pub fn line(&self) -> String {
        let b = self.bounds();
        let weight = self.weight_g.map_or(String::new(), |w| format!(", {w:.0} g"));
        let size = format!("{:.0} × {:.0} mm", b.width(), b.height());
        let mut s = format!("{:<16} {size:>16}, {:.3} m²{weight}", self.id, self.area_mm2 / 1.0e6);
        match self.burnt_mm.as_ref().map(Vec::len) {
            None => s.push_str(", burnt marks unknown"),
            Some(0) => {}
            Some(1) => s.push_str(", 1 burnt mark"),
            Some(n) => s.push_str(&format!(", {n} burnt marks")),
        }
        for (word, text) in [("", &self.date), ("from ", &self.from), ("in ", &self.place)] {
            if !text.is_empty() {
                s.push_str(&format!(", {word}{text}"));
            }
        }
        s
    }

    /// What is there of it: the outline less flaws and places cut away.
    pub fn region(&self) -> Vec<Region> {
        let gone: Vec<Region> =
            self.cloth.flaws_mm.iter().map(|f| Region::new(Ring::from_pairs(f), Vec::new())).collect();
        Region::new(self.outline(), Vec::new()).minus(&gone)
    }

    /// The offcut as a cloth of a job: its own name, its fabric as the stock.
    pub fn as_cloth(&self) -> ClothSpec {
        ClothSpec { name: self.id.clone(), stock: Some(self.cloth.name.clone()), ..self.cloth.clone() }
    }

    /// The offcut understood as a cloth.
    ///
    /// # Errors
    /// What of its description makes no sense.
    pub fn understood(&self) -> Result<Cloth, Vec<Trouble>> {
        cloth::understand(&self.as_cloth(), &format!("offcut {}", self.id)).map(|(cloth, _)| cloth)
    }

    /// What is wrong with the entry, as far as a quick look can tell; `None` for a sound one.
    pub fn fault(&self) -> Option<String> {
        let sane = |v: &f64| v.is_finite() && v.abs() <= tol::FARTHEST_MM;
        let Some(outline) = &self.cloth.outline_mm else { return Some("it has no outline".into()) };
        let rings = || std::iter::once(outline).chain(&self.cloth.flaws_mm);
        if !rings().flatten().flatten().all(sane) {
            return Some("a coordinate is no length of cloth".into());
        }
        if self.burnt_mm.iter().flatten().flatten().any(|v| !sane(v)) {
            return Some("a burnt mark lies nowhere on a cloth".into());
        }
        if rings().any(|r| r.len() > MOST_CORNERS) {
            return Some(format!("an outline has more than {MOST_CORNERS} corners"));
        }
        if let Some(fault) = job::outline_fault(outline) {
            return Some(fault);
        }
        if let Some(fault) = self.cloth.flaws_mm.iter().find_map(|f| job::outline_fault(f)) {
            return Some(format!("a flaw: {fault}"));
        }
        if self.face == Face::Down {
            return Some(
                "its outline is seen from the back; put it on the shelf anew with --face down".into(),
            );
        }
        let figures = self.weight_g.iter().chain([&self.area_mm2]);
        if !figures.clone().all(|v| v.is_finite() && *v >= 0.0) {
            return Some("its area or weight is no such thing".into());
        }
        if !self.id.is_empty() && !is_label(&self.id) {
            return Some(
                "its id holds more than letters, digits, spaces, - and _, or begins with another".into(),
            );
        }
        let words = [&self.id, &self.place, &self.from, &self.left_by, &self.taken_for, &self.cloth.name];
        if words.iter().any(|w| w.chars().any(char::is_control) || w.chars().count() > MOST_LETTERS) {
            return Some("a name has control characters or is too long".into());
        }
        (!date::is_day(&self.date)).then(|| format!("\"{}\" is no day", self.date))
    }
}

/// Crosses nearer to each other than this are one: marks of a pass lie far apart (30 mm at least).
pub const SAME_CROSS_MM: f64 = 5.0;

/// Most corners of one outline, as in a job.
const MOST_CORNERS: usize = 4_000;

/// An id goes on a label and into the name of a file: letters and digits, and between them spaces, dots, - and _.
fn is_label(id: &str) -> bool {
    id.starts_with(char::is_alphanumeric) && id.chars().all(|c| c.is_alphanumeric() || " .-_".contains(c))
}

/// Longest name, place or title.
const MOST_LETTERS: usize = 300;

/// Whole micrometres.
pub(super) fn tidy(v: f64) -> f64 {
    (v * 1000.0).round() / 1000.0 + 0.0
}

/// Whether two descriptions are of one fabric, so that one may stand in for the other: same name or stock, weave, nap,
/// stripe orders, and repeats that agree to a fiftieth.
pub fn same_fabric(one: &ClothSpec, other: &ClothSpec) -> Result<(), String> {
    if one.weave != other.weave {
        return Err("another weave".into());
    }
    if one.nap != other.nap {
        return Err("another nap".into());
    }
    let (p, q) = match (&one.pattern, &other.pattern) {
        (None, None) => return Ok(()),
        (Some(p), Some(q)) => (p, q),
        _ => return Err("another pattern".into()),
    };
    if (&p.warp, &p.weft, p.pivots, p.symmetrical) != (&q.warp, &q.weft, q.pivots, q.symmetrical) {
        return Err("another order of stripes".into());
    }
    let sizes = |p: &job::PatternSpec| {
        (p.repeat_across_mm, p.repeat_along_mm, p.ends_per_cm, p.picks_per_cm, p.skew_mm_per_m)
    };
    if sizes(p) == sizes(q) {
        return Ok(());
    }
    let lattice = |spec: &ClothSpec| {
        let whole = ClothSpec {
            outline_mm: Some(vec![[0.0, 0.0], [1.0, 0.0], [1.0, 1.0]]),
            edge_mm: 0.0,
            flaws_mm: Vec::new(),
            ..spec.clone()
        };
        cloth::understand(&whole, "cloth").ok().and_then(|(c, _)| c.pattern).map(|p| p.lattice)
    };
    let (Some(l), Some(m)) = (lattice(one), lattice(other)) else {
        return Err("a pattern that cannot be read".into());
    };
    for (v, w) in [(l.a, m.a), (l.b, m.b)] {
        match (v, w) {
            (None, None) => {}
            (Some(v), Some(w)) => {
                let long = (v.x * v.x + v.y * v.y).sqrt();
                if distance(v, w) > SAME_REPEAT * long {
                    return Err("another repeat".into());
                }
            }
            _ => return Err("another repeat".into()),
        }
    }
    Ok(())
}

/// Repeats that differ by no more than this share are of one fabric: they drift along a roll.
const SAME_REPEAT: f64 = 0.02;

/// The parts of `region` that `gone` takes away, as outlines for a cloth's flaws. Slivers no wider than an outline's
/// own tolerance are none: a leftover's edge runs along what is gone.
pub(super) fn cut_away(region: &Region, gone: &[Region]) -> Vec<Vec<[f64; 2]>> {
    let inside = booleans::intersection(std::slice::from_ref(region), &booleans::union(gone));
    let core = offset(&inside, -tol::OFFCUT_OUTLINE_MM, Join::Round);
    core.iter()
        .flat_map(|r| offset(std::slice::from_ref(r), tol::OFFCUT_OUTLINE_MM, Join::Round))
        .map(|r| sound(&r))
        .collect()
}

/// The region's outline as a list of corners that does not touch itself: where rounding makes it, its hull, which
/// gives away a little cloth and never claims any.
fn sound(region: &Region) -> Vec<[f64; 2]> {
    let corners = |r: &Ring| r.points.iter().map(|p| [tidy(p.x), tidy(p.y)]).collect::<Vec<_>>();
    let own = corners(&region.outline);
    if job::outline_fault(&own).is_none() {
        return own;
    }
    corners(&Region::from_geo(&region.to_geo().convex_hull()).outline)
}
