//! Memory that recordings take: kept as a whole a few bytes a change, handed on while the program runs always the same.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

use std::{fmt, ops::ControlFlow};

use latchwork_bench::{
    export::CsvWriter,
    recording::Row,
    replay::{Follower, replay, replay_followed},
};
use latchwork_tests::recorded_run::recorded_run;
use latchwork_vm::trace::{Changes, ScanRecord};
use peak_alloc::PeakAlloc;

#[global_allocator]
static ALLOCATOR: PeakAlloc = PeakAlloc;

/// Bytes in use at the worst moment of some work, without those in use before it.
fn peak_bytes<T>(work: impl FnOnce() -> T) -> (usize, T) {
    let before = ALLOCATOR.current_usage();
    ALLOCATOR.reset_peak_usage();
    let done = work();
    (ALLOCATOR.peak_usage().saturating_sub(before), done)
}

/// Counts the bytes of a table that it is handed on as.
#[derive(Default)]
struct Counting {
    writer: Option<CsvWriter>,
    bytes: Bytes,
}

#[derive(Default)]
struct Bytes(usize);

impl fmt::Write for Bytes {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        self.0 += text.len();
        Ok(())
    }
}

impl Follower for Counting {
    fn begin(&mut self, rows: &[Row]) {
        self.writer = CsvWriter::begin(rows.iter().map(Row::name), &mut self.bytes).ok();
    }

    fn part(&mut self, scans: &[ScanRecord], changes: &[&Changes]) -> ControlFlow<()> {
        self.writer.as_mut().unwrap().part(scans, changes, &mut self.bytes).unwrap();
        ControlFlow::Continue(())
    }
}

// One test, for memory is counted for the whole process.
#[test]
fn recordings_take_little_memory() {
    const MEBIBYTE: usize = 1024 * 1024;
    let (program, options) = recorded_run(60_000).unwrap();
    let (peak, replayed) = peak_bytes(|| replay(program.clone(), None, None, &options).unwrap());
    let changes: usize = replayed.recording.rows.iter().map(|row| row.signal.changes.len()).sum();
    assert!(changes > 400_000, "{changes} changes are few");
    // A tenth of ten minutes, whose limit is 100 MB.
    assert!(peak < 10 * MEBIBYTE, "{peak} bytes for {changes} changes");
    drop(replayed);

    let followed = |milliseconds: i64| {
        let (program, options) = recorded_run(milliseconds).unwrap();
        let mut follower = Counting::default();
        let (peak, replayed) =
            peak_bytes(|| replay_followed(program, None, None, &options, &mut follower).unwrap());
        assert!(replayed.recording.scans.is_empty());
        assert_eq!(replayed.recording.end_ns, milliseconds * 1_000_000);
        (peak, follower.bytes.0)
    };
    // Both run so long that the machine has turned the program into code of the processor, which takes memory once.
    let ((short_peak, short_bytes), (long_peak, long_bytes)) = (followed(40_000), followed(240_000));
    assert!(long_bytes > 5 * short_bytes, "{short_bytes}, {long_bytes}");
    assert!(short_peak < 10 * MEBIBYTE, "{short_peak}");
    assert!(long_peak < short_peak + short_peak / 10, "{short_peak}, {long_peak}");
}
