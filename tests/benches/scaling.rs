//! Time and memory of the compiler at 10,000, 100,000 and 1,000,000 generated lines, from text to image: both
//! must stay in proportion to the lines.
//!
//! `cargo bench -p latchwork-tests --bench scaling` prints a table. Memory is the highest amount allocated at one
//! time, the source text included. Other sizes can be given: `-- 20000 40000`.

use std::time::{Duration, Instant};

use latchwork_compiler::compile;
use latchwork_grammar::Sources;
use latchwork_tests::generate;
use peak_alloc::PeakAlloc;

#[global_allocator]
static ALLOCATOR: PeakAlloc = PeakAlloc;

/// Sizes of the projects in lines.
const SIZES: [usize; 3] = [10_000, 100_000, 1_000_000];

/// Lines compiled in all runs of one size together; the fastest run counts.
const LINES_A_SIZE: usize = 300_000;

/// A text in files of at most about eight million bytes, as an engineer would divide it.
fn files(text: &str) -> Vec<&str> {
    const FILE_BYTES: usize = 8_000_000;
    const BOUNDARY: &str = "END_FUNCTION_BLOCK\n";
    let mut files = Vec::new();
    let mut rest = text;
    while let Some(end) = rest.get(FILE_BYTES..).and_then(|tail| tail.find(BOUNDARY)) {
        let (file, tail) = rest.split_at(FILE_BYTES + end + BOUNDARY.len());
        files.push(file);
        rest = tail;
    }
    files.push(rest);
    files
}

#[allow(clippy::print_stdout, reason = "the table is what the benchmark is for")]
fn main() {
    let asked: Vec<usize> = std::env::args().filter_map(|argument| argument.parse().ok()).collect();
    let sizes = if asked.is_empty() { SIZES.to_vec() } else { asked };
    println!("    lines        time   lines/s   time/line   peak memory   bytes/source byte");
    for size in sizes {
        let text = generate::project(size);
        let (lines, bytes) = (text.lines().count(), text.len());
        let mut sources = Sources::new();
        for (number, file) in files(&text).iter().enumerate() {
            sources.add(format!("project{number}.st").as_str(), *file);
        }
        drop(text);
        let before = ALLOCATOR.current_usage();
        ALLOCATOR.reset_peak_usage();
        let mut fastest = Duration::MAX;
        for _ in 0..LINES_A_SIZE.div_ceil(size.max(1)) {
            let start = Instant::now();
            let compiled = compile(&sources);
            fastest = fastest.min(start.elapsed());
            assert!(compiled.image.is_some(), "the generated project has no errors");
        }
        let peak = ALLOCATOR.peak_usage() - before + bytes;
        let seconds = fastest.as_secs_f64();
        println!(
            "{lines:>9} {:>8.1} ms {:>9.0} {:>8.0} ns {:>10.1} MB {:>19.1}",
            seconds * 1e3,
            lines as f64 / seconds,
            seconds * 1e9 / lines as f64,
            peak as f64 / 1e6,
            peak as f64 / bytes as f64
        );
    }
}
