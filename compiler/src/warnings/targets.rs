//! Calls in which one variable stands at two places that may write it.

use latchwork_grammar::Diagnostic;

use super::Context;
use crate::{
    findings::Findings,
    typed::{Access, ExpressionKind, OutputTarget, StatementKind, walk},
};

/// One variable for two in-outs, or behind `=>` twice.
pub(super) fn shared(context: &Context<'_>, found: &mut Findings) {
    if context.survey.kinds.block_calls {
        for surveyed in context.survey.statements() {
            if let StatementKind::CallBlock(call) = &surveyed.statement.kind {
                check(context, &call.in_outs, &call.outputs, found);
            }
        }
    }
    for value in context.survey.expressions() {
        match &value.kind {
            ExpressionKind::Function(call) => check(context, &call.in_outs, &call.outputs, found),
            ExpressionKind::Outputs(call) => check(context, &[], &call.outputs, found),
            _ => {}
        }
    }
}

/// Most pairs of arguments of one call that are compared.
const ARGUMENTS_MAX: usize = 64;

fn check(context: &Context<'_>, in_outs: &[(u32, Access)], outputs: &[OutputTarget], found: &mut Findings) {
    if in_outs.len() + outputs.len() < 2 {
        return;
    }
    let in_outs: Vec<&Access> = in_outs.iter().map(|(_, access)| access).take(ARGUMENTS_MAX).collect();
    let outputs: Vec<&Access> = outputs.iter().map(|output| &output.target).take(ARGUMENTS_MAX).collect();
    for (index, second) in in_outs.iter().enumerate() {
        let earlier = in_outs.iter().take(index).find(|first| walk::same_place(first, second));
        if let Some(first) = earlier {
            let name = context.text(second.span);
            found.push(
                Diagnostic::warning(
                    "in-out-alias",
                    second.span,
                    format!("`{name}` is passed as two VAR_IN_OUT of one call"),
                )
                .label("the same variable under a second name")
                .also(first.span, "first")
                .note("what the body writes to one of them changes the other too; give each a variable of its own"),
            );
        }
    }
    for (index, second) in outputs.iter().enumerate() {
        let earlier =
            outputs.iter().take(index).chain(&in_outs).find(|first| walk::same_place(first, second));
        if let Some(first) = earlier {
            let name = context.text(second.span);
            found.push(
                Diagnostic::warning(
                    "repeated-target",
                    second.span,
                    format!("`{name}` takes two values of one call"),
                )
                .label("only this one stays")
                .also(first.span, "written here first")
                .note("give each output a variable of its own"),
            );
        }
    }
}
