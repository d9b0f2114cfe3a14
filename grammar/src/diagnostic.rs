//! What is wrong with a program, as data. Wording happens where the problem is found; layout and colour
//! happen in the renderers of the compiler crate.

pub use crate::catalogue::CATALOGUE;
use crate::source::Span;

/// How serious a diagnostic is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Severity {
    /// The program cannot be used.
    Error,
    /// The program can be used, but probably does not do what its author thinks.
    Warning,
}

/// A place with a few words about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Label {
    /// The place.
    pub span: Span,
    /// What there is to see; may be empty.
    pub text: String,
}

/// Replacement of a piece of source text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Edit {
    /// What to replace; empty to insert.
    pub span: Span,
    /// The new text.
    pub text: String,
}

/// A change that certainly repairs the problem.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fix {
    /// What the change does, in the imperative: "write `:=` here".
    pub message: String,
    /// The edits, not overlapping, in source order.
    pub edits: Vec<Edit>,
}

/// One problem found in a source text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// Stable name, lower case with dashes, the argument of `latchwork explain`.
    pub name: &'static str,
    /// Severity.
    pub severity: Severity,
    /// One sentence without full stop that stands alone.
    pub message: String,
    /// The place the message speaks of.
    pub primary: Label,
    /// Other places that help to understand it.
    pub secondary: Vec<Label>,
    /// Sentences below the source excerpt.
    pub notes: Vec<String>,
    /// The repair, where it is certain.
    pub fix: Option<Fix>,
}

impl Diagnostic {
    /// An error at a place, with an empty label.
    pub fn error(name: &'static str, span: Span, message: impl Into<String>) -> Self {
        Self::new(Severity::Error, name, span, message)
    }

    /// A warning at a place, with an empty label.
    pub fn warning(name: &'static str, span: Span, message: impl Into<String>) -> Self {
        Self::new(Severity::Warning, name, span, message)
    }

    fn new(severity: Severity, name: &'static str, span: Span, message: impl Into<String>) -> Self {
        Diagnostic {
            name,
            severity,
            message: one_line(message),
            primary: Label { span, text: String::new() },
            secondary: Vec::new(),
            notes: Vec::new(),
            fix: None,
        }
    }

    /// Puts words beside the primary place.
    #[must_use]
    pub fn label(mut self, text: impl Into<String>) -> Self {
        self.primary.text = one_line(text);
        self
    }

    /// Adds a second place.
    #[must_use]
    pub fn also(mut self, span: Span, text: impl Into<String>) -> Self {
        self.secondary.push(Label { span, text: one_line(text) });
        self
    }

    /// Adds a note.
    #[must_use]
    pub fn note(mut self, text: impl Into<String>) -> Self {
        self.notes.push(one_line(text));
        self
    }

    /// Adds the repair that replaces each of `spans`, which are in the order of the text, by `text`.
    #[must_use]
    pub fn fix_all(mut self, message: impl Into<String>, spans: Vec<Span>, text: &str) -> Self {
        let edits = spans.into_iter().map(|span| Edit { span, text: text.to_owned() }).collect();
        self.fix = Some(Fix { message: message.into(), edits });
        self
    }

    /// Adds the repair that replaces `span` by `text`.
    #[must_use]
    pub fn fix(mut self, message: impl Into<String>, span: Span, text: impl Into<String>) -> Self {
        self.fix = Some(Fix { message: message.into(), edits: vec![Edit { span, text: text.into() }] });
        self
    }
}

/// Words on one line: a piece of source text quoted in them may go over several.
fn one_line(text: impl Into<String>) -> String {
    let text = text.into();
    if !text.contains(['\n', '\r']) {
        return text;
    }
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
