//! Programs of `tests/run/` run on the machine; what they must do stands in comments at their head.
//!
//! ```text
//! // scans 3                      scans to run (default 1)
//! // interval T#10ms              time between scans (default 10 ms)
//! // budget 5000                  instructions a scan may take
//! // set x = TRUE at 2            before scan 2 (from 0)
//! // restart warm at 2            before scan 2
//! // expect x = 5                 after the last scan
//! // expect x = 5 at 0            after scan 0
//! // fault subscript at line 9: index 5, lower bound 0, upper bound 3
//! // event overflow 2             number of events of a kind in all scans
//! ```

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::print_stderr, reason = "a failing test may panic")]

use std::{fmt::Write as _, fs, path::Path, sync::Arc};

use latchwork_compiler::compile;
use latchwork_grammar::Sources;
use latchwork_vm::{EventKind, Machine, Program, Restart, Value};

/// What one program must do.
#[derive(Debug, Default)]
struct Script {
    scans: u64,
    interval_ns: i64,
    budget: Option<u64>,
    sets: Vec<(u64, String, String)>,
    restarts: Vec<(u64, Restart)>,
    expectations: Vec<(Option<u64>, String, String)>,
    fault: Option<String>,
    events: Vec<(String, u64)>,
}

fn read_script(text: &str) -> Script {
    let mut script = Script { scans: 1, interval_ns: 10_000_000, ..Script::default() };
    for line in text.lines().map_while(|line| line.strip_prefix("//")) {
        let line = line.trim();
        let (word, rest) = line.split_once(' ').unwrap_or((line, ""));
        match word {
            "scans" => script.scans = rest.parse().unwrap(),
            "interval" => {
                let milliseconds: i64 = rest.trim_start_matches("T#").trim_end_matches("ms").parse().unwrap();
                script.interval_ns = milliseconds * 1_000_000;
            }
            "budget" => script.budget = Some(rest.parse().unwrap()),
            "set" => {
                let (name, rest) = rest.split_once(" = ").unwrap();
                let (value, scan) = rest.rsplit_once(" at ").unwrap();
                script.sets.push((scan.parse().unwrap(), name.to_owned(), value.to_owned()));
            }
            "restart" => {
                let (kind, scan) = rest.split_once(" at ").unwrap();
                let kind = if kind == "warm" { Restart::Warm } else { Restart::Cold };
                script.restarts.push((scan.parse().unwrap(), kind));
            }
            "expect" => {
                let (name, rest) = rest.split_once(" = ").unwrap();
                let (value, scan) = match rest.rsplit_once(" at ") {
                    Some((value, scan)) => (value, Some(scan.parse().unwrap())),
                    None => (rest, None),
                };
                script.expectations.push((scan, name.to_owned(), value.to_owned()));
            }
            "fault" => script.fault = Some(rest.trim_end().to_owned()),
            "event" => {
                let (kind, count) = rest.split_once(' ').unwrap();
                script.events.push((kind.to_owned(), count.parse().unwrap()));
            }
            _ => {}
        }
    }
    assert!(
        !script.expectations.is_empty() || script.fault.is_some() || !script.events.is_empty(),
        "the program expects nothing"
    );
    script
}

/// A value of a variable's type from its text.
fn parse_value(text: &str, like: &Value) -> Value {
    match like {
        Value::Bool(_) => Value::Bool(text == "TRUE"),
        Value::Signed(_, kind) => Value::Signed(text.parse().unwrap(), *kind),
        Value::Unsigned(_, kind) => Value::Unsigned(text.parse().unwrap(), *kind),
        Value::Bits(_, kind) => {
            Value::Bits(u64::from_str_radix(text.trim_start_matches("16#"), 16).unwrap(), *kind)
        }
        Value::Real(_) => Value::Real(text.parse().unwrap()),
        Value::Lreal(_) => Value::Lreal(text.parse().unwrap()),
        other => panic!("a test cannot set {other}"),
    }
}

/// Runs one program and returns everything that went otherwise than its script says.
fn run(name: &str, text: &str) -> String {
    let script = read_script(text);
    let mut problems = String::new();
    let mut sources = Sources::new();
    sources.add(name, text);
    let compilation = compile(&sources);
    let Some(image) = compilation.image else {
        for diagnostic in &compilation.diagnostics {
            let place =
                text.get(..diagnostic.primary.span.start as usize).unwrap_or("").matches('\n').count() + 1;
            writeln!(problems, "line {place}: {}: {}", diagnostic.name, diagnostic.message).unwrap();
        }
        return problems;
    };
    let program = match Program::load(image, latchwork_stdlib::natives()) {
        Ok(program) => Arc::new(program),
        Err(error) => return format!("the image is refused: {error}\n"),
    };
    let mut machine = Machine::new(Arc::clone(&program));
    if let Some(budget) = script.budget {
        machine.set_budget(budget);
    }
    let check = |machine: &Machine, scan: Option<u64>, problems: &mut String| {
        for (_, name, wanted) in script.expectations.iter().filter(|(at, ..)| *at == scan) {
            match program.resolve(name) {
                Ok(variable) => {
                    let value = machine.read(&variable).to_string();
                    if value != *wanted {
                        writeln!(problems, "{name} is {value}, not {wanted} (scan {scan:?})").unwrap();
                    }
                }
                Err(error) => writeln!(problems, "{name}: {error}").unwrap(),
            }
        }
    };
    let mut fault = None;
    for scan in 0..script.scans {
        for (_, kind) in script.restarts.iter().filter(|(at, _)| *at == scan) {
            machine.restart(*kind);
        }
        for (_, name, value) in script.sets.iter().filter(|(at, ..)| *at == scan) {
            let variable = program.resolve(name).unwrap();
            let value = parse_value(value, &machine.read(&variable));
            machine.write(&variable, &value).unwrap();
        }
        if let Err(stopped) = machine.scan(scan as i64 * script.interval_ns) {
            fault = Some(stopped);
            break;
        }
        check(&machine, Some(scan), &mut problems);
    }
    check(&machine, None, &mut problems);
    let seen = fault.map(|fault| {
        let line = fault.place.as_ref().map_or(0, |place| place.place.line);
        let values: Vec<String> =
            fault.values.iter().map(|(name, value)| format!("{name} {value}")).collect();
        format!("{} at line {line}: {}", fault.kind, values.join(", ")).trim_end().to_owned()
    });
    if seen != script.fault {
        writeln!(problems, "fault is {seen:?}, not {:?}", script.fault).unwrap();
    }
    for kind in EventKind::ALL {
        let wanted =
            script.events.iter().find(|(name, _)| name == kind.name()).map_or(0, |(_, count)| *count);
        let seen = machine.events().count(*kind);
        if seen != wanted {
            writeln!(problems, "{seen} events {kind}, not {wanted}").unwrap();
        }
    }
    problems
}

#[test]
fn programs_do_what_they_say() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/run");
    let mut files: Vec<_> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    let mut failures = String::new();
    let mut count = 0;
    for path in files.iter().filter(|path| path.extension().is_some_and(|extension| extension == "st")) {
        let name = path.file_name().unwrap().to_str().unwrap();
        // `CASES` in a file are separated by lines of dashes, each a program of its own.
        let text = fs::read_to_string(path).unwrap();
        for (index, case) in text.split("\n//----\n").enumerate() {
            count += 1;
            let problems = run(name, case);
            if !problems.is_empty() {
                writeln!(failures, "{name}, case {}:\n{problems}", index + 1).unwrap();
            }
        }
    }
    assert!(count >= 40, "only {count} programs found");
    assert!(failures.is_empty(), "{failures}");
}

#[test]
fn both_dispatchers_agree() {
    use latchwork_vm::Dispatcher;
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/run");
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let text = fs::read_to_string(&path).unwrap();
        for case in text.split("\n//----\n") {
            let mut sources = Sources::new();
            sources.add("a.st", case);
            let Some(image) = compile(&sources).image else { continue };
            let program = Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap());
            let mut one = Machine::with_dispatcher(Arc::clone(&program), Dispatcher::Matched);
            let mut other = Machine::new(program);
            one.set_budget(100_000);
            other.set_budget(100_000);
            for scan in 0..5 {
                let (first, second) = (one.scan(scan * 10_000_000), other.scan(scan * 10_000_000));
                assert_eq!(format!("{first:?}"), format!("{second:?}"), "{}", path.display());
                assert!(one.state() == other.state(), "{}", path.display());
            }
        }
    }
}
