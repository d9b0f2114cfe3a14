//! Files of procedures that are wrong in every way: an error with its place, a code that is not 0, no panic, no hang.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use std::fs::File;

use bench::{
    Folder, Ran,
    procedures::{BENCH, folder, passing, write},
};

/// Runs one procedure with some steps.
fn steps(folder: &Folder, steps: &str) -> Ran {
    folder.write(
        "case.steps",
        format!("{BENCH}procedure 'case'\n  {steps}\n  expect NOT Pump;\nend_procedure\n"),
    );
    folder.run("test case.steps")
}

#[test]
fn steps_that_cannot_be_are_told_with_their_place() {
    let folder = folder();
    for (wrong, told) in [
        ("press StratPB;", "case.steps:5:9"),
        ("wait T#-1s;", "case.steps:5:8"),
        ("wait 1;", "case.steps:5:8"),
        ("repeat 1000000000 times wait T#1h; end_repeat;", "case.steps:5:3"),
        ("repeat 0 times wait T#1h; end_repeat;", "case.steps:5:10"),
        ("repeat 99999999999999999999 times wait T#1s; end_repeat;", "case.steps:5:10"),
        ("expect 1 / 0 = 1;", "case.steps:5:"),
        ("set Main.Nothing to 1;", "case.steps:5:7"),
        ("expect exactly 1 rising edge of Nothing within T#1s;", "case.steps:5:35"),
        ("while TRUE do; end_while;", "case.steps:5:3"),
    ] {
        let ran = steps(&folder, wrong).expect(2);
        assert!(ran.out.contains(told) && ran.out.contains("1 refused"), "{wrong}\n{}", ran.shown());
    }
    // What is not known beforehand ends the procedure when it comes to it.
    folder.write("zero.st", "PROGRAM Main\nVAR Start AT %IX0.0 : BOOL; Stop AT %IX0.1 : BOOL; Pump AT %QX0.0 : BOOL; N : INT; END_VAR\n    Pump := Start AND Stop;\nEND_PROGRAM\n");
    folder.write("case.steps", "program 'zero.st';\nprocedure 'case'\n  expect 1 / N = 1;\nend_procedure\n");
    let ran = folder.run("test case.steps").expect(1);
    assert!(ran.out.contains("failed[condition-stopped]"), "{}", ran.shown());
}

#[test]
fn a_program_without_an_end_fails_its_procedures() {
    let folder = folder();
    folder.write("endless.st", "PROGRAM Main\nVAR Run : BOOL := TRUE; N : DINT; END_VAR\n    WHILE Run DO\n        N := N + 1;\n    END_WHILE;\nEND_PROGRAM\n");
    folder.write("case.steps", "program 'endless.st';\nprocedure 'case'\n  expect N > 0;\nend_procedure\n");
    let ran = folder.run("test case.steps").expect(1);
    assert!(ran.out.contains("fault[watchdog]") && ran.out.contains("endless.st:"), "{}", ran.shown());
}

#[test]
fn files_that_are_not_there_are_told_where_they_are_named() {
    let folder = folder();
    for (head, told) in [
        ("program 'missing.st';", "case.steps:1:9"),
        ("program 'pump.st', 'missing.st';", "case.steps:1:20"),
        ("program 'pump.st'; station 'missing.toml';", "case.steps:1:28"),
        ("include 'missing.steps'; program 'pump.st';", "case.steps:1:9"),
        ("program '';", "case.steps:1:9"),
        ("include '.'; program 'pump.st';", "case.steps:1:9"),
    ] {
        folder.write("case.steps", format!("{head}\nprocedure 'case'\n  expect NOT Pump;\nend_procedure\n"));
        let ran = folder.run("test case.steps").expect(2);
        assert!(ran.out.contains(told), "{head}\n{}", ran.shown());
    }
    folder.write("case.steps", "procedure 'case'\n  expect NOT Pump;\nend_procedure\n");
    let ran = folder.run("test case.steps").expect(2);
    assert!(ran.out.contains("error[procedure-no-program]"), "{}", ran.shown());
    folder.run("test case.steps --program pump.st").expect(0);
}

#[test]
fn includes_in_a_circle_and_procedures_in_them_are_refused() {
    let folder = folder();
    folder.write("a.steps", format!("include 'b.steps';\n{BENCH}{}", passing("a")));
    folder.write("b.steps", "include 'c.steps';\n");
    folder.write("c.steps", "include 'a.steps';\n");
    let ran = folder.run("test a.steps").expect(2);
    insta::assert_snapshot!(ran.out);
    folder.write("c.steps", passing("c"));
    let ran = folder.run("test a.steps").expect(2);
    assert!(
        ran.out.contains("error[procedure-included]") && ran.out.contains("c.steps:1:1"),
        "{}",
        ran.shown()
    );
    folder.write("c.steps", "station 'station.toml';\n");
    let ran = folder.run("test a.steps").expect(2);
    assert!(ran.out.contains("error[steps-twice]"), "{}", ran.shown());
}

#[test]
fn a_chain_of_a_thousand_includes_ends() {
    let folder = folder();
    for index in 0..1_000 {
        folder.write(&format!("i{index}.steps"), format!("include 'i{}.steps';\n", index + 1));
    }
    write(&folder, "i1000.steps", &[]);
    folder.write("a.steps", format!("include 'i0.steps';\n{BENCH}{}", passing("a")));
    let ran = folder.run("test a.steps").expect(2);
    assert!(ran.out.contains("more than 256 files"), "{}", ran.shown());
}

#[test]
fn what_is_no_text_is_told() {
    let folder = folder();
    folder.write("latin.steps", b"procedure 'K\xfcbel'\nend_procedure\n");
    folder.write("zero.steps", b"procedure\0");
    File::create(folder.path("large.steps")).unwrap().set_len(50 * 1024 * 1024).unwrap();
    let ran = folder.run("test").expect(2);
    for told in ["byte offset 12: 16#FC", "byte offset 9: a zero byte", "larger than 16 MiB"] {
        assert!(ran.out.contains(told), "{}", ran.shown());
    }
    assert!(ran.out.contains("3 procedures: 3 refused"), "{}", ran.shown());
}

#[test]
fn ten_thousand_parentheses_and_errors_stay_readable() {
    let folder = folder();
    let ran = steps(&folder, &format!("expect {}Pump{};", "(".repeat(10_000), ")".repeat(10_000))).expect(2);
    assert!(ran.out.len() < 10_000, "{} bytes", ran.out.len());
    let ran = steps(&folder, &"press ?; ".repeat(100_000)).expect(2);
    assert!(ran.out.len() < 200_000, "{} bytes", ran.out.len());
    let ran = steps(&folder, &"press StratPB; ".repeat(10_000)).expect(2);
    assert!(ran.out.len() < 200_000, "{} bytes", ran.out.len());
}

#[test]
fn a_failure_in_a_huge_condition_stays_readable() {
    let folder = folder();
    let ran = steps(&folder, &format!("expect {}Pump;", "Pump OR Start OR ".repeat(500)));
    assert!(ran.out.contains("more parts") || ran.code == Some(2), "{}", ran.shown());
    assert!(ran.out.len() < 20_000, "{} bytes\n{}", ran.out.len(), ran.out);
}

#[cfg(unix)]
#[test]
fn names_with_control_characters_do_not_reach_the_terminal() {
    let folder = folder();
    let name = "a\u{1b}[2Jb.steps";
    write(
        &folder,
        name,
        &[passing("$1B[2J one"), "procedure '$1B]0;x$07'\n  expect Pump;\nend_procedure\n".to_string()],
    );
    folder.write("c\u{1b}[2J.steps", "include 'x$1B[2J.steps';\n");
    folder.write("d\u{1b}[2J.steps", b"\xff");
    for arguments in [vec!["test"], vec!["test", "--list"], vec!["test", "missing\u{1b}[2J"]] {
        let output = folder.command().args(arguments).output().unwrap();
        assert!(!output.stdout.contains(&0x1b) && !output.stderr.contains(&0x1b));
        assert!(!output.stdout.contains(&7) && !output.stderr.contains(&7));
    }
}

#[test]
fn the_note_of_what_failed_may_be_damaged_or_unwritable() {
    let folder = folder();
    write(&folder, "a.steps", &["procedure 'fails'\n  expect Pump;\nend_procedure\n".to_string()]);
    std::fs::create_dir(folder.path(".latchwork")).unwrap();
    folder.write(".latchwork/last-failed", b"\xff\xfe\0 no list");
    folder.run("test --last-failed").expect(2);
    folder.run("test").expect(1);
    folder.run("test --last-failed").expect(1);
    std::fs::remove_dir_all(folder.path(".latchwork")).unwrap();
    folder.write(".latchwork", "a file where a folder should be");
    let ran = folder.run("test").expect(1);
    assert!(ran.err.contains("what failed is not kept"), "{}", ran.shown());
}
