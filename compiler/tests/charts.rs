//! Sequential function charts scan by scan: the timelines of the action qualifiers with and without final scan, what
//! the machine is charged for a chart, and charts at the limits of the compiler.
//!
//! The timelines are worked out by hand from the figure of the action control and its tables (IEC 61131-3:2013,
//! 6.7.4.6, tables 59 and 60): scans are 10 ms apart, the step is active from 10 to 50 ms, the time is 20 ms.

#![allow(missing_docs, clippy::unwrap_used, reason = "a failing test may panic")]

use std::{fmt::Write as _, sync::Arc};

use latchwork_compiler::{CompileOptions, compile, compile_with};
use latchwork_grammar::{Severity, Sources};
use latchwork_vm::{Machine, Program, Value};

const WITH: CompileOptions = CompileOptions {
    final_scan: true,
    exclusive_selections: false,
    coverage: false,
    journal: false,
    allowances: true,
};
const WITHOUT: CompileOptions = CompileOptions {
    final_scan: false,
    exclusive_selections: false,
    coverage: false,
    journal: false,
    allowances: true,
};

fn machine(text: &str, options: &CompileOptions) -> Machine {
    let mut sources = Sources::new();
    sources.add("chart.st", text);
    let compilation = compile_with(&sources, options);
    let errors: Vec<_> = compilation.diagnostics.iter().filter(|it| it.severity == Severity::Error).collect();
    assert!(errors.is_empty(), "{errors:#?}\n{text}");
    let program = Program::load(compilation.image.unwrap(), latchwork_stdlib::natives()).unwrap();
    Machine::new(Arc::new(program))
}

fn set(machine: &mut Machine, name: &str, value: bool) {
    let variable = machine.program().resolve(name).unwrap();
    machine.write(&variable, &Value::Bool(value)).unwrap();
}

fn get(machine: &Machine, name: &str) -> String {
    machine.read(&machine.program().resolve(name).unwrap()).to_string()
}

/// A step `Work` that is entered by `go` and left without it, and an action on it; another step resets the action
/// while `reset` is TRUE.
fn text(association: &str, other: &str) -> String {
    format!(
        "PROGRAM P
         VAR go, reset : BOOL; n : INT; flag : BOOL; short : TIME := T#25ms; END_VAR
         INITIAL_STEP Start: END_STEP
         STEP Idle: END_STEP
         STEP Work: {association} END_STEP
         STEP Calm: END_STEP
         STEP Resetting: {other} END_STEP
         TRANSITION FROM Start TO (Idle, Calm) := TRUE; END_TRANSITION
         TRANSITION FROM Idle TO Work := go; END_TRANSITION
         TRANSITION FROM Work TO Idle := NOT go; END_TRANSITION
         TRANSITION FROM Calm TO Resetting := reset; END_TRANSITION
         TRANSITION FROM Resetting TO Calm := NOT reset; END_TRANSITION
         ACTION count: n := n + 1; END_ACTION
         END_PROGRAM"
    )
}

/// Times in ms at which a body runs, or a variable is TRUE, up to 100 ms. Between the lists of `go` and `reset` the
/// inputs change: times at which they are TRUE. The scans at -20 and -10 lead to the steps `Idle` and `Calm`.
fn timeline(text: &str, options: &CompileOptions, go: &[i64], reset: &[i64]) -> (Vec<i64>, Vec<i64>) {
    let mut machine = machine(text, options);
    let (mut runs, mut on) = (Vec::new(), Vec::new());
    let mut before = 0;
    for time in (-20..=100).step_by(10) {
        set(&mut machine, "P.go", go.contains(&time));
        set(&mut machine, "P.reset", reset.contains(&time));
        machine.scan((time + 1000) * 1_000_000).unwrap();
        let count: i64 = get(&machine, "P.n").parse().unwrap();
        assert!(count - before <= 1, "twice in one scan");
        if count > before {
            runs.push(time);
        }
        before = count;
        if get(&machine, "P.flag") == "TRUE" {
            on.push(time);
        }
        assert_eq!(get(&machine, "P.Work.X") == "TRUE", go.contains(&time), "at {time}");
    }
    assert!(machine.events().is_empty());
    (runs, on)
}

const STEP: &[i64] = &[10, 20, 30, 40, 50];
const SHORT: &[i64] = &[10];
const TO_END: &[i64] = &[10, 20, 30, 40, 50, 60, 70, 80, 90, 100];
const FROM_30: &[i64] = &[30, 40, 50, 60, 70, 80, 90, 100];

/// Association; times of the step and of the reset; runs of a body with and without final scan; a Boolean action.
type Row<'r> = (&'r str, &'r [i64], &'r [i64], &'r [i64], &'r [i64], &'r [i64]);

#[test]
fn every_qualifier_has_its_timeline() {
    let rows: &[Row<'_>] = &[
        ("", STEP, &[], &[10, 20, 30, 40, 50, 60], STEP, STEP),
        ("N", STEP, &[], &[10, 20, 30, 40, 50, 60], STEP, STEP),
        ("S", STEP, &[], TO_END, TO_END, TO_END),
        (
            "S",
            STEP,
            &[70],
            &[10, 20, 30, 40, 50, 60, 70],
            &[10, 20, 30, 40, 50, 60],
            &[10, 20, 30, 40, 50, 60],
        ),
        // While the step is active the set comes back when the reset is over.
        (
            "S",
            STEP,
            &[30],
            &[10, 20, 30, 40, 50, 60, 70, 80, 90, 100],
            &[10, 20, 40, 50, 60, 70, 80, 90, 100],
            &[10, 20, 40, 50, 60, 70, 80, 90, 100],
        ),
        ("N", STEP, &[30, 40], &[10, 20, 30, 50, 60], &[10, 20, 50], &[10, 20, 50]),
        ("L, T#20ms", STEP, &[], &[10, 20, 30], &[10, 20], &[10, 20]),
        ("L, short", STEP, &[], &[10, 20, 30, 40], &[10, 20, 30], &[10, 20, 30]),
        ("L, T#20ms", SHORT, &[], &[10, 20], &[10], &[10]),
        ("D, T#20ms", STEP, &[], &[30, 40, 50, 60], &[30, 40, 50], &[30, 40, 50]),
        ("D, short", STEP, &[], &[40, 50, 60], &[40, 50], &[40, 50]),
        ("D, T#20ms", &[10, 20], &[], &[], &[], &[]),
        ("P", STEP, &[], &[10, 20], &[10], &[10]),
        ("P1", STEP, &[], &[10], &[10], &[10]),
        ("P0", STEP, &[], &[60], &[60], &[60]),
        // A reset does not stop the pulses P1 and P0.
        ("P1", STEP, &[10], &[10], &[10], &[10]),
        ("P0", STEP, &[60], &[60], &[60], &[60]),
        ("P", STEP, &[10], &[], &[], &[]),
        ("SD, T#20ms", STEP, &[], FROM_30, FROM_30, FROM_30),
        ("SD, T#20ms", SHORT, &[], FROM_30, FROM_30, FROM_30),
        ("SD, T#20ms", SHORT, &[20], &[], &[], &[]),
        ("SD, T#20ms", STEP, &[70], &[30, 40, 50, 60, 70], &[30, 40, 50, 60], &[30, 40, 50, 60]),
        ("DS, T#20ms", STEP, &[], FROM_30, FROM_30, FROM_30),
        ("DS, T#20ms", &[10, 20], &[], &[], &[], &[]),
        ("DS, T#20ms", STEP, &[70], &[30, 40, 50, 60, 70], &[30, 40, 50, 60], &[30, 40, 50, 60]),
        ("SL, T#20ms", STEP, &[], &[10, 20, 30], &[10, 20], &[10, 20]),
        ("SL, T#20ms", SHORT, &[], &[10, 20, 30], &[10, 20], &[10, 20]),
        // A second activation does nothing without a reset between.
        ("SL, T#20ms", &[10, 50, 60], &[], &[10, 20, 30], &[10, 20], &[10, 20]),
        ("SL, T#20ms", &[10, 60, 70], &[40], &[10, 20, 30, 60, 70, 80], &[10, 20, 60, 70], &[10, 20, 60, 70]),
    ];
    for (qualifier, go, reset, with, without, flag) in rows {
        let body = text(&format!("count({qualifier});"), "count(R);");
        assert_eq!(timeline(&body, &WITH, go, reset).0, *with, "{qualifier} with final scan");
        assert_eq!(timeline(&body, &WITHOUT, go, reset).0, *without, "{qualifier} without final scan");
        let boolean = text(&format!("flag({qualifier});"), "flag(R);");
        assert_eq!(timeline(&boolean, &WITH, go, reset).1, *flag, "{qualifier} as a Boolean action");
        assert_eq!(timeline(&boolean, &WITHOUT, go, reset).1, *flag, "{qualifier} as a Boolean action");
    }
}

/// A variable time is read in every scan while its association is active.
#[test]
fn a_time_may_change_while_it_runs() {
    let mut machine = machine(&text("flag(L, short);", ""), &WITH);
    let mut on = Vec::new();
    for time in (0..12).map(|scan| scan * 10) {
        set(&mut machine, "P.go", time >= 20);
        if time == 40 {
            let variable = machine.program().resolve("P.short").unwrap();
            machine
                .write(&variable, &Value::from_bits(60_000_000, latchwork_vm::ElementaryType::Time).unwrap())
                .unwrap();
        }
        machine.scan(time * 1_000_000).unwrap();
        if get(&machine, "P.flag") == "TRUE" {
            on.push(time);
        }
    }
    assert_eq!(on, [20, 30, 40, 50, 60, 70]);
}

/// A chart that does nothing in a scan costs a few instructions a step and a transition, and no more.
#[test]
fn the_cost_of_a_scan_grows_with_the_chart_alone() {
    let sequence = |count: usize| {
        let mut text = "PROGRAM P VAR go : BOOL; END_VAR INITIAL_STEP s0: END_STEP\n".to_owned();
        for step in 1..count {
            writeln!(text, "STEP s{step}: END_STEP").unwrap();
        }
        for step in 0..count {
            let next = (step + 1) % count;
            writeln!(text, "TRANSITION FROM s{step} TO s{next} := go; END_TRANSITION").unwrap();
        }
        text.push_str("END_PROGRAM");
        let mut machine = machine(&text, &WITH);
        machine.scan(0).unwrap();
        machine.scan(10_000_000).unwrap().instructions
    };
    let (ten, twenty, forty) = (sequence(10), sequence(20), sequence(40));
    assert_eq!(forty - twenty, 2 * (twenty - ten));
    assert!((twenty - ten) / 10 <= 6, "{} instructions a step", (twenty - ten) / 10);
}

fn names(text: &str) -> Vec<&'static str> {
    let mut sources = Sources::new();
    sources.add("chart.st", text);
    compile(&sources).diagnostics.iter().map(|diagnostic| diagnostic.name).collect()
}

fn wide(branches: usize, joined: &str) -> String {
    let mut text =
        "PROGRAM P VAR go : BOOL; END_VAR INITIAL_STEP s: END_STEP STEP last: END_STEP\n".to_owned();
    let mut list = String::new();
    for branch in 0..branches {
        writeln!(text, "STEP b{branch}: END_STEP").unwrap();
        write!(list, "{}b{branch}", if branch > 0 { ", " } else { "" }).unwrap();
    }
    writeln!(text, "TRANSITION FROM s TO ({list}) := go; END_TRANSITION").unwrap();
    writeln!(text, "{}", joined.replace("LIST", &list)).unwrap();
    text.push_str("TRANSITION FROM last TO s := TRUE; END_TRANSITION\nEND_PROGRAM");
    text
}

#[test]
fn large_charts_end() {
    let joined = "TRANSITION FROM (LIST) TO last := go; END_TRANSITION";
    assert_eq!(names(&wide(2_000, joined)), [] as [&str; 0]);
    // Many alternatives from one step.
    let mut text = "PROGRAM P VAR go : BOOL; END_VAR INITIAL_STEP s: END_STEP STEP e: END_STEP\n".to_owned();
    for _ in 0..3_000 {
        text.push_str("TRANSITION FROM s TO e := go; END_TRANSITION\n");
    }
    text.push_str("TRANSITION FROM e TO s := go; END_TRANSITION END_PROGRAM");
    assert_eq!(names(&text), [] as [&str; 0]);
    // One action held by many steps.
    let mut text = "PROGRAM P VAR lamp : BOOL; END_VAR INITIAL_STEP s0: END_STEP\n".to_owned();
    for step in 1..3_000 {
        writeln!(text, "STEP s{step}: lamp(D, T#{step}s); END_STEP").unwrap();
        writeln!(text, "TRANSITION FROM s{} TO s{step} := TRUE; END_TRANSITION", step - 1).unwrap();
    }
    text.push_str("TRANSITION FROM s2999 TO s0 := TRUE; END_TRANSITION END_PROGRAM");
    assert_eq!(names(&text), [] as [&str; 0]);
}

/// Where safety cannot be proved, an event tells of a step that is activated twice, and the step goes on.
#[test]
fn an_unsafe_chart_too_large_to_search_is_seen_at_run_time() {
    let mut text =
        "PROGRAM P VAR go, out : BOOL; END_VAR INITIAL_STEP s: END_STEP STEP more: END_STEP\n".to_owned();
    let (mut first, mut last) = (String::new(), String::new());
    for branch in 0..12 {
        for step in 0..8 {
            writeln!(text, "STEP b{branch}_{step}: END_STEP").unwrap();
            if step > 0 {
                let before = step - 1;
                writeln!(
                    text,
                    "TRANSITION FROM b{branch}_{before} TO b{branch}_{step} := go; END_TRANSITION"
                )
                .unwrap();
            }
        }
        write!(first, "{}b{branch}_0", if branch > 0 { ", " } else { "" }).unwrap();
        write!(last, "{}b{branch}_7", if branch > 0 { ", " } else { "" }).unwrap();
    }
    writeln!(text, "TRANSITION FROM s TO ({first}) := TRUE; END_TRANSITION").unwrap();
    writeln!(text, "TRANSITION FROM ({last}) TO s := go; END_TRANSITION").unwrap();
    // Leaves a branch alone, but far from the start.
    writeln!(text, "TRANSITION FROM b0_7 TO more := out; END_TRANSITION").unwrap();
    writeln!(text, "TRANSITION FROM more TO s := TRUE; END_TRANSITION END_PROGRAM").unwrap();
    assert_eq!(names(&text), ["safety-not-proved"]);
    let mut machine = machine(&text, &WITH);
    let mut scan = |go: bool, out: bool, time: i64| {
        set(&mut machine, "P.go", go);
        set(&mut machine, "P.out", out);
        machine.scan(time * 10_000_000).unwrap();
        let events = machine.events().count(latchwork_vm::EventKind::SfcUnsafe);
        (events, get(&machine, "P.b1_7.X"), get(&machine, "P.b1_0.X"), get(&machine, "P.s.X"))
    };
    for time in 0..9 {
        scan(true, false, time);
    }
    assert_eq!(scan(false, true, 9), (0, "TRUE".into(), "FALSE".into(), "FALSE".into()));
    assert_eq!(scan(false, false, 10), (0, "TRUE".into(), "FALSE".into(), "TRUE".into()));
    // All branches but the first one are still at their ends: no step twice.
    assert_eq!(scan(false, false, 11), (0, "TRUE".into(), "TRUE".into(), "FALSE".into()));
    // One step further in each branch meets the ends of the eleven branches that were left alone.
    for time in 12..18 {
        assert_eq!(scan(true, false, time).0, 0);
    }
    let (events, end, ..) = scan(true, false, 18);
    assert_eq!((events, end.as_str()), (11, "TRUE"));
}

/// Two transitions that are TRUE together are an event where they must exclude each other.
#[test]
fn a_selection_may_have_to_be_exclusive() {
    let text = "PROGRAM P VAR a, b : BOOL; END_VAR
         INITIAL_STEP s: END_STEP STEP t: END_STEP STEP u: END_STEP
         TRANSITION FROM s TO t := a; END_TRANSITION
         TRANSITION FROM s TO u := b; END_TRANSITION
         TRANSITION FROM t TO s := t.T >= T#10ms; END_TRANSITION
         TRANSITION FROM u TO s := u.T >= T#10ms; END_TRANSITION
         END_PROGRAM";
    for exclusive_selections in [false, true] {
        let mut machine = machine(text, &CompileOptions { exclusive_selections, ..WITH });
        let mut scan = |a: bool, b: bool, time: i64| {
            set(&mut machine, "P.a", a);
            set(&mut machine, "P.b", b);
            machine.scan(time * 10_000_000).unwrap();
            let conflicts = machine.events().count(latchwork_vm::EventKind::SelectionConflict);
            (conflicts, get(&machine, "P.t.X") == "TRUE", get(&machine, "P.u.X") == "TRUE")
        };
        let event = u64::from(exclusive_selections);
        assert_eq!(scan(false, false, 0), (0, false, false));
        assert_eq!(scan(false, true, 1), (0, false, true));
        assert_eq!(scan(true, false, 2), (0, false, false));
        assert_eq!(scan(true, true, 3), (event, true, false));
        assert_eq!(scan(true, true, 4), (event, false, false));
        assert_eq!(scan(true, true, 5), (2 * event, true, false));
    }
}
