//! HTML in few words. Everything that comes from a maker goes through [`esc`].

/// `text` fit for HTML, in elements and in attributes.
pub(in crate::write) fn esc(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in crate::write::xml::legal(text).chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            other => safe.push(other),
        }
    }
    safe
}

/// A column of a table.
pub(in crate::write) struct Column {
    /// Its heading.
    pub name: &'static str,
    /// True for numbers, which stand on the right.
    pub figures: bool,
}

/// A column of words.
pub(in crate::write) const fn words(name: &'static str) -> Column {
    Column { name, figures: false }
}

/// A column of numbers.
pub(in crate::write) const fn figures(name: &'static str) -> Column {
    Column { name, figures: true }
}

/// The columns of a table that say something, by index: one of nothing but dashes is left out, the first never.
pub(in crate::write) fn telling(count: usize, rows: &[Vec<String>]) -> Vec<usize> {
    let says = |k: usize| rows.iter().filter_map(|r| r.get(k)).any(|cell| !matches!(cell.as_str(), "" | "–"));
    (0..count).filter(|&k| k == 0 || rows.is_empty() || says(k)).collect()
}

/// A row's heading of more letters than this may be broken anywhere, lest it push the figures out of sight.
const LONG_NAME: usize = 24;

/// A table. `rows` hold plain text; the first cell of a row is its heading. Columns of nothing but dashes are left out.
pub(in crate::write) fn table(caption: &str, columns: &[Column], rows: &[Vec<String>]) -> String {
    let shown = telling(columns.len(), rows);
    let class = |c: &Column| if c.figures { " class=\"n\"" } else { "" };
    let caption = esc(caption);
    let mut html = format!(
        "<div class=\"scroll\" role=\"region\" tabindex=\"0\" aria-label=\"{caption}\">\n<table>\n<caption>{caption}</caption>\n<thead><tr>"
    );
    for column in shown.iter().filter_map(|&k| columns.get(k)) {
        html.push_str(&format!("<th scope=\"col\"{}>{}</th>", class(column), esc(column.name)));
    }
    html.push_str("</tr></thead>\n<tbody>\n");
    for row in rows {
        html.push_str("<tr>");
        for (i, (cell, column)) in shown.iter().filter_map(|&k| Some((k, row.get(k).zip(columns.get(k))?))) {
            let (tag, scope) = if i == 0 { ("th", " scope=\"row\"") } else { ("td", "") };
            let long = i == 0 && cell.chars().count() > LONG_NAME;
            let class = if long { " class=\"long\"" } else { class(column) };
            html.push_str(&format!("<{tag}{scope}{class}>{}</{tag}>", esc(cell)));
        }
        html.push_str("</tr>\n");
    }
    html + "</tbody>\n</table>\n</div>\n"
}

/// Pairs of a name and a figure.
pub(in crate::write) fn facts(pairs: &[(&str, String)]) -> String {
    let rows: String = pairs
        .iter()
        .map(|(name, value)| format!("<div><dt>{}</dt><dd>{}</dd></div>\n", esc(name), esc(value)))
        .collect();
    format!("<dl class=\"facts\">\n{rows}</dl>\n")
}

/// A length as a workshop says it: millimetres, from two metres on metres.
pub(in crate::write) fn length(mm: f64) -> String {
    if mm >= 2000.0 { format!("{:.2} m", mm / 1000.0) } else { format!("{mm:.0} mm") }
}

/// An area: hundredths of a square metre, below a tenth square centimetres.
pub(in crate::write) fn area(mm2: f64) -> String {
    if mm2 >= 1.0e5 { format!("{:.2} m²", mm2 / 1.0e6) } else { format!("{:.0} cm²", mm2 / 100.0) }
}

/// A time: `1 h 04 min`, `12 min 30 s`, `45 s`.
pub(in crate::write) fn time(seconds: f64) -> String {
    if !seconds.is_finite() || seconds < 0.0 {
        return "not known".into();
    }
    let s = seconds.round() as u64;
    match (s / 3600, s / 60 % 60, s % 60) {
        (0, 0, s) => format!("{s} s"),
        (0, m, s) => format!("{m} min {s:02} s"),
        (h, m, _) => format!("{h} h {m:02} min"),
    }
}

/// A time as one plans an evening by: whole minutes, rounded up.
pub(in crate::write) fn minutes(seconds: f64) -> String {
    let whole = (seconds / 60.0).ceil() * 60.0;
    if whole >= 3600.0 || whole.is_nan() || whole <= 0.0 {
        time(whole)
    } else {
        format!("{:.0} min", whole / 60.0)
    }
}

/// A turn, degrees from 0 to 360.
pub(in crate::write) fn turn(deg: f64) -> String {
    let whole = deg.rem_euclid(360.0);
    let text = crate::write::number((whole * 10.0).round() / 10.0);
    format!("{}°", if text == "360" { "0" } else { &text })
}

/// A coordinate, tenths of a millimetre.
pub(in crate::write) fn coordinate(mm: f64) -> String {
    let text = format!("{mm:.1}");
    if text == "-0.0" { "0.0".into() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_lengths_and_turns_read_as_people_say_them() {
        assert_eq!(time(45.2), "45 s");
        assert_eq!(time(750.0), "12 min 30 s");
        assert_eq!(time(3840.0), "1 h 04 min");
        assert_eq!(time(f64::NAN), "not known");
        assert_eq!((minutes(1939.0).as_str(), minutes(3541.0).as_str()), ("33 min", "1 h 00 min"));
        assert_eq!(minutes(f64::NAN), "not known");
        assert_eq!(length(1312.4), "1312 mm");
        assert_eq!(length(12_345.0), "12.35 m");
        assert_eq!((area(786_900.0).as_str(), area(45_210.0).as_str()), ("0.79 m²", "452 cm²"));
        assert_eq!(turn(-90.0), "270°");
        assert_eq!(turn(359.99), "0°");
        assert_eq!(coordinate(-0.01), "0.0");
    }

    #[test]
    fn a_column_of_dashes_is_left_out() {
        let row = |cells: [&str; 3]| cells.map(String::from).to_vec();
        let columns = [words("Joint"), figures("key alone"), figures("step")];
        let html = table("Steps", &columns, &[row(["wave", "–", "0.2"]), row(["fish", "–", "–"])]);
        assert!(!html.contains("key alone") && html.contains("0.2"), "{html}");
        let html = table("Steps", &columns, &[row(["wave", "0.1", "0.2"]), row(["fish", "–", "–"])]);
        assert!(html.contains("key alone") && html.contains("–"), "{html}");
    }

    #[test]
    fn nothing_written_by_a_maker_becomes_markup() {
        let html = table("<b>", &[words("a\"b")], &[vec!["<script>alert(1)</script>&'".into()]]);
        assert!(!html.contains("<script") && !html.contains("<b>"));
        assert!(html.contains("&lt;script&gt;alert(1)&lt;/script&gt;&amp;&#39;"));
    }
}
