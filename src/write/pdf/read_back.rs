//! A light look at a PDF file as written: how many pages, which words, which boxes.

use std::io::Read as _;

use flate2::read::ZlibDecoder;

use super::text::decoded;

/// What was found.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Read {
    /// Number of pages, as the page tree counts them.
    pub pages: usize,
    /// Every page's words, spaces left out, in the order they are drawn.
    pub words: Vec<String>,
    /// Width and height of the boxes drawn, mm, page after page; as the page's own map gives them.
    pub boxes: Vec<Vec<[f64; 2]>>,
}

/// Reads a file of [`document`](super::document). `None` when it is none.
pub(crate) fn read(bytes: &[u8]) -> Option<Read> {
    let mut found = Read { pages: number_after(bytes, b"/Count")?, ..Read::default() };
    let mut rest = bytes;
    while let Some(at) = position(rest, b"\nstream\n") {
        let body = rest.get(at + 8..)?;
        let end = position(body, b"endstream")?;
        let mut content = Vec::new();
        ZlibDecoder::new(body.get(..end)?).read_to_end(&mut content).ok()?;
        let (words, boxes) = page(&content)?;
        found.words.push(words);
        found.boxes.push(boxes);
        rest = body.get(end..)?;
    }
    Some(found)
}

fn position(bytes: &[u8], what: &[u8]) -> Option<usize> {
    bytes.windows(what.len()).position(|w| w == what)
}

fn number_after(bytes: &[u8], word: &[u8]) -> Option<usize> {
    let rest = bytes.get(position(bytes, word)? + word.len()..)?;
    let digits: String = rest
        .iter()
        .skip_while(|b| **b == b' ')
        .map_while(|b| char::from(*b).to_digit(10))
        .map(|d| d.to_string())
        .collect();
    digits.parse().ok()
}

fn page(content: &[u8]) -> Option<(String, Vec<[f64; 2]>)> {
    let (mut words, mut boxes, mut scale) = (String::new(), Vec::new(), 1.0);
    let mut operands: Vec<f64> = Vec::new();
    let mut i = 0;
    while let Some(&b) = content.get(i) {
        match b {
            b'(' => i = literal(content, i + 1, &mut words)?,
            b'<' => i = hexadecimal(content, i + 1, &mut words)?,
            _ if b.is_ascii_whitespace() || b"[]".contains(&b) => i += 1,
            _ => {
                let rest = content.get(i..)?;
                let length = rest
                    .iter()
                    .position(|b| b.is_ascii_whitespace() || b"[]()<".contains(b))
                    .unwrap_or(rest.len());
                let token = std::str::from_utf8(rest.get(..length.max(1))?).ok()?;
                i += length.max(1);
                if let Ok(number) = token.parse::<f64>() {
                    operands.push(number);
                    continue;
                }
                match (token, operands.as_slice()) {
                    ("cm", [a, ..]) => scale *= a,
                    ("re", [.., w, h]) => boxes.push([w * scale * 25.4 / 72.0, h * scale * 25.4 / 72.0]),
                    _ => {}
                }
                operands.clear();
            }
        }
    }
    Some((words, boxes))
}

/// A string in parentheses; gives the place after it.
fn literal(content: &[u8], mut i: usize, words: &mut String) -> Option<usize> {
    let mut depth = 1;
    loop {
        let mut b = *content.get(i)?;
        i += 1;
        match b {
            b'(' => depth += 1,
            b')' => depth -= 1,
            b'\\' => {
                b = *content.get(i)?;
                i += 1;
                if b.is_ascii_digit() {
                    let more = content.get(i..i + 2)?;
                    b = u8::from_str_radix(std::str::from_utf8(&[b, *more.first()?, *more.last()?]).ok()?, 8)
                        .ok()?;
                    i += 2;
                }
            }
            _ => {}
        }
        if depth == 0 {
            return Some(i);
        }
        push(words, b);
    }
}

/// A string in hexadecimal; gives the place after it.
fn hexadecimal(content: &[u8], i: usize, words: &mut String) -> Option<usize> {
    let length = content.get(i..)?.iter().position(|&b| b == b'>')?;
    for pair in content.get(i..i + length)?.chunks(2) {
        push(words, u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok()?);
    }
    Some(i + length + 1)
}

fn push(words: &mut String, b: u8) {
    let c = decoded(b);
    if !c.is_whitespace() {
        words.push(c);
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Font, Page, Pen, document};
    use super::*;
    use crate::shape::{Bounds, pt};

    #[test]
    fn a_page_reads_back_with_its_words_and_its_boxes() {
        let mut page = Page::new([210.0, 297.0]);
        page.words(pt(20.0, 20.0), 4.0, Font::Bold, [0; 3], "left (and) \\ blå “reed” 水");
        page.frame(Bounds::new(pt(10.0, 10.0), pt(60.0, 60.0)), Pen::new([0; 3], 0.2));
        let bytes = document("two", vec![page, Page::new([210.0, 297.0])]).unwrap();
        let found = read(&bytes).unwrap();
        assert_eq!((found.pages, found.words.len()), (2, 2));
        assert_eq!(found.words[0], "left(and)\\blå“reed”[U+6C34]");
        assert!(found.boxes[0].iter().any(|b| b.iter().all(|v| (v - 50.0).abs() < 1e-4)));
        assert_eq!(read(b"no such thing"), None);
    }
}
