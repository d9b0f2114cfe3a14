//! What was covered: the figures and findings of every unit, every statement, branch, decision and condition.

use std::collections::BTreeSet;

use latchwork_compiler::coverage::{Arm, ArmKind, Branch, CoverageMap, CoveredUnit, Decision, Seen};
use latchwork_grammar::Sources;
use latchwork_vm::{CoverageLog, DecisionVector};

use super::{
    figures::{Figure, Figures},
    findings::{self, Finding},
    hint::{Hint, hint},
    independence::{Independence, contradicts, independence, is_true},
    place::{Lines, Place},
    words,
};

/// What runs of a program covered. Made of plain data: everything that shows it is made from this alone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Report {
    /// The source files.
    pub files: Vec<ReportFile>,
    /// The units with something to cover, in the order of the text.
    pub units: Vec<UnitReport>,
    /// The sum over all units.
    pub figures: Figures,
}

/// A source file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReportFile {
    /// Its name as the user gave it.
    pub name: String,
    /// Its text.
    pub text: String,
}

/// What was covered of a unit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnitReport {
    /// Its name.
    pub name: String,
    /// Its name in the text.
    pub place: Place,
    /// Its figures.
    pub figures: Figures,
    /// Its statements or instructions.
    pub statements: Vec<StatementReport>,
    /// Its branches.
    pub branches: Vec<BranchReport>,
    /// Its decisions.
    pub decisions: Vec<DecisionReport>,
    /// What is missing, in the order of the text.
    pub missing: Vec<Finding>,
}

/// A statement or instruction.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StatementReport {
    /// All of it.
    pub place: Place,
    /// In one line; cut where it is long.
    pub text: String,
    /// Whether it was run.
    pub covered: bool,
    /// Nothing leads to it.
    pub unreachable: bool,
}

/// A branch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BranchReport {
    /// What decides.
    pub place: Place,
    /// The word that branches: `IF`, `CASE`, `JMPC`…
    pub keyword: String,
    /// Its ways.
    pub arms: Vec<ArmReport>,
}

impl BranchReport {
    /// Whether it was reached at all.
    pub fn is_reached(&self) -> bool {
        self.arms.iter().any(|arm| arm.covered)
    }
}

/// A way of a branch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ArmReport {
    /// Which, in words: "TRUE", "entered", "2, 5..7".
    pub label: String,
    /// Where its group begins, for a group of CASE.
    pub place: Option<Place>,
    /// Whether the program went it.
    pub covered: bool,
}

/// A decision.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DecisionReport {
    /// All of it.
    pub place: Place,
    /// In one line.
    pub text: String,
    /// The word of the branch that it decides; `None` where its value is used otherwise.
    pub keyword: Option<String>,
    /// Whether it came out FALSE, TRUE.
    pub outcomes: [bool; 2],
    /// Its conditions.
    pub conditions: Vec<ConditionReport>,
    /// The different values of its conditions that were seen, with the outcome; in ascending order.
    pub vectors: Vec<DecisionVector>,
    /// There were more than are kept, so a condition may have been shown that is not.
    pub overflowed: bool,
    /// It has more conditions than are followed together, so that none of them is shown to decide.
    pub too_long: bool,
    /// Evaluations that a task of higher priority interfered with, which show nothing.
    pub contradictory: usize,
}

impl DecisionReport {
    /// Whether it was evaluated at all.
    pub const fn is_evaluated(&self) -> bool {
        let [no, yes] = self.outcomes;
        no || yes
    }
}

/// A condition.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ConditionReport {
    /// In one line.
    pub text: String,
    /// As messages name it: in quotes, with its position if the decision has it twice.
    pub name: String,
    /// Whether it was FALSE, TRUE.
    pub seen: [bool; 2],
    /// Conditions that it is coupled with, by their numbers: strongly, that is, always the same.
    pub same_as: Vec<u32>,
    /// Conditions that read one of its variables.
    pub shares_with: Vec<u32>,
    /// What shows it to decide.
    pub shown: Independence,
    /// Why it was not shown to decide, and what would show it; only where the decision was evaluated.
    pub missing: Option<MissingCondition>,
}

impl ConditionReport {
    /// Whether it counts as shown by unique cause: strongly coupled conditions are judged by masking.
    pub const fn shown_by_unique_cause(&self) -> bool {
        self.shown.unique_cause.is_some() || (!self.same_as.is_empty() && self.shown.masking.is_some())
    }
}

/// Why a condition was not shown to decide.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MissingCondition {
    /// In words.
    pub reason: String,
    /// What would show it.
    pub hint: Hint,
    /// The same in words.
    pub advice: String,
}

impl Report {
    /// What a log shows of a program. The log must be of an image that belongs to the map; without one nothing was run.
    pub fn new(map: &CoverageMap, log: Option<&CoverageLog>, sources: &Sources) -> Self {
        let empty = CoverageLog::new(map.size);
        let reader = Reader { log: log.unwrap_or(&empty), sources, lines: &Lines::new(sources) };
        let units: Vec<UnitReport> = map.units.iter().map(|unit| reader.unit(unit)).collect();
        let mut figures = Figures::default();
        units.iter().for_each(|unit| figures += unit.figures);
        let files =
            sources.iter().map(|(_, file)| ReportFile { name: file.name.clone(), text: file.text.clone() });
        Report { files: files.collect(), units, figures }
    }
}

struct Reader<'a> {
    log: &'a CoverageLog,
    sources: &'a Sources,
    lines: &'a Lines,
}

impl Reader<'_> {
    fn seen(&self, seen: Seen) -> bool {
        match seen {
            Seen::Point(point) => self.log.passed(point),
            Seen::Outcome { decision, outcome } => {
                self.log.decision(decision).is_some_and(|log| log.has_outcome(outcome))
            }
            Seen::Never => false,
        }
    }

    fn unit(&self, unit: &CoveredUnit) -> UnitReport {
        let statements = unit.statements.iter().map(|statement| StatementReport {
            place: self.lines.place(self.sources, statement.span),
            text: words::excerpt(self.sources.text(statement.span)),
            covered: self.seen(statement.seen),
            unreachable: statement.seen == Seen::Never,
        });
        let mut report = UnitReport {
            name: unit.name.clone(),
            place: self.lines.place(self.sources, unit.span),
            figures: Figures::default(),
            statements: statements.collect(),
            branches: unit.branches.iter().map(|branch| self.branch(branch)).collect(),
            decisions: unit.decisions.iter().map(|decision| self.decision(decision)).collect(),
            missing: Vec::new(),
        };
        report.figures = figures(&report);
        report.missing = findings::missing(&report);
        report
    }

    fn branch(&self, branch: &Branch) -> BranchReport {
        BranchReport {
            place: self.lines.place(self.sources, branch.span),
            keyword: branch.keyword.clone(),
            arms: branch.arms.iter().map(|arm| self.arm(arm)).collect(),
        }
    }

    fn arm(&self, arm: &Arm) -> ArmReport {
        let mut place = None;
        let label = match arm.kind {
            ArmKind::Outcome(outcome) => words::truth(outcome).to_owned(),
            ArmKind::Entered => "entered".to_owned(),
            ArmKind::NotEntered => "not entered".to_owned(),
            ArmKind::NoGroup => "ELSE".to_owned(),
            ArmKind::Group(labels) => {
                place = Some(self.lines.place(self.sources, labels));
                words::one_line(self.sources.text(labels))
            }
        };
        ArmReport { label, place, covered: self.seen(arm.seen) }
    }

    fn decision(&self, decision: &Decision) -> DecisionReport {
        let log = self.log.decision(decision.number);
        let all: Vec<DecisionVector> = match log {
            Some(log) if decision.has_vectors() => log.vectors().collect(),
            _ => Vec::new(),
        };
        let (against, vectors): (Vec<_>, Vec<_>) =
            all.into_iter().partition(|vector| contradicts(&decision.tree, *vector));
        let outcomes = [false, true].map(|outcome| log.is_some_and(|log| log.has_outcome(outcome)));
        let shown = independence(&decision.tree, decision.conditions.len(), vectors.iter().copied());
        let seen: BTreeSet<u64> = vectors.iter().map(|vector| vector.conditions).collect();
        let conditions = (0u32..).zip(&decision.conditions).map(|(number, condition)| {
            let coupled = |strong| {
                let pairs = decision.couplings.iter().filter(move |it| it.strong == strong);
                let others = pairs.filter_map(|it| match (it.first, it.second) {
                    (first, second) if first == number => Some(second),
                    (first, second) if second == number => Some(first),
                    _ => None,
                });
                others.collect::<Vec<u32>>()
            };
            let shown = shown.get(number as usize).copied().unwrap_or_default();
            let missing = (shown.masking.is_none() && !seen.is_empty()).then(|| {
                let length = decision.conditions.len();
                let hint = hint(&decision.tree, length, &decision.couplings, &seen, number);
                MissingCondition {
                    reason: words::reason(decision, &seen, number),
                    hint,
                    advice: words::advice(decision, hint),
                }
            });
            let was = |value: bool| match condition.points {
                Some(point) => self.log.passed(point.saturating_add(u32::from(value))),
                None => vectors.iter().any(|vector| is_true(vector.conditions, number) == value),
            };
            ConditionReport {
                text: condition.text.clone(),
                name: words::name(decision, number),
                seen: [was(false), was(true)],
                same_as: coupled(true),
                shares_with: coupled(false),
                shown,
                missing,
            }
        });
        DecisionReport {
            place: self.lines.place(self.sources, decision.span),
            text: decision.text.clone(),
            keyword: decision.keyword.clone(),
            outcomes,
            conditions: conditions.collect(),
            overflowed: decision.has_vectors() && log.is_some_and(|log| log.overflowed()),
            too_long: !decision.has_vectors(),
            contradictory: against.len(),
            vectors,
        }
    }
}

fn figures(unit: &UnitReport) -> Figures {
    let mut figures = Figures::default();
    let count = |figure: &mut Figure, covered: bool| figure.count(covered);
    unit.statements.iter().for_each(|statement| count(&mut figures.statements, statement.covered));
    for arm in unit.branches.iter().flat_map(|branch| &branch.arms) {
        figures.branches.count(arm.covered);
    }
    for decision in &unit.decisions {
        figures.decisions.count(decision.outcomes == [true; 2]);
        for condition in &decision.conditions {
            figures.conditions.count(condition.seen == [true; 2]);
            figures.unique_cause.count(condition.shown_by_unique_cause());
            figures.masking.count(condition.shown.masking.is_some());
        }
    }
    figures
}
