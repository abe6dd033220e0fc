//! Columns that stand in line, whatever letters they hold.

/// On which side a column is ragged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Align {
    /// Words: ragged on the right.
    Left,
    /// Numbers: ragged on the left.
    Right,
}

/// Columns a text takes in a terminal. Wide signs of East Asia take two, marks over other signs none: a plain
/// cut of Unicode Standard Annex 11 (East Asian Width: W and F) and of the general category Mn.
pub(super) fn columns(text: &str) -> usize {
    text.chars().map(columns_of).sum()
}

fn columns_of(c: char) -> usize {
    match u32::from(c) {
        0x0300..=0x036f
        | 0x0483..=0x0489
        | 0x0591..=0x05bd
        | 0x0610..=0x061a
        | 0x064b..=0x065f
        | 0x093c
        | 0x094d
        | 0x0e31
        | 0x0e34..=0x0e3a
        | 0x0e47..=0x0e4e
        | 0x1ab0..=0x1aff
        | 0x1dc0..=0x1dff
        | 0x200b..=0x200f
        | 0x202a..=0x202e
        | 0x2060..=0x2064
        | 0x20d0..=0x20ff
        | 0xfe00..=0xfe0f
        | 0xfe20..=0xfe2f
        | 0xfeff => 0,
        0x1100..=0x115f
        | 0x231a..=0x231b
        | 0x2e80..=0x303e
        | 0x3041..=0x33ff
        | 0x3400..=0x4dbf
        | 0x4e00..=0x9fff
        | 0xa000..=0xa4cf
        | 0xa960..=0xa97f
        | 0xac00..=0xd7a3
        | 0xf900..=0xfaff
        | 0xfe30..=0xfe6f
        | 0xff00..=0xff60
        | 0xffe0..=0xffe6
        | 0x1f300..=0x1f64f
        | 0x1f680..=0x1f6ff
        | 0x1f900..=0x1f9ff
        | 0x1fa70..=0x1faff
        | 0x20000..=0x3fffd => 2,
        _ => 1,
    }
}

/// A text that names things, without the signs that would break a line or steer a terminal.
pub(super) fn printable(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect()
}

/// Rows of cells set in columns two blanks apart, the first row being the heading. No blanks at the end of a
/// line.
pub(super) fn set(rows: &[Vec<String>], aligns: &[Align]) -> String {
    let width = |k: usize| rows.iter().filter_map(|r| r.get(k)).map(|c| columns(c)).max().unwrap_or(0);
    let widths: Vec<usize> = (0..aligns.len()).map(width).collect();
    let mut out = String::new();
    for row in rows {
        let mut line = String::new();
        for ((cell, align), width) in row.iter().zip(aligns).zip(&widths) {
            let blanks = " ".repeat(width.saturating_sub(columns(cell)));
            line.push_str("  ");
            match align {
                Align::Left => line.extend([cell.as_str(), &blanks]),
                Align::Right => line.extend([blanks.as_str(), cell]),
            }
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

/// `text` broken between words into lines of at most `room` columns; a longer word keeps its own line.
pub(super) fn wrap(text: &str, room: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if columns(line) + 1 + columns(word) <= room => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_string()),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wide_and_combining_signs_keep_the_columns_straight() {
        let rows = [["piece", "mm"], ["波浪", "12.0"], ["e\u{301}toile", "7.5"], ["a", "1480.0"]];
        let rows: Vec<Vec<String>> = rows.iter().map(|r| r.map(String::from).to_vec()).collect();
        let text = set(&rows, &[Align::Left, Align::Right]);
        assert_eq!(text, "  piece       mm\n  波浪      12.0\n  e\u{301}toile     7.5\n  a       1480.0\n");
        assert!(text.lines().all(|l| columns(l) == 16));
    }

    #[test]
    fn names_cannot_steer_the_terminal() {
        assert_eq!(printable("a\u{1b}[31m\nb"), "a\u{fffd}[31m\u{fffd}b");
    }

    #[test]
    fn lines_break_between_words() {
        assert_eq!(wrap("one two  three", 7), ["one two", "three"]);
        assert_eq!(wrap("", 7), Vec::<String>::new());
    }
}
