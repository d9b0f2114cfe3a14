//! Statements that never run, and branches that do nothing.

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{self, Body, UnitKind},
};

use super::{Context, structured_texts};
use crate::{
    findings::Findings,
    typed::{Statement, StatementKind, walk},
};

/// What stands behind a statement that always leaves.
pub(super) fn unreachable(context: &Context<'_>, found: &mut Findings) {
    list(context.body, found);
}

fn list(statements: &[Statement], found: &mut Findings) {
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
        if leaves(statement) {
            left = Some(statement);
        }
        walk::each_inner_list(statement, &mut |inner| list(inner, found));
    }
}

/// Whether nothing behind a statement runs: it leaves itself, or each of its branches does.
fn leaves(statement: &Statement) -> bool {
    match &statement.kind {
        StatementKind::Return
        | StatementKind::Exit
        | StatementKind::Continue
        | StatementKind::Jump { condition: None, .. } => true,
        StatementKind::If { otherwise, .. } | StatementKind::Case { otherwise, .. } => {
            !otherwise.is_empty()
                && walk::inner_lists(statement).iter().all(|list| list.last().is_some_and(leaves))
        }
        _ => false,
    }
}

/// A unit in whose body nothing stands, not even a comment.
pub(super) fn empty_body(context: &Context<'_>, found: &mut Findings) {
    let unit = context.tree;
    let meant = !unit.methods.is_empty() || unit.extends.is_some() || !unit.modifiers.is_empty();
    let word = match unit.kind {
        UnitKind::Program => "program",
        UnitKind::FunctionBlock => "function block",
        _ => return,
    };
    if !matches!(unit.body, Body::Empty) || meant {
        return;
    }
    let end = unit.sections.iter().map(|section| section.span.end).chain([unit.name.span.end]).max();
    let rest = Span::new(unit.span.file, end.unwrap_or(unit.span.end), unit.span.end);
    if has_comment(context.text(rest)) {
        return;
    }
    found.push(
        Diagnostic::warning("empty-body", unit.name.span, format!("this {word} does nothing"))
            .label("its body is empty")
            .note("write its statements, or a comment if it is meant so"),
    );
}

/// `IF … THEN ; END_IF`: a branch of an IF with nothing in it, unless a comment says that it is meant so.
pub(super) fn empty_branches(context: &Context<'_>, found: &mut Findings) {
    for statements in structured_texts(context) {
        empty_in(context, statements, found);
    }
}

fn empty_in(context: &Context<'_>, statements: &[tree::Statement], found: &mut Findings) {
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
                if let Some(body) = otherwise {
                    // Behind the last branch.
                    let last = branches.last().map_or(statement.span, |(condition, body)| {
                        body.last().map_or(condition.span, |last| last.span)
                    });
                    let rest = Span::new(last.file, last.end, statement.span.end);
                    if !body.is_empty() && is_empty(body) && !has_comment(context.text(rest)) {
                        found.push(nothing_happens(
                            rest_word(context, rest, "ELSE"),
                            "this ELSE does nothing",
                        ));
                    }
                    empty_in(context, body, found);
                }
            }
            tree::StatementKind::Case { groups, otherwise, .. } => {
                for (index, group) in groups.iter().enumerate() {
                    let next = groups.get(index + 1).and_then(|group| group.labels.first());
                    // `3:` directly in front of the next group. A `;` or a comment there says that it is meant.
                    if let (Some(label), Some(next), []) =
                        (group.labels.last(), next, group.statements.as_slice())
                    {
                        let label = label.last.as_ref().unwrap_or(&label.first).span;
                        let between = Span::new(label.file, label.end, next.first.span.start);
                        if !has_comment(context.text(between)) {
                            found.push(
                                nothing_happens(label, "nothing happens for this value")
                                    .note("groups do not run on into the next one; for the same statements, write the values into one label: `2, 3:`"),
                            );
                        }
                    }
                    empty_in(context, &group.statements, found);
                }
                empty_in(context, otherwise.as_deref().unwrap_or_default(), found);
            }
            tree::StatementKind::For { body, variable, .. } => {
                if is_empty(body) && !has_comment(context.text(statement.span)) {
                    found.push(nothing_happens(variable.span, "nothing happens in this loop").note(
                        "a loop does not wait: it runs to its end within one scan; use a timer for a delay",
                    ));
                }
                empty_in(context, body, found);
            }
            tree::StatementKind::While { body, .. } | tree::StatementKind::Repeat { body, .. } => {
                empty_in(context, body, found);
            }
            _ => {}
        }
    }
}

fn nothing_happens(span: Span, message: &str) -> Diagnostic {
    Diagnostic::warning("empty-branch", span, message).label("empty")
}

fn has_comment(text: &str) -> bool {
    text.as_bytes().windows(2).any(|pair| matches!(pair, b"(*" | b"//" | b"/*"))
}

/// The place of a keyword in a piece of text; the piece itself if it is not there.
fn rest_word(context: &Context<'_>, rest: Span, word: &str) -> Span {
    let at = context.text(rest).to_ascii_uppercase().find(word);
    at.map_or(rest, |at| {
        let start = rest.start + at as u32;
        Span::new(rest.file, start, start + word.len() as u32)
    })
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
