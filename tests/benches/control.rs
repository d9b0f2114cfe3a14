//! Scans per second of the control workloads of `tests/speed`; and of one of them on the virtual bench, as `latchwork
//! run` runs it, with different recordings.
//!
//! `cargo bench -p latchwork-tests --bench control`. Times depend on the computer; `tests/speed/compare` lays them beside
//! those of other ways to run the same work, and counts instructions.

#![allow(clippy::print_stderr, reason = "a benchmark reports what criterion does not count")]
#![allow(clippy::unwrap_used, reason = "a benchmark without its workload has nothing to measure")]

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use latchwork_bench::{
    replay::{ReplayOptions, replay},
    stimulus::Stimulus,
};
use latchwork_grammar::Sources;
use latchwork_tests::{
    control::{self, Run, SCAN_NS, STEPS, workloads},
    workbench,
};
use latchwork_vm::Dispatcher;

/// Scans in one iteration of the measurement.
const SCANS: u64 = 64;

fn control(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("control");
    group.throughput(Throughput::Elements(SCANS));
    for workload in workloads() {
        let mut run = Run::new(workload, Dispatcher::best()).unwrap();
        group.bench_function(workload, |bencher| {
            bencher.iter(|| black_box(run.scan_times(SCANS).unwrap()));
        });
    }
    group.finish();
}

/// The rungs, with nothing recorded, with what is recorded by default (the inputs and outputs), and with all variables.
fn recording(criterion: &mut Criterion) {
    let program = workbench::program(&control::source("rungs").unwrap()).unwrap();
    let mut sources = Sources::new();
    let text = control::stimulus();
    let file = sources.add("stimulus.csv", text.as_str());
    let (stimulus, diagnostics) = Stimulus::parse(file, &text, &program, None);
    assert!(diagnostics.is_empty(), "{}", workbench::text(&diagnostics, &sources));
    let everything = program.variables().map(|variable| variable.name).collect();
    let mut group = criterion.benchmark_group("recording");
    group.throughput(Throughput::Elements(STEPS as u64)).sample_size(20);
    for (name, record) in
        [("nothing", Some(Vec::new())), ("terminals", None), ("everything", Some(everything))]
    {
        let until_ns = Some(STEPS as i64 * SCAN_NS);
        let options = ReplayOptions { scan_ns: SCAN_NS, until_ns, record, ..ReplayOptions::default() };
        let run = || replay(program.clone(), None, stimulus.as_ref(), &options).unwrap();
        let replayed = run();
        assert_eq!(replayed.recording.scans.len(), STEPS);
        eprintln!("recording {name}: {} rows", replayed.recording.rows.len());
        group.bench_function(name, |bencher| bencher.iter(|| black_box(run())));
    }
    group.finish();
}

criterion_group!(benches, control, recording);
criterion_main!(benches);
