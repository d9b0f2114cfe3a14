//! A student in the document.

use serde::Serialize;

use super::number;
use crate::{
    class::names,
    marking::{Finding, ItemResult, Marked, State},
};

#[derive(Serialize)]
pub(super) struct StudentEntry<'a> {
    id: &'a str,
    name: Option<&'a str>,
    state: &'static str,
    /// `None` where the mark says nothing.
    total: Option<f64>,
    deducted: f64,
    scans: u64,
    items: Vec<ResultEntry<'a>>,
    findings: Vec<FindingEntry<'a>>,
    files: Vec<FileEntry<'a>>,
}

#[derive(Serialize)]
struct ResultEntry<'a> {
    verdict: &'static str,
    points: f64,
    expectations: Option<Expectations>,
    failure: Option<FailureEntry<'a>>,
}

#[derive(Serialize)]
struct Expectations {
    met: u32,
    all: u32,
}

#[derive(Serialize)]
struct FailureEntry<'a> {
    name: &'a str,
    message: &'a str,
    line: Option<u32>,
    time_ns: i64,
    scan: Option<u64>,
}

#[derive(Serialize)]
struct FindingEntry<'a> {
    kind: &'static str,
    name: &'a str,
    severity: &'static str,
    message: &'a str,
    file: Option<&'a str>,
    line: Option<u32>,
    column: Option<u32>,
    text: &'a str,
}

#[derive(Serialize)]
struct FileEntry<'a> {
    name: &'a str,
    bytes: u64,
    lines: u64,
    encoding: Option<&'a str>,
}

/// All that the record says.
pub(super) fn entry(marked: &Marked) -> StudentEntry<'_> {
    StudentEntry {
        id: &marked.student.id,
        name: marked.student.name.as_deref(),
        state: names::state(marked.state),
        total: (marked.state != State::InternalFault).then(|| number(marked.total)),
        deducted: number(marked.deducted),
        scans: marked.scans,
        items: marked.items.iter().map(result).collect(),
        findings: marked.findings.iter().map(finding).collect(),
        files: marked
            .files
            .iter()
            .map(|file| FileEntry {
                name: &file.name,
                bytes: file.bytes,
                lines: file.lines,
                encoding: file.encoding.as_deref(),
            })
            .collect(),
    }
}

fn result(item: &ItemResult) -> ResultEntry<'_> {
    ResultEntry {
        verdict: names::verdict(item.verdict),
        points: number(item.points),
        expectations: item.met.map(|(met, all)| Expectations { met, all }),
        failure: item.failure.as_ref().map(|failure| FailureEntry {
            name: &failure.name,
            message: &failure.message,
            line: failure.line,
            time_ns: failure.time_ns,
            scan: failure.scan,
        }),
    }
}

fn finding(finding: &Finding) -> FindingEntry<'_> {
    FindingEntry {
        kind: names::finding_kind(finding.kind),
        name: &finding.name,
        severity: names::gravity(finding.severity),
        message: &finding.message,
        file: finding.file.as_deref(),
        line: finding.line,
        column: finding.column,
        text: &finding.shown,
    }
}
