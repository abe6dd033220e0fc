//! Among lays of nearly the same length, the one that is easiest to cut.

use crate::cloth::Cloth;
use crate::lay::ClothLay;
use crate::passes::{PassTrouble, Passes};
use crate::say::{Note, Watch};

use super::burnt::spoilt_by_marks;
use super::offcuts::clear_of_burns;
use super::rectangle::largest_rectangle;

/// The lay that was chosen.
#[derive(Debug)]
pub struct Chosen {
    /// The lay, where it is not the shortest.
    pub other: Option<ClothLay>,
    /// Its passes.
    pub passes: Passes,
    /// What was won by it.
    pub note: Option<Note>,
}

/// Lays of at most this much more length count as the same.
const NEARLY: f64 = 0.002;

/// Largest rectangles that differ by no more than this count as the same.
const NEARLY_AS_LARGE: f64 = 0.02;

struct Candidate {
    on: ClothLay,
    passes: Passes,
    joints: usize,
    rectangle_mm2: f64,
}

/// Of `shortest` and `others`, the lay with the fewest passes, then the fewest joints, then the least length, among
/// those within 0.2 % of the shortest. On a cloth of fixed length, whose pieces fit in any case, the lay that
/// leaves the largest rectangle goes first; rectangles within 2 % of the largest count as equal. Once the maker has asked to
/// stop no further lay is split.
///
/// # Errors
/// That of the shortest lay, when none can be split into passes by `split`.
pub fn best(
    cloth: &Cloth,
    shortest: &ClothLay,
    others: Vec<ClothLay>,
    clear_mm: f64,
    split: &dyn Fn(&ClothLay) -> Result<Passes, PassTrouble>,
    watch: &dyn Watch,
) -> Result<Chosen, PassTrouble> {
    let first = split(shortest);
    let simplest = first.as_ref().is_ok_and(|p| p.passes.len() <= 1);
    if others.is_empty() || (simplest && cloth.open_length) {
        return Ok(Chosen { other: None, passes: first?, note: None });
    }
    let rectangle_mm2 = |on: &ClothLay, passes: &Passes| {
        if cloth.open_length {
            return 0.0;
        }
        let clear = clear_of_burns(cloth, on, clear_mm, &spoilt_by_marks(passes));
        largest_rectangle(&clear).map_or(0.0, |b| b.width() * b.height())
    };
    let candidate = |on: ClothLay, passes: Passes| {
        // Every joint stands in both passes that meet there.
        let joints = passes.passes.iter().map(|p| p.joints.len()).sum::<usize>() / 2;
        Candidate { rectangle_mm2: rectangle_mm2(&on, &passes), on, passes, joints }
    };
    let most = shortest.used_length_mm * (1.0 + NEARLY);
    let mut all: Vec<Candidate> = Vec::new();
    let (mut failed, mut plain) = (None, None);
    match first {
        Ok(passes) => {
            plain =
                Some((passes.passes.len(), passes.passes.iter().map(|p| p.joints.len()).sum::<usize>() / 2));
            all.push(candidate(shortest.clone(), passes));
        }
        Err(e) => failed = Some(e),
    }
    for on in others.into_iter().filter(|on| on.used_length_mm <= most) {
        // One who stopped it has the shortest.
        if watch.stopped() {
            break;
        }
        if let Ok(passes) = split(&on) {
            all.push(candidate(on, passes));
        }
    }
    let lays = all.len();
    let largest = all.iter().map(|c| c.rectangle_mm2).fold(0.0, f64::max);
    let rank = |c: &Candidate| {
        let small = c.rectangle_mm2 < largest * (1.0 - NEARLY_AS_LARGE);
        (small, c.passes.passes.len(), c.joints)
    };
    let first_rectangle = all.first().map_or(0.0, |c| c.rectangle_mm2);
    let winner = all
        .into_iter()
        .min_by(|a, b| rank(a).cmp(&rank(b)).then(a.on.used_length_mm.total_cmp(&b.on.used_length_mm)));
    let Some(winner) = winner else {
        return Err(failed.unwrap_or_else(|| {
            PassTrouble::Cannot(crate::say::Trouble::cannot(
                format!("cloth {}", cloth.name),
                "there are no passes for its lay",
            ))
        }));
    };
    if plain.is_some() && winner.on == *shortest {
        return Ok(Chosen { other: None, passes: winner.passes, note: None });
    }
    let (passes, joints) = (winner.passes.passes.len(), winner.joints);
    let counted = |passes: usize, joints: usize| {
        let s = |n: usize| if n == 1 { "" } else { "s" };
        let es = if passes == 1 { "" } else { "es" };
        format!("{passes} pass{es} and {joints} joint{}", s(joints))
    };
    let won = match plain {
        Some(p) if p != (passes, joints) => {
            format!("{} in place of {}", counted(passes, joints), counted(p.0, p.1))
        }
        Some(_) => format!(
            "a largest rectangle left over of {:.1} in place of {:.1} dm²",
            winner.rectangle_mm2 / 1e4,
            first_rectangle / 1e4
        ),
        None => format!("{}, where the shortest leaves no room for marks", counted(passes, joints)),
    };
    let more = winner.on.used_length_mm - shortest.used_length_mm;
    let note = Note::advice(
        format!("cloth {}", cloth.name),
        format!(
            "Of {lays} lays of nearly the same length this one was taken ({more:.1} mm longer than the shortest): {won}."
        ),
    );
    Ok(Chosen { other: Some(winner.on), passes: winner.passes, note: Some(note) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Weave;
    use crate::passes::{Joint, Pass, Verdict};
    use crate::say::Quiet;
    use crate::shape::{Affine, Bounds, Region, pt};

    fn cloth() -> Cloth {
        Cloth {
            name: "fen".into(),
            stock: None,
            weave: Weave::Plain,
            nap: false,
            outline: Region::rectangle(Bounds::new(pt(0.0, 0.0), pt(500.0, 9000.0))).outline,
            open_length: true,
            edge_mm: 0.0,
            flaws: Vec::new(),
            pattern: None,
            match_tolerance_mm: 0.0,
            photo: None,
            colour: [0; 3],
        }
    }

    fn on(length: f64) -> ClothLay {
        ClothLay { used_length_mm: length, ..ClothLay::default() }
    }

    fn passes(n: usize, joints: usize) -> Passes {
        let joint = Joint {
            placed: 0,
            ring: 0,
            at: pt(0.0, 0.0),
            overlap_mm: 2.0,
            expected_step_mm: 0.0,
            step_95_mm: 0.0,
            key_step_mm: None,
            verdict: Verdict::Covered,
        };
        let pass = |k: usize| Pass {
            number: k + 1,
            window: Bounds::EMPTY,
            cloth_to_bed: Affine([1.0, 0.0, 0.0, 1.0, 0.0, 0.0]),
            burns: Vec::new(),
            marks: Vec::new(),
            joints: if k < 2 { vec![joint.clone(); joints] } else { Vec::new() },
            key: Vec::new(),
        };
        Passes { passes: (0..n).map(pass).collect(), notes: Vec::new() }
    }

    /// Passes and joints by length: 1000 → 3, 4; 1001 → 2, 5; 1001.5 → 2, 1; 1010 (too long) → 1, 0.
    fn split(on: &ClothLay) -> Result<Passes, PassTrouble> {
        Ok(match on.used_length_mm {
            l if l < 1000.5 => passes(3, 4),
            l if l < 1001.2 => passes(2, 5),
            l if l < 1002.0 => passes(2, 1),
            _ => passes(1, 0),
        })
    }

    #[test]
    fn fewer_passes_then_fewer_joints_win_within_the_same_length() {
        let others = vec![on(1001.0), on(1001.5), on(1010.0)];
        let chosen = best(&cloth(), &on(1000.0), others, 3.0, &split, &Quiet).unwrap();
        assert_eq!(chosen.other.unwrap().used_length_mm, 1001.5);
        let text = chosen.note.unwrap().text;
        assert!(text.contains("2 passes and 1 joint in place of 3 passes and 4 joints"), "{text}");
    }

    /// Stopped as soon as it is asked.
    struct Stopped;

    impl Watch for Stopped {
        fn step(&self, _stage: &str, _share: f64, _now: &str) {}

        fn stopped(&self) -> bool {
            true
        }
    }

    #[test]
    fn once_stopped_only_the_shortest_is_split() {
        let splits = std::cell::Cell::new(0);
        let counted = |on: &ClothLay| {
            splits.set(splits.get() + 1);
            split(on)
        };
        let others = vec![on(1001.0), on(1001.5)];
        let chosen = best(&cloth(), &on(1000.0), others, 3.0, &counted, &Stopped).unwrap();
        assert!(chosen.other.is_none() && splits.get() == 1);
    }

    #[test]
    fn the_shortest_stays_where_nothing_is_won() {
        let chosen = best(&cloth(), &on(1000.0), vec![on(1000.2)], 3.0, &split, &Quiet).unwrap();
        assert!(chosen.other.is_none() && chosen.note.is_none());
    }

    #[test]
    fn a_lay_that_leaves_room_for_marks_stands_in() {
        let cramped = |on: &ClothLay| {
            if on.used_length_mm < 1000.5 {
                let band = Bounds::EMPTY;
                return Err(PassTrouble::NoRoomForMarks(crate::passes::NoRoomForMarks {
                    band,
                    spots: Vec::new(),
                }));
            }
            split(on)
        };
        let chosen = best(&cloth(), &on(1000.0), vec![on(1001.0)], 3.0, &cramped, &Quiet).unwrap();
        assert_eq!(chosen.other.unwrap().used_length_mm, 1001.0);
        assert!(best(&cloth(), &on(1000.0), Vec::new(), 3.0, &cramped, &Quiet).is_err());
    }
}
