//! Colours of yarns.

use std::collections::{BTreeMap, BTreeSet};

use super::lab::{apart, lab};

/// Natural wool, for a cloth whose colour nobody gave.
pub(super) const NATURAL: [u8; 3] = [0xd6, 0xcd, 0xba];

/// Letters of the registers. B, G, K, R, W, Y: display values of the Scottish Register of Tartans' table. The
/// others: letters as in that register, values chosen here to sit well beside them.
const LETTERS: &[(&str, [u8; 3])] = &[
    ("A", [0x5c, 0x8c, 0xa8]),
    ("B", [0x2c, 0x2c, 0x80]),
    ("C", [0x90, 0x10, 0x30]),
    ("G", [0x00, 0x68, 0x18]),
    ("K", [0x10, 0x10, 0x10]),
    ("M", [0x70, 0x18, 0x28]),
    ("N", [0x88, 0x88, 0x88]),
    ("O", [0xd8, 0x60, 0x18]),
    ("P", [0x5a, 0x2a, 0x6e]),
    ("R", [0xc8, 0x00, 0x00]),
    ("S", [0xd0, 0x28, 0x18]),
    ("T", [0x60, 0x40, 0x00]),
    ("W", [0xe0, 0xe0, 0xe0]),
    ("Y", [0xe8, 0xc0, 0x00]),
];

/// The colour `#rrggbb` says; `None` when it says none.
pub fn from_hex(text: &str) -> Option<[u8; 3]> {
    let digits =
        text.strip_prefix('#').filter(|d| d.len() == 6 && d.bytes().all(|b| b.is_ascii_hexdigit()))?;
    let number = u32::from_str_radix(digits, 16).ok()?;
    let [_, r, g, b] = number.to_be_bytes();
    Some([r, g, b])
}

/// The colour as `#rrggbb`.
pub fn to_hex([r, g, b]: [u8; 3]) -> String {
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// A colour's letters, upper case, to their colour: the job's own first, then the registers' letters, then a
/// letter with L (light) or D (dark) before it.
pub(super) fn of_letters(letters: &str, own: &BTreeMap<String, [u8; 3]>) -> Option<[u8; 3]> {
    let listed = |name: &str| {
        own.get(name).copied().or_else(|| LETTERS.iter().find(|(n, _)| *n == name).map(|(_, colour)| *colour))
    };
    listed(letters).or_else(|| {
        let towards = |base: &str, end: u8, part: u32| {
            let mix = |c: u8| ((u32::from(c) * (100 - part) + u32::from(end) * part) / 100) as u8;
            listed(base).map(|colour| colour.map(mix))
        };
        match letters.split_at_checked(1)? {
            ("L", base) => towards(base, 255, 45),
            ("D", base) => towards(base, 0, 40),
            _ => None,
        }
    })
}

/// Values of red, green and blue that a colour made up is mixed from.
const MIXED_FROM: [u8; 5] = [0x20, 0x58, 0x90, 0xc8, 0xf0];

/// Colours for those of `used` letters that have none: each as unlike all others of the cloth as can be, the same for
/// the same letters whatever their order.
pub(super) fn made_up<'a>(
    used: impl Iterator<Item = &'a str>,
    own: &BTreeMap<String, [u8; 3]>,
) -> BTreeMap<String, [u8; 3]> {
    let used: BTreeSet<&str> = used.collect();
    let (known, unknown): (Vec<&str>, Vec<&str>) =
        used.into_iter().partition(|letters| of_letters(letters, own).is_some());
    let mut taken: Vec<[f64; 3]> = known.iter().filter_map(|l| of_letters(l, own)).map(lab).collect();
    let mixed = |k: usize| [k / 25 % 5, k / 5 % 5, k % 5].map(|v| MIXED_FROM[v]);
    let mut made = BTreeMap::new();
    for letters in unknown {
        let nearest = |c: [u8; 3]| taken.iter().map(|t| apart(lab(c), *t)).fold(f64::INFINITY, f64::min);
        // Of several as unlike, the first.
        let best = (0..MIXED_FROM.len().pow(3)).map(mixed).map(|c| (nearest(c), c));
        let best = best.reduce(|p, q| if q.0 > p.0 { q } else { p });
        let colour = best.map_or(NATURAL, |b| b.1);
        taken.push(lab(colour));
        made.insert(letters.to_owned(), colour);
    }
    made
}

/// The mean of some colours; [`NATURAL`] for none.
pub(super) fn mean<'a>(colours: impl Iterator<Item = &'a [u8; 3]>) -> [u8; 3] {
    let mut sums = [0u64; 3];
    let mut count = 0u64;
    for colour in colours {
        count += 1;
        for (sum, part) in sums.iter_mut().zip(colour) {
            *sum += u64::from(*part);
        }
    }
    if count == 0 { NATURAL } else { sums.map(|sum| (sum / count) as u8) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_have_colours_and_the_job_has_the_first_word() {
        let own = BTreeMap::from([("K".to_string(), [1, 2, 3])]);
        assert_eq!(of_letters("B", &own), from_hex("#2C2C80"));
        assert_eq!(of_letters("K", &own), Some([1, 2, 3]));
        assert_eq!(of_letters("DB", &own), Some([26, 26, 76]));
        assert_eq!(of_letters("LN", &own), Some([0xbd, 0xbd, 0xbd]));
        assert_eq!(of_letters("X", &own), None);
        assert_eq!(of_letters("LX", &own), None);
        assert_eq!(of_letters("", &own), None);
    }

    /// About 2.3 is just seen (see `lab`); across a room it takes several times that.
    #[test]
    fn colours_made_up_are_unlike_all_others_of_the_cloth_and_always_the_same() {
        let letters: Vec<String> = ["K", "W", "G"]
            .into_iter()
            .map(String::from)
            .chain((0..20).map(|k| format!("Q{}", "AEIOU".chars().nth(k % 5).unwrap()).repeat(k / 5 + 1)))
            .collect();
        let own = BTreeMap::new();
        let made = made_up(letters.iter().map(String::as_str), &own);
        assert_eq!(made.len(), 20);
        let all: Vec<[u8; 3]> =
            letters.iter().map(|l| of_letters(l, &own).or_else(|| made.get(l).copied()).unwrap()).collect();
        for (k, one) in all.iter().enumerate() {
            for other in &all[k + 1..] {
                assert!(apart(lab(*one), lab(*other)) > 15.0, "{one:?} {other:?}");
            }
        }
        assert_eq!(made, made_up(letters.iter().rev().map(String::as_str), &own));
        assert_eq!(made_up(["K", "LG"].into_iter(), &own), BTreeMap::new());
    }

    #[test]
    fn hex_is_read_and_written() {
        assert_eq!(from_hex("#22304f").map(to_hex).as_deref(), Some("#22304f"));
        for wrong in ["22304f", "#22304", "#22304g", "#+2304f", "#ÿÿÿ"] {
            assert_eq!(from_hex(wrong), None, "{wrong}");
        }
    }
}
