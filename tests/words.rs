//! What the program says, word for word. `INSTA_UPDATE=always cargo test --test words` rewrites what is expected; read
//! the difference before keeping it.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use assert_cmd::Command;

fn said(args: &[&str]) -> String {
    let ran =
        Command::cargo_bin("settlay").unwrap().current_dir(env!("CARGO_MANIFEST_DIR")).args(args).output();
    let ran = ran.unwrap();
    let code = ran.status.code().unwrap();
    let words = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    format!("exit {code}\n--- stdout\n{}--- stderr\n{}", words(ran.stdout), words(ran.stderr))
}

#[test]
fn a_drawing_with_every_fault() {
    insta::assert_snapshot!(said(&["check", "fixtures/drawing/everything-that-can-be-wrong.svg"]));
}

#[test]
fn the_demo_job_looked_over() {
    insta::assert_snapshot!(said(&["check", "examples/reed-bed/reed-bed.job.json"]));
}

#[test]
fn a_job_with_a_slip_of_the_pen() {
    insta::assert_snapshot!(said(&[
        "plan",
        "fixtures/jobs/broken/misspelt-width-and-a-bed-smaller-than-its-margins.job.json",
        "--out",
        "nowhere"
    ]));
}
