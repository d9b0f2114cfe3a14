//! Sequential function charts: checked, examined as a net, and translated into ordinary typed statements, so that
//! nothing behind the checker knows of them.
//!
//! ```text
//! names (declare) -> transitions, associations, conditions, bodies -> net -> warnings -> statements
//! ```
//!
//! Source: IEC 61131-3:2013, 6.7, tables 54 to 61. Our choices: transitions are tested and cleared once in each
//! scan, before the actions run (see [`evolve`]); actions run in the order in which they are first associated, all
//! last runs of a final scan before all others (see [`run`]).

mod associations;
mod build;
mod conditions;
mod control;
mod evolve;
mod exclusion;
mod findings;
mod net;
mod run;
mod transitions;
mod warn;

use std::collections::BTreeSet;

use latchwork_grammar::{
    Diagnostic, Name, Span,
    tree::{self, ActionQualifier, Body, Chart, Ident},
};

use super::Checker;
use crate::{
    scope::{BodyState, StepSymbol},
    typed::{Expression, Observation, Statement, VariableId},
};

/// A chart while it is worked on.
struct Network<'a> {
    tree: &'a Chart,
    /// The steps with names of their own; numbers of steps count these.
    steps: Vec<StepSymbol>,
    /// Names of steps that were taken already, which has been reported.
    taken: BTreeSet<Name>,
    /// The initial step, if there is exactly one.
    initial: Option<usize>,
    transitions: Vec<Crossing<'a>>,
    /// In the order of first association.
    actions: Vec<ControlledAction>,
    /// The bodies of the actions, by their number in the tree.
    bodies: Vec<Vec<Statement>>,
    /// Nothing is missing or wrong in what the net is made of.
    sound: bool,
    /// It was proved that no active step is ever activated.
    safe: bool,
}

/// A transition with its steps found.
struct Crossing<'a> {
    tree: &'a tree::Transition,
    from: Vec<usize>,
    to: Vec<usize>,
    condition: Condition,
}

/// What must be computed for a condition, and the condition; `None` after a report.
#[derive(Default)]
struct Condition {
    statements: Vec<Statement>,
    value: Option<Expression>,
}

/// An action or Boolean variable with everything that is associated with it.
struct ControlledAction {
    name: Ident,
    target: Target,
    uses: Vec<Use>,
    /// Two of its timed associations may be active together.
    contended: bool,
}

/// What an association controls.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Target {
    /// An ACTION by its number in the tree.
    Body(usize),
    Variable(VariableId),
}

/// An association.
struct Use {
    step: usize,
    qualifier: ActionQualifier,
    time: Option<Expression>,
    span: Span,
}

/// Whether a qualifier needs a time.
const fn is_timed(qualifier: ActionQualifier) -> bool {
    matches!(
        qualifier,
        ActionQualifier::Limited
            | ActionQualifier::Delayed
            | ActionQualifier::StoredDelayed
            | ActionQualifier::DelayedStored
            | ActionQualifier::StoredLimited
    )
}

impl Network<'_> {
    /// The name of a step in the tree.
    fn step_name(&self, step: usize) -> Ident {
        self.tree.steps[self.steps[step].tree].name
    }

    fn variable(&self, step: usize) -> VariableId {
        self.steps[step].variable
    }
}

impl<'a> Checker<'a> {
    /// The typed statements of a body that is a chart.
    pub(super) fn chart(&mut self, tree: &Chart) -> Vec<Statement> {
        let Some(unit) = self.unit else { return Vec::new() };
        let scope = &self.units[unit.0 as usize];
        let (damaged, span) = (scope.tree.damaged, scope.tree.span);
        // The parser has refused charts in units without a memory.
        let Some(names) = &scope.chart else { return Vec::new() };
        let entered: BTreeSet<usize> = names.steps.iter().map(|step| step.tree).collect();
        let all = tree.steps.iter().enumerate();
        let taken =
            all.filter(|(index, _)| !entered.contains(index)).map(|(_, step)| step.name.name).collect();
        let mut network = Network {
            tree,
            steps: names.steps.clone(),
            taken,
            initial: None,
            transitions: Vec::new(),
            actions: Vec::new(),
            bodies: Vec::new(),
            sound: !damaged && names.steps.len() == tree.steps.len(),
            safe: false,
        };
        self.find_initial_step(&mut network, damaged);
        self.find_transitions(&mut network);
        self.find_associations(&mut network);
        self.check_conditions(&mut network);
        self.check_actions(&mut network);
        self.examine_net(&mut network);
        if !damaged && !self.has_error_in(span) {
            self.warn_of_actions(&network);
            if self.options.exclusive_selections {
                self.check_exclusion(&network);
            }
        }
        let Some(initial) = network.initial else { return Vec::new() };
        let mut statements = Vec::new();
        self.observe(Observation::Written(false), span, &mut statements);
        self.evolve(&mut network, initial, &mut statements);
        let runs = self.control(&network, &mut statements);
        self.run_actions(&mut network, runs, &mut statements);
        statements
    }

    /// Exactly one initial step (6.7.2).
    fn find_initial_step(&mut self, network: &mut Network<'_>, damaged: bool) {
        let tree = network.tree;
        let mut initial =
            (0..network.steps.len()).filter(|step| tree.steps[network.steps[*step].tree].initial);
        let (first, second) = (initial.next(), initial.next());
        match (first, second) {
            (Some(first), None) => network.initial = Some(first),
            (Some(first), Some(second)) => {
                let (first, second) = (network.step_name(first).span, network.step_name(second).span);
                self.report(
                    Diagnostic::error("initial-step", second, "a chart begins in one step, this one in two")
                        .label("a second INITIAL_STEP")
                        .also(first, "the first one")
                        .note("write STEP here; several branches at once begin with `FROM … TO (a, b)`"),
                );
            }
            // The initial step may be the piece that could not be read, or one whose name is taken.
            (None, _) if damaged || !network.taken.is_empty() => {}
            (None, _) => {
                let written = tree.steps.first().map(|step| step.name.span);
                let unit = self.unit.map(|unit| self.units[unit.0 as usize].tree.name.span);
                let place = written.or(unit).unwrap_or_default();
                self.report(
                    Diagnostic::error("initial-step", place, "this chart has no initial step")
                        .label(if written.is_some() {
                            "none of its steps is the first"
                        } else {
                            "no step at all"
                        })
                        .note(
                            "the step that is active at the start is written `INITIAL_STEP name: … END_STEP`",
                        ),
                );
            }
        }
        network.sound &= network.initial.is_some();
    }

    /// The bodies of all actions, each with labels and loops of its own.
    fn check_actions(&mut self, network: &mut Network<'_>) {
        for action in &network.tree.actions {
            self.body = BodyState::default();
            let statements = match &action.body {
                // The parser has refused a chart inside an action.
                Body::Empty | Body::SequentialFunctionChart(_) => Vec::new(),
                Body::StructuredText(statements) => self.statements(statements),
                Body::InstructionList(instructions) => self.instruction_list(instructions),
            };
            network.bodies.push(statements);
        }
        self.body = BodyState::default();
    }
}
