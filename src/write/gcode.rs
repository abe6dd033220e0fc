//! Cut files as G-code: words of ISO 6983-1:2009 (G0 travel, G1 straight, G2 and G3 arcs by their centre, G17 plane,
//! G90 absolute, G94 feed per minute, M words), in millimetres and the machine's own coordinates.
//!
//! The beam is off on every travel and at the end. What differs from machine to machine (the words for millimetres,
//! beam and power, lines before and after) comes from the cutter's settings; nothing is burnt without a power that was
//! found by test.

use crate::burn::arcs::Arc;
use crate::job::{Cutter, Gcode, Tested};
use crate::plan::PlanPass;
use crate::shape::{Bounds, Point, pt};

use super::cut_lines::CutLine;
use super::letters::base_letter;

/// Seconds in a minute: feeds are told per minute.
const PER_MINUTE: f64 = 60.0;

/// Longest comment: old controllers stop at lines of more than 80 signs (common practice, no source).
const LONGEST_COMMENT: usize = 70;

/// A file of machine code and the row its maker's header begins in, from 0.
#[derive(Clone, Debug, PartialEq)]
pub struct Code {
    /// The file.
    pub text: String,
    /// Row of the first line of the settings' header.
    pub header: usize,
}

/// A pass as G-code, the burns in burn order; `None` without settings for it or where a kind of line has no power
/// found by test.
pub fn cut_gcode(title: &str, pass: &PlanPass, lines: &[CutLine], cutter: &Cutter) -> Option<Code> {
    let settings = cutter.gcode.as_ref()?;
    let power = |line: &CutLine| cutter.tested_for(&pass.cloth, line.kind.word());
    let tested: Vec<&Tested> = lines.iter().map(power).collect::<Option<_>>()?;
    let mut file = Writer::begin(
        &with_title(&format!("pass {} of {}", pass.number, pass.cloth), title),
        settings,
        pass,
        cutter,
    );
    for (line, found) in lines.iter().zip(tested) {
        file.travel(line.course.start);
        file.block(&format!("{} {}{}", settings.beam_on, settings.power_word, plain(found.power)));
        let mut feed = format!(" F{}", plain(found.mm_per_s * PER_MINUTE));
        for arc in line.course.arcs() {
            file.cut(arc, &feed);
            feed.clear();
        }
        file.block(&settings.beam_off);
    }
    Some(file.end())
}

/// A walk round the extremes of a pass with the beam off, to see that cloth and hands are clear; `None` without settings.
pub fn rehearsal(title: &str, pass: &PlanPass, lines: &[CutLine], cutter: &Cutter) -> Option<Code> {
    let settings = cutter.gcode.as_ref()?;
    let about = with_title(&format!("rehearsal, beam off, pass {} of {}", pass.number, pass.cloth), title);
    let mut file = Writer::begin(&about, settings, pass, cutter);
    let walked = lines.iter().flat_map(|l| l.course.points(crate::shape::tol::SAME_POINT_MM));
    let box_ = Bounds::of(walked);
    if !box_.is_empty() {
        let corners = box_.corners();
        corners.iter().chain(corners.first()).for_each(|p| file.travel(*p));
    }
    Some(file.end())
}

/// What a file is for, and of what work where that has a title.
fn with_title(what: &str, title: &str) -> String {
    match title.trim() {
        "" => what.to_owned(),
        title => format!("{what}, {title}"),
    }
}

/// Text as it may stand in a remark: letters, figures and what no machine heeds. Some controllers act on `!`, `~`, `?`, `%`,
/// `$`, `;` or a control character as it arrives, wherever it stands (common practice, no source).
fn remark(text: &str) -> String {
    let harmless = |c: char| match base_letter(c) {
        c if c.is_ascii_alphanumeric() || ".,-_".contains(c) => c,
        // The signs for a dash of any length.
        '\u{2010}'..='\u{2015}' | '\u{2212}' => '-',
        _ => ' ',
    };
    let plain: String = text.chars().map(harmless).collect();
    let words: Vec<&str> = plain.split(' ').filter(|w| !w.is_empty()).collect();
    words.join(" ").chars().take(LONGEST_COMMENT).collect::<String>().trim_end_matches([',', ' ']).to_owned()
}

/// A file being written.
struct Writer<'a> {
    text: String,
    header: usize,
    blocks: usize,
    settings: &'a Gcode,
    cutter: &'a Cutter,
    bed_mm: [f64; 2],
}

impl<'a> Writer<'a> {
    fn begin(about: &str, settings: &'a Gcode, pass: &PlanPass, cutter: &'a Cutter) -> Writer<'a> {
        let bed_mm = pass.bed_mm;
        let mut w = Writer { text: String::new(), header: 0, blocks: 0, settings, cutter, bed_mm };
        w.comment(about);
        w.comment(cutter.home.in_brief());
        w.comment("never leave it running alone, draw off the fumes");
        w.comment(crate::PROGRAM);
        w.header = w.text.lines().count();
        for line in &settings.header {
            w.text.push_str(line);
            w.text.push('\n');
        }
        for word in [settings.units_word.as_str(), "G17", "G90", "G94", settings.beam_off.as_str()] {
            w.block(word);
        }
        w
    }

    fn end(mut self) -> Code {
        self.block(&self.settings.beam_off);
        self.block(&format!("G0 {}", self.words(pt(0.0, 0.0))));
        for line in &self.settings.footer {
            self.text.push_str(line);
            self.text.push('\n');
        }
        Code { text: self.text, header: self.header }
    }

    fn comment(&mut self, text: &str) {
        self.text.push_str(&format!("({})\n", remark(text)));
    }

    fn block(&mut self, words: &str) {
        self.blocks += 1;
        if self.settings.line_numbers {
            self.text.push_str(&format!("N{} ", self.blocks * 10));
        }
        self.text.push_str(words);
        self.text.push('\n');
    }

    fn travel(&mut self, to: Point) {
        let to = self.words(self.placed(to));
        self.block(&format!("G0 {to}"));
    }

    fn cut(&mut self, arc: Arc, feed: &str) {
        let (from, to) = (self.placed(arc.from), self.placed(arc.to));
        let bulge = if self.cutter.home.is_mirrored() { -arc.bulge } else { arc.bulge };
        // The centre of the arc between the ends as they are written, so that it is as far from one as from the other.
        let words = match (Arc { from, to, bulge }).centre() {
            Some(c) => {
                let word = if bulge > 0.0 { "G3" } else { "G2" };
                let (i, j) = (self.figure(c.x - from.x), self.figure(c.y - from.y));
                format!("{word} {} I{i} J{j}{feed}", self.words(to))
            }
            None => format!("G1 {}{feed}", self.words(to)),
        };
        self.block(&words);
    }

    /// A point in the machine's coordinates, rounded as it is written.
    fn placed(&self, p: Point) -> Point {
        let [x, y] = self.cutter.home.machine([p.x, p.y], self.bed_mm);
        let scale = 10_f64.powi(self.settings.decimals.clamp(3, 4) as i32);
        pt((x * scale).round() / scale, (y * scale).round() / scale)
    }

    fn words(&self, p: Point) -> String {
        format!("X{} Y{}", self.figure(p.x), self.figure(p.y))
    }

    fn figure(&self, v: f64) -> String {
        let text = format!("{:.*}", self.settings.decimals.clamp(3, 4) as usize, v);
        if text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.') {
            text.trim_start_matches('-').to_owned()
        } else {
            text
        }
    }
}

/// A figure that is no coordinate, without trailing noughts.
fn plain(v: f64) -> String {
    super::number(v)
}
