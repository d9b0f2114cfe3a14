//! Time of the compiler at 10,000, 100,000 and 1,000,000 generated lines, from text to the verified program, on one core:
//! it must stay in proportion to the lines.
//!
//! `cargo bench -p latchwork-tests --bench scaling` prints a table: from text to image, then from the image to the
//! program, which is verified completely and decoded for the machine, and both together. Texts are in memory before, and
//! nothing is given back within the time but what the compiler itself gives back. Other sizes can be given:
//! `-- 20000 40000`. Memory has a benchmark of its own, `memory`, because counting takes time, and a list that grows is
//! always copied by the allocator that counts.

use std::time::{Duration, Instant};

use latchwork_compiler::compile;
use latchwork_tests::generate;
use latchwork_vm::Program;

/// That of the command.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// Sizes of the projects in lines.
const SIZES: [usize; 3] = [10_000, 100_000, 1_000_000];

/// Lines compiled in all runs of one size together; the fastest run counts.
const LINES_A_SIZE: usize = 3_000_000;

#[allow(clippy::print_stdout, reason = "the table is what the benchmark is for")]
fn main() {
    let asked: Vec<usize> = std::env::args().filter_map(|argument| argument.parse().ok()).collect();
    let sizes = if asked.is_empty() { SIZES.to_vec() } else { asked };
    println!("    lines   text to image   image to program           both   time/line     lines/s");
    for size in sizes {
        let sources = generate::project_files(size);
        let lines: usize = sources.iter().map(|(_, file)| file.text.lines().count()).sum();
        let (mut compiling, mut loading) = (Duration::MAX, Duration::MAX);
        for _ in 0..LINES_A_SIZE.div_ceil(size.max(1)) {
            // The table of lines is made within the time, once a run.
            let sources = sources.clone();
            let start = Instant::now();
            let compiled = compile(&sources);
            let compiled_in = start.elapsed();
            let Some(image) = compiled.image else { panic!("the generated project has errors") };
            let start = Instant::now();
            let program = Program::load(image, latchwork_stdlib::natives());
            let loaded_in = start.elapsed();
            assert!(program.is_ok(), "what the compiler makes passes the verifier");
            if compiled_in + loaded_in < compiling.saturating_add(loading) {
                (compiling, loading) = (compiled_in, loaded_in);
            }
        }
        let seconds = (compiling + loading).as_secs_f64();
        println!(
            "{lines:>9} {:>12.1} ms {:>15.1} ms {:>11.1} ms {:>8.0} ns {:>11.0}",
            compiling.as_secs_f64() * 1e3,
            loading.as_secs_f64() * 1e3,
            seconds * 1e3,
            seconds * 1e9 / lines as f64,
            lines as f64 / seconds
        );
    }
}
