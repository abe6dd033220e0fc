//! Which values CSS takes for a property. One that it does not take counts as not written, so that what was set before
//! stays.
//!
//! Sources: CSS Syntax Module Level 3, section 2.2 (what is not understood is ignored); SVG 2, chapters 7 (geometry
//! properties: lengths, with a unit unless nought) and 13 (painting); CSS Display Module Level 3.

use std::str::FromStr;

use super::scale::split_length;

/// True where CSS takes `value` for `name`, as far as is known here: of properties that change nothing cut, and of
/// functions (`calc(…)`, `var(…)`), nothing is.
pub(super) fn is_valid(name: &str, value: &str) -> bool {
    if matches!(value, "inherit" | "initial" | "unset" | "revert" | "revert-layer") {
        return true;
    }
    // Attributes of the same name are lengths, but no properties.
    if matches!(name, "x1" | "y1" | "x2" | "y2" | "points") {
        return false;
    }
    if value.contains('(') {
        return true;
    }
    match name {
        "fill-rule" | "clip-rule" => matches!(value, "nonzero" | "evenodd"),
        "visibility" => matches!(value, "visible" | "hidden" | "collapse"),
        "display" => is_display(value),
        "x" | "y" | "cx" | "cy" => is_length(value, f64::NEG_INFINITY),
        "r" => is_length(value, 0.0),
        "rx" | "ry" | "width" | "height" => value == "auto" || is_length(value, 0.0),
        "stroke-width" => split_length(value).is_some_and(|(v, _)| v >= 0.0),
        "fill" | "stroke" => svgtypes::Paint::from_str(value).is_ok(),
        "color" => svgtypes::Color::from_str(value).is_ok() || value == "currentColor",
        "opacity" | "fill-opacity" | "stroke-opacity" => {
            split_length(value).is_some_and(|(_, unit)| matches!(unit, "" | "%"))
        }
        _ => true,
    }
}

fn is_display(value: &str) -> bool {
    const ONE: [&str; 12] = [
        "none",
        "contents",
        "block",
        "inline",
        "run-in",
        "flow",
        "flow-root",
        "table",
        "flex",
        "grid",
        "ruby",
        "list-item",
    ];
    const STARTS: [&str; 3] = ["inline-", "table-", "ruby-"];
    value.split(' ').all(|word| ONE.contains(&word) || STARTS.iter().any(|s| word.starts_with(s)))
}

fn is_length(value: &str, least: f64) -> bool {
    split_length(value).is_some_and(|(v, unit)| v >= least && (v == 0.0 || !unit.is_empty()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_css_does_not_take_is_not_valid() {
        for (name, value) in [
            ("fill-rule", "nope"),
            ("display", "off"),
            ("visibility", "foo"),
            ("rx", "-4px"),
            ("width", "80"),
            ("width", "foo"),
            ("x2", "100px"),
            ("fill", "blurple"),
            ("opacity", "half"),
            ("stroke-width", "-1px"),
        ] {
            assert!(!is_valid(name, value), "{name}:{value}");
        }
    }

    #[test]
    fn what_css_takes_is_valid() {
        for (name, value) in [
            ("fill-rule", "evenodd"),
            ("display", "none"),
            ("display", "inline flow-root"),
            ("display", "table-cell"),
            ("visibility", "collapse"),
            ("rx", "auto"),
            ("x", "-4px"),
            ("width", "0"),
            ("width", "80mm"),
            ("height", "50%"),
            ("width", "calc(1px + 2px)"),
            ("fill", "currentColor"),
            ("fill", "none"),
            ("fill", "#f00"),
            ("stroke", "url(#a) red"),
            ("opacity", ".5"),
            ("stroke-width", "2"),
            ("display", "inherit"),
            ("font-family", "anything"),
        ] {
            assert!(is_valid(name, value), "{name}:{value}");
        }
    }
}
