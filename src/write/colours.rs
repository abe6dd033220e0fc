//! Colours of the kinds of line in cut files: our own, and the maker's where the job gives them.

use std::collections::BTreeMap;

/// The kinds of line in the order their layers stand in: marks are burnt first, outlines last.
pub(super) const KINDS: [LineKind; 3] = [LineKind::Mark, LineKind::Cutout, LineKind::Outline];

/// A kind of line in a cut file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum LineKind {
    /// Registration marks.
    Mark,
    /// Edges of cut-outs.
    Cutout,
    /// Outlines of pieces.
    Outline,
    /// Edges in a key.
    Key,
    /// Names in a key, to be drawn or engraved, not cut.
    Lettering,
}

impl LineKind {
    /// The word used for it in the plan, in the job and as a layer's name.
    pub fn word(self) -> &'static str {
        match self {
            LineKind::Mark => "mark",
            LineKind::Cutout => "cutout",
            LineKind::Outline => "outline",
            LineKind::Key => "key",
            LineKind::Lettering => "lettering",
        }
    }

    /// What stands in its layer, in words.
    pub fn title(self) -> &'static str {
        match self {
            LineKind::Mark => "Marks",
            LineKind::Cutout => "Cut-outs",
            LineKind::Outline => "Outlines",
            LineKind::Key => "Key",
            LineKind::Lettering => "Names, not to be cut",
        }
    }

    /// Its colour: the job's, or a quiet one of our own that stands for nothing elsewhere.
    pub fn rgb(self, chosen: &BTreeMap<String, String>) -> [u8; 3] {
        chosen.get(self.word()).and_then(|c| parse(c)).unwrap_or(match self {
            LineKind::Mark => [0x8a, 0x6d, 0x1f],
            LineKind::Cutout => [0xb0, 0x52, 0x36],
            LineKind::Outline => [0x2f, 0x5d, 0x73],
            LineKind::Key => [0x5b, 0x6f, 0x3a],
            LineKind::Lettering => [0x8c, 0x84, 0x78],
        })
    }
}

/// `#rrggbb` as three numbers.
fn parse(text: &str) -> Option<[u8; 3]> {
    let digits = text.trim().strip_prefix('#').filter(|d| d.len() == 6 && d.is_ascii())?;
    let value = u32::from_str_radix(digits, 16).ok()?;
    Some([(value >> 16) as u8, (value >> 8) as u8, value as u8])
}

/// Three numbers as `#rrggbb`.
pub(super) fn hex([r, g, b]: [u8; 3]) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// The DXF colour number nearest to a colour.
///
/// Numbers 10 to 249 go round the colour circle in steps of 15°, ten to each: five darknesses, each full
/// and half saturated; 250 to 255 are greys. The few named colours below 10 are left alone: they have
/// meanings elsewhere.
pub(super) fn dxf_number(rgb: [u8; 3]) -> u8 {
    (10..=255u8).min_by_key(|&n| distance(rgb, dxf_rgb(n))).unwrap_or(250)
}

fn distance(a: [u8; 3], b: [u8; 3]) -> u32 {
    a.iter().zip(b).map(|(&x, y)| u32::from(x.abs_diff(y)).pow(2)).sum()
}

fn dxf_rgb(number: u8) -> [u8; 3] {
    if number >= 250 {
        const GREYS: [u8; 6] = [0, 0x65, 0x66, 0x99, 0xcc, 0xff];
        return [GREYS[usize::from(number - 250)]; 3];
    }
    const DARKNESS: [f64; 5] = [255.0, 165.0, 127.0, 76.0, 38.0];
    let step = f64::from(number / 10) - 1.0;
    let top = DARKNESS[usize::from(number % 10 / 2)];
    let low = if number.is_multiple_of(2) { 0.0 } else { top / 2.0 };
    // Each channel is full for a third of the circle either side of its own hue and falls off linearly.
    let channel = |hue: f64| {
        let away = (step * 15.0 - hue).rem_euclid(360.0);
        let away = away.min(360.0 - away);
        (low + (top - low) * (2.0 - away / 60.0).clamp(0.0, 1.0)) as u8
    };
    [channel(0.0), channel(120.0), channel(240.0)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_makers_colours_win_and_nonsense_is_passed_over() {
        let chosen = BTreeMap::from([("cutout".into(), "#12aBff".into()), ("outline".into(), "red".into())]);
        assert_eq!(LineKind::Cutout.rgb(&chosen), [0x12, 0xab, 0xff]);
        assert_eq!(LineKind::Outline.rgb(&chosen), LineKind::Outline.rgb(&BTreeMap::new()));
    }

    #[test]
    fn our_own_colours_are_told_apart_and_none_is_a_primary() {
        let kinds = [KINDS.as_slice(), &[LineKind::Key, LineKind::Lettering]].concat();
        let colours: Vec<_> = kinds.iter().map(|k| k.rgb(&BTreeMap::new())).collect();
        for (i, &c) in colours.iter().enumerate() {
            assert!(c.iter().any(|&v| v != 0 && v != 255), "{}", hex(c));
            assert!(colours.iter().skip(i + 1).all(|&d| distance(c, d) > 40 * 40), "{}", hex(c));
            let number = dxf_number(c);
            assert_eq!(colours.iter().filter(|&&d| dxf_number(d) == number).count(), 1);
        }
    }

    /// Entries of the colour table of ezdxf 1.4 (`ezdxf.colors.DXF_DEFAULT_COLORS`).
    #[test]
    fn dxf_colour_numbers_follow_the_usual_table() {
        for (number, rgb) in [
            (10, 0xff0000),
            (21, 0xff9f7f),
            (34, 0x7f3f00),
            (96, 0x004c00),
            (138, 0x002626),
            (170, 0x0000ff),
            (213, 0xa552a5),
            (252, 0x666666),
        ] {
            let [r, g, b] = dxf_rgb(number);
            let ours = u32::from(r) << 16 | u32::from(g) << 8 | u32::from(b);
            assert_eq!(format!("{ours:06x}"), format!("{rgb:06x}"), "{number}");
        }
    }
}
