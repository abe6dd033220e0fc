//! Checks of what the file states about a shape's geometry, before the SVG reading library quietly replaces
//! what it cannot read.

use usvg::roxmltree::Node;

use super::limits::MAX_LETTERS;
use super::pathdata;
use super::scale::{shape_length_px, split_length, unit_mm};
use super::styles;
use super::transforms::{self, shortened};
use super::xml::property;

/// The attributes that are lengths, by element; a style may set them too.
pub(super) fn length_attributes(tag: &str) -> &'static [&'static str] {
    match tag {
        "rect" => &["x", "y", "width", "height", "rx", "ry"],
        "circle" => &["cx", "cy", "r"],
        "ellipse" => &["cx", "cy", "rx", "ry"],
        "line" => &["x1", "y1", "x2", "y2"],
        "use" | "svg" => &["x", "y", "width", "height"],
        _ => &[],
    }
}

/// Checks an element's outline, lengths and transform.
///
/// # Errors
/// Says what cannot be read.
pub(super) fn check(node: Node<'_, '_>) -> Result<(), String> {
    let tag = node.tag_name().name();
    if let Some(d) = node.attribute("d")
        && tag == "path"
    {
        pathdata::check(d)?;
    }
    if let Some(points) = node.attribute("points")
        && matches!(tag, "polygon" | "polyline")
    {
        pathdata::check_points(points)?;
    }
    if tag == "text" {
        let letters: usize =
            node.descendants().filter_map(|n| n.text().filter(|_| n.is_text())).map(str::len).sum();
        if letters > MAX_LETTERS {
            return Err(format!("it has {letters} letters; the limit is {MAX_LETTERS}"));
        }
    }
    for name in length_attributes(tag) {
        if let Some(text) = property(node, name) {
            check_length(text).map_err(|what| format!("its {name} \"{}\" {what}", text.trim()))?;
        }
    }
    for name in ["stroke-width", "stroke-miterlimit"] {
        if let Some(text) = property(node, name) {
            check_length(text).map_err(|what| format!("its {name} \"{text}\" {what}"))?;
        }
    }
    if let Some(t) = property(node, "transform") {
        transforms::plain(t).map_err(|what| format!("its transform \"{}\" {what}", shortened(t)))?;
    }
    Ok(())
}

fn check_length(text: &str) -> Result<(), String> {
    let text = text.trim();
    if matches!(text, "auto" | "inherit" | "initial") {
        return Ok(());
    }
    match split_length(text) {
        None => Err("is not a length".to_owned()),
        Some((_, "%")) => Ok(()),
        Some((_, unit)) if unit_mm(unit).is_none() => {
            Err(format!("has the unit \"{unit}\", which has no size on paper"))
        }
        Some(_) if shape_length_px(text).is_none() => Err("is out of all bounds".to_owned()),
        Some(_) => Ok(()),
    }
}

/// What of SVG and CSS an element asks for that is not followed, if anything.
pub(super) fn not_followed(node: Node<'_, '_>) -> Option<String> {
    let tag = node.tag_name().name();
    let said = |name: &str, text: &str| Some(format!("its {name} \"{}\"", shortened(text)));
    for name in ["clip-path", "mask", "transform-box", "vector-effect"] {
        if let Some(text) = property(node, name).filter(|t| !is_followed(name, t)) {
            return said(name, text);
        }
    }
    for (name, text) in styles::declarations(node.attribute("style").unwrap_or_default()) {
        if !is_followed(name, text) || is_vague(name, text) {
            return said(name, text);
        }
    }
    for a in node.attributes().filter(|a| a.namespace().is_none() && PAINT.contains(&a.name())) {
        if is_vague(a.name(), a.value()) || !is_followed(a.name(), a.value().trim()) {
            return said(a.name(), a.value());
        }
    }
    let in_loose_symbol = || {
        let frame = node.ancestors().skip(1).find(|n| matches!(n.tag_name().name(), "svg" | "symbol"));
        frame.is_some_and(|f| f.tag_name().name() == "symbol" && f.attribute("viewBox").is_none())
    };
    if tag == "use" && in_loose_symbol() {
        // Percent of a size that every copy of the symbol has anew.
        for name in length_attributes(tag) {
            if let Some(text) = property(node, name).filter(|t| t.ends_with('%')) {
                return said(name, text);
            }
        }
    }
    let of_symbol: &[&str] =
        if tag == "symbol" { &["refX", "refY", "x", "y", "width", "height"] } else { &[] };
    of_symbol.iter().find_map(|name| node.attribute(*name).and_then(|text| said(name, text.trim())))
}

/// Properties whose values paint a shape or make it unseen.
const PAINT: [&str; 11] = [
    "fill",
    "stroke",
    "opacity",
    "fill-opacity",
    "stroke-opacity",
    "visibility",
    "display",
    "fill-rule",
    "clip-rule",
    "stroke-width",
    "stroke-dasharray",
];

/// True for a property that can change what is cut, or which rule of a job picks it.
pub(super) fn matters(name: &str) -> bool {
    const STARTS: [&str; 12] = [
        "stroke",
        "marker",
        "mask",
        "transform",
        "offset",
        "animation",
        "font",
        "overflow",
        "perspective",
        "-webkit-mask",
        "-webkit-transform",
        "-webkit-perspective",
    ];
    let plain = PAINT.contains(&name) || OWN.contains(&name) || length_names().any(|n| n == name);
    plain
        || STARTS.iter().any(|s| name.starts_with(s))
        || matches!(
            name,
            "all"
                | "d"
                | "clip-path"
                | "vector-effect"
                | "filter"
                | "color"
                | "text-anchor"
                | "letter-spacing"
                | "word-spacing"
                | "writing-mode"
                | "direction"
                | "-webkit-filter"
                | "-webkit-clip-path"
                | "-webkit-animation"
        )
}

fn length_names() -> impl Iterator<Item = &'static str> {
    ["rect", "circle", "ellipse"].into_iter().flat_map(length_attributes).copied()
}

/// Properties that are not followed, whatever they are set to, but for what sets nothing.
const OWN: [&str; 11] = [
    "translate",
    "rotate",
    "scale",
    "zoom",
    "clip",
    "perspective",
    "content-visibility",
    "animation",
    "animation-name",
    "offset",
    "offset-path",
];

/// False for a property of an element's style that is not followed as it is set.
fn is_followed(name: &str, value: &str) -> bool {
    let link = || value.starts_with("url(") && value.find(')') == Some(value.len() - 1);
    let sets_nothing = matches!(value, "none" | "auto" | "normal" | "visible" | "initial" | "unset" | "1");
    match name {
        "clip-path" | "mask" => value == "none" || value == "inherit" || link(),
        "transform-box" => value == "view-box",
        "vector-effect" => value == "none",
        "mask-image" | "mask-border" | "mask-border-source" => value == "none",
        "all" | "d" => false,
        _ if OWN.contains(&name) || name.starts_with("-webkit-animation") => sets_nothing,
        _ if name.starts_with("-webkit-mask") || name.starts_with("-webkit-perspective") => sets_nothing,
        "fill" | "stroke" => value == "inherit" || svgtypes::Paint::from_str(value).is_ok(),
        "opacity" | "fill-opacity" | "stroke-opacity" => {
            value == "inherit" || split_length(value).is_some_and(|(_, unit)| matches!(unit, "" | "%"))
        }
        _ => true,
    }
}

/// True for a value that is reckoned, stands elsewhere, or cannot be handed on.
fn is_vague(name: &str, value: &str) -> bool {
    const FUNCTIONS: [&str; 7] = ["var(", "calc(", "env(", "attr(", "min(", "max(", "clamp("];
    let reckoned = FUNCTIONS.iter().any(|f| value.contains(f)) || value.contains(styles::PARTED);
    let elsewhere = matches!(value.trim(), "unset" | "revert" | "revert-layer" | "initial");
    let seen = PAINT.contains(&name) || matches!(name, "clip-path" | "mask" | "filter");
    let spoilt = !styles::is_readable(value.trim());
    matters(name) && (reckoned || (seen && (elsewhere || spoilt)))
}

/// Why a readable shape draws nothing, if so.
pub(super) fn nothing_to_draw(node: Node<'_, '_>) -> Option<&'static str> {
    let size = |name: &str| property(node, name).and_then(split_length).map_or(0.0, |l| l.0);
    match node.tag_name().name() {
        "path" => match node.attribute("d").map(pathdata::check) {
            None => Some("no outline"),
            Some(Ok(p)) if p.segments == 0 => Some("a single point"),
            _ => None,
        },
        "polygon" | "polyline" => match node.attribute("points").map(pathdata::check_points) {
            None | Some(Ok(0)) => Some("no outline"),
            Some(Ok(1)) => Some("a single point"),
            _ => None,
        },
        "rect" if size("width") <= 0.0 || size("height") <= 0.0 => Some("no size"),
        "circle" if size("r") <= 0.0 => Some("no size"),
        "ellipse" if size("rx") <= 0.0 && size("ry") <= 0.0 => Some("no size"),
        "text"
            if node.descendants().all(|n| !n.is_text() || n.text().unwrap_or_default().trim().is_empty()) =>
        {
            Some("an empty text")
        }
        _ => None,
    }
}

/// True for a viewport whose width or height is stated as nought or less (SVG 2, section 8.2: it is not drawn; below
/// nought it is an error).
pub(super) fn has_no_size(node: Node<'_, '_>) -> bool {
    ["width", "height"]
        .iter()
        .any(|name| property(node, name).and_then(split_length).is_some_and(|l| l.0 <= 0.0))
}

/// The shape as path data without arcs, where the reading library would draw it too roughly: circles,
/// ellipses, rounded rectangles, and paths with arcs. `None` where the library is exact, or where a length is
/// in percent.
pub(super) fn fine_outline(node: Node<'_, '_>) -> Option<String> {
    let px = |name: &str| match property(node, name) {
        None => Some(0.0),
        Some(text) => shape_length_px(text),
    };
    let d = match node.tag_name().name() {
        "path" => node.attribute("d")?.to_owned(),
        "circle" => oval(px("cx")?, px("cy")?, px("r")?, px("r")?),
        "ellipse" => {
            let (rx, ry) = radii(node)?;
            oval(px("cx")?, px("cy")?, rx, ry)
        }
        "rect" => {
            let (x, y, w, h) = (px("x")?, px("y")?, px("width")?, px("height")?);
            let (rx, ry) = radii(node)?;
            let (rx, ry) = (rx.min(w / 2.0), ry.min(h / 2.0));
            if !(rx > 0.0 && ry > 0.0) {
                return None;
            }
            format!(
                "M{} {y}H{}A{rx} {ry} 0 0 1 {} {}V{}A{rx} {ry} 0 0 1 {} {}H{}A{rx} {ry} 0 0 1 {x} {}V{}A{rx} {ry} 0 0 1 {} {y}Z",
                x + rx,
                x + w - rx,
                x + w,
                y + ry,
                y + h - ry,
                x + w - rx,
                y + h,
                x + rx,
                y + h - ry,
                y + ry,
                x + rx
            )
        }
        _ => return None,
    };
    pathdata::write_without_arcs(&d).ok()?.without_arcs
}

/// `rx` and `ry`; one left out (or `auto`) is the other.
fn radii(node: Node<'_, '_>) -> Option<(f64, f64)> {
    let radius = |name: &str| match property(node, name) {
        None | Some("auto") => Some(None),
        Some(text) => shape_length_px(text).map(|r| Some(r).filter(|r| *r >= 0.0)),
    };
    match (radius("rx")?, radius("ry")?) {
        (None, None) => Some((0.0, 0.0)),
        (Some(r), None) | (None, Some(r)) => Some((r, r)),
        (Some(rx), Some(ry)) => Some((rx, ry)),
    }
}

fn oval(cx: f64, cy: f64, rx: f64, ry: f64) -> String {
    format!("M{0} {cy}A{rx} {ry} 0 1 1 {1} {cy}A{rx} {ry} 0 1 1 {0} {cy}Z", cx + rx, cx - rx)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_of_shapes_need_a_size_on_paper() {
        for good in ["3", "3mm", "-2.5px", "40%", "auto"] {
            assert_eq!(check_length(good), Ok(()), "{good}");
        }
        for bad in ["3em", "wide", "1e300", "NaN", "3 4"] {
            assert!(check_length(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_circle_is_drawn_finer_than_the_library_would() {
        let doc = usvg::roxmltree::Document::parse("<circle cx='1' cy='2' r='3mm'/>").unwrap();
        let d = fine_outline(doc.root_element()).unwrap();
        assert_eq!(d.matches('C').count(), 12);
    }
}
