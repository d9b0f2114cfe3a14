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
