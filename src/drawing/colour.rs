//! Colours as the drawing and the rules write them.

/// A colour as `#rrggbb` in lower case, from any notation SVG knows (`#rgb`, `#rrggbb`, names, `rgb(…)`);
/// `None` when it is none of them. Transparency is dropped.
pub(super) fn hex(text: &str) -> Option<String> {
    let text = text.trim();
    let known = |c: char| c.is_ascii_alphanumeric() || "#(),.% +-".contains(c);
    if text.is_empty()
        || text.len() > 60
        || !text.chars().all(known)
        || text.eq_ignore_ascii_case("currentcolor")
    {
        return None;
    }
    // The library that read the drawing reads the rule, so both know the same names. It drops a stroke whose
    // colour it cannot read.
    let probe = format!(
        "<svg xmlns=\"{}\" width=\"1\" height=\"1\"><path d=\"M0 0h1v1z\" stroke=\"{text}\"/></svg>",
        super::xml::SVG_NS
    );
    let tree = usvg::Tree::from_str(&probe, &usvg::Options::default()).ok()?;
    match tree.root().children().first()? {
        usvg::Node::Path(path) => of(path.stroke()?.paint()),
        _ => None,
    }
}

/// The colour of a paint, `#rrggbb`; `None` for gradients and patterns.
pub(super) fn of(paint: &usvg::Paint) -> Option<String> {
    match paint {
        usvg::Paint::Color(c) => Some(format!("#{:02x}{:02x}{:02x}", c.red, c.green, c.blue)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Names and values: SVG 1.1, section 4.4 (recognised colour keywords); CSS Color Level 3, section 4.2.
    #[test]
    fn every_notation_comes_out_alike() {
        for (text, wanted) in [
            ("#ABC", "#aabbcc"),
            ("#22304F", "#22304f"),
            ("RosyBrown", "#bc8f8f"),
            ("DarkSlateGray", "#2f4f4f"),
            ("rgb(255, 0, 10)", "#ff000a"),
        ] {
            assert_eq!(hex(text).as_deref(), Some(wanted), "{text}");
        }
        for bad in ["", "sea-ish", "#12", "none", "url(#a)", "currentColor", "\"/><script>"] {
            assert_eq!(hex(bad), None, "{bad}");
        }
    }
}
