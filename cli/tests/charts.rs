//! Sequential function charts from the command line: with and without the final scan of their actions.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use bench::Folder;

/// Counts with the qualifier P: twice each time with a final scan, once without.
const CHART: &str = "\
PROGRAM Main
VAR Fills : INT; END_VAR
INITIAL_STEP Rest: END_STEP
STEP Fill: Count(P); END_STEP
TRANSITION FROM Rest TO Fill := Rest.T >= T#50ms; END_TRANSITION
TRANSITION FROM Fill TO Rest := FALSE; END_TRANSITION
ACTION Count: Fills := Fills + 1; END_ACTION
END_PROGRAM
";

fn last_value(folder: &Folder, arguments: &str) -> String {
    folder
        .run(&format!("run {arguments} --until T#200ms --record Main.Fills --csv out.csv --quiet"))
        .expect(0);
    let csv = String::from_utf8(folder.read("out.csv")).unwrap();
    csv.lines().last().unwrap().rsplit(',').next().unwrap().to_owned()
}

#[test]
fn actions_run_with_or_without_a_final_scan() {
    let folder = Folder::new();
    folder.write("chart.st", CHART);
    assert_eq!(last_value(&folder, "chart.st"), "2");
    assert_eq!(last_value(&folder, "chart.st --without-final-scan"), "1");
    folder.run("build chart.st -o chart.image --without-final-scan").expect(0);
    assert_eq!(last_value(&folder, "chart.image"), "1");
    let shorter = folder.run("listing chart.st --without-final-scan").expect(0).out.lines().count();
    assert!(shorter < folder.run("listing chart.st").expect(0).out.lines().count());
}

#[test]
fn what_only_a_final_scan_does_is_warned_of_only_with_one() {
    let folder = Folder::new();
    folder.write("chart.st", CHART);
    let ran = folder.run("check chart.st --warnings-fail").expect(1);
    assert!(ran.out.contains("pulse-runs-twice"), "{}", ran.shown());
    folder.run("check chart.st --warnings-fail --without-final-scan").expect(0);
}

#[test]
fn an_image_is_what_it_was_built_as() {
    let folder = Folder::new();
    folder.write("chart.st", CHART);
    folder.run("build chart.st -o chart.image").expect(0);
    let ran = folder.run("run chart.image --without-final-scan").expect(2);
    assert!(ran.shown().contains("latchwork build"), "{}", ran.shown());
    folder.run("run chart.image --exclusive-selections").expect(2);
}

#[test]
fn active_steps_are_shown_by_default_or_when_asked_for() {
    let folder = Folder::new();
    folder.write("chart.st", CHART);
    let ran = folder.run("run chart.st --until T#200ms --csv out.csv").expect(0);
    assert!(ran.out.contains("Steps") && ran.out.contains("│Fill"), "{}", ran.shown());
    // The table is a stimulus, and nothing from outside makes a step active.
    let csv = String::from_utf8(folder.read("out.csv")).unwrap();
    assert!(!csv.contains("Rest"), "{csv}");
    let some = folder.run("run chart.st --until T#200ms --record Main.Fills").expect(0);
    assert!(!some.out.contains("Steps"), "{}", some.shown());
    let asked = folder.run("run chart.st --until T#200ms --record Main.Fills --steps").expect(0);
    assert!(asked.out.contains("│Fill"), "{}", asked.shown());
    folder.run("run chart.st --until T#200ms --steps").expect(2);
}
