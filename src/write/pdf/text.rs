//! Words as the standard fonts can say them.

use super::page::Font;
use super::widths::{BOLD, REGULAR};
use crate::write::letters::base_letter;

/// WinAnsi codes 0x80 to 0x9f (ISO 32000-1, annex D.2); `\0` where there is none.
const UPPER: [char; 32] = [
    '€', '\0', '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', '\0', 'Ž', '\0', '\0', '‘', '’', '“',
    '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', '\0', 'ž', 'Ÿ',
];

/// `text` with every character the fonts lack written another way: without its accent where that is all it
/// lacks, otherwise as its Unicode number, so that two names never become one silently.
pub(crate) fn sayable(text: &str) -> String {
    let mut said = String::with_capacity(text.len());
    for c in text.chars() {
        if code(c).is_some() {
            said.push(c);
            continue;
        }
        match c {
            _ if c.is_whitespace() => said.push(' '),
            '\u{300}'..='\u{36f}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{feff}' => {}
            '→' => said.push_str("->"),
            '−' | '‐' | '‑' => said.push('-'),
            '≤' => said.push_str("<="),
            '≥' => said.push_str(">="),
            '′' => said.push('\''),
            '″' => said.push('"'),
            _ => match code(base_letter(c)) {
                Some(_) => said.push(base_letter(c)),
                None => said.push_str(&format!("[U+{:04X}]", u32::from(c))),
            },
        }
    }
    said
}

/// The WinAnsi code of a character.
fn code(c: char) -> Option<u8> {
    match u32::from(c) {
        n @ (0x20..=0x7e | 0xa1..=0xff) if n != 0xad => u8::try_from(n).ok(),
        _ => UPPER.iter().position(|&u| u == c && u != '\0').and_then(|i| u8::try_from(0x80 + i).ok()),
    }
}

/// `text` in WinAnsi, made sayable first.
pub(super) fn encoded(text: &str) -> Vec<u8> {
    sayable(text).chars().filter_map(code).collect()
}

/// A WinAnsi code as a character.
pub(super) fn decoded(byte: u8) -> char {
    match byte {
        0x80..=0x9f => UPPER.get(usize::from(byte) - 0x80).copied().unwrap_or('\0'),
        _ => char::from(byte),
    }
}

/// The width `text` takes at a font size, mm.
pub(crate) fn width_mm(text: &str, size_mm: f64, font: Font) -> f64 {
    let table = if font == Font::Bold { &BOLD } else { &REGULAR };
    let of = |b: u8| table.get(usize::from(b).wrapping_sub(32)).copied().unwrap_or(0);
    encoded(text).into_iter().map(|b| f64::from(of(b))).sum::<f64>() * size_mm / 1000.0
}

/// The parts a word may be broken into: after a hyphen, an underline, a slash, a point or a dot between.
pub(crate) fn parts(word: &str) -> impl Iterator<Item = &str> {
    word.split_inclusive(['-', '_', '/', '.', ',', '·', '–'])
}

/// `text` in lines no wider than `room_mm`. A word too long for a line is broken where it has [`parts`], and only a part
/// too long for a line between letters.
pub(crate) fn wrap(text: &str, size_mm: f64, font: Font, room_mm: f64) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in sayable(text).split_whitespace() {
        let with = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
        if width_mm(&with, size_mm, font) <= room_mm {
            line = with;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for part in parts(word) {
            if width_mm(&format!("{line}{part}"), size_mm, font) <= room_mm {
                line.push_str(part);
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            for c in part.chars() {
                line.push(c);
                if width_mm(&line, size_mm, font) > room_mm && line.chars().count() > 1 {
                    line.pop();
                    lines.push(std::mem::replace(&mut line, c.to_string()));
                }
            }
        }
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_fonts_lack_is_said_another_way_and_never_lost() {
        assert_eq!(sayable("Reed-bed × 2 · “blå”"), "Reed-bed × 2 · “blå”");
        assert_eq!(sayable("ł → ő\u{7}"), "l -> o[U+0007]");
        assert_ne!(sayable("水"), sayable("火"));
        assert_eq!(sayable("水"), "[U+6C34]");
    }

    /// Widths of `A`, `i` and space in Helvetica: 667, 222, 278 thousandths, as its metrics file has them.
    #[test]
    fn widths_are_those_of_the_metrics_file() {
        assert!((width_mm("Ai ", 1.0, Font::Regular) - 1.167).abs() < 1e-9);
        assert!((width_mm("i", 1.0, Font::Bold) - 0.278).abs() < 1e-9);
    }

    #[test]
    fn a_name_is_broken_between_its_parts_before_it_is_broken_inside_one() {
        assert_eq!(wrap("strand-a-under-1b", 3.0, Font::Regular, 16.0), ["strand-a-", "under-1b"]);
        assert_eq!(wrap("see heron_leg", 3.0, Font::Regular, 12.0), ["see", "heron_", "leg"]);
    }

    #[test]
    fn lines_keep_their_room_and_lose_no_letter() {
        let text = "a heron standing in averyveryverylongunbrokenword of reeds";
        let lines = wrap(text, 3.0, Font::Regular, 21.0);
        assert!(lines.iter().all(|l| width_mm(l, 3.0, Font::Regular) <= 21.0));
        let bare = |s: &str| s.split_whitespace().collect::<String>();
        assert_eq!(bare(&lines.concat()), bare(text));
    }
}
