//! Memory of the compiler at 10,000, 100,000 and 1,000,000 generated lines, from text to the verified program: it must
//! stay in proportion to the bytes of the text.
//!
//! `cargo bench -p latchwork-tests --bench memory` prints a table of the highest amounts allocated at one time, the text
//! included: until the image is there, and until the program is there that was verified and decoded from it. Other sizes
//! can be given: `-- 20000 40000`.

use latchwork_compiler::compile;
use latchwork_tests::generate;
use latchwork_vm::Program;
use peak_alloc::PeakAlloc;

#[global_allocator]
static ALLOCATOR: PeakAlloc = PeakAlloc;

/// Sizes of the projects in lines.
const SIZES: [usize; 3] = [10_000, 100_000, 1_000_000];

#[allow(clippy::print_stdout, reason = "the table is what the benchmark is for")]
fn main() {
    let asked: Vec<usize> = std::env::args().filter_map(|argument| argument.parse().ok()).collect();
    let sizes = if asked.is_empty() { SIZES.to_vec() } else { asked };
    println!("    lines   peak to the image, a source byte   peak to the program   a source byte");
    for size in sizes {
        let sources = generate::project_files(size);
        let texts = || sources.iter().map(|(_, file)| &file.text);
        let lines: usize = texts().map(|text| text.lines().count()).sum();
        let bytes: usize = texts().map(|text| text.len()).sum();
        let before = ALLOCATOR.current_usage();
        let peak = || (ALLOCATOR.peak_usage() - before + bytes) as f64;
        ALLOCATOR.reset_peak_usage();
        let compiled = compile(&sources);
        let compiling = peak();
        let Some(image) = compiled.image else { panic!("the generated project has errors") };
        let program = Program::load(image, latchwork_stdlib::natives());
        assert!(program.is_ok(), "what the compiler makes passes the verifier");
        let both = peak();
        println!(
            "{lines:>9} {:>17.1} MB {:>11.1} {:>18.1} MB {:>15.1}",
            compiling / 1e6,
            compiling / bytes as f64,
            both / 1e6,
            both / bytes as f64
        );
    }
}
