//! Calls in the typed tree (IEC 61131-3:2013, 6.6.1.4 and 6.6.3.4; EN and ENO: table 18).

use latchwork_stdlib::{BlockOperation, FunctionDefinition};

use super::{Access, Expression, Receiver, VariableId};
use crate::types::UnitId;

/// A call of a function block instance.
#[derive(Clone, Debug)]
pub struct BlockCall {
    /// The instance, of type [`crate::types::Type::Unit`] or [`crate::types::Type::StandardBlock`].
    pub instance: Access,
    /// Index in [`super::TypedProgram::dispatch`] where the body depends on the instance.
    pub dispatch: Option<u32>,
    /// Inputs given: member index (variable index of the unit, or member index of the standard block) and
    /// value, of the member's type.
    pub inputs: Vec<(u32, Expression)>,
    /// In-out variables: all of them.
    pub in_outs: Vec<(u32, Access)>,
    /// Outputs taken: member index, `NOT`, and where it goes; the conversion, if one is needed, is
    /// [`OutputTarget::convert`].
    pub outputs: Vec<OutputTarget>,
    /// What runs when the inputs are stored.
    pub work: BlockWork,
    /// `EN`: the call, with everything in it, is skipped when FALSE.
    pub enable: Option<Box<Expression>>,
    /// `ENO =>`.
    pub enable_output: Option<Box<Access>>,
}

impl BlockCall {
    /// A call that gives inputs only.
    pub(crate) fn new(instance: Access, inputs: Vec<(u32, Expression)>) -> Self {
        BlockCall {
            instance,
            dispatch: None,
            inputs,
            in_outs: Vec::new(),
            outputs: Vec::new(),
            work: BlockWork::Body,
            enable: None,
            enable_output: None,
        }
    }
}

/// What a call of a function block instance does with the instance.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BlockWork {
    /// Runs the body.
    Body,
    /// Less than the body of a standard block: an input operator such as PV of CTD.
    Operation(BlockOperation),
    /// Nothing but the storing of inputs: an input operator such as PV of CTU.
    Nothing,
}

/// `NOT output => target`.
#[derive(Clone, Debug)]
pub struct OutputTarget {
    /// Index of the output variable.
    pub member: u32,
    /// `NOT`.
    pub negated: bool,
    /// Where it goes.
    pub target: Access,
    /// Elementary conversion from the output's type to the target's, where they differ.
    pub convert: bool,
    /// The target is a subrange that the output's type may leave.
    pub check_range: bool,
}

/// A call of a standard function with EN or ENO: the arguments are evaluated first, so that ENO tells of the
/// function alone.
#[derive(Clone, Debug)]
pub struct ControlledCall {
    /// `EN`: when FALSE nothing is evaluated and the result is the default of its type.
    pub enable: Option<Box<Expression>>,
    /// `ENO =>`.
    pub enable_output: Option<Box<Access>>,
    /// The arguments that are not constant, each with the hidden variable it is kept in.
    pub arguments: Vec<(VariableId, Expression)>,
    /// The function applied to those variables.
    pub value: Expression,
    /// The hidden variable for the result.
    pub result: VariableId,
}

/// A call of a standard function that has outputs and no result.
#[derive(Clone, Debug)]
pub struct OutputsCall {
    /// The row of the library.
    pub function: &'static FunctionDefinition,
    /// All inputs in parameter order.
    pub arguments: Vec<Expression>,
    /// Outputs taken, by their index in the row.
    pub outputs: Vec<OutputTarget>,
    /// `EN`: when FALSE nothing is evaluated and the outputs are the defaults of their types.
    pub enable: Option<Box<Expression>>,
    /// `ENO =>`.
    pub enable_output: Option<Box<Access>>,
}

/// A call of a user function or method.
#[derive(Clone, Debug)]
pub struct FunctionCall {
    /// The function; the method by the static type of the instance.
    pub unit: UnitId,
    /// The instance of a method.
    pub receiver: Option<Receiver>,
    /// Inputs given, by variable index, in textual order; the others get their initial values.
    pub inputs: Vec<(u32, Expression)>,
    /// In-out variables: all of them.
    pub in_outs: Vec<(u32, Access)>,
    /// Outputs taken.
    pub outputs: Vec<OutputTarget>,
    /// `EN`.
    pub enable: Option<Box<Expression>>,
    /// `ENO =>`.
    pub enable_output: Option<Box<Access>>,
}
