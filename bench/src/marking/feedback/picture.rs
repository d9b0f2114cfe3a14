//! What a program did where it failed, and beneath it what is expected there: pictures, the moment in words, a table.

use latchwork_vm::Value;

use super::{
    changes::{LINES_MAX, changes, spoken},
    model::{Block, Table, Text},
    parting::{Pair, Parting, decisive, pairs},
};
use crate::{
    diagram::{
        Diagram, DiagramOptions, counted,
        lane::Lane,
        mark::Mark,
        scale::time_text,
        words::{Heading, harmless, heading},
    },
    marking::names::without_folder,
    procedure::{Failure, FailureKind, report::sight},
    recording::{Recording, Role, Row},
};

/// Most loads shown where the step says nothing of any load.
const LOADS_MAX: usize = 6;
/// The moment at which the runs part is shown if it lies at most so many times the rest before it.
const REACH: i64 = 12;
/// Scans shown before that moment.
const SCANS_BEFORE: i64 = 8;

/// What is to be seen of a failure; nothing where there is nothing.
pub(super) fn blocks<'a>(failure: &'a Failure, expected: Option<&'a Recording>) -> Vec<Block<'a>> {
    let mut seen = sight(failure);
    seen.diagrams.iter_mut().for_each(without_path);
    let Some(first) = seen.diagrams.first() else { return Vec::new() };
    if matches!(failure.kind, FailureKind::Trace(_)) {
        // It shows what is expected above what was.
        let label = "What your program did, beneath what is expected".to_owned();
        return vec![Block::Pictures(label, seen.diagrams)];
    }
    let run = &failure.recording;
    let expected = expected.filter(|expected| !expected.scans.is_empty());
    let Some(expected) = expected else {
        let (table, left_out) = changes(first, run, None, &[], &[]);
        let label = "What your program did".to_owned();
        return vec![Block::Pictures(label, seen.diagrams), folded(table, left_out)];
    };
    let pairs = pairs(run, expected);
    let loads: Vec<Pair> = pairs.iter().copied().filter(|pair| is_load(expected, pair.expected)).collect();
    let parting = decisive(run, expected, &loads, failure.since_ns, failure.time_ns);
    let (from_ns, until_ns) = window(seen.window, run, parting.as_ref());
    let options =
        DiagramOptions { from_ns: Some(from_ns), until_ns: Some(until_ns), ..DiagramOptions::default() };
    let mut marks = seen.marks;
    marks.extend(parting.as_ref().map(|parting| mark(parting, expected)));
    let shown = rows_shown(run, expected, &pairs, (from_ns, until_ns));
    let mut diagram = Diagram::new(run, &options).with_marks(marks).with_expected(expected, &shown);
    without_path(&mut diagram);
    let (table, left_out) = changes(&diagram, run, Some(expected), &pairs, &shown);
    let mut blocks = Vec::new();
    if let Some(text) = words(parting.as_ref(), expected, &loads) {
        blocks.push(Block::Paragraph(text));
    }
    let label = "What your program did, and beneath it what is expected there".to_owned();
    blocks.push(Block::Pictures(label, vec![diagram]));
    blocks.push(folded(table, left_out));
    blocks
}

fn without_path(diagram: &mut Diagram<'_>) {
    diagram.source = without_folder(&diagram.source).to_owned();
}

fn folded<'a>(table: Table, left_out: usize) -> Block<'a> {
    let mut inside = vec![Block::Table(table)];
    if left_out > 0 {
        let all = left_out + LINES_MAX;
        let more = format!("The first {LINES_MAX} of {}.", counted(all as u64, "line"));
        inside.push(Block::Paragraph(Text::new(more)));
    }
    Block::Folded(Text::new("The same as a table"), inside)
}

/// The time shown, with the moment at which the runs part if it is not far off.
fn window((from_ns, until_ns): (i64, i64), run: &Recording, parting: Option<&Parting>) -> (i64, i64) {
    let Some(parting) = parting else { return (from_ns, until_ns) };
    let before = parting.since_ns.saturating_sub(run.scan_ns.max(1).saturating_mul(SCANS_BEFORE)).max(0);
    let reach = until_ns.saturating_sub(from_ns).saturating_mul(REACH);
    let begin = if from_ns.saturating_sub(before) > reach { from_ns } else { from_ns.min(before) };
    // Lines of the table begin with scans.
    (begin - begin.rem_euclid(run.scan_ns.max(1)), until_ns)
}

/// The rows that are expected and stand in the picture: the loads of its own rows, or all of them if it has none; devices
/// that the process moves otherwise than in the run.
fn rows_shown(run: &Recording, expected: &Recording, pairs: &[Pair], window: (i64, i64)) -> Vec<usize> {
    let moved = |pair: &Pair| {
        let (Some(row), Some(other)) = (run.rows.get(pair.row), expected.rows.get(pair.expected)) else {
            return false;
        };
        let only = |recording: &Recording, row: &Row| {
            let lane = Lane::new(&row.signal.changes, &recording.scans, window.0, window.1);
            lane.points.into_iter().map(|point| (point.time_ns, point.value)).collect::<Vec<_>>()
        };
        only(run, row) != only(expected, other)
    };
    let mut shown: Vec<usize> = pairs
        .iter()
        .filter(|pair| is_load(expected, pair.expected) || moved(pair))
        .map(|pair| pair.expected)
        .collect();
    if shown.iter().all(|index| !is_load(expected, *index)) {
        shown.extend((0..expected.rows.len()).filter(|index| is_load(expected, *index)).take(LOADS_MAX));
    }
    shown
}

fn is_load(expected: &Recording, row: usize) -> bool {
    expected.rows.get(row).is_some_and(|row| matches!(row.role, Role::Output { .. }))
}

/// Name and words of a row that is expected.
fn named(parting: &Parting, expected: &Recording) -> (String, Heading) {
    let Some(row) = expected.rows.get(parting.expected) else { return (String::new(), Heading::default()) };
    (harmless(row.name()), heading(&row.role, row.name(), None, Some(&parting.values.1), false))
}

fn mark(parting: &Parting, expected: &Recording) -> Mark {
    let (name, heading) = named(parting, expected);
    let word = |value: &Value| spoken(value, &heading);
    let text = format!("{name} is {}, expected {}", word(&parting.values.0), word(&parting.values.1));
    Mark::moment("differs", parting.since_ns, text)
}

/// The moment at which the runs part, in words; `None` where nothing can be laid beside one another.
fn words(parting: Option<&Parting>, expected: &Recording, loads: &[Pair]) -> Option<Text> {
    let Some(parting) = parting else {
        let names = loads.iter().filter_map(|pair| expected.rows.get(pair.expected));
        let names: Vec<Text> = names.map(|row| Text::default().code(harmless(row.name()))).collect();
        if names.is_empty() {
            return None;
        }
        let did = if names.len() == 1 { " does" } else { " do" };
        let what = " what is expected up to here: what is wrong does not show in the loads.";
        return Some(Text::list(names).words(did).words(what));
    };
    let (name, heading) = named(parting, expected);
    let (is, should) = (spoken(&parting.values.0, &heading), spoken(&parting.values.1, &heading));
    let since = time_text(parting.since_ns);
    let text = if !parting.is_first {
        Text::new(format!("From {since} on "))
    } else if parting.since_ns == 0 {
        Text::new("From the start ")
    } else {
        let what = if loads.len() == 1 { "this load does" } else { "the loads shown do" };
        Text::new(format!("Up to {since} {what} what is expected. From then on "))
    };
    let until = parting.until_ns.map_or_else(String::new, |until| format!(" until {}", time_text(until)));
    Some(
        text.code(name)
            .words(format!(" is {is} with your program{until}; expected is "))
            .strong(should)
            .words("."),
    )
}
