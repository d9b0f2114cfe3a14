//! Coverage from the command line: `run --coverage` and the files it writes.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use bench::Folder;

const RUN: &str = "run pump.st types.st --station station.toml --stimulus press.csv --quiet";
const FILES: &str =
    "--lcov pump.info --coverage-html pump.html --coverage-json pump.json --annotated pump.txt";

#[test]
fn a_run_tells_what_it_covered() {
    let folder = Folder::new();
    let ran = folder.run(&format!("{RUN} --coverage")).expect(0);
    insta::assert_snapshot!(ran.shown());
    // Behind the diagram, if there is one.
    let drawn = folder.run(&format!("{} --coverage", RUN.replace(" --quiet", ""))).expect(0);
    assert!(drawn.out.ends_with(&ran.out) && drawn.out.len() > ran.out.len());
}

#[test]
fn files_are_written_without_a_summary_too() {
    let folder = Folder::new();
    let before = folder.names();
    let ran = folder.run(&format!("{RUN} {FILES}")).expect(0);
    assert_eq!(ran.out, "");
    let written: Vec<String> = folder.names().into_iter().filter(|name| !before.contains(name)).collect();
    assert_eq!(written, ["pump.html", "pump.info", "pump.json", "pump.txt"]);
    let text = |name: &str| String::from_utf8(folder.read(name)).unwrap();
    assert!(text("pump.info").contains("SF:pump.st\n"));
    assert!(text("pump.html").starts_with("<!DOCTYPE html>"));
    assert!(text("pump.txt").contains("\npump.st\n"));
    let document: serde_json::Value = serde_json::from_str(&text("pump.json")).unwrap();
    // The program alone: neither station nor stimulus.
    assert_eq!(document["files"], serde_json::json!(["pump.st", "types.st"]));
    // The same once more.
    let first: Vec<Vec<u8>> = written.iter().map(|name| folder.read(name)).collect();
    folder.run(&format!("{RUN} {FILES} --coverage")).expect(0);
    let second: Vec<Vec<u8>> = written.iter().map(|name| folder.read(name)).collect();
    assert!(first == second);
}

/// The recording of a run, and what it says on standard error, do not tell whether coverage was measured.
#[test]
fn measuring_changes_nothing() {
    let folder = Folder::new();
    let recorded = |name: &str, more: &str| {
        let time = "--instruction-time T#50us --preempt";
        let ran = folder.run(&format!("{RUN} --csv {name} {time} {more}")).expect(0);
        (folder.read(name), ran.err)
    };
    assert_eq!(recorded("plain.csv", ""), recorded("covered.csv", FILES));
}

#[test]
fn a_fault_leaves_the_coverage_up_to_it() {
    let folder = Folder::new();
    folder.write(
        "fault.st",
        "PROGRAM P VAR k : INT := 2; a : ARRAY [0..3] OF INT; END_VAR\nk := k + 1;\na[k] := 1;\nk := k;\nEND_PROGRAM\n",
    );
    let ran = folder.run("run fault.st --quiet --coverage --lcov fault.info").expect(1);
    assert!(ran.out.contains("3/3  100 %"), "{}", ran.shown());
    // The fault came in the second scan, in line 3.
    assert!(ran.err.contains("subscript"), "{}", ran.shown());
    folder.write(
        "at_once.st",
        "PROGRAM P VAR k : INT := 7; a : ARRAY [0..3] OF INT; END_VAR\na[k] := 1;\nk := k;\nEND_PROGRAM\n",
    );
    folder.run("run at_once.st --quiet --lcov fault.info").expect(1);
    let text = String::from_utf8(folder.read("fault.info")).unwrap();
    assert!(text.contains("DA:2,1\nDA:3,0\nLF:2\nLH:1\n"), "{text}");
}

#[test]
fn what_cannot_be_is_refused() {
    let folder = Folder::new();
    folder.run("build pump.st types.st -o pump.image").expect(0);
    let refused = folder.run("run pump.image --coverage").expect(2);
    assert!(refused.err.contains("give the source files"), "{}", refused.shown());
    let over = folder.run(&format!("{RUN} --lcov pump.st")).expect(2);
    assert!(over.err.contains("is not written over"), "{}", over.shown());
    let twice = folder.run(&format!("{RUN} --lcov pump.x --annotated pump.x")).expect(2);
    assert!(twice.err.contains("two outputs"), "{}", twice.shown());
}

/// Two suites on two programs with a file in common, and a suite on one of them.
fn suites() -> Folder {
    let folder = Folder::new();
    let main = |expression: &str| {
        format!(
            "PROGRAM Main VAR a AT %IX0.0 : BOOL; b AT %IX0.1 : BOOL; z AT %QX0.0 : BOOL; END_VAR\nz := {expression};\nEND_PROGRAM\n"
        )
    };
    folder.write("one.st", main("Either(a, b)"));
    folder.write("other.st", main("NOT Either(a, FALSE) AND b"));
    folder.write(
        "common.st",
        "FUNCTION Either : BOOL VAR_INPUT x, y : BOOL; END_VAR\nEither := x OR y;\nEND_FUNCTION\n",
    );
    let steps = |program: &str, cases: &[(&str, &str, &str)]| {
        let mut text = format!("program '{program}', 'common.st';\n");
        for (title, set, expect) in cases {
            text.push_str(&format!("procedure '{title}'\n  {set}\n  expect {expect};\nend_procedure\n"));
        }
        text
    };
    folder.write("a.steps", steps("one.st", &[("off", "", "NOT z"), ("one", "set %IX0.0 to TRUE;", "z")]));
    folder
        .write("b.steps", steps("other.st", &[("off", "", "NOT z"), ("other", "set %IX0.1 to TRUE;", "z")]));
    folder.write("c.steps", steps("one.st", &[("both", "set %IX0.1 to TRUE;", "z")]));
    folder
}

const SUITES: &str = "test a.steps b.steps c.steps --quiet";

#[test]
fn procedures_of_all_files_are_covered_together() {
    let folder = suites();
    let ran = folder.run(&format!("{SUITES} --coverage")).expect(0);
    insta::assert_snapshot!(ran.shown());
    // However many run at once, the same bytes.
    let files = |jobs: u16| {
        folder.run(&format!("{SUITES} --jobs {jobs} {FILES}")).expect(0);
        ["pump.info", "pump.html", "pump.json", "pump.txt"].map(|name| folder.read(name))
    };
    let alone = files(1);
    for jobs in [2, 7] {
        assert!(files(jobs) == alone, "{jobs}");
    }
    let lcov = String::from_utf8(alone[0].clone()).unwrap();
    let names: Vec<&str> = lcov.lines().filter_map(|line| line.strip_prefix("SF:")).collect();
    assert_eq!(names, ["one.st", "common.st", "other.st"]);
    // A part of the procedures covers a part.
    let part = folder.run("test a.steps --quiet --coverage").expect(0);
    assert!(part.out.contains("`y` was never TRUE"), "{}", part.shown());
}

/// Whether procedures pass does not depend on measuring; neither does what is told of them.
#[test]
fn measuring_changes_no_verdict() {
    let folder = suites();
    folder
        .write("d.steps", "program 'one.st', 'common.st';\nprocedure 'wrong'\n  expect z;\nend_procedure\n");
    let all = format!("{SUITES} d.steps").replace(" --quiet", "");
    let plain = folder.run(&all).expect(1);
    let measured = folder.run(&format!("{all} {FILES}")).expect(1);
    assert_eq!(plain.shown(), measured.shown());
    let document = folder.run(&format!("{all} --format json --coverage")).expect(1);
    let parsed: serde_json::Value = serde_json::from_str(&document.out).unwrap();
    assert!(parsed.is_object() && document.err.contains("Coverage\n"), "{}", document.shown());
}

#[test]
fn an_image_under_test_cannot_be_measured() {
    let folder = suites();
    folder.run("build one.st common.st -o one.image").expect(0);
    let steps = "program 'one.image';\nprocedure 'off'\n  expect NOT z;\nend_procedure\n";
    folder.write("e.steps", steps);
    folder.run("test e.steps").expect(0);
    let refused = folder.run("test e.steps --coverage");
    assert!(refused.shown().contains("give the source files"), "{}", refused.shown());
    assert_ne!(refused.code, Some(0));
    let listed = folder.run("test --list --coverage");
    assert_eq!(listed.code, Some(2), "{}", listed.shown());
}
