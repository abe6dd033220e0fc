//! Hints about files and commands.

use std::fs;

use serde_json::json;

use crate::case::{Case, Do, JOB, LAY, of};
use crate::desk::{Desk, job, page};

fn readings(desk: &Desk, field: &str, value: serde_json::Value) {
    let mut form = json!({"callipers_mm": 0.02, "plug_x_mm": [99.8], "plug_y_mm": [99.8], "hole_x_mm": [100.2],
        "hole_y_mm": [100.2], "diagonal_rising_mm": [141.14], "diagonal_falling_mm": [141.14], "gap_mm": [2.2]});
    form[field] = value;
    desk.put("r.json", form.to_string());
}

const MEASURED: &[&str] = &["gauge", "--measured", "r.json"];
const OTHER: &[&str] = &["lay", "other.job.json"];

fn other(desk: &Desk) {
    desk.put("other.job.json", job().to_string());
}

/// A plan of the job.
fn made(desk: &Desk) {
    desk.put("k.job.json", job().to_string());
    assert_eq!(desk.run(&["plan", "k.job.json", "--out", "made"]).code, Some(0));
}

fn in_inches(desk: &Desk) {
    made(desk);
    let text = fs::read_to_string(desk.at("made/plan.json")).unwrap();
    let mut plan: serde_json::Value = serde_json::from_str(&text).unwrap();
    plan["units"] = "in".into();
    desk.put("made/plan.json", plan.to_string());
}

const CUT: &[&str] = &["realign", "made", "--pass", "1", "--mark-done", "--shelf", "shelf"];

pub fn cases() -> Vec<Case> {
    let drawing = |hint, spoilt: fn(&Desk), mended: fn(&Desk)| {
        of(hint, Do::Desk(spoilt), LAY, &[("in the drawing", Do::Desk(mended), &[])])
    };
    vec![
        of("name the {kind} in it", Do::Desk(|_| {}), &["lay", "."], &[("name it", Do::Desk(|_| {}), LAY)]),
        of(
            "save the job to a file and name that",
            Do::Desk(|_| {}),
            &["lay", "/dev/null"],
            &[("save it", Do::Desk(|_| {}), LAY)],
        ),
        of(
            "save it again as UTF-8",
            Do::Desk(|desk| desk.put("other.job.json", [0xff, 0xfe, b'{', 0])),
            OTHER,
            &[("save it again", Do::Desk(other), &[])],
        ),
        of(
            "a {kind} is a JSON text file; is this the right file?",
            Do::Desk(|desk| desk.put("other.job.json", [0xff, 0, 7])),
            OTHER,
            &[("the right file", Do::Desk(|_| {}), LAY)],
        ),
        of(
            "part of it is missing; a bracket or quotation mark is still open",
            Do::Desk(|desk| desk.put("other.job.json", "{\"settlay\": 1, \"drawing\": \"leaf.svg")),
            OTHER,
            &[("whole", Do::Desk(other), &[])],
        ),
        of(
            "did you mean \"{file}\"?",
            Do::Desk(|_| {}),
            &["schema", "jobs"],
            &[("job", Do::Desk(|_| {}), &["schema", "job"])],
        ),
        of(
            "end the file's name in .svg or .png",
            Do::Desk(|_| {}),
            &["check", JOB, "--picture", "p.gif"],
            &[
                (".svg", Do::Desk(|_| {}), &["check", JOB, "--picture", "p.svg"]),
                (".png", Do::Desk(|_| {}), &["check", JOB, "--picture", "p.png"]),
            ],
        ),
        of(
            "the picture is looked for beside the job",
            Do::Job(&[
                (
                    "/cloths/0/pattern",
                    r#"{"symmetrical": true, "photo": {"file": "p.png", "size_mm": [32, 36]}}"#,
                ),
                ("/pieces/0/match", "\"free\""),
            ]),
            LAY,
            &[(
                "beside the job",
                Do::Desk(|desk| desk.put("p.png", settlay::write::png_of(2, 2, &[90; 16]).unwrap())),
                &[],
            )],
        ),
        of(
            "settlay plan makes a plan of it; name the plan.json that it writes",
            Do::Desk(|desk| {
                fs::create_dir(desk.at("plan")).unwrap();
                desk.put("plan/plan.json", job().to_string());
            }),
            &["realign", "plan", "--pass", "1", "--mark-done"],
            &[("make one", Do::Desk(made), CUT)],
        ),
        of(
            "name the plan.json of a plan, or the folder it lies in",
            Do::Desk(made),
            &["realign", "nowhere", "--pass", "1", "--mark-done"],
            &[
                ("the folder", Do::Desk(|_| {}), CUT),
                (
                    "the plan.json",
                    Do::Desk(|_| {}),
                    &["realign", "made/plan.json", "--pass", "1", "--mark-done", "--shelf", "shelf"],
                ),
            ],
        ),
        of("plan the job anew", Do::Desk(in_inches), CUT, &[("anew", Do::Desk(made), &[])]),
        of(
            "its passes are: {}",
            Do::Desk(made),
            &["realign", "made", "--pass", "7", "--mark-done"],
            &[("one of them", Do::Desk(|_| {}), CUT)],
        ),
        // The gauge.
        of(
            "each length is a list of its readings, numbers with a point for decimals: \"plug_x_mm\": [99.81, 99.8]",
            Do::Desk(|desk| readings(desk, "plug_x_mm", json!("about 100"))),
            MEASURED,
            &[("a list", Do::Desk(|desk| readings(desk, "plug_x_mm", json!([99.81, 99.8]))), &[])],
        ),
        of(
            "put it into square brackets: [{mm}]; further readings follow after commas",
            Do::Desk(|desk| readings(desk, "plug_x_mm", json!(99.8))),
            MEASURED,
            &[
                ("brackets", Do::Desk(|desk| readings(desk, "plug_x_mm", json!([99.8]))), &[]),
                ("further ones", Do::Desk(|desk| readings(desk, "plug_x_mm", json!([99.8, 99.81]))), &[]),
            ],
        ),
        of(
            "write {plain}, with a point and without quotation marks",
            Do::Desk(|desk| readings(desk, "plug_x_mm", json!(["99,8"]))),
            MEASURED,
            &[("so", Do::Desk(|desk| readings(desk, "plug_x_mm", json!([99.8]))), &[])],
        ),
        of(
            "write {plain}, without quotation marks or unit",
            Do::Desk(|desk| readings(desk, "plug_x_mm", json!(["99.8 mm"]))),
            MEASURED,
            &[("so", Do::Desk(|desk| readings(desk, "plug_x_mm", json!([99.8]))), &[])],
        ),
        of(
            "measure that length again, in mm, and write it with a point: [99,8] with a comma is two readings, 99 and 8",
            Do::Desk(|desk| readings(desk, "plug_x_mm", json!([99, 8]))),
            MEASURED,
            &[("with a point", Do::Desk(|desk| readings(desk, "plug_x_mm", json!([99.8]))), &[])],
        ),
        of(
            "give the limit of error of the callipers, as their maker states it: 0.02",
            Do::Desk(|desk| {
                readings(desk, "gap_mm", json!([2.2]));
                let text = fs::read_to_string(desk.at("r.json")).unwrap();
                desk.put("r.json", text.replace("\"callipers_mm\":0.02,", ""));
            }),
            MEASURED,
            &[("give it", Do::Desk(|desk| readings(desk, "callipers_mm", json!(0.02))), &[])],
        ),
        of(
            "did you mean \"{near}\"?",
            Do::Desk(|desk| readings(desk, "plug_z_mm", json!([99.8]))),
            MEASURED,
            &[("another", Do::Desk(|desk| readings(desk, "plug_x_mm", json!([99.8]))), &[])],
        ),
        of(
            "take it out; the form has {}",
            Do::Desk(|desk| readings(desk, "zebra_stripes", json!(1))),
            MEASURED,
            &[("take it out", Do::Desk(|desk| readings(desk, "gap_mm", json!([2.2]))), &[])],
        ),
        of(
            "name the file of readings in it",
            Do::Desk(|desk| readings(desk, "gap_mm", json!([2.2]))),
            &["gauge", "--measured", "."],
            &[("name it", Do::Desk(|_| {}), MEASURED)],
        ),
        of(
            "save the readings to a file",
            Do::Desk(|desk| readings(desk, "gap_mm", json!([2.2]))),
            &["gauge", "--measured", "/dev/null"],
            &[("save them", Do::Desk(|_| {}), MEASURED)],
        ),
        of(
            "fill in a copy of readings-to-fill-in.json, which settlay gauge --out DIR writes",
            Do::Desk(|_| {}),
            MEASURED,
            &[(
                "fill it in",
                Do::Desk(|desk| {
                    assert_eq!(desk.run(&["gauge", "--out", "gauge"]).code, Some(0));
                    let blank = fs::read(desk.at("gauge/readings-to-fill-in.json")).unwrap();
                    let mut form: serde_json::Value = serde_json::from_slice(&blank).unwrap();
                    for (field, mm) in [
                        ("plug_x_mm", 99.8),
                        ("plug_y_mm", 99.8),
                        ("hole_x_mm", 100.2),
                        ("hole_y_mm", 100.2),
                        ("diagonal_rising_mm", 141.14),
                        ("diagonal_falling_mm", 141.14),
                    ] {
                        form[field] = json!([mm]);
                    }
                    desk.put("r.json", form.to_string());
                }),
                &[],
            )],
        ),
        of(
            "the gauge is for beds of that size and more",
            Do::Desk(|desk| desk.put("c.json", r#"{"bed_mm": [120, 160], "shared_band_mm": 60}"#)),
            &["gauge", "--out", "gauge", "--cutter", "c.json"],
            &[(
                "such a bed",
                Do::Desk(|desk| desk.put("c.json", r#"{"bed_mm": [300, 200], "shared_band_mm": 60}"#)),
                &[],
            )],
        ),
        // Drawings.
        drawing(
            "state width and height in mm, cm, in, pt or px",
            |desk| {
                desk.put(
                    "leaf.svg",
                    page("<path id='leaf' d='M10 10h50v50z'/>").replacen("200mm", "200furlong", 1),
                )
            },
            |desk| {
                desk.put("leaf.svg", page("<path id='leaf' d='M10 10h50v50z'/>").replacen("200mm", "20cm", 1))
            },
        ),
        drawing(
            "set the page size in the drawing program and export again",
            |desk| {
                desk.put(
                    "leaf.svg",
                    page("<path id='leaf' d='M10 10h50v50z'/>").replacen("200mm", "2000000mm", 1),
                )
            },
            |desk| desk.put("leaf.svg", page("<path id='leaf' d='M10 10h50v50z'/>")),
        ),
        drawing(
            "unlink the copy (use element) in the drawing program",
            |desk| {
                desk.put(
                    "leaf.svg",
                    page("<g id='a'><path d='M10 10h50v50z'/><use href='#a' xlink:href='#a'/></g>"),
                )
            },
            |desk| {
                desk.put("leaf.svg", page("<g id='a'><path d='M10 10h50v50z'/><path d='M80 10h50v50z'/></g>"))
            },
        ),
    ]
}
