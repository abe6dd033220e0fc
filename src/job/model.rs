//! The job file's shape, field by field. Doc comments here become the descriptions in the published schema.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Cutter;

/// A settlay job: one drawing, the cloths it is cut from, and how.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Job {
    /// Version of the job format: 1.
    pub settlay: u32,
    /// What the work is called; stands on every sheet.
    #[serde(default)]
    pub title: String,
    /// The drawing, an SVG file, relative to the job file.
    pub drawing: String,
    /// Factor on the drawing's own size; mends drawings exported at another resolution.
    #[serde(default = "one")]
    pub drawing_scale: f64,
    /// The cloths to cut from.
    pub cloths: Vec<ClothSpec>,
    /// Rules that say which shapes are cut from which cloth, and how. The first rule that fits a shape wins.
    pub pieces: Vec<PieceRule>,
    /// The laser cutter, or the name of a file that describes it, relative to the job file.
    #[serde(default)]
    pub cutter: Cutter,
    /// The embroidery frame.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub frame: Option<Frame>,
    /// How the lay is searched.
    #[serde(default)]
    pub lay: LaySpec,
    /// The sheets to work from.
    #[serde(default)]
    pub sheets: SheetsSpec,
    /// True when the file gives the drawing's scale, be it 1: its maker stands for the drawing's size.
    #[serde(skip)]
    pub scale_said: bool,
}

impl Job {
    /// The cloth a rule names, by index; for a stock, the one with the largest box.
    pub fn cloth_of(&self, rule: &PieceRule) -> Option<usize> {
        let size = |c: &ClothSpec| match &c.outline_mm {
            Some(corners) => {
                let b = crate::shape::Ring::from_pairs(corners).bounds();
                b.width() * b.height()
            }
            None => c.width_mm.unwrap_or(0.0) * c.length_mm.unwrap_or(f64::INFINITY),
        };
        let of_stock = |c: &&(usize, &ClothSpec)| c.1.stock.as_ref() == Some(&rule.cloth);
        self.cloths.iter().position(|c| c.name == rule.cloth).or_else(|| {
            let all = self.cloths.iter().enumerate();
            all.filter(|c| of_stock(&c)).max_by(|a, b| size(a.1).total_cmp(&size(b.1))).map(|c| c.0)
        })
    }
}

/// The sheets a maker works from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct SheetsSpec {
    /// The paper they are printed on.
    pub paper: Paper,
    /// Which sheets; in what order they are named does not matter. Pieces in full size take much paper and come only
    /// when asked for; none at all: no sheets are written.
    pub pages: Vec<SheetKind>,
}

impl Default for SheetsSpec {
    fn default() -> Self {
        use SheetKind::{Cards, Job, Keys, Passes};
        SheetsSpec { paper: Paper::A4, pages: vec![Job, Passes, Cards, Keys] }
    }
}

/// A size of paper, upright.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Paper {
    /// 210 × 297 mm (ISO 216).
    #[default]
    A4,
    /// 8½ × 11 inches.
    Letter,
    /// 297 × 420 mm (ISO 216).
    A3,
}

impl Paper {
    /// Width and height, mm.
    pub fn size_mm(self) -> [f64; 2] {
        match self {
            Paper::A4 => [210.0, 297.0],
            Paper::Letter => [215.9, 279.4],
            Paper::A3 => [297.0, 420.0],
        }
    }
}

/// A kind of sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SheetKind {
    /// What the job is, its cautions and its pieces.
    Job,
    /// A map of the bed for every pass.
    Passes,
    /// A card for every piece.
    Cards,
    /// Keys in full size, over several papers.
    Keys,
    /// Pieces in full size: several to a page, large ones over several papers.
    Pieces,
}

/// A length of one fabric, or an offcut with its own outline.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ClothSpec {
    /// The cloth's name, used by the piece rules.
    pub name: String,
    /// The fabric it is an offcut of: a piece rule that names a stock takes any cloth of that stock.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stock: Option<String>,
    /// Full width from selvedge to selvedge, mm.
    #[serde(default)]
    pub width_mm: Option<f64>,
    /// Length along the warp, mm; left out or null: as much as is needed.
    #[serde(default)]
    pub length_mm: Option<f64>,
    /// Outline of an offcut, mm, in place of width and length.
    #[serde(default)]
    pub outline_mm: Option<Vec<[f64; 2]>>,
    /// Strip along every edge that is not used, mm.
    #[serde(default)]
    pub edge_mm: f64,
    /// Outlines of flaws, mm, in the cloth frame. No piece touches them.
    #[serde(default)]
    pub flaws_mm: Vec<Vec<[f64; 2]>>,
    /// How it is woven.
    #[serde(default)]
    pub weave: Weave,
    /// True when it has a nap or pile, or any other one-way finish.
    #[serde(default)]
    pub nap: bool,
    /// Colour of a cloth without a pattern, `#rrggbb`.
    #[serde(default)]
    pub colour: Option<String>,
    /// The check or stripe, if it has one.
    #[serde(default)]
    pub pattern: Option<PatternSpec>,
    /// How far a match may be off, mm.
    #[serde(default)]
    pub match_tolerance_mm: f64,
    /// Price of a running metre.
    #[serde(default)]
    pub price_per_m: Option<f64>,
    /// Weight, g/m².
    #[serde(default)]
    pub weight_g_per_m2: Option<f64>,
    /// Shrinkage to expect before cutting, percent of the length.
    #[serde(default)]
    pub shrinkage_percent: f64,
    /// Widths it can be bought in, for working out how much to buy; `width_mm` counts as one of them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub offers: Vec<OfferSpec>,
    /// Length lost to cutting the ends straight, mm, counted when buying; left out or null: 20.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cutting_allowance_mm: Option<f64>,
}

/// A width a cloth can be bought in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OfferSpec {
    /// Full width from selvedge to selvedge, mm.
    pub width_mm: f64,
    /// Price of a running metre of this width; left out or null: the cloth's own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub price_per_m: Option<f64>,
}

/// How a cloth is woven.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Weave {
    /// One over, one under.
    #[default]
    Plain,
    /// Two over, two under, the line rising to the right on the face (warp upright).
    TwillZ,
    /// Two over, two under, the line rising to the left on the face (warp upright).
    TwillS,
    /// Not woven: felt has no grain.
    Felt,
}

/// A check or stripe. Measured repeats win over those computed from the thread count.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct PatternSpec {
    /// Stripe order of the warp, seen going across: `N/6 G24 W4 G24 K/10`. `/` on the first and last stripe
    /// marks pivots, the order being read to and fro; without, it starts again.
    pub warp: Option<String>,
    /// Stripe order of the weft, seen going along; null: the same as the warp.
    pub weft: Option<String>,
    /// Threads a pivot stripe has: `full` as listed, `half` twice as many.
    pub pivots: PivotCount,
    /// Warp threads per centimetre.
    pub ends_per_cm: Option<f64>,
    /// Weft threads per centimetre.
    pub picks_per_cm: Option<f64>,
    /// Repeat across as measured, mm.
    pub repeat_across_mm: Option<f64>,
    /// Repeat along as measured, mm.
    pub repeat_along_mm: Option<f64>,
    /// By how much a weft line climbs over one metre across, mm.
    pub skew_mm_per_m: f64,
    /// Where the centre of the first listed stripe across meets the centre of the first listed stripe along,
    /// mm, in the cloth frame.
    pub origin_mm: [f64; 2],
    /// Colours of the letters, `#rrggbb`.
    pub colours: BTreeMap<String, String>,
    /// For a pattern given by measured repeats alone: whether a half turn leaves it the same.
    pub symmetrical: Option<bool>,
    /// For a pattern given by measured repeats alone: whether a pivot across meets a pivot along at `origin_mm`. Left
    /// out: yes, but for a pattern that a photograph shows, whose corner lies anywhere, no.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pivot_at_origin: Option<bool>,
    /// A photograph of one repeat: how the cloth looks.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub photo: Option<PhotoSpec>,
}

impl ClothSpec {
    /// The same cloth told without a photograph.
    pub fn without_photo(self) -> ClothSpec {
        ClothSpec { pattern: self.pattern.map(PatternSpec::without_photo), ..self }
    }
}

impl PatternSpec {
    /// Repeat across and along as measured, mm: the fields for it, else, without a thread count, the photograph's size.
    pub fn measured_mm(&self) -> [Option<f64>; 2] {
        let counted = self.warp.is_some() || self.weft.is_some();
        let photo = self.photo.as_ref().filter(|_| !counted).map(|p| p.size_mm);
        let [across, along] = [0, 1].map(|k| photo.map(|size| size[k]));
        [self.repeat_across_mm.or(across), self.repeat_along_mm.or(along)]
    }

    /// True when a pivot across meets a pivot along at `origin_mm`: a thread count's first stripes do, the corner of a
    /// photograph only where the maker says so.
    pub fn pivots_known(&self) -> bool {
        let counted = self.warp.is_some() || self.weft.is_some();
        counted || self.pivot_at_origin.unwrap_or(self.photo.is_none())
    }

    /// The same pattern told without its photograph.
    pub fn without_photo(self) -> PatternSpec {
        let [repeat_across_mm, repeat_along_mm] = self.measured_mm();
        // What the photograph left open stays open.
        let pivot_at_origin = self.pivot_at_origin.or_else(|| (!self.pivots_known()).then_some(false));
        PatternSpec { repeat_across_mm, repeat_along_mm, pivot_at_origin, photo: None, ..self }
    }
}

/// A photograph of a cloth's pattern, of one repeat across and one along, taken straight from above with the warp upright
/// and cut to that repeat.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PhotoSpec {
    /// The picture, a PNG, relative to the job file.
    pub file: String,
    /// What it shows, mm across and along: without a thread count or a measured repeat, this is the repeat.
    pub size_mm: [f64; 2],
    /// Where its lower left corner falls, mm, in the cloth frame; left out: on `origin_mm`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_mm: Option<[f64; 2]>,
}

/// How the count at a pivot is to be read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum PivotCount {
    /// A pivot is woven once, as listed.
    #[default]
    Full,
    /// The listed number is half the pivot: it is woven twice.
    Half,
}

/// The word in place of a group's name that keeps every piece of a rule by itself.
pub const EACH: &str = "each";

/// Which shapes of the drawing are cut from which cloth, and under which conditions.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PieceRule {
    /// Which shapes.
    pub select: Select,
    /// The cloth's name, or a stock's: then the lay chooses among the cloths of that stock.
    pub cloth: String,
    /// How many of each.
    #[serde(default = "one_piece")]
    pub count: u32,
    /// Which way the grain runs.
    #[serde(default)]
    pub grain: Grain,
    /// Angle of the piece's own grain, degrees counter-clockwise from the drawing's upward direction.
    #[serde(default)]
    pub grain_deg: f64,
    /// How far off the grain a piece may lie, degrees; on unpatterned cloth only.
    #[serde(default)]
    pub grain_tolerance_deg: f64,
    /// How the pattern must sit.
    #[serde(default, rename = "match")]
    pub matching: Match,
    /// Pieces matched together. Left out: all pieces of this rule; a name: all pieces of the rules that give it; `each`:
    /// every piece by itself.
    #[serde(default)]
    pub group: Option<String>,
    /// Where the crossing of the first pivots falls on the drawing, mm; null: the lay chooses.
    #[serde(default)]
    pub pattern_at_mm: Option<[f64; 2]>,
    /// The point of the drawing that is centred, mm; null: the middle of the piece's box.
    #[serde(default)]
    pub anchor_mm: Option<[f64; 2]>,
    /// How far the cut edge lies outside the drawn edge, mm.
    #[serde(default)]
    pub allowance_mm: f64,
    /// Extra beyond the allowance along edges that tuck beneath a piece drawn above, mm; usual 3 to 6.
    #[serde(default)]
    pub underlap_mm: f64,
    /// What of the shape is cut.
    #[serde(default)]
    pub shape: ShapeKind,
}

/// Which shapes a rule is for: those that fit every given part.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Select {
    /// Id or label of a group round the shape.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub layer: Option<String>,
    /// Id of the shape; `*` stands for anything.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
    /// Fill colour, `#rrggbb`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fill: Option<String>,
}

/// Which way the grain runs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Grain {
    /// Along the warp.
    #[default]
    Along,
    /// Across, along the weft.
    Across,
    /// Along or across: any piece on plain cloth without pattern; on patterned cloth whole groups matched `drawn` or
    /// `pair`, all their pieces alike.
    Either,
    /// At 45° to the warp.
    Bias,
    /// Any way, on cloth that has no direction.
    Any,
}

/// How a piece's pattern must sit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Match {
    /// No condition.
    #[default]
    Free,
    /// The pattern runs through the group as if the cloth lay behind the drawing; with `grain` `across` as if it lay there
    /// turned by a quarter.
    Drawn,
    /// The anchor lies on a crossing of pivots.
    Centred,
    /// Two mirror-image pieces carry mirrored pattern.
    Pair,
}

impl Match {
    /// The word used in files.
    pub fn word(self) -> &'static str {
        match self {
            Match::Free => "free",
            Match::Drawn => "drawn",
            Match::Centred => "centred",
            Match::Pair => "pair",
        }
    }
}

/// What of a shape is cut.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ShapeKind {
    /// The filled region.
    #[default]
    Fill,
    /// The stroke, a band of its own width.
    Line,
}

/// The embroidery frame.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Frame {
    /// The field it can stitch, mm; it may be put on either way round.
    pub field_mm: [f64; 2],
    /// How far the tack-down line lies inside the drawn edge, mm; null: 1, or a third of the border where that is less.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tack_in_mm: Option<f64>,
    /// Length of a running stitch, mm.
    #[serde(default = "run_mm")]
    pub run_mm: f64,
    /// Pitch of the tack-down zigzag between penetrations on the same edge, mm.
    #[serde(default = "zigzag_mm")]
    pub zigzag_mm: f64,
    /// Pitch of the border's satin between penetrations on the same edge, mm.
    #[serde(default = "satin_mm")]
    pub satin_mm: f64,
    /// Stitches a minute, for the time.
    #[serde(default = "stitches_per_min")]
    pub stitches_per_min: f64,
}

// Common practice.
fn run_mm() -> f64 {
    2.5
}

fn zigzag_mm() -> f64 {
    2.0
}

fn satin_mm() -> f64 {
    0.4
}

fn stitches_per_min() -> f64 {
    800.0
}

/// How the lay is searched.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct LaySpec {
    /// Least distance between pieces, mm.
    pub gap_mm: f64,
    /// How long to search, seconds.
    pub seconds: f64,
    /// How hard to search, in thousands of moves, in place of seconds: the same effort gives the same lay on any machine.
    pub effort: Option<u32>,
    /// Where chance starts.
    pub seed: u64,
    /// Of the turns a piece may take, those that put its slender runs on the bias are used only where doing without them
    /// takes over 2 % more cloth. The lay is searched for twice, so it takes twice as long. It matters on cloth without
    /// a pattern, for pieces with `"grain": "any"` or a `grain_tolerance_deg`: half and quarter turns lie on the bias alike.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub avoid_bias: bool,
    /// Pieces placed by hand: they stay where they are, the others are laid round them.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub locked: Vec<LockedSpec>,
}

/// A piece placed by hand.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LockedSpec {
    /// The piece's name.
    pub piece: String,
    /// Which copy, from 1.
    #[serde(default = "one_piece")]
    pub copy: u32,
    /// The cloth it lies on; needed only when its rule names a stock of several cloths.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cloth: Option<String>,
    /// Turn about the drawing's origin, degrees counter-clockwise.
    #[serde(default)]
    pub turn_deg: f64,
    /// Shift after the turn, drawing to cloth, mm.
    pub shift_mm: [f64; 2],
}

impl Default for LaySpec {
    fn default() -> Self {
        LaySpec { gap_mm: 3.0, seconds: 5.0, effort: None, seed: 1, avoid_bias: false, locked: Vec::new() }
    }
}

fn one() -> f64 {
    1.0
}

fn one_piece() -> u32 {
    1
}
