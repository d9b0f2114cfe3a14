//! What recording costs: scans of 200 rungs without a recorder, with one for inputs and outputs, with one for everything;
//! and ten minutes of scans a millisecond apart with 200 recorded variables, kept as a whole and written while they run.
//!
//! `cargo bench -p latchwork-tests --bench recorder`.

#![allow(clippy::unwrap_used, reason = "a benchmark without its program has nothing to measure")]
#![allow(clippy::print_stdout, reason = "measurements to be read by a person")]

use std::{fmt, hint::black_box, ops::ControlFlow, time::Instant};

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use latchwork_bench::{
    export::VcdWriter,
    recording::Row,
    replay::{Follower, replay, replay_followed},
};
use latchwork_tests::{
    recorded_run::{accounted_run, recorded_run},
    rung_recording::{Recorded, RungRecording},
};
use latchwork_vm::trace::{Changes, ScanRecord};
use peak_alloc::PeakAlloc;

#[global_allocator]
static ALLOCATOR: PeakAlloc = PeakAlloc;

const MEBIBYTE: f64 = 1024.0 * 1024.0;

fn scans(criterion: &mut Criterion) {
    const SCANS: u64 = 1000;
    let mut group = criterion.benchmark_group("recorder/200 rungs");
    group.throughput(Throughput::Elements(SCANS));
    let recorded = [
        ("nothing", Recorded::Nothing),
        ("inputs and outputs", Recorded::Terminals),
        ("everything", Recorded::Everything),
    ];
    for (name, recorded) in recorded {
        let mut run = RungRecording::new(recorded).unwrap();
        group.bench_function(name, |bencher| {
            bencher.iter(|| {
                run.scans(SCANS as i64).unwrap();
                // What is recorded must not fill the memory however long is measured.
                run.forget();
            });
        });
    }
    group.finish();
}

/// Takes a dump and forgets it.
#[derive(Default)]
struct Forgetting {
    writer: Option<VcdWriter>,
    bytes: Bytes,
}

#[derive(Default)]
struct Bytes(usize);

impl fmt::Write for Bytes {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        self.0 += black_box(text).len();
        Ok(())
    }
}

impl Follower for Forgetting {
    fn begin(&mut self, rows: &[Row]) {
        self.writer = Some(VcdWriter::new(rows, [1_000_000].into_iter()));
    }

    fn part(&mut self, scans: &[ScanRecord], changes: &[&Changes]) -> ControlFlow<()> {
        self.writer.as_mut().unwrap().part(scans, changes, &mut self.bytes).unwrap();
        ControlFlow::Continue(())
    }
}

fn ten_minutes(_: &mut Criterion) {
    let (program, options) = recorded_run(600_000).unwrap();
    let measure = |name: &str, work: &mut dyn FnMut() -> String| {
        let before = ALLOCATOR.current_usage();
        ALLOCATOR.reset_peak_usage();
        let begun = Instant::now();
        let done = work();
        let seconds = begun.elapsed().as_secs_f64();
        let peak = ALLOCATOR.peak_usage().saturating_sub(before) as f64 / MEBIBYTE;
        println!("ten minutes, 200 variables, {name}: {seconds:.2} s, at most {peak:.1} MiB, {done}");
    };
    measure("kept as a whole", &mut || {
        let replayed = replay(program.clone(), None, None, &options).unwrap();
        let changes: usize = replayed.recording.rows.iter().map(|row| row.signal.changes.len()).sum();
        format!("{changes} changes")
    });
    measure("written as a dump while it runs", &mut || {
        let mut follower = Forgetting::default();
        replay_followed(program.clone(), None, None, &options, &mut follower).unwrap();
        format!("{} bytes written", follower.bytes.0)
    });
    // A tenth of the scans: nobody keeps account of more at once.
    let (program, options) = accounted_run(60_000).unwrap();
    measure("kept with an account, one minute", &mut || {
        let account = replay(program.clone(), None, None, &options).unwrap().account.unwrap();
        format!("{} scans, complete: {}", account.scans(), account.is_complete())
    });
}

criterion_group!(benches, scans, ten_minutes);
criterion_main!(benches);
