//! From the SVG reading library's tree to elements in millimetres.

use std::collections::BTreeMap;
use std::rc::Rc;

use usvg::{ClipPath, Group, Node, Path, Text, Tree};

use super::band::{Pen, band};
use super::flatten::{Polyline, polylines};
use super::fonts::Lacks;
use super::limits::{MAX_CLIPS_WITHIN, MAX_LAYER_BYTES, MAX_POINTS};
use super::model::{Element, Subpath};
use super::probe::StandIn;
use super::remarks::{Remark, Remarks, Spot};
use super::xml::{Fate, Sources};
use super::{clip, colour, filled, filters, letters};
use crate::say::Trouble;
use crate::shape::booleans::FillRule;
use crate::shape::{Affine, Bounds, Region, Ring, pt};

/// What the elements are read with.
pub(super) struct Reading<'a> {
    pub sources: &'a Sources,
    pub lacks: &'a Lacks,
    /// User units to the drawing frame.
    pub to_mm: Affine,
    pub chord_mm: f64,
    pub about: &'a str,
}

/// All elements of the tree, the lowest first; remarks on the rest.
///
/// # Errors
/// The drawing has more points than [`MAX_POINTS`] once flattened, or clip paths that cut each other beyond
/// [`MAX_CLIPS_WITHIN`].
pub(super) fn elements(
    tree: &Tree,
    reading: &Reading<'_>,
    remarks: &mut Remarks,
) -> Result<Vec<Element>, Trouble> {
    let mut walk = Walk {
        r: reading,
        remarks,
        came: vec![false; reading.sources.all.len()],
        elements: Vec::new(),
        points_left: MAX_POINTS,
        layer_bytes_left: MAX_LAYER_BYTES,
        of_id: BTreeMap::new(),
        clips: clip::Clips::new(reading.chord_mm),
    };
    let page = Place::page(reading.to_mm);
    walk.group(tree.root(), &page)?;
    walk.tell_what_did_not_come();
    Ok(walk.elements)
}

/// How far the drawing reaches right and down, user units.
pub(super) fn reach(tree: &Tree) -> [f64; 2] {
    fn of(group: &Group, outer: &Affine, all: &mut Bounds) {
        let map = outer.after(&affine(group.transform()));
        for child in group.children() {
            match child {
                Node::Group(g) => of(g, &map, all),
                Node::Path(p) if StandIn::of(p.data()).is_none() => *all = all.union(box_of(p, &map)),
                Node::Text(t) => of(t.flattened(), &map, all),
                Node::Path(_) | Node::Image(_) => {}
            }
        }
    }
    let mut all = Bounds::EMPTY;
    of(tree.root(), &Affine::IDENTITY, &mut all);
    if all.is_empty() { [0.0; 2] } else { [all.max.x, all.max.y] }
}

/// The box of a path's outline, mapped.
fn box_of(path: &Path, map: &Affine) -> Bounds {
    let b = path.data().bounds();
    let corners =
        [(b.left(), b.top()), (b.right(), b.top()), (b.right(), b.bottom()), (b.left(), b.bottom())];
    Bounds::of(corners.map(|(x, y)| map.apply(pt(f64::from(x), f64::from(y)))))
}

/// What holds for everything inside a group.
#[derive(Clone)]
struct Place {
    /// The group's own units to the drawing frame: the maps of all groups round it, one after another. The
    /// library's absolute maps are not used, for those of a copied symbol are not the ones it draws by.
    to_mm: Affine,
    /// The nearest group or copy whose element of the file is known.
    source: Option<usize>,
    clip: Option<Rc<Vec<Region>>>,
    hidden: bool,
    masked: bool,
    filtered: bool,
    reshaped: bool,
}

impl Place {
    /// Outside all groups.
    fn page(to_mm: Affine) -> Place {
        Place {
            to_mm,
            source: None,
            clip: None,
            hidden: false,
            masked: false,
            filtered: false,
            reshaped: false,
        }
    }
}

struct Walk<'a> {
    r: &'a Reading<'a>,
    remarks: &'a mut Remarks,
    /// Elements of the file that came out of the library, whatever became of them.
    came: Vec<bool>,
    elements: Vec<Element>,
    points_left: usize,
    layer_bytes_left: usize,
    /// By first place of an id: how many of its places have come.
    of_id: BTreeMap<usize, usize>,
    clips: clip::Clips,
}

impl Walk<'_> {
    fn group(&mut self, group: &Group, place: &Place) -> Result<(), Trouble> {
        let mut inner = place.clone();
        inner.to_mm = place.to_mm.after(&affine(group.transform()));
        if let Some(at) = self.find(group.id()) {
            inner.source = Some(at);
        }
        inner.hidden |= group.opacity().get() <= 0.0;
        inner.masked |= group.mask().is_some();
        let kept = filters::keep_shapes(group);
        inner.filtered |= !group.filters().is_empty() && kept;
        inner.reshaped |= !kept;
        if let Some(path) = group.clip_path() {
            let own = self.clip(path, &inner.to_mm)?;
            inner.clip = Some(match &place.clip {
                Some(outer) => Rc::new(crate::shape::booleans::intersection(outer, &own)),
                None => own,
            });
        }
        for child in group.children() {
            match child {
                Node::Group(g) => self.group(g, &inner)?,
                Node::Path(p) => {
                    let source = self.find_shape(p.id()).or(inner.source);
                    self.path(p, source, &inner)?;
                }
                Node::Text(t) => self.text(t, &inner)?,
                // Pictures are taken out of the copy and told of by name.
                Node::Image(_) => {}
            }
        }
        Ok(())
    }

    fn find(&self, id: &str) -> Option<usize> {
        self.r.sources.by_id.get(id).and_then(|places| places.first().copied())
    }

    /// The element of the file with this id; of several that share it, the next in the file's order.
    fn find_shape(&mut self, id: &str) -> Option<usize> {
        let places = self.r.sources.by_id.get(id)?;
        let first = places.first()?;
        if places.len() == 1 {
            return Some(*first);
        }
        let drawn = |at: &usize| self.r.sources.all.get(*at).is_some_and(|s| s.fate == Fate::Drawn);
        let from = self.of_id.entry(*first).or_default();
        let found = places.iter().enumerate().skip(*from).find(|(_, at)| drawn(at));
        *from = found.map_or(places.len(), |(i, _)| i + 1);
        found.map(|(_, at)| *at).or(places.last().copied())
    }

    /// The region a clip path lets show.
    fn clip(&mut self, path: &ClipPath, map: &Affine) -> Result<Rc<Vec<Region>>, Trouble> {
        self.clips.region(path, map, self.points_left).ok_or_else(|| {
            Trouble::bad_input(
                self.r.about,
                format!("clip paths within its clip paths pass {MAX_CLIPS_WITHIN} once they are written out"),
            )
            .hint("simplify the drawing or split it into several files")
        })
    }

    fn text(&mut self, text: &Text, place: &Place) -> Result<(), Trouble> {
        let source = self.find_shape(text.id()).or(place.source);
        let before = self.elements.len();
        let mut drawn = false;
        let letters = text.flattened();
        let mut inner = place.clone();
        inner.to_mm = place.to_mm.after(&affine(letters.transform()));
        for child in letters.children() {
            if let Node::Path(p) = child {
                self.path(p, source, &inner)?;
                drawn = true;
            }
        }
        let name = self.name_with_font(source);
        if self.r.lacks.touch(text) || !drawn {
            self.elements.truncate(before);
            let spot = self.spot(source, letters_box(text, &place.to_mm));
            self.remarks.place(Remark::TextLost, &spot);
            self.remarks.add(Remark::TextLost, name);
        } else if self.elements.len() > before {
            self.remarks.add(Remark::TextKept, name);
        }
        self.mark(source);
        Ok(())
    }

    fn path(&mut self, path: &Path, source: Option<usize>, place: &Place) -> Result<(), Trouble> {
        self.mark(source);
        let spot = self.spot(source, box_of(path, &place.to_mm));
        if let Some(stand_in) = StandIn::of(path.data()) {
            // The remark itself is made where the file is looked at.
            let kind = match stand_in {
                StandIn::Picture => Remark::Picture,
                StandIn::Foreign => Remark::Foreign,
                StandIn::MissingCopy => Remark::MissingCopy,
            };
            if !place.hidden && path.is_visible() {
                self.remarks.place(kind, &spot);
            }
            return Ok(());
        }
        let name = self.name(source);
        let file = source.and_then(|at| self.r.sources.all.get(at));
        let hairline = file.and_then(|s| s.look.hairline());
        let fill = path.fill().filter(|f| f.opacity().get() > 0.0);
        let stroke = path.stroke().filter(|s| s.opacity().get() > 0.0);
        // The library knows style sheets too; of what has no paint for it only the file tells.
        let unseen = match fill.is_some() || stroke.is_some() {
            true => !path.is_visible(),
            false => file.is_some_and(|s| s.look.invisible),
        };
        if place.hidden || unseen {
            self.tell(Remark::Hidden, name, &spot);
            return Ok(());
        }
        if fill.is_none() && stroke.is_none() && hairline.is_none() {
            self.tell(Remark::NoPaint, name, &spot);
            return Ok(());
        }
        let map = place.to_mm;
        let Some(lines) = polylines(path.data(), &map, self.r.chord_mm, self.points_left) else {
            if path.data().len() >= self.points_left {
                return Err(too_many_points(self.r.about));
            }
            self.remarks.add(Remark::TooFar, name);
            return Ok(());
        };
        let points: usize = lines.iter().map(|l| l.points.len()).sum();
        self.points_left =
            self.points_left.checked_sub(points).ok_or_else(|| too_many_points(self.r.about))?;

        let reach_mm = stroke.map_or(0.0, |s| Pen::of(s).half_mm(&map));
        if filled::is_tangled(&lines, 0.0) || (reach_mm > 0.0 && filled::is_tangled(&lines, reach_mm)) {
            self.tell(Remark::Tangled, name, &spot);
            return Ok(());
        }
        let rings = || lines.iter().map(|l| Ring::new(l.points.clone())).collect();
        let mut whole = fill.map_or_else(Vec::new, |f| filled::islands(rings(), rule(f.rule())));
        let mut strip = stroke.map_or_else(Vec::new, |s| {
            let mut strip = band(&lines, &Pen::of(s), &map);
            filled::in_order(&mut strip);
            strip
        });
        let mut subpaths: Vec<Subpath> =
            lines.into_iter().filter(|l| l.points.len() > 1).map(subpath).collect();
        if let Some(clip) = &place.clip {
            let (a, b) = (clip::showing(&whole, clip), clip::showing(&strip, clip));
            if a.is_some() || b.is_some() {
                whole = a.unwrap_or(whole);
                strip = b.unwrap_or(strip);
                if whole.is_empty() && strip.is_empty() {
                    self.tell(Remark::OffClip, name, &spot);
                    return Ok(());
                }
                self.remarks.add(Remark::Clipped, name.as_str());
                subpaths = if whole.is_empty() { outlines(&strip) } else { outlines(&whole) };
            }
        }
        if whole.is_empty() && strip.is_empty() && subpaths.iter().all(is_a_point) {
            self.tell(Remark::NoOutline, name, &spot);
            return Ok(());
        }
        self.remark_on(&name, &spot, place, fill, stroke);
        if file.is_some_and(|s| s.look.has_markers()) {
            self.remarks.place(Remark::Markers, &spot);
        }
        if file.is_some_and(|s| s.not_followed) {
            self.remarks.place(Remark::NotFollowed, &spot);
        }
        for gap in subpaths.iter().filter(|s| s.closed && s.gap_mm > 0.0).map(|s| s.gap_mm) {
            self.remarks.add(Remark::ClosedGap, format!("{name} (gap {gap:.2} mm)"));
        }
        if hairline.is_some() {
            self.remarks.add(Remark::Hairline, name.as_str());
        }
        let layers = source.map_or_else(Vec::new, |at| self.r.sources.layers(at));
        let bytes = layers.iter().map(String::len).sum();
        self.layer_bytes_left = self.layer_bytes_left.checked_sub(bytes).ok_or_else(|| {
            Trouble::bad_input(
                self.r.about,
                format!("its layer names, counted for every shape, pass {MAX_LAYER_BYTES} bytes"),
            )
            .hint("shorten the names of groups in the drawing")
        })?;
        self.elements.push(Element {
            id: file.map_or_else(|| format!("shape-{}", self.elements.len() + 1), |s| s.id.clone()),
            line: file.map_or(0, |s| s.line),
            layers,
            // A fill that covers nothing (of a straight line, say) shows no colour.
            fill: fill.filter(|_| !whole.is_empty()).and_then(|f| colour::of(f.paint())),
            stroke: match stroke {
                Some(s) => colour::of(s.paint()),
                None => hairline.and_then(colour::hex),
            },
            subpaths,
            filled: whole,
            band: strip,
        });
        Ok(())
    }

    fn remark_on(
        &mut self,
        name: &str,
        spot: &Spot,
        place: &Place,
        fill: Option<&usvg::Fill>,
        stroke: Option<&usvg::Stroke>,
    ) {
        let fill_is = |pattern: bool| {
            fill.is_some_and(|f| match f.paint() {
                usvg::Paint::Color(_) => false,
                usvg::Paint::Pattern(_) => pattern,
                usvg::Paint::LinearGradient(_) | usvg::Paint::RadialGradient(_) => !pattern,
            })
        };
        for (holds, remark) in [
            (place.masked, Remark::Masked),
            (place.reshaped, Remark::Reshaped),
            (place.filtered && !place.reshaped, Remark::Filtered),
            (fill_is(false), Remark::Gradient),
            (fill_is(true), Remark::Pattern),
            (stroke.is_some_and(|s| s.dasharray().is_some()), Remark::Dashed),
        ] {
            if holds {
                self.tell(remark, name, spot);
            }
        }
    }

    fn tell(&mut self, kind: Remark, name: impl Into<String>, spot: &Spot) {
        self.remarks.add(kind, name);
        self.remarks.place(kind, spot);
    }

    fn spot(&self, source: Option<usize>, bounds: Bounds) -> Spot {
        let file = source.and_then(|at| self.r.sources.all.get(at));
        Spot {
            id: file.map_or_else(|| "a shape".to_owned(), |s| s.id.clone()),
            line: file.map_or(0, |s| s.line),
            beneath: self.elements.len(),
            bounds,
        }
    }

    fn mark(&mut self, source: Option<usize>) {
        if let Some(came) = source.and_then(|at| self.came.get_mut(at)) {
            *came = true;
        }
    }

    fn name(&self, source: Option<usize>) -> String {
        source.map_or_else(|| "a shape".to_owned(), |at| self.r.sources.name(at))
    }

    fn name_with_font(&self, source: Option<usize>) -> String {
        let file = source.and_then(|at| self.r.sources.all.get(at));
        let font = file.and_then(|s| s.look.font.as_deref()).unwrap_or("not stated");
        format!("{} (font {font})", self.name(source))
    }

    fn tell_what_did_not_come(&mut self) {
        for (at, source) in self.r.sources.all.iter().enumerate() {
            if source.fate != Fate::Drawn || self.came.get(at).copied().unwrap_or(true) {
                continue;
            }
            if source.tag == "text" {
                let name = self.name_with_font(Some(at));
                self.remarks.add(Remark::TextLost, name);
                if let Some(corners) = source.letters {
                    let spot = self.spot(Some(at), Bounds::of(corners.map(|p| self.r.to_mm.apply(p))));
                    self.remarks.place(Remark::TextLost, &spot);
                }
            } else {
                let name = self.r.sources.name(at);
                self.remarks.add(if source.look.invisible { Remark::Hidden } else { Remark::Unread }, name);
            }
        }
    }
}

fn too_many_points(about: &str) -> Trouble {
    Trouble::bad_input(about, format!("it has more than {MAX_POINTS} points once its curves are flattened"))
        .hint("simplify the drawing or split it into several files")
}

fn subpath(line: Polyline) -> Subpath {
    Subpath { points: line.points, closed: line.closed, gap_mm: line.gap_mm }
}

fn is_a_point(subpath: &Subpath) -> bool {
    subpath.points.windows(2).all(|w| matches!(w, [a, b] if a == b))
}

/// About where a text without outlines stands: its chunks' starting points and letters of its size.
fn letters_box(text: &Text, map: &Affine) -> Bounds {
    let mut all = Bounds::EMPTY;
    let mut at = pt(0.0, 0.0);
    for chunk in text.chunks() {
        at = pt(chunk.x().map_or(at.x, f64::from), chunk.y().map_or(at.y, f64::from));
        let size = chunk.spans().iter().map(|s| f64::from(s.font_size().get())).fold(0.0, f64::max);
        let back = match chunk.anchor() {
            usvg::TextAnchor::Start => 0.0,
            usvg::TextAnchor::Middle => 0.5,
            usvg::TextAnchor::End => 1.0,
        };
        let corners = letters::corners(at, size, chunk.text().chars().count(), back);
        all = all.union(Bounds::of(corners.map(|p| map.apply(p))));
    }
    all
}

fn outlines(regions: &[Region]) -> Vec<Subpath> {
    regions
        .iter()
        .flat_map(Region::rings)
        .map(|r| Subpath { points: r.points.clone(), closed: true, gap_mm: 0.0 })
        .collect()
}

/// The library's map, in double precision.
pub(super) fn affine(t: usvg::Transform) -> Affine {
    Affine([t.sx, t.ky, t.kx, t.sy, t.tx, t.ty].map(f64::from))
}

pub(super) fn rule(rule: usvg::FillRule) -> FillRule {
    match rule {
        usvg::FillRule::NonZero => FillRule::NonZero,
        usvg::FillRule::EvenOdd => FillRule::EvenOdd,
    }
}
