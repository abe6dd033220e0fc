//! Chance that is the same on every machine (splitmix64), and what it does to a file.

/// A source of chance.
#[derive(Clone, Debug)]
pub struct Chance(u64);

impl Chance {
    /// For an input of a run.
    pub fn of(seed: u64, input: u64) -> Chance {
        let mut chance =
            Chance(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ input.wrapping_mul(0xd1b5_4a32_d192_ed03));
        chance.bits();
        chance
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A whole number below `n`; 0 for none.
    pub fn below(&mut self, n: usize) -> usize {
        if n == 0 { 0 } else { (self.bits() % n as u64) as usize }
    }

    /// True once in `n` times.
    pub fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }

    /// A number from `a` to `b`.
    pub fn between(&mut self, a: f64, b: f64) -> f64 {
        a + (b - a) * (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// One of these.
    pub fn of_these<'a, T: ?Sized>(&mut self, all: &[&'a T]) -> &'a T {
        all[self.below(all.len())]
    }
}

/// Words that have broken readers of such files before.
const WORDS: [&str; 30] = [
    "1e308",
    "-1e308",
    "1e-320",
    "-0",
    "NaN",
    "inf",
    "99999999999999999999",
    "4294967296",
    "-1",
    "0",
    "0.1e1e1",
    "null",
    "true",
    "[]",
    "{}",
    "\"\"",
    "\u{202e}",
    "\u{0}",
    "\u{feff}",
    "\u{10ffff}",
    "e\u{301}",
    "&#0;",
    "<!--",
    "]]>",
    "../",
    "url(#a)",
    "M0 0A",
    "transform=\"matrix(0 0 0 0 0 0)\"",
    "\r\n",
    "\\u0000",
];

/// Most bytes a file grows to.
const LARGEST: usize = 400_000;

/// A file spoilt in a few ways; `other` is one whose parts may be put into it.
pub fn spoilt(file: &[u8], other: &[u8], chance: &mut Chance) -> Vec<u8> {
    let mut bytes = file.to_vec();
    for _ in 0..=chance.below(4) {
        once(&mut bytes, other, chance);
        bytes.truncate(LARGEST);
    }
    bytes
}

fn once(bytes: &mut Vec<u8>, other: &[u8], chance: &mut Chance) {
    let at = chance.below(bytes.len() + 1);
    match chance.below(12) {
        0 => {
            if let Some(b) = bytes.get_mut(at) {
                *b ^= 1 << chance.below(8);
            }
        }
        1 => {
            if let Some(b) = bytes.get_mut(at) {
                *b = chance.bits() as u8;
            }
        }
        2 => bytes.truncate(at),
        3 => {
            let until = (at + chance.below(40)).min(bytes.len());
            bytes.drain(at..until);
        }
        4 => insert(bytes, at, chance.of_these(&WORDS).as_bytes()),
        // A number or a word gives way to another.
        5..=7 => {
            let (from, to) = token(bytes, at);
            let word = chance.of_these(&WORDS).as_bytes();
            bytes.splice(from..to, word.iter().copied());
        }
        8 => {
            let (from, to) = token(bytes, at);
            let number = match chance.below(3) {
                0 => format!("{:e}", chance.between(-1.0, 1.0) * 10f64.powi(chance.below(40) as i32 - 20)),
                1 => format!("{}", chance.below(100_000)),
                _ => format!("{:.3}", chance.between(-2000.0, 2000.0)),
            };
            bytes.splice(from..to, number.into_bytes());
        }
        9 => {
            // A stretch said many times over.
            let until = (at + 1 + chance.below(60)).min(bytes.len());
            let part = bytes[at..until].to_vec();
            let often = 1 << chance.below(10);
            insert(bytes, at, &part.repeat(often.min(LARGEST / part.len().max(1))));
        }
        10 => {
            let from = chance.below(other.len() + 1);
            let until = (from + chance.below(400)).min(other.len());
            insert(bytes, at, &other[from..until]);
        }
        _ => {
            // Two stretches change places.
            let a = token(bytes, at);
            let b = token(bytes, chance.below(bytes.len() + 1));
            let ((a, b), (c, d)) = if a.0 <= b.0 { (a, b) } else { (b, a) };
            if b <= c {
                let swapped = [&bytes[c..d], &bytes[b..c], &bytes[a..b]].concat();
                bytes.splice(a..d, swapped);
            }
        }
    }
}

fn insert(bytes: &mut Vec<u8>, at: usize, what: &[u8]) {
    bytes.splice(at..at, what.iter().copied());
}

/// The word or number round `at`.
fn token(bytes: &[u8], at: usize) -> (usize, usize) {
    let within = |b: &u8| b.is_ascii_alphanumeric() || b".-+_".contains(b);
    let from = at - bytes[..at].iter().rev().take_while(|b| within(b)).take(30).count();
    let to = at + bytes[at..].iter().take_while(|b| within(b)).take(30).count();
    (from, to)
}
