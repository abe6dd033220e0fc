//! Between which numbers a field makes sense, and which texts it may hold: one table for the published schema
//! and for reading.
//!
//! Upper limits only catch slips (a metre typed as a millimetre count with a point lost); they lie well
//! beyond what is woven, cut or sewn.

use serde_json::{Map, Value, json};

/// How a colour is written.
pub(super) const COLOUR: &str = "^#[0-9a-fA-F]{6}$";

/// The longest cloth, mm: more than is ever woven in one piece.
const LONGEST_MM: f64 = 200_000.0;
/// The widest cloth, mm: the widest looms weave half of it.
const WIDEST_MM: f64 = 20_000.0;
/// The finest repeat, mm: two threads of the finest silk. Below, every place would be a place of its own.
const FINEST_REPEAT_MM: f64 = 0.1;
/// The slowest speed, mm/s, and acceleration, mm/s²: slower than any cutter, and times stay numbers.
const SLOWEST: f64 = 0.01;
/// The closest a cut file may be asked to keep to a curve, mm: what chords and rounding take leaves something.
const FINEST_CURVE_MM: f64 = 0.01;
/// Farthest coordinate, mm.
const FARTHEST_MM: f64 = crate::shape::tol::FARTHEST_MM;
/// Most corners of one outline, so that the test for crossings stays quick.
pub(super) const MOST_CORNERS_OF_ONE: usize = 4_000;

/// What a field's value must keep to.
enum Limit {
    /// From the first number to the second, both included.
    From(f64, f64),
    /// Above the first number, up to the second.
    Above(f64, f64),
    /// At least the first number, below the second.
    Below(f64, f64),
    /// Each number of a list: from the first to the second.
    EachFrom(f64, f64),
    /// Each number of a list: above the first, up to the second.
    EachAbove(f64, f64),
    /// A colour.
    Colour,
    /// The values of a table are colours.
    Colours,
    /// A text of 1 to this many characters.
    Text(u64),
    /// A text of at most this many characters.
    ShortText(u64),
    /// A list of 1 to this many entries.
    Entries(u64),
    /// A list of at most this many entries.
    UpTo(u64),
    /// A closed line: 3 or more corners.
    Outline,
    /// A list of closed lines, at most this many.
    Outlines(u64),
}

/// Struct, field, limit.
const LIMITS: &[(&str, &str, Limit)] = &[
    ("Job", "settlay", Limit::From(1.0, 1.0)),
    ("Job", "title", Limit::ShortText(300)),
    ("Job", "drawing", Limit::Text(4096)),
    ("Job", "drawing_scale", Limit::From(0.001, 1000.0)),
    ("Job", "cloths", Limit::Entries(100)),
    ("Job", "pieces", Limit::Entries(1000)),
    ("ClothSpec", "name", Limit::Text(100)),
    ("ClothSpec", "stock", Limit::Text(100)),
    ("ClothSpec", "width_mm", Limit::Above(0.0, WIDEST_MM)),
    ("ClothSpec", "length_mm", Limit::Above(0.0, LONGEST_MM)),
    ("ClothSpec", "outline_mm", Limit::Outline),
    ("ClothSpec", "edge_mm", Limit::From(0.0, 1000.0)),
    ("ClothSpec", "flaws_mm", Limit::Outlines(1000)),
    ("ClothSpec", "colour", Limit::Colour),
    ("ClothSpec", "match_tolerance_mm", Limit::From(0.0, 100.0)),
    ("ClothSpec", "price_per_m", Limit::From(0.0, 1.0e6)),
    ("ClothSpec", "weight_g_per_m2", Limit::Above(0.0, 1.0e5)),
    ("ClothSpec", "shrinkage_percent", Limit::Below(0.0, 100.0)),
    ("ClothSpec", "offers", Limit::UpTo(50)),
    ("ClothSpec", "cutting_allowance_mm", Limit::From(0.0, 1000.0)),
    ("OfferSpec", "width_mm", Limit::Above(0.0, WIDEST_MM)),
    ("OfferSpec", "price_per_m", Limit::From(0.0, 1.0e6)),
    ("PatternSpec", "ends_per_cm", Limit::Above(0.0, 500.0)),
    ("PatternSpec", "picks_per_cm", Limit::Above(0.0, 500.0)),
    ("PatternSpec", "repeat_across_mm", Limit::From(FINEST_REPEAT_MM, WIDEST_MM)),
    ("PatternSpec", "repeat_along_mm", Limit::From(FINEST_REPEAT_MM, WIDEST_MM)),
    ("PatternSpec", "skew_mm_per_m", Limit::From(-300.0, 300.0)),
    ("PatternSpec", "origin_mm", Limit::EachFrom(-FARTHEST_MM, FARTHEST_MM)),
    ("PatternSpec", "colours", Limit::Colours),
    ("PhotoSpec", "file", Limit::Text(4096)),
    ("PhotoSpec", "size_mm", Limit::EachFrom(FINEST_REPEAT_MM, WIDEST_MM)),
    ("PhotoSpec", "at_mm", Limit::EachFrom(-FARTHEST_MM, FARTHEST_MM)),
    ("PieceRule", "cloth", Limit::Text(100)),
    ("PieceRule", "count", Limit::From(1.0, 10_000.0)),
    ("PieceRule", "grain_deg", Limit::From(-360.0, 360.0)),
    ("PieceRule", "grain_tolerance_deg", Limit::From(0.0, 90.0)),
    ("PieceRule", "group", Limit::Text(100)),
    ("PieceRule", "pattern_at_mm", Limit::EachFrom(-FARTHEST_MM, FARTHEST_MM)),
    ("PieceRule", "anchor_mm", Limit::EachFrom(-FARTHEST_MM, FARTHEST_MM)),
    ("PieceRule", "allowance_mm", Limit::From(0.0, 100.0)),
    ("PieceRule", "underlap_mm", Limit::From(0.0, 100.0)),
    ("Select", "layer", Limit::Text(1000)),
    ("Select", "id", Limit::Text(1000)),
    ("Select", "fill", Limit::Colour),
    ("Cutter", "bed_mm", Limit::EachAbove(0.0, WIDEST_MM)),
    ("Cutter", "margin_mm", Limit::From(0.0, 1000.0)),
    ("Cutter", "kerf_mm", Limit::From(0.0, 5.0)),
    ("Cutter", "shared_band_mm", Limit::From(10.0, WIDEST_MM)),
    ("Cutter", "joint_overlap_mm", Limit::From(0.0, 100.0)),
    ("Cutter", "mark_error_mm", Limit::From(0.0, 10.0)),
    ("Cutter", "key_clearance_mm", Limit::From(0.0, 10.0)),
    ("Cutter", "peg_strip_mm", Limit::From(0.0, 500.0)),
    ("Cutter", "border_mm", Limit::From(0.0, 100.0)),
    ("Cutter", "cut_mm_per_s", Limit::From(SLOWEST, 10_000.0)),
    ("Cutter", "travel_mm_per_s", Limit::From(SLOWEST, 10_000.0)),
    ("Cutter", "acceleration_mm_per_s2", Limit::From(SLOWEST, 1.0e6)),
    ("Cutter", "corner_mm_per_s", Limit::From(0.0, 10_000.0)),
    ("Cutter", "burn_start_s", Limit::From(0.0, 600.0)),
    ("Cutter", "handling_s", Limit::From(0.0, 86_400.0)),
    ("Cutter", "lead_in_mm", Limit::From(0.0, 50.0)),
    ("BridgeSpec", "width_mm", Limit::Above(0.0, 20.0)),
    ("BridgeSpec", "every_mm", Limit::From(30.0, WIDEST_MM)),
    ("BridgeSpec", "grams_each", Limit::From(0.1, 1.0e6)),
    ("BridgeSpec", "least", Limit::From(0.0, 100.0)),
    ("BridgeSpec", "from_mm2", Limit::From(0.0, 1.0e9)),
    ("Cutter", "colours", Limit::Colours),
    ("Cutter", "curve_error_mm", Limit::From(FINEST_CURVE_MM, 1.0)),
    ("Cutter", "layer_order", Limit::Entries(10)),
    ("Cutter", "tested", Limit::UpTo(1000)),
    ("Gcode", "power_range", Limit::EachFrom(0.0, 1.0e6)),
    ("Gcode", "units_word", Limit::Text(10)),
    ("Gcode", "power_word", Limit::Text(1)),
    ("Gcode", "beam_on", Limit::Text(20)),
    ("Gcode", "beam_off", Limit::Text(20)),
    ("Gcode", "header", Limit::UpTo(100)),
    ("Gcode", "footer", Limit::UpTo(100)),
    ("Gcode", "decimals", Limit::From(3.0, 4.0)),
    ("Tested", "cloth", Limit::Text(100)),
    ("Tested", "kind", Limit::Text(20)),
    ("Tested", "power", Limit::Above(0.0, 1.0e6)),
    ("Tested", "mm_per_s", Limit::From(SLOWEST, 10_000.0)),
    ("Frame", "field_mm", Limit::EachAbove(0.0, WIDEST_MM)),
    ("Frame", "tack_in_mm", Limit::From(0.1, 20.0)),
    ("Frame", "run_mm", Limit::From(0.3, 20.0)),
    ("Frame", "zigzag_mm", Limit::From(0.2, 20.0)),
    ("Frame", "satin_mm", Limit::From(0.1, 5.0)),
    ("Frame", "stitches_per_min", Limit::From(1.0, 10_000.0)),
    ("LaySpec", "gap_mm", Limit::From(0.0, 1000.0)),
    ("LaySpec", "seconds", Limit::Above(0.0, 86_400.0)),
    ("LaySpec", "effort", Limit::From(1.0, 1.0e6)),
    ("LaySpec", "locked", Limit::UpTo(10_000)),
    ("LockedSpec", "piece", Limit::Text(1000)),
    ("LockedSpec", "copy", Limit::From(1.0, 10_000.0)),
    ("LockedSpec", "cloth", Limit::Text(100)),
    ("LockedSpec", "turn_deg", Limit::From(-360.0, 360.0)),
    ("LockedSpec", "shift_mm", Limit::EachFrom(-FARTHEST_MM, FARTHEST_MM)),
];

/// Writes every limit into the job's schema, as derived from its types.
pub(super) fn write_into(schema: &mut Value) {
    // The schema of the cutter's own file has its fields at the top.
    let top = schema.get("title").and_then(Value::as_str).unwrap_or_default().to_owned();
    for (owner, field, limit) in LIMITS {
        let path = match *owner {
            owner if owner == top => format!("/properties/{field}"),
            _ => format!("/$defs/{owner}/properties/{field}"),
        };
        let Some(Value::Object(property)) = schema.pointer_mut(&path) else { continue };
        limit.write_into(property);
    }
    if let Some(Value::Object(select)) = schema.pointer_mut("/$defs/Select") {
        select.insert("minProperties".into(), json!(1));
    }
}

impl Limit {
    fn write_into(&self, property: &mut Map<String, Value>) {
        let mut put = |key: &str, value: Value| {
            property.insert(key.into(), value);
        };
        let line = |corners: usize| {
            json!({"type": "array", "minItems": 3, "maxItems": corners, "items":
                {"type": "array", "minItems": 2, "maxItems": 2, "items": number("minimum", -FARTHEST_MM, "maximum", FARTHEST_MM)}})
        };
        match *self {
            Limit::From(low, high) => {
                put("minimum", json!(low));
                put("maximum", json!(high));
            }
            Limit::Above(low, high) => {
                put("exclusiveMinimum", json!(low));
                put("maximum", json!(high));
            }
            Limit::Below(low, high) => {
                put("minimum", json!(low));
                put("exclusiveMaximum", json!(high));
            }
            Limit::EachFrom(low, high) => put("items", number("minimum", low, "maximum", high)),
            Limit::EachAbove(low, high) => put("items", number("exclusiveMinimum", low, "maximum", high)),
            Limit::Colour => put("pattern", json!(COLOUR)),
            Limit::Colours => put("additionalProperties", json!({"type": "string", "pattern": COLOUR})),
            Limit::Text(most) => {
                put("minLength", json!(1));
                put("maxLength", json!(most));
            }
            Limit::ShortText(most) => put("maxLength", json!(most)),
            Limit::Entries(most) => {
                put("minItems", json!(1));
                put("maxItems", json!(most));
            }
            Limit::UpTo(most) => put("maxItems", json!(most)),
            Limit::Outline => {
                let outline = line(MOST_CORNERS_OF_ONE);
                for key in ["minItems", "maxItems", "items"] {
                    put(key, outline[key].clone());
                }
            }
            Limit::Outlines(most) => {
                put("maxItems", json!(most));
                put("items", line(MOST_CORNERS_OF_ONE));
            }
        }
    }
}

fn number(low_key: &str, low: f64, high_key: &str, high: f64) -> Value {
    json!({"type": "number", "format": "double", low_key: low, high_key: high})
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A field renamed in the model would silently lose its limit.
    #[test]
    fn every_limit_names_a_field_of_the_job() {
        let schema = serde_json::to_value(schemars::schema_for!(crate::job::Job)).unwrap();
        for (owner, field, _) in LIMITS {
            let path = match *owner {
                "Job" => format!("/properties/{field}"),
                _ => format!("/$defs/{owner}/properties/{field}"),
            };
            assert!(schema.pointer(&path).is_some(), "{owner}.{field}");
        }
    }
}
