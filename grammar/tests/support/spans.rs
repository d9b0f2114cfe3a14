//! What every diagnostic holds to, whatever the text is: places inside of it, and one plain sentence.

use latchwork_grammar::{Diagnostic, Span};

/// A place is a piece of the text.
pub fn check_span(text: &str, span: Span) {
    assert!(span.start <= span.end, "{span:?}");
    assert!(text.get(span.start as usize..span.end as usize).is_some(), "{span:?} in {text:?}");
}

/// All places of diagnostics, and the form of their messages.
pub fn check_diagnostics(text: &str, diagnostics: &[Diagnostic]) {
    for problem in diagnostics {
        check_span(text, problem.primary.span);
        problem.secondary.iter().for_each(|label| check_span(text, label.span));
        for edit in problem.fix.iter().flat_map(|fix| &fix.edits) {
            check_span(text, edit.span);
        }
        assert!(!problem.message.contains('\n') && !problem.message.ends_with('.'), "{}", problem.message);
    }
}
