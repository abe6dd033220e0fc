//! A small picture of an offcut, to know it by.

use crate::cloth::Cloth;
use crate::shape::pt;

use super::frame::{BELOW, LEFT, Sheet, rulers};
use super::ground::flaw_hatch;
use super::passes::mark_sign;
use super::pen::{self, INK, MADDER, SOFT_INK, Words};
use super::weave::Fill;
use crate::write::xml::{el, picture};

/// Widest and highest it is drawn.
const SIZE: f64 = 460.0;
/// Largest scale, units per mm.
const LARGEST_SCALE: f64 = 1.5;
/// Room round it.
const PAD: f64 = 28.0;
/// Room above it for its name.
const TITLE: f64 = 62.0;

/// The offcut as it lies face up, warp upright: its pattern where it falls, what is cut away, the crosses `burnt` into
/// it, its size. `name` stands above, `words` below that.
pub fn offcut_svg(cloth: &Cloth, burnt: &[[f64; 2]], name: &str, words: &str) -> String {
    let sheet = Sheet::fitting(cloth.outline.bounds(), SIZE, SIZE, LARGEST_SCALE);
    let longest = crate::write::letters::width(name, 22.0).max(crate::write::letters::width(words, 12.0));
    let width = (sheet.width() + LEFT + PAD).max(longest + 2.0 * PAD);
    let height = sheet.height() + TITLE + PAD + BELOW;
    let sheet = sheet.at_corner(pt(LEFT, PAD + TITLE));
    let fill = Fill::of(Some(cloth), &sheet);
    let mut defs = el("defs").add(flaw_hatch());
    let paint = match fill.pattern("weave") {
        Some(pattern) => {
            defs = defs.add(pattern);
            "url(#weave)".to_owned()
        }
        None => fill.colour(),
    };
    let outline = el("path")
        .set("d", pen::rings_data([&sheet.ring(&cloth.outline)]))
        .set("fill", paint)
        .set("stroke", INK)
        .num("stroke-width", 1.6);
    let gone = cloth.flaws.iter().map(|f| {
        el("path")
            .set("d", pen::rings_data([&sheet.ring(f)]))
            .set("fill", pen::PAPER)
            .set("fill-opacity", "0.9")
            .set("stroke", MADDER)
            .num("stroke-width", 1.2)
    });
    let page = picture(width.ceil(), height.ceil(), "")
        .add(el("title").text(name))
        .add(defs)
        .add(pen::rectangle(pt(0.0, 0.0), width.ceil(), height.ceil()).set("fill", pen::PAPER))
        .add(Words::new(name, 22.0, pt(PAD, PAD + 20.0)).drawn())
        .add(Words::new(words, 12.0, pt(PAD, PAD + 42.0)).colour(SOFT_INK).drawn())
        .add(outline)
        .add_all(gone)
        .add_all(burnt.iter().map(|at| mark_sign(sheet.at_pair(*at))))
        .add(rulers(&sheet));
    format!("{page}\n")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::sample::sample_cloths;

    #[test]
    fn an_offcut_has_a_picture_that_can_be_read() {
        for cloth in &sample_cloths()[1..] {
            let file = offcut_svg(cloth, &[[40.0, 30.0]], "stubble-3 <&>", "0.17 m², drawer 2");
            let tree = usvg::Tree::from_str(&file, &usvg::Options::default()).unwrap();
            assert!(tree.size().width() > 300.0 && !file.contains("NaN"));
        }
    }
}
