//! Sequential function charts in their textual form (IEC 61131-3:2013, 6.7; tables 54 to 61).

use super::{Body, Expression, Ident, Instruction};
use crate::source::Span;

/// A network of steps, transitions and actions; each list is in textual order.
#[derive(Clone, Debug, Default)]
pub struct Chart {
    /// `STEP` and `INITIAL_STEP`.
    pub steps: Vec<Step>,
    /// `TRANSITION`.
    pub transitions: Vec<Transition>,
    /// `ACTION`.
    pub actions: Vec<Action>,
}

/// `STEP name: associations END_STEP` (table 54).
#[derive(Clone, Debug)]
pub struct Step {
    /// `INITIAL_STEP`.
    pub initial: bool,
    /// Its name.
    pub name: Ident,
    /// Its actions in textual order.
    pub associations: Vec<Association>,
    /// The whole step.
    pub span: Span,
}

/// `action(qualifier, time, indicators);` (tables 57 and 58).
#[derive(Clone, Debug)]
pub struct Association {
    /// The action or Boolean variable.
    pub action: Ident,
    /// The qualifier; without one it is `N`.
    pub qualifier: Option<(ActionQualifier, Span)>,
    /// The time behind the qualifier.
    pub time: Option<Expression>,
    /// Indicator variables.
    pub indicators: Vec<Ident>,
    /// Without its semicolon.
    pub span: Span,
}

/// Action qualifiers (table 59).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ActionQualifier {
    /// `N`: while the step is active.
    NonStored,
    /// `R`: resets a stored action.
    Reset,
    /// `S`: stored until reset.
    Set,
    /// `L`: for a limited time.
    Limited,
    /// `D`: after a delay.
    Delayed,
    /// `P`: a pulse.
    Pulse,
    /// `SD`: stored, then delayed.
    StoredDelayed,
    /// `DS`: delayed, then stored.
    DelayedStored,
    /// `SL`: stored for a limited time.
    StoredLimited,
    /// `P1`: once when the step is entered.
    PulseRising,
    /// `P0`: once when the step is left.
    PulseFalling,
}

impl ActionQualifier {
    /// As it is written.
    #[must_use]
    pub const fn spelling(self) -> &'static str {
        match self {
            ActionQualifier::NonStored => "N",
            ActionQualifier::Reset => "R",
            ActionQualifier::Set => "S",
            ActionQualifier::Limited => "L",
            ActionQualifier::Delayed => "D",
            ActionQualifier::Pulse => "P",
            ActionQualifier::StoredDelayed => "SD",
            ActionQualifier::DelayedStored => "DS",
            ActionQualifier::StoredLimited => "SL",
            ActionQualifier::PulseRising => "P1",
            ActionQualifier::PulseFalling => "P0",
        }
    }
}

/// `TRANSITION name (PRIORITY := n) FROM … TO … condition END_TRANSITION` (table 55).
#[derive(Clone, Debug)]
pub struct Transition {
    /// Its name.
    pub name: Option<Ident>,
    /// `PRIORITY := n`; the lowest number goes first.
    pub priority: Option<(u32, Span)>,
    /// The steps it leaves.
    pub from: Vec<Ident>,
    /// The steps it enters.
    pub to: Vec<Ident>,
    /// When it clears.
    pub condition: TransitionCondition,
    /// The heading up to the condition.
    pub heading: Span,
    /// The whole transition.
    pub span: Span,
}

/// The condition of a transition.
#[derive(Clone, Debug)]
pub enum TransitionCondition {
    /// `:= expression;`
    Expression(Expression),
    /// `:` and instructions, whose last current result is the condition.
    Instructions(Vec<Instruction>),
    /// Could not be parsed; its diagnostic says why.
    Missing,
}

/// `ACTION name: body END_ACTION` (table 56).
#[derive(Clone, Debug)]
pub struct Action {
    /// Its name.
    pub name: Ident,
    /// Structured Text or Instruction List.
    pub body: Body,
    /// The whole action.
    pub span: Span,
}
