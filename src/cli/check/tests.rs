use super::*;
use crate::drawing::faults::{FaultKind, Severity};
use gather::gather;
use std::path::Path;

fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures").join(name)
}

fn args(path: PathBuf) -> CheckArgs {
    CheckArgs { path, width_mm: None, neck_mm: 3.0, picture: None, json: false }
}

const NASTY: &str = "drawing/everything-that-can-be-wrong.svg";

/// What was drawn wrong on purpose is found, and nothing else.
#[test]
fn every_fault_drawn_on_purpose_is_found_by_element() {
    use FaultKind::*;
    let checked = gather(&args(fixture(NASTY))).unwrap();
    let found: Vec<(&str, FaultKind, usize)> =
        checked.faults.iter().map(|f| (f.element.as_str(), f.kind, f.more)).collect();
    let expected = [
        ("wave-again", Doubled, 0),
        ("sun", Crumb, 0),
        ("bow", Crossing, 0),
        ("gap-small", OpenOutline, 0),
        ("gap-wide", OpenOutline, 0),
        ("thread", OpenOutline, 0),
        ("body", Neck, 0),
        ("leg", Neck, 0),
        ("hair", Doubled, 0),
        ("specks", Crumb, 0),
        ("specks", Crumb, 0),
        ("specks", Crumb, 3),
        ("saw", Crossing, 0),
        ("saw", Crossing, 0),
        ("saw", Crossing, 6),
        ("kiss", Crossing, 0),
    ];
    assert_eq!(found, expected);
}

#[test]
fn a_job_adds_its_pieces_and_a_piece_too_wide_stops() {
    let checked = gather(&args(fixture("jobs/everything-that-can-be-wrong.job.json"))).unwrap();
    assert!(checked.troubles.is_empty(), "{:?}", checked.troubles);
    let of = |kind| {
        checked.faults.iter().filter(|f| f.kind == kind).map(|f| f.element.as_str()).collect::<Vec<_>>()
    };
    assert_eq!(of(FaultKind::LargerThanCloth), ["wave", "wave-again"]);
    assert_eq!(of(FaultKind::Overlap), ["wave-again", "bank", "bank"]);
    assert_eq!(of(FaultKind::Unpicked), ["bow", "cloud", "gap-small", "gap-wide"]);
    assert_eq!(checked.exit_code(), 1);
    let sun = checked.pieces.iter().find(|p| p.id == "sun").unwrap();
    assert_eq!(sun.job.as_ref().map(|j| (j.count, j.cloth.as_str())), Some((2, "felt")));
    // A circle of radius 30 less an ellipse of 14 by 8 and a crumb; flattening takes a little.
    let area = std::f64::consts::PI * (900.0 - 14.0 * 8.0) - 1.6 * 1.2;
    assert!((sun.area_mm2 - area).abs() < 0.005 * area, "{} for {area}", sun.area_mm2);
}

#[test]
fn the_text_names_elements_lines_and_totals() {
    let checked = gather(&args(fixture(NASTY))).unwrap();
    let text = report::text(&checked);
    assert!(
        text.starts_with("everything-that-can-be-wrong.svg  page 420.0 × 297.0 mm, 15 shapes\n"),
        "{text}"
    );
    assert!(text.contains("\nbow  line 9\n"), "{text}");
    let total = format!(
        "{} faults: 0 to stop for, {} to mend; {} to note\n",
        checked.count(Severity::Mend),
        checked.count(Severity::Mend),
        checked.count(Severity::Note)
    );
    assert!(text.ends_with(&total), "{text}");
    assert!(text.lines().all(|l| table::columns(l) <= 120 && l == l.trim_end()), "{text}");
}

#[test]
fn notes_of_one_kind_are_told_once_and_none_is_lost() {
    let job = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/reed-bed/reed-bed.job.json");
    let checked = gather(&args(job)).unwrap();
    let text = report::text(&checked);
    assert_eq!(text.matches("Nothing needs doing").count(), 1, "{text}");
    for n in 1..=6 {
        assert!(text.contains(&format!("{n} water-{n} (line ")), "{text}");
    }
    assert!(text.ends_with("Nothing to stop for, nothing to mend, 6 to note.\n"), "{text}");
}

#[test]
fn the_json_says_the_same() {
    let checked = gather(&args(fixture(NASTY))).unwrap();
    let value: serde_json::Value = serde_json::from_str(&report::json(&checked)).unwrap();
    assert_eq!(value["faults"].as_array().unwrap().len(), checked.faults.len());
    let bow = value["faults"].as_array().unwrap().iter().find(|f| f["element"] == "bow").unwrap();
    assert_eq!((&bow["kind"], &bow["line"]), (&"crossing".into(), &9.into()));
    let at: Vec<f64> = bow["at"].as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect();
    assert!((at[0] - 67.5).abs() < 0.001 && (at[1] - 247.0).abs() < 0.001, "{at:?}");
    assert_eq!(value["pieces"].as_array().unwrap().len(), checked.pieces.len());
    assert!(value["pieces"][0].get("cloth").is_none(), "a bare drawing has no cloth");
}

#[test]
fn the_picture_appears_whole_or_not_at_all() {
    let folder = tempfile::tempdir().unwrap();
    let mut asked = args(fixture(NASTY));
    for name in ["faults.svg", "faults.PNG"] {
        asked.picture = Some(folder.path().join(name));
        assert_eq!(run(&asked).unwrap(), 0);
        assert!(std::fs::metadata(folder.path().join(name)).unwrap().len() > 10_000);
    }
    asked.picture = Some(folder.path().join("no-such-folder/faults.svg"));
    let trouble = run(&asked).unwrap_err();
    assert!(trouble[0].to_string().contains("cannot be written"), "{}", trouble[0]);
    asked.picture = Some(folder.path().join("faults.gif"));
    assert_eq!(run(&asked).unwrap_err()[0].exit_code(), 2);
    let left: Vec<_> = std::fs::read_dir(folder.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert_eq!(left.len(), 2, "{left:?}");
}

#[test]
fn a_job_is_known_by_its_first_sign_when_its_ending_says_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job");
    std::fs::write(&path, "  {\"settlay\": 1}").unwrap();
    assert!(gather(&args(path)).is_err_and(|t| t.iter().any(|t| t.to_string().contains("drawing"))));
    assert_eq!(gather(&args(folder.path().join("nothing.svg"))).err().unwrap()[0].exit_code(), 2);
}

#[test]
fn numbers_that_make_no_sense_are_refused() {
    assert!(width("0").is_err() && width("nan").is_err() && width("inf").is_err() && width("-3").is_err());
    assert!(neck("-1").is_err() && neck("1e9").is_err() && neck("NaN").is_err());
    assert_eq!((width("420"), neck("0")), (Ok(420.0), Ok(0.0)));
}
