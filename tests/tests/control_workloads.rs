//! The control workloads of `tests/speed` give the same outputs in every form, so that times of their forms can be
//! compared: with both dispatchers the recorded checksum, in C the same.

use std::{
    fs,
    path::Path,
    process::{Command, Output},
};

use latchwork_bench::{recording::Role, replay::ReplayOptions};
use latchwork_tests::{
    control::{Run, SCAN_NS, folder, source, stimulus, workloads},
    workbench,
};
use latchwork_vm::{Dispatcher, Value};

/// Scans of the recorded checksums: what lies beside the workloads was folded ten times.
const SCANS: u64 = 640;

fn recorded(workload: &str) -> String {
    let path = folder().join(workload).join("checksum.txt");
    let text = fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    text.trim().to_owned()
}

/// The output of a command that succeeds; `None` where there is no such command.
fn output(command: &mut Command) -> Option<Output> {
    let output = command.output().ok()?;
    assert!(output.status.success(), "{command:?}: {}", String::from_utf8_lossy(&output.stderr));
    Some(output)
}

#[test]
fn both_dispatchers_give_the_recorded_checksums() {
    for workload in workloads() {
        for dispatcher in [Dispatcher::Matched, Dispatcher::Threaded, Dispatcher::Compiled] {
            let mut run = Run::new(workload, dispatcher).unwrap();
            run.scan_times(SCANS).unwrap();
            assert_eq!(format!("{:08x}", run.checksum()), recorded(workload), "{workload}, {dispatcher:?}");
        }
    }
}

#[test]
fn outputs_move() {
    // A workload that stands still would measure nothing, and its checksum would prove nothing.
    for workload in workloads() {
        let mut run = Run::new(workload, Dispatcher::Matched).unwrap();
        let mut outputs = std::collections::BTreeSet::new();
        for _ in 0..SCANS {
            run.scan().unwrap();
            outputs.insert(run.outputs().to_vec());
        }
        let least = if workload == "latch" { 2 } else { 100 };
        assert!(outputs.len() >= least, "{workload}: {} states of the outputs", outputs.len());
    }
}

#[test]
fn the_bench_runs_the_same_scans() {
    // The stimulus as a file for the virtual bench, against the one that is written into the process image.
    let options = ReplayOptions { until_ns: Some(SCANS as i64 * SCAN_NS), ..ReplayOptions::default() };
    let source = source("rungs").unwrap();
    let replayed = workbench::run(&source, None, Some(&stimulus()), &options).unwrap();
    let mut run = Run::new("rungs", Dispatcher::best()).unwrap();
    run.scan_times(SCANS).unwrap();
    let outputs = replayed.recording.rows.iter().filter(|row| matches!(row.role, Role::Output { .. }));
    let values: Vec<_> = outputs.map(|row| row.signal.value_at(SCANS as u32 - 1).clone()).collect();
    let bits = run.outputs().iter().flat_map(|byte| (0..8).map(move |bit| Value::Bool(byte >> bit & 1 != 0)));
    assert_eq!(values.len(), 48);
    assert_eq!(values, bits.take(48).collect::<Vec<_>>());
}

#[test]
fn c_gives_the_recorded_checksums() {
    if Command::new("cc").arg("--version").output().is_err() {
        return;
    }
    let built = tempfile::tempdir().unwrap();
    for workload in workloads() {
        let program = built.path().join(workload);
        let source = folder().join(workload).join(format!("{workload}.c"));
        output(
            Command::new("cc")
                .args(["-std=c11", "-O1", "-ffp-contract=off", "-I"])
                .arg(folder())
                .arg(folder().join("runner.c"))
                .arg(source)
                .arg("-o")
                .arg(&program),
        );
        let printed = output(Command::new(&program).arg(SCANS.to_string())).unwrap();
        let printed = String::from_utf8(printed.stdout).unwrap();
        assert_eq!(printed.trim(), format!("checksum {}", recorded(workload)), "{workload}");
    }
}

#[test]
fn lua_gives_the_recorded_checksums() {
    for interpreter in ["lua5.4", "luajit"] {
        for workload in workloads() {
            let mut command = Command::new(interpreter);
            command.current_dir(folder()).args(["runner.lua", ".", workload, &SCANS.to_string()]);
            let Some(printed) = output(&mut command) else { break };
            let printed = String::from_utf8(printed.stdout).unwrap();
            assert_eq!(
                printed.trim(),
                format!("checksum {}", recorded(workload)),
                "{workload}, {interpreter}"
            );
        }
    }
}

#[test]
fn rungs_are_those_of_their_generator() {
    let written = tempfile::tempdir().unwrap();
    let generator = folder().join("make-rungs");
    if output(Command::new("python3").arg(generator).arg(written.path())).is_none() {
        return;
    }
    let text = |folder: &Path, file: &str| fs::read_to_string(folder.join(file)).unwrap();
    for file in ["rungs.st", "rungs.c", "rungs.lua"] {
        assert_eq!(text(&folder().join("rungs"), file), text(written.path(), file), "{file}");
    }
}
