//! Names that a file may have on every system: folders of jobs travel between them.

/// Longest name, bytes: file systems take 255, and the program adds endings and numbers of its own.
pub const LONGEST: usize = 120;

/// Names that Windows keeps for devices, with any ending and any capitals (Microsoft, "Naming Files, Paths, and
/// Namespaces"; from memory); those that end in a figure are told apart below.
const DEVICES: [&str; 7] = ["CON", "PRN", "AUX", "NUL", "CONIN$", "CONOUT$", "CLOCK$"];

/// Why a file may not be called so, if it may not: some system refuses it, or it reads otherwise than it is written.
pub fn fault(name: &str) -> Option<&'static str> {
    let at_ends = |c: char| c == '.' || c.is_whitespace();
    if name.is_empty() || name.len() > LONGEST {
        return Some("it is empty or too long");
    }
    if name.starts_with(at_ends) || name.ends_with(at_ends) {
        return Some("it begins or ends with a dot or a space");
    }
    if name.chars().any(|c| c.is_control() || "/\\:*?\"<>|".contains(c)) {
        return Some("it has a separator or a letter that cannot be used");
    }
    if name.chars().any(is_unseen) {
        return Some("it has signs that are not seen and may make it read otherwise than it is");
    }
    is_device(name).then_some("some systems keep this name for a device")
}

/// True for a name that Windows keeps for a device, whatever its ending.
pub fn is_device(name: &str) -> bool {
    let stem = name.split('.').next().unwrap_or_default().trim_end().to_uppercase();
    let numbered = ["COM", "LPT"].iter().any(|port| {
        let mut rest = stem.strip_prefix(port).unwrap_or_default().chars();
        rest.next().is_some_and(|c| c.is_ascii_digit() || "¹²³".contains(c)) && rest.next().is_none()
    });
    numbered || DEVICES.contains(&stem.as_str())
}

/// Signs of no width, and those that turn the direction of reading (Unicode Standard Annex 9, and the format characters of
/// its chapter 23; from memory).
pub fn is_unseen(c: char) -> bool {
    matches!(c,
        '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{115f}' | '\u{1160}' | '\u{17b4}' | '\u{17b5}' | '\u{180b}'..='\u{180f}'
        | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{2800}' | '\u{3164}'
        | '\u{feff}' | '\u{ffa0}' | '\u{fff0}'..='\u{fffb}' | '\u{e0000}'..='\u{e0fff}')
}

/// The name with what no file may have taken out or made a dash; `instead` where nothing is left.
pub fn made_safe(name: &str, instead: &str) -> String {
    let kept = name.chars().filter(|c| !is_unseen(*c));
    let plain: String =
        kept.map(|c| if c.is_control() || "/\\:*?\"<>|".contains(c) { '-' } else { c }).collect();
    let at_ends = |c: char| c == '.' || c.is_whitespace();
    let mut short = plain.trim_matches(at_ends);
    while short.len() > LONGEST {
        let end = short.char_indices().next_back().map_or(0, |(at, _)| at);
        short = short[..end].trim_end_matches(at_ends);
    }
    match short {
        "" => instead.to_owned(),
        device if is_device(device) => format!("{instead}-{device}"),
        plain => plain.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What at least one of the three systems refuses, or what reads otherwise than it is written.
    const REFUSED: [&str; 42] = [
        // All.
        "",
        ".",
        "..",
        "a/b.svg",
        "a\0.svg",
        "../a.svg",
        "/etc/a.svg",
        // Windows.
        "a\\b.svg",
        "C:a.svg",
        "a<b.svg",
        "a>b.svg",
        "a\"b.svg",
        "a|b.svg",
        "a?.svg",
        "a*.svg",
        "a\tb.svg",
        "a\u{85}b",
        "CON",
        "con",
        "Con.svg",
        "nul.job.json",
        "PRN .svg",
        "aux.",
        "COM1",
        "com9.svg",
        "LPT¹.svg",
        "conin$",
        "a.",
        "a ",
        "CLOCK$.json",
        // macOS takes a colon for a folder; hidden names are not seen there nor on Linux.
        "a:b.svg",
        ".hidden.svg",
        " a.svg",
        "\u{a0}a.svg",
        // These read otherwise.
        "a\u{202e}gvs.exe",
        "a\u{2066}b.svg",
        "a\u{200b}.svg",
        "a\u{200d}b.svg",
        "\u{feff}a.svg",
        "a\u{ad}b.svg",
        "a\u{2028}b.svg",
        "a\u{e0041}.svg",
    ];

    #[test]
    fn what_some_system_refuses_is_refused_on_every_one_and_can_be_made_safe() {
        for name in REFUSED {
            assert!(fault(name).is_some(), "{name:?}");
            let safe = made_safe(name, "job");
            assert_eq!(fault(&safe), None, "{name:?} became {safe:?}");
        }
        let long = "é".repeat(200);
        assert!(fault(&long).is_some() && fault(&made_safe(&long, "job")).is_none());
        assert_eq!(made_safe("\u{202e}CON", "job"), "job-CON");
    }

    #[test]
    fn names_of_every_tongue_are_taken_as_they_are() {
        for name in [
            "heron.svg",
            "Heron 2 (neu).SVG",
            "grüße.svg",
            "雪.json",
            "Шапка.svg",
            "قماش.svg",
            "a-b_c.d.json",
            "console.svg",
            "com.svg",
            "com10.svg",
            "lpt.json",
            "nullify",
            "o'clock & co.svg",
            "𝄞.svg",
        ] {
            assert_eq!(fault(name), None, "{name:?}");
            assert_eq!(made_safe(name, "job"), name);
        }
    }
}
