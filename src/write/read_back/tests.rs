use super::*;
use crate::write::sample::{sample_cutter, sample_plan};
use crate::write::{cut_dxf, cut_gcode, cut_svg, key_dxf, key_lines, key_svg, pass_lines, rehearsal};

fn svg(pass: &PlanPass, cutter: &Cutter) -> String {
    cut_svg("t", pass, &pass_lines(pass, cutter), cutter)
}

#[test]
fn every_cut_file_of_the_sample_reads_back() {
    use crate::job::Home::*;
    let plan = sample_plan();
    for home in [NearLeft, NearRight, FarLeft, FarRight] {
        let cutter = Cutter { home, ..sample_cutter() };
        for pass in &plan.passes {
            let (lines, keys) = (pass_lines(pass, &cutter), key_lines(pass, &cutter));
            check_svg("a", &cut_svg("t", pass, &lines, &cutter), pass, &cutter).unwrap();
            check_key_svg("b", &key_svg("t", pass, &keys, &cutter), pass, &cutter).unwrap();
            check_dxf("c", &cut_dxf(pass, &lines, &cutter), pass, &cutter).unwrap();
            check_key_dxf("d", &key_dxf(pass, &keys, &cutter), pass, &cutter).unwrap();
            let code = cut_gcode("t", pass, &lines, &cutter).unwrap();
            check_gcode("e", &code.text, code.header, pass, &cutter).unwrap();
            let code = rehearsal("t", pass, &lines, &cutter).unwrap();
            check_rehearsal("f", &code.text, code.header, &cutter).unwrap();
        }
    }
}

/// A reader that takes each arc of a large round for one or two cubic curves would be off by more than is let pass.
#[test]
fn a_round_as_large_as_the_bed_reads_back() {
    let mut pass = sample_plan().passes[0].clone();
    pass.burns.truncate(1);
    let around = |i: i32| {
        let (c, s) = crate::shape::turn_cos_sin(0.1 * f64::from(i));
        [450.0 + 290.0 * c, 300.0 + 290.0 * s]
    };
    let burn = &mut pass.burns[0];
    (burn.kind, burn.closed, burn.lead_in) = ("outline".into(), true, None);
    burn.path = (0..3600).map(around).collect();
    let cutter = sample_cutter();
    assert!(pass_lines(&pass, &cutter)[0].course.steps.len() < 6);
    check_svg("a", &svg(&pass, &cutter), &pass, &cutter).unwrap();
}

#[test]
fn a_file_that_is_off_is_caught() {
    let (plan, cutter) = (sample_plan(), sample_cutter());
    let pass = &plan.passes[0];
    let good = svg(pass, &cutter);
    let dxf = cut_dxf(pass, &pass_lines(pass, &cutter), &cutter);
    let code = cut_gcode("t", pass, &pass_lines(pass, &cutter), &cutter).unwrap();
    let caught = |moved: &PlanPass, why: &str| {
        assert!(check_svg("a", &good, moved, &cutter).is_err(), "{why}");
        assert!(check_dxf("a", &dxf, moved, &cutter).is_err(), "{why}");
        assert!(check_gcode("a", &code.text, code.header, moved, &cutter).is_err(), "{why}");
    };
    let mut moved = pass.clone();
    moved.burns[12].path[2][0] += 0.1;
    moved.burns[12].path[2][1] += 0.1;
    caught(&moved, "a point 0.14 mm off");
    moved = pass.clone();
    moved.burns.pop();
    caught(&moved, "a burn missing");
    moved = pass.clone();
    moved.burns[0].path[0][0] = f64::NAN;
    caught(&moved, "not a number");
    assert!(check_svg("a", &svg(&moved, &cutter), &moved, &cutter).is_err(), "not a number, in both");
    moved = pass.clone();
    moved.bed_mm[1] += 1.0;
    assert!(check_svg("a", &good, &moved, &cutter).is_err(), "another bed");
    assert!(check_svg("a", &good.replace("900mm", "900"), pass, &cutter).is_err(), "units lost");
}

#[test]
fn a_machine_is_never_told_what_it_must_not_do() {
    let (plan, cutter) = (sample_plan(), sample_cutter());
    let pass = &plan.passes[0];
    let code = cut_gcode("t", pass, &pass_lines(pass, &cutter), &cutter).unwrap();
    let said = |text: &str| check_gcode("a", text, code.header, pass, &cutter).unwrap_err().what;
    assert!(said(&code.text.replace("\nM5\nG0", "\nG0")).contains("beam on"));
    assert!(said(&code.text.replacen("G0 X", "G0 X-", 1)).contains("leaves the bed"));
    assert!(said(&code.text.replacen(" J", " J9", 1)).contains("circle"));
    let turned_round = code.text.replace("G2 ", "G9 ").replace("G3 ", "G2 ").replace("G9 ", "G3 ");
    assert!(check_gcode("a", &turned_round, code.header, pass, &cutter).is_err());
    let never_off = code.text.lines().filter(|l| *l != "M5").collect::<Vec<_>>().join("\n");
    assert!(check_gcode("a", &never_off, code.header, pass, &cutter).is_err());
    assert!(check_rehearsal("a", &code.text, code.header, &cutter).is_err());
}

/// Some controllers act on these as they arrive, in a remark as anywhere.
#[test]
fn no_name_brings_a_sign_into_a_remark_that_a_machine_acts_on() {
    let cutter = sample_cutter();
    let mut pass = sample_plan().passes[0].clone();
    let names = [
        "Halt! ~ wait? 50 % $H ; (G0 X9)",
        "a\r\nM3 S9\u{18}\u{85}!",
        "[x] {y} <z> \"q\" 'r' @#^&*=+|\\/`:",
        "Größe Ýé",
        "!!!",
        "水",
    ];
    for name in names {
        let lines = pass_lines(&pass, &cutter);
        pass.cloth = name.into();
        let known = Cutter {
            tested: sample_cutter()
                .tested
                .into_iter()
                .map(|t| crate::job::Tested { cloth: None, ..t })
                .collect(),
            ..cutter.clone()
        };
        let code = cut_gcode(name, &pass, &lines, &known).unwrap();
        check_gcode("a", &code.text, code.header, &pass, &known).unwrap();
        let walk = rehearsal(name, &pass, &lines, &known).unwrap();
        check_rehearsal("b", &walk.text, walk.header, &known).unwrap();
        for text in [code.text, walk.text] {
            let bad = |c: char| !c.is_ascii_alphanumeric() && !" .,-_()\n".contains(c);
            assert_eq!(text.chars().find(|c| bad(*c)), None, "{text}");
            assert!(
                text.lines()
                    .filter(|l| l.starts_with('('))
                    .all(|l| l.ends_with(')') && l.matches(['(', ')']).count() == 2)
            );
        }
        let sneaked = format!("(!)\n{}", cut_gcode("t", &pass, &lines, &known).unwrap().text);
        assert!(check_gcode("a", &sneaked, code.header + 1, &pass, &known).is_err());
    }
}
