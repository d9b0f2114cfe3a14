//! Sequential function charts made at random, against a model that is written down from the rules and the figure of the
//! action control in IEC 61131-3:2013, 6.7.4.6 and 6.7.5, without any of the compiler's ways. Charts and model run
//! side by side: flags and times of all steps, Boolean actions, counts and order of the bodies must be the same after
//! each scan, on both dispatchers.

#![allow(clippy::unwrap_used, reason = "a failing test may panic")]

mod charts {
    pub mod model;
    pub mod plan;
}

use std::sync::Arc;

use charts::{model::Model, plan::Plan};
use latchwork_compiler::{CompileOptions, compile_with};
use latchwork_grammar::{Severity, Sources};
use latchwork_tests::{generate::Numbers, observation::unchanged};
use latchwork_vm::{Dispatcher, Image, Machine, Program, Value};
use proptest::prelude::*;

const SCANS: i64 = 60;

fn image(text: &str, options: &CompileOptions) -> Image {
    let mut sources = Sources::new();
    sources.add("chart.st", text);
    let compilation = compile_with(&sources, options);
    unchanged(&sources, options).unwrap();
    let errors: Vec<_> = compilation
        .diagnostics
        .iter()
        .filter(|it| it.severity == Severity::Error)
        .map(|it| format!("{}: {}", it.name, it.message))
        .collect();
    assert!(errors.is_empty(), "{errors:#?}\n{text}");
    compilation.image.unwrap()
}

fn read(machine: &Machine, name: &str) -> Value {
    machine.read(&machine.program().resolve(&format!("P.{name}")).unwrap())
}

/// Runs a chart and its model on the same inputs; how many transitions cleared.
fn compare(seed: u32, final_scan: bool) -> usize {
    let mut numbers = Numbers::new(seed);
    let plan = Plan::new(&mut numbers);
    let text = plan.text();
    let program = Program::load(
        image(
            &text,
            &CompileOptions { final_scan, exclusive_selections: false, ..CompileOptions::default() },
        ),
        latchwork_stdlib::natives(),
    )
    .unwrap();
    let program = Arc::new(program);
    let mut machine = Machine::with_dispatcher(Arc::clone(&program), Dispatcher::Matched);
    let mut other = Machine::with_dispatcher(program, Dispatcher::best());
    let mut model = Model::new(&plan, final_scan);
    let mut now = 0;
    let mut cleared = 0;
    for scan in 0..SCANS {
        now += [10, 10, 10, 7, 25][numbers.below(5)] * 1_000_000;
        let inputs: Vec<bool> = plan.transitions.iter().map(|_| numbers.below(3) == 0).collect();
        for (index, value) in inputs.iter().enumerate() {
            for machine in [&mut machine, &mut other] {
                let variable = machine.program().resolve(&format!("P.c{index}")).unwrap();
                machine.write(&variable, &Value::Bool(*value)).unwrap();
            }
        }
        machine.scan(now).unwrap();
        other.scan(now).unwrap();
        cleared += model.scan(now, &inputs);
        assert!(machine.state() == other.state(), "the dispatchers differ in scan {scan}\n{text}");
        for (index, step) in model.steps.iter().enumerate() {
            assert_eq!(
                read(&machine, &format!("s{index}.X")),
                Value::Bool(step.active),
                "s{index}.X in scan {scan} of {seed}\n{text}"
            );
            let time = format!("s{index}.T");
            let wanted = Value::from_bits(step.elapsed as u64, latchwork_vm::ElementaryType::Time).unwrap();
            assert_eq!(read(&machine, &time), wanted, "{time} in scan {scan} of {seed}\n{text}");
        }
        for (index, action) in model.actions.iter().enumerate() {
            if plan.actions[index].boolean {
                let name = format!("a{index}");
                assert_eq!(
                    read(&machine, &name),
                    Value::Bool(action.value),
                    "{name} in scan {scan} of {seed}\n{text}"
                );
            } else {
                let name = format!("n{index}");
                assert_eq!(
                    read(&machine, &name).to_string(),
                    action.runs.to_string(),
                    "{name} in scan {scan} of {seed}\n{text}"
                );
            }
        }
        assert_eq!(
            read(&machine, "order").to_string(),
            model.order.to_string(),
            "order in scan {scan} of {seed}\n{text}"
        );
    }
    assert_eq!(machine.events().total(), 0, "{text}");
    cleared
}

proptest! {
    #[test]
    fn charts_do_what_the_rules_say(seed: u32, final_scan: bool) {
        compare(seed, final_scan);
    }
}

/// The charts are worth comparing: transitions clear, and all qualifiers occur.
#[test]
fn the_random_charts_move() {
    let cleared: usize = (0..20).map(|seed| compare(seed, seed % 2 == 0)).sum();
    assert!(cleared > 500, "only {cleared} transitions cleared");
    let text: String = (0..20).map(|seed| Plan::new(&mut Numbers::new(seed)).text()).collect();
    for qualifier in ["N", "R", "S", "L,", "D,", "P", "SD,", "DS,", "SL,", "P1", "P0"] {
        assert!(text.contains(&format!("({qualifier}")), "{qualifier}");
    }
    assert!(text.contains("FROM (") && text.contains("TO (") && text.contains("PRIORITY"));
}
