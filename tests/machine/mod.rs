//! A small machine that runs G-code and knows nothing of how settlay writes it. The words are those of ISO 6983-1:2009
//! (G0, G1, G2, G3 with I and J from the start, G90) and, for millimetres, G71 of its table or the G21 of RS-274; from memory.
#![allow(dead_code)]

use std::f64::consts::TAU;

/// The words a machine is set to hear.
pub struct Words {
    pub millimetres: f64,
    pub beam_on: &'static str,
    pub beam_off: &'static str,
}

/// What a file made the machine do.
pub struct Ran {
    /// The lines burnt, in the machine's own coordinates, mm.
    pub burnt: Vec<Vec<[f64; 2]>>,
    /// The places gone to with the beam off.
    pub travelled: Vec<[f64; 2]>,
}

/// Finest step an arc is walked in.
const STEP_RAD: f64 = 0.00125;

/// Least figure a file tells, mm.
const FIGURE_MM: f64 = 0.001;

/// Runs a file on a bed of this size.
///
/// # Panics
/// Where a machine would do harm or not know what to do: a move before units and G90, a travel with the beam on, a cut
/// with it off, a place outside the bed, an arc whose ends are not as far from its centre, a beam that stays on.
pub fn run(text: &str, bed_mm: [f64; 2], words: &Words) -> Ran {
    assert!(text.is_ascii(), "controllers read ASCII");
    let mut ran = Ran { burnt: Vec::new(), travelled: Vec::new() };
    let mut at: Option<[f64; 2]> = None;
    let (mut millimetres, mut absolute, mut beam, mut power, mut feed) = (false, false, false, None, None);
    for (n, row) in text.lines().enumerate() {
        let told = words_of(row, n);
        let value = |letter: char| told.iter().rev().find(|w| w.0 == letter).map(|w| w.1);
        let is = |word: &str| told.iter().any(|w| word == format!("{}{}", w.0, w.1));
        if is(words.beam_off) {
            beam = false;
        }
        if is(words.beam_on) {
            power = value('S').or(power);
            assert!(power.is_some_and(|p| p > 0.0), "row {n}: beam on without a power");
            beam = true;
            ran.burnt.push(vec![at.expect("the beam comes on somewhere known")]);
        }
        feed = value('F').or(feed);
        let mut motion = None;
        for g in told.iter().filter(|w| w.0 == 'G').map(|w| w.1) {
            match g {
                0.0 | 1.0 | 2.0 | 3.0 => assert!(motion.replace(g).is_none(), "row {n}: two motions"),
                90.0 => absolute = true,
                17.0 | 94.0 => {}
                g if g == words.millimetres => millimetres = true,
                g => panic!("row {n}: G{g} is unknown to this machine"),
            }
        }
        let Some(motion) = motion else { continue };
        assert!(millimetres && absolute, "row {n}: a move before units and G90");
        let held = |k: usize| at.map_or(f64::NAN, |a| a[k]);
        let to = [value('X').unwrap_or(held(0)), value('Y').unwrap_or(held(1))];
        let walked = match (motion, at) {
            (0.0, _) => vec![to],
            (1.0, Some(_)) => vec![to],
            (_, Some(from)) => arc(from, to, [value('I'), value('J')].map(Option::unwrap), motion == 3.0, n),
            _ => panic!("row {n}: a cut from nowhere"),
        };
        for p in &walked {
            for k in 0..2 {
                assert!(
                    (-FIGURE_MM..=bed_mm[k] + FIGURE_MM).contains(&p[k]),
                    "row {n}: {p:?} is off the bed"
                );
            }
        }
        if motion == 0.0 {
            assert!(!beam, "row {n}: travel with the beam on");
            ran.travelled.push(to);
        } else {
            assert!(beam && feed.is_some_and(|f| f > 0.0), "row {n}: a cut without beam or feed");
            ran.burnt.last_mut().unwrap().extend(walked);
        }
        at = Some(to);
    }
    assert!(!beam, "the beam stays on at the end");
    ran
}

/// Letters and numbers of a row, comments left out.
fn words_of(row: &str, n: usize) -> Vec<(char, f64)> {
    let mut bare = String::new();
    let mut inside = false;
    for c in row.chars() {
        match c {
            '(' => inside = true,
            ')' => inside = false,
            c if !inside => bare.push(c),
            _ => {}
        }
    }
    bare.split_whitespace()
        .map(|w| {
            let mut signs = w.chars();
            let letter = signs.next().unwrap();
            let number = signs.as_str().parse();
            (letter, number.unwrap_or_else(|_| panic!("row {n}: {w} is no word")))
        })
        .collect()
}

/// Points along an arc round `from` + `centre`.
fn arc(from: [f64; 2], to: [f64; 2], centre: [f64; 2], counter_clockwise: bool, n: usize) -> Vec<[f64; 2]> {
    let c = [from[0] + centre[0], from[1] + centre[1]];
    let radius = centre[0].hypot(centre[1]);
    let to_end = (to[0] - c[0]).hypot(to[1] - c[1]);
    assert!((to_end - radius).abs() < 2.0 * FIGURE_MM, "row {n}: {radius} and {to_end} mm from the centre");
    let angle = |p: [f64; 2]| (p[1] - c[1]).atan2(p[0] - c[0]);
    let sweep = match counter_clockwise {
        true => (angle(to) - angle(from)).rem_euclid(TAU),
        false => -(angle(from) - angle(to)).rem_euclid(TAU),
    };
    let steps = (sweep.abs() / STEP_RAD).ceil().max(2.0);
    let mut points: Vec<_> = (1..steps as usize)
        .map(|k| angle(from) + sweep * k as f64 / steps)
        .map(|t| [c[0] + radius * t.cos(), c[1] + radius * t.sin()])
        .collect();
    points.push(to);
    points
}

#[cfg(test)]
mod tests {
    use super::*;

    const WORDS: Words = Words { millimetres: 21.0, beam_on: "M3", beam_off: "M5" };

    fn fails(text: &'static str, part: &str) {
        let ended = std::panic::catch_unwind(|| run(text, [100.0, 50.0], &WORDS)).err().expect(text);
        let formatted = ended.downcast_ref::<String>().map(String::as_str);
        let said = formatted.or(ended.downcast_ref::<&str>().copied()).unwrap_or_default();
        assert!(said.contains(part), "{text}: {said}");
    }

    #[test]
    fn the_machine_walks_arcs_and_stops_at_harm() {
        let text = "(a comment of M3 and G0)\nG21\nG90\nM5\nG0 X10 Y20\nM3 S40\nG3 X20 Y10 I10 J0 F600\nM5\nG0 X0 Y0\n";
        let ran = run(text, [100.0, 50.0], &WORDS);
        let line = &ran.burnt[0];
        assert!(line.iter().all(|p| ((p[0] - 20.0).hypot(p[1] - 20.0) - 10.0).abs() < 1e-9));
        // Counter-clockwise from due left to due below: a quarter.
        assert!(line.iter().all(|p| p[0] < 20.0 + 1e-9 && p[1] < 20.0 + 1e-9));
        fails("G90\nG0 X1 Y1", "before units");
        fails("G21\nG0 X1 Y1", "before units");
        fails("G21\nG90\nG0 X1 Y1\nM3 S1\nG0 X2 Y2", "travel with the beam on");
        fails("G21\nG90\nG0 X1 Y1\nM3 S1\nG1 X2 Y2 F1", "stays on");
        fails("G21\nG90\nG0 X1 Y1\nG1 X2 Y2 F1", "without beam");
        fails("G21\nG90\nG0 X1 Y1\nM3\nG1 X2 Y2 F1", "without a power");
        fails("G21\nG90\nG0 X101 Y1", "off the bed");
        fails("G21\nG90\nG0 X50 Y20\nM3 S1\nG3 X50 Y31 I0 J5 F1\nM5", "from the centre");
        fails("G21\nG90\nG0 X97 Y20\nM3 S1\nG3 X97 Y30 I0 J5 F1\nM5", "off the bed");
    }
}
