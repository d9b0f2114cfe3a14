//! What an image that measures coverage observes of itself: its statements, branches and decisions, with their places
//! in the text and the numbers by which the log of the machine knows them.
//!
//! A **decision** is a Boolean expression that decides: the condition of a statement or of a transition, and every
//! expression with a Boolean operator, whatever takes its value. In Instruction List a row of instructions up to the
//! one that takes the result is one. A **condition** is an operand of its operators that has no Boolean operator
//! itself: a variable, a comparison, a call. (The terms are those of DO-178C, glossary; NASA/TM-2001-210876 explains
//! them.) Constants are no conditions, and what is decided by a constant is no decision.
//!
//! In IEC 61131-3 every operand is evaluated, whatever the others are, so an evaluation of a decision has a value of
//! each of its conditions.

mod tree;

pub use tree::{BooleanTree, Node};

use latchwork_grammar::Span;
use latchwork_vm::CoverageSize;

/// What an image observes of itself.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CoverageMap {
    /// The units of the text with something to observe, in the order of the image.
    pub units: Vec<CoveredUnit>,
    /// Numbers of points and decisions in use; the log of the machine has no more.
    pub size: CoverageSize,
}

/// A program, function block, function or method.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CoveredUnit {
    /// Its name as the image has it.
    pub name: String,
    /// The name in its heading.
    pub span: Span,
    /// Its statements; in Instruction List its instructions. In the order of the text.
    pub statements: Vec<CoveredStatement>,
    /// Where it branches, in the order of the text.
    pub branches: Vec<Branch>,
    /// Its decisions, in the order of the text.
    pub decisions: Vec<Decision>,
}

/// A statement or an instruction.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CoveredStatement {
    /// The whole of it: of IF and the like with everything inside.
    pub span: Span,
    /// How it is known that it was run.
    pub seen: Seen,
}

/// How the log of the machine shows that something happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Seen {
    /// A point was passed.
    Point(u32),
    /// A decision had an outcome.
    Outcome {
        /// Number of the decision in the log.
        decision: u32,
        /// The outcome.
        outcome: bool,
    },
    /// It can never happen: what stands before it always leaves.
    Never,
}

/// A place where the program goes on in one of several ways.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Branch {
    /// What decides: the condition, the selector, or the instruction.
    pub span: Span,
    /// The word that branches: `IF`, `ELSIF`, `WHILE`, `UNTIL`, `FOR`, `CASE`, `TRANSITION`, or an instruction such as
    /// `JMPC`.
    pub keyword: String,
    /// The ways, two or more.
    pub arms: Vec<Arm>,
}

/// One way of a branch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Arm {
    /// Which.
    pub kind: ArmKind,
    /// How it is known that it was gone.
    pub seen: Seen,
}

/// The ways of a branch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ArmKind {
    /// The condition had this value.
    Outcome(bool),
    /// A group of CASE, at its labels.
    Group(Span),
    /// The selector of a CASE was none of the labels: the ELSE, or nothing.
    NoGroup,
    /// The body of a FOR was run at least once.
    Entered,
    /// The body of a FOR was not run at all.
    NotEntered,
}

/// A decision.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Decision {
    /// Its number in the log.
    pub number: u32,
    /// All of it; in Instruction List from the first operand to the last operator.
    pub span: Span,
    /// In one line, in the notation of Structured Text; cut where it is very long.
    pub text: String,
    /// The word of the branch that it decides, as [`Branch::keyword`]; `None` where its value is used otherwise.
    pub keyword: Option<String>,
    /// How its conditions are combined.
    pub tree: BooleanTree,
    /// Its conditions, at least one.
    pub conditions: Vec<Condition>,
    /// Conditions that cannot be changed one without the other.
    pub couplings: Vec<Coupling>,
}

impl Decision {
    /// Whether the log has vectors of its conditions: not if there are too many of them.
    pub fn has_vectors(&self) -> bool {
        self.conditions.len() <= latchwork_vm::coverage::CONDITIONS_MAX as usize
    }
}

/// A condition of a decision.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Condition {
    /// Its place.
    pub span: Span,
    /// In one line, in the notation of Structured Text; cut where it is very long.
    pub text: String,
    /// Of a decision without vectors: the point that is passed when the condition is FALSE; the next one when TRUE.
    pub points: Option<u32>,
}

/// Two conditions of a decision that depend on one another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Coupling {
    /// The condition that stands first.
    pub first: u32,
    /// The other one.
    pub second: u32,
    /// Both are the same, so that they always change together (strong coupling). Otherwise they only read the same
    /// variable, such as `x > 1` and `x < 9` (weak coupling).
    pub strong: bool,
}
