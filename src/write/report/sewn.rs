//! The work as sewn in the report: its picture, how the pattern runs across, what is slender on the bias.

use crate::plan::{Plan, PlanRunAcross};

use super::super::lay_picture::piece_name;
use super::html::{figures, table, turn, words};

/// The section; empty without a picture and without anything measured.
pub(super) fn section(plan: &Plan, picture: &str) -> String {
    let mut html = String::new();
    if !picture.is_empty() {
        let svg = picture.replacen(
            "<svg ",
            "<svg role=\"img\" aria-label=\"The work with every piece in the very cloth it is cut from\" ",
            1,
        );
        html.push_str(&format!(
            "<figure class=\"wide\">\n<div class=\"picture\" role=\"region\" tabindex=\"0\" aria-label=\"The work as \
             sewn\">\n{svg}</div>\n<figcaption>Every piece in the very cloth it is cut from, thread for thread; stitches \
             are drawn coarser than they are. Also as <code>sewn.svg</code> and <code>sewn.png</code>.</figcaption>\n\
             </figure>\n"
        ));
    }
    html + &run_across(plan) + &slender(plan)
}

/// Every pair of neighbours, numbered as in the picture.
fn run_across(plan: &Plan) -> String {
    if plan.run_across.is_empty() {
        return String::new();
    }
    let copies = plan.run_across.iter().any(|r| r.copy > 1);
    let off = |mm: Option<f64>| mm.map_or("–".to_owned(), |mm| format!("{:.1}", mm.abs()));
    let rows: Vec<Vec<String>> = plan
        .run_across
        .iter()
        .enumerate()
        .map(|(i, r)| {
            let copy = if copies { format!(" · {}", r.copy) } else { String::new() };
            vec![
                (i + 1).to_string(),
                format!("{} and {}{copy}", r.upper, r.lower),
                verdict(r).into(),
                off(r.off_across_mm),
                off(r.off_along_mm),
                format!("{:.0} %", 100.0 * r.score),
                format!("{:.0}", r.common_mm),
            ]
        })
        .collect();
    let columns = [
        figures("No."),
        words("Neighbours"),
        words("Pattern"),
        figures("Off across, mm"),
        figures("Off along, mm"),
        figures("Score"),
        figures("Common edge, mm"),
    ];
    table(
        "How the pattern runs across: 100 % the same on either side of the common edge, 0 % no more alike than any two spots \
         of the cloth",
        &columns,
        &rows,
    )
}

/// The pair in a word or two.
fn verdict(r: &PlanRunAcross) -> &'static str {
    if r.runs_through {
        "runs through"
    } else if r.asked {
        "breaks, though asked to run through"
    } else if r.score >= super::super::sewn_picture::NEARLY {
        "nearly"
    } else {
        "breaks"
    }
}

fn slender(plan: &Plan) -> String {
    let rows: Vec<Vec<String>> = plan
        .pieces
        .iter()
        .flat_map(|p| p.slender.iter().map(move |run| (p, run)))
        .map(|(p, run)| {
            let to = run.turn_deg.map_or(String::new(), |deg| format!(", by {}", turn(deg)));
            vec![
                piece_name(p, &plan.pieces),
                format!("{:.0}", run.length_mm),
                format!("{:.1}", run.width_mm),
                format!("{:.1}", run.least_width_mm),
                format!("{:.0}°", run.off_bias_deg),
                format!("{}{to}", run.verdict),
            ]
        })
        .collect();
    if rows.is_empty() {
        return String::new();
    }
    let columns = [
        words("Piece"),
        figures("Length, mm"),
        figures("Mean width, mm"),
        figures("Least, mm"),
        figures("Off the bias"),
        words("What to do"),
    ];
    table("Narrow runs on the bias, where woven cloth gives most", &columns, &rows)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::PlanSlender;
    use crate::write::sample::sample_plan;

    #[test]
    fn what_is_measured_is_listed_in_plain_words() {
        let mut plan = sample_plan();
        assert_eq!(section(&plan, ""), "");
        let pair = |score, runs_through, across| PlanRunAcross {
            upper: "heron".into(),
            lower: "wave <1>".into(),
            copy: 1,
            at: [0.0, 0.0],
            common_mm: 120.0,
            off_across_mm: across,
            off_along_mm: None,
            colours: Some(score),
            score,
            runs_through,
            asked: false,
        };
        plan.run_across =
            vec![pair(1.0, true, Some(0.0)), pair(0.85, false, Some(-2.25)), pair(0.1, false, None)];
        plan.pieces[0].slender = vec![PlanSlender {
            axis: vec![[0.0, 0.0], [60.0, 60.0]],
            length_mm: 84.6,
            width_mm: 7.0,
            least_width_mm: 5.5,
            off_bias_deg: 3.0,
            verdict: "turn it".into(),
            turn_deg: Some(90.0),
        }];
        let html = section(&plan, "");
        for said in [
            "heron and wave &lt;1&gt;",
            "runs through",
            "nearly",
            "breaks",
            "2.2",
            "85 %",
            "wave-1",
            "turn it, by 90°",
        ] {
            assert!(html.contains(said), "{said}: {html}");
        }
    }
}
