//! True scale: what one user unit of the drawing is in millimetres, decided here and nowhere else.
//!
//! | row | `width`, `height` | `viewBox` | page | one user unit |
//! |---|---|---|---|---|
//! | 1 | both, at least one with a unit | given | as stated | by viewBox and preserveAspectRatio |
//! | 2 | both, at least one with a unit | none | as stated | 1/96 in; advice: was the editor's unit another? |
//! | 3 | both, in px or bare numbers | given | px at 96 per inch | by viewBox; caution: no physical size |
//! | 4 | both, in px or bare numbers | none | px at 96 per inch | 1/96 in; caution |
//! | 5 | one of them | given | the other from the viewBox's proportions | by viewBox; caution if in px |
//! | 6 | one of them | none | the other as far as the drawing reaches | 1/96 in; as 2 or 4 |
//! | 7 | none, or in percent | given | viewBox, px at 96 per inch | 1/96 in; caution |
//! | 8 | none, or in percent | none | as far as the drawing reaches | 1/96 in; caution |
//!
//! Lengths are CSS lengths (CSS Values and Units Level 3, section 6.2, absolute lengths): 1 in = 2.54 cm =
//! 25.4 mm = 101.6 q = 72 pt = 6 pc = 96 px. `em`, `ex`, `vw` and the like have no size on paper: an error.
//! A page whose proportions differ from its viewBox is fitted as `preserveAspectRatio` says, and said.
//! A width the maker states replaces the page's, the height in proportion; otherwise `drawing_scale` is a
//! factor on both.

use crate::say::{Note, Trouble};
use crate::shape::{Affine, tol};

/// Millimetres in one CSS pixel, exactly 25.4/96.
pub const PX_MM: f64 = 25.4 / 96.0;

/// The smallest page, mm.
const SMALLEST_PAGE_MM: f64 = 0.01;

/// Sizes whose proportions differ by less than this share are the same shape rounded differently.
const SAME_PROPORTION: f64 = 0.001;

/// Sizes this near to a paper size are meant to be that paper, mm: editors round to whole points.
const PAPER_MM: f64 = 0.6;

/// What the root element states, as written.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Stated<'a> {
    pub width: Option<&'a str>,
    pub height: Option<&'a str>,
    pub view_box: Option<&'a str>,
    pub aspect: Option<&'a str>,
}

/// The maker's corrections.
#[derive(Clone, Copy, Debug)]
pub(super) struct Mend {
    pub drawing_scale: f64,
    pub width_mm: Option<f64>,
    /// The maker stands for the size that comes of it.
    pub confirmed: bool,
}

/// A length as written: millimetres, and whether it has a physical unit.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Length {
    mm: f64,
    physical: bool,
}

/// How user units become millimetres, as far as the root element tells.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Scale {
    width: Option<Length>,
    height: Option<Length>,
    view: Option<[f64; 4]>,
    aspect: Aspect,
}

/// The page and the map onto it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Page {
    /// Width and height, mm.
    pub size_mm: [f64; 2],
    /// User units (y down) to the drawing frame (mm, y up).
    pub to_mm: Affine,
    /// Doubts about the scale.
    pub notes: Vec<Note>,
    /// The page's size is stated in a unit of length, not in pixels alone.
    pub physical: bool,
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Aspect {
    /// Share of the spare room left of and above the drawing; `None` stretches it.
    align: Option<[f64; 2]>,
    slice: bool,
}

impl Scale {
    /// Reads the root's attributes.
    ///
    /// # Errors
    /// A length, viewBox or preserveAspectRatio that cannot be read, or a page without size.
    pub fn read(stated: Stated<'_>, about: &str) -> Result<Scale, Trouble> {
        let side = |name: &str, text: Option<&str>| -> Result<Option<Length>, Trouble> {
            let Some(text) = text.map(str::trim) else { return Ok(None) };
            let length = length(text).map_err(|what| {
                Trouble::bad_input(about, format!("the page's {name} \"{text}\" {what}"))
                    .hint("state width and height in mm, cm, in, pt or px")
            })?;
            match length {
                Some(l) if !(SMALLEST_PAGE_MM..=tol::FARTHEST_MM).contains(&l.mm) => Err(Trouble::bad_input(
                    about,
                    format!("the page's {name} is {text}; it must be at least a hundredth of a millimetre and at most a kilometre"),
                )
                .hint("set the page size in the drawing program and export again")),
                other => Ok(other),
            }
        };
        let view = match stated.view_box {
            None => None,
            Some(text) => Some(view_box(text).ok_or_else(|| {
                Trouble::bad_input(
                    about,
                    format!("its viewBox \"{text}\" is not four numbers with a width and height above 0"),
                )
                .hint("set the page size in the drawing program and export again")
            })?),
        };
        let aspect = stated.aspect.map_or(Some(Aspect::MIDDLE), Aspect::read).ok_or_else(|| {
            Trouble::bad_input(
                about,
                format!("its preserveAspectRatio \"{}\" cannot be read", stated.aspect.unwrap_or_default()),
            )
        })?;
        Ok(Scale {
            width: side("width", stated.width)?,
            height: side("height", stated.height)?,
            view,
            aspect,
        })
    }

    /// Size of the user space, user units: what percentages refer to.
    pub fn user_size(&self) -> Option<[f64; 2]> {
        match self.view {
            Some([_, _, w, h]) => Some([w, h]),
            None => Some([self.width?.mm / PX_MM, self.height?.mm / PX_MM]),
        }
    }

    /// The page and the map onto it. `reach` is how far the drawing reaches right and down, user units; it
    /// counts only for rows 6 and 8.
    ///
    /// # Errors
    /// A page that comes out with no size or beyond all bounds.
    pub fn page(&self, reach: [f64; 2], mend: Mend, about: &str) -> Result<Page, Trouble> {
        let [vx, vy, vw, vh] = self.view.unwrap_or([0.0, 0.0, 0.0, 0.0]);
        let has_view = self.view.is_some();
        let open = |k: usize| reach[k].max(0.0) * PX_MM;
        let size = match (self.width, self.height) {
            (Some(w), Some(h)) => [w.mm, h.mm],
            (Some(w), None) => [w.mm, if has_view { w.mm * vh / vw } else { open(1) }],
            (None, Some(h)) => [if has_view { h.mm * vw / vh } else { open(0) }, h.mm],
            (None, None) if has_view => [vw * PX_MM, vh * PX_MM],
            (None, None) => [open(0), open(1)],
        };
        let factor = match mend.width_mm {
            Some(w) => w / size[0],
            None => mend.drawing_scale,
        };
        let page = size.map(|s| s * factor);
        if page.iter().any(|s| !(*s > 0.0 && *s <= tol::FARTHEST_MM)) {
            return Err(Trouble::bad_input(
                about,
                format!("its page comes out as {} × {} mm", say(page[0]), say(page[1])),
            )
            .hint("state width, height and viewBox in the drawing, or check drawing_scale and --width-mm"));
        }
        let mut notes = Vec::new();
        let [sx, sy, tx, ty] =
            if has_view { self.fit(size, &mut notes, about) } else { [PX_MM, PX_MM, 0.0, 0.0] };
        self.doubt(size, mend, has_view, &mut notes, about);
        let (sx, sy, tx, ty) = (sx * factor, sy * factor, tx * factor, ty * factor);
        let to_mm = Affine([sx, 0.0, 0.0, -sy, tx - sx * vx, page[1] - ty + sy * vy]);
        Ok(Page { size_mm: page, to_mm, notes, physical: self.is_physical() })
    }

    fn is_physical(&self) -> bool {
        [self.width, self.height].iter().flatten().any(|l| l.physical)
    }

    fn fit(&self, size: [f64; 2], notes: &mut Vec<Note>, about: &str) -> [f64; 4] {
        let [_, _, vw, vh] = self.view.unwrap_or([0.0, 0.0, 1.0, 1.0]);
        let (sx, sy) = (size[0] / vw, size[1] / vh);
        let (sx, sy, tx, ty, how) = match self.aspect.align {
            None => (sx, sy, 0.0, 0.0, "it is stretched, as its preserveAspectRatio says"),
            Some([ax, ay]) => {
                let s = if self.aspect.slice { sx.max(sy) } else { sx.min(sy) };
                let how = if self.aspect.slice {
                    "it fills the page and parts of it lie outside, as its preserveAspectRatio says"
                } else {
                    "it is fitted into the page, as its preserveAspectRatio says"
                };
                (s, s, (size[0] - s * vw) * ax, (size[1] - s * vh) * ay, how)
            }
        };
        if ((size[0] / size[1]) / (vw / vh) - 1.0).abs() > SAME_PROPORTION {
            notes.push(Note::caution(
                format!("drawing {about}"),
                format!(
                    "the page ({} × {} mm) has other proportions than the viewBox ({} × {}); {how}. \
                     Measure a known length before cutting.",
                    say(size[0]),
                    say(size[1]),
                    say(vw),
                    say(vh)
                ),
            ));
        }
        [sx, sy, tx, ty]
    }

    fn doubt(&self, size: [f64; 2], mend: Mend, has_view: bool, notes: &mut Vec<Note>, about: &str) {
        if mend.width_mm.is_some() {
            return;
        }
        let about = format!("drawing {about}");
        let physical = self.is_physical();
        if physical && has_view {
            return;
        }
        let sizes = |per_inch: f64| {
            let k = 96.0 / per_inch;
            format!("{} × {} mm (drawing_scale {:.4})", say(size[0] * k), say(size[1] * k), k)
        };
        if mend.drawing_scale != 1.0 || (mend.confirmed && !physical) {
            let k = mend.drawing_scale;
            notes.push(Note::advice(
                about,
                format!(
                    "this drawing states no physical scale; at 96 px per inch and drawing_scale {k} its page is \
                     {} × {} mm.",
                    say(size[0] * k),
                    say(size[1] * k)
                ),
            ));
        } else if physical {
            notes.push(Note::advice(
                about,
                format!(
                    "this drawing states a page of {} × {} mm but no viewBox: its coordinates were read at 96 per \
                     inch. If the drawing program counted 72 or 90 per inch, set drawing_scale to 1.3333 or 1.0667.",
                    say(size[0]),
                    say(size[1])
                ),
            ));
        } else {
            let likely = [72.0, 90.0, 96.0]
                .iter()
                .find_map(|d| paper(size.map(|s| s * 96.0 / d)).map(|name| (d, name)))
                .map(|(d, name)| format!(" At {d} per inch the page is exactly {name}, so that is likely."))
                .unwrap_or_default();
            notes.push(Note::caution(
                about,
                format!(
                    "this drawing states no physical size; it was read at 96 px per inch: {} × {} mm. If that is \
                     wrong, set drawing_scale or --width-mm: 72 per inch would be {}, 90 per inch {}.{likely} If it is right, \
                     \"drawing_scale\": 1 in the job says so.",
                    say(size[0]),
                    say(size[1]),
                    sizes(72.0),
                    sizes(90.0)
                ),
            ));
        }
    }
}

impl Aspect {
    /// SVG's default, `xMidYMid meet`.
    const MIDDLE: Aspect = Aspect { align: Some([0.5, 0.5]), slice: false };

    fn read(text: &str) -> Option<Aspect> {
        let mut words = text.split_whitespace().skip_while(|w| *w == "defer");
        let align = match words.next()? {
            "none" => None,
            word => {
                let share = |w: &str| match w {
                    "Min" => Some(0.0),
                    "Mid" => Some(0.5),
                    "Max" => Some(1.0),
                    _ => None,
                };
                let (x, y) = word.strip_prefix('x')?.split_once('Y')?;
                Some([share(x)?, share(y)?])
            }
        };
        let slice = match words.next() {
            None | Some("meet") => false,
            Some("slice") => true,
            Some(_) => return None,
        };
        words.next().is_none().then_some(Aspect { align, slice })
    }
}

/// Millimetres in one of a CSS unit; `None` for a unit without a size on paper.
pub(super) fn unit_mm(unit: &str) -> Option<f64> {
    match unit.to_ascii_lowercase().as_str() {
        "" | "px" => Some(PX_MM),
        "mm" => Some(1.0),
        "cm" => Some(10.0),
        "in" => Some(25.4),
        "q" => Some(0.25),
        "pt" => Some(25.4 / 72.0),
        "pc" => Some(25.4 / 6.0),
        _ => None,
    }
}

/// Splits a length into its number and its unit.
pub(super) fn split_length(text: &str) -> Option<(f64, &str)> {
    let text = text.trim();
    // The longest head that is a number: `1e3mm` and `2em` both come apart rightly.
    let ends = (1..=text.len().min(40)).rev().filter(|i| text.is_char_boundary(*i));
    for end in ends {
        let head = &text[..end];
        if head.ends_with(|c: char| c.is_ascii_digit() || c == '.')
            && let Ok(number) = head.parse::<f64>()
        {
            let unit = &text[end..];
            let plain = unit.bytes().all(|b| b.is_ascii_alphabetic()) || unit == "%";
            return plain.then_some((number, unit));
        }
    }
    None
}

/// A length of the shapes in px (user units); `None` when it cannot be read or is relative.
pub(super) fn shape_length_px(text: &str) -> Option<f64> {
    let (number, unit) = split_length(text)?;
    let px = number * unit_mm(unit)? / PX_MM;
    (px.abs() <= tol::FARTHEST_MM).then_some(if unit.is_empty() { number } else { px })
}

fn length(text: &str) -> Result<Option<Length>, String> {
    if text == "auto" {
        return Ok(None);
    }
    let (number, unit) = split_length(text).ok_or("is not a length")?;
    if unit == "%" {
        return Ok(None);
    }
    let mm = unit_mm(unit).ok_or_else(|| format!("has the unit \"{unit}\", which has no size on paper"))?;
    Ok(Some(Length { mm: number * mm, physical: !matches!(unit.to_ascii_lowercase().as_str(), "" | "px") }))
}

/// The four numbers of a viewBox, when they make one.
pub(super) fn view_box(text: &str) -> Option<[f64; 4]> {
    let numbers: Vec<f64> = text
        .split(|c: char| c.is_ascii_whitespace() || c == ',')
        .filter(|w| !w.is_empty())
        .map(|w| w.parse().ok().filter(|v: &f64| v.abs() <= tol::FARTHEST_MM))
        .collect::<Option<_>>()?;
    let v: [f64; 4] = numbers.try_into().ok()?;
    // Smaller than a millionth of a unit is no page; the reading library counts in single precision.
    (v[2] > 1e-6 && v[3] > 1e-6).then_some(v)
}

/// The paper a page is, if it is one. Sizes: ISO 216 A series (rounded to mm); letter and legal, 8.5 × 11 and
/// 8.5 × 14 in.
fn paper(size: [f64; 2]) -> Option<&'static str> {
    const PAPERS: [(&str, f64, f64); 8] = [
        ("A0", 841.0, 1189.0),
        ("A1", 594.0, 841.0),
        ("A2", 420.0, 594.0),
        ("A3", 297.0, 420.0),
        ("A4", 210.0, 297.0),
        ("A5", 148.0, 210.0),
        ("letter paper", 215.9, 279.4),
        ("legal paper", 215.9, 355.6),
    ];
    let (short, long) = (size[0].min(size[1]), size[0].max(size[1]));
    PAPERS
        .iter()
        .find(|(_, w, h)| (w - short).abs() <= PAPER_MM && (h - long).abs() <= PAPER_MM)
        .map(|(name, ..)| *name)
}

/// A length for people: two decimals at most.
fn say(v: f64) -> String {
    let text = format!("{v:.2}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

#[cfg(test)]
#[path = "scale_tests.rs"]
mod tests;
