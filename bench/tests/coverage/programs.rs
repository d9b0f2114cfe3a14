//! Several programs in one report.

use latchwork_bench::coverage::{Covered, Report, combined};

use super::program::Run;

const SHARED: &str = "\
FUNCTION Either : BOOL
VAR_INPUT x, y : BOOL; END_VAR
  Either := x OR y;
  IF Either AND x THEN RETURN; END_IF;
  FOR i := 1 TO 0 DO ; END_FOR;
END_FUNCTION
";

fn shared() -> String {
    SHARED.replace("END_VAR\n", "END_VAR VAR i : INT; END_VAR\n")
}

fn program(call: &str) -> String {
    format!("PROGRAM Main VAR a, b, z : BOOL; END_VAR\n  z := {call};\nEND_PROGRAM\n")
}

fn part(run: &Run) -> Covered<'_> {
    Covered { map: &run.map, log: Some(run.log()), sources: &run.sources }
}

/// What both programs have in common is covered by both; the rest stands side by side.
#[test]
fn common_files_are_covered_by_all() {
    let (one, other, common) = (program("Either(a, FALSE)"), program("NOT Either(FALSE, b) OR a"), shared());
    let mut first = Run::of_files(&[("one.st", &one), ("common.st", &common)]);
    first.tests(&["a", "b"], &["TF", "FF"]);
    let mut second = Run::of_files(&[("common.st", &common), ("other.st", &other)]);
    second.tests(&["a", "b"], &["FT"]);
    let alone = [first.report(), second.report()];
    let both = combined(&[part(&first), part(&second)]);
    let names: Vec<&str> = both.files.iter().map(|file| file.name.as_str()).collect();
    assert_eq!(names, ["one.st", "common.st", "other.st"]);
    let units: Vec<(&str, u32)> =
        both.units.iter().map(|unit| (unit.name.as_str(), unit.place.file)).collect();
    assert_eq!(units, [("Main", 0), ("Either", 1), ("Main", 2)]);
    // x by the first program, y by both together.
    let vectors = |report: &Report, unit: &str| {
        let unit = report.units.iter().find(|it| it.name == unit).unwrap();
        unit.decisions[0].vectors.iter().map(|it| it.conditions).collect::<Vec<_>>()
    };
    assert_eq!(vectors(&alone[0], "Either"), [0b00, 0b01]);
    assert_eq!(vectors(&alone[1], "Either"), [0b10]);
    assert_eq!(vectors(&both, "Either"), [0b00, 0b01, 0b10]);
    let decision = &both.units[1].decisions[0];
    assert!(decision.conditions.iter().all(|condition| condition.shown.unique_cause.is_some()));
    // The programs of their own are as they are alone.
    assert_eq!(both.units[0].figures, alone[0].units[0].figures);
    assert_eq!(both.units[2].figures, alone[1].units[1].figures);
    // The other order changes no more than the order.
    let swapped = combined(&[part(&second), part(&first)]);
    assert_eq!(swapped.figures, both.figures);
}

#[test]
fn one_program_alone_is_its_report() {
    let mut run = Run::new(&program("a AND b"));
    run.tests(&["a", "b"], &["TT", "TF"]);
    assert_eq!(combined(&[part(&run)]), run.report());
    // The same twice is no more than once.
    assert_eq!(combined(&[part(&run), part(&run)]), run.report());
    assert_eq!(combined(&[]).units, []);
}

/// A file that has changed between two programs is another file.
#[test]
fn what_only_looks_the_same_stays_apart() {
    let (common, changed) = (shared(), shared().replace("x OR y", "x AND y"));
    let main = program("Either(a, b)");
    let mut first = Run::of_files(&[("main.st", &main), ("common.st", &common)]);
    let mut second = Run::of_files(&[("main.st", &main), ("common.st", &changed)]);
    first.tests(&["a", "b"], &["TT"]);
    second.tests(&["a", "b"], &["TT"]);
    let both = combined(&[part(&first), part(&second)]);
    assert_eq!(both.files.len(), 3);
    assert_eq!(both.units.iter().filter(|unit| unit.name == "Either").count(), 2);
}

/// More conditions than a vector has bits: the points of both values go along.
#[test]
fn long_decisions_are_combined_too() {
    let names: Vec<String> = (0..70).map(|index| format!("x{index}")).collect();
    let text = format!(
        "FUNCTION Long : BOOL VAR_INPUT {} : BOOL; END_VAR Long := {}; END_FUNCTION",
        names.join(", "),
        names.join(" OR ")
    );
    let run = |call: &str| {
        let mut run = Run::of_files(&[("main.st", &program(call)), ("long.st", &text)]);
        run.scan();
        run
    };
    let (first, second) = (run("Long(x0 := TRUE)"), run("Long(x69 := TRUE) AND a"));
    let both = combined(&[part(&first), part(&second)]);
    let decision = &both.units.iter().find(|unit| unit.name == "Long").unwrap().decisions[0];
    assert_eq!(decision.conditions[0].seen, [true; 2]);
    assert_eq!(decision.conditions[69].seen, [true; 2]);
    assert_eq!(decision.conditions[1].seen, [true, false]);
}
