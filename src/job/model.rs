//! The job file's shape, field by field. Doc comments here become the descriptions in the published schema.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

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
    /// The laser cutter.
    #[serde(default)]
    pub cutter: Cutter,
    /// The embroidery frame.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub frame: Option<Frame>,
    /// How the lay is searched.
    #[serde(default)]
    pub lay: LaySpec,
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
    /// Pieces matched together; left out: each piece by itself.
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
    /// Along or across, on plain cloth.
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
    /// The pattern runs through the group as if the cloth lay behind the drawing.
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

/// The laser cutter and how it is used.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Cutter {
    /// Size of the bed, mm: along its x, along its y.
    pub bed_mm: [f64; 2],
    /// Strip along the bed's edges that is not used, mm.
    pub margin_mm: f64,
    /// Width of cloth the beam removes, mm.
    pub kerf_mm: f64,
    /// Which side of the cloth faces the beam.
    pub cloth_face: Face,
    /// The bed's direction the warp runs in and the cloth is moved along from pass to pass.
    pub feed: Feed,
    /// Where the cloth may hang over the bed.
    pub overhang: Overhang,
    /// Width of the band that two neighbouring passes share, mm.
    pub shared_band_mm: f64,
    /// How far the two cuts at a joint overlap in all, mm.
    pub joint_overlap_mm: f64,
    /// Error of a measured mark, mm (root mean square).
    pub mark_error_mm: f64,
    /// Width of the border stitching, mm.
    pub border_mm: f64,
    /// Cutting speed, mm/s.
    pub cut_mm_per_s: f64,
    /// Speed between burns, mm/s.
    pub travel_mm_per_s: f64,
    /// Acceleration of the head, mm/s².
    pub acceleration_mm_per_s2: f64,
    /// By how much the head's velocity may change at a corner at once, mm/s: it slows down to that.
    pub corner_mm_per_s: f64,
    /// Time a burn takes to begin, s: the beam comes on and pierces.
    pub burn_start_s: f64,
    /// Time it takes to lay the cloth for a pass and take it off, s.
    pub handling_s: f64,
    /// How far off the line, in the waste, a closed burn begins, mm; 0: on the line.
    pub lead_in_mm: f64,
    /// Short uncut gaps that keep pieces from moving or dropping; left out or null: none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bridges: Option<BridgeSpec>,
    /// Colours of the kinds of line in cut files, `#rrggbb`, by kind: `cutout`, `outline`, `mark`, `key`.
    pub colours: BTreeMap<String, String>,
}

impl Default for Cutter {
    fn default() -> Self {
        Cutter {
            bed_mm: [900.0, 600.0],
            margin_mm: 6.0,
            kerf_mm: 0.2,
            cloth_face: Face::Up,
            feed: Feed::AlongX,
            overhang: Overhang::Both,
            shared_band_mm: 80.0,
            joint_overlap_mm: 2.0,
            mark_error_mm: 0.25,
            border_mm: 3.5,
            cut_mm_per_s: 30.0,
            travel_mm_per_s: 200.0,
            acceleration_mm_per_s2: 2000.0,
            corner_mm_per_s: 10.0,
            burn_start_s: 0.1,
            handling_s: 240.0,
            lead_in_mm: 0.0,
            bridges: None,
            colours: BTreeMap::new(),
        }
    }
}

/// Bridges: how wide, and how many a piece gets. (The defaults are common practice, no source.)
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct BridgeSpec {
    /// Cloth left uncut, mm.
    pub width_mm: f64,
    /// One bridge for every so much outline, mm.
    pub every_mm: f64,
    /// One bridge for every so much of the piece's weight, g, where the cloth's weight is known.
    pub grams_each: f64,
    /// Pieces get at least so many.
    pub least: u32,
    /// Pieces smaller than this, by area, get none, mm².
    pub from_mm2: f64,
}

impl Default for BridgeSpec {
    fn default() -> Self {
        BridgeSpec { width_mm: 0.6, every_mm: 250.0, grams_each: 5.0, least: 2, from_mm2: 400.0 }
    }
}

/// Which side of the cloth faces the beam.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Face {
    /// The face.
    #[default]
    Up,
    /// The back: the cloth lies face down, and every pass is mirrored.
    Down,
}

/// The bed's direction the warp runs in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Feed {
    /// The warp runs along the bed's x.
    #[default]
    AlongX,
    /// The warp runs along the bed's y.
    AlongY,
}

/// Where the cloth may hang over the bed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Overhang {
    /// On all sides.
    #[default]
    Both,
    /// Along the feed only: the cloth may be longer than the bed, not wider.
    Along,
    /// Nowhere: the cloth must lie on the bed whole.
    None,
}

/// The embroidery frame.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Frame {
    /// The field it can stitch, mm.
    pub field_mm: [f64; 2],
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
        LaySpec { gap_mm: 3.0, seconds: 5.0, effort: None, seed: 1, locked: Vec::new() }
    }
}

fn one() -> f64 {
    1.0
}

fn one_piece() -> u32 {
    1
}
