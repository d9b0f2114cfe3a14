//! Run-time faults and events as text, pointing at the source like a compile error.

use std::fmt::Write as _;

use latchwork_grammar::{Diagnostic, FileId, Sources, Span};
use latchwork_vm::{ElementaryType, EventLog, Fault, FaultPlace, Named, Value};

use super::{lines::Files, text};
use crate::explain::explain;

/// A fault as text: what happened, where in the source (with an excerpt when the source is at hand), in which scan,
/// at which simulated time, and the values that led to it. Scans count from 1.
pub fn fault(fault: &Fault, sources: &Sources, colour: bool) -> String {
    fault_of("", fault, sources, colour)
}

/// As [`fault`], of the plant.
pub fn plant_fault(fault: &Fault, sources: &Sources, colour: bool) -> String {
    fault_of("the plant stopped: ", fault, sources, colour)
}

fn fault_of(who: &str, fault: &Fault, sources: &Sources, colour: bool) -> String {
    let span = fault.place.as_ref().and_then(|place| span(place, sources));
    // A place without its source becomes a note; the span of no file makes the excerpt stay away.
    let nowhere = Span::new(FileId(u32::MAX), 0, 0);
    let message = format!("{who}{}", fault.kind.text());
    let mut shown = Diagnostic::error(fault.kind.name(), span.unwrap_or(nowhere), message);
    let values = named(&fault.values);
    match (&fault.place, span) {
        (_, Some(_)) if !values.is_empty() => shown = shown.label(values),
        (Some(place), None) => {
            shown = shown.note(format!("at {place}"));
            shown.notes.extend((!values.is_empty()).then_some(values));
        }
        _ => shown.notes.extend((!values.is_empty()).then_some(values)),
    }
    let scan = fault.scan.saturating_add(1);
    shown = shown.note(format!("in {}, scan {scan}, at {}", fault.unit, time(fault.time_ns)));
    let files = Files::new(sources, span.into_iter());
    let hint = explain(fault.kind.name()).is_some();
    text::one(&shown, &files, colour, hint).replacen("error", "fault", 1)
}

/// Events as text: for each kind and line what happened, where, how often, and the values of the first time. Empty
/// when there are none.
pub fn events(log: &EventLog) -> String {
    events_of("", log)
}

/// As [`events`], of the plant.
pub fn plant_events(log: &EventLog) -> String {
    events_of("in the plant: ", log)
}

fn events_of(who: &str, log: &EventLog) -> String {
    let mut out = String::new();
    for entry in log.iter() {
        let place = entry.place.as_ref().map_or_else(|| entry.unit.clone(), FaultPlace::to_string);
        let values = named(&entry.values);
        let values = if values.is_empty() { values } else { format!(": {values}") };
        let scan = entry.scan.saturating_add(1);
        let first = format!("scan {scan} at {}{values}", time(entry.time_ns));
        let often = match entry.count {
            1 => format!("once, in {first}"),
            count => format!("{count} times, first in {first}"),
        };
        let (name, text) = (entry.kind.name(), entry.kind.text());
        // Writing to a string cannot fail.
        let _ = writeln!(out, "event[{name}]: {who}{text}\n  at {}, {often}", super::visible(&place));
    }
    out
}

fn named(values: &[Named]) -> String {
    values.iter().map(|(name, value)| format!("{name} {value}")).collect::<Vec<_>>().join(", ")
}

fn time(nanoseconds: i64) -> String {
    Value::Duration(nanoseconds, ElementaryType::Time).to_string()
}

/// The bytes of a place, if its file is among the sources and has that line.
fn span(place: &FaultPlace, sources: &Sources) -> Option<Span> {
    let (id, _) = sources.iter().find(|(_, source)| source.name == place.file)?;
    let file = Span::new(id, 0, 0);
    let files = Files::new(sources, std::iter::once(file));
    let file = files.get(id)?;
    let start = file.offset(place.place.line, place.place.column)?;
    let end = file.offset(place.place.end_line, place.place.end_column).unwrap_or(start);
    Some(Span::new(id, u32::try_from(start).ok()?, u32::try_from(end.max(start)).ok()?))
}
