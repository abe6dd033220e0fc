//! How the report looks: paper and ink by day, dyed wool by night, plain on a printed sheet.

/// The whole style sheet. Colours meet WCAG 2.2 AA, 4.5:1 for text (checked in the tests).
pub(super) const STYLE: &str = r#"
:root { color-scheme: light dark;
  --paper: #f8f4eb; --card: #fffdf8; --ink: #2b2733; --soft: #625966; --line: #d9d0c2; --strong: #8b7f86;
  --madder: #96352d; --madder-wash: #f9e9e4; --woad: #2a577b; --woad-wash: #e8eef3; }
@media (prefers-color-scheme: dark) { :root {
  --paper: #211d27; --card: #2a2531; --ink: #efe8dc; --soft: #b9aebb; --line: #453d4d; --strong: #8a7f92;
  --madder: #f0a394; --madder-wash: #43282b; --woad: #a3c6e3; --woad-wash: #26323f; } }
* { box-sizing: border-box; }
body { margin: 0; background: var(--paper); color: var(--ink);
  font: 1rem/1.55 system-ui, -apple-system, "Segoe UI", Roboto, "Noto Sans", "Liberation Sans", sans-serif; }
h1, h2, h3 { font-family: "Iowan Old Style", "Palatino Linotype", Palatino, "URW Palladio L", P052, Georgia, serif;
  font-weight: 500; line-height: 1.2; text-wrap: balance; }
h1 { font-size: clamp(2rem, 5vw, 3rem); margin: 0 0 .3rem; overflow-wrap: anywhere; }
h2 { font-size: 1.7rem; margin: 0 0 1.1rem; padding-bottom: .45rem; border-bottom: 3px double var(--strong); }
h3 { font-size: 1.25rem; margin: 0 0 .7rem; overflow-wrap: anywhere; }
p { margin: 0 0 .8rem; max-width: 68ch; }
.selvedge { height: 22px; border-bottom: 1px solid var(--line); print-color-adjust: exact; -webkit-print-color-adjust: exact; }
header, main, footer { max-width: 74rem; margin: 0 auto; padding: 0 clamp(1rem, 4vw, 2.5rem); }
header { padding-top: 2.2rem; }
header p { color: var(--soft); }
section { margin: 3.2rem 0 0; }
footer { margin-top: 3.5rem; padding-top: 1rem; padding-bottom: 2.5rem; border-top: 1px solid var(--line); color: var(--soft); font-size: .875rem; }
nav ul { list-style: none; margin: 1.4rem 0 0; padding: 0; display: flex; flex-wrap: wrap; gap: .3rem 1.4rem; }
a { color: var(--woad); text-underline-offset: .2em; }
a:focus-visible, .scroll:focus-visible { outline: 3px solid var(--woad); outline-offset: 2px; }
.figures { display: flex; flex-wrap: wrap; gap: 1px; margin: 1.8rem 0 0;
  background: var(--line); border: 1px solid var(--line); border-radius: 10px; overflow: hidden; }
.figures div { background: var(--card); padding: .85rem 1.1rem; flex: 1 1 9.5rem; }
.figures dt { color: var(--soft); font-size: .875rem; }
.figures dt, .figures small { overflow-wrap: anywhere; }
.figures dd { margin: 0; font-size: 1.45rem; font-variant-numeric: tabular-nums; }
.figures small { display: block; font-size: .875rem; color: var(--soft); }
header .heed { margin: 1.2rem 0 0; padding: .7rem 1.1rem; max-width: none; color: var(--ink);
  background: var(--madder-wash); border-left: 5px solid var(--madder); border-radius: 8px; }
.heed b { color: var(--madder); }
figure { margin: 0; }
figure.wide { width: min(100vw - 2rem, 96rem); margin-left: 50%; transform: translateX(-50%); }
figure svg { display: block; width: 100%; height: auto; border-radius: 10px; border: 1px solid var(--line); }
.picture { overflow-x: auto; border-radius: 10px; }
.picture:focus-visible { outline: 3px solid var(--woad); outline-offset: 2px; }
.picture svg { min-width: 56rem; }
figcaption { color: var(--soft); font-size: .875rem; margin-top: .6rem; max-width: 68ch; }
.card { background: var(--card); border: 1px solid var(--line); border-radius: 10px; padding: 1.3rem 1.4rem; margin: 0 0 1.4rem; }
.cards { display: grid; gap: 1.4rem; grid-template-columns: repeat(auto-fit, minmax(min(100%, 25rem), 1fr)); }
.cards .card { margin: 0; }
.pass { display: grid; gap: 1.6rem; grid-template-columns: minmax(0, 6fr) minmax(0, 5fr); align-items: start; }
@media (max-width: 52rem) { .pass { grid-template-columns: minmax(0, 1fr); } }
.facts { margin: 0; }
.facts div { display: flex; justify-content: space-between; gap: 1rem; padding: .32rem 0; border-bottom: 1px solid var(--line); }
.facts div:last-child { border-bottom: 0; }
.facts dt { color: var(--soft); }
.facts dd { margin: 0; text-align: right; font-variant-numeric: tabular-nums; overflow-wrap: anywhere; }
.notes { list-style: none; margin: 0 0 1.4rem; padding: 0; display: grid; gap: .7rem; }
.notes li { padding: .8rem 1.1rem; border-radius: 8px; border-left: 5px solid var(--woad); background: var(--woad-wash); max-width: none; }
.notes li.caution { border-left-color: var(--madder); background: var(--madder-wash); }
.notes b { color: var(--woad); margin-right: .4em; overflow-wrap: anywhere; }
.notes .caution b { color: var(--madder); }
h4 { font-size: 1rem; margin: 1.3rem 0 .5rem; }
ol.steps { margin: 0 0 1rem; padding-left: 1.3rem; max-width: 68ch; }
ol.steps li { margin-bottom: .4rem; }
.scroll { overflow-x: auto; margin: 1.2rem 0 0; }
table { border-collapse: collapse; width: 100%; font-size: .9375rem; }
caption { text-align: left; color: var(--soft); font-size: .875rem; padding-bottom: .4rem; }
th, td { text-align: left; padding: .42rem .9rem .42rem 0; border-bottom: 1px solid var(--line); vertical-align: baseline; }
thead th { color: var(--soft); font-weight: 600; font-size: .875rem; border-bottom: 2px solid var(--strong); }
tbody th { font-weight: 600; white-space: nowrap; }
tbody th.long { white-space: normal; overflow-wrap: anywhere; }
.n { text-align: right; padding-right: 1.8rem; font-variant-numeric: tabular-nums; white-space: nowrap; }
code { font: .9em ui-monospace, "SFMono-Regular", Menlo, Consolas, "Liberation Mono", monospace; overflow-wrap: anywhere; }
@media print {
  :root { color-scheme: light; --paper: #fff; --card: #fff; --ink: #1d1a22; --soft: #554d59; --line: #cfc6ba; --strong: #7a6f76;
    --madder: #8a2d26; --madder-wash: #fff; --woad: #234a69; --woad-wash: #fff; }
  @page { size: A4; margin: 14mm; }
  html { font-size: 9.5pt; }
  header, main, footer { max-width: none; padding: 0; }
  nav { display: none; }
  section { margin-top: 9mm; }
  figure.wide { width: auto; margin-left: 0; transform: none; }
  .picture { overflow: visible; }
  .picture svg { min-width: 0; }
  .pass { grid-template-columns: 6fr 5fr; }
  figure svg { max-height: 236mm; }
  .figures div { flex-basis: 6rem; }
  .figures dd { font-size: 1.1rem; }
  .cards { grid-template-columns: 1fr 1fr; }
  .card, figure, tr, .notes li { break-inside: avoid; }
  h2, h3, caption { break-after: avoid; }
  .scroll { overflow: visible; }
}
"#;

#[cfg(test)]
mod tests {
    use super::STYLE;

    /// Value of a colour variable in the `nth` block of them.
    fn colour(name: &str, nth: usize) -> [f64; 3] {
        let at = STYLE.match_indices(&format!("--{name}: #")).nth(nth).unwrap().0;
        let hex: String = STYLE[at..]
            .chars()
            .skip_while(|&c| c != '#')
            .skip(1)
            .take_while(char::is_ascii_hexdigit)
            .collect();
        let hex = if hex.len() == 3 { hex.chars().flat_map(|c| [c, c]).collect() } else { hex };
        [0, 2, 4].map(|i| f64::from(u8::from_str_radix(&hex[i..i + 2], 16).unwrap()))
    }

    /// Contrast ratio as WCAG 2.2 defines it (relative luminance of sRGB colours).
    fn contrast(a: [f64; 3], b: [f64; 3]) -> f64 {
        let light = |c: [f64; 3]| {
            let [r, g, b] = c.map(|v| {
                let v = v / 255.0;
                if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
            });
            0.2126 * r + 0.7152 * g + 0.0722 * b
        };
        let (x, y) = (light(a), light(b));
        (x.max(y) + 0.05) / (x.min(y) + 0.05)
    }

    #[test]
    fn text_stands_out_by_day_by_night_and_on_paper() {
        for nth in 0..3 {
            for (text, ground) in [
                ("ink", "paper"),
                ("ink", "card"),
                ("soft", "paper"),
                ("soft", "card"),
                ("woad", "paper"),
                ("woad", "card"),
                ("madder", "madder-wash"),
                ("woad", "woad-wash"),
                ("ink", "madder-wash"),
                ("ink", "woad-wash"),
            ] {
                let ratio = contrast(colour(text, nth), colour(ground, nth));
                assert!(ratio >= 4.5, "{text} on {ground} ({nth}): {ratio:.2}");
            }
        }
    }
}
