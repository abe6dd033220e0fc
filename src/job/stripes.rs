//! Thread counts as the registers write them.
//!
//! Notation: colour letter and number of threads, stripe after stripe. A slash on the first and the last
//! stripe marks pivots: the list is read to and fro. Without slashes (or with `…` at the ends) it starts
//! again. Source: Scottish Tartans Authority, "Understanding Thread Counts" and "Asymmetric Tartans".

use std::iter::Peekable;
use std::str::CharIndices;

/// Longest order that is read, in threads of one listed run: ten metres of fine cloth.
pub const MOST_THREADS: u64 = 20_000;

/// One stripe: a colour and how many threads of it lie side by side.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stripe {
    /// The colour's letter or letters, upper case: `K`, `DB`.
    pub colour: String,
    /// Number of threads, at least 1.
    pub threads: u32,
}

/// A thread count as written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StripeOrder {
    /// The stripes as listed; at least one.
    pub stripes: Vec<Stripe>,
    /// True when the first and the last stripe are pivots, so that the list is read to and fro.
    pub to_and_fro: bool,
}

/// What is wrong with a thread count, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StripeFault {
    /// What is wrong, quoting the stripe.
    pub what: String,
    /// What to write instead; empty when that is plain.
    pub hint: String,
}

impl StripeFault {
    fn new(what: impl Into<String>, hint: impl Into<String>) -> StripeFault {
        StripeFault { what: what.into(), hint: hint.into() }
    }
}

/// A stripe with its slash, before the whole list is judged.
struct Listed {
    stripe: Stripe,
    slashed: bool,
    written: String,
}

impl StripeOrder {
    /// Reads a thread count such as `N/6 G24 W4 G24 K/10`.
    ///
    /// Commas, semicolons, line breaks and missing spaces between stripes do no harm, nor do small letters.
    /// The slash may stand before, inside or after its stripe (`/K4`, `K/4`, `K4/`). A letter alone (`N`) is
    /// an order of one colour.
    ///
    /// # Errors
    /// The first stripe that cannot be read, or a slash where none can be.
    pub fn parse(text: &str) -> Result<StripeOrder, StripeFault> {
        let (body, starts_again) = without_dots(text);
        if body.is_empty() {
            return Err(StripeFault::new("the thread count is empty", "write it like N/6 G24 W4 G24 K/10"));
        }
        if body.chars().all(char::is_alphabetic) {
            let stripes = vec![Stripe { colour: body.to_uppercase(), threads: 1 }];
            return Ok(StripeOrder { stripes, to_and_fro: false });
        }
        let listed = Reader { text: body, rest: body.char_indices().peekable() }.stripes()?;
        judge(listed, starts_again)
    }

    /// The colours in order of first appearance.
    pub fn colours(&self) -> Vec<&str> {
        let mut seen: Vec<&str> = Vec::new();
        for stripe in &self.stripes {
            if !seen.contains(&stripe.colour.as_str()) {
                seen.push(&stripe.colour);
            }
        }
        seen
    }

    /// True when there is one colour only, so that nothing repeats.
    pub fn is_one_colour(&self) -> bool {
        self.colours().len() == 1
    }
}

/// The count without dots at its ends, and whether there were any.
fn without_dots(text: &str) -> (&str, bool) {
    let is_dot = |c: char| c == '…' || c == '.';
    let is_space = |c: char| c.is_whitespace() || matches!(c, ',' | ';');
    let trimmed = text.trim_matches(is_space);
    let body = trimmed.trim_matches(is_dot);
    (body.trim_matches(is_space), body.len() != trimmed.len())
}

fn judge(listed: Vec<Listed>, starts_again: bool) -> Result<StripeOrder, StripeFault> {
    let last = listed.len().saturating_sub(1);
    if let Some(inner) =
        listed.iter().enumerate().find(|(k, s)| s.slashed && *k != 0 && *k != last).map(|(_, s)| s)
    {
        return Err(StripeFault::new(
            format!("a slash on a middle stripe, {}", inner.written),
            "only the first and the last stripe can be pivots",
        ));
    }
    let slashes = listed.iter().filter(|s| s.slashed).count();
    if slashes == 1 && last > 0 {
        let (has, lacks) = if listed.first().is_some_and(|s| s.slashed) {
            ("first", listed.last())
        } else {
            ("last", listed.first())
        };
        let lacks = lacks.map(|s| s.written.clone()).unwrap_or_default();
        return Err(StripeFault::new(
            format!("a slash only on one end, the {has} stripe; {lacks} has none"),
            "mark both ends when the order is read to and fro, neither when it starts again",
        ));
    }
    if slashes == 2 && starts_again {
        return Err(StripeFault::new(
            "dots at the ends say that the order starts again, slashes that it is read to and fro",
            "leave out either the dots or the slashes",
        ));
    }
    let total: u64 = listed.iter().map(|s| u64::from(s.stripe.threads)).sum();
    if total > MOST_THREADS {
        return Err(StripeFault::new(
            format!("the order has {total} threads"),
            format!("{MOST_THREADS} is the most that is read"),
        ));
    }
    Ok(StripeOrder {
        stripes: listed.into_iter().map(|s| s.stripe).collect(),
        to_and_fro: slashes == 2 && last > 0,
    })
}

struct Reader<'a> {
    text: &'a str,
    rest: Peekable<CharIndices<'a>>,
}

impl Reader<'_> {
    fn stripes(mut self) -> Result<Vec<Listed>, StripeFault> {
        let mut listed = Vec::new();
        loop {
            self.skip(|c| c.is_whitespace() || matches!(c, ',' | ';'));
            if self.rest.peek().is_none() {
                return Ok(listed);
            }
            listed.push(self.stripe(listed.last().map(|s: &Listed| s.written.clone()))?);
        }
    }

    fn stripe(&mut self, before: Option<String>) -> Result<Listed, StripeFault> {
        let start = self.here();
        let mut slashed = self.take_slash();
        let colour = self.take(|c| c.is_alphabetic()).to_uppercase();
        if colour.is_empty() {
            let found: String = self.text[self.here()..].chars().take(8).collect();
            let place = before.map_or("at the start".to_string(), |b| format!("after {b}"));
            return Err(StripeFault::new(
                format!("a colour letter is missing {place}, where \"{found}\" stands"),
                "a stripe is a colour's letter and a number of threads, like G24",
            ));
        }
        self.skip(char::is_whitespace);
        slashed |= self.take_slash();
        self.skip(char::is_whitespace);
        let digits = self.take(|c| c.is_ascii_digit()).to_string();
        if digits.is_empty() {
            return Err(StripeFault::new(
                format!("the number is missing after {}", self.text[start..self.here()].trim()),
                "a stripe is a colour's letter and a number of threads, like G24",
            ));
        }
        if let Some(c) = self.rest.peek().map(|(_, c)| *c).filter(|c| *c == '.')
            && self.text[self.here()..].chars().nth(1).is_some_and(|d| d.is_ascii_digit())
        {
            return Err(StripeFault::new(
                format!("{}{c}… is not a whole number of threads", &self.text[start..self.here()]),
                "count whole threads",
            ));
        }
        slashed |= self.take_slash_of_this_stripe();
        let written = self.text[start..self.here()].trim().to_string();
        match digits.parse::<u32>() {
            Ok(0) => {
                Err(StripeFault::new(format!("a stripe of 0 threads, {written}"), "leave the stripe out"))
            }
            Ok(threads) if u64::from(threads) <= MOST_THREADS => {
                Ok(Listed { stripe: Stripe { colour, threads }, slashed, written })
            }
            _ => Err(StripeFault::new(
                format!("a stripe of {digits} threads"),
                format!("{MOST_THREADS} is the most that is read"),
            )),
        }
    }

    /// Byte place of the next character.
    fn here(&mut self) -> usize {
        self.rest.peek().map_or(self.text.len(), |(at, _)| *at)
    }

    fn skip(&mut self, which: impl Fn(char) -> bool) {
        while self.rest.next_if(|(_, c)| which(*c)).is_some() {}
    }

    fn take(&mut self, which: impl Fn(char) -> bool) -> &str {
        let start = self.here();
        self.skip(which);
        let end = self.here();
        &self.text[start..end]
    }

    fn take_slash(&mut self) -> bool {
        self.rest.next_if(|(_, c)| *c == '/').is_some()
    }

    /// A slash straight after the number, unless a letter follows it: then it opens the next stripe.
    fn take_slash_of_this_stripe(&mut self) -> bool {
        let opens_next = self.text[self.here()..].chars().nth(1).is_some_and(char::is_alphabetic);
        !opens_next && self.take_slash()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn read(text: &str) -> (Vec<(String, u32)>, bool) {
        let order = StripeOrder::parse(text).unwrap();
        (order.stripes.into_iter().map(|s| (s.colour, s.threads)).collect(), order.to_and_fro)
    }

    #[test]
    fn all_ways_of_writing_the_same_count_are_read_alike() {
        let plain = read("K/4 DB24 Y/4");
        assert!(plain.1);
        for text in ["k/4, db24, y/4", "/K4 DB24 Y4/", "K/4DB24Y/4", " K / 4\n DB 24 ; Y/4 ", "K4/ DB24 /Y4"]
        {
            assert_eq!(read(text), plain, "{text}");
        }
    }

    #[test]
    fn dots_at_the_ends_say_that_it_starts_again() {
        assert_eq!(read("… B2 K2 R4 …"), read("B2 K2 R4"));
        assert_eq!(read("...B2 K2 R4..."), read("B2 K2 R4"));
        assert!(!read("B2 K2 R4").1);
    }

    #[test]
    fn one_letter_is_an_order_of_one_colour() {
        assert!(StripeOrder::parse("N").unwrap().is_one_colour());
        assert!(StripeOrder::parse("n12").unwrap().is_one_colour());
        assert!(!StripeOrder::parse("N12 G2").unwrap().is_one_colour());
    }

    #[test]
    fn faults_quote_the_stripe() {
        for (text, expected) in [
            ("", "the thread count is empty"),
            ("…", "the thread count is empty"),
            ("N/6 G24 W4 K", "the number is missing after K"),
            ("N/6 G24 W4 K/", "the number is missing after K/"),
            ("N/6 G24 W4", "a slash only on one end, the first stripe; W4 has none"),
            ("N6 G24 W/4", "a slash only on one end, the last stripe; N6 has none"),
            ("N6 G/24 W4", "a slash on a middle stripe, G/24"),
            ("N6 G0 W4", "a stripe of 0 threads, G0"),
            ("N6 24 W4", "a colour letter is missing after N6, where \"24 W4\" stands"),
            ("6N 24G", "a colour letter is missing at the start, where \"6N 24G\" stands"),
            ("N6 G-24", "the number is missing after G"),
            ("N6 G2.5 W4", "G2.… is not a whole number of threads"),
            ("N6 G99999999999999999999", "a stripe of 99999999999999999999 threads"),
            (
                "… N/6 G/4 …",
                "dots at the ends say that the order starts again, slashes that it is read to and fro",
            ),
        ] {
            assert_eq!(StripeOrder::parse(text).unwrap_err().what, expected, "{text}");
        }
    }

    proptest! {
        #[test]
        fn no_text_makes_the_reader_fall_over(text in "\\PC{0,40}") {
            let _ = StripeOrder::parse(&text);
        }

        #[test]
        fn what_is_written_is_read(
            stripes in prop::collection::vec(("[A-Z]{1,2}", 1u32..400), 2..12), slashed: bool,
        ) {
            let last = stripes.len() - 1;
            let text: Vec<String> = stripes.iter().enumerate().map(|(k, (c, n))| {
                format!("{c}{}{n}", if slashed && (k == 0 || k == last) { "/" } else { "" })
            }).collect();
            prop_assert_eq!(read(&text.join(" ")), (stripes, slashed));
        }
    }
}
