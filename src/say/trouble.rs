//! Why something could not be done.

use std::fmt;

use super::way::{Stuck, Way};

/// What sort of trouble, and so the exit code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The input is readable but the job cannot be done as asked. Exit code 1.
    CannotBeDone,
    /// Bad usage or unreadable input. Exit code 2.
    BadInput,
    /// The maker stopped it before there was anything to keep. Exit code 130, as of a program an interrupt ends.
    Stopped,
}

/// Why something could not be done, told to a maker: the thing, the fact, the next step.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trouble {
    /// What sort of trouble.
    pub kind: Kind,
    /// The thing: a file, a field's path, an element id, a piece. Never empty.
    pub about: String,
    /// What is wrong.
    pub what: String,
    /// What would help; empty when nothing sensible can be said.
    pub hint: String,
    /// Changes of the job that were tried and help; the hint begins with them.
    pub ways: Vec<Way>,
    /// What of the job is stuck, while changes may still be tried.
    pub stuck: Option<Box<Stuck>>,
}

impl Trouble {
    fn new(kind: Kind, about: impl Into<String>, what: impl Into<String>) -> Trouble {
        let (about, what) = (about.into(), what.into());
        Trouble { kind, about, what, hint: String::new(), ways: Vec::new(), stuck: None }
    }

    /// Input that cannot be read or makes no sense.
    pub fn bad_input(about: impl Into<String>, what: impl Into<String>) -> Trouble {
        Trouble::new(Kind::BadInput, about, what)
    }

    /// A job that cannot be done as asked.
    pub fn cannot(about: impl Into<String>, what: impl Into<String>) -> Trouble {
        Trouble::new(Kind::CannotBeDone, about, what)
    }

    /// Work that was stopped before there was anything to keep; `what` says how far it had come.
    pub fn stopped(about: impl Into<String>, what: impl Into<String>) -> Trouble {
        Trouble::new(Kind::Stopped, about, what)
    }

    /// The same trouble with the next step said.
    pub fn hint(mut self, hint: impl Into<String>) -> Trouble {
        self.hint = hint.into();
        self
    }

    /// The same trouble with what of the job is stuck.
    pub fn stuck(mut self, stuck: Stuck) -> Trouble {
        self.stuck = Some(Box::new(stuck));
        self
    }

    /// 1 for a job that cannot be done, 2 for bad input, 130 for work that was stopped.
    pub fn exit_code(&self) -> u8 {
        match self.kind {
            Kind::CannotBeDone => 1,
            Kind::BadInput => 2,
            Kind::Stopped => 130,
        }
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.about, self.what)?;
        if !self.hint.is_empty() {
            write!(f, "\nhint: {}", self.hint)?;
        }
        Ok(())
    }
}

impl std::error::Error for Trouble {}

/// The name among `known` that `given` most likely meant, if any is near enough to be worth naming.
pub fn nearest_name<'a>(given: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let near_enough = (given.chars().count() / 3).max(2);
    known
        .into_iter()
        .map(|name| (strsim::damerau_levenshtein(&given.to_lowercase(), &name.to_lowercase()), name))
        .filter(|(distance, _)| *distance <= near_enough)
        .min()
        .map(|(_, name)| name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_name_is_found_and_strangers_are_not() {
        assert_eq!(nearest_name("widht_mm", ["width_mm", "length_mm"]), Some("width_mm"));
        assert_eq!(nearest_name("zebra", ["width_mm", "length_mm"]), None);
    }

    #[test]
    fn a_hint_is_printed_on_its_own_line() {
        let t = Trouble::bad_input("rose.svg", "the file is empty").hint("export it again");
        assert_eq!(t.to_string(), "rose.svg: the file is empty\nhint: export it again");
        assert_eq!(t.exit_code(), 2);
    }
}
