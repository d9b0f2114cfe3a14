//! The lines of a source file with what is known of each.

use super::report::{BranchReport, DecisionReport, Report, UnitReport};

/// How a line stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// Nothing to run begins here.
    Nothing,
    /// All that begins here was run, every way was gone, and every condition was shown to decide.
    Covered,
    /// Something that begins here was run, something is missing.
    Partly,
    /// Nothing that begins here was run.
    Missed,
}

impl Mark {
    /// A sign for texts.
    pub const fn sign(self) -> char {
        match self {
            Mark::Nothing => ' ',
            Mark::Covered => '+',
            Mark::Partly => '~',
            Mark::Missed => '-',
        }
    }

    /// In words; empty for [`Mark::Nothing`].
    pub const fn word(self) -> &'static str {
        match self {
            Mark::Nothing => "",
            Mark::Covered => "covered",
            Mark::Partly => "partly covered",
            Mark::Missed => "not run",
        }
    }
}

/// A line of a source file.
#[derive(Clone, Debug)]
pub struct Line<'r> {
    /// How it stands.
    pub mark: Mark,
    /// Its text without the line end.
    pub text: &'r str,
    /// The branches that begin here.
    pub branches: Vec<&'r BranchReport>,
    /// The decisions that end here.
    pub decisions: Vec<&'r DecisionReport>,
    /// Whether something that begins here was run; `None` where nothing does.
    pub hit: Option<bool>,
}

impl<'r> Line<'r> {
    fn begins(&mut self, run: bool, complete: bool) {
        self.hit = Some(self.hit.unwrap_or_default() || run);
        let own = match (run, complete) {
            (false, _) => Mark::Missed,
            (true, false) => Mark::Partly,
            (true, true) => Mark::Covered,
        };
        self.mark = match (self.mark, own) {
            (Mark::Nothing, own) => own,
            (before, own) if before == own => own,
            _ => Mark::Partly,
        };
    }
}

/// All lines of a file, by its number.
pub fn lines(report: &Report, file: usize) -> Vec<Line<'_>> {
    let text = report.files.get(file).map_or("", |file| file.text.as_str());
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut lines: Vec<Line<'_>> = text
        .split('\n')
        .map(|text| Line {
            mark: Mark::Nothing,
            text: text.strip_suffix('\r').unwrap_or(text),
            branches: Vec::new(),
            decisions: Vec::new(),
            hit: None,
        })
        .collect();
    // What follows the last line end is no line.
    if lines.last().is_some_and(|last| last.text.is_empty()) {
        lines.pop();
    }
    for unit in report.units.iter().filter(|unit| unit.place.file as usize == file) {
        enter(unit, &mut lines);
    }
    lines
}

fn enter<'r>(unit: &'r UnitReport, lines: &mut [Line<'r>]) {
    // Lines are counted from 1.
    let at = |line: u32| (line as usize).saturating_sub(1);
    for statement in &unit.statements {
        if let Some(line) = lines.get_mut(at(statement.place.line)) {
            line.begins(statement.covered, true);
        }
    }
    for branch in &unit.branches {
        let reached = branch.is_reached();
        if let Some(line) = lines.get_mut(at(branch.place.line)) {
            line.branches.push(branch);
            if reached {
                line.begins(true, branch.arms.iter().all(|arm| arm.covered));
            }
        }
    }
    for decision in &unit.decisions {
        if let Some(line) = lines.get_mut(at(decision.place.line)) {
            let complete = decision.outcomes == [true; 2]
                && decision.conditions.iter().all(|condition| condition.shown.masking.is_some());
            line.begins(decision.is_evaluated(), complete);
        }
        if let Some(line) = lines.get_mut(at(decision.place.end_line)) {
            line.decisions.push(decision);
        }
    }
}
