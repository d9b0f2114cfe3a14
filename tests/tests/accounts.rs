//! The account of a run agrees with what was recorded of it: whoever wrote a variable last has the value that the
//! variable has, in every scan of every sample with a stimulus.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a failing test may panic")]

use std::{fs, path::Path, sync::Arc};

use latchwork_bench::{
    account::{Account, Moment},
    replay::{ReplayOptions, Replayed},
};
use latchwork_compiler::{
    CompileOptions, compile_with,
    logic::{LogicKind, PartValue},
};
use latchwork_grammar::Sources;
use latchwork_tests::workbench::{run_program, sample, samples, text};
use latchwork_vm::{ElementaryType, Program, ResolvedKind, Value};

struct Run {
    program: Arc<Program>,
    replayed: Replayed,
}

impl Run {
    fn account(&self) -> &Account {
        self.replayed.account.as_ref().unwrap()
    }
}

fn run(source: &str, stimulus: Option<&str>, names: Option<Vec<String>>) -> Run {
    let mut sources = Sources::new();
    sources.add("program", source);
    let options = CompileOptions { journal: true, ..CompileOptions::default() };
    let compiled = compile_with(&sources, &options);
    let image = compiled.image.unwrap_or_else(|| panic!("{}", text(&compiled.diagnostics, &sources)));
    let program = Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap());
    let every = || program.variables().take(500).map(|variable| variable.name).collect();
    let account = Some(Arc::new(compiled.logic.unwrap()));
    let options =
        ReplayOptions { account, record: Some(names.unwrap_or_else(every)), ..ReplayOptions::default() };
    let replayed = run_program(Arc::clone(&program), None, stimulus, &options).unwrap();
    Run { program, replayed }
}

/// How often a variable was written by an assignment whose value the account has.
fn check(run: &Run, what: &str) -> usize {
    let account = run.account();
    let mut compared = 0;
    for row in &run.replayed.recording.rows {
        let Ok(variable) = run.program.resolve(&row.signal.name) else { continue };
        let ResolvedKind::Elementary(kind) = variable.kind else { continue };
        for scan in 0..account.scans() {
            let bytes = kind.scalar().unwrap().size();
            let Some(write) = account.writer(variable.address, bytes, Moment::end_of(scan)) else { continue };
            let (statement, _) = account.identity(write.site).unwrap();
            let (_, statement) = account.statement(statement).unwrap();
            let LogicKind::Assign { target, value } = &statement.kind else { continue };
            let written = PartValue::Elementary(kind);
            if target.value != written || value.value != written {
                continue;
            }
            let Some(word) = account.value(write.site, value.number, write.moment.scan) else { continue };
            let word = match kind {
                // Signed ones are kept with their sign in 64 bits.
                ElementaryType::Sint => i64::from(word as i8) as u64,
                ElementaryType::Int => i64::from(word as i16) as u64,
                ElementaryType::Dint => i64::from(word as i32) as u64,
                _ => word,
            };
            let expected = row.signal.value_at(scan);
            assert_eq!(
                Value::from_bits(word, kind).as_ref(),
                Some(&expected),
                "{what}: {} in scan {scan}",
                row.name()
            );
            compared += 1;
        }
    }
    compared
}

#[test]
fn the_last_writer_has_the_value_of_the_variable() {
    let folder = samples().join("both-languages");
    let mut compared = 0;
    for entry in fs::read_dir(&folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|extension| extension != "csv") {
            let read = |path: &Path| fs::read_to_string(path).unwrap();
            let run = run(&read(&path), Some(&read(&path.with_extension("csv"))), None);
            assert!(run.account().is_complete());
            compared += check(&run, &path.display().to_string());
        }
    }
    assert!(compared > 10_000, "{compared}");
}

#[test]
fn charts_are_in_the_account() {
    let run = run(&sample("misting-cycle/misting.st").unwrap(), None, None);
    assert!(check(&run, "misting") > 100);
    let chart = run.account().logic().units[0].chart.as_ref().unwrap();
    assert!(chart.steps.iter().any(|step| step.initial));
    assert!(chart.transitions.iter().all(|transition| transition.condition.is_some()));
}

/// Each of two instances has sites of its own, three levels deep; and a value that was read before it was written is the
/// one of the scan before.
#[test]
fn instances_are_told_apart() {
    let source = "
        FUNCTION_BLOCK Inner VAR_INPUT I : INT; END_VAR VAR_OUTPUT O : INT; END_VAR
          O := I + 1;
        END_FUNCTION_BLOCK
        FUNCTION_BLOCK Outer VAR_INPUT I : INT; END_VAR VAR_OUTPUT O : INT; END_VAR VAR Deep : Inner; END_VAR
          Deep(I := I * 2); O := Deep.O;
        END_FUNCTION_BLOCK
        PROGRAM Main VAR One, Two : Outer; Sum, Before, N : INT; END_VAR
          Before := Sum;
          N := N + 1;
          One(I := N); Two(I := 100);
          Sum := One.O + Two.O;
        END_PROGRAM";
    let run = run(source, None, None);
    let account = run.account();
    assert!(check(&run, "instances") > 100);
    let address = |name: &str| run.program.resolve(name).unwrap().address;
    let value = |name: &str, scan: u32| {
        let write = account.writer(address(name), 2, Moment::end_of(scan)).unwrap();
        let (statement, base) = account.identity(write.site).unwrap();
        let LogicKind::Assign { value, .. } = &account.statement(statement).unwrap().1.kind else { panic!() };
        (base, account.value(write.site, value.number, scan).unwrap())
    };
    let (one, two) = (value("Main.One.Deep.O", 4), value("Main.Two.Deep.O", 4));
    assert_eq!((one.1, two.1), (11, 201));
    assert_ne!(one.0, two.0, "each instance has sites of its own");
    // `Before` was written in this scan, but the value that it took was written in the scan before.
    let write = account.writer(address("Main.Before"), 2, Moment::end_of(4)).unwrap();
    let source = account.writer(address("Main.Sum"), 2, write.moment).unwrap();
    assert_eq!((write.moment.scan, source.moment.scan), (4, 3));
    assert!(account.writer(address("Main.One.Deep.O"), 2, Moment { scan: 0, order: 0 }).is_none());
}

/// What is written in other scans is found at its own place.
#[test]
fn places_that_subscripts_decide_are_followed() {
    let source = "
        PROGRAM Main VAR A : ARRAY [0..3] OF INT; N, K : INT; END_VAR
          A[N MOD 4] := N;
          N := N + 1;
          FOR K := 1 TO 3 DO ; END_FOR;
        END_PROGRAM";
    let run = run(source, None, None);
    let account = run.account();
    for (element, scan) in [(0, 8), (1, 9), (2, 6), (3, 7)] {
        let address = run.program.resolve(&format!("Main.A[{element}]")).unwrap().address;
        assert_eq!(account.writer(address, 2, Moment::end_of(9)).unwrap().moment.scan, scan);
    }
}

/// What a recorder sees of a variable is what the account remembers, with the scan since which it is so; and a restart is
/// noticed.
#[test]
fn the_memory_of_an_account_is_what_was_recorded() {
    let source = "
        PROGRAM Main
        VAR S AT %IX0.1 : BOOL; N : INT; L : LINT; Odd : BOOL; END_VAR VAR RETAIN Kept : DINT; END_VAR
          N := N - 1; L := L * 3 + N; Odd := N MOD 2 <> 0; IF S THEN Kept := Kept + 1; END_IF;
        END_PROGRAM";
    let stimulus = "time,S,restart\n0,FALSE,\nT#50ms,TRUE,\nT#200ms,,warm\nT#400ms,FALSE,\n";
    let run = run(source, Some(stimulus), None);
    let account = run.account();
    let mut compared = 0;
    for row in &run.replayed.recording.rows {
        let variable = run.program.resolve(&row.signal.name).unwrap();
        let ResolvedKind::Elementary(kind) = variable.kind else { panic!() };
        let bytes = kind.scalar().unwrap().size();
        for scan in 0..account.scans() {
            let word = account.memory(variable.address, bytes, Some(scan)).unwrap();
            let expected = row.signal.value_at(scan);
            assert_eq!(Value::from_bits(word, kind), Some(expected.clone()), "{} in scan {scan}", row.name());
            let since = account.memory_since(variable.address, bytes, scan);
            let same = (0..scan).rev().take_while(|scan| row.signal.value_at(*scan) == expected).count();
            let first = scan - u32::try_from(same).unwrap();
            let initial = account.memory(variable.address, bytes, None) == Some(word);
            assert_eq!(since, (first > 0 || !initial).then_some(first), "{} in scan {scan}", row.name());
            compared += 1;
        }
    }
    assert!(compared > 500, "{compared}");
    let restarts = [19, 20, account.scans()].map(|scan| account.last_restart(scan));
    assert_eq!(restarts, [None, Some(20), Some(20)]);
    assert!(account.memory(u32::MAX, 8, Some(0)).is_none());
}

/// Each pass of a loop is kept, with the place that it writes and the values that it saw.
#[test]
fn passes_of_a_loop_are_told_apart() {
    let source = "
        FUNCTION Twice : INT VAR_INPUT I : INT; END_VAR Twice := I * 2; END_FUNCTION
        PROGRAM Main VAR A : ARRAY [1..3] OF INT; T : ARRAY [1..3] OF TON; K : INT; Few : INT := 3; END_VAR
          Few := 5 - Few;
          FOR K := 1 TO Few DO
            A[K] := Twice(K);
            T[K](IN := K > 1, PT := T#1s);
          END_FOR;
        END_PROGRAM";
    let run = run(source, None, None);
    let account = run.account();
    // Two passes in every second scan, three in the others.
    for (element, scan, written) in [(1, 8, 8), (2, 8, 8), (3, 8, 7), (3, 9, 9)] {
        let address = |name: &str| run.program.resolve(&format!("Main.{name}")).unwrap().address;
        let write = account.writer(address(&format!("A[{element}]")), 2, Moment::end_of(scan)).unwrap();
        let (statement, base) = account.identity(write.site).unwrap();
        let LogicKind::Assign { value, .. } = &account.statement(statement).unwrap().1.kind else { panic!() };
        assert_eq!(write.moment.scan, written);
        assert_eq!(account.value(write.site, value.number, written), Some(2 * element));
        assert!(account.latest(statement, base, Moment::end_of(scan)).unwrap().1 >= write.moment);
        let call = account.writer(address(&format!("T[{element}].Q")), 1, Moment::end_of(scan)).unwrap();
        assert_eq!(call.moment.scan, written);
    }
    assert!(account.is_complete());
}
