//! A run with 200 recorded variables, some of which change often: what a recording takes in memory.

use std::{fmt::Write, sync::Arc};

use latchwork_bench::replay::ReplayOptions;
use latchwork_compiler::{CompileOptions, compile_with};
use latchwork_grammar::Sources;
use latchwork_vm::Program;

use crate::workbench;

/// Variables that count in every scan.
const COUNTS: usize = 5;
/// Variables that change every tenth scan, as measured values do.
const LEVELS: usize = 20;
/// BOOL variables that change every 200 to 375 scans.
const LAMPS: usize = 175;

/// The program, and a run of it with a scan every millisecond for so many milliseconds.
///
/// # Errors
/// What the compiler says against the program.
pub fn recorded_run(milliseconds: i64) -> Result<(Arc<Program>, ReplayOptions), String> {
    let (text, names) = busy();
    Ok((workbench::program(&text)?, options(milliseconds, names)))
}

/// The same with an account of what every statement does.
///
/// # Errors
/// What the compiler says against the program.
pub fn accounted_run(milliseconds: i64) -> Result<(Arc<Program>, ReplayOptions), String> {
    let (text, names) = busy();
    let mut sources = Sources::new();
    sources.add("program", text);
    let compiled = compile_with(&sources, &CompileOptions { journal: true, ..CompileOptions::default() });
    let Some(image) = compiled.image else { return Err(workbench::text(&compiled.diagnostics, &sources)) };
    let program = Program::load(image, latchwork_stdlib::natives()).map_err(|error| error.to_string())?;
    let account = compiled.logic.map(Arc::new);
    Ok((Arc::new(program), ReplayOptions { account, ..options(milliseconds, names) }))
}

fn options(milliseconds: i64, names: Vec<String>) -> ReplayOptions {
    ReplayOptions {
        scan_ns: 1_000_000,
        until_ns: Some(milliseconds.saturating_mul(1_000_000)),
        record: Some(names),
        ..ReplayOptions::default()
    }
}

/// The text of the program, and the names of its 200 variables.
fn busy() -> (String, Vec<String>) {
    let mut text = String::from("PROGRAM Busy\nVAR\n  Scan : DINT;\n");
    let mut body = String::from("Scan := Scan + 1;\n");
    let mut names = Vec::new();
    // Writing into a string cannot fail.
    for count in 0..COUNTS {
        names.push(format!("Count{count}"));
        let _ = writeln!(text, "  Count{count} : DINT;");
        let _ = writeln!(body, "Count{count} := Count{count} + {};", count * count * count + 1);
    }
    for lamp in 0..LAMPS {
        names.push(format!("Lamp{lamp}"));
        let _ = writeln!(text, "  Lamp{lamp} : BOOL;");
        let _ = writeln!(body, "Lamp{lamp} := (Scan / {}) MOD 2 = 1;", 200 + lamp);
    }
    body.push_str("IF Scan MOD 10 = 0 THEN\n");
    for level in 0..LEVELS {
        names.push(format!("Level{level}"));
        let (kind, formula) = match level % 2 {
            0 => ("DINT", format!("(Level{level} * 17 + Scan) MOD 27649")),
            _ => ("REAL", format!("Level{level} * 0.9 + DINT_TO_REAL(Scan MOD {})", 97 + level)),
        };
        let _ = writeln!(text, "  Level{level} : {kind};");
        let _ = writeln!(body, "  Level{level} := {formula};");
    }
    body.push_str("END_IF;\nEND_PROGRAM\n");
    text.push_str("END_VAR\n");
    text.push_str(&body);
    (text, names)
}
