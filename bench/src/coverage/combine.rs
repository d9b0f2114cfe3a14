//! The coverage of several programs in one report: what they have in common, such as a file of functions, is covered
//! by the runs of all of them.

use std::collections::BTreeMap;

use latchwork_compiler::coverage::{ArmKind, CoverageMap, CoveredUnit, Seen};
use latchwork_grammar::{FileId, Sources, Span};
use latchwork_vm::{CoverageLog, CoverageSize};

use super::Report;

/// A program with what its runs have seen.
#[derive(Clone, Copy, Debug)]
pub struct Covered<'p> {
    /// What its image observes.
    pub map: &'p CoverageMap,
    /// What was seen, in all runs together; `None` if it was not run.
    pub log: Option<&'p CoverageLog>,
    /// Its source texts, without those of stations and the like.
    pub sources: &'p Sources,
}

/// One report of several programs. Files of the same name and text are one, and so are their units, unless a unit was
/// compiled otherwise in another program. The order of the programs decides the order of the files.
pub fn combined(programs: &[Covered<'_>]) -> Report {
    if let [only] = programs {
        return Report::new(only.map, only.log, only.sources);
    }
    let mut all = Combined::default();
    let numbers: Vec<Numbers> = programs.iter().map(|program| all.enter(program)).collect();
    let mut log = CoverageLog::new(all.map.size);
    for (program, numbers) in programs.iter().zip(&numbers) {
        if let Some(own) = program.log {
            log.add(own, &numbers.points, &numbers.decisions);
        }
    }
    Report::new(&all.map, Some(&log), &all.sources)
}

#[derive(Default)]
struct Combined {
    sources: Sources,
    files: BTreeMap<(String, String), FileId>,
    map: CoverageMap,
    /// The units by their shapes.
    units: BTreeMap<(FileId, String), Vec<(CoveredUnit, usize)>>,
}

/// Which points and decisions of a program are which of all.
#[derive(Default)]
struct Numbers {
    points: Vec<(u32, u32)>,
    decisions: Vec<(u32, u32)>,
}

impl Combined {
    fn enter(&mut self, program: &Covered<'_>) -> Numbers {
        let files: Vec<FileId> = program
            .sources
            .iter()
            .map(|(_, file)| {
                let key = (file.name.clone(), file.text.clone());
                let sources = &mut self.sources;
                *self.files.entry(key).or_insert_with(|| sources.add(file.name.as_str(), file.text.as_str()))
            })
            .collect();
        let mut numbers = Numbers::default();
        for unit in &program.map.units {
            let mut unit = unit.clone();
            moved(&mut unit, &files);
            let mut shape = unit.clone();
            renumbered(&mut shape, &mut |_| 0, &mut |_| 0);
            let known = self.units.entry((unit.span.file, unit.name.clone())).or_default();
            match known.iter().find(|(other, _)| *other == shape) {
                Some((_, index)) => {
                    if let Some(same) = self.map.units.get(*index) {
                        numbers.match_up(&unit, same);
                    }
                }
                None => {
                    known.push((shape, self.map.units.len()));
                    numbers.enter(&mut unit, &mut self.map.size);
                    self.map.units.push(unit);
                }
            }
        }
        numbers
    }
}

impl Numbers {
    /// Gives a unit numbers of its own among all.
    fn enter(&mut self, unit: &mut CoveredUnit, size: &mut CoverageSize) {
        let mut points = BTreeMap::new();
        let mut decisions = BTreeMap::new();
        let CoverageSize { points: next_point, decisions: next_decision } = size;
        let of = |known: &mut BTreeMap<u32, u32>, next: &mut u32, number: u32| {
            *known.entry(number).or_insert_with(|| {
                *next += 1;
                *next - 1
            })
        };
        renumbered(unit, &mut |point| of(&mut points, next_point, point), &mut |decision| {
            of(&mut decisions, next_decision, decision)
        });
        self.points.extend(points);
        self.decisions.extend(decisions);
    }

    /// The numbers of a unit and of one of the same shape.
    fn match_up(&mut self, unit: &CoveredUnit, same: &CoveredUnit) {
        let (here, there) = (numbers(same), numbers(unit));
        self.points.extend(there.points.into_iter().zip(here.points));
        self.decisions.extend(there.decisions.into_iter().zip(here.decisions));
    }
}

/// All numbers of a unit, in the order of its parts.
struct Listed {
    points: Vec<u32>,
    decisions: Vec<u32>,
}

fn numbers(unit: &CoveredUnit) -> Listed {
    let mut listed = Listed { points: Vec::new(), decisions: Vec::new() };
    renumbered(
        &mut unit.clone(),
        &mut |point| {
            listed.points.push(point);
            point
        },
        &mut |decision| {
            listed.decisions.push(decision);
            decision
        },
    );
    listed
}

/// Changes every number of a unit. Two points that belong together follow one another before and after.
fn renumbered(
    unit: &mut CoveredUnit,
    point: &mut dyn FnMut(u32) -> u32,
    decision: &mut dyn FnMut(u32) -> u32,
) {
    let mut seen = |seen: &mut Seen| match seen {
        Seen::Point(number) => *number = point(*number),
        Seen::Outcome { decision: number, .. } => *number = decision(*number),
        Seen::Never => {}
    };
    unit.statements.iter_mut().for_each(|statement| seen(&mut statement.seen));
    unit.branches.iter_mut().flat_map(|branch| &mut branch.arms).for_each(|arm| seen(&mut arm.seen));
    for part in &mut unit.decisions {
        part.number = decision(part.number);
        for first in part.conditions.iter_mut().filter_map(|condition| condition.points.as_mut()) {
            let (no, yes) = (point(*first), point(first.saturating_add(1)));
            debug_assert!(yes == no + 1 || (no, yes) == (0, 0));
            *first = no;
        }
    }
}

/// Brings the places of a unit into the files of all programs.
fn moved(unit: &mut CoveredUnit, files: &[FileId]) {
    let place = |span: &mut Span| {
        if let Some(file) = files.get(span.file.0 as usize) {
            span.file = *file;
        }
    };
    place(&mut unit.span);
    unit.statements.iter_mut().for_each(|statement| place(&mut statement.span));
    for branch in &mut unit.branches {
        place(&mut branch.span);
        for arm in &mut branch.arms {
            if let ArmKind::Group(labels) = &mut arm.kind {
                place(labels);
            }
        }
    }
    for decision in &mut unit.decisions {
        place(&mut decision.span);
        decision.conditions.iter_mut().for_each(|condition| place(&mut condition.span));
    }
}
