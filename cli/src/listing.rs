//! `latchwork listing`: the bytecode of a program beside the source lines it came from, and the tables beside it.

use std::fmt::Write as _;

use latchwork_compiler::render;
use latchwork_grammar::Sources;
use latchwork_vm::{Image, SourcePlace, UnitKind, listing};

use crate::{
    arguments::ListingArguments,
    exit::{Exit, Failure},
    program,
    terminal::Terminal,
};

/// Lists the units in the order in which they lie in the image.
pub(crate) fn run(arguments: &ListingArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    let compiled = program::compiled(&arguments.files, arguments.language, false, terminal)?;
    let mut out = String::new();
    for index in 0..compiled.image.units.len() {
        unit(&compiled.image, index as u32, &compiled.sources, &mut out);
    }
    tables(&compiled.image, &mut out);
    terminal.result(&out)?;
    Ok(Exit::Good)
}

/// Dispatch tables, and the tasks of a configuration. Without one there is but one task, and nothing to say about it.
fn tables(image: &Image, out: &mut String) {
    let configured = image.tasks.len() > 1 || image.tasks.iter().any(|task| !task.cyclic);
    let tasks = if configured { listing::task_listing(image) } else { Vec::new() };
    for table in listing::dispatch_listing(image).into_iter().chain(tasks) {
        // Writing to a string cannot fail.
        let _ = writeln!(out, "\n{}", render::visible(&table.heading));
        for row in table.rows {
            let _ = writeln!(out, "  {}", render::visible(&row));
        }
    }
}

fn unit(image: &Image, index: u32, sources: &Sources, out: &mut String) {
    let Some(unit) = image.units.get(index as usize) else { return };
    let kind = match unit.kind {
        UnitKind::Program => "PROGRAM",
        UnitKind::FunctionBlock => "FUNCTION_BLOCK",
        UnitKind::Function => "FUNCTION",
        UnitKind::Method => "METHOD",
    };
    // Writing to a string cannot fail, here and below.
    let _ = writeln!(out, "{}{kind} {}", if out.is_empty() { "" } else { "\n" }, render::visible(&unit.name));
    let mut shown: Option<SourcePlace> = None;
    for instruction in listing::unit_listing(image, index) {
        if let Some(place) = instruction.place
            && shown.is_none_or(|shown| (shown.file, shown.line) != (place.file, place.line))
        {
            shown = Some(place);
            let _ = writeln!(out, "{}", source_line(image, place, sources));
        }
        let _ = writeln!(out, "  {:>6}  {}", instruction.index, render::visible(&instruction.text));
    }
}

/// `pump.st:14  Pump := (Start OR Pump) AND Stop;`, or only the place when the source is not at hand.
fn source_line(image: &Image, place: SourcePlace, sources: &Sources) -> String {
    let file = image.debug.files.get(place.file as usize).map_or("?", String::as_str);
    let line = sources
        .iter()
        .nth(place.file as usize)
        .filter(|(_, source)| source.name == file)
        .and_then(|(_, source)| source.text.lines().nth((place.line as usize).checked_sub(1)?))
        .unwrap_or("");
    format!("{}:{}  {}", render::visible(file), place.line, render::visible(line.trim()))
        .trim_end()
        .to_string()
}
