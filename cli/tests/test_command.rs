//! `latchwork test`: what is found, what of it runs, how it ends.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use bench::{
    Folder,
    procedures::{failing, folder, passing, refused, write},
};

/// The titles that ran, in order, with their verdicts.
fn told(out: &str) -> Vec<&str> {
    let verdicts = ["  passed ", "  failed ", "  refused "];
    out.lines()
        .filter(|line| verdicts.iter().any(|verdict| line.starts_with(verdict)))
        .map(str::trim)
        .collect()
}

#[test]
fn folders_are_searched_and_files_come_in_order() {
    let folder = folder();
    write(&folder, "b.steps", &[passing("b")]);
    write(&folder, "a/z.steps", &[passing("z")]);
    write(&folder, ".hidden/h.steps", &[failing("h")]);
    write(&folder, "target/t.steps", &[failing("t")]);
    let ran = folder.run("test").expect(0);
    insta::assert_snapshot!(ran.out);
    let ran = folder.run("test b.steps a b.steps").expect(0);
    assert!(ran.out.find("b.steps").unwrap() < ran.out.find("z.steps").unwrap(), "{}", ran.shown());
    assert_eq!(told(&ran.out).len(), 2);
    folder.run("test target").expect(1);
}

#[test]
fn nothing_to_run_is_4() {
    let folder = folder();
    assert!(folder.run("test").expect(4).err.contains(".steps"));
    folder.write("common.steps", "program 'pump.st';\n");
    assert!(folder.run("test").expect(4).err.contains("no procedure"));
    write(&folder, "a.steps", &[passing("a")]);
    let ran = folder.run("test --name nowhere").expect(4);
    assert!(ran.err.contains("--list"), "{}", ran.shown());
    assert!(folder.run("test --last-failed").expect(4).err.contains("nothing failed"));
    assert_eq!(folder.run("test --name nowhere --shard 1/2").expect(0).err, "");
}

#[test]
fn the_end_tells_what_was_wrong() {
    let folder = folder();
    write(&folder, "passed.steps", &[passing("a")]);
    write(&folder, "failed.steps", &[failing("a")]);
    write(&folder, "refused.steps", &[refused("a")]);
    write(&folder, "syntax.steps", &["procedure 'a' press; end_procedure".to_string()]);
    folder.write("wrong.st", "PROGRAM Main\n    x := 1;\nEND_PROGRAM\n");
    folder.run("test passed.steps").expect(0);
    folder.run("test passed.steps failed.steps").expect(1);
    folder.run("test passed.steps --program wrong.st").expect(1);
    for wrong in ["refused.steps", "syntax.steps", "missing.steps", "pump.st"] {
        folder.run(&format!("test {wrong}")).expect(2);
        // Whoever marks has to know that not everything could be judged.
        folder.run(&format!("test failed.steps {wrong}")).expect(2);
    }
    for usage in [
        "test --jobs 0",
        "test --shard 3/2",
        "test --shard 0/2",
        "test --list --watch",
        "test passed.steps --program missing.st",
        "test passed.steps --station missing.toml",
        "test passed.steps --station pump.st",
        "test passed.steps --junit .",
        "test passed.steps --json missing/report.json",
        "test passed.steps --junit report --json report",
    ] {
        assert!(!folder.run(usage).expect(2).err.is_empty(), "{usage}");
    }
}

#[test]
fn names_select_procedures_without_letter_case() {
    let folder = folder();
    write(&folder, "a.steps", &[passing("Stop beats start"), passing("the latch"), passing("two hands")]);
    let titles = |arguments: &str| {
        let ran = folder.run(&format!("test {arguments}")).expect(0);
        told(&ran.out)
            .iter()
            .map(|line| line.split("  ").nth(1).unwrap().trim().to_string())
            .collect::<Vec<_>>()
    };
    assert_eq!(titles("--name STOP"), ["Stop beats start"]);
    assert_eq!(titles("--name latch --name hand"), ["the latch", "two hands"]);
}

#[test]
fn a_list_tells_titles_programs_points_and_places() {
    let folder = folder();
    folder.write("pump.il", "PROGRAM Main\nVAR Start AT %IX0.0 : BOOL; Stop AT %IX0.1 : BOOL; Pump AT %QX0.0 : BOOL; END_VAR\n    LD Start\n    OR Pump\n    AND Stop\n    ST Pump\nEND_PROGRAM\n");
    folder.write(
        "two.steps",
        "program 'pump.st'; program 'pump.il'; station 'station.toml';\nprocedure 'latch' points 2.5;\n  press StartPB; expect Pump;\nend_procedure\n",
    );
    write(&folder, "one.steps", &[passing("once")]);
    insta::assert_snapshot!(folder.run("test --list").expect(0).out);
    insta::assert_snapshot!(folder.run("test --list --format json").expect(0).out);
    insta::assert_snapshot!(folder.run("test").expect(0).out);
    folder.write("wrong.steps", "procedure\n");
    let ran = folder.run("test --list").expect(2);
    assert!(ran.out.contains("latch (pump.il)") && ran.err.contains("wrong.steps:1"), "{}", ran.shown());
}

#[test]
fn another_program_and_station_can_be_judged_by_the_same_procedures() {
    let folder = folder();
    write(&folder, "lab/task.steps", &[passing("latch"), failing("stop")]);
    folder.write("types.st", "TYPE Level : INT; END_TYPE\n");
    folder.write("submission.st", "PROGRAM Main\nVAR Start AT %IX0.0 : BOOL; Stop AT %IX0.1 : BOOL; Pump AT %QX0.0 : BOOL; L : Level; END_VAR\n    Pump := TRUE; L := 1;\nEND_PROGRAM\n");
    let ran = folder.run("test lab --program submission.st --program types.st").expect(0);
    assert!(ran.out.contains("2 procedures: 2 passed"), "{}", ran.shown());
    let broken = include_str!("files/station.toml")
        .replace("contact = \"normally open\"", "contact = \"normally open\"\nfault = \"open wire\"");
    folder.write("broken.toml", broken);
    let ran = folder.run("test lab --station broken.toml --name latch").expect(1);
    assert!(ran.out.contains("open wire"), "{}", ran.shown());
    // What a submission lacks is told once, however many files need it.
    write(&folder, "lab/more.steps", &[passing("again")]);
    folder.write("wrong.st", "PROGRAM Main\n    x := 1;\nEND_PROGRAM\n");
    let ran = folder.run("test lab --program wrong.st").expect(1);
    assert_eq!(ran.out.matches("wrong.st:2").count(), 1, "{}", ran.shown());
    insta::assert_snapshot!(ran.out);
}

#[test]
fn included_files_are_meant_from_their_own_folder() {
    let folder = folder();
    std::fs::create_dir_all(folder.path("lab/shared")).unwrap();
    folder.write("lab/shared/bench.steps", "program '../../pump.st';\nstation '../../station.toml';\nprepare\n  press StartPB for T#50ms;\nend_prepare\n");
    folder.write(
        "lab/task.steps",
        "include 'shared/bench.steps';\ninclude 'shared/../shared/bench.steps';\nprocedure 'runs already'\n  expect Pump;\nend_procedure\n",
    );
    let ran = folder.run("test lab/task.steps").expect(0);
    assert!(ran.out.contains("60 ms"), "{}", ran.shown());
}

#[test]
fn what_failed_last_runs_again() {
    let folder = folder();
    write(&folder, "a.steps", &[passing("one"), failing("two"), failing("three")]);
    folder.run("test").expect(1);
    let kept = String::from_utf8(folder.read(".latchwork/last-failed")).unwrap();
    insta::assert_snapshot!(kept);
    let ran = folder.run("test --last-failed").expect(1);
    assert_eq!(told(&ran.out).len(), 2, "{}", ran.shown());
    // A run of a part changes what is known of that part.
    write(&folder, "a.steps", &[passing("one"), passing("two"), failing("three")]);
    folder.run("test --name two").expect(0);
    assert_eq!(told(&folder.run("test --last-failed").expect(1).out).len(), 1);
    write(&folder, "a.steps", &[passing("one"), passing("two"), passing("three")]);
    folder.run("test --last-failed").expect(0);
    assert!(folder.run("test --last-failed").expect(4).err.contains("nothing failed"));
}

#[test]
fn a_folder_without_failures_is_left_as_it_is() {
    let folder = folder();
    write(&folder, "a.steps", &[passing("one")]);
    let before = folder.names();
    folder.run("test").expect(0);
    assert_eq!(folder.names(), before);
}

#[test]
fn quiet_shows_what_did_not_pass() {
    let folder = folder();
    write(&folder, "a.steps", &[passing("one")]);
    write(&folder, "b.steps", &[passing("two"), failing("three")]);
    let ran = folder.run("test --quiet").expect(1);
    assert!(!ran.out.contains("a.steps") && !ran.out.contains("two"), "{}", ran.shown());
    assert!(
        ran.out.contains("three") && ran.out.contains("3 procedures: 2 passed, 1 failed"),
        "{}",
        ran.shown()
    );
    assert_eq!(ran.err, "");
}

#[test]
fn a_procedure_that_expects_nothing_is_warned_of() {
    let folder = folder();
    write(&folder, "a.steps", &["procedure 'idle'\n  press StartPB;\nend_procedure\n".to_string()]);
    let ran = folder.run("test").expect(0);
    assert!(ran.err.contains("warning[procedure-no-expectation]"), "{}", ran.shown());
    assert_eq!(folder.run("test --quiet").expect(0).err, "");
}

#[test]
fn colour_only_adds_to_the_text() {
    let folder = folder();
    write(&folder, "a.steps", &[passing("one"), failing("two")]);
    let plain = folder.run("test").expect(1).out;
    let coloured = folder.run("test --color always").expect(1).out;
    assert_ne!(plain, coloured);
    let mut stripped = String::new();
    let mut rest = coloured.as_str();
    while let Some((before, after)) = rest.split_once("\u{1b}[") {
        stripped.push_str(before);
        rest = after.split_once('m').map_or("", |(_, rest)| rest);
    }
    stripped.push_str(rest);
    assert_eq!(stripped, plain);
}

#[test]
fn a_narrow_terminal_gets_narrow_diagrams() {
    let folder = folder();
    write(&folder, "a.steps", &[failing("two")]);
    let output = folder.command().args(["test"]).env("COLUMNS", "50").output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    let drawn = text.lines().filter(|line| line.contains(['━', '═']));
    assert!(drawn.clone().count() > 0 && drawn.clone().all(|line| line.chars().count() <= 50), "{text}");
}

/// The folder of the help texts, for their examples.
#[test]
fn the_procedures_of_the_help_texts_pass() {
    let ran = Folder::new().run("test").expect(0);
    assert!(ran.out.contains("stop beats start"), "{}", ran.shown());
}
