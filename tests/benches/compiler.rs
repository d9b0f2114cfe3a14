//! Lines per second of the compiler on 100,000 generated lines: parsing alone, parsing with checking, all.
//!
//! `cargo bench -p latchwork-tests --bench compiler`.

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use latchwork_compiler::{check::check, compile};
use latchwork_grammar::{FileId, Names, Sources, parse};
use latchwork_tests::generate;

fn compiler(criterion: &mut Criterion) {
    let text = generate::project(100_000);
    let lines = text.lines().count() as u64;
    let mut sources = Sources::new();
    sources.add("project.st", text.as_str());
    let mut group = criterion.benchmark_group("compiler");
    group.throughput(Throughput::Elements(lines));
    group.sample_size(10);
    group.bench_function("parse", |bencher| {
        bencher.iter(|| {
            let mut names = Names::new();
            black_box(parse(FileId(0), &text, &mut names))
        });
    });
    group.bench_function("parse and check", |bencher| {
        bencher.iter(|| {
            let mut names = Names::new();
            let trees = [parse(FileId(0), &text, &mut names).tree];
            black_box(check(&trees, &sources, &mut names))
        });
    });
    group.bench_function("compile", |bencher| {
        bencher.iter(|| black_box(compile(&sources)));
    });
    group.finish();
}

criterion_group!(benches, compiler);
criterion_main!(benches);
