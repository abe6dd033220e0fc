//! Pages that fill from the top: headings, paragraphs, facts, tables, room for pictures.

use super::{INK, PALE, RULE, SOFT};
use crate::shape::{Bounds, pt};
use crate::write::pdf::{Font, Page, Pen, parts, sayable, width_mm, wrap};
use crate::write::report::html::telling;

/// White border of a page, mm: at the sides, above and below the part that is filled.
const SIDE: f64 = 12.0;
const TOP: f64 = 19.0;
const FOOT: f64 = 15.0;

/// Size of running text and the distance of its lines, mm.
pub(super) const TEXT: f64 = 3.3;
const LEAD: f64 = 4.6;
/// Size of small text, mm.
pub(super) const SMALL: f64 = 2.6;
/// Size of text in tables and its line distance, mm.
const CELL: f64 = 2.9;
const CELL_LEAD: f64 = 3.9;

/// A column of a table.
pub(super) struct Column {
    /// Its heading.
    pub name: &'static str,
    /// Its share of the width.
    pub share: f64,
    /// True for numbers, which stand on the right.
    pub figures: bool,
}

/// A column, given its heading, share of the width and whether it holds numbers.
pub(super) const fn column(name: &'static str, share: f64, figures: bool) -> Column {
    Column { name, share, figures }
}

/// Height of a table's head, mm.
const HEAD: f64 = 5.6;
/// A cell's word may have at most this share of the table for itself before it is broken.
const WIDEST_WORD: f64 = 0.5;

/// A table with the widths of its columns and the lines of its cells.
struct Laid<'a> {
    columns: Vec<&'a Column>,
    widths: Vec<f64>,
    rows: Vec<Row>,
}

/// A row: the lines of each cell, `None` where there is a box to write in, and its height.
struct Row {
    cells: Vec<Option<Vec<String>>>,
    height: f64,
}

impl Row {
    fn of(row: &[&str], widths: &[f64]) -> Row {
        let lines = |(text, width): (&&str, &f64)| {
            (*text != TO_WRITE).then(|| wrap(text, CELL, Font::Regular, width - 2.4))
        };
        let cells: Vec<Option<Vec<String>>> = row.iter().zip(widths).map(lines).collect();
        let most = cells.iter().flatten().map(Vec::len).max().unwrap_or(1).max(1);
        let least = if cells.iter().any(Option::is_none) { 7.5 } else { 0.0 };
        Row { cells, height: (most as f64 * CELL_LEAD + 1.4).max(least) }
    }

    fn writes(&self) -> bool {
        self.cells.iter().any(Option::is_none)
    }
}

/// Widths of columns that fill `room`: by their shares, but each as wide as its head and its longest word, taken from
/// those that have more than they need; where that is too much, as wide as the longest part of a word.
fn widths(columns: &[&Column], cells: &[Vec<&str>], room: f64) -> Vec<f64> {
    let shares: f64 = columns.iter().map(|c| c.share).sum();
    let wanted: Vec<f64> = columns.iter().map(|c| c.share / shares * room).collect();
    let least = |split: &dyn Fn(&str) -> f64| -> Vec<f64> {
        let head = |c: &Column| width_mm(c.name, SMALL, Font::Bold);
        let words = |k: usize| {
            let all = cells.iter().filter_map(|r| r.get(k)).filter(|t| **t != TO_WRITE);
            all.flat_map(|t| t.split_whitespace()).map(split).fold(0.0, f64::max)
        };
        columns
            .iter()
            .enumerate()
            .map(|(k, c)| (head(c).max(words(k)) + 2.5).min(WIDEST_WORD * room))
            .collect()
    };
    let of = |text: &str| width_mm(text, CELL, Font::Regular);
    let whole = |word: &str| of(word);
    let part = |word: &str| parts(word).map(of).fold(0.0, f64::max);
    for least in [least(&whole), least(&part)] {
        let more: f64 = wanted.iter().zip(&least).map(|(w, l)| (l - w).max(0.0)).sum();
        let slack: f64 = wanted.iter().zip(&least).map(|(w, l)| (w - l).max(0.0)).sum();
        if more <= slack {
            let taken = if slack > 0.0 { more / slack } else { 0.0 };
            return wanted.iter().zip(&least).map(|(w, l)| w.max(*l) - (w - l).max(0.0) * taken).collect();
        }
    }
    wanted
}

/// The pages so far.
pub(super) struct Book {
    title: String,
    size: [f64; 2],
    pages: Vec<Page>,
    y: f64,
    section: String,
}

impl Book {
    /// An empty book.
    pub fn new(title: &str, size: [f64; 2]) -> Book {
        Book { title: sayable(title), size, pages: Vec::new(), y: 0.0, section: String::new() }
    }

    /// The part of a page that is filled.
    pub fn inside(&self) -> Bounds {
        let [w, h] = self.size;
        Bounds::new(pt(SIDE, FOOT), pt(w - SIDE, h - TOP))
    }

    /// Begins a page; `section` stands at its head.
    pub fn start(&mut self, section: &str) {
        self.section = sayable(section);
        let [w, h] = self.size;
        let mut page = Page::new(self.size);
        let at = h - 11.0;
        let title = shortened(&self.title, 3.0, Font::Regular, (w - 2.0 * SIDE) * 0.45);
        page.words(pt(w - SIDE - width_mm(&title, 3.0, Font::Regular), at), 3.0, Font::Regular, SOFT, &title);
        let section = shortened(&self.section, 4.2, Font::Bold, (w - 2.0 * SIDE) * 0.52);
        page.words(pt(SIDE, at), 4.2, Font::Bold, INK, &section);
        page.line(&[pt(SIDE, h - 13.5), pt(w - SIDE, h - 13.5)], false, Pen::new(RULE, 0.3));
        self.pages.push(page);
        self.y = h - TOP;
    }

    /// The page being filled; there always is one.
    pub fn page(&mut self) -> &mut Page {
        if self.pages.is_empty() {
            self.start("");
        }
        let last = self.pages.len() - 1;
        &mut self.pages[last]
    }

    /// Goes to a new page unless `height` is left on this one.
    pub fn need(&mut self, height: f64) {
        if self.pages.is_empty() || self.y - height < FOOT && self.y < self.size[1] - TOP {
            let section = self.section.clone();
            self.start(&section);
        }
    }

    /// Room of `height` right across the page.
    pub fn room(&mut self, height: f64) -> Bounds {
        self.need(height);
        let top = self.y;
        self.y -= height;
        Bounds::new(pt(SIDE, top - height), pt(self.size[0] - SIDE, top))
    }

    /// Height left on this page.
    pub fn left(&self) -> f64 {
        self.y - FOOT
    }

    /// A heading that keeps some of what follows with it.
    pub fn heading(&mut self, text: &str) {
        self.need(24.0);
        self.y -= 7.5;
        let at = pt(SIDE, self.y);
        self.page().words(at, 4.0, Font::Bold, INK, text);
        self.y -= 3.0;
    }

    /// A paragraph; `mark` (a number, a word) stands before it in bold.
    pub fn paragraph(&mut self, mark: &str, text: &str) {
        let room = self.inside().width();
        let indent = match mark.chars().count() {
            0 => 0.0,
            1..=3 => 6.5,
            _ => 26.0,
        };
        let lines = wrap(text, TEXT, Font::Regular, room - indent);
        self.need(LEAD * lines.len().min(3) as f64);
        for (i, line) in lines.iter().enumerate() {
            // The last line is never alone on its page.
            self.need(LEAD * if i + 2 == lines.len() { 2.0 } else { 1.0 });
            self.y -= LEAD;
            let at = pt(SIDE, self.y + 1.2);
            if i == 0 && !mark.is_empty() {
                self.page().words(at, TEXT, Font::Bold, INK, mark);
            }
            self.page().words(at + pt(indent, 0.0), TEXT, Font::Regular, INK, line);
        }
        self.y -= 1.3;
    }

    /// Paragraphs one after another, the last never alone on its page.
    pub fn steps(&mut self, steps: &[(String, String)]) {
        let room = self.inside().width() - 6.5;
        let high = |text: &str| LEAD * wrap(text, TEXT, Font::Regular, room).len() as f64 + 1.3;
        for (k, (mark, text)) in steps.iter().enumerate() {
            if k + 2 == steps.len() {
                self.need(steps.iter().skip(k).map(|s| high(&s.1)).sum());
            }
            self.paragraph(mark, text);
        }
    }

    /// Quiet words under a picture.
    pub fn caption(&mut self, text: &str) {
        for line in wrap(text, SMALL, Font::Regular, self.inside().width()) {
            self.need(3.6);
            self.y -= 3.6;
            let at = pt(SIDE, self.y + 1.0);
            self.page().words(at, SMALL, Font::Regular, SOFT, &line);
        }
        self.y -= 1.5;
    }

    /// Names and figures in two columns of pairs.
    pub fn facts(&mut self, pairs: &[(&str, String)]) {
        let half = self.inside().width() / 2.0;
        for row in pairs.chunks(2) {
            let cells: Vec<Vec<String>> =
                row.iter().map(|(_, v)| wrap(v, TEXT, Font::Regular, half - 34.0)).collect();
            let height = cells.iter().map(Vec::len).max().unwrap_or(1) as f64 * LEAD;
            let b = self.room(height);
            for (k, ((name, _), lines)) in row.iter().zip(&cells).enumerate() {
                let at = pt(SIDE + half * k as f64, b.max.y - 3.4);
                self.page().words(at, CELL, Font::Regular, SOFT, name);
                for (i, line) in lines.iter().enumerate() {
                    let at = at + pt(32.0, -LEAD * i as f64);
                    self.page().words(at, TEXT, Font::Regular, INK, line);
                }
            }
        }
        self.y -= 1.5;
    }

    /// A heading with its table, both on one page where the table is no longer than half of one. A cell
    /// [`TO_WRITE`] is a box to write in. Columns that say nothing are left out.
    pub fn table_under(&mut self, heading: &str, columns: &[Column], rows: &[Vec<String>]) {
        let laid = self.laid(columns, rows);
        let whole: f64 = laid.rows.iter().map(|r| r.height).sum();
        let half = self.inside().height() / 2.0;
        self.need(20.0 + if whole < half { whole } else { 25.0 });
        self.heading(heading);
        self.put(&laid);
    }

    /// A table.
    pub fn table(&mut self, columns: &[Column], rows: &[Vec<String>]) {
        let laid = self.laid(columns, rows);
        self.put(&laid);
    }

    /// A table laid out: the columns that say something, each as wide as its longest word at least.
    fn laid<'a>(&self, columns: &'a [Column], rows: &[Vec<String>]) -> Laid<'a> {
        let shown = telling(columns.len(), rows);
        let kept: Vec<&Column> = shown.iter().filter_map(|&k| columns.get(k)).collect();
        let cells: Vec<Vec<&str>> = rows
            .iter()
            .map(|r| shown.iter().map(|&k| r.get(k).map_or("", String::as_str)).collect())
            .collect();
        let widths = widths(&kept, &cells, self.inside().width());
        let rows = cells.iter().map(|row| Row::of(row, &widths)).collect();
        Laid { columns: kept, widths, rows }
    }

    fn put(&mut self, laid: &Laid) {
        let first: f64 = laid.rows.iter().take(2).map(|r| r.height).sum();
        self.need(HEAD + first);
        self.table_head(laid);
        for (k, row) in laid.rows.iter().enumerate() {
            // The last row is never alone on its page.
            let with_last =
                if k + 2 == laid.rows.len() { laid.rows.last().map_or(0.0, |r| r.height) } else { 0.0 };
            if self.left() < row.height + with_last {
                let section = self.section.clone();
                self.start(&section);
                self.table_head(laid);
            }
            let b = self.room(row.height);
            let mut x = b.min.x;
            for ((cell, column), width) in row.cells.iter().zip(&laid.columns).zip(&laid.widths) {
                let Some(lines) = cell else {
                    let field = Bounds::new(pt(x + 1.0, b.min.y + 0.8), pt(x + width - 1.0, b.max.y - 0.6));
                    self.page().frame(field, Pen::new(SOFT, 0.25));
                    x += width;
                    continue;
                };
                for (i, line) in lines.iter().enumerate() {
                    let room =
                        if column.figures { width - 2.4 - width_mm(line, CELL, Font::Regular) } else { 0.0 };
                    let down = if row.writes() { 4.6 } else { 3.3 };
                    let at = pt(x + 1.2 + room, b.max.y - down - CELL_LEAD * i as f64);
                    self.page().words(at, CELL, Font::Regular, INK, line);
                }
                x += width;
            }
            self.page().line(&[b.min, pt(b.max.x, b.min.y)], false, Pen::new(RULE, 0.15));
        }
        self.y -= 3.0;
    }

    fn table_head(&mut self, laid: &Laid) {
        let b = self.room(HEAD);
        self.page().block(b, PALE);
        let mut x = b.min.x;
        for (c, width) in laid.columns.iter().zip(&laid.widths) {
            let name = shortened(c.name, SMALL, Font::Bold, width - 2.0);
            let room = if c.figures { width - 2.4 - width_mm(&name, SMALL, Font::Bold) } else { 0.0 };
            self.page().words(pt(x + 1.2 + room, b.min.y + 1.9), SMALL, Font::Bold, INK, &name);
            x += width;
        }
    }

    /// How many pages there are.
    pub fn pages(&self) -> usize {
        self.pages.len()
    }

    /// Takes back what stands on pages from `count` on; the next page has to be started.
    pub fn rewind(&mut self, count: usize) {
        self.pages.truncate(count);
        self.y = FOOT;
    }

    /// All pages, numbered.
    pub fn finish(mut self) -> Vec<Page> {
        let count = self.pages.len();
        let [w, _] = self.size;
        for (i, page) in self.pages.iter_mut().enumerate() {
            let text = format!("{} / {count}", i + 1);
            let x = w - SIDE - width_mm(&text, SMALL, Font::Regular);
            page.words(pt(x, 8.0), SMALL, Font::Regular, SOFT, &text);
            page.words(
                pt(SIDE, 8.0),
                SMALL,
                Font::Regular,
                SOFT,
                "Print at 100 %, not fitted to the page. Lengths in mm.",
            );
        }
        self.pages
    }
}

/// Stands for a box to write in.
pub(super) const TO_WRITE: &str = "\u{25a1}";

/// `text` cut off with an ellipsis so that it fits.
pub(super) fn shortened(text: &str, size: f64, font: Font, room: f64) -> String {
    if width_mm(text, size, font) <= room {
        return text.to_owned();
    }
    let mut signs: Vec<char> = sayable(text).chars().collect();
    while signs.pop().is_some() {
        let short = format!("{}…", signs.iter().collect::<String>().trim_end());
        if width_mm(&short, size, font) <= room {
            return short;
        }
    }
    String::new()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn book() -> Book {
        Book::new("A work", [210.0, 297.0])
    }

    fn row(cells: &[&str]) -> Vec<String> {
        cells.iter().map(|c| (*c).to_owned()).collect()
    }

    const COLUMNS: [Column; 4] = [
        column("Piece", 2.4, false),
        column("step, key", 1.3, true),
        column("bed x", 1.0, true),
        column("Verdict", 6.0, false),
    ];

    #[test]
    fn a_name_is_not_broken_while_other_columns_have_room_to_spare() {
        let name = "strand-a-under-1b-of-the-left-side";
        let laid = book().laid(&COLUMNS, &[row(&[name, "0.2", "100.0", "covered"])]);
        assert_eq!(laid.rows[0].cells[0], Some(vec![name.to_owned()]));
        let all: f64 = laid.widths.iter().sum();
        assert!((all - book().inside().width()).abs() < 1e-9);
        // Too long for any: between its parts, never inside one.
        let name = "water-".repeat(30);
        let laid = book().laid(&COLUMNS, &[row(&[&name, "0.2", "100.0", "covered"])]);
        let lines = laid.rows[0].cells[0].clone().unwrap();
        assert!(
            lines.len() > 1 && lines.iter().all(|l| l.starts_with("water-") && l.ends_with('-')),
            "{lines:?}"
        );
    }

    #[test]
    fn a_column_of_dashes_is_left_out_and_one_to_write_in_is_not() {
        let dashes = [row(&["a", "–", "1.0", "x"]), row(&["b", "–", "2.0", "y"])];
        assert_eq!(book().laid(&COLUMNS, &dashes).columns.len(), 3);
        let boxes = [row(&["a", TO_WRITE, "1.0", "x"]), row(&["b", "–", "2.0", "y"])];
        assert_eq!(book().laid(&COLUMNS, &boxes).columns.len(), 4);
    }

    #[test]
    fn no_page_ends_a_table_or_a_paragraph_with_a_line_alone() {
        for rows in 30..75 {
            let mut book = book();
            book.start("One");
            let all: Vec<Vec<String>> =
                (0..rows).map(|k| row(&[&format!("piece-{k}"), "1", "2", "3"])).collect();
            book.table(&COLUMNS, &all);
            let used = book.inside().height() - book.left();
            assert!(book.pages() == 1 || used > HEAD + 2.0 * (CELL_LEAD + 1.4), "{rows} rows: {used}");
        }
        for down in 0..60 {
            let mut book = book();
            book.start("One");
            book.room(book.inside().height() - f64::from(down));
            book.paragraph("", &"a heron stands in the reeds and waits for what may come by ".repeat(7));
            let used = book.inside().height() - book.left();
            assert!(book.pages() == 1 || used > 2.0 * LEAD, "{down} mm left: {used}");
        }
    }
}
