//! Notes that travel with a result.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How much a note matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Level {
    /// Heed this or cloth, work, machine or health may suffer.
    Caution,
    /// Worth knowing.
    Advice,
}

/// Something a maker should know about a result that stands.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Note {
    /// How much it matters.
    pub level: Level,
    /// The thing it is about, in words: `piece wave`, `cloth saltmarsh`, `pass 2`.
    pub about: String,
    /// The note itself: a full sentence.
    pub text: String,
}

impl Note {
    /// A caution about `about`.
    pub fn caution(about: impl Into<String>, text: impl Into<String>) -> Note {
        Note { level: Level::Caution, about: about.into(), text: text.into() }
    }

    /// A piece of advice about `about`.
    pub fn advice(about: impl Into<String>, text: impl Into<String>) -> Note {
        Note { level: Level::Advice, about: about.into(), text: text.into() }
    }
}
