//! Statements of Structured Text in the normal form.

use latchwork_grammar::{
    Span,
    tree::{Statement, StatementKind},
};

use super::{Word, Writer};

impl Writer<'_> {
    /// Statements one after the other.
    pub(super) fn statements(&self, statements: &[Statement], words: &mut Vec<Word>) {
        statements.iter().for_each(|statement| self.statement(statement, words));
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
            StatementKind::If { branches, otherwise } => {
                self.branches("IF", statement.span, branches, otherwise.as_deref(), words);
                self.close("END_IF", words);
            }
            StatementKind::Case { selector, groups, otherwise } => {
                self.mark("CASE", head, words);
                words.extend(self.words(selector));
                for group in groups {
                    for label in &group.labels {
                        self.mark("OF", label.first.span, words);
                        words.extend(self.words(&label.first));
                        if let Some(last) = &label.last {
                            self.mark("..", last.span, words);
                            words.extend(self.words(last));
                        }
                    }
                    self.close(":", words);
                    self.statements(&group.statements, words);
                }
                self.otherwise(otherwise.as_deref(), words);
                self.close("END_CASE", words);
            }
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

    /// The branches of an IF; `ELSE` with nothing but another IF is `ELSIF`.
    fn branches(
        &self,
        opening: &'static str,
        span: Span,
        branches: &[(latchwork_grammar::tree::Expression, Vec<Statement>)],
        otherwise: Option<&[Statement]>,
        words: &mut Vec<Word>,
    ) {
        for (place, (condition, body)) in branches.iter().enumerate() {
            let (text, at) = if place == 0 { (opening, span) } else { ("ELSIF", condition.span) };
            self.mark(text, Span { end: at.start, ..at }, words);
            words.extend(self.words(condition));
            self.close("THEN", words);
            self.statements(body, words);
        }
        let mut own = otherwise.unwrap_or(&[]).iter().filter(|it| !matches!(it.kind, StatementKind::Empty));
        match (own.next(), own.next()) {
            (Some(Statement { kind: StatementKind::If { branches, otherwise }, span }), None) => {
                self.branches("ELSIF", *span, branches, otherwise.as_deref(), words);
            }
            _ => self.otherwise(otherwise, words),
        }
    }

    fn otherwise(&self, otherwise: Option<&[Statement]>, words: &mut Vec<Word>) {
        let statements = otherwise.unwrap_or(&[]);
        if statements.iter().any(|statement| !matches!(statement.kind, StatementKind::Empty)) {
            self.close("ELSE", words);
            self.statements(statements, words);
        }
    }
}
