//! Words of machine code a maker may put into settings, and those that would defeat the program's promises.

/// Why a line may not stand in a header or footer, if it may not.
pub(super) fn fault(line: &str, beam_on: &str) -> Option<&'static str> {
    if line.chars().any(|c| !(' '..='~').contains(&c)) {
        return Some("expected plain letters and figures (ASCII) on one line");
    }
    let Some(words) = words(line) else { return Some("expected words of a letter and a number") };
    let on = self::words(beam_on).unwrap_or_default();
    words.iter().find_map(|&(letter, number)| match (letter, number) {
        ('G', 0.0 | 1.0 | 2.0 | 3.0) | ('X' | 'Y' | 'I' | 'J' | 'R', _) => {
            Some("expected no move: every move must come from the plan")
        }
        ('G', 20.0 | 70.0) => Some("expected no inches: the file is in millimetres"),
        ('G', 91.0 | 92.0) => Some("expected no change of origin or of coordinates: they are absolute"),
        ('M', 3.0 | 4.0) => Some("expected no word that turns the beam on"),
        word if on.contains(&word) => Some("expected no word that turns the beam on"),
        _ => None,
    })
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
            assert!(fault(line, "M3").is_some(), "{line}");
        }
        assert!(fault("M62", "M62").is_some());
        assert!(fault("M7 (air)\u{7}", "M3").is_some());
        for line in ["", "M7", "(G0 X10)", "G17", "G94 ; G91", "%", "$H", "G28", "G54"] {
            assert_eq!(fault(line, "M3"), None, "{line}");
        }
        assert!(
            is_command("M3")
                && is_command("M62 S1")
                && !is_command("G1")
                && !is_command("on")
                && !is_command("")
        );
    }
}
