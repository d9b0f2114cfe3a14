//! Bodies in one normal form, whatever their author called things and however it was written down.
//!
//! The words of the normal form are those of Structured Text, with these differences:
//!
//! - a variable is what it is, not how it is called: its address, the name the task demands, or else its type; a constant
//!   with a plain value is that value; types, functions, blocks and values of enumerations of the author have no names;
//! - a literal is its value: `T#2s` is `T#2000ms`, `16#10` is `16`, `INT#5` is `5`;
//! - parentheses stand only where the order of operators needs them; operands of operators whose order does not matter
//!   are sorted, `a > b` is `b < a`, and a function such as `ADD` is the operator it is;
//! - a decision is a chain of conditions, whether it was written as IF or CASE, and a condition never stands negated where its
//!   opposite would do;
//! - named and positional arguments of what is standard are one, and outputs taken by `=>` are assignments behind the call.

mod calls;
mod chart;
mod decision;
mod expression;
mod kinds;
mod list;
mod literal;
mod plain;
mod scope;
mod statement;
mod value;

use std::borrow::Cow;

use latchwork_grammar::{Names, Sources, Span, Token as GrammarToken, tree::Body};

pub(super) use self::{kinds::Declared, scope::Scope};

/// A word of the normal form.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Word {
    /// What it is.
    pub(super) text: Cow<'static, str>,
    /// Tells variables that are the same word from one another.
    pub(super) variable: Option<u32>,
    /// Where it stands.
    pub(super) lines: Lines,
}

/// Lines of a file that was handed in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Lines {
    /// Number of the file from 0.
    pub(super) file: u16,
    /// The first line, from 1.
    pub(super) from: u32,
    /// The last line.
    pub(super) to: u32,
}

/// Writes bodies of one unit in the normal form.
pub(super) struct Writer<'t> {
    /// What the whole program declares.
    pub(super) declared: &'t Declared<'t>,
    /// What the names of the unit stand for.
    pub(super) scope: Scope<'t>,
    /// The lines that a place of the text leads back to.
    pub(super) lines: &'t dyn Fn(Span) -> Lines,
}

impl<'t> Writer<'t> {
    /// The words of a body.
    pub(super) fn body(&self, body: &'t Body) -> Vec<Word> {
        let mut words = Vec::new();
        match body {
            Body::Empty => {}
            Body::StructuredText(statements) => self.statements(statements, &mut words),
            Body::InstructionList(instructions) => self.instructions(instructions, &mut words),
            Body::SequentialFunctionChart(chart) => self.chart(chart, &mut words),
        }
        words
    }

    /// The words of text that could not be understood as a body.
    pub(super) fn plain(
        &self,
        tokens: &[GrammarToken],
        span: Span,
        sources: &Sources,
        names: &Names,
    ) -> Vec<Word> {
        plain::words(self, tokens, span, sources, names)
    }

    /// A word that is not a variable.
    fn word(&self, text: impl Into<Cow<'static, str>>, span: Span) -> Word {
        Word { text: text.into(), variable: None, lines: (self.lines)(span) }
    }
}
