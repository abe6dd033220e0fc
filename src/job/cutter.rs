//! The laser cutter in the job file: its bed, its beam, its words.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Unsaid;

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
    /// How far the cloth may move within the outlines of a key, mm either way.
    pub key_clearance_mm: f64,
    /// Strip along the bed's edges where pegs, clamps or weights stand, mm, counted from the edge as the margin is: no mark
    /// reaches into it.
    pub peg_strip_mm: f64,
    /// Width of the border stitching, mm.
    pub border_mm: f64,
    /// Cutting speed where none was found by test, mm/s.
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
    /// How far the lines and arcs of cut files may lie from the true curves, mm.
    pub curve_error_mm: f64,
    /// Order of the layers in cut files: `mark`, `cutout`, `outline`. Cut-outs always stand before outlines.
    pub layer_order: Vec<String>,
    /// The corner of the bed where the machine's coordinates are nought; both grow from there.
    pub home: Home,
    /// The way the machine's x grows, if it is to be checked against the home corner.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub x_grows: Option<XWay>,
    /// The way the machine's y grows, if it is to be checked against the home corner.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub y_grows: Option<YWay>,
    /// Whether the machine's axes, seen from above, are the mirror image of x right and y away; if it is to be checked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mirrored: Option<bool>,
    /// How the machine wants its G-code; left out: none is written.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gcode: Option<Gcode>,
    /// Power and speed as found by test, by cloth and kind of line. The first that fits counts.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub tested: Vec<Tested>,
    /// What nobody has said of it, as far as it was read from a job or a file of its own: usual measures stand there.
    #[serde(skip)]
    pub unsaid: Unsaid,
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
            key_clearance_mm: 0.3,
            peg_strip_mm: 12.0,
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
            curve_error_mm: 0.02,
            layer_order: ["mark", "cutout", "outline"].map(String::from).to_vec(),
            home: Home::NearLeft,
            x_grows: None,
            y_grows: None,
            mirrored: None,
            gcode: None,
            tested: Vec::new(),
            unsaid: Unsaid::default(),
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

/// A corner of the bed, seen by the maker who stands at its near edge.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Home {
    /// x grows to the right, y away from the maker.
    #[default]
    NearLeft,
    /// x grows to the left, y away from the maker.
    NearRight,
    /// x grows to the right, y towards the maker.
    FarLeft,
    /// x grows to the left, y towards the maker.
    FarRight,
}

impl Home {
    /// The way x grows from this corner over the bed.
    pub fn x_grows(self) -> XWay {
        if matches!(self, Home::NearLeft | Home::FarLeft) { XWay::Right } else { XWay::Left }
    }

    /// The way y grows from this corner over the bed.
    pub fn y_grows(self) -> YWay {
        if matches!(self, Home::NearLeft | Home::NearRight) { YWay::Away } else { YWay::Near }
    }

    /// True when the machine's axes are the mirror image of the bed's: clockwise there is counter-clockwise here.
    pub fn is_mirrored(self) -> bool {
        matches!(self, Home::NearRight | Home::FarLeft)
    }

    /// A point of the bed frame in the machine's coordinates, mm; the same way back.
    pub fn machine(self, [x, y]: [f64; 2], bed_mm: [f64; 2]) -> [f64; 2] {
        [
            if self.x_grows() == XWay::Right { x } else { bed_mm[0] - x },
            if self.y_grows() == YWay::Away { y } else { bed_mm[1] - y },
        ]
    }

    /// The corner in words.
    pub fn words(self) -> &'static str {
        match self {
            Home::NearLeft => "near left corner of the bed, x grows to the right, y away from you",
            Home::NearRight => "near right corner of the bed, x grows to the left, y away from you",
            Home::FarLeft => "far left corner of the bed, x grows to the right, y towards you",
            Home::FarRight => "far right corner of the bed, x grows to the left, y towards you",
        }
    }

    /// The corner and the ways in a line short enough for old controllers.
    pub fn in_brief(self) -> &'static str {
        match self {
            Home::NearLeft => "nought near left, x to the right, y away from you",
            Home::NearRight => "nought near right, x to the left, y away from you",
            Home::FarLeft => "nought far left, x to the right, y towards you",
            Home::FarRight => "nought far right, x to the left, y towards you",
        }
    }
}

/// The way an x axis grows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum XWay {
    /// To the right.
    Right,
    /// To the left.
    Left,
}

/// The way a y axis grows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum YWay {
    /// Away from the maker.
    Away,
    /// Towards the maker.
    Near,
}

/// How a machine wants its G-code (words of ISO 6983-1). Millimetres, absolute, feed per minute.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Gcode {
    /// Least and most the power word may say.
    pub power_range: [f64; 2],
    /// The word for millimetres: `G21` or `G71`.
    #[serde(default = "g21")]
    pub units_word: String,
    /// Letter of the word that sets the power.
    #[serde(default = "s")]
    pub power_word: String,
    /// The word that turns the beam on.
    #[serde(default = "m3")]
    pub beam_on: String,
    /// The word that turns the beam off.
    #[serde(default = "m5")]
    pub beam_off: String,
    /// Lines before the first move, as the machine's manual has them.
    #[serde(default)]
    pub header: Vec<String>,
    /// Lines after the last move.
    #[serde(default)]
    pub footer: Vec<String>,
    /// True when every block carries a number (N10, N20, …).
    #[serde(default)]
    pub line_numbers: bool,
    /// Decimals of coordinates.
    #[serde(default = "three")]
    pub decimals: u32,
}

/// Power and speed as a maker found them by test.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Tested {
    /// The cloth, by its name; left out: any. A shared cutter file may name cloths this job has not.
    #[serde(default)]
    pub cloth: Option<String>,
    /// The kind of line, `cutout`, `outline` or `mark`; left out: any.
    #[serde(default)]
    pub kind: Option<String>,
    /// Power, in the figures of the power word.
    pub power: f64,
    /// Speed, mm/s.
    pub mm_per_s: f64,
}

impl Cutter {
    /// What was found by test for a kind of line on a cloth, if anything was.
    pub fn tested_for(&self, cloth: &str, kind: &str) -> Option<&Tested> {
        let fits = |want: &Option<String>, have: &str| want.as_deref().is_none_or(|w| w == have);
        self.tested.iter().find(|t| fits(&t.cloth, cloth) && fits(&t.kind, kind))
    }

    /// How far lines and arcs may lie from the chords of a plan so that they stay within
    /// [`curve_error_mm`](Cutter::curve_error_mm) of the true curves, mm: the chords' own distance and the rounding
    /// of figures in files come off.
    pub fn curve_room_mm(&self) -> f64 {
        use crate::shape::tol;
        self.curve_error_mm - tol::CHORD_MM.max(tol::ARC_MM) - tol::SAME_POINT_MM
    }
}

fn g21() -> String {
    "G21".into()
}

fn s() -> String {
    "S".into()
}

fn m3() -> String {
    "M3".into()
}

fn m5() -> String {
    "M5".into()
}

fn three() -> u32 {
    3
}
