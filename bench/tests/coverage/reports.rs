//! What is missing, in words, in both languages and charts; logs of several runs together.

use latchwork_bench::coverage::{Figure, Report};
use latchwork_vm::Value;

use super::program::Run;

/// A report as lines.
fn listed(report: &Report) -> String {
    let figure = |name: &str, figure: Figure| format!(" {name} {}/{}", figure.covered, figure.total);
    let mut text = String::new();
    for unit in &report.units {
        let figures = &unit.figures;
        text.push_str(&unit.name);
        for (name, of) in [
            ("statements", figures.statements),
            ("branches", figures.branches),
            ("decisions", figures.decisions),
            ("conditions", figures.conditions),
            ("unique cause", figures.unique_cause),
            ("masking", figures.masking),
        ] {
            text.push_str(&figure(name, of));
        }
        text.push('\n');
        for finding in &unit.missing {
            let (line, kind) = (finding.place.line, finding.kind.name());
            let subject = finding.subject.as_ref().map(|text| format!(" `{text}`")).unwrap_or_default();
            text.push_str(&format!("  {line} {kind}{subject}: {}\n", finding.message));
            if let Some(advice) = &finding.advice {
                text.push_str(&format!("     {advice}\n"));
            }
        }
    }
    text
}

pub const PUMP: &str = "\
FUNCTION_BLOCK Tank
VAR_INPUT Start, Stop, Full : BOOL; Level : INT; END_VAR
VAR_OUTPUT Run, Alarm : BOOL; END_VAR
VAR i : INT; END_VAR
  Run := (Start OR Run) AND NOT Stop AND NOT Full;
  IF Level > 90 AND Full THEN
    Alarm := TRUE;
  ELSIF Level < 5 THEN
    Alarm := FALSE;
  ELSE
    ;
  END_IF;
  CASE Level OF
    0:
      i := 0;
    1 .. 3, 7:
      i := 1;
  END_CASE;
  FOR i := 1 TO Level DO
    IF i > 3 THEN
      EXIT;
    END_IF;
  END_FOR;
  WHILE i < 0 DO
    i := i + 1;
  END_WHILE;
END_FUNCTION_BLOCK

PROGRAM Main
VAR Start, Stop, Full : BOOL; Level : INT; T : Tank; END_VAR
  T(Start := Start, Stop := Stop, Full := Full, Level := Level);
  RETURN;
  Level := 0;
END_PROGRAM
";

fn pump(tests: &[&str], level: i64) -> Run {
    let mut run = Run::new(PUMP);
    run.set("Level", Value::Signed(level, latchwork_vm::ElementaryType::Int));
    run.tests(&["Start", "Stop", "Full"], tests);
    run
}

#[test]
fn what_is_missing_is_told_in_words() {
    insta::assert_snapshot!(listed(&pump(&["TFF"], 50).report()));
    insta::assert_snapshot!(listed(&pump(&["TFF", "FFF", "FTF", "TTF"], 2).report()));
}

#[test]
fn nothing_was_run() {
    let run = Run::new(PUMP);
    let report = Report::new(&run.map, None, &run.sources);
    assert_eq!(report, run.report());
    assert_eq!(report.figures.statements.covered, 0);
    insta::assert_snapshot!(listed(&report));
}

#[test]
fn instructions_are_told_like_statements() {
    let text = "\
PROGRAM Main
VAR Start, Stop, Run, Lamp : BOOL; Count : INT; END_VAR
        LD    Start
        OR    Run
        ANDN  Stop
        ST    Run
        JMPCN Off
        LD    Count
        ADD   1
        ST    Count
        GE    3
        AND   Run
        S     Lamp
        RET
Off:    LD    Lamp
        R     Lamp
END_PROGRAM
";
    let mut run = Run::new(text);
    run.tests(&["Start", "Stop"], &["TF", "FF"]);
    insta::assert_snapshot!(listed(&run.report()));
    run.tests(&["Start", "Stop"], &["FT", "FF", "TT", "TF", "FF", "FT", "TF"]);
    let report = run.report();
    assert!(report.figures.statements.is_complete() && report.figures.branches.is_complete());
    insta::assert_snapshot!(listed(&report));
}

#[test]
fn charts_are_told_by_their_transitions_and_actions() {
    let text = "\
PROGRAM Main
VAR Go, Wet : BOOL; Pump : BOOL; Passes : INT; END_VAR
  INITIAL_STEP Rest: Count(P0); END_STEP
  STEP Spray: Pump(N); END_STEP
  TRANSITION FROM Rest TO Spray := Go AND NOT Wet; END_TRANSITION
  TRANSITION FROM Spray TO Rest := Wet; END_TRANSITION
  ACTION Count: Passes := Passes + 1; END_ACTION
END_PROGRAM
";
    let mut run = Run::new(text);
    run.tests(&["Go", "Wet"], &["FF", "FF", "TF", "FF"]);
    insta::assert_snapshot!(listed(&run.report()));
    run.tests(&["Go", "Wet"], &["FT", "TT", "TF", "FF"]);
    assert!(run.report().figures.is_complete(), "{}", listed(&run.report()));
}

/// The logs of several runs together are that of one run with all of it, in whatever order.
#[test]
fn logs_of_several_runs_are_one() {
    let parts = [(&["TFF", "FFF"], 2), (&["FTF", "TTF"], 0), (&["TFT", "FFT"], 95)];
    let runs: Vec<Run> = parts.iter().map(|(tests, level)| pump(*tests, *level)).collect();
    let mut reports = Vec::new();
    for order in [[0, 1, 2], [2, 1, 0], [1, 0, 2]] {
        let mut log = runs[order[0]].log().clone();
        for other in &order[1..] {
            assert!(log.merge(runs[*other].log()));
        }
        reports.push(Report::new(&runs[0].map, Some(&log), &runs[0].sources));
    }
    assert!(reports[0] == reports[1] && reports[1] == reports[2]);
    let alone: Vec<usize> = runs.iter().map(|run| run.report().figures.masking.covered).collect();
    assert!(alone.iter().all(|alone| *alone < reports[0].figures.masking.covered), "{alone:?}");
}

/// With more conditions than are followed together, each is still seen TRUE and FALSE.
#[test]
fn very_long_decisions_say_so() {
    let names: Vec<String> = (0..70).map(|index| format!("x{index}")).collect();
    let text = format!(
        "PROGRAM Main VAR {} : BOOL; y : BOOL; END_VAR y := {}; END_PROGRAM",
        names.join(", "),
        names.join(" OR ")
    );
    let mut run = Run::new(&text);
    run.tests(&["x0", "x69"], &["FF", "TF"]);
    let report = run.report();
    let decision = &report.units[0].decisions[0];
    assert!(decision.too_long && decision.vectors.is_empty() && decision.outcomes == [true; 2]);
    assert_eq!(decision.conditions[0].seen, [true, true]);
    assert_eq!(decision.conditions[69].seen, [true, false]);
    assert_eq!(report.figures.conditions, Figure { covered: 1, total: 70 });
    assert_eq!(report.figures.masking, Figure { covered: 0, total: 70 });
    assert_eq!(report.units[0].missing.len(), 69);
}

/// A task of higher priority changes an operand between its reading and the end of the decision: such an evaluation
/// shows nothing, and it is said.
#[test]
fn evaluations_that_a_task_interfered_with_show_nothing() {
    let text = "\
CONFIGURATION Plant
VAR_GLOBAL Flag : BOOL; Cause : BOOL; END_VAR
  RESOURCE R ON Simulated
    TASK Fast(INTERVAL := T#1ms, PRIORITY := 1);
    TASK Slow(INTERVAL := T#10ms, PRIORITY := 5);
    PROGRAM Changing WITH Fast : Turn;
    PROGRAM Main WITH Slow : Decide;
  END_RESOURCE
END_CONFIGURATION
PROGRAM Turn VAR_EXTERNAL Flag : BOOL; END_VAR Flag := NOT Flag; END_PROGRAM
FUNCTION Later : BOOL VAR_INPUT x : BOOL; END_VAR VAR i, k : INT; END_VAR
  FOR i := 1 TO 40 DO k := k + i; END_FOR;
  Later := x;
END_FUNCTION
PROGRAM Decide VAR_EXTERNAL Flag : BOOL; END_VAR VAR a, b, y : BOOL; n : INT; END_VAR
  b := NOT b;
  // The parenthesis takes longer than the fast task waits.
  y := (Flag OR a) XOR (b AND Later(TRUE));
  y := Flag AND (a OR b XOR a OR b XOR a OR b XOR a OR b XOR a OR b XOR a OR b XOR a OR b XOR a OR b XOR a OR b);
  n := n + 1;
END_PROGRAM
";
    let mut run = Run::new(text);
    run.machine.set_timing(latchwork_vm::Timing {
        instruction_ns: 110_000,
        preemptive: true,
        cycle_ns: 1_000_000,
    });
    for scan in 0..3_000 {
        run.machine.scan(scan * 1_000_000).unwrap();
    }
    let report = run.report();
    let decide = report.units.iter().find(|unit| unit.name == "Decide").unwrap();
    let decision = decide.decisions.iter().find(|it| it.text.starts_with("Flag AND")).unwrap();
    assert!(decision.contradictory > 0, "{decision:#?}");
    // Of the one with the call the operand was kept before it.
    let kept = decide.decisions.iter().find(|it| it.text.starts_with("(Flag OR a)")).unwrap();
    assert_eq!((kept.contradictory, kept.outcomes), (0, [true; 2]));
    let summary = latchwork_bench::coverage::render::summary(&report, 100);
    assert!(summary.contains("left out: a task changed an operand"), "{summary}");
}

/// What stands in a decision twice is told once, where it must be the same anyway.
#[test]
fn coupled_conditions_are_told_once() {
    let mut run =
        Run::new("PROGRAM Main VAR A, B, C, Z : BOOL; END_VAR Z := A AND (B OR C) OR B AND C; END_PROGRAM");
    run.tests(&["A", "B", "C"], &["TFF", "TFT"]);
    insta::assert_snapshot!(listed(&run.report()));
}
