//! Rungs: the statement that wrote a row, as contacts and coils with the continuity of the scan.

use std::{collections::BTreeMap, ops::Range};

use latchwork_compiler::logic::Part;
use latchwork_vm::{Resolved, ResolvedKind, trace::Changes};

use super::{Evidence, Fragments};
use crate::{
    account::{Account, Moment, SiteId},
    diagram::scale::time_text,
    recording::{Recording, Role, Row},
    rungs::{Labels, Page, ScanReadings, Sheet, sheet, svg_in_page},
};

/// Most changes of a row for which it is looked in vain who made them: looking goes back to the start of the run.
const SOUGHT_MAX: usize = 20;

/// Scans in which the same statement wrote a row last, with the same continuity.
struct Stretch {
    scans: Range<u32>,
    site: SiteId,
}

/// The rungs of all rows that the program writes.
pub(super) fn rungs(evidence: Evidence<'_>, recording: &Recording, bytes_max: usize) -> Fragments {
    let mut fragments = Fragments::new("rungs", "As a rung", bytes_max);
    let written = |row: &Row| matches!(row.role, Role::Output { .. } | Role::Variable);
    let rows = recording.rows.iter().enumerate().filter(|(_, row)| written(row));
    let rows =
        rows.filter_map(|(index, row)| Some((index, row, evidence.program.resolve(&row.signal.name).ok()?)));
    let rows: Vec<(usize, &Row, Resolved)> = rows.collect();
    let mut drawing = Drawing { evidence, recording, sheets: BTreeMap::new() };
    for (place, (index, row, variable)) in rows.iter().enumerate() {
        fragments.share(rows.len() - place);
        let mut scan = 0;
        while let Some(stretch) = drawing.stretch(variable, &row.signal.changes, scan) {
            scan = stretch.scans.end;
            if let Some(drawn) = drawing.draw(&stretch, variable)
                && !fragments.add(*index, stretch.scans, drawn)
            {
                fragments.leave_out();
                break;
            }
        }
    }
    fragments
}

/// The parts of the statement of a site that are BOOL, which decide about continuity.
fn levels(account: &Account, site: SiteId) -> impl Iterator<Item = u32> + '_ {
    let statement = account.identity(site).and_then(|(number, _)| account.statement(number));
    let mut open: Vec<&Part> = statement.map(|(_, statement)| statement.kind.parts()).unwrap_or_default();
    std::iter::from_fn(move || {
        loop {
            let part = open.pop()?;
            open.extend(part.operands());
            if part.value.is_bool() {
                return Some(part.number);
            }
        }
    })
}

struct Drawing<'a> {
    evidence: Evidence<'a>,
    recording: &'a Recording,
    /// The sheets of units, by name.
    sheets: BTreeMap<String, Sheet>,
}

impl Drawing<'_> {
    /// The first stretch from a scan on; `None` if nothing writes the variable any more.
    fn stretch(&mut self, variable: &Resolved, changes: &Changes, from: u32) -> Option<Stretch> {
        let account = self.evidence.account;
        let bytes = match variable.kind {
            ResolvedKind::Elementary(kind) => kind.size().unwrap_or(1),
            ResolvedKind::Enumeration(_) | ResolvedKind::Reference => 4,
            ResolvedKind::String { .. } | ResolvedKind::Bit(_) => 1,
        };
        let writer = |scan: u32| account.writer(variable.address, bytes, Moment::end_of(scan));
        let next_change = |scan: u32| changes.after(scan).next().map(|change| change.scan);
        let mut scan = from;
        let mut sought = 0;
        let write = loop {
            if scan >= account.scans() || sought == SOUGHT_MAX {
                return None;
            }
            match writer(scan) {
                Some(write) => break write,
                // It has its initial value, one from outside, or one from a run of a loop that was not the last.
                None => scan = next_change(scan)?,
            }
            sought += 1;
        };
        let mut end = account.scans();
        for site in self.drawn_together(write.site) {
            end = account.running_until(site, scan).map_or(end, |until| until.min(end));
            let until = levels(account, site).filter_map(|part| account.value_until(site, part, scan));
            end = until.fold(end, u32::min);
        }
        if write.moment.scan != scan {
            // It has not run since; another statement may write the variable.
            end = next_change(scan).map_or(end, |until| until.min(end));
        }
        let end = end.max(scan + 1);
        let same = writer(end - 1).is_some_and(|other| other.site == write.site);
        Some(Stretch { scans: scan..if same { end } else { scan + 1 }, site: write.site })
    }

    /// The sheet of the unit of a statement.
    fn sheet(&mut self, statement: u32) -> Option<&Sheet> {
        let (unit, _) = self.evidence.account.statement(statement)?;
        let sources = self.evidence.sources;
        Some(self.sheets.entry(unit.name.clone()).or_insert_with(|| sheet(unit, sources)))
    }

    /// A site with the others that are drawn in one rung with it.
    fn drawn_together(&mut self, site: SiteId) -> Vec<SiteId> {
        let account = self.evidence.account;
        let Some((number, base)) = account.identity(site) else { return vec![site] };
        let entries = self.sheet(number).map_or(&[][..], |sheet| &sheet.entries);
        let together = entries.iter().filter(|entry| entry.statements.contains(&number));
        let statements = together.flat_map(|entry| &entry.statements).copied();
        let mut sites: Vec<SiteId> =
            statements.filter_map(|statement| account.site(statement, base)).collect();
        if sites.is_empty() {
            sites.push(site);
        }
        sites
    }

    /// When a stretch begins, and its rung then; nothing if its statement cannot be drawn.
    fn draw(&mut self, stretch: &Stretch, variable: &Resolved) -> Option<[String; 2]> {
        let Evidence { account, program, station, sources } = self.evidence;
        let (number, base) = account.identity(stretch.site)?;
        let (_, statement) = account.statement(number).filter(|(unit, _)| !unit.stub)?;
        let mut names = Vec::new();
        let mut open = statement.kind.parts();
        while let Some(part) = open.pop() {
            open.extend(part.operands());
            names.push(part.text.as_str());
        }
        let instance = variable.name.rsplit_once('.').map_or("", |(instance, _)| instance);
        let labels = Labels::new(program, station, instance, names);
        let scan = stretch.scans.start;
        let readings = ScanReadings { account, scan, base };
        let recording = self.recording;
        let mut page = Page::new(self.sheet(number)?, sources, &labels, Some(&readings), Some(number));
        page.title.clear();
        page.legend.clear();
        if page.entries.is_empty() {
            return None;
        }
        let time_ns = recording.scans.get(scan as usize)?.time_ns;
        let when = format!("<p class=\"when\">In scan {}, at {}:</p>", scan + 1, time_text(time_ns));
        Some([
            when,
            format!(
                "<div class=\"wide\" tabindex=\"0\" role=\"group\" aria-label=\"Rung\">{}</div>",
                svg_in_page(&page)
            ),
        ])
    }
}
