//! Statements that never run, and branches that do nothing.

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{self, ProgramUnit},
};

use super::{Context, structured_texts, walk};
use crate::typed::{Statement, StatementKind};

/// What stands behind a statement that always leaves.
pub(super) fn unreachable(context: &Context<'_>, found: &mut Vec<Diagnostic>) {
    list(context.body, found);
}

fn list(statements: &[Statement], found: &mut Vec<Diagnostic>) {
    let mut left: Option<&Statement> = None;
    for statement in statements {
        if matches!(statement.kind, StatementKind::Label(_)) {
            left = None;
        }
        if let Some(leaving) = left.take() {
            found.push(
                Diagnostic::warning("unreachable", statement.span, "this is never reached")
                    .label("and neither is what follows it in this block")
                    .also(leaving.span, "always leaves here"),
            );
            return;
        }
        if matches!(
            statement.kind,
            StatementKind::Return
                | StatementKind::Exit
                | StatementKind::Continue
                | StatementKind::Jump { condition: None, .. }
        ) {
            left = Some(statement);
        }
        for inner in walk::inner_lists(statement) {
            list(inner, found);
        }
    }
}

/// `IF … THEN ; END_IF`: a branch of an IF with nothing in it, unless a comment says that it is meant so.
pub(super) fn empty_branches(context: &Context<'_>, unit: &ProgramUnit, found: &mut Vec<Diagnostic>) {
    for statements in structured_texts(unit) {
        empty_in(context, statements, found);
    }
}

fn empty_in(context: &Context<'_>, statements: &[tree::Statement], found: &mut Vec<Diagnostic>) {
    let is_empty =
        |body: &[tree::Statement]| body.iter().all(|s| matches!(s.kind, tree::StatementKind::Empty));
    for statement in statements {
        match &statement.kind {
            tree::StatementKind::If { branches, otherwise } => {
                for (condition, body) in branches {
                    if is_empty(body) && !is_commented(context, condition.span, statement.span) {
                        found.push(
                            Diagnostic::warning("empty-branch", condition.span, "nothing happens under this condition")
                                .label("its branch is empty")
                                .note("a `;` directly behind THEN ends the branch; write a comment there if it is meant so"),
                        );
                    }
                    empty_in(context, body, found);
                }
                empty_in(context, otherwise.as_deref().unwrap_or_default(), found);
            }
            tree::StatementKind::Case { groups, otherwise, .. } => {
                groups.iter().for_each(|group| empty_in(context, &group.statements, found));
                empty_in(context, otherwise.as_deref().unwrap_or_default(), found);
            }
            tree::StatementKind::For { body, .. }
            | tree::StatementKind::While { body, .. }
            | tree::StatementKind::Repeat { body, .. } => empty_in(context, body, found),
            _ => {}
        }
    }
}

/// Whether a comment stands in the branch behind a condition.
fn is_commented(context: &Context<'_>, condition: Span, statement: Span) -> bool {
    let text = context.text(Span::new(condition.file, condition.end, statement.end)).as_bytes();
    let starts = |at: usize, word: &str| {
        text.get(at..at + word.len()).is_some_and(|piece| piece.eq_ignore_ascii_case(word.as_bytes()))
    };
    // Goes no further than the branch, for an IF may have very many.
    let end = (0..text.len()).find(|at| ["ELSIF", "ELSE", "END_IF"].iter().any(|word| starts(*at, word)));
    let branch = text.get(..end.unwrap_or(text.len())).unwrap_or(text);
    branch.windows(2).any(|pair| matches!(pair, b"(*" | b"//" | b"/*"))
}
