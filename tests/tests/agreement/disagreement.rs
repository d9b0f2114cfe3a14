//! Examining a batch, and showing the smallest program on which the dispatchers still disagree.

use std::{
    fmt::Write,
    sync::Arc,
    time::{Duration, Instant},
};

use latchwork_compiler::{CompileOptions, compile_with};
use latchwork_grammar::{Severity, Sources};
use latchwork_tests::{generate::programs::Batch, workbench};
use latchwork_vm::{Image, Program};

use super::course::{Difference, Tally, inputs_of, run};

/// A disagreement: the program of the batch, and what differs.
#[derive(Debug)]
pub struct Disagreement {
    program: usize,
    difference: Difference,
}

/// How long a program is made smaller.
const PATIENCE: Duration = Duration::from_secs(60);

/// Compiles a batch.
pub fn image(batch: &Batch) -> Result<Image, String> {
    let mut sources = Sources::new();
    sources.add("random.st", batch.text());
    let mut compiled =
        compile_with(&sources, &CompileOptions { coverage: batch.observed, ..CompileOptions::default() });
    // Random programs have very many warnings.
    compiled.diagnostics.retain(|diagnostic| diagnostic.severity == Severity::Error);
    compiled.image.ok_or_else(|| workbench::text(&compiled.diagnostics, &sources))
}

/// Runs all programs of a batch on both dispatchers.
///
/// # Errors
/// The first disagreement.
pub fn examine(batch: &Batch, seed: u64) -> Result<Tally, Box<Disagreement>> {
    let refused = |text: String| Box::new(Disagreement { program: 0, difference: Difference::Refused(text) });
    let whole = image(batch).map_err(refused)?;
    let names = batch.programs();
    let runs = if batch.configured { 1 } else { names.len() };
    let mut tally = Tally::default();
    for index in 0..runs {
        let instances = if batch.configured { names.as_slice() } else { &names[index..=index] };
        let inputs = inputs_of(&whole, instances);
        let mut image = whole.clone();
        // Not needed to run.
        image.debug.roots.clear();
        if !batch.configured
            && let [task] = image.tasks.as_mut_slice()
        {
            task.programs = vec![task.programs[index]];
        }
        let program =
            Program::load(image, latchwork_stdlib::natives()).map_err(|error| refused(error.to_string()))?;
        let found = run(&Arc::new(program), &inputs, seed.wrapping_add(index as u64))
            .map_err(|difference| Box::new(Disagreement { program: index, difference }))?;
        tally.add(found);
    }
    Ok(tally)
}

/// The disagreement on the smallest program that was found, as text.
pub fn shrunk(batch: &Batch, seed: u64, found: Disagreement) -> String {
    if let Difference::Refused(text) = &found.difference {
        return format!("the generator writes correct programs (seed {seed})\n{text}");
    }
    let (mut batch, mut found, mut seed) = (batch.clone(), found, seed);
    // Mostly the program fails alone too, with the same inputs.
    let alone = seed.wrapping_add(found.program as u64);
    let smaller = batch.with_program(found.program);
    if let Err(again) = examine(&smaller, alone) {
        (batch, found, seed) = (smaller, *again, alone);
    }
    let begin = Instant::now();
    'smaller: loop {
        for smaller in batch.smaller() {
            if begin.elapsed() > PATIENCE {
                break 'smaller;
            }
            if let Err(again) = examine(&smaller, seed)
                && !matches!(again.difference, Difference::Refused(_))
            {
                (batch, found) = (smaller, *again);
                continue 'smaller;
            }
        }
        break;
    }
    let mut text = format!("the dispatchers disagree (seed {seed})\n{}\n", told(&batch, &found));
    let source = batch.text();
    // The common units are the same in every program.
    let common = Batch::common_lines();
    for (line, content) in source.lines().enumerate().skip(common) {
        let _ = writeln!(text, "{:4} {content}", line + 1);
    }
    text
}

/// What differs, with the name of the variable.
fn told(batch: &Batch, found: &Disagreement) -> String {
    let (scan, address, threaded, matched) = match &found.difference {
        Difference::Told(text) | Difference::Refused(text) => return text.clone(),
        Difference::Byte { scan, address, threaded, matched } => (scan, *address, threaded, matched),
    };
    let mut name = format!("the byte at {address}, of no variable: a frame or a part of an instance");
    if let Some(image) = image(batch).ok()
        && let Ok(program) = Program::load(image, latchwork_stdlib::natives())
    {
        let nearest = program
            .variables()
            .filter(|variable| variable.address as usize <= address)
            .max_by_key(|variable| variable.address);
        if let Some(variable) = nearest {
            let _ = write!(name, "; before it lies {} at {}", variable.name, variable.address);
            if address - (variable.address as usize) < variable.kind.bytes() {
                name = variable.name;
            }
        }
    }
    format!("scan {scan}: {name}\nthreaded: {threaded:#04x}\nplain:    {matched:#04x}")
}
