//! Where expressions of the language stand in a step: cut out here, read by the grammar of expressions.

use super::{
    reader::Reader,
    words::{CLAUSES, HEADS, ITEMS, STEPS, Word, nearest},
};
use crate::{
    diagnostic::Diagnostic,
    lexer::TokenKind,
    tree::{Expression, ExpressionKind},
};

impl Reader<'_> {
    /// An expression: up to a word that may stand behind one, or what cannot belong to it.
    pub(super) fn expression(&mut self) -> Option<Expression> {
        self.expression_before(&[], &[])
    }

    /// An expression that ends before some more words and signs too.
    pub(super) fn expression_before(&mut self, words: &[Word], signs: &[TokenKind]) -> Option<Expression> {
        self.expression_up_to(words, signs, false)
    }

    /// An expression; `alone` if it ends before any other operand too.
    fn expression_up_to(&mut self, words: &[Word], signs: &[TokenKind], alone: bool) -> Option<Expression> {
        let start = self.at;
        self.at = self.expression_end(words, signs, alone);
        if self.at == start {
            self.no_expression();
            return None;
        }
        self.parser.expression(start, self.at)
    }

    /// What is forced or recorded: an access to a variable, an address, a name; not a value. `only` says that.
    pub(super) fn access(&mut self, words: &[Word], only: &str) -> Option<Expression> {
        use ExpressionKind as K;
        let signs = [TokenKind::Comma, TokenKind::Assign, TokenKind::Equal];
        let expression = self.expression_up_to(words, &signs, true)?;
        let is_access = matches!(
            expression.kind,
            K::Name(_)
                | K::Direct(_)
                | K::Member { .. }
                | K::Index { .. }
                | K::Partial { .. }
                | K::Dereference(_)
        );
        if !is_access {
            let problem = Diagnostic::error("steps-expected-name", expression.span, only);
            self.parser.report(problem.label("expected a device, a variable or an address"));
            return None;
        }
        Some(expression)
    }

    fn no_expression(&mut self) {
        let problem = self.problem("expected-expression", "an expression");
        let word = self.word(self.at);
        let next = self.kind(self.at + 1);
        let is_clause = match word {
            Word::Within | Word::For | Word::Between => next.is_literal() || next == TokenKind::Minus,
            Word::Hint => next == TokenKind::StringLiteral,
            _ => false,
        };
        if is_clause {
            let text = word.text();
            let message = format!("`{text}` stands behind what it speaks of");
            let problem = Diagnostic::error("steps-clause", self.parser.span(self.at), message)
                .label("expected an expression before this");
            return self
                .report(problem.note("the order is: `expect Pump within T#1s for T#2s hint 'text';`"));
        }
        if word != Word::Other && self.kind(self.at) == TokenKind::Identifier {
            let written = self.parser.text(self.at);
            let note = format!(
                "a variable that is called like a word of procedures stands in parentheses: `({written})`"
            );
            return self.report(problem.note(note));
        }
        self.report(problem);
    }

    /// Where the expression that begins here ends. A clause word behind an operand that is nearly right is put right.
    fn expression_end(&mut self, words: &[Word], signs: &[TokenKind], alone: bool) -> usize {
        use TokenKind as T;
        let mut depth = 0isize;
        let mut index = self.at;
        while index < self.limit {
            let kind = self.kind(index);
            let behind = if index > self.at { self.kind(index - 1) } else { T::EndOfFile };
            // Two operands never stand side by side, in brackets neither.
            let adjacent = behind.ends_operand();
            let word = self.word(index);
            let is_member = behind == T::Dot || self.kind(index + 1) == T::Dot && !adjacent;
            let outside = depth <= 0 || adjacent;
            let ends = match kind {
                T::Semicolon | T::Unreadable => true,
                _ if signs.contains(&kind) => depth <= 0,
                _ if is_member => false,
                _ if word.ends_expression() || words.contains(&word) && word != Word::Other => outside,
                _ if word.closes() => outside,
                _ if adjacent && self.begins_step(index) => true,
                _ if adjacent && alone && begins_operand(kind) => {
                    self.corrects_clause(index, words);
                    true
                }
                T::Identifier if adjacent => {
                    self.corrects_clause(index, words) || self.parser.first_on_line(index)
                }
                T::DirectAddress | T::This | T::Super | T::TypeQualifier => {
                    adjacent && self.parser.first_on_line(index)
                }
                _ => self.is_statement_of_program(index),
            };
            if ends && kind == T::Unreadable {
                return index + 1;
            }
            if ends {
                return index;
            }
            depth += match kind {
                T::ParenthesisOpen | T::BracketOpen => 1,
                T::ParenthesisClose | T::BracketClose => -1,
                _ => 0,
            };
            index += 1;
        }
        index
    }

    /// Whether an operand begins here.
    pub(super) fn begins_operand(&self) -> bool {
        begins_operand(self.kind(self.at))
            && !self.word(self.at).ends_expression()
            && !self.begins_step(self.at)
    }

    /// Whether a misspelt clause word stands at a place where only one can.
    fn corrects_clause(&mut self, index: usize, words: &[Word]) -> bool {
        let text = self.parser.text(index);
        let Some((distance, meant)) =
            nearest(text, &CLAUSES).into_iter().chain(nearest(text, words)).min_by_key(|m| m.0)
        else {
            return false;
        };
        let opener = [STEPS.as_slice(), &HEADS, &ITEMS].into_iter().filter_map(|list| nearest(text, list));
        if opener.map(|found| found.0).any(|other| other <= distance) {
            return false;
        }
        self.correct(index, meant);
        true
    }

    /// Whether a step, an item or the like begins with a word. Not whether it can begin there.
    pub(super) fn begins_step(&self, index: usize) -> bool {
        match self.word(index) {
            Word::At => self.kind(index + 1) == TokenKind::TimeLiteral,
            Word::Hint => false,
            word => word.opens_step() || word.opens_head() || word.opens_item(),
        }
    }

    /// Whether a reserved word begins or ends a statement of a program, which no step can contain.
    pub(super) fn is_statement_of_program(&self, index: usize) -> bool {
        use TokenKind as T;
        let kind = self.kind(index);
        kind >= T::If && kind <= T::Return && !matches!(kind, T::For | T::To | T::Then)
    }
}

fn begins_operand(kind: TokenKind) -> bool {
    use TokenKind as T;
    kind.is_literal()
        || matches!(kind, T::Identifier | T::DirectAddress | T::This | T::Super | T::TypeQualifier | T::Not)
}
