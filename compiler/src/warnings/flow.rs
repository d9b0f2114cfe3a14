//! Statements that never run, and branches that do nothing.

use latchwork_grammar::{
    Diagnostic,
    tree::{self, Body, ProgramUnit},
};

use super::{Context, walk};
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
    if let Body::StructuredText(statements) = &unit.body {
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
                    let behind = latchwork_grammar::Span::new(
                        condition.span.file,
                        condition.span.end,
                        statement.span.end,
                    );
                    let text = context.text(behind);
                    let end =
                        ["ELSIF", "ELSE", "END_IF"].iter().filter_map(|word| find_word(text, word)).min();
                    let branch = text.get(..end.unwrap_or(text.len())).unwrap_or(text);
                    let commented = branch.contains("(*") || branch.contains("//") || branch.contains("/*");
                    if is_empty(body) && !commented {
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

/// The place of a keyword in a text, in any case of letters.
fn find_word(text: &str, word: &str) -> Option<usize> {
    let bytes = text.as_bytes();
    bytes.windows(word.len()).position(|window| window.eq_ignore_ascii_case(word.as_bytes()))
}
