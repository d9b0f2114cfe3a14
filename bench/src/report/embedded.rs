//! A recording in a page: what the script draws, measures and reads out.
//!
//! Rows and marks are JSON; the values of all rows are one block of bytes ([`super::stream`]), compressed as RFC 1951 says
//! and written in base 64. Nothing in it can end the element that it stands in.

use miniz_oxide::deflate::compress_to_vec;
use serde::Serialize;

use super::{
    rows::ShownRow,
    stream::{Form, Stream, stream, times},
};
use crate::{
    diagram::{Diagram, RowKind, lane::LaneKind, mark::Mark, words::type_word},
    recording::Recording,
    render::page::base64,
};

/// Most bytes that the values of one recording take in a page.
pub(crate) const VALUES_BYTES_MAX: usize = 2_600_000;

/// How hard it is tried to make the values small, from 0 to 10; from here on much work gains little.
const EFFORT: u8 = 7;

/// A recording, ready to stand in a page.
#[derive(Clone, Debug)]
pub(crate) struct Embedded {
    /// The text of a data block.
    pub(crate) json: String,
    /// Names of the rows whose values took too much room and are left out.
    pub(crate) left_out: Vec<String>,
}

#[derive(Serialize)]
struct Document<'a> {
    scans: usize,
    /// End of the time in nanoseconds, as text, since scripts count exactly only to 2^53.
    end: String,
    scan: String,
    /// What is shown first, in nanoseconds.
    window: [String; 2],
    groups: Vec<&'static str>,
    rows: Vec<RowEntry<'a>>,
    marks: Vec<MarkEntry<'a>>,
    /// Bytes that the times of scans take in front of the values of rows.
    times: usize,
    values: String,
}

#[derive(Serialize)]
struct RowEntry<'a> {
    name: &'a str,
    /// The full name where it is another.
    full: &'a str,
    kind: &'static str,
    details: &'a [String],
    group: usize,
    drawn: &'static str,
    #[serde(rename = "type")]
    of_type: &'static str,
    high: &'a str,
    low: &'a str,
    fault: bool,
    count: usize,
    /// Bytes in the block; none if the row is left out.
    bytes: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    first: Option<bool>,
    #[serde(skip_serializing_if = "Option::is_none")]
    evenly: Option<bool>,
    #[serde(skip_serializing_if = "Option::is_none")]
    texts: Option<&'a [String]>,
}

#[derive(Serialize)]
struct MarkEntry<'a> {
    name: &'a str,
    text: &'a str,
    spans: Vec<[String; 2]>,
    moments: Vec<String>,
}

/// Puts a recording into the form of a page: its rows, and the diagram of all of it with what is marked in it.
pub(super) fn embedded(
    recording: &Recording,
    diagram: &Diagram<'_>,
    rows: &[ShownRow<'_>],
    window: (i64, i64),
) -> Embedded {
    let mut streams: Vec<Stream> = rows.iter().map(|row| stream(row.kind, &row.changes)).collect();
    let times = times(recording.scans.iter().map(|scan| scan.time_ns));
    let (values, left_out) = block(&times, &mut streams, VALUES_BYTES_MAX);
    let entries = rows.iter().zip(&streams).enumerate().map(|(index, (row, stream))| RowEntry {
        name: &row.drawn.heading.name,
        full: row.full,
        kind: kind(row.drawn.kind),
        details: &row.drawn.heading.details,
        group: row.group,
        drawn: lane(row.drawn.lane_kind),
        of_type: row.changes.first().map_or("", |change| type_word(&change.value)),
        high: &row.drawn.heading.high,
        low: &row.drawn.heading.low,
        fault: row.drawn.fault.is_some(),
        count: stream.count,
        bytes: if left_out.contains(&index) { 0 } else { stream.bytes.len() },
        first: if let Form::Levels { first } = stream.form { Some(first) } else { None },
        evenly: if let Form::Numbers { evenly } = stream.form { Some(evenly) } else { None },
        texts: if let Form::Texts(texts) = &stream.form { Some(texts.as_slice()) } else { None },
    });
    let document = Document {
        scans: recording.scans.len(),
        end: diagram.end_ns.to_string(),
        scan: recording.scan_ns.to_string(),
        window: [window.0, window.1].map(|time| time.clamp(diagram.start_ns, diagram.end_ns).to_string()),
        groups: diagram.groups.iter().map(|group| group.kind.title()).collect(),
        rows: entries.collect(),
        marks: diagram.marks.iter().map(mark).collect(),
        times: times.len(),
        values: base64(&values),
    };
    // A tree of strings and numbers, which always can be written.
    let json = serde_json::to_string(&document).unwrap_or_default().replace('<', "\\u003c");
    let name = |index: &usize| rows.get(*index).map(|row| row.drawn.heading.name.clone());
    Embedded { json, left_out: left_out.iter().filter_map(name).collect() }
}

fn mark(mark: &Mark) -> MarkEntry<'_> {
    MarkEntry {
        name: &mark.name,
        text: &mark.text,
        spans: mark.spans.iter().map(|(from, until)| [from.to_string(), until.to_string()]).collect(),
        moments: mark.moments.iter().map(i64::to_string).collect(),
    }
}

/// The values of all rows behind the times, compressed; and the rows that are left out because it would be more than
/// `bytes_max`: those first that take most.
fn block(times: &[u8], streams: &mut [Stream], bytes_max: usize) -> (Vec<u8>, Vec<usize>) {
    let mut left_out = Vec::new();
    let mut by_size: Vec<usize> = (0..streams.len()).collect();
    by_size.sort_by_key(|index| streams.get(*index).map_or(0, |stream| stream.bytes.len()));
    loop {
        let kept = streams.iter().enumerate().filter(|(index, _)| !left_out.contains(index));
        let plain: Vec<u8> =
            times.iter().chain(kept.flat_map(|(_, stream)| &stream.bytes)).copied().collect();
        let compressed = compress_to_vec(&plain, EFFORT);
        if compressed.len() <= bytes_max || by_size.is_empty() {
            left_out.sort_unstable();
            return (compressed, left_out);
        }
        // As many as take what is too much, at the rate at which all became smaller.
        let mut excess =
            (compressed.len() - bytes_max) as u128 * plain.len() as u128 / compressed.len() as u128;
        while let Some(index) = by_size.pop() {
            left_out.push(index);
            let bytes = streams.get(index).map_or(0, |stream| stream.bytes.len()) as u128;
            if bytes >= excess {
                break;
            }
            excess -= bytes;
        }
    }
}

/// The word of a kind of row, as the page has it.
pub(super) const fn kind(kind: RowKind) -> &'static str {
    match kind {
        RowKind::Device => "device",
        RowKind::Terminal => "terminal",
        RowKind::Output => "output",
        RowKind::Variable => "variable",
        RowKind::Step => "steps",
        RowKind::Expected => "expected",
        RowKind::Actual => "actual",
    }
}

const fn lane(kind: LaneKind) -> &'static str {
    match kind {
        LaneKind::Level => "level",
        LaneKind::Steps => "steps",
        LaneKind::Curve => "curve",
        LaneKind::Boxes => "boxes",
    }
}
