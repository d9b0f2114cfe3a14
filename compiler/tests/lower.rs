//! Source lines with the instructions they become, as snapshots of every program in `tests/lower/`.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a failing test may panic")]

use std::{fmt::Write as _, fs};

use latchwork_compiler::compile;
use latchwork_grammar::Sources;
use latchwork_vm::{Program, unit_listing};

/// The listing of each unit beside its source lines.
fn listing(text: &str) -> String {
    let mut sources = Sources::new();
    sources.add("program.st", text);
    let compilation = compile(&sources);
    let mut out = String::new();
    let Some(image) = compilation.image else {
        for diagnostic in compilation.diagnostics {
            writeln!(out, "{}: {}", diagnostic.name, diagnostic.message).unwrap();
        }
        return out;
    };
    // What is shown must also be accepted.
    Program::load(image.clone(), latchwork_stdlib::natives()).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    for (unit, index) in image.units.iter().zip(0..) {
        writeln!(out, "{} ({} bytes of instance)", unit.name, unit.instance_bytes).unwrap();
        let mut shown = 0;
        for instruction in unit_listing(&image, index) {
            let line = instruction.place.map_or(0, |place| place.line);
            if line != shown {
                let source = lines.get((line as usize).wrapping_sub(1)).unwrap_or(&"").trim();
                writeln!(out, "  {line:>3} | {source}").unwrap();
                shown = line;
            }
            writeln!(out, "      {:>4}  {}", instruction.index, instruction.text).unwrap();
        }
    }
    out
}

#[test]
fn listings() {
    insta::glob!("lower/*.st", |path| {
        let text = fs::read_to_string(path).unwrap();
        insta::assert_snapshot!(listing(&text));
    });
}
