//! What cannot be rewritten, and why.

use latchwork_grammar::{Diagnostic, Span};

/// Why a body stays as it is.
#[derive(Clone, Debug)]
pub(super) struct Refusal {
    /// What stands in the way.
    pub(super) span: Span,
    /// What that is, in a few words for the place.
    pub(super) what: String,
    /// What to do.
    pub(super) remedy: String,
}

impl Refusal {
    /// Something at a place that the other language cannot say.
    pub(super) fn new(span: Span, what: impl Into<String>, remedy: impl Into<String>) -> Self {
        Refusal { span, what: what.into(), remedy: remedy.into() }
    }

    /// What the user is told.
    pub(super) fn diagnostic(&self, name: &str, language: &str) -> Diagnostic {
        Diagnostic::error("not-rewritten", self.span, format!("`{name}` was not rewritten into {language}"))
            .label(self.what.clone())
            .note(self.remedy.clone())
    }
}
