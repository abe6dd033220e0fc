//! Which shapes a rule of the job is for.

use super::colour;
use super::model::Element;
use crate::job::Select;
use crate::say::{Trouble, nearest_name};

/// A rule's selection, made ready.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Selection<'a> {
    layer: Option<&'a str>,
    id: Option<&'a str>,
    /// `#rrggbb`, lower case.
    fill: Option<String>,
}

impl<'a> Selection<'a> {
    /// Reads the selection of the rule numbered `rule`.
    ///
    /// # Errors
    /// A fill that is no colour.
    pub fn read(select: &'a Select, rule: usize) -> Result<Selection<'a>, Trouble> {
        let fill = match select.fill.as_deref() {
            None => None,
            Some(text) => Some(colour::hex(text).ok_or_else(|| {
                Trouble::bad_input(
                    format!("pieces[{rule}].select.fill"),
                    format!("\"{text}\" is not a colour"),
                )
                .hint("write it as #rrggbb")
            })?),
        };
        Ok(Selection { layer: select.layer.as_deref(), id: select.id.as_deref(), fill })
    }

    /// True when the element fits every part given.
    pub fn fits(&self, element: &Element) -> bool {
        self.layer.is_none_or(|layer| element.layers.iter().any(|l| l == layer))
            && self.id.is_none_or(|pattern| wild_match(pattern, &element.id))
            && self.fill.as_ref().is_none_or(|fill| element.fill.as_ref() == Some(fill))
    }

    /// What the selection asks for, in words.
    pub fn words(&self) -> String {
        let parts: Vec<String> = [("layer", self.layer), ("id", self.id), ("fill", self.fill.as_deref())]
            .iter()
            .filter_map(|(what, value)| value.map(|v| format!("{what} \"{v}\"")))
            .collect();
        if parts.is_empty() { "every shape".to_owned() } else { parts.join(" and ") }
    }

    /// The name the maker most likely meant, for a selection that fits nothing.
    pub fn suggestion(&self, elements: &[Element]) -> Option<String> {
        let layers = || elements.iter().flat_map(|e| e.layers.iter().map(String::as_str));
        let ids = || elements.iter().map(|e| e.id.as_str());
        if let Some(layer) = self.layer
            && !layers().any(|l| l == layer)
        {
            return nearest_name(layer, layers())
                .map(|near| format!("did you mean layer \"{near}\"?"))
                .or_else(|| {
                    ids().any(|id| id == layer).then(|| format!("\"{layer}\" is a shape: select it by id"))
                });
        }
        if let Some(id) = self.id
            && !ids().any(|i| wild_match(id, i))
        {
            return layers()
                .any(|l| l == id)
                .then(|| format!("\"{id}\" is a group: select it by layer"))
                .or_else(|| nearest_name(id, ids()).map(|near| format!("did you mean id \"{near}\"?")));
        }
        let fill = self.fill.as_ref()?;
        let mut fills: Vec<&str> = elements.iter().filter_map(|e| e.fill.as_deref()).collect();
        fills.sort_unstable();
        fills.dedup();
        (!fills.contains(&fill.as_str()) && !fills.is_empty()).then(|| {
            format!(
                "the drawing's fills are {}",
                fills.iter().take(12).copied().collect::<Vec<_>>().join(", ")
            )
        })
    }
}

/// True when `name` is `pattern`, `*` standing for any run of characters, also none.
fn wild_match(pattern: &str, name: &str) -> bool {
    let mut parts = pattern.split('*');
    let first = parts.next().unwrap_or_default();
    let Some(mut rest) = name.strip_prefix(first) else { return false };
    let Some(last) = parts.next_back() else { return rest.is_empty() };
    for part in parts {
        // The earliest place leaves the most for what follows.
        let Some(i) = rest.find(part) else { return false };
        rest = &rest[i + part.len()..];
    }
    rest.len() >= last.len() && rest.ends_with(last)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn stars_stand_for_anything() {
        for (pattern, name, fits) in [
            ("wave", "wave", true),
            ("wave", "wave-1", false),
            ("wave*", "wave", true),
            ("wave*", "wave-1", true),
            ("*leaf", "big-leaf", true),
            ("a*b*c", "a-b-b-c", true),
            ("a*bc", "abc-bd", false),
            ("ab*ba", "aba", false),
            ("*", "", true),
            ("", "wave", false),
        ] {
            assert_eq!(wild_match(pattern, name), fits, "{pattern} {name}");
        }
    }

    /// The plain recursive definition.
    fn slow(p: &[char], n: &[char]) -> bool {
        match (p.first(), n.first()) {
            (None, None) => true,
            (Some('*'), _) => slow(&p[1..], n) || (!n.is_empty() && slow(p, &n[1..])),
            (Some(a), Some(b)) => a == b && slow(&p[1..], &n[1..]),
            _ => false,
        }
    }

    proptest! {
        #[test]
        fn stars_mean_what_the_definition_says(pattern in "[ab*]{0,7}", name in "[ab]{0,9}") {
            let (p, n): (Vec<char>, Vec<char>) = (pattern.chars().collect(), name.chars().collect());
            prop_assert_eq!(wild_match(&pattern, &name), slow(&p, &n));
        }
    }
}
