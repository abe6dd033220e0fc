//! Changes of a job that would help, as data: tried before they are told.

use serde_json::Value;

/// One field of a job to be set otherwise.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// The field's owner, or the list it stands in: `cutter`, `pieces`, `cloths`.
    pub owner: &'static str,
    /// Which of that list.
    pub index: Option<usize>,
    /// The field.
    pub field: &'static str,
    /// Its new value; null leaves the field out.
    pub value: Value,
}

impl Change {
    /// A field of a rule of the pieces.
    pub fn of_rule(rule: usize, field: &'static str, value: impl Into<Value>) -> Change {
        Change { owner: "pieces", index: Some(rule), field, value: value.into() }
    }

    /// A field of a cloth.
    pub fn of_cloth(cloth: usize, field: &'static str, value: impl Into<Value>) -> Change {
        Change { owner: "cloths", index: Some(cloth), field, value: value.into() }
    }

    /// A field of the cutter.
    pub fn of_cutter(field: &'static str, value: impl Into<Value>) -> Change {
        Change { owner: "cutter", index: None, field, value: value.into() }
    }

    /// The field's path in the job: `pieces[0].grain`.
    pub fn place(&self) -> String {
        match self.index {
            Some(index) => format!("{}[{index}].{}", self.owner, self.field),
            None => format!("{}.{}", self.owner, self.field),
        }
    }
}

/// Changes that help together.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Way {
    /// The changes, all of them.
    pub changes: Vec<Change>,
}

impl Way {
    /// In words: `set pieces[0].grain to "across" and leave pieces[0].anchor_mm out`.
    pub fn told(&self) -> String {
        let one = |c: &Change| match &c.value {
            Value::Null => format!("leave {} out", c.place()),
            value if c.owner == "cloths" => format!("use a cloth with {} {value} or more", c.place()),
            value => format!("set {} to {value}", c.place()),
        };
        self.changes.iter().map(one).collect::<Vec<_>>().join(" and ")
    }
}

/// What of a job could not be laid, by index, so that changes can be tried.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Stuck {
    /// The cloth.
    pub cloth: usize,
    /// The rules whose pieces are stuck; none: all that cut from the cloth.
    pub rules: Vec<usize>,
    /// Size of the piece that is stuck, at a turn it may have, mm.
    pub size_mm: Option<[f64; 2]>,
    /// Length of cloth that a lay found takes, mm, where that is more than there is.
    pub length_mm: Option<f64>,
}

impl Eq for Stuck {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_way_is_told_field_by_field() {
        let changes = vec![
            Change::of_rule(0, "grain", "across"),
            Change::of_rule(0, "match", "free"),
            Change::of_rule(0, "anchor_mm", Value::Null),
        ];
        let told = "set pieces[0].grain to \"across\" and set pieces[0].match to \"free\" and leave pieces[0].anchor_mm out";
        assert_eq!(Way { changes }.told(), told);
        let wider = Way { changes: vec![Change::of_cloth(1, "width_mm", 1165)] };
        assert_eq!(wider.told(), "use a cloth with cloths[1].width_mm 1165 or more");
    }
}
