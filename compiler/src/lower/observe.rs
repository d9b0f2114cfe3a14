//! What an image notes of itself for measuring coverage: observing instructions among the others.
//!
//! Nothing else of the code depends on whether it is observed: without the observing instructions it is the same, with
//! the same places for everything. What is never reached is not observed.

use std::collections::BTreeMap;

use latchwork_grammar::Span;
use latchwork_vm::{Family, Scalar};

use super::{code::Argument, unit::Lowering};
use crate::{
    coverage::{CoverageMap, CoveredStatement, CoveredUnit, Decision, Seen},
    layout::Spot,
    typed::{Expression, Observation, VariableId},
};

/// What is known while the units of an image are lowered.
#[derive(Debug, Default)]
pub(crate) struct Observer {
    map: CoverageMap,
    /// The unit that is being lowered.
    pub(super) unit: CoveredUnit,
    /// Whether the statements being lowered were written by the user.
    written: bool,
    /// The next statement stores the condition of a transition.
    pub(super) transition: bool,
    /// The parts of the decisions that are being evaluated.
    parts: BTreeMap<Part, PartKind>,
    /// The decision that was evaluated last, and its number.
    pub(super) finished: Option<(Part, u32)>,
    /// What the hidden variables hold that keep the current result of Instruction List.
    pub(super) results: BTreeMap<VariableId, KeptResult>,
}

/// An expression of the typed tree, by its place in memory; the tree stays where it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Part(usize);

impl Part {
    pub(super) fn of(value: &Expression) -> Self {
        Part(std::ptr::from_ref(value).addr())
    }
}

/// What a part of a decision is.
#[derive(Clone, Copy, Debug)]
enum PartKind {
    /// An operator.
    Operator,
    /// A condition.
    Condition { decision: u32, number: u32, points: Option<u32> },
}

/// A current result of Instruction List in a hidden variable.
#[derive(Clone, Debug)]
pub(super) struct KeptResult {
    /// The decision whose outcome it is.
    pub(super) decision: Option<u32>,
    /// What it is, in words.
    pub(super) text: String,
}

/// A decision whose outcome is not known yet.
#[derive(Debug)]
pub(super) struct Open {
    pub(super) number: u32,
    parts: Vec<Part>,
}

impl Observer {
    /// What the image observes of itself, once all units are lowered.
    pub(crate) fn finish(self) -> CoverageMap {
        self.map
    }

    /// What is known of a hidden variable.
    pub(super) fn result_in(&self, id: VariableId) -> Option<&KeptResult> {
        self.results.get(&id)
    }
}

impl Lowering<'_> {
    /// The observer, where the user has written what is being lowered.
    pub(super) fn observer(&mut self) -> Option<&mut Observer> {
        self.shared.observer.as_mut().filter(|observer| observer.written)
    }

    /// Whether the unit only takes the connections of a configuration to a program.
    pub(super) fn is_stub(&self) -> bool {
        let stubs = self.context.program.configuration.as_ref().map(|configuration| &configuration.stubs);
        stubs.is_some_and(|stubs| stubs.contains_key(&self.id))
    }

    /// Begins with the unit.
    pub(super) fn observe_unit(&mut self) {
        let stub = self.is_stub();
        let name = self.context.names.spelling(self.unit.name).to_owned();
        let (span, entry) = (self.unit.span, self.unit.object.forward.is_some());
        if let Some(observer) = &mut self.shared.observer {
            observer.unit = CoveredUnit { name, span, ..CoveredUnit::default() };
            observer.written = !stub && !entry;
            observer.results.clear();
        }
    }

    /// Ends with the unit.
    pub(super) fn observed_unit(&mut self) {
        let Some(observer) = &mut self.shared.observer else { return };
        let mut unit = std::mem::take(&mut observer.unit);
        if unit.statements.is_empty() && unit.decisions.is_empty() {
            return;
        }
        let order = |span: Span| (span.start, std::cmp::Reverse(span.end));
        unit.statements.sort_by_key(|statement| order(statement.span));
        unit.branches.sort_by_key(|branch| order(branch.span));
        unit.decisions.sort_by_key(|decision| order(decision.span));
        observer.map.units.push(unit);
    }

    /// What the text says at this place.
    pub(super) fn observation(&mut self, observation: Observation, span: Span) {
        match observation {
            Observation::Statement => {
                if let Some(seen) = self.observe_point() {
                    self.observed_statement(span, seen);
                }
            }
            // The CASE looks at them.
            Observation::Labels => {}
            Observation::Written(written) => {
                if let Some(observer) = &mut self.shared.observer {
                    observer.written = written;
                }
            }
            Observation::Transition => {
                if let Some(observer) = self.observer() {
                    observer.transition = true;
                }
            }
        }
    }

    pub(super) fn observed_statement(&mut self, span: Span, seen: Seen) {
        if let Some(observer) = self.observer() {
            observer.unit.statements.push(CoveredStatement { span, seen });
        }
    }

    /// The number of new points in a row, unless nothing is observed here; they must be noted by an instruction.
    pub(super) fn points(&mut self, count: u32) -> Option<u32> {
        let size = &mut self.observer()?.map.size;
        let first = size.points;
        size.points += count;
        Some(first)
    }

    /// Notes that this place is reached; `None` where nothing is observed.
    pub(super) fn observe_point(&mut self) -> Option<Seen> {
        self.observer()?;
        if self.code.ended() {
            return Some(Seen::Never);
        }
        let point = self.points(1)?;
        self.emit(Family::ObservePoint, Scalar::U8, &[Argument::Immediate(point)]);
        Some(Seen::Point(point))
    }

    /// Evaluates an expression and notes what it is in a decision.
    pub(super) fn observed(&mut self, value: &Expression, target: Option<Spot>) -> Spot {
        let Some(observer) = self.observer() else { return self.evaluate_plain(value, target) };
        match observer.parts.get(&Part::of(value)).copied() {
            Some(PartKind::Operator) => self.evaluate_plain(value, target),
            Some(PartKind::Condition { decision, number, points }) => {
                let spot = self.evaluate_plain(value, target);
                self.observe_condition(spot, decision, number, points);
                spot
            }
            None => match self.is_decision(value).then(|| self.open(value, None)).flatten() {
                Some(open) => {
                    let spot = self.evaluate_plain(value, target);
                    let number = open.number;
                    self.close(open, spot, false);
                    if let Some(observer) = self.observer() {
                        observer.finished = Some((Part::of(value), number));
                    }
                    spot
                }
                None => self.evaluate_plain(value, target),
            },
        }
    }

    fn observe_condition(&mut self, spot: Spot, decision: u32, number: u32, points: Option<u32>) {
        if self.code.ended() {
            return;
        }
        match points {
            Some(point) => {
                self.emit(Family::ObserveValue, Scalar::U8, &[spot.into(), Argument::Immediate(point)]);
            }
            None => {
                let (decision, number) = (Argument::Immediate(decision), Argument::Immediate(number));
                self.emit(Family::ObserveCondition, Scalar::U8, &[spot.into(), decision, number]);
            }
        }
    }

    /// Begins to evaluate a decision; `None` if it has no conditions or is not observed.
    pub(super) fn open(&mut self, value: &Expression, keyword: Option<&str>) -> Option<Open> {
        self.observer()?;
        let (structure, tree) = self.structure(value)?;
        let text = self.wording(value);
        let number = self.observer()?.map.size.decisions;
        let mut decision = Decision {
            number,
            span: structure.span,
            text,
            keyword: keyword.map(str::to_owned),
            tree,
            conditions: structure.conditions,
            couplings: structure.couplings,
        };
        let counted = !decision.has_vectors();
        let mut parts = Vec::new();
        let mut kinds = Vec::new();
        for part in structure.operators {
            parts.push(part);
            kinds.push((part, PartKind::Operator));
        }
        for (part, index) in structure.leaves.into_iter().zip(0u32..) {
            let points = if counted { self.points(2) } else { None };
            if let Some(condition) = decision.conditions.get_mut(index as usize) {
                condition.points = points;
            }
            parts.push(part);
            kinds.push((part, PartKind::Condition { decision: number, number: index, points }));
        }
        let observer = self.observer()?;
        observer.map.size.decisions += 1;
        observer.unit.decisions.push(decision);
        observer.parts.extend(kinds);
        Some(Open { number, parts })
    }

    /// Notes the outcome of a decision.
    pub(super) fn close(&mut self, open: Open, outcome: Spot, inverted: bool) {
        if !self.code.ended() {
            let (number, inverted) =
                (Argument::Immediate(open.number), Argument::Immediate(u32::from(inverted)));
            self.emit(Family::ObserveOutcome, Scalar::U8, &[outcome.into(), number, inverted]);
        }
        if let Some(observer) = self.observer() {
            open.parts.iter().for_each(|part| {
                observer.parts.remove(part);
            });
        }
    }
}
