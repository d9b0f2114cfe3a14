//! Runs one stage of the compiler on a generated project and nothing else, for an instruction counter such as callgrind,
//! and tells its time and memory.
//!
//! `cargo run --release -p latchwork-tests --example stages -- (generate|lex|parse|check|compile) LINES [RUNS]`
//!
//! `generate` only makes the text: its cost is to be subtracted from that of the others. Bytes are the highest amount
//! allocated at one time and what the result holds, both beside the text.

#![allow(clippy::print_stdout, reason = "a measurement to be read by a person")]

use std::{
    error::Error,
    hint::black_box,
    time::{Duration, Instant},
};

use latchwork_compiler::{check::check, compile};
use latchwork_grammar::{FileId, Names, Sources, parse, tokens};
use latchwork_tests::generate;
use peak_alloc::PeakAlloc;

#[global_allocator]
static ALLOCATOR: PeakAlloc = PeakAlloc;

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (stage, lines, runs) = match arguments.as_slice() {
        [stage, lines] => (stage.as_str(), lines.parse()?, 1),
        [stage, lines, runs] => (stage.as_str(), lines.parse()?, runs.parse()?),
        _ => {
            return Err("wanted: a stage (generate, lex, parse, check, compile) and a number of lines".into());
        }
    };
    let text = generate::project(lines);
    let (lines, bytes) = (text.lines().count() as f64, text.len() as f64);
    let mut sources = Sources::new();
    sources.add("project.st", text.as_str());
    let before = ALLOCATOR.current_usage();
    ALLOCATOR.reset_peak_usage();
    let mut held = 0;
    let mut fastest = Duration::MAX;
    for _ in 0..runs {
        let start = Instant::now();
        let mut names = Names::new();
        match stage {
            "generate" => {}
            "lex" => {
                let lexed = black_box(tokens(FileId(0), &text, &mut names));
                fastest = fastest.min(start.elapsed());
                held = ALLOCATOR.current_usage() - before;
                drop(lexed);
            }
            "parse" => {
                let parsed = black_box(parse(FileId(0), &text, &mut names));
                fastest = fastest.min(start.elapsed());
                held = ALLOCATOR.current_usage() - before;
                drop(parsed);
            }
            "check" => {
                let trees = [parse(FileId(0), &text, &mut names).tree];
                let checked = black_box(check(&trees, &sources, &mut names));
                fastest = fastest.min(start.elapsed());
                held = ALLOCATOR.current_usage() - before;
                drop(checked);
            }
            "compile" => {
                let compiled = black_box(compile(&sources));
                fastest = fastest.min(start.elapsed());
                held = ALLOCATOR.current_usage() - before;
                drop(compiled);
            }
            other => return Err(format!("there is no stage {other}").into()),
        }
    }
    let seconds = fastest.as_secs_f64();
    println!(
        "{stage}: {lines} lines of {:.1} bytes, {:.0} ns a line, {:.0} lines/s; {:.1} bytes held, {:.1} at most, a source byte",
        bytes / lines,
        seconds * 1e9 / lines,
        lines / seconds,
        held as f64 / bytes,
        (ALLOCATOR.peak_usage() - before) as f64 / bytes
    );
    Ok(())
}
