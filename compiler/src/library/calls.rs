//! The calls that show a function block at work, made by running it.

use std::{fmt::Write as _, sync::Arc};

use latchwork_grammar::Sources;
use latchwork_stdlib::BlockDefinition;
use latchwork_vm::{Machine, Program, Recorder, Section, Value, trace::Trace};

use super::declaration::members;

/// What a block gave, call by call.
#[derive(Clone, Debug)]
pub struct Calls {
    /// The block.
    pub block: &'static BlockDefinition,
    /// Time from one call to the next, in nanoseconds.
    pub interval_ns: i64,
    /// The input that stays as it is, `PT := T#400ms`; empty if there is none.
    pub preset: String,
    /// The recorded inputs, then the outputs, under their names; one scan for each call.
    pub trace: Trace,
    /// How many of the signals are inputs.
    pub inputs: usize,
}

impl Calls {
    /// A row for each call: its time in milliseconds, inputs, outputs.
    pub fn rows(&self) -> Vec<Vec<String>> {
        let scans = self.trace.scans.iter().enumerate();
        scans
            .map(|(index, scan)| {
                let time = (scan.time_ns / 1_000_000).to_string();
                // A block has far fewer calls than fit.
                let values =
                    self.trace.signals.iter().map(|signal| cell(&signal.value_at(index as u32).to_string()));
                std::iter::once(time).chain(values).collect()
            })
            .collect()
    }

    /// The headings of the rows.
    pub fn headings(&self) -> Vec<&str> {
        std::iter::once("ms").chain(self.trace.signals.iter().map(|signal| signal.name.as_str())).collect()
    }
}

fn cell(value: &str) -> String {
    match value {
        "TRUE" => "1",
        "FALSE" => "0",
        other => other,
    }
    .to_owned()
}

/// The program that calls a block once in every scan.
fn source(block: &BlockDefinition) -> String {
    let example = &block.example;
    let mut text = String::from("PROGRAM Example\nVAR\n");
    for (input, _) in example.levels {
        // Writing to a string cannot fail, here and below.
        let _ = writeln!(text, "    In_{input} : BOOL;");
    }
    let shown = block.members.iter().filter(|member| !member.hidden && member.section == Section::Output);
    for output in shown {
        let _ = writeln!(text, "    Out_{} : {};", output.name, output.ty.name());
    }
    let _ = writeln!(text, "    Shown : {};\nEND_VAR", block.name);
    let mut arguments: Vec<String> =
        example.levels.iter().map(|(input, _)| format!("{input} := In_{input}")).collect();
    arguments.extend(preset(block));
    arguments
        .extend(members(block, Section::Output).iter().map(|output| format!("{output} => Out_{output}")));
    let _ = writeln!(text, "    Shown({});\nEND_PROGRAM", arguments.join(", "));
    text
}

fn preset(block: &BlockDefinition) -> Option<String> {
    let (name, value) = block.example.preset;
    (!name.is_empty()).then(|| format!("{name} := {value}"))
}

/// Runs the example of a block.
///
/// # Errors
/// Why the example cannot run, for whoever wrote it; the tests run all examples.
pub fn calls(block: &'static BlockDefinition) -> Result<Calls, String> {
    let mut sources = Sources::new();
    sources.add("example.st", source(block));
    let compiled = crate::compile(&sources);
    let Some(image) = compiled.image else {
        return Err(crate::render::text(&compiled.diagnostics, &sources, false));
    };
    let program = Program::load(image, latchwork_stdlib::natives()).map_err(|error| error.to_string())?;
    let program = Arc::new(program);
    let mut machine = Machine::new(Arc::clone(&program));
    let place = |name: String| program.resolve(&name).map_err(|error| format!("{name}: {error}"));
    let inputs = block.example.levels;
    let mut places = Vec::new();
    for (input, _) in inputs {
        places.push(place(format!("In_{input}"))?);
    }
    let mut recorded = places.clone();
    for output in members(block, Section::Output) {
        recorded.push(place(format!("Out_{output}"))?);
    }
    let mut recorder = Recorder::new(&program, recorded);
    let interval_ns = i64::from(block.example.interval_ms) * 1_000_000;
    let count = inputs.first().map_or(0, |(_, levels)| levels.len());
    for call in 0..count {
        for ((_, levels), place) in inputs.iter().zip(&places) {
            let level = levels.as_bytes().get(call) == Some(&b'1');
            machine.write(place, &Value::Bool(level)).map_err(|error| error.to_string())?;
        }
        // Few calls, milliseconds apart.
        let now = call as i64 * interval_ns;
        machine.scan(now).map_err(|fault| fault.kind.text().to_owned())?;
        recorder.record(&machine, now);
    }
    let mut trace = recorder.finish();
    // The signals are in the order in which they were recorded.
    let names = inputs.iter().map(|(input, _)| *input).chain(members(block, Section::Output));
    for (signal, name) in trace.signals.iter_mut().zip(names) {
        signal.name = name.to_owned();
    }
    Ok(Calls { block, interval_ns, preset: preset(block).unwrap_or_default(), trace, inputs: inputs.len() })
}
