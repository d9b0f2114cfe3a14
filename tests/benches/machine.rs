//! Scans per second and instructions per scan, for the sample station, 200 Boolean rungs and 400 standard
//! function blocks.
//!
//! `cargo bench -p latchwork-tests --bench machine`. Times depend on the computer; the instruction counts
//! printed before them do not.

#![allow(clippy::print_stderr, reason = "a benchmark reports what criterion does not count")]

use std::{hint::black_box, sync::Arc};

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use latchwork_tests::{
    generate,
    workbench::{self, sample},
};
use latchwork_vm::{Machine, Program};

const SCAN_NS: i64 = 10_000_000;

fn bench(criterion: &mut Criterion, name: &str, program: Arc<Program>) {
    let mut machine = Machine::new(program);
    let mut now = 0;
    let mut instructions = 0;
    for _ in 0..1000 {
        instructions += machine.scan(now).map_or(0, |summary| summary.instructions);
        now += SCAN_NS;
    }
    eprintln!("{name}: {} bytecode instructions a scan (mean of 1000 scans)", instructions as f64 / 1000.0);
    let mut group = criterion.benchmark_group("scans");
    group.throughput(Throughput::Elements(1));
    group.bench_function(name, |bencher| {
        bencher.iter(|| {
            now += SCAN_NS;
            black_box(machine.scan(black_box(now)).is_ok())
        });
    });
    group.finish();
}

fn machine(criterion: &mut Criterion) {
    let sources = [
        ("transfer pump", sample("transfer-pump/pump.st")),
        ("transfer pump, instruction list", sample("transfer-pump/pump.il")),
        ("200 rungs", Ok(generate::boolean_rungs(200))),
        ("400 standard blocks", Ok(generate::standard_blocks(50))),
    ];
    for (name, source) in sources {
        match source.and_then(|source| workbench::program(&source)) {
            Ok(program) => bench(criterion, name, program),
            Err(message) => eprintln!("{name}: {message}"),
        }
    }
}

criterion_group!(benches, machine);
criterion_main!(benches);
