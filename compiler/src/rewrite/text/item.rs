//! What a body does, piece by piece, before jumps have become IF and loops.

use latchwork_grammar::Name;

use super::value::{Argument, Value};
use crate::types::TypeId;

/// What happens, in the order of the text.
#[derive(Clone, Debug)]
pub(super) struct Item {
    /// What.
    pub(super) kind: ItemKind,
    /// Where the instructions begin that it was made of.
    pub(super) from: u32,
    /// Where they end.
    pub(super) to: u32,
}

/// A condition and the value it must have.
pub(super) type Decision = Option<(Value, bool)>;

/// What may happen.
#[derive(Clone, Debug)]
pub(super) enum ItemKind {
    /// `target := value` or `target ?= value`, with the type of the target
    Assign { target: String, value: Value, attempt: bool, kind: Option<TypeId> },
    /// Sets and resets that one result decides.
    Set { condition: Value, targets: Vec<(String, bool)> },
    /// A call for its effects.
    Call { callee: String, arguments: Vec<Argument>, decision: Decision },
    /// A place to jump to.
    Label(Name),
    /// A jump.
    Jump { label: Name, decision: Decision },
    /// RET and its forms.
    Return { decision: Decision },
}
