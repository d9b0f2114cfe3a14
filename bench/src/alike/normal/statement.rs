//! Statements of Structured Text in the normal form.

use latchwork_grammar::{
    Span,
    tree::{Statement, StatementKind},
};

use super::{Word, Writer};
use crate::alike::WORDS_MAX;

impl Writer<'_> {
    /// Statements one after the other.
    pub(super) fn statements(&self, statements: &[Statement], words: &mut Vec<Word>) {
        for statement in statements {
            // More is not kept.
            if words.len() > WORDS_MAX {
                break;
            }
            self.statement(statement, words);
        }
    }

    fn mark(&self, text: &'static str, span: Span, words: &mut Vec<Word>) {
        words.push(self.word(text, span));
    }

    /// A closing word, which stands where the last word before it does.
    pub(super) fn close(&self, text: &'static str, words: &mut Vec<Word>) {
        if let Some(lines) = words.last().map(|last| last.lines) {
            words.push(Word { text: text.into(), variable: None, lines });
        }
    }

    fn statement(&self, statement: &Statement, words: &mut Vec<Word>) {
        // The place of a statement that has others in it is its first line.
        let head = Span { end: statement.span.start, ..statement.span };
        match &statement.kind {
            StatementKind::Empty => {}
            StatementKind::Assignment { target, attempt, operator, value } => {
                self.access(target, words);
                self.mark(if *attempt { "?=" } else { ":=" }, *operator, words);
                words.extend(self.words(value));
            }
            StatementKind::Call(call) => words.extend(self.call(call, None)),
            StatementKind::Expression(expression) => words.extend(self.words(expression)),
            StatementKind::Return => self.mark("RETURN", head, words),
            StatementKind::Exit => self.mark("EXIT", head, words),
            StatementKind::Continue => self.mark("CONTINUE", head, words),
            StatementKind::If { .. } | StatementKind::Case { .. } => self.decision(statement, words),
            StatementKind::For { variable, from, to, by, body } => {
                self.mark("FOR", head, words);
                self.access(variable, words);
                self.close(":=", words);
                words.extend(self.words(from));
                self.close("TO", words);
                words.extend(self.words(to));
                if let Some(by) = by {
                    self.close("BY", words);
                    words.extend(self.words(by));
                }
                self.close("DO", words);
                self.statements(body, words);
                self.close("END_FOR", words);
            }
            StatementKind::While { condition, body } => {
                self.mark("WHILE", head, words);
                words.extend(self.words(condition));
                self.close("DO", words);
                self.statements(body, words);
                self.close("END_WHILE", words);
            }
            StatementKind::Repeat { body, until } => {
                self.mark("REPEAT", head, words);
                self.statements(body, words);
                self.close("UNTIL", words);
                words.extend(self.words(until));
                self.close("END_REPEAT", words);
            }
        }
    }
}
