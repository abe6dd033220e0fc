//! The example jobs and the broken ones, read and held against the published schema.

use std::path::{Path, PathBuf};

use serde_json::Value;

use super::{Cutter, Job, LARGEST_FILE, Unsaid, parse, read, schema};
use crate::say::Trouble;

fn files(folder: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.to_string_lossy().ends_with(".job.json"))
        .collect();
    files.sort();
    files
}

fn name(path: &Path) -> String {
    path.file_name().unwrap().to_string_lossy().replace(".job.json", "")
}

/// A list of examples: file, parts of what must be said, whether the schema alone refuses it.
const BROKEN: &[(&str, &[&str], bool)] = &[
    (
        "thread-count-without-a-number",
        &["cloths[1].pattern.warp: \"N/6 G24 W4 K\": the number is missing after K (line 3, column 62)"],
        false,
    ),
    (
        "many-troubles-at-once",
        &[
            "cloths[0].widht_mm: unknown field (line 2, column 46)\nhint: did you mean \"width_mm\"?",
            "cloths[0].weave: \"twil-z\": expected one of plain, twill-z, twill-s, felt (line 2, column 60)\nhint: did you mean \"twill-z\"?",
            "cloths[0].edge_mm: \"12\": expected a number (line 2, column 81)\nhint: leave out the quotation marks",
            "cloths[1]: the field \"name\" is missing (line 3, column 15)",
            "cloths[1].width_mm: 0: expected more than 0",
            "pieces[0].select: {}: expected at least one of layer, id, fill",
            "pieces[0].count: 0: expected 1 or more",
            "pieces[0].gap_mm: unknown field (line 4, column 71)\nhint: \"gap_mm\" belongs in \"lay\"",
            "cutter.bed_mm: [900]: expected two numbers, [x, y]",
            "cutter.kerf_mm: -0.2: expected 0 or more",
        ],
        true,
    ),
    (
        "misspelt-width-and-a-bed-smaller-than-its-margins",
        &[
            "cloths[0].widht_mm: unknown field",
            "pieces[0].cloth: \"linnen\": expected the name of a cloth: linen (line 3, column 49)\nhint: did you mean \"linen\"?",
            "cutter.bed_mm[1]: 80: expected more than twice margin_mm, 40",
        ],
        true,
    ),
    (
        "kerf-wider-than-the-gap",
        &[
            "cutter.kerf_mm: 0.2 (the default): expected less than lay.gap_mm, 0.1: neighbouring cuts would run into each other",
        ],
        false,
    ),
    (
        "drawn-but-off-the-grain",
        &[
            "pieces[0].grain_deg: 15: expected 0 with match \"drawn\"",
            "pieces[1].pattern_at_mm: [1,2]: expected only with match \"drawn\"; it is \"free\"",
            "pieces[1].anchor_mm: [1,2]: expected only with match \"centred\" or \"pair\"; it is \"free\"",
        ],
        false,
    ),
    (
        "groups-that-contradict",
        &[
            "pieces[1].group: \"wave\": \"centred\" here and \"drawn\" in pieces[0]: a group has one match",
            "pieces[2].group: \"each\": it keeps every piece by itself, and match \"pair\" takes two",
            "pieces[3].grain: \"bias\": expected \"along\", \"across\" or \"either\" with match \"drawn\"",
            "pieces[4].group: \"\": expected",
        ],
        true,
    ),
    (
        "outline-crosses-itself",
        &[
            "cloths[0].outline_mm: the outline crosses or touches itself near (100.00, 0.00)",
            "cloths[0].flaws_mm[0]: [[0,0],[1,1]]: expected at least 3 points",
            "cloths[0].flaws_mm[1]: the outline encloses no area",
        ],
        true,
    ),
    (
        "thread-count-without-a-size",
        &[
            "cloths[0].pattern: the field \"picks_per_cm\" is missing (or \"repeat_along_mm\" as measured)",
            "cloths[1].pattern: the field \"symmetrical\" is missing: \"repeat_across_mm\" is given without a thread count",
            "cloths[2].pattern: neither a thread count of several colours nor a measured repeat is given",
            "cloths[3].name: \"one\": expected a name of its own; cloths[0] has the same",
            "cloths[3].pattern.repeat_across_mm: 80: expected null: the warp order has one colour, so nothing repeats",
        ],
        false,
    ),
    (
        "from-a-newer-program",
        &["settlay: 2: this job is written for a newer settlay; expected format 1"],
        true,
    ),
    ("field-given-twice", &["cloths[0]: the field \"width_mm\" is given twice (line 2, column "], false),
    (
        "colours-in-words",
        &[
            "cloths[0].colour: \"red\": expected a colour written #rrggbb",
            "cloths[0].pattern.colours.N: \"#12345\": expected a colour written #rrggbb",
            "cloths[0].pattern.colours.G2: \"#123456\": expected a colour's letter or letters as the field's name",
            "pieces[0].select.fill: \"none\": expected a colour written #rrggbb",
            "cutter.colours.outlin: \"#000000\": unknown kind of line; expected one of cutout, outline, mark, key",
        ],
        true,
    ),
    ("ends-in-the-middle", &["the file ends too early, at line 1, column "], true),
    ("empty", &["the file is empty"], true),
    ("comma-too-many", &["this is not JSON: nothing follows the last comma (line 1, column 37)"], true),
    ("a-picture-not-a-job", &["the file is not text: byte 1 is not UTF-8"], true),
    ("a-list-not-a-job", &["[1,2,3]: expected fields in braces, { … }"], true),
];

#[test]
fn the_example_jobs_are_read_and_keep_to_the_schema() {
    let schema = jsonschema::validator_for(&schema()).unwrap();
    let files = files("fixtures/jobs");
    assert!(files.len() >= 5);
    for file in files {
        let value: Value = serde_json::from_str(&std::fs::read_to_string(&file).unwrap()).unwrap();
        let faults: Vec<String> = schema.iter_errors(&value).map(|e| e.to_string()).collect();
        assert_eq!(faults, Vec::<String>::new(), "{}", name(&file));
        let job = read(&file).unwrap_or_else(|t| panic!("{}: {t:#?}", name(&file)));
        // What is read, written and read again is the same job, and keeps to the schema too.
        let again = serde_json::to_value(&job).unwrap();
        assert!(schema.is_valid(&again), "{}", name(&file));
        // Written out, every measure is said.
        let cutter = Cutter { unsaid: Unsaid::default(), ..job.cutter.clone() };
        assert_eq!(parse(&again.to_string(), "again").unwrap(), Job { cutter, scale_said: true, ..job });
    }
}

#[test]
fn every_broken_job_says_all_that_is_wrong_with_it() {
    let schema = jsonschema::validator_for(&schema()).unwrap();
    let files = files("fixtures/jobs/broken");
    assert_eq!(files.len(), BROKEN.len(), "each broken job stands in the list");
    for file in files {
        let (_, expected, by_schema) = BROKEN
            .iter()
            .find(|(n, ..)| *n == name(&file))
            .unwrap_or_else(|| panic!("{} is not listed", name(&file)));
        let troubles: Vec<String> = read(&file).unwrap_err().iter().map(Trouble::to_string).collect();
        assert_eq!(troubles.len(), expected.len(), "{}: {troubles:#?}", name(&file));
        for part in *expected {
            assert!(troubles.iter().any(|t| t.contains(part)), "{}: {part}\nin {troubles:#?}", name(&file));
        }
        let value: Option<Value> = std::fs::read(&file).ok().and_then(|b| serde_json::from_slice(&b).ok());
        assert_eq!(value.is_none_or(|v| !schema.is_valid(&v)), *by_schema, "{}", name(&file));
    }
}

#[test]
fn files_that_cannot_be_read_are_told_apart() {
    let folder = tempfile::tempdir().unwrap();
    let said = |path: &Path| read(path).unwrap_err().remove(0);
    assert_eq!(said(&folder.path().join("none.job.json")).what, "there is no such file");
    assert_eq!(said(folder.path()).what, "this is a folder, not a job file");
    let huge = folder.path().join("huge.job.json");
    std::fs::File::create(&huge).unwrap().set_len(LARGEST_FILE + 1).unwrap();
    assert_eq!(said(&huge).what, "the file is too large for a job: 17 MB, 16 MB at most");
    let utf16 = folder.path().join("utf16.job.json");
    std::fs::write(&utf16, b"\xff\xfe{\0}\0").unwrap();
    assert!(said(&utf16).what.contains("UTF-16"));
    assert_eq!(said(&utf16).exit_code(), 2);
}

#[test]
fn a_byte_order_mark_does_no_harm() {
    let text = "\u{feff}{\"settlay\": 1, \"drawing\": \"a.svg\", \"cloths\": [{\"name\": \"n\", \"width_mm\": 9}], \"pieces\": [{\"select\": {\"id\": \"a\"}, \"cloth\": \"n\"}]}";
    assert!(parse(text, "a").is_ok());
}

#[test]
fn deep_and_wild_input_is_refused_without_a_crash() {
    let deep = "[".repeat(100_000);
    assert_eq!(parse(&deep, "deep").unwrap_err().len(), 1);
    let wild = "{\"settlay\": 1, \"drawing_scale\": 1e999}";
    assert!(parse(wild, "wild").unwrap_err()[0].what.contains("larger than any"));
}

/// Any change of a sound job's numbers and texts is read or refused; where the schema refuses, so do we.
#[test]
fn what_the_schema_refuses_is_refused() {
    let schema = jsonschema::validator_for(&schema()).unwrap();
    let strange = [
        Value::Null,
        serde_json::json!(-1),
        serde_json::json!(0),
        serde_json::json!(2.5),
        serde_json::json!(1e300),
        serde_json::json!(""),
        serde_json::json!("zebra"),
        serde_json::json!([]),
        serde_json::json!([1, 2]),
        serde_json::json!({}),
        serde_json::json!(true),
    ];
    fn places(value: &Value, at: String, out: &mut Vec<String>) {
        match value {
            Value::Object(fields) => fields.iter().for_each(|(k, v)| places(v, format!("{at}/{k}"), out)),
            Value::Array(entries) => {
                entries.iter().enumerate().for_each(|(k, v)| places(v, format!("{at}/{k}"), out))
            }
            _ => {}
        }
        out.push(at);
    }
    for file in files("fixtures/jobs") {
        let job: Value = serde_json::from_str(&std::fs::read_to_string(&file).unwrap()).unwrap();
        let mut all = Vec::new();
        places(&job, String::new(), &mut all);
        for place in all {
            for odd in &strange {
                let mut changed = job.clone();
                *changed.pointer_mut(&place).unwrap() = odd.clone();
                let read = parse(&changed.to_string(), "changed");
                if !schema.is_valid(&changed) {
                    assert!(read.is_err(), "{} {place} {odd}", name(&file));
                }
                for trouble in read.err().into_iter().flatten() {
                    assert!(!trouble.about.is_empty() && !trouble.what.is_empty(), "{trouble:?}");
                }
            }
        }
    }
}
