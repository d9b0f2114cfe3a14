//! What statements read and write.

use latchwork_compiler::logic::{LogicKind, LogicStatement, Part};

/// Whether a statement assigns a result that is kept, and nothing else.
pub(super) fn takes_result(statement: &LogicStatement, result: &Part) -> bool {
    match &statement.kind {
        LogicKind::Assign { target, value } => {
            statement.written && !target.is_hidden() && value.is_hidden() && value.span == result.span
        }
        _ => false,
    }
}

/// Whether anything of an expression is as asked for.
pub(super) fn any(part: &Part, asked: &impl Fn(&&Part) -> bool) -> bool {
    asked(&part) || part.operands().into_iter().any(|operand| any(operand, asked))
}

/// The names of all variables that are written inside of a statement.
pub(super) fn collect_written(statement: &LogicStatement, written: &mut Vec<String>) {
    for inner in statement.inner().into_iter().flatten() {
        match &inner.kind {
            LogicKind::Assign { target, .. } => written.push(target.text.clone()),
            LogicKind::Call(call) => {
                written.extend(call.outputs.iter().map(|output| output.target.text.clone()))
            }
            _ => {}
        }
        collect_written(inner, written);
    }
}
