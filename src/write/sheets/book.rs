//! Pages that fill from the top: headings, paragraphs, facts, tables, room for pictures.

use super::{INK, PALE, RULE, SOFT};
use crate::shape::{Bounds, pt};
use crate::write::pdf::{Font, Page, Pen, sayable, width_mm, wrap};

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
            self.need(LEAD);
            self.y -= LEAD;
            let at = pt(SIDE, self.y + 1.2);
            if i == 0 && !mark.is_empty() {
                self.page().words(at, TEXT, Font::Bold, INK, mark);
            }
            self.page().words(at + pt(indent, 0.0), TEXT, Font::Regular, INK, line);
        }
        self.y -= 1.3;
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
    /// [`TO_WRITE`] is a box to write in.
    pub fn table_under(&mut self, heading: &str, columns: &[Column], rows: &[Vec<String>]) {
        let whole: f64 = rows.iter().map(|row| self.row(columns, row).1).sum();
        let half = self.inside().height() / 2.0;
        self.need(20.0 + if whole < half { whole } else { 25.0 });
        self.heading(heading);
        self.table(columns, rows);
    }

    /// Width of a share of 1.
    fn unit(&self, columns: &[Column]) -> f64 {
        self.inside().width() / columns.iter().map(|c| c.share).sum::<f64>()
    }

    /// The lines of a row's cells, and its height.
    fn row(&self, columns: &[Column], row: &[String]) -> (Vec<Vec<String>>, f64) {
        let unit = self.unit(columns);
        let lines = |(text, c): (&String, &Column)| match text.as_str() {
            TO_WRITE => vec![],
            _ => wrap(text, CELL, Font::Regular, c.share * unit - 2.4),
        };
        let cells: Vec<Vec<String>> = row.iter().zip(columns).map(lines).collect();
        let most = cells.iter().map(Vec::len).max().unwrap_or(1).max(1);
        let least = if row.iter().any(|t| t == TO_WRITE) { 7.5 } else { 0.0 };
        (cells, (most as f64 * CELL_LEAD + 1.4).max(least))
    }

    /// A table.
    pub fn table(&mut self, columns: &[Column], rows: &[Vec<String>]) {
        let unit = self.unit(columns);
        self.need(18.0);
        self.table_head(columns, unit);
        for row in rows {
            let (cells, height) = self.row(columns, row);
            let writes = row.iter().any(|t| t == TO_WRITE);
            if self.left() < height {
                let section = self.section.clone();
                self.start(&section);
                self.table_head(columns, unit);
            }
            let b = self.room(height);
            let mut x = b.min.x;
            for ((cell, column), text) in cells.iter().zip(columns).zip(row) {
                let width = column.share * unit;
                if text == TO_WRITE {
                    let field = Bounds::new(pt(x + 1.0, b.min.y + 0.8), pt(x + width - 1.0, b.max.y - 0.6));
                    self.page().frame(field, Pen::new(SOFT, 0.25));
                }
                for (i, line) in cell.iter().enumerate() {
                    let room =
                        if column.figures { width - 2.4 - width_mm(line, CELL, Font::Regular) } else { 0.0 };
                    let down = if writes { 4.6 } else { 3.3 };
                    let at = pt(x + 1.2 + room, b.max.y - down - CELL_LEAD * i as f64);
                    self.page().words(at, CELL, Font::Regular, INK, line);
                }
                x += width;
            }
            self.page().line(&[b.min, pt(b.max.x, b.min.y)], false, Pen::new(RULE, 0.15));
        }
        self.y -= 3.0;
    }

    fn table_head(&mut self, columns: &[Column], unit: f64) {
        let b = self.room(5.6);
        self.page().block(b, PALE);
        let mut x = b.min.x;
        for c in columns {
            let width = c.share * unit;
            let name = shortened(c.name, SMALL, Font::Bold, width - 2.0);
            let room = if c.figures { width - 2.4 - width_mm(&name, SMALL, Font::Bold) } else { 0.0 };
            self.page().words(pt(x + 1.2 + room, b.min.y + 1.9), SMALL, Font::Bold, INK, &name);
            x += width;
        }
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
