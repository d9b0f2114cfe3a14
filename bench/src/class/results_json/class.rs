//! The class as a whole in the document.

use serde::Serialize;

use super::number;
use crate::{
    class::{
        ClassResults,
        commonest::CommonFinding,
        names,
        statistics::{Agreement, Analysis, BINS, Band, Distribution, ItemAnalysis, Statistics},
    },
    marking::State,
};

#[derive(Serialize)]
pub(super) struct StatisticsEntry {
    states: Vec<StateEntry>,
    totals: TotalsEntry,
    ran: AnalysisEntry,
    handed_in: AnalysisEntry,
    caution: Option<String>,
}

#[derive(Serialize)]
struct StateEntry {
    state: &'static str,
    students: usize,
}

#[derive(Serialize)]
struct TotalsEntry {
    students: usize,
    mean: Option<f64>,
    median: Option<f64>,
    standard_deviation: Option<f64>,
    lowest: Option<f64>,
    highest: Option<f64>,
    below_half: usize,
    tenths: [usize; BINS],
}

#[derive(Serialize)]
struct AnalysisEntry {
    students: usize,
    alpha: Option<f64>,
    agreement: Option<&'static str>,
    error_of_measurement: Option<f64>,
    items: Vec<AnalysedEntry>,
}

#[derive(Serialize)]
struct AnalysedEntry {
    passed: usize,
    partly: usize,
    difficulty: Option<f64>,
    all_or_nothing: bool,
    item_rest: Option<f64>,
    item_total: Option<f64>,
    upper_lower: Option<f64>,
    band: Option<&'static str>,
}

#[derive(Serialize)]
pub(super) struct CommonFindingEntry<'a> {
    kind: &'static str,
    name: &'a str,
    severity: &'static str,
    count: u64,
    students: u64,
    example: ExampleEntry<'a>,
}

#[derive(Serialize)]
struct ExampleEntry<'a> {
    student: &'a str,
    message: &'a str,
    file: Option<&'a str>,
    line: Option<u32>,
}

#[derive(Serialize)]
pub(super) struct CommonDivergenceEntry<'a> {
    item: usize,
    line: Option<u32>,
    name: &'a str,
    students: u64,
    median_ns: i64,
    message: &'a str,
}

/// The exercise judged by its results.
pub(super) fn statistics(statistics: &Statistics) -> StatisticsEntry {
    StatisticsEntry {
        states: State::ALL
            .iter()
            .map(|state| StateEntry { state: names::state(*state), students: statistics.count(*state) })
            .collect(),
        totals: totals(&statistics.totals),
        ran: analysis(&statistics.ran),
        handed_in: analysis(&statistics.handed_in),
        caution: statistics.caution(),
    }
}

fn totals(totals: &Distribution) -> TotalsEntry {
    TotalsEntry {
        students: totals.students,
        mean: totals.mean,
        median: totals.median,
        standard_deviation: totals.deviation,
        lowest: totals.lowest.map(number),
        highest: totals.highest.map(number),
        below_half: totals.below_half,
        tenths: totals.bins,
    }
}

fn analysis(analysis: &Analysis) -> AnalysisEntry {
    AnalysisEntry {
        students: analysis.students,
        alpha: analysis.alpha,
        agreement: analysis.alpha.map(|alpha| names::agreement(Agreement::of(alpha))),
        error_of_measurement: analysis.error_of_measurement,
        items: analysis.items.iter().map(analysed).collect(),
    }
}

fn analysed(item: &ItemAnalysis) -> AnalysedEntry {
    AnalysedEntry {
        passed: item.passed,
        partly: item.partly,
        difficulty: item.difficulty,
        all_or_nothing: item.all_or_nothing,
        item_rest: item.with_rest,
        item_total: item.with_total,
        upper_lower: item.upper_lower,
        band: item.upper_lower.map(|index| names::band(Band::of(index))),
    }
}

/// What was found in several submissions.
pub(super) fn finding(finding: &CommonFinding) -> CommonFindingEntry<'_> {
    CommonFindingEntry {
        kind: names::finding_kind(finding.kind),
        name: &finding.name,
        severity: names::gravity(finding.severity),
        count: finding.count,
        students: finding.students,
        example: ExampleEntry {
            student: &finding.example.student.id,
            message: &finding.example.message,
            file: finding.example.file.as_deref(),
            line: finding.example.line,
        },
    }
}

/// First moments of divergence, item by item.
pub(super) fn divergences(results: &ClassResults) -> impl Iterator<Item = CommonDivergenceEntry<'_>> {
    results.divergences.iter().zip(1..).flat_map(|(divergences, item)| {
        divergences.iter().map(move |it| CommonDivergenceEntry {
            item,
            line: it.line,
            name: &it.name,
            students: it.students,
            median_ns: it.median_ns,
            message: &it.message,
        })
    })
}
