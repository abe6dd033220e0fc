//! Words of machine code a maker may put into settings, and those that would defeat the program's promises.

/// Why a line may not stand in a header or, with `ends`, in a footer, if it may not.
pub(super) fn fault(line: &str, beam_on: &str, ends: bool) -> Option<&'static str> {
    if line.chars().any(|c| !(' '..='~').contains(&c)) {
        return Some("expected plain letters and figures (ASCII) on one line");
    }
    if line.contains(['!', '~', '?']) {
        return Some("expected no !, ~ or ?: some machines act on them as they arrive, even in a remark");
    }
    if !brackets_close(line) {
        return Some("expected every bracket to be closed: what follows would be taken for a comment");
    }
    let own = line.trim();
    if own.contains('%') && own != "%" {
        return Some("expected % alone on its line");
    }
    if own.contains('$')
        && !(own.len() == 2 && own.starts_with('$') && own.ends_with(|c: char| c.is_ascii_uppercase()))
    {
        return Some(
            "expected $ and one capital letter: anything longer may move the head or change the machine",
        );
    }
    let Some(words) = words(line) else { return Some("expected words of a letter and a number") };
    let on = self::words(beam_on).unwrap_or_default();
    words.iter().find_map(|&(letter, number)| match (letter, number) {
        ('G', 0.0 | 1.0 | 2.0 | 3.0) | ('X' | 'Y' | 'I' | 'J' | 'R', _) => {
            Some("expected no move: every move must come from the plan")
        }
        ('G', 20.0 | 70.0) => Some("expected no inches: the file is in millimetres"),
        ('G', 90.1) => Some("expected no absolute centres of arcs: they are told from where the arc begins"),
        ('G', 91.1) => None,
        ('G', n) if is_other_frame(n) => {
            Some("expected no change of origin, of coordinates or of size: they are absolute")
        }
        ('G', 80.0..=89.9 | 38.0..=38.9) => Some("expected no cycle: every move must come from the plan"),
        ('M', 98.0 | 99.0) => Some("expected no subprogram: every move must come from the plan"),
        ('M', 2.0 | 30.0) if !ends => Some("expected no end of the program before the cut"),
        ('M', 3.0 | 4.0) => Some("expected no word that turns the beam on"),
        word if on.contains(&word) => Some("expected no word that turns the beam on"),
        _ => None,
    })
}

/// G words that shift, turn, mirror, scale or offset what follows.
fn is_other_frame(g: f64) -> bool {
    (91.0..93.0).contains(&g)
        || [10.0, 16.0, 41.0, 42.0, 43.0, 50.1, 51.0, 51.1, 52.0, 68.0].iter().any(|w| (g - w).abs() < 1e-9)
}

fn brackets_close(line: &str) -> bool {
    let mut inside = false;
    for c in line.chars() {
        match (c, inside) {
            (';', false) => return true,
            ('(', true) | (')', false) => return false,
            ('(' | ')', _) => inside = !inside,
            _ => {}
        }
    }
    !inside
}

/// Why a command may not turn the beam on, if it may not; `power` is the letter the power is told with.
pub(super) fn on_fault(on: &str, power: &str) -> Option<&'static str> {
    let words = words(on).unwrap_or_default();
    words.iter().find_map(|&(letter, number)| match (letter, number) {
        ('M', 5.0) => Some("expected another word: M5 turns the beam off"),
        ('M', n) if ends_program(n) => Some("expected another word: this one stops the program"),
        (l, _) if power.starts_with(l) => Some("expected no power here: it stands behind, for every burn"),
        _ => None,
    })
}

/// Why a command may not turn the beam off, if it may not.
pub(super) fn off_fault(off: &str, on: &str) -> Option<&'static str> {
    let (off, on) = (words(off).unwrap_or_default(), words(on).unwrap_or_default());
    off.iter().find_map(|&(letter, number)| match (letter, number) {
        ('M', 3.0 | 4.0) => Some("expected another word: this one turns a beam on"),
        ('M', n) if ends_program(n) => Some("expected another word: this one stops the program"),
        word if on.contains(&word) => Some("expected another word than beam_on"),
        _ => None,
    })
}

fn ends_program(m: f64) -> bool {
    [0.0, 1.0, 2.0, 30.0, 60.0, 98.0, 99.0].contains(&m)
}

/// True for one or more words: a capital letter and a number.
pub(super) fn is_command(text: &str) -> bool {
    let plain = |c: char| c.is_ascii_uppercase() || c.is_ascii_digit() || c == '.' || c == ' ';
    let moves = |w: &(char, f64)| w.0 != 'M' && w.0 != 'S';
    text.chars().all(plain) && words(text).is_some_and(|w| !w.is_empty() && !w.iter().any(moves))
}

/// The words of a block without its comments; `None` when it holds anything else. `%` and `$` lines count as comments:
/// they are the machine's own.
fn words(line: &str) -> Option<Vec<(char, f64)>> {
    let mut plain = String::new();
    let mut inside = false;
    for c in line.chars() {
        match c {
            '(' => inside = true,
            ')' => inside = false,
            ';' if !inside => break,
            _ if !inside => plain.push(c.to_ascii_uppercase()),
            _ => {}
        }
    }
    let plain: String = plain.chars().filter(|c| *c != ' ').collect();
    if plain.starts_with(['%', '$']) {
        return Some(Vec::new());
    }
    let mut words = Vec::new();
    let mut rest = plain.as_str();
    while let Some(letter) = rest.chars().next() {
        let after = &rest[letter.len_utf8()..];
        let end = after.find(|c: char| c.is_ascii_uppercase()).unwrap_or(after.len());
        if !letter.is_ascii_uppercase() {
            return None;
        }
        words.push((letter, after[..end].parse().ok()?));
        rest = &after[end..];
    }
    Some(words)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moves_inches_and_beams_have_no_place_in_a_header() {
        for line in
            ["G0 X10", "g1x2", "G20", "G91", "M3 S200", "M04", "N10 G00 X1", "G2 X1 Y1 I1 J0", "rm -rf"]
        {
            assert!(fault(line, "M3", true).is_some(), "{line}");
        }
        for line in
            ["$J=G91X9999F5000", "%G0 X9999", "G90.1", "M98 P1", "(unclosed", "G92.1", "G51 X2", "G81"]
        {
            assert!(fault(line, "M3", true).is_some(), "{line}");
        }
        assert!(fault("M30", "M3", false).is_some() && fault("M30", "M3", true).is_none());
        assert!(fault("M62", "M62", true).is_some());
        for line in ["M7 (stop!)", "M7 ; ready?", "(~)", "!", "M7 (50 %)", "M7 (costs $5)"] {
            assert!(fault(line, "M3", true).is_some(), "{line}");
        }
        assert!(fault("M7 (air)\u{7}", "M3", true).is_some());
        for line in ["", "M7", "(G0 X10)", "G17", "G94 ; G91", "%", "$H", "G28", "G54", "G91.1"] {
            assert_eq!(fault(line, "M3", false), None, "{line}");
        }
        for off in ["M03", "M4", "M30", "M3", "M5 M3"] {
            assert!(off_fault(off, "M3").is_some(), "{off}");
        }
        assert!(off_fault("M5", "M3").is_none() && off_fault("M63", "M62").is_none());
        assert!(off_fault("M062", "M62").is_some());
        assert!(
            on_fault("M3 S100", "S").is_some()
                && on_fault("M30", "S").is_some()
                && on_fault("M5", "S").is_some()
        );
        assert!(on_fault("M3", "S").is_none() && on_fault("M62", "S").is_none());
        assert!(
            is_command("M3")
                && is_command("M62 S1")
                && !is_command("G1")
                && !is_command("on")
                && !is_command("")
        );
    }
}
