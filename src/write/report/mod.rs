//! `report.html`: the whole plan on one page that needs nothing else, for the screen and for A4.

mod bed;
pub(super) mod cautions;
pub(super) mod html;
pub(super) mod passes;
mod sewing;
mod sewn;
mod style;

use std::collections::BTreeMap;

use crate::PROGRAM;
use crate::cloth::Cloth;
use crate::job::Job;
use crate::plan::{Plan, PlanCloth};
use crate::say::{Level, Note, counted};

use super::lay_picture::piece_name;
use super::sheets::steps::takes_a_key;
use html::{area, esc, facts, figures, length, minutes, table, turn, words};

/// The report. `pictures` are the lay and the work as sewn as SVG; `stems` are the cut files' stems by cloth.
pub(super) fn report(
    job: &Job,
    plan: &Plan,
    cloths: &[Cloth],
    [lay, work]: [&str; 2],
    stems: &BTreeMap<String, String>,
) -> String {
    let title = if plan.title.trim().is_empty() { "Cutting plan" } else { plan.title.trim() };
    let safe = esc(title);
    let sections = [
        ("notes", "Notes and cautions", notes(plan)),
        ("lay", "Lay", lay_section(lay)),
        ("sewn", "The work as sewn", sewn::section(plan, work)),
        ("cloth", "Cloth", cloths_section(plan)),
        ("passes", "Passes", passes::passes(plan, &job.cutter, stems)),
        ("pieces", "Pieces", pieces(plan)),
        ("sewing", "Sewing", sewing::sewing(plan)),
        ("before", "Before you cut", standing()),
    ];
    let sections: Vec<_> = sections.into_iter().filter(|(_, _, body)| !body.is_empty()).collect();
    let links: String =
        sections.iter().map(|(id, name, _)| format!("<li><a href=\"#{id}\">{name}</a></li>\n")).collect();
    let bodies: String = sections
        .iter()
        .map(|(id, name, body)| {
            format!("<section aria-labelledby=\"{id}\">\n<h2 id=\"{id}\">{name}</h2>\n{body}</section>\n")
        })
        .collect();
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta name=\"generator\" content=\"{PROGRAM}\">\n\
         <link rel=\"icon\" href=\"data:,\">\n<title>{safe}</title>\n<style>{}</style>\n</head>\n<body>\n\
         <div class=\"selvedge\" aria-hidden=\"true\" style=\"background:{}\"></div>\n\
         <header>\n<h1>{safe}</h1>\n<p>{}</p>\n{}{HEED}<nav aria-label=\"Sections\"><ul>\n{links}</ul></nav>\n</header>\n\
         <main>\n{bodies}</main>\n<footer>{} · seed {} · lengths in mm, the cloth face up, x across from the left selvedge, \
         y along the warp from the near cut end</footer>\n</body>\n</html>\n",
        style::STYLE,
        band(plan, cloths),
        esc(&summary(plan)),
        headline(plan),
        esc(&plan.program),
        plan.seed,
    )
}

/// The lay's picture, without the XML it does not need inside a page.
fn lay_section(lay: &str) -> String {
    let svg =
        lay.replacen("<svg ", "<svg role=\"img\" aria-label=\"The pieces as they lie on the cloth\" ", 1);
    format!(
        "<figure class=\"wide\">\n<div class=\"picture\" role=\"region\" tabindex=\"0\" aria-label=\"The lay\">\n{svg}</div>\n<figcaption>What is cut, in full colour; what is left, in pale. Also as <code>lay.svg</code> and \
         <code>lay.png</code>.</figcaption>\n</figure>\n"
    )
}

fn summary(plan: &Plan) -> String {
    format!(
        "{} from {}, cut in {}.",
        counted(plan.pieces.len(), "piece", "pieces"),
        counted(plan.cloths.len(), "cloth", "cloths"),
        counted(plan.passes.len(), "pass", "passes"),
    )
}

/// What a maker looks for first: what to buy, how many passes, how long.
fn headline(plan: &Plan) -> String {
    let mut items: Vec<[String; 3]> = plan
        .cloths
        .iter()
        .map(|cloth| {
            let width = format!("of {:.0} mm width", cloth_width(cloth));
            let cost = cloth.cost.map_or(String::new(), |c| format!(", cost {c:.2}"));
            if cloth.open_length {
                let metres = format!("{:.2} m", cloth.buy_length_mm / 1000.0);
                [format!("Buy {}", cloth.name), metres, width + &cost]
            } else {
                let used = length(cloth.used_length_mm);
                [format!("Take from {}", cloth.name), used, "of the cloth there is".to_owned()]
            }
        })
        .collect();
    let keys = plan.passes.iter().filter(|p| takes_a_key(plan, p)).count();
    let with = match keys {
        0 => "no key to cut".to_owned(),
        n => format!("{n} with a key to cut first"),
    };
    items.push(["Passes".to_owned(), plan.passes.len().to_string(), with]);
    let cut: f64 = plan.passes.iter().map(|p| p.cut_length_mm).sum();
    let seconds: f64 = plan.passes.iter().map(|p| p.seconds).sum();
    items.push(["On the cutter, about".to_owned(), minutes(seconds), format!("{} of cut", length(cut))]);
    let rows: String = items
        .iter()
        .map(|[name, value, more]| {
            format!("<div><dt>{}</dt><dd>{}<small>{}</small></dd></div>\n", esc(name), esc(value), esc(more))
        })
        .collect();
    format!("<dl class=\"figures\">\n{rows}</dl>\n")
}

/// The shortest form of what always holds, at the top of the page.
const HEED: &str = "<p class=\"heed\"><b>Before you cut:</b> fumes drawn off, nothing coated, metallised or unknown, a fire \
extinguisher at hand, and never away from a running laser. <a href=\"#before\">All cautions</a></p>\n";

fn cloth_width(cloth: &PlanCloth) -> f64 {
    let across = cloth.outline.iter().map(|p| p[0]);
    let width = across.clone().fold(f64::NEG_INFINITY, f64::max) - across.fold(f64::INFINITY, f64::min);
    width.max(0.0)
}

/// A note as an item of a list.
fn item(note: &Note) -> String {
    let (class, word) = match note.level {
        Level::Caution => ("caution", "Caution"),
        Level::Advice => ("advice", "Advice"),
    };
    format!("<li class=\"{class}\"><b>{word}: {}.</b> {}</li>\n", esc(&note.about), esc(&note.text))
}

/// Every caution, and the advice that stands with no pass.
fn notes(plan: &Plan) -> String {
    let with_a_pass = |n: &&Note| plan.passes.iter().any(|pass| passes::concerns(n, pass));
    let mut here: Vec<_> =
        plan.notes.iter().filter(|n| n.level == Level::Caution || !with_a_pass(n)).collect();
    here.sort_by_key(|n| n.level);
    let items: String = here.into_iter().map(item).collect();
    let beware = match plan.notes.iter().filter(with_a_pass).count() {
        0 => String::new(),
        _ => {
            "<p>What concerns one pass stands with it, under <a href=\"#passes\">Passes</a>.</p>\n".to_owned()
        }
    };
    if items.is_empty() {
        format!("<p>Nothing out of the ordinary.</p>\n{beware}")
    } else {
        format!("<ul class=\"notes\">\n{items}</ul>\n{beware}")
    }
}

fn cloths_section(plan: &Plan) -> String {
    let cards: String = plan.cloths.iter().map(|cloth| cloth_card(plan, cloth)).collect();
    if cards.is_empty() { cards } else { format!("<div class=\"cards\">\n{cards}</div>\n") }
}

fn cloth_card(plan: &Plan, cloth: &PlanCloth) -> String {
    let width = cloth_width(cloth);
    let kept: f64 = cloth.offcuts.iter().map(|o| o.area_mm2).sum();
    let pieces = plan.pieces.iter().filter(|p| p.cloth == cloth.name).count();
    let mut pairs = vec![
        ("Pieces", pieces.to_string()),
        ("Used", format!("{width:.0} × {:.0} mm", cloth.used_length_mm)),
        ("Area used", area(cloth.used_area_mm2)),
        ("Area of pieces", area(cloth.pieces_area_mm2)),
        ("Efficiency", format!("{:.1} %", cloth.efficiency * 100.0)),
    ];
    if cloth.proved_shortest {
        pairs.push(("Shortest possible", "this lay, proved".into()));
    } else if cloth.least_length_mm > 0.0 {
        pairs.push(("No lay is shorter than", format!("{:.0} mm", cloth.least_length_mm)));
    }
    if let Some(r) = cloth.largest_rectangle_mm {
        pairs.push(("Largest rectangle left", format!("{:.0} × {:.0} mm", r.width, r.height)));
    }
    if cloth.open_length {
        let parts = cloth.buying.map_or(String::new(), |b| format!(": {}", b.words()));
        pairs.push(("Length to buy", format!("{:.2} m{parts}", cloth.buy_length_mm / 1000.0)));
    }
    pairs.push(("Cost", cloth.cost.map_or("price not given".into(), |c| format!("{c:.2}"))));
    pairs.push((
        "Leftovers worth keeping",
        match cloth.offcuts.len() {
            0 => "none".into(),
            n => format!("{n}, {}", area(kept)),
        },
    ));
    let weight = cloth.waste_g.map_or("weight not given".into(), |g| format!("{g:.0} g"));
    pairs.push(("Waste", format!("{}, {weight}", area(cloth.waste_mm2()))));
    pairs.push(("Pattern repeats", repeats(cloth)));
    format!("<article class=\"card\">\n<h3>{}</h3>\n{}</article>\n", esc(&cloth.name), facts(&pairs))
}

fn repeats(cloth: &PlanCloth) -> String {
    let size = |v: Option<[f64; 2]>| v.map(|[x, y]| format!("{:.1} mm", x.hypot(y)));
    match cloth.pattern.as_ref().map(|p| (size(p.a), size(p.b))) {
        Some((Some(a), Some(b))) => format!("{a} across, {b} along"),
        Some((Some(a), None)) => format!("{a} across"),
        Some((None, Some(b))) => format!("{b} along"),
        _ => "no pattern".into(),
    }
}

fn pieces(plan: &Plan) -> String {
    let rows: Vec<Vec<String>> = plan
        .pieces
        .iter()
        .enumerate()
        .map(|(i, p)| {
            vec![
                (i + 1).to_string(),
                piece_name(p, &plan.pieces),
                p.cloth.clone(),
                turn(p.turn_deg),
                p.matching.word().into(),
                crate::write::number(p.allowance_mm),
                if p.underlap_mm > 0.0 { crate::write::number(p.underlap_mm) } else { "–".into() },
            ]
        })
        .collect();
    if rows.is_empty() {
        return String::new();
    }
    let columns = [
        figures("No."),
        words("Piece"),
        words("Cloth"),
        figures("Turn"),
        words("Match"),
        figures("Allowance, mm"),
        figures("Underlap, mm"),
    ];
    table("Every piece; one without room for its name carries its number in the picture", &columns, &rows)
}

fn standing() -> String {
    let items: String = cautions::STANDING
        .iter()
        .map(|c| format!("<li class=\"caution\"><b>{}.</b> {}</li>\n", esc(c.about), esc(c.text)))
        .collect();
    format!("<ul class=\"notes\">\n{items}</ul>\n")
}

/// A band of the first cloth's warp, thread for thread, across the top of the page.
fn band(plan: &Plan, cloths: &[Cloth]) -> String {
    let first = plan.cloths.first().and_then(|p| cloths.iter().find(|c| c.name == p.name));
    let threads =
        first.and_then(|c| c.pattern.as_ref()).map(|p| p.warp_threads.as_slice()).unwrap_or_default();
    if threads.len() < 2 {
        return first.map_or("#6d6470".into(), |c| super::colours::hex(c.colour));
    }
    let mut stops = Vec::new();
    let mut start = 0;
    for run in threads.chunk_by(|a, b| a == b) {
        let end = start + run.len();
        let colour = run.first().copied().map(super::colours::hex).unwrap_or_default();
        stops.push(format!(
            "{colour} {}px {}px",
            super::number(start as f64 * 1.5),
            super::number(end as f64 * 1.5)
        ));
        start = end;
    }
    format!("repeating-linear-gradient(90deg,{})", stops.join(","))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::sample::{sample_cloths, sample_job, sample_plan};

    fn sample(change: impl Fn(&mut Plan)) -> String {
        let mut plan = sample_plan();
        change(&mut plan);
        let lay = crate::write::lay_svg(&plan, &[]);
        report(&sample_job(), &plan, &sample_cloths(), [&lay, ""], &crate::write::names::stems(&plan))
    }

    #[test]
    fn the_page_needs_nothing_from_outside() {
        let page = sample(|_| {});
        for outside in ["http://", "https://", "<script", "@import", "src=\"", "url(/"] {
            let rest = page.replace("http://www.w3.org/2000/svg", "");
            assert!(!rest.contains(outside), "{outside}");
        }
        assert_eq!(page, sample(|_| {}));
    }

    #[test]
    fn a_title_with_markup_stays_words() {
        let evil = "</title><script>alert(1)</script>\"'&";
        let page = sample(|plan| {
            plan.title = evil.into();
            plan.cloths[0].name = evil.into();
            plan.pieces[0].id = evil.into();
            plan.passes[0].cloth = evil.into();
            plan.passes[1].marks[0].name = evil.into();
            plan.notes[0].text = evil.into();
            plan.notes[0].about = evil.into();
            plan.program = evil.into();
        });
        assert!(!page.contains("<script") && !page.contains("alert(1)</script>"));
        assert!(page.contains("&lt;/title&gt;&lt;script&gt;alert(1)"));
    }

    #[test]
    fn cautions_stand_on_every_page() {
        let page = sample(|plan| plan.notes.clear());
        assert!(page.find("class=\"heed\"").unwrap() < page.find("<nav").unwrap());
        for word in
            ["hydrogen cyanide", "PVC", "Never leave a running laser", "Metallised", "manual of your machine"]
        {
            assert!(page.contains(word), "{word}");
        }
        let page = sample(|_| {});
        assert!(page.find("Caution: piece wave-2").unwrap() < page.find("Advice: cloth saltmarsh").unwrap());
    }

    #[test]
    fn every_pass_mark_and_piece_is_listed() {
        let plan = sample_plan();
        let page = sample(|_| {});
        for pass in &plan.passes {
            assert!(page.contains(&format!("{}, pass {}</h3>", pass.cloth, pass.number)));
        }
        assert!(page.contains("cut/saltmarsh-pass-2-key.svg"));
        assert_eq!(page.matches("find it again").count(), 4);
        assert!(plan.pieces.iter().all(|p| page.contains(&piece_name(p, &plan.pieces))));
    }

    #[test]
    fn pivots_are_asked_for_until_a_first_pass_is_realigned_or_cut() {
        let page = sample(|_| {});
        assert!(page.contains("Pivots to measure before pass 1") && page.contains("pivot 0 0"));
        assert!(page.contains("Realign by the pattern: pivot I J"));
        assert_eq!(page.matches("<caption>Pivots to measure").count(), 1, "the other cloth has no pattern");
        for told in [
            sample(|p| p.notes.push(Note::advice("saltmarsh, pass 1", "Realigned by pivot 0 0."))),
            sample(|p| p.passes[0].cut_on = Some("2026-05-01T14:03:00Z".into())),
        ] {
            assert!(!told.contains("Pivots to measure"));
        }
    }

    #[test]
    fn the_cutting_step_names_what_is_burnt_in_its_order_and_the_file_to_run() {
        let page = sample(|_| {});
        assert!(page.contains("saltmarsh-pass-1.svg</code> or <code>.dxf</code>: marks first, then each piece's cut-outs before its outline."));
        assert!(
            page.contains("saltmarsh-pass-2.svg</code> or <code>.dxf</code>: the outlines."),
            "no marks are burnt in it"
        );
        let mut job = sample_job();
        job.cutter = crate::write::sample::sample_cutter();
        let plan = sample_plan();
        let page = report(&job, &plan, &sample_cloths(), ["", ""], &crate::write::names::stems(&plan));
        assert!(page.contains("<code>cut/saltmarsh-pass-1.gcode</code> (or <code>.svg</code>"));
    }

    #[test]
    fn a_note_about_a_pass_stands_with_it_and_a_caution_at_the_top_as_well() {
        let page = sample(|plan| {
            let about = format!("{}, pass 1", plan.passes[0].cloth);
            plan.notes = vec![Note::advice(about.clone(), "Only here."), Note::caution(about, "Twice here.")];
        });
        assert_eq!((page.matches("Only here.").count(), page.matches("Twice here.").count()), (1, 2));
        assert!(page.find("Only here.") > page.find("id=\"passes\""));
    }

    #[test]
    fn the_first_screen_says_what_to_buy_and_how_often_to_cut() {
        let page = sample(|plan| plan.cloths[0].open_length = true);
        let top = &page[..page.find("<nav").unwrap()];
        for words in ["Buy ", "Take from ", "Passes</dt>", "On the cutter"] {
            assert!(top.contains(words), "{words}");
        }
    }

    #[test]
    fn a_plan_of_nothing_still_gives_a_page() {
        let page = sample(|plan| {
            plan.cloths.clear();
            plan.pieces.clear();
            plan.passes.clear();
        });
        assert!(page.contains("0 pieces from 0 cloths"));
    }
}
