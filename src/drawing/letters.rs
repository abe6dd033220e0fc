//! About where a text stands whose font is not there: nothing measures it.

use usvg::roxmltree::Node;

use super::scale::shape_length_px;
use super::transforms;
use super::xml::property;
use crate::shape::{Affine, Point, pt};

/// Width of a letter in its size, on average (common practice, no source).
const WIDE: f64 = 0.5;

/// Size of letters where the file states none: what the reading library and browsers take, user units.
const UNSTATED_SIZE: f64 = 16.0;

/// The corners of `count` letters of a size that begin at `at`, or with the share `back` of their length before it.
pub(super) fn corners(at: Point, size: f64, count: usize, back: f64) -> [Point; 4] {
    let wide = WIDE * size * count as f64;
    let left = at.x - wide * back;
    [pt(left, at.y), pt(left + wide, at.y), pt(left + wide, at.y - size), pt(left, at.y - size)]
}

/// The corners of a text in user units of the page, from what its element and the groups round it state; `None`
/// where copies, drawings within or transform origins make it another place.
pub(super) fn stated(text: Node<'_, '_>) -> Option<[Point; 4]> {
    let number = |name: &str| {
        let holder = text.descendants().find(|n| n.attribute(name).is_some())?;
        let first = holder.attribute(name)?.split([' ', ',']).find(|w| !w.is_empty())?;
        shape_length_px(first)
    };
    let of_near = |name: &str| text.ancestors().find_map(|n| property(n, name));
    let size = of_near("font-size").and_then(shape_length_px).filter(|s| *s > 0.0).unwrap_or(UNSTATED_SIZE);
    let back = match of_near("text-anchor") {
        Some("middle") => 0.5,
        Some("end") => 1.0,
        _ => 0.0,
    };
    let count: usize = text
        .descendants()
        .filter_map(|n| n.text().filter(|_| n.is_text()))
        .map(|t| t.split_whitespace().collect::<Vec<_>>().join(" ").chars().count())
        .sum();
    let mut map = Affine::IDENTITY;
    for node in text.ancestors().filter(Node::is_element) {
        let root = node.parent_element().is_none();
        if root {
            break;
        }
        if !matches!(node.tag_name().name(), "text" | "g" | "a" | "switch")
            || property(node, "transform-origin").is_some()
        {
            return None;
        }
        if let Some(list) = property(node, "transform") {
            map = transforms::map(&transforms::plain(list).ok()?)?.after(&map);
        }
    }
    let at = pt(number("x").unwrap_or(0.0), number("y").unwrap_or(0.0));
    Some(corners(at, size, count, back).map(|p| map.apply(p)))
}
