//! Stand-ins for what is no shape: pictures, other content, copies of what is not there.
//!
//! Such things are written into the copy for the SVG reading library as paths, so that every transform, copy and
//! clip round them moves the stand-in too, and it comes out where the lost thing would be seen. A copied element
//! loses its id on the way, and any style sheet may paint it: only its outline tells that it is a stand-in.
//! It is a rectangle whose first side is drawn to and fro, which nobody draws.

use usvg::tiny_skia_path::{Path, PathSegment};

/// What a stand-in stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum StandIn {
    Picture,
    Foreign,
    MissingCopy,
}

impl StandIn {
    const ALL: [StandIn; 3] = [StandIn::Picture, StandIn::Foreign, StandIn::MissingCopy];

    /// How often the first side is drawn to and fro.
    fn strokes(self) -> usize {
        match self {
            StandIn::Picture => 3,
            StandIn::Foreign => 4,
            StandIn::MissingCopy => 5,
        }
    }

    /// Path data of the rectangle.
    pub fn outline(self, [x, y, w, h]: [f64; 4]) -> String {
        let (r, b) = (x + w, y + h);
        let strokes = format!("L{r} {y}L{x} {y}").repeat(self.strokes());
        format!("M{x} {y}{strokes}L{r} {y}L{r} {b}L{x} {b}Z")
    }

    /// What a path stands for, if it is a stand-in.
    pub fn of(path: &Path) -> Option<StandIn> {
        let mut points = Vec::new();
        for segment in path.segments() {
            match segment {
                PathSegment::MoveTo(p) if points.is_empty() => points.push(p),
                PathSegment::LineTo(p) if !points.is_empty() => points.push(p),
                PathSegment::Close => {}
                _ => return None,
            }
        }
        let (a, b) = (points.first()?, points.get(1)?);
        let to_and_fro = |n: usize| {
            points.len() == 2 * n + 4
                && points.iter().take(2 * n + 2).enumerate().all(|(k, p)| p == if k % 2 == 0 { a } else { b })
        };
        StandIn::ALL.into_iter().find(|s| to_and_fro(s.strokes()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stand_in_is_known_by_its_outline_and_nothing_else_is() {
        let outline = |d: &str| {
            let svg =
                format!("<svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'><path d='{d}'/></svg>");
            let tree = usvg::Tree::from_str(&svg, &usvg::Options::default()).unwrap();
            match tree.root().children().first() {
                Some(usvg::Node::Path(p)) => StandIn::of(p.data()),
                other => panic!("{other:?}"),
            }
        };
        for s in StandIn::ALL {
            assert_eq!(outline(&s.outline([1.0, 2.0, 5.0, 4.0])), Some(s));
        }
        for d in ["M1 1H5V5H1Z", "M1 1H5H1H5V5H1Z", "M1 1H5H1H5H1H5H1H5", "M1 1C5 5 5 1 1 5Z"] {
            assert_eq!(outline(d), None, "{d}");
        }
    }
}
