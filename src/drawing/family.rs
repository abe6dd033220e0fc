//! The elements of a file as selectors see them: who stands round and before whom.

use usvg::roxmltree::{Document, Node};

use super::selectors::{How, Relation, Selector, Simple};

/// An element among those round it; places are those in [`Family::all`].
struct Member<'a, 'i> {
    node: Node<'a, 'i>,
    parent: Option<usize>,
    before: Option<usize>,
    /// From 1: among all children and among those of its type, from the start and from the end.
    place: [[i64; 2]; 2],
}

/// All elements of a file in its order.
pub(super) struct Family<'a, 'i> {
    all: Vec<Member<'a, 'i>>,
}

impl<'a, 'i> Family<'a, 'i> {
    /// The elements of `doc`.
    pub fn of(doc: &'a Document<'i>) -> Family<'a, 'i> {
        let mut at_node = vec![usize::MAX; doc.descendants().count()];
        let mut all: Vec<Member<'a, 'i>> = Vec::new();
        let mut children: Vec<Vec<usize>> = Vec::new();
        for node in doc.descendants().filter(Node::is_element) {
            let here = all.len();
            if let Some(at) = at_node.get_mut(node.id().get_usize()) {
                *at = here;
            }
            let parent = node.parent_element().and_then(|p| at_node.get(p.id().get_usize()).copied());
            let siblings = parent.and_then(|p| children.get_mut(p));
            let before = siblings.as_ref().and_then(|s| s.last().copied());
            if let Some(siblings) = siblings {
                siblings.push(here);
            }
            children.push(Vec::new());
            all.push(Member { node, parent, before, place: [[1; 2]; 2] });
        }
        for siblings in &children {
            number(&mut all, siblings);
        }
        Family { all }
    }

    /// The elements.
    pub fn nodes(&self) -> impl Iterator<Item = Node<'a, 'i>> {
        self.all.iter().map(|m| m.node)
    }

    /// Which elements a selector means, by place. Every part is looked at once for every element.
    pub fn meant(&self, selector: &Selector) -> Vec<bool> {
        let mut meant = Vec::new();
        for (relation, part) in &selector.parts {
            let mut fits = vec![true; self.all.len()];
            for simple in part {
                self.narrow(&mut fits, simple);
            }
            if *relation != Relation::First {
                let near = self.near(*relation, &meant);
                fits.iter_mut().zip(near).for_each(|(fit, near)| *fit &= near);
            }
            meant = fits;
        }
        meant
    }

    /// The elements that stand in a relation to one of those given.
    fn near(&self, relation: Relation, given: &[bool]) -> Vec<bool> {
        let mut near = Vec::with_capacity(self.all.len());
        for m in &self.all {
            let next = match relation {
                Relation::First => None,
                Relation::Inside | Relation::Child => m.parent,
                Relation::Next | Relation::Later => m.before,
            };
            let far = matches!(relation, Relation::Inside | Relation::Later);
            let is = next.is_some_and(|n| given.get(n) == Some(&true) || (far && near.get(n) == Some(&true)));
            near.push(is);
        }
        near
    }

    fn narrow(&self, fits: &mut [bool], simple: &Simple) {
        let keep = |fits: &mut [bool], of: &dyn Fn(&Member<'a, 'i>) -> bool| {
            fits.iter_mut().zip(&self.all).for_each(|(fit, m)| *fit = *fit && of(m));
        };
        match simple {
            Simple::Type(name) => keep(fits, &|m| m.node.tag_name().name() == name),
            Simple::Class(class) => keep(fits, &|m| {
                m.node.attribute("class").is_some_and(|c| c.split_whitespace().any(|w| w == class))
            }),
            Simple::Attribute { name, how, value, any_case } => keep(fits, &|m| {
                let of = m.node.attributes().find(|a| a.namespace().is_none() && a.name() == name);
                of.is_some_and(|a| compares(a.value(), *how, value, *any_case))
            }),
            Simple::Nth { step, start, of_type, from_end } => keep(fits, &|m| {
                let off = m.place[usize::from(*of_type)][usize::from(*from_end)] - start;
                if *step == 0 { off == 0 } else { off % step == 0 && off / step >= 0 }
            }),
            Simple::Is(list) | Simple::Not(list) => {
                let mut any = vec![false; self.all.len()];
                for selector in list {
                    any.iter_mut().zip(self.meant(selector)).for_each(|(a, m)| *a |= m);
                }
                let wanted = matches!(simple, Simple::Is(_));
                fits.iter_mut().zip(any).for_each(|(fit, any)| *fit &= any == wanted);
            }
            Simple::Root => keep(fits, &|m| m.parent.is_none()),
            Simple::Empty => keep(fits, &|m| {
                m.node
                    .children()
                    .all(|c| !c.is_element() && (!c.is_text() || c.text().unwrap_or_default().is_empty()))
            }),
            Simple::Link => {
                keep(fits, &|m| m.node.tag_name().name() == "a" && super::xml::href(m.node).is_some());
            }
            Simple::Never => fits.fill(false),
        }
    }
}

/// Numbers the children of one element.
fn number(all: &mut [Member<'_, '_>], siblings: &[usize]) {
    for from_end in [false, true] {
        let mut of_type = std::collections::HashMap::new();
        for k in 0..siblings.len() {
            let at = siblings[if from_end { siblings.len() - 1 - k } else { k }];
            let Some(m) = all.get_mut(at) else { continue };
            let tag = m.node.tag_name();
            let count = of_type.entry((tag.namespace(), tag.name())).or_insert(0i64);
            *count += 1;
            m.place[0][usize::from(from_end)] = k as i64 + 1;
            m.place[1][usize::from(from_end)] = *count;
        }
    }
}

fn compares(found: &str, how: How, value: &str, any_case: bool) -> bool {
    let lower = |text: &str| if any_case { text.to_ascii_lowercase() } else { text.to_owned() };
    let (found, value) = (lower(found), lower(value));
    let (found, value) = (found.as_str(), value.as_str());
    match how {
        How::There => true,
        How::Equals => found == value,
        How::Word => found.split_whitespace().any(|w| w == value),
        How::Dashed => found.strip_prefix(value).is_some_and(|rest| rest.is_empty() || rest.starts_with('-')),
        How::Starts => !value.is_empty() && found.starts_with(value),
        How::Ends => !value.is_empty() && found.ends_with(value),
        How::Holds => !value.is_empty() && found.contains(value),
    }
}
