//! The shelf kept, damaged and mended.

use proptest::prelude::*;

use super::*;
use crate::job::ClothSpec;
use crate::offcuts::State;

fn spec(name: &str, corners: &[[f64; 2]]) -> ClothSpec {
    serde_json::from_value(serde_json::json!({
        "name": name, "outline_mm": corners, "edge_mm": 5, "weave": "twill-z", "weight_g_per_m2": 300,
        "pattern": { "warp": "N/6 G24 W4 G24 K/10", "ends_per_cm": 20, "picks_per_cm": 18, "origin_mm": [35, 20] }
    }))
    .unwrap()
}

fn offcut(k: usize) -> Offcut {
    let w = 200.0 + k as f64;
    let corners = [[100.0, 50.0], [100.0 + w, 50.0], [100.0 + w, 260.0], [100.0, 250.0]];
    Offcut::new(&spec("fen", &corners), "2026-11-25", "drawer 2", "Reed-bed").unwrap()
}

fn shelf_of(n: usize) -> Shelf {
    let mut shelf = Shelf::default();
    (0..n).for_each(|k| drop(shelf.put(offcut(k)).id.clone()));
    shelf
}

/// A shelf's place with `bytes` in its file.
fn kept(bytes: &[u8]) -> (tempfile::TempDir, Place) {
    let folder = tempfile::tempdir().unwrap();
    let place = Place::at(folder.path());
    fs::write(place.file(), bytes).unwrap();
    (folder, place)
}

fn files(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

#[test]
fn what_is_put_on_the_shelf_is_found_there_again() {
    let folder = tempfile::tempdir().unwrap();
    let place = Place::at(&folder.path().join("shelf").join("mine.json"));
    assert_eq!(place.read().unwrap(), (Shelf::default(), vec![]));
    let (id, _) = place.change(|s| Ok(s.put(offcut(1)).id.clone())).unwrap();
    place.change(|s| Ok(s.put(offcut(2)).id.clone())).unwrap();
    let (shelf, notes) = place.read().unwrap();
    assert!(notes.is_empty());
    assert_eq!(id, "fen-1");
    assert_eq!(
        shelf,
        shelf_of(2).tap(|s| s.offcuts = vec![named(offcut(1), "fen-1"), named(offcut(2), "fen-2")])
    );
    let text = fs::read_to_string(place.file()).unwrap();
    assert_eq!(text.lines().count(), 4, "an entry a line: {text}");
}

fn named(mut o: Offcut, id: &str) -> Offcut {
    o.id = id.into();
    o
}

trait Tap: Sized {
    fn tap(mut self, f: impl FnOnce(&mut Self)) -> Self {
        f(&mut self);
        self
    }
}
impl Tap for Shelf {}

#[test]
fn an_offcut_lies_in_its_own_frame_with_its_pattern_where_it_was() {
    let o = offcut(0);
    assert_eq!(o.bounds().min, crate::shape::pt(0.0, 0.0));
    assert_eq!(o.cloth.pattern.as_ref().unwrap().origin_mm, [-65.0, -30.0]);
    // 200 × 205 mm, as a trapezium has it; 300 g/m².
    assert_eq!((o.area_mm2, o.weight_g), (41_000.0, Some(12.3)));
}

#[test]
fn a_change_that_fails_leaves_the_shelf_as_it_was() {
    let (_folder, place) = kept(text(&shelf_of(3)).unwrap().as_bytes());
    let before = fs::read(place.file()).unwrap();
    let failed = place.change(|s| -> Result<(), Vec<Trouble>> {
        s.offcuts.clear();
        Err(vec![Trouble::cannot("x", "y")])
    });
    assert!(failed.is_err());
    assert_eq!(fs::read(place.file()).unwrap(), before);
}

#[test]
fn taken_ids_are_never_given_again() {
    let mut shelf = shelf_of(3);
    shelf.offcuts[2].state = State::Taken;
    assert_eq!(shelf.put(offcut(9)).id, "fen-4");
    assert_eq!(shelf.kept().count(), 3);
}

#[test]
fn an_outline_that_crosses_itself_is_refused() {
    let bow = spec("fen", &[[0.0, 0.0], [100.0, 100.0], [100.0, 0.0], [0.0, 120.0]]);
    let refused = Offcut::new(&bow, "2026-11-25", "", "").unwrap_err();
    assert!(refused[0].what.contains("crosses or touches itself"), "{}", refused[0]);
    assert_eq!(refused[0].exit_code(), 2);
}

#[test]
fn a_shelf_cut_off_keeps_its_whole_entries_and_names_the_torn_one() {
    let whole = text(&shelf_of(5)).unwrap();
    let cut = whole.find("fen-4").unwrap() + 200;
    let (folder, place) = kept(&whole.as_bytes()[..cut]);
    let (shelf, notes) = place.read().unwrap();
    let ids: Vec<&str> = shelf.offcuts.iter().map(|o| o.id.as_str()).collect();
    assert_eq!(ids, ["fen-1", "fen-2", "fen-3"]);
    assert!(notes[0].text.contains("fen-4") && notes[0].text.contains("damaged-1"), "{}", notes[0].text);
    assert_eq!(files(folder.path()), ["offcuts.json", "offcuts.json.damaged-1", "offcuts.json.lock"]);
    let aside = fs::read_to_string(folder.path().join("offcuts.json.damaged-1")).unwrap();
    assert!(aside.contains("\"id\":\"fen-4\""), "{aside}");
    // Mended once, it is sound.
    assert_eq!(place.read().unwrap(), (shelf, vec![]));
}

#[test]
fn entries_that_make_no_sense_are_set_aside_one_by_one() {
    let mut shelf = shelf_of(4);
    shelf.offcuts[1].cloth.outline_mm = Some(vec![[0.0, 0.0], [90.0, 90.0], [90.0, 0.0], [0.0, 120.0]]);
    shelf.offcuts[2].id = "fen-1".into();
    let text = text(&shelf).unwrap().replace("\"id\":\"fen-4\"", "\"id\":\"fen-4\",\"sleeve\":1");
    let (folder, place) = kept(text.as_bytes());
    let (mended, notes) = place.read().unwrap();
    // Two of one id are both sound: the second gets another.
    assert_eq!(mended.offcuts, [shelf.offcuts[0].clone(), named(shelf.offcuts[2].clone(), "fen-2")]);
    for part in ["crosses or touches itself", "this one is now fen-2", "sleeve"] {
        assert!(notes[0].text.contains(part), "{part}: {}", notes[0].text);
    }
    assert!(folder.path().join("offcuts.json.damaged-1").exists());
}

#[test]
fn a_file_that_is_no_shelf_is_left_alone() {
    for (bytes, part) in [
        (&b"{\"settlay\": 1, \"title\": \"a job\"}"[..], "not an offcut shelf"),
        (b"[1, 2, 3]", "not an offcut shelf"),
        (b"\x89PNG\r\n\x1a\n{{{{{{{{", "not an offcut shelf"),
        (b"{\"settlay_shelf\": 2, \"offcuts\": []}", "newer settlay"),
    ] {
        let (folder, place) = kept(bytes);
        let t = place.read().unwrap_err();
        assert!(t.to_string().contains(part) && t.exit_code() == 2, "{t}");
        assert!(place.change(|s| Ok(s.put(offcut(0)).id.clone())).is_err());
        assert_eq!(fs::read(place.file()).unwrap(), bytes);
        assert!(files(folder.path()).iter().all(|n| !n.contains("damaged")));
    }
}

#[cfg(unix)]
#[test]
fn the_shelf_keeps_the_permissions_it_has() {
    use std::os::unix::fs::PermissionsExt;
    let (_folder, place) = kept(text(&shelf_of(1)).unwrap().as_bytes());
    fs::set_permissions(place.file(), fs::Permissions::from_mode(0o640)).unwrap();
    place.change(|s| Ok(s.put(offcut(2)).id.clone())).unwrap();
    assert_eq!(fs::metadata(place.file()).unwrap().permissions().mode() & 0o777, 0o640);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    /// The area kept is what another library (Clipper, through `geo-clipper`, on whole numbers) finds of outline less
    /// flaws.
    #[test]
    fn an_offcuts_area_is_what_another_library_finds(
        radii in prop::collection::vec(80.0..400.0f64, 5..14),
        flaws in prop::collection::vec((-150.0..150.0f64, -150.0..150.0f64, 5.0..60.0f64), 0..4),
    ) {
        use geo::Area;
        use geo_clipper::Clipper;
        let step = 360.0 / radii.len() as f64;
        let corners: Vec<[f64; 2]> = radii.iter().enumerate().map(|(k, r)| {
            let (c, s) = crate::shape::turn_cos_sin(step * k as f64);
            [r * c, r * s]
        }).collect();
        let mut of = spec("fen", &corners);
        of.flaws_mm = flaws.iter().map(|&(x, y, d)| vec![[x, y], [x + d, y], [x + d, y + d], [x, y + d]]).collect();
        let Ok(o) = Offcut::new(&of, "2026-11-25", "", "") else { return Ok(()) };
        let polygon = |r: &[[f64; 2]]| crate::shape::Region::new(crate::shape::Ring::from_pairs(r), vec![]).to_geo();
        let mut left = geo::MultiPolygon::new(vec![polygon(&corners)]);
        for flaw in &of.flaws_mm {
            left = left.difference(&polygon(flaw), 1.0e6);
        }
        prop_assert!((o.area_mm2 - left.unsigned_area()).abs() < 1.5, "{} and {}", o.area_mm2, left.unsigned_area());
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    /// Cut off anywhere: every entry that is whole is saved.
    #[test]
    fn a_file_cut_off_anywhere_keeps_what_is_whole(share in 0.0..1.0f64) {
        let whole = text(&shelf_of(6)).unwrap();
        let head = whole.find('\n').unwrap() + 1;
        let cut = head + ((whole.len() - head) as f64 * share) as usize;
        let bytes = &whole.as_bytes()[..cut];
        let read = mend::read(bytes, "shelf").unwrap();
        let lines = whole[..cut].lines().skip(1).filter(|l| serde_json::from_str::<Offcut>(l.trim_end_matches(',')).is_ok()).count();
        prop_assert_eq!(read.offcuts.len(), lines);
    }

    /// A stretch overwritten with rubbish: entries it does not touch are all saved, and nothing panics.
    #[test]
    fn rubbish_in_one_place_costs_no_other_entry(at in 0.0..1.0f64, rubbish in prop::collection::vec(any::<u8>(), 1..300)) {
        let whole = text(&shelf_of(6)).unwrap();
        let from = (whole.len() as f64 * at) as usize;
        let to = (from + rubbish.len()).min(whole.len());
        let mut bytes = whole.clone().into_bytes();
        bytes[from..to].copy_from_slice(&rubbish[..to - from]);
        let mut start = 0;
        let mut untouched = Vec::new();
        for line in whole.split_inclusive('\n') {
            let end = start + line.len();
            if let Ok(o) = serde_json::from_str::<Offcut>(line.trim_end().trim_end_matches(','))
                && (end <= from || start >= to) {
                untouched.push(o.id);
            }
            start = end;
        }
        let read = mend::read(&bytes, "shelf").unwrap();
        for id in untouched {
            prop_assert!(read.offcuts.iter().any(|o| o.id == id), "{} is lost", id);
        }
    }
}

/// A label that is pinned to cloth already is not given again, though its entry was damaged and set aside.
#[test]
fn a_label_is_given_once() {
    let folder = tempfile::tempdir().unwrap();
    let place = Place::at(folder.path());
    place.change(|s| Ok(s.put(offcut(1)).id.clone())).unwrap();
    let pictures = folder.path().join(place.pictures());
    fs::create_dir(&pictures).unwrap();
    fs::write(pictures.join("fen-7.svg"), "").unwrap();
    let (id, _) = place.change(|s| Ok(s.put(offcut(2)).id.clone())).unwrap();
    assert_eq!(id, "fen-8");
}

/// An id names a file: one that leads elsewhere, or none, is damage.
#[test]
fn ids_that_are_no_labels_are_set_aside() {
    for id in ["../../fen", "", "a/b", ".fen"] {
        let shelf =
            Shelf { offcuts: vec![named(offcut(1), id), named(offcut(2), "Kyle 2.b_-")], labels: vec![] };
        let (folder, place) = kept(text(&shelf).unwrap().as_bytes());
        let (read, notes) = place.read().unwrap();
        assert_eq!(read.offcuts.len(), 1, "{id}");
        assert!(notes[0].text.contains("id") && files(folder.path()).iter().any(|f| f.contains("damaged")));
    }
}

/// The title of the work may have changed meanwhile: it is the same leftover all the same.
#[test]
fn a_leftover_is_known_under_another_title() {
    let one = offcut(1);
    let other = Offcut { from: "Another title".into(), ..one.clone() };
    assert!(one.is_again(&other) && !one.is_again(&offcut(2)));
}
