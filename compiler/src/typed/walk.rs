//! Walking the typed tree statement by statement: what each reads, writes and refers to, and which places are the same.

use crate::typed::{Access, BlockCall, Expression, ExpressionKind, Root, Statement, StatementKind, Step};

/// The lists of statements directly inside a statement.
pub(crate) fn inner_lists(statement: &Statement) -> Vec<&[Statement]> {
    let mut lists = Vec::new();
    each_inner_list(statement, &mut |list| lists.push(list));
    lists
}

/// Visits the lists of statements directly inside a statement.
pub(crate) fn each_inner_list<'s>(statement: &'s Statement, visit: &mut impl FnMut(&'s [Statement])) {
    match &statement.kind {
        StatementKind::If { branches, otherwise } => {
            branches.iter().for_each(|(_, body)| visit(body));
            visit(otherwise);
        }
        StatementKind::Case { groups, otherwise, .. } => {
            groups.iter().for_each(|(_, body)| visit(body));
            visit(otherwise);
        }
        StatementKind::For { body, .. }
        | StatementKind::While { body, .. }
        | StatementKind::Repeat { body, .. } => visit(body),
        _ => {}
    }
}

/// Every statement of a list and below it, outer ones first.
pub(crate) fn statements<'s>(list: &'s [Statement], visit: &mut dyn FnMut(&'s Statement)) {
    for statement in list {
        visit(statement);
        each_inner_list(statement, &mut |inner| statements(inner, visit));
    }
}

/// The expressions of a statement itself, not of the statements inside it.
pub(crate) fn own_expressions<'s>(statement: &'s Statement, visit: &mut impl FnMut(&'s Expression)) {
    match &statement.kind {
        StatementKind::Assign { target, value } => {
            expression(value, visit);
            subscripts(target, visit);
        }
        StatementKind::CallBlock(call) => block_call(call, visit),
        StatementKind::Evaluate(value) => expression(value, visit),
        StatementKind::If { branches, .. } => {
            branches.iter().for_each(|(condition, _)| expression(condition, visit))
        }
        StatementKind::Case { selector, .. } => expression(selector, visit),
        StatementKind::For { from, to, by, .. } => {
            [from, to, by].into_iter().for_each(|e| expression(e, visit))
        }
        StatementKind::While { condition, .. } => expression(condition, visit),
        StatementKind::Repeat { until, .. } => expression(until, visit),
        StatementKind::Jump { condition: Some((condition, _)), .. } => expression(condition, visit),
        _ => {}
    }
}

fn block_call<'s>(call: &'s BlockCall, visit: &mut impl FnMut(&'s Expression)) {
    subscripts(&call.instance, visit);
    call.enable.iter().for_each(|enable| expression(enable, visit));
    call.inputs.iter().for_each(|(_, value)| expression(value, visit));
    call.in_outs.iter().for_each(|(_, access)| subscripts(access, visit));
    call.outputs.iter().for_each(|output| subscripts(&output.target, visit));
    call.enable_output.iter().for_each(|access| subscripts(access, visit));
}

/// An expression and everything inside it, outer ones first.
pub(crate) fn expression<'s>(value: &'s Expression, visit: &mut impl FnMut(&'s Expression)) {
    visit(value);
    match &value.kind {
        ExpressionKind::Constant(_) | ExpressionKind::ScanTime => {}
        ExpressionKind::Access(access) => subscripts(access, visit),
        ExpressionKind::Reference(access) => subscripts(access, visit),
        ExpressionKind::Convert(inner)
        | ExpressionKind::CheckRange(inner)
        | ExpressionKind::Attempt { value: inner, .. } => expression(inner, visit),
        ExpressionKind::Standard { arguments, .. } => {
            arguments.iter().for_each(|argument| expression(argument, visit));
        }
        ExpressionKind::Function(call) => {
            call.receiver.iter().for_each(|receiver| subscripts(&receiver.instance, visit));
            call.enable.iter().for_each(|enable| expression(enable, visit));
            call.inputs.iter().for_each(|(_, value)| expression(value, visit));
            call.in_outs.iter().for_each(|(_, access)| subscripts(access, visit));
            call.outputs.iter().for_each(|output| subscripts(&output.target, visit));
            call.enable_output.iter().for_each(|access| subscripts(access, visit));
        }
        ExpressionKind::Bound(bound) => expression(&bound.dimension, visit),
        ExpressionKind::Outputs(call) => {
            call.enable.iter().for_each(|enable| expression(enable, visit));
            call.arguments.iter().for_each(|value| expression(value, visit));
            call.outputs.iter().for_each(|output| subscripts(&output.target, visit));
            call.enable_output.iter().for_each(|access| subscripts(access, visit));
        }
        ExpressionKind::Controlled(call) => {
            call.enable.iter().for_each(|enable| expression(enable, visit));
            call.arguments.iter().for_each(|(_, value)| expression(value, visit));
            expression(&call.value, visit);
            call.enable_output.iter().for_each(|access| subscripts(access, visit));
        }
    }
}

fn subscripts<'s>(access: &'s Access, visit: &mut impl FnMut(&'s Expression)) {
    for step in &access.steps {
        match step {
            Step::Index(subscripts) => subscripts.iter().for_each(|subscript| expression(subscript, visit)),
            Step::Character(subscript) => expression(subscript, visit),
            _ => {}
        }
    }
}

/// The accesses whose value a statement itself may use: operands, in-outs, and the instance of a call.
pub(crate) fn own_reads<'s>(statement: &'s Statement, visit: &mut impl FnMut(&'s Access)) {
    own_reads_of_call(statement, visit);
    own_expressions(statement, &mut |value| reads_of(value, visit));
}

/// Those of [`own_reads`] that belong to the call of an instance and are in no expression.
pub(crate) fn own_reads_of_call<'s>(statement: &'s Statement, visit: &mut impl FnMut(&'s Access)) {
    if let StatementKind::CallBlock(call) = &statement.kind {
        call.in_outs.iter().for_each(|(_, access)| visit(access));
        // The body of the base works on the variables of the unit.
        if call.instance.root == Root::This {
            visit(&call.instance);
        }
    }
}

/// The accesses whose value an expression may use, without what is inside it.
pub(crate) fn reads_of<'s>(value: &'s Expression, visit: &mut impl FnMut(&'s Access)) {
    match &value.kind {
        ExpressionKind::Access(access) => visit(access),
        ExpressionKind::Reference(access) => visit(access),
        ExpressionKind::Function(call) => {
            call.receiver.iter().for_each(|receiver| visit(&receiver.instance));
            call.in_outs.iter().for_each(|(_, access)| visit(access));
        }
        _ => {}
    }
}

/// The accesses a statement itself may write, and instances it calls.
pub(crate) fn own_writes<'s>(statement: &'s Statement, visit: &mut impl FnMut(&'s Access)) {
    own_targets(statement, visit);
    own_expressions(statement, &mut |value| writes_of(value, visit));
}

/// Those of [`own_writes`] that are in no expression.
pub(crate) fn own_targets<'s>(statement: &'s Statement, visit: &mut impl FnMut(&'s Access)) {
    match &statement.kind {
        StatementKind::Assign { target, .. } => visit(target),
        StatementKind::For { variable, .. } => visit(variable),
        StatementKind::CallBlock(call) => {
            visit(&call.instance);
            call.in_outs.iter().for_each(|(_, access)| visit(access));
            call.outputs.iter().for_each(|output| visit(&output.target));
            call.enable_output.as_deref().into_iter().for_each(visit);
        }
        _ => {}
    }
}

/// The accesses an expression may write, and instances it calls, without what is inside it.
pub(crate) fn writes_of<'s>(value: &'s Expression, visit: &mut impl FnMut(&'s Access)) {
    match &value.kind {
        ExpressionKind::Function(call) => {
            call.receiver.iter().for_each(|receiver| visit(&receiver.instance));
            call.in_outs.iter().for_each(|(_, access)| visit(access));
            call.outputs.iter().for_each(|output| visit(&output.target));
            call.enable_output.as_deref().into_iter().for_each(visit);
        }
        ExpressionKind::Outputs(call) => {
            call.outputs.iter().for_each(|output| visit(&output.target));
            call.enable_output.as_deref().into_iter().for_each(visit);
        }
        ExpressionKind::Controlled(call) => call.enable_output.as_deref().into_iter().for_each(visit),
        _ => {}
    }
}

/// Whether a statement itself calls a user function, which may do more than its arguments show.
pub(crate) fn calls_user_function(statement: &Statement) -> bool {
    let mut found = false;
    own_expressions(statement, &mut |value| found |= matches!(value.kind, ExpressionKind::Function(_)));
    found
}

/// Whether two accesses are the same place for certain: the same root and the same members, no subscripts.
pub(crate) fn same_place(left: &Access, right: &Access) -> bool {
    let same_step = |steps: (&Step, &Step)| match steps {
        (Step::Member(left), Step::Member(right)) => left == right,
        (Step::Partial { size, index }, Step::Partial { size: other_size, index: other }) => {
            (size, index) == (other_size, other)
        }
        _ => false,
    };
    same_root(&left.root, &right.root)
        && left.steps.len() == right.steps.len()
        && left.steps.iter().zip(&right.steps).all(same_step)
}

/// Whether two accesses start from one variable or address, wherever it is written.
fn same_root(left: &Root, right: &Root) -> bool {
    match (left, right) {
        (Root::Direct(left), Root::Direct(right)) => {
            (left.area, left.size, &left.path) == (right.area, right.size, &right.path)
        }
        _ => left == right,
    }
}

/// Whether two accesses may overlap: the same variable, or an address, which any variable may stand for.
pub(crate) fn may_overlap(left: &Access, right: &Access) -> bool {
    left.root == right.root
        || matches!(left.root, Root::Direct(_) | Root::This)
        || matches!(right.root, Root::Direct(_) | Root::This)
        || [left, right]
            .iter()
            .any(|access| access.steps.iter().any(|step| matches!(step, Step::Dereference)))
}
