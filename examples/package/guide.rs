//! README.md as one page to read in a browser, with its pictures beside it.

use std::error::Error;
use std::fs;
use std::path::Path;

use pulldown_cmark::{CowStr, Event, Options, Parser, Tag, TagEnd, html};

/// Looks of the page: readable on a screen, on a telephone and on paper, light and dark.
const STYLE: &str = "
:root { color-scheme: light dark; }
body { font: 1rem/1.55 system-ui, sans-serif; max-width: 46rem; margin: 2rem auto; padding: 0 1rem; }
img { max-width: 100%; height: auto; }
pre { overflow-x: auto; padding: 0.75rem; border: 1px solid #8886; border-radius: 4px; }
code { font-size: 0.92em; }
table { border-collapse: collapse; }
th, td { border: 1px solid #8886; padding: 0.3rem 0.6rem; text-align: left; vertical-align: top; }
nav ul { columns: 2; }
h2 { margin-top: 2.2rem; }
@media print { nav { display: none; } body { margin: 0; max-width: none; } }
";

/// Writes `index.html` and the pictures it shows into `dir`.
pub fn write(root: &Path, dir: &Path) -> Result<(), Box<dyn Error>> {
    let text = fs::read_to_string(root.join("README.md"))?;
    let (body, headings, pictures) = body(&text);
    let mut contents = String::new();
    for (anchor, heading) in &headings {
        let heading = heading.replace('&', "&amp;").replace('<', "&lt;");
        contents.push_str(&format!("<li><a href=\"#{anchor}\">{heading}</a></li>\n"));
    }
    let page = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta name=\"generator\" content=\"settlay {}\">\n<title>settlay, the guide</title>\n\
         <style>{STYLE}</style>\n</head>\n<body>\n<nav aria-label=\"Contents\"><ul>\n{contents}</ul></nav>\n\
         <main>\n{body}</main>\n</body>\n</html>\n",
        env!("CARGO_PKG_VERSION")
    );
    fs::create_dir_all(dir)?;
    fs::write(dir.join("index.html"), page)?;
    for picture in pictures {
        let to = dir.join(&picture);
        if let Some(folder) = to.parent() {
            fs::create_dir_all(folder)?;
        }
        fs::copy(root.join(&picture), to)?;
    }
    Ok(())
}

/// The text as HTML, its chapters by their anchors, and the pictures it shows.
fn body(text: &str) -> (String, Vec<(String, String)>, Vec<String>) {
    let mut events: Vec<Event<'_>> = Parser::new_ext(text, Options::ENABLE_TABLES).collect();
    let (mut headings, mut pictures): (Vec<(String, String)>, Vec<String>) = (Vec::new(), Vec::new());
    let mut within: Option<usize> = None;
    for i in 0..events.len() {
        let mut name = None;
        match &events[i] {
            Event::Start(Tag::Heading { .. }) => within = Some(i),
            Event::Start(Tag::Image { dest_url, .. }) => pictures.push(dest_url.to_string()),
            Event::Text(t) | Event::Code(t) if within.is_some() => name = Some(t.to_string()),
            Event::End(TagEnd::Heading(_)) => within = None,
            _ => {}
        }
        if let (Some(at), Some(name)) = (within, name) {
            let anchor: String = name
                .to_lowercase()
                .chars()
                .filter_map(|c| if c == ' ' { Some('-') } else { c.is_alphanumeric().then_some(c) })
                .collect();
            if let Event::Start(Tag::Heading { level, id, .. }) = &mut events[at] {
                *id = Some(CowStr::from(anchor.clone()));
                if *level == pulldown_cmark::HeadingLevel::H2 {
                    headings.push((anchor, name));
                }
            }
        }
    }
    let mut out = String::new();
    html::push_html(&mut out, events.into_iter());
    (out, headings, pictures)
}
