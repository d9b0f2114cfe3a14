//! Scans per second of the control workloads of `tests/speed`.
//!
//! `cargo bench -p latchwork-tests --bench control`. Times depend on the computer; `tests/speed/compare` lays them beside
//! those of other ways to run the same work, and counts instructions.

#![allow(clippy::unwrap_used, reason = "a benchmark without its workload has nothing to measure")]

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use latchwork_tests::control::{Run, workloads};
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

criterion_group!(benches, control);
criterion_main!(benches);
