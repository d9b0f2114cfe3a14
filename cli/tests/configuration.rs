//! Configurations from outside: tasks in recordings and listings, the scan time they ask for, lost releases.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use bench::Folder;

const CONFIGURATION: &str = "\
CONFIGURATION Plant
  VAR_GLOBAL Level : INT; END_VAR
  RESOURCE Cabinet ON Controller
    TASK Fast (INTERVAL := T#20ms, PRIORITY := 1);
    TASK Slow (INTERVAL := T#100ms, PRIORITY := 2);
    PROGRAM Guard WITH Fast : Guarding (Level := Level, Open => %QX0.0);
    PROGRAM Mixer WITH Slow : Mixing (Level => Level);
  END_RESOURCE
END_CONFIGURATION
";

const PROGRAMS: &str = "\
PROGRAM Guarding
VAR_INPUT Level : INT; END_VAR
VAR_OUTPUT Open : BOOL; END_VAR
    Open := Level > 3;
END_PROGRAM

PROGRAM Mixing
VAR_OUTPUT Level : INT; END_VAR
VAR Pass, Sum : INT; END_VAR
    Level := Level + 1;
    FOR Pass := 1 TO 16 DO
        Sum := Sum + Pass;
    END_FOR;
END_PROGRAM
";

fn folder() -> Folder {
    let folder = Folder::new();
    folder.write("plant.st", CONFIGURATION);
    folder.write("programs.st", PROGRAMS);
    folder
}

#[test]
fn the_scan_time_follows_from_the_tasks() {
    let folder = folder();
    let ran = folder.run("run plant.st programs.st --until T#300ms").expect(0);
    assert!(ran.out.contains("scan 20 ms"), "{}", ran.out);
    insta::assert_snapshot!(ran.shown());
    let ran = folder.run("run plant.st programs.st --until T#300ms --scan T#5ms").expect(0);
    assert!(ran.out.contains("scan 5 ms"), "{}", ran.out);
}

#[test]
fn an_image_keeps_its_tasks() {
    let folder = folder();
    folder.run("build plant.st programs.st -o plant.image").expect(0);
    let of_image = folder.run("run plant.image --until T#300ms --csv image.csv --quiet").expect(0);
    let of_text = folder.run("run plant.st programs.st --until T#300ms --csv text.csv --quiet").expect(0);
    assert_eq!(of_image.err, of_text.err);
    assert_eq!(folder.read("image.csv"), folder.read("text.csv"));
}

#[test]
fn the_listing_shows_resources_and_tasks() {
    insta::assert_snapshot!(folder().run("listing plant.st programs.st").expect(0).out);
}

#[test]
fn lost_releases_are_told_at_the_end_of_a_run() {
    let folder = folder();
    let ran = folder
        .run("run plant.st programs.st --until T#300ms --instruction-time T#1ms --record Fast.ran,Slow.ran,Fast.overruns")
        .expect(0);
    assert!(ran.err.contains("event[task-overrun]"), "{}", ran.err);
    insta::assert_snapshot!(ran.shown());
    let preempted = folder
        .run("run plant.st programs.st --until T#300ms --instruction-time T#1ms --preempt --record Fast.ran,Slow.ran,Fast.overruns")
        .expect(0);
    assert!(!preempted.err.contains("task-overrun"), "{}", preempted.err);
}

#[test]
fn interrupting_needs_a_time_for_instructions() {
    let ran = folder().run("run plant.st programs.st --preempt").expect(2);
    assert!(ran.err.contains("--instruction-time"), "{}", ran.err);
    let ran = folder().run("run plant.st programs.st --instruction-time T#5s").expect(2);
    assert!(ran.err.contains("at most 4 seconds"), "{}", ran.err);
}

#[test]
fn a_configuration_alone_says_what_is_missing() {
    let ran = folder().run("check plant.st").expect(1);
    assert!(ran.err.contains("unknown-program") || ran.out.contains("unknown-program"), "{}", ran.shown());
}
