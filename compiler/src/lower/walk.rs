//! Walks over the typed tree that the lowering needs before it emits anything.
//!
//! Long chains such as `a + b + c + …` lean to the left; the walks follow the first operand in a loop and
//! recurse only into the others, so that a chain of any length needs no deep stack.

use crate::typed::{
    Access, BlockCall, Expression, ExpressionKind, FunctionCall, OutputTarget, Statement, StatementKind, Step,
};

/// Visits every access of a body, written or read.
pub(crate) fn accesses(body: &[Statement], visit: &mut dyn FnMut(&Access)) {
    for statement in body {
        match &statement.kind {
            StatementKind::Assign { target, value } => {
                access(target, visit);
                expression(value, visit);
            }
            StatementKind::CallBlock(call) => block_call(call, visit),
            StatementKind::Evaluate(value) => expression(value, visit),
            StatementKind::If { branches, otherwise } => {
                for (condition, body) in branches {
                    expression(condition, visit);
                    accesses(body, visit);
                }
                accesses(otherwise, visit);
            }
            StatementKind::Case { selector, groups, otherwise } => {
                expression(selector, visit);
                for (_, body) in groups {
                    accesses(body, visit);
                }
                accesses(otherwise, visit);
            }
            StatementKind::For { variable, from, to, by, body } => {
                access(variable, visit);
                for value in [from, to, by] {
                    expression(value, visit);
                }
                accesses(body, visit);
            }
            StatementKind::While { condition, body } => {
                expression(condition, visit);
                accesses(body, visit);
            }
            StatementKind::Repeat { body, until } => {
                accesses(body, visit);
                expression(until, visit);
            }
            StatementKind::Jump { condition: Some((condition, _)), .. } => expression(condition, visit),
            StatementKind::Exit
            | StatementKind::Continue
            | StatementKind::Return
            | StatementKind::Label(_)
            | StatementKind::Event(_)
            | StatementKind::Jump { condition: None, .. } => {}
        }
    }
}

fn block_call(call: &BlockCall, visit: &mut dyn FnMut(&Access)) {
    access(&call.instance, visit);
    parts(&call.inputs, &call.in_outs, &call.outputs, visit);
    call.enable.iter().for_each(|value| expression(value, visit));
    call.enable_output.iter().for_each(|target| access(target, visit));
}

fn function_call(call: &FunctionCall, visit: &mut dyn FnMut(&Access)) {
    call.receiver.iter().for_each(|receiver| access(&receiver.instance, visit));
    parts(&call.inputs, &call.in_outs, &call.outputs, visit);
    call.enable.iter().for_each(|value| expression(value, visit));
    call.enable_output.iter().for_each(|target| access(target, visit));
}

fn parts(
    inputs: &[(u32, Expression)],
    in_outs: &[(u32, Access)],
    outputs: &[OutputTarget],
    visit: &mut dyn FnMut(&Access),
) {
    inputs.iter().for_each(|(_, value)| expression(value, visit));
    in_outs.iter().for_each(|(_, target)| access(target, visit));
    outputs.iter().for_each(|output| access(&output.target, visit));
}

fn access(reached: &Access, visit: &mut dyn FnMut(&Access)) {
    visit(reached);
    for step in &reached.steps {
        match step {
            Step::Index(subscripts) => subscripts.iter().for_each(|value| expression(value, visit)),
            Step::Character(position) => expression(position, visit),
            Step::Member(_) | Step::Dereference | Step::Partial { .. } => {}
        }
    }
}

fn expression(mut value: &Expression, visit: &mut dyn FnMut(&Access)) {
    loop {
        match &value.kind {
            ExpressionKind::Constant(_) | ExpressionKind::ScanTime => return,
            ExpressionKind::Access(reached) | ExpressionKind::Reference(reached) => {
                return access(reached, visit);
            }
            ExpressionKind::Convert(inner)
            | ExpressionKind::CheckRange(inner)
            | ExpressionKind::Attempt { value: inner, .. } => value = inner,
            ExpressionKind::Function(call) => return function_call(call, visit),
            ExpressionKind::Bound(bound) => value = &bound.dimension,
            ExpressionKind::Controlled(call) => {
                call.enable.iter().for_each(|value| expression(value, visit));
                call.arguments.iter().for_each(|(_, value)| expression(value, visit));
                call.enable_output.iter().for_each(|target| access(target, visit));
                value = &call.value;
            }
            ExpressionKind::Standard { arguments, .. } => {
                let Some((first, others)) = arguments.split_first() else { return };
                others.iter().for_each(|other| expression(other, visit));
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
            ExpressionKind::Access(reached) | ExpressionKind::Reference(reached) => {
                return access_calls(reached);
            }
            ExpressionKind::Convert(inner)
            | ExpressionKind::CheckRange(inner)
            | ExpressionKind::Attempt { value: inner, .. } => value = inner,
            ExpressionKind::Bound(bound) => value = &bound.dimension,
            // The latter writes its ENO and keeps its operands in variables.
            ExpressionKind::Function(_) | ExpressionKind::Controlled(_) => return true,
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

/// Visits every access of an expression.
pub(crate) fn expression_accesses(value: &Expression, visit: &mut dyn FnMut(&Access)) {
    expression(value, visit);
}
