//! Walking the typed tree for its accesses, and whether something calls a function of the user.
//!
//! Long chains such as `a + b + c + …` lean to the left; the walks follow the first operand in a loop and
//! recurse only into the others, so that a chain of any length needs no deep stack.

use crate::typed::{
    Access, BlockCall, Expression, ExpressionKind, FunctionCall, OutputTarget, OutputsCall, Statement,
    StatementKind, Step,
};

/// Visits every access of a body, written or read.
pub(crate) fn accesses(body: &[Statement], visit: &mut dyn FnMut(&Access)) {
    for statement in body {
        match &statement.kind {
            StatementKind::Assign { target, value } => {
                access(target, visit);
                expression_accesses(value, visit);
            }
            StatementKind::CallBlock(call) => block_call(call, visit),
            StatementKind::Evaluate(value) => expression_accesses(value, visit),
            StatementKind::If { branches, otherwise } => {
                for (condition, body) in branches {
                    expression_accesses(condition, visit);
                    accesses(body, visit);
                }
                accesses(otherwise, visit);
            }
            StatementKind::Case { selector, groups, otherwise } => {
                expression_accesses(selector, visit);
                for (_, body) in groups {
                    accesses(body, visit);
                }
                accesses(otherwise, visit);
            }
            StatementKind::For { variable, from, to, by, body } => {
                access(variable, visit);
                for value in [from, to, by] {
                    expression_accesses(value, visit);
                }
                accesses(body, visit);
            }
            StatementKind::While { condition, body } => {
                expression_accesses(condition, visit);
                accesses(body, visit);
            }
            StatementKind::Repeat { body, until } => {
                accesses(body, visit);
                expression_accesses(until, visit);
            }
            StatementKind::Jump { condition: Some((condition, _)), .. } => {
                expression_accesses(condition, visit)
            }
            StatementKind::Exit
            | StatementKind::Continue
            | StatementKind::Return
            | StatementKind::Label(_)
            | StatementKind::Event(_)
            | StatementKind::Observe(_)
            | StatementKind::Jump { condition: None, .. } => {}
        }
    }
}

fn block_call(call: &BlockCall, visit: &mut dyn FnMut(&Access)) {
    access(&call.instance, visit);
    parts(&call.inputs, &call.in_outs, &call.outputs, visit);
    call.enable.iter().for_each(|value| expression_accesses(value, visit));
    call.enable_output.iter().for_each(|target| access(target, visit));
}

fn function_call(call: &FunctionCall, visit: &mut dyn FnMut(&Access)) {
    call.receiver.iter().for_each(|receiver| access(&receiver.instance, visit));
    parts(&call.inputs, &call.in_outs, &call.outputs, visit);
    call.enable.iter().for_each(|value| expression_accesses(value, visit));
    call.enable_output.iter().for_each(|target| access(target, visit));
}

fn outputs_call(call: &OutputsCall, visit: &mut dyn FnMut(&Access)) {
    call.arguments.iter().for_each(|value| expression_accesses(value, visit));
    parts(&[], &[], &call.outputs, visit);
    call.enable.iter().for_each(|value| expression_accesses(value, visit));
    call.enable_output.iter().for_each(|target| access(target, visit));
}

fn parts(
    inputs: &[(u32, Expression)],
    in_outs: &[(u32, Access)],
    outputs: &[OutputTarget],
    visit: &mut dyn FnMut(&Access),
) {
    inputs.iter().for_each(|(_, value)| expression_accesses(value, visit));
    in_outs.iter().for_each(|(_, target)| access(target, visit));
    outputs.iter().for_each(|output| access(&output.target, visit));
}

/// Visits an access and those in its subscripts.
pub(crate) fn access(reached: &Access, visit: &mut dyn FnMut(&Access)) {
    visit(reached);
    for step in &reached.steps {
        match step {
            Step::Index(subscripts) => subscripts.iter().for_each(|value| expression_accesses(value, visit)),
            Step::Character(position) => expression_accesses(position, visit),
            Step::Member(_) | Step::Dereference | Step::Partial { .. } => {}
        }
    }
}

/// Visits every access of an expression.
pub(crate) fn expression_accesses(mut value: &Expression, visit: &mut dyn FnMut(&Access)) {
    loop {
        match &value.kind {
            ExpressionKind::Constant(_) | ExpressionKind::ScanTime => return,
            ExpressionKind::Access(reached) => return access(reached, visit),
            ExpressionKind::Reference(reached) => return access(reached, visit),
            ExpressionKind::Convert(inner)
            | ExpressionKind::CheckRange(inner)
            | ExpressionKind::Attempt { value: inner, .. } => value = inner,
            ExpressionKind::Function(call) => return function_call(call, visit),
            ExpressionKind::Outputs(call) => return outputs_call(call, visit),
            ExpressionKind::Bound(bound) => value = &bound.dimension,
            ExpressionKind::Controlled(call) => {
                call.enable.iter().for_each(|value| expression_accesses(value, visit));
                call.arguments.iter().for_each(|(_, value)| expression_accesses(value, visit));
                call.enable_output.iter().for_each(|target| access(target, visit));
                value = &call.value;
            }
            ExpressionKind::Standard { arguments, .. } => {
                let Some((first, others)) = arguments.split_first() else { return };
                others.iter().for_each(|other| expression_accesses(other, visit));
                value = first;
            }
        }
    }
}

/// Whether evaluating an expression calls a function written by the user, which may change variables and
/// its own frame.
pub(crate) fn calls(mut value: &Expression) -> bool {
    loop {
        match &value.kind {
            ExpressionKind::Constant(_) | ExpressionKind::ScanTime => return false,
            ExpressionKind::Access(reached) => return access_calls(reached),
            ExpressionKind::Reference(reached) => return access_calls(reached),
            ExpressionKind::Convert(inner)
            | ExpressionKind::CheckRange(inner)
            | ExpressionKind::Attempt { value: inner, .. } => value = inner,
            ExpressionKind::Bound(bound) => value = &bound.dimension,
            // The others write outputs or ENO and keep operands in variables.
            ExpressionKind::Function(_) | ExpressionKind::Controlled(_) | ExpressionKind::Outputs(_) => {
                return true;
            }
            ExpressionKind::Standard { arguments, .. } => {
                let Some((first, others)) = arguments.split_first() else { return false };
                if others.iter().any(calls) {
                    return true;
                }
                value = first;
            }
        }
    }
}

/// Whether a subscript of an access calls a function written by the user.
pub(crate) fn access_calls(reached: &Access) -> bool {
    reached.steps.iter().any(|step| match step {
        Step::Index(subscripts) => subscripts.iter().any(calls),
        Step::Character(position) => calls(position),
        Step::Member(_) | Step::Dereference | Step::Partial { .. } => false,
    })
}
