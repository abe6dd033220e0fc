//! Whether a filter leaves the outline of what it is for where it is.

use usvg::filter::{ColorMatrixKind, CompositeOperator, Filter, Input, Kind, Primitive, TransferFunction};
use usvg::{Group, NonZeroRect, Rect};

/// How a picture within a filter stands to the shape the filter is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stand {
    /// The shape shows in it, where it is; it may be softened, and have something round it.
    Shape,
    /// It covers all of the filter's region.
    Whole,
    /// Anything else.
    Other,
}

/// True when none of a group's filters moves its shapes or changes their outlines: what softens or recolours does
/// not, nor does what is added round or beneath them, as a shadow is.
pub(super) fn keep_shapes(group: &Group) -> bool {
    let bounds = group.stroke_bounding_box();
    group.filters().iter().all(|f| keeps(f, bounds))
}

fn keeps(filter: &Filter, bounds: Rect) -> bool {
    let mut results: Vec<(&str, Stand)> = Vec::new();
    for p in filter.primitives() {
        let stand = stand(p, &results);
        let cut = !holds(p.rect(), bounds) || !holds(filter.rect(), bounds);
        results.push((p.result(), if cut { Stand::Other } else { stand }));
    }
    results.last().is_none_or(|(_, last)| *last == Stand::Shape)
}

/// True when the region holds the box, but for what reckoning in single precision adds.
fn holds(region: NonZeroRect, bounds: Rect) -> bool {
    let slack = 1e-4 * (region.width() + region.height());
    region.left() <= bounds.left() + slack
        && region.top() <= bounds.top() + slack
        && region.right() >= bounds.right() - slack
        && region.bottom() >= bounds.bottom() - slack
}

fn stand(p: &Primitive, results: &[(&str, Stand)]) -> Stand {
    use Stand::{Other, Shape, Whole};
    let of = |input: &Input| match input {
        Input::SourceGraphic | Input::SourceAlpha => Shape,
        Input::Reference(name) => {
            results.iter().rev().find(|(n, _)| n == name).map_or(Shape, |(_, stand)| *stand)
        }
    };
    // One laid over another: the shape shows when it is in either.
    let over = |a: Stand, b: Stand| match (a, b) {
        (Whole, _) | (_, Whole) => Whole,
        (Shape, _) | (_, Shape) => Shape,
        _ => Other,
    };
    match p.kind() {
        Kind::Blend(f) => over(of(f.input1()), of(f.input2())),
        Kind::Merge(f) => f.inputs().iter().map(of).reduce(over).unwrap_or(Other),
        Kind::GaussianBlur(f) => of(f.input()),
        Kind::DropShadow(f) => of(f.input()),
        Kind::ColorMatrix(f) if keeps_alpha(f.kind()) => of(f.input()),
        Kind::ComponentTransfer(f) if matches!(f.func_a(), TransferFunction::Identity) => of(f.input()),
        Kind::ConvolveMatrix(f) if f.preserve_alpha() => of(f.input()),
        Kind::Offset(f) if f.dx() == 0.0 && f.dy() == 0.0 => of(f.input()),
        Kind::Composite(f) => match (f.operator(), of(f.input1()), of(f.input2())) {
            (CompositeOperator::Over, a, b) => over(a, b),
            (CompositeOperator::Atop, _, b) => b,
            (CompositeOperator::In, Shape, Shape | Whole) | (CompositeOperator::In, Whole, Shape) => Shape,
            _ => Other,
        },
        Kind::Flood(f) if f.opacity().get() > 0.0 => Whole,
        Kind::DiffuseLighting(_) => Whole,
        Kind::ColorMatrix(_)
        | Kind::ComponentTransfer(_)
        | Kind::ConvolveMatrix(_)
        | Kind::DisplacementMap(_)
        | Kind::Flood(_)
        | Kind::Image(_)
        | Kind::Morphology(_)
        | Kind::Offset(_)
        | Kind::SpecularLighting(_)
        | Kind::Tile(_)
        | Kind::Turbulence(_) => Other,
    }
}

/// True when what is clear stays clear, and what is not does not become so.
fn keeps_alpha(kind: &ColorMatrixKind) -> bool {
    match kind {
        ColorMatrixKind::Saturate(_) | ColorMatrixKind::HueRotate(_) => true,
        ColorMatrixKind::LuminanceToAlpha => false,
        ColorMatrixKind::Matrix(m) => {
            matches!(m.get(15..20), Some([r, g, b, a, more]) if *r == 0.0 && *g == 0.0 && *b == 0.0 && *a > 0.0 && *more == 0.0)
        }
    }
}
