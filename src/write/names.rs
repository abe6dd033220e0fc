//! File names made from names of cloths.

use std::collections::{BTreeMap, BTreeSet};

use crate::files::names::is_device;
use crate::plan::{Plan, PlanPass};

/// Longest stem; leaves room for what is added within the limits of old file systems.
const LONGEST: usize = 40;

/// A file name stem for every cloth of the plan, by the cloth's name: letters, figures, `-` and `_` only,
/// no two alike even where capitals do not count.
pub(super) fn stems(plan: &Plan) -> BTreeMap<String, String> {
    let mut taken = BTreeSet::new();
    let mut stems = BTreeMap::new();
    for cloth in &plan.cloths {
        if stems.contains_key(&cloth.name) {
            continue;
        }
        let plain = safe(&cloth.name);
        let mut stem = plain.clone();
        let mut n = 2;
        while !taken.insert(stem.to_lowercase()) {
            stem = format!("{plain}-{n}");
            n += 1;
        }
        stems.insert(cloth.name.clone(), stem);
    }
    stems
}

/// What a file is called: the work's title and what of it the file is; without the title where the work has none.
pub(super) fn titled(title: &str, what: &str) -> String {
    match title.trim() {
        "" => what.to_owned(),
        title => format!("{title}: {what}"),
    }
}

/// A pass as `settlay realign` is told of it.
pub(super) fn words_for(plan: &Plan, pass: &PlanPass) -> String {
    let twin = |p: &PlanPass| p.number == pass.number && p.cloth != pass.cloth;
    let plain = pass.cloth.chars().all(|c| c.is_alphanumeric() || "-_.".contains(c));
    match (plan.passes.iter().any(twin), plain) {
        (false, _) => format!("--pass {}", pass.number),
        (true, true) => format!("--pass {} --cloth {}", pass.number, pass.cloth),
        (true, false) => format!("--pass {} --cloth \"{}\"", pass.number, pass.cloth),
    }
}

fn safe(name: &str) -> String {
    let mut stem = String::new();
    for c in name.chars().map(super::letters::base_letter) {
        if c.is_ascii_alphanumeric() || c == '_' {
            stem.push(c);
        } else if !stem.ends_with('-') {
            stem.push('-');
        }
    }
    let cut: String = stem.trim_matches('-').chars().take(LONGEST).collect();
    let cut = cut.trim_end_matches('-');
    if cut.is_empty() || is_device(cut) {
        return format!("cloth-{cut}").trim_end_matches('-').to_owned();
    }
    cut.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::sample::sample_plan;

    #[test]
    fn a_pass_is_named_by_its_cloth_only_where_another_has_its_number() {
        let mut plan = sample_plan();
        assert_eq!(words_for(&plan, &plan.passes[1]), "--pass 2");
        assert_eq!(words_for(&plan, &plan.passes[0]), format!("--pass 1 --cloth {}", plan.passes[0].cloth));
        plan.passes[0].cloth = "old rose".into();
        assert_eq!(words_for(&plan, &plan.passes[0]), "--pass 1 --cloth \"old rose\"");
    }

    #[test]
    fn names_become_files_that_exist_everywhere_and_stay_apart() {
        let mut plan = sample_plan();
        let cloth = plan.cloths[0].clone();
        let names = [
            "saltmarsh",
            "Saltmarsh",
            "../../etc/passwd",
            "Façade, été",
            "CON",
            "com1",
            "雪",
            "",
            "a/b",
            "a b",
        ];
        plan.cloths =
            names.map(|name| crate::plan::PlanCloth { name: name.into(), ..cloth.clone() }).to_vec();
        let stems = stems(&plan);
        assert!(stems.values().all(|s| crate::files::names::fault(s).is_none()), "{stems:?}");
        let found: Vec<&str> = names.iter().map(|n| stems[*n].as_str()).collect();
        assert_eq!(
            found,
            [
                "saltmarsh",
                "Saltmarsh-2",
                "etc-passwd",
                "Facade-ete",
                "cloth-CON",
                "cloth-com1",
                "cloth",
                "cloth-2",
                "a-b",
                "a-b-2"
            ]
        );
    }
}
