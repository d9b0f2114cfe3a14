//! Decisions in the normal form: whatever was an IF, an IF in an ELSE, or a CASE is one chain of conditions.
//!
//! Of a condition and its opposite the simpler one decides where both branches say something, so that `IF NOT a THEN x; ELSE
//! y; END_IF` is `IF a THEN y; ELSE x; END_IF`.

use latchwork_grammar::{
    Span,
    tree::{BinaryOperator, CaseLabel, Statement, StatementKind},
};

use super::{Lines, Word, Writer, value::Value};

/// Most words of a selector that are repeated for each of its values.
const SELECTOR_WORDS_MAX: usize = 20;

/// Most labels of a group that are told.
const LABELS_MAX: usize = 100;

/// A condition with its place, and what is done then.
struct Branch<'s> {
    condition: Value,
    place: Span,
    body: &'s [Statement],
}

/// The branches of a decision, and what is done otherwise.
struct Chain<'s> {
    branches: Vec<Branch<'s>>,
    otherwise: &'s [Statement],
}

impl Writer<'_> {
    /// The words of an IF or CASE.
    pub(super) fn decision(&self, statement: &Statement, words: &mut Vec<Word>) {
        let Chain { branches, otherwise } = self.chain(statement);
        let count = branches.len();
        // What is done where a condition was turned round does not hold, innermost last.
        let mut turned: Vec<&[Statement]> = Vec::new();
        let mut opening = "IF";
        for (place, branch) in branches.into_iter().enumerate() {
            let followed = place + 1 < count || says_something(otherwise);
            let turn = followed && (branch.condition.is_negative() || !says_something(branch.body));
            let condition = if turn { branch.condition.negated() } else { branch.condition };
            words.push(self.word(opening, Span { end: branch.place.start, ..branch.place }));
            words.extend(condition.words());
            self.close("THEN", words);
            if turn {
                turned.push(branch.body);
                opening = "IF";
            } else {
                self.statements(branch.body, words);
                opening = "ELSIF";
            }
        }
        match opening {
            // The branch that would hold these statements is open already.
            "IF" => self.statements(otherwise, words),
            _ => {
                self.otherwise(otherwise, words);
                self.close("END_IF", words);
            }
        }
        for body in turned.into_iter().rev() {
            self.otherwise(body, words);
            self.close("END_IF", words);
        }
    }

    fn otherwise(&self, statements: &[Statement], words: &mut Vec<Word>) {
        if says_something(statements) {
            self.close("ELSE", words);
            self.statements(statements, words);
        }
    }

    /// All branches, also those of a decision that is all that an ELSE has.
    fn chain<'s>(&self, statement: &'s Statement) -> Chain<'s> {
        let mut branches = Vec::new();
        let mut next = Some(statement);
        let mut rest: &[Statement] = &[];
        while let Some(Statement { kind, span }) = next.take() {
            let otherwise = match kind {
                StatementKind::If { branches: own, otherwise } => {
                    for (at, (condition, body)) in own.iter().enumerate() {
                        let place = if at == 0 { *span } else { condition.span };
                        branches.push(Branch { condition: self.value(condition), place, body });
                    }
                    otherwise
                }
                StatementKind::Case { selector, groups, otherwise } => {
                    let mut selector = self.words(selector);
                    selector.truncate(SELECTOR_WORDS_MAX);
                    for group in groups {
                        let Some(first) = group.labels.first() else { continue };
                        let condition = self.selected(&selector, &group.labels);
                        branches.push(Branch { condition, place: first.first.span, body: &group.statements });
                    }
                    otherwise
                }
                _ => break,
            };
            rest = otherwise.as_deref().unwrap_or(&[]);
            let mut own = rest.iter().filter(|it| !matches!(it.kind, StatementKind::Empty));
            if let (Some(only), None) = (own.next(), own.next())
                && matches!(only.kind, StatementKind::If { .. } | StatementKind::Case { .. })
            {
                next = Some(only);
                rest = &[];
            }
        }
        Chain { branches, otherwise: rest }
    }

    /// Whether a selector has one of the values of some labels.
    fn selected(&self, selector: &[Word], labels: &[CaseLabel]) -> Value {
        use BinaryOperator as B;
        // It is asked where the label stands.
        let asked = |lines: Lines| {
            let words = selector.iter().map(|word| Word { lines, ..word.clone() });
            Value::atom(words.collect())
        };
        let conditions = labels.iter().take(LABELS_MAX).map(|label| {
            let lines = (self.lines)(label.first.span);
            let first = self.value(&label.first);
            match &label.last {
                None => Value::binary(B::Equal, asked(lines), first),
                Some(last) => Value::binary(
                    B::And,
                    Value::binary(B::LessOrEqual, first, asked(lines)),
                    Value::binary(B::LessOrEqual, asked(lines), self.value(last)),
                ),
            }
        });
        let any = conditions.reduce(|all, one| Value::binary(B::Or, all, one));
        any.unwrap_or_else(|| Value::atom(Vec::new()))
    }
}

/// Whether there is a statement that is not empty.
fn says_something(statements: &[Statement]) -> bool {
    statements.iter().any(|statement| !matches!(statement.kind, StatementKind::Empty))
}
