//! Compiles and runs what a case asks for, and says what went otherwise.

use std::sync::Arc;

use latchwork_compiler::compile;
use latchwork_grammar::{Diagnostic, Severity, Sources};
use latchwork_vm::{Dispatcher, EventKind, Machine, Program, Restart, Timing, Value};

use super::case::{Case, Check, Expectation, Script, Wanted};

/// Everything that does not go as the case says.
pub fn problems(file: &str, case: &Case) -> Vec<String> {
    let mut problems = Vec::new();
    if !case.has_source {
        problems.push("the case names no table, clause or other source".to_owned());
    }
    if case.checks.is_empty() {
        problems.push("the case expects nothing".to_owned());
    }
    for value in &case.values {
        if !value.has_source {
            problems.push(format!("value {} has no line of sources above it", value.number));
        }
        if value.shown_by == 0 {
            problems.push(format!("value {} is shown by nothing below it", value.number));
        }
    }
    for Wanted { line, check, .. } in &case.checks {
        let mut found = Vec::new();
        match check {
            Check::Run(text, script) => run(file, text, script, &mut found),
            Check::Refused(text, wanted) => {
                let seen = errors(&compiled(file, text));
                let mut wanted = wanted.clone();
                wanted.sort();
                wanted.dedup();
                if seen != wanted {
                    found.push(format!("errors are {seen:?}, not {wanted:?}"));
                }
            }
            Check::Warned(text, wanted) => {
                let diagnostics = compiled(file, text);
                let seen = errors(&diagnostics);
                if !seen.is_empty() {
                    found.push(format!("errors {seen:?}"));
                }
                if !diagnostics.iter().any(|diagnostic| diagnostic.name == wanted) {
                    let names: Vec<_> = diagnostics.iter().map(|diagnostic| diagnostic.name).collect();
                    found.push(format!("no warning {wanted}, only {names:?}"));
                }
            }
            Check::Clean(text) => {
                let names: Vec<_> = compiled(file, text).iter().map(|diagnostic| diagnostic.name).collect();
                if !names.is_empty() {
                    found.push(format!("found {names:?}"));
                }
            }
            Check::Accepted(text) => found.extend(messages(&compiled(file, text))),
        }
        problems.extend(found.into_iter().map(|problem| format!("{line}: {problem}")));
    }
    problems
}

fn compiled(file: &str, text: &str) -> Vec<Diagnostic> {
    let mut sources = Sources::new();
    sources.add(file, text);
    compile(&sources).diagnostics
}

fn errors(diagnostics: &[Diagnostic]) -> Vec<String> {
    let mut names: Vec<_> = diagnostics
        .iter()
        .filter(|diagnostic| diagnostic.severity == Severity::Error)
        .map(|diagnostic| diagnostic.name.to_owned())
        .collect();
    names.sort();
    names.dedup();
    names
}

fn messages(diagnostics: &[Diagnostic]) -> Vec<String> {
    diagnostics
        .iter()
        .filter(|diagnostic| diagnostic.severity == Severity::Error)
        .map(|diagnostic| format!("{}: {}", diagnostic.name, diagnostic.message))
        .collect()
}

/// A value of a variable's type from its text.
fn value(text: &str, like: &Value) -> Value {
    match like {
        Value::Bool(_) => Value::Bool(text == "TRUE"),
        Value::Signed(_, kind) => Value::Signed(text.parse().unwrap(), *kind),
        Value::Unsigned(_, kind) => Value::Unsigned(text.parse().unwrap(), *kind),
        Value::Bits(_, kind) => {
            Value::Bits(u64::from_str_radix(text.trim_start_matches("16#"), 16).unwrap(), *kind)
        }
        Value::Duration(_, kind) => {
            let milliseconds: i64 = text.trim_start_matches("T#").trim_end_matches("ms").parse().unwrap();
            Value::Duration(milliseconds * 1_000_000, *kind)
        }
        Value::Real(_) => Value::Real(text.parse().unwrap()),
        Value::Lreal(_) => Value::Lreal(text.parse().unwrap()),
        other => panic!("a case cannot set {other}"),
    }
}

fn expectations(machine: &Machine, script: &Script, scan: Option<u64>, problems: &mut Vec<String>) {
    for wanted in script.expectations.iter().filter(|wanted| wanted.scan == scan) {
        let Expectation { variable: name, value: wanted, shows, .. } = wanted;
        match machine.program().resolve(name) {
            Ok(variable) => {
                let seen = machine.read(&variable).to_string();
                if seen != *wanted {
                    let when = scan.map_or(String::new(), |scan| format!(" after scan {scan}"));
                    problems.push(format!("{shows}{name} is {seen}, not {wanted}{when}"));
                }
            }
            Err(error) => problems.push(format!("{shows}{name}: {error}")),
        }
    }
}

fn run(file: &str, text: &str, script: &Script, problems: &mut Vec<String>) {
    let mut sources = Sources::new();
    sources.add(file, text);
    let compilation = compile(&sources);
    let Some(image) = compilation.image else {
        problems.extend(messages(&compilation.diagnostics));
        return;
    };
    let program = Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap());
    let mut machine = Machine::with_dispatcher(Arc::clone(&program), Dispatcher::Matched);
    let mut other = Machine::with_dispatcher(program, Dispatcher::best());
    let mut fault = None;
    for each in [&mut machine, &mut other] {
        if let Some(budget) = script.budget {
            each.set_budget(budget);
        }
        each.set_timing(Timing {
            instruction_ns: script.instruction_ns,
            preemptive: script.preempt,
            cycle_ns: script.interval_ns,
        });
    }
    for scan in 0..script.scans {
        for each in [&mut machine, &mut other] {
            for (_, warm) in script.warm_restarts.iter().filter(|(at, _)| *at == scan) {
                each.restart(if *warm { Restart::Warm } else { Restart::Cold });
            }
            for (_, name, wanted) in script.sets.iter().filter(|(at, ..)| *at == scan) {
                let variable = each.program().resolve(name).unwrap();
                let wanted = value(wanted, &each.read(&variable));
                each.write(&variable, &wanted).unwrap();
            }
        }
        let time = i64::try_from(scan).unwrap() * script.interval_ns;
        let (first, second) = (machine.scan(time), other.scan(time));
        if format!("{first:?}") != format!("{second:?}") || machine.state() != other.state() {
            problems.push(format!("the dispatchers differ in scan {scan}"));
            return;
        }
        if let Err(stopped) = first {
            fault = Some(stopped.kind.to_string());
            break;
        }
        expectations(&machine, script, Some(scan), problems);
    }
    expectations(&machine, script, None, problems);
    if fault != script.fault {
        problems.push(format!("the run stops with {fault:?}, not {:?}", script.fault));
    }
    for kind in EventKind::ALL {
        let seen = machine.events().count(*kind);
        let fits = match script.events.iter().find(|(name, _)| name == kind.name()) {
            Some((_, Some(count))) => seen == *count,
            Some((_, None)) => seen > 0,
            None => seen == 0,
        };
        if !fits {
            problems.push(format!("{seen} events {kind}"));
        }
    }
}
