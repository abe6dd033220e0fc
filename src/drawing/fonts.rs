//! Fonts for text: only those the drawing asks for, never another in their place.

use std::collections::BTreeSet;
use std::sync::{Arc, Mutex};

use usvg::fontdb;

/// What could not be found while text was turned into outlines.
#[derive(Debug, Default)]
pub(super) struct Lacks {
    fonts: Mutex<BTreeSet<String>>,
    letters: Mutex<BTreeSet<char>>,
}

impl Lacks {
    /// True when any part of the text lacks its font or a letter in it.
    pub fn touch(&self, text: &usvg::Text) -> bool {
        let (Ok(fonts), Ok(letters)) = (self.fonts.lock(), self.letters.lock()) else { return true };
        text.chunks().iter().any(|chunk| {
            chunk.text().chars().any(|c| letters.contains(&c))
                || chunk.spans().iter().any(|span| fonts.contains(&families(span.font())))
        })
    }
}

fn families(font: &usvg::Font) -> String {
    font.families().iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
}

/// A resolver that finds the families a text names and nothing else; what is missing goes to `lacks`.
pub(super) fn strict(lacks: Arc<Lacks>) -> usvg::FontResolver<'static> {
    let letters = Arc::clone(&lacks);
    usvg::FontResolver {
        select_font: Box::new(move |font, fonts| {
            let found = find(font, fonts);
            if found.is_none()
                && let Ok(mut missing) = lacks.fonts.lock()
            {
                missing.insert(families(font));
            }
            found
        }),
        select_fallback: Box::new(move |letter, _, _| {
            if let Ok(mut missing) = letters.letters.lock() {
                missing.insert(letter);
            }
            None
        }),
    }
}

fn find(font: &usvg::Font, fonts: &fontdb::Database) -> Option<fontdb::ID> {
    let families: Vec<fontdb::Family<'_>> = font
        .families()
        .iter()
        .map(|family| match family {
            usvg::FontFamily::Serif => fontdb::Family::Serif,
            usvg::FontFamily::SansSerif => fontdb::Family::SansSerif,
            usvg::FontFamily::Cursive => fontdb::Family::Cursive,
            usvg::FontFamily::Fantasy => fontdb::Family::Fantasy,
            usvg::FontFamily::Monospace => fontdb::Family::Monospace,
            usvg::FontFamily::Named(name) => fontdb::Family::Name(name),
        })
        .collect();
    let stretch = match font.stretch() {
        usvg::FontStretch::UltraCondensed => fontdb::Stretch::UltraCondensed,
        usvg::FontStretch::ExtraCondensed => fontdb::Stretch::ExtraCondensed,
        usvg::FontStretch::Condensed => fontdb::Stretch::Condensed,
        usvg::FontStretch::SemiCondensed => fontdb::Stretch::SemiCondensed,
        usvg::FontStretch::Normal => fontdb::Stretch::Normal,
        usvg::FontStretch::SemiExpanded => fontdb::Stretch::SemiExpanded,
        usvg::FontStretch::Expanded => fontdb::Stretch::Expanded,
        usvg::FontStretch::ExtraExpanded => fontdb::Stretch::ExtraExpanded,
        usvg::FontStretch::UltraExpanded => fontdb::Stretch::UltraExpanded,
    };
    let style = match font.style() {
        usvg::FontStyle::Normal => fontdb::Style::Normal,
        usvg::FontStyle::Italic => fontdb::Style::Italic,
        usvg::FontStyle::Oblique => fontdb::Style::Oblique,
    };
    fonts.query(&fontdb::Query { families: &families, weight: fontdb::Weight(font.weight()), stretch, style })
}
