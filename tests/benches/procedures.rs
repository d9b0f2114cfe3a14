//! Procedures per second on the sample station: one that passes, one that fails and is run again to be explained, and
//! the scans of a long one with two rules that hold throughout.
//!
//! `cargo bench -p latchwork-tests --bench procedures`.

#![allow(clippy::unwrap_used, reason = "a benchmark without its sample has nothing to measure")]

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use latchwork_bench::procedure::{RunOptions, Script, ScriptParts};
use latchwork_grammar::{Names, Sources, parse_steps};
use latchwork_tests::workbench::{self, sample};

const STEPS: &str = "
procedure 'passes'
  press StartPB for T#50ms;
  expect Request AND V1;
  expect P1 within T#800ms;
  press StopPB;
  expect NOT V1 within T#510ms;
end_procedure

procedure 'fails'
  press StartPB for T#50ms;
  press StopPB;
  expect NOT V1 within T#20ms;
end_procedure

procedure 'is long'
  always Stop OR NOT Request;
  whenever StopPB then NOT P1 within T#20ms;
  press StartPB for T#50ms;
  wait T#100s;
end_procedure
";

fn procedures(criterion: &mut Criterion) {
    let program = workbench::program(&sample("transfer-pump/pump.st").unwrap()).unwrap();
    let station = workbench::station_of("transfer-pump").unwrap();
    let mut sources = Sources::new();
    let file = sources.add("pump.steps", STEPS);
    let mut names = Names::new();
    let files = [parse_steps(file, STEPS, &mut names).tree];
    let (script, _) = Script::new(ScriptParts {
        files: &files,
        program,
        station: Some(&station),
        sources: &sources,
        names: &names,
    });
    let options = RunOptions::default();
    let passed = [0, 1, 2].map(|index| script.run(index, &options).passed());
    assert_eq!(passed, [true, false, true], "what is measured is what the names say");
    let mut group = criterion.benchmark_group("procedures");
    for (index, name) in ["passes", "fails"].into_iter().enumerate() {
        group.throughput(Throughput::Elements(1));
        group.bench_function(name, |bencher| bencher.iter(|| black_box(script.run(index, &options))));
    }
    group.throughput(Throughput::Elements(script.run(2, &options).scans));
    group.sample_size(20);
    group.bench_function("scans with two rules", |bencher| {
        bencher.iter(|| black_box(script.run(2, &options)));
    });
    group.finish();
}

criterion_group!(benches, procedures);
criterion_main!(benches);
