//! Laws that hold for every timeline.

use std::{fmt::Write, sync::Arc};

use latchwork_bench::{
    export,
    procedure::{RunOptions, Script, ScriptParts},
};
use latchwork_grammar::{Names, Sources, parse_steps};
use latchwork_vm::Value;
use proptest::prelude::*;

use crate::workshop::{CONTROLLER, PANEL, TANK, program, recording, run, station};

/// What is done at a time, in milliseconds.
#[derive(Clone, Debug)]
enum Done {
    Switched(bool),
    Rate(i32),
    Level(i32),
    Restarted,
}

fn done() -> impl Strategy<Value = Done> {
    prop_oneof![
        any::<bool>().prop_map(Done::Switched),
        (-5..20).prop_map(Done::Rate),
        (0..100).prop_map(Done::Level),
        Just(Done::Restarted),
    ]
}

proptest! {
    /// A stimulus and a procedure that do the same at the same times give the same trace, and the level is the sum of what
    /// came in while the pump worked.
    #[test]
    fn replay_and_procedure_run_a_plant_alike(steps in prop::collection::vec((0_i64..40, done()), 1..30)) {
        let station = station(PANEL, TANK).unwrap();
        let program = program(CONTROLLER);
        let names = ["Switch1", "P1", "Level", "FloatFull", "Raw", "Float", "V1", "Tank.Runs", "Tank.Rate"];
        let mut csv = String::from("time,Switch1,Tank.Rate,Tank.Level,restart\n");
        let mut text = String::from("procedure 'the same'\n");
        let mut time = 0;
        let mut timeline = Vec::new();
        for (wait, done) in steps {
            time += wait;
            let (cells, step) = match &done {
                Done::Switched(on) => (format!("{on},,,"), format!("turn Switch1 to {on}")),
                Done::Rate(rate) => (format!(",{rate}.0,,"), format!("set Tank.Rate to LREAL#{rate}.0")),
                Done::Level(level) => (format!(",,{level}.0,"), format!("set Tank.Level to LREAL#{level}.0")),
                Done::Restarted => (",,,warm".into(), "restart warm".into()),
            };
            writeln!(csv, "{time},{cells}").unwrap();
            writeln!(text, "  at T#{time}ms;\n  {step};").unwrap();
            timeline.push((time, done));
        }
        text.push_str("  wait T#100ms;\n  expect TRUE OR P1;\nend_procedure\n");

        let replayed = run(&station, Some(&csv), &recording(&names, time + 100)).recording;

        let mut sources = Sources::new();
        let file = sources.add("same.steps", text.as_str());
        let mut interned = Names::new();
        let parsed = parse_steps(file, &text, &mut interned);
        prop_assert!(parsed.diagnostics.is_empty(), "{:?}", parsed.diagnostics);
        let files = [parsed.tree];
        let (script, problems) = Script::new(ScriptParts {
            files: &files,
            program: Arc::clone(&program),
            station: Some(&station),
            sources: &sources,
            names: &interned,
        });
        prop_assert!(problems.is_empty(), "{problems:?}");
        let record = Some(names.iter().map(|name| name.to_string()).collect());
        let outcome = script.run(0, &RunOptions { record, ..RunOptions::default() });
        prop_assert!(outcome.passed(), "{:?}", outcome.verdict);
        let by_procedure = outcome.compared.unwrap();
        let (replayed_csv, procedure_csv) = (export::csv(&replayed), export::csv(&by_procedure));
        let scans = replayed.scans.len().min(by_procedure.scans.len());
        prop_assert!(scans as i64 >= (time + 100) / 10);
        let first = |csv: &str| csv.lines().take(scans + 1).map(str::to_owned).collect::<Vec<_>>();
        prop_assert_eq!(first(&replayed_csv), first(&procedure_csv));

        // The level as the rule of the plant has it, scan by scan.
        let (mut level, mut rate, mut switched, mut timeline) = (40.0, 2.0, false, timeline.into_iter().peekable());
        let row = replayed.rows.iter().find(|row| row.signal.name == "Level").unwrap();
        for scan in 0..scans {
            while let Some((_, done)) = timeline.next_if(|(time, _)| *time <= scan as i64 * 10) {
                match done {
                    Done::Switched(on) => switched = on,
                    Done::Rate(new) => rate = f64::from(new),
                    Done::Level(new) => level = f64::from(new),
                    Done::Restarted => {}
                }
            }
            prop_assert_eq!(row.signal.value_at(scan as u32), Value::Lreal(level), "scan {}", scan);
            if switched {
                level += rate / 100.0;
            }
        }
    }
}
