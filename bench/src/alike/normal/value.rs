//! Values being put together from their operands: parentheses only where they are needed, and operands sorted where their
//! order does not matter.

use latchwork_grammar::tree::BinaryOperator;

use super::Word;

/// How tightly the outermost operator of something binds that needs no parentheses.
pub(super) const ATOM: u8 = 10;
/// The same for an operator with one operand.
pub(super) const UNARY: u8 = 9;

/// Words with the binding of their outermost operator.
#[derive(Clone, Debug)]
pub(super) struct Part {
    /// The words.
    pub(super) words: Vec<Word>,
    /// How tightly they hang together; larger is tighter.
    pub(super) binding: u8,
}

/// A value that may yet become a part of a larger one.
#[derive(Clone, Debug)]
pub(super) enum Value {
    /// It is complete.
    Whole(Part),
    /// `NOT` of another value.
    Not(Box<Value>),
    /// `<`, `<=`, `=` or `<>` between two operands.
    Comparison(BinaryOperator, Part, Part),
    /// Operands of one operator, to which further ones may come.
    Chain(BinaryOperator, Vec<Part>),
}

/// How tightly an operator binds (IEC 61131-3:2013, table 71).
const fn binding(operator: BinaryOperator) -> u8 {
    use BinaryOperator as B;
    match operator {
        B::Or => 1,
        B::Xor => 2,
        B::And => 3,
        B::Equal | B::NotEqual => 4,
        B::Less | B::Greater | B::LessOrEqual | B::GreaterOrEqual => 5,
        B::Add | B::Subtract => 6,
        B::Multiply | B::Divide | B::Modulo => 7,
        B::Power => 8,
    }
}

const fn spelling(operator: BinaryOperator) -> &'static str {
    use BinaryOperator as B;
    match operator {
        B::Or => "OR",
        B::Xor => "XOR",
        B::And => "AND",
        B::Equal => "=",
        B::NotEqual => "<>",
        B::Less => "<",
        B::Greater => ">",
        B::LessOrEqual => "<=",
        B::GreaterOrEqual => ">=",
        B::Add => "+",
        B::Subtract => "-",
        B::Multiply => "*",
        B::Divide => "/",
        B::Modulo => "MOD",
        B::Power => "**",
    }
}

/// Whether operands may come in any order and any grouping. Sums of REAL may differ in the last bit then; for likeness they
/// are the same.
const fn is_chain(operator: BinaryOperator) -> bool {
    use BinaryOperator as B;
    matches!(operator, B::Or | B::Xor | B::And | B::Add | B::Multiply)
}

impl Value {
    /// Something that needs no parentheses.
    pub(super) fn atom(words: Vec<Word>) -> Self {
        Value::Whole(Part { words, binding: ATOM })
    }

    /// How many words it has so far.
    pub(super) fn len(&self) -> usize {
        match self {
            Value::Whole(part) => part.words.len(),
            Value::Not(inner) => 1 + inner.len(),
            Value::Comparison(_, left, right) => left.words.len() + 1 + right.words.len(),
            Value::Chain(_, parts) => parts.iter().map(|part| part.words.len() + 1).sum(),
        }
    }

    /// Its words.
    pub(super) fn words(self) -> Vec<Word> {
        self.whole().words
    }

    fn whole(self) -> Part {
        match self {
            Value::Whole(part) => part,
            Value::Not(inner) => unary("NOT", inner.whole()),
            Value::Comparison(operator, left, right) => joined(operator, vec![left, right]),
            Value::Chain(operator, mut parts) => {
                parts.sort_by(|one, other| order(&one.words, &other.words));
                joined(operator, parts)
            }
        }
    }

    fn operands_of(self, operator: BinaryOperator) -> Vec<Part> {
        match self {
            Value::Chain(own, parts) if own == operator => parts,
            other => vec![other.whole()],
        }
    }

    /// Whether it is the opposite of a simpler value: where both branches of a decision say something, the simpler one
    /// decides.
    pub(super) fn is_negative(&self) -> bool {
        use BinaryOperator as B;
        matches!(self, Value::Not(_) | Value::Comparison(B::NotEqual | B::LessOrEqual, ..))
    }

    /// Two values and the operator between them.
    pub(super) fn binary(operator: BinaryOperator, left: Self, right: Self) -> Self {
        use BinaryOperator as B;
        if is_chain(operator) {
            let mut parts = left.operands_of(operator);
            parts.extend(right.operands_of(operator));
            return Value::Chain(operator, parts);
        }
        let (left, right) = (left.whole(), right.whole());
        match operator {
            B::Greater => Value::Comparison(B::Less, right, left),
            B::GreaterOrEqual => Value::Comparison(B::LessOrEqual, right, left),
            B::Less | B::LessOrEqual => Value::Comparison(operator, left, right),
            B::Equal | B::NotEqual => {
                let same = operator == B::Equal;
                // `x = TRUE` is `x`, `x = FALSE` is `NOT x`.
                let (value, other) = match (left.boolean(), right.boolean()) {
                    (Some(value), _) => (value, right),
                    (_, Some(value)) => (value, left),
                    _ if order(&left.words, &right.words).is_gt() => {
                        return Value::Comparison(operator, right, left);
                    }
                    _ => return Value::Comparison(operator, left, right),
                };
                let other = Value::Whole(other);
                if value == same { other } else { other.negated() }
            }
            _ => Value::Whole(joined(operator, vec![left, right])),
        }
    }

    /// `NOT` of a value; of a value with `NOT` the value itself, of a comparison the opposite one. With REAL both may be
    /// FALSE, where a value is no number; for likeness that is the same.
    pub(super) fn negated(self) -> Self {
        use BinaryOperator as B;
        match self {
            Value::Not(inner) => *inner,
            Value::Comparison(B::Less, left, right) => Value::Comparison(B::LessOrEqual, right, left),
            Value::Comparison(B::LessOrEqual, left, right) => Value::Comparison(B::Less, right, left),
            Value::Comparison(B::Equal, left, right) => Value::Comparison(B::NotEqual, left, right),
            Value::Comparison(_, left, right) => Value::Comparison(B::Equal, left, right),
            Value::Whole(mut part) if part.boolean().is_some() => {
                for word in &mut part.words {
                    word.text = if word.text == "TRUE" { "FALSE" } else { "TRUE" }.into();
                }
                Value::Whole(part)
            }
            other => Value::Not(Box::new(other)),
        }
    }

    /// A value with its sign turned.
    pub(super) fn opposite(self) -> Self {
        Value::Whole(unary("-", self.whole()))
    }
}

/// An operator with one operand.
fn unary(operator: &'static str, part: Part) -> Part {
    let inner = part.bound(UNARY);
    let first = inner.first().map(|first| Word { text: operator.into(), variable: None, lines: first.lines });
    Part { words: first.into_iter().chain(inner).collect(), binding: UNARY }
}

impl Part {
    /// TRUE or FALSE as a literal.
    fn boolean(&self) -> Option<bool> {
        match self.words.as_slice() {
            [word] if word.text == "TRUE" => Some(true),
            [word] if word.text == "FALSE" => Some(false),
            _ => None,
        }
    }

    /// The words as an operand of an operator that binds so tightly.
    fn bound(self, least: u8) -> Vec<Word> {
        if self.binding >= least {
            return self.words;
        }
        let (Some(first), Some(last)) = (self.words.first(), self.words.last()) else { return self.words };
        let open = Word { text: "(".into(), variable: None, lines: first.lines };
        let close = Word { text: ")".into(), variable: None, lines: last.lines };
        std::iter::once(open).chain(self.words).chain([close]).collect()
    }
}

/// The order of operands that may have any: by what they are.
pub(super) fn order(one: &[Word], other: &[Word]) -> std::cmp::Ordering {
    one.iter().map(|word| &word.text).cmp(other.iter().map(|word| &word.text))
}

fn joined(operator: BinaryOperator, parts: Vec<Part>) -> Part {
    let own = binding(operator);
    let mut words: Vec<Word> = Vec::new();
    for (place, part) in parts.into_iter().enumerate() {
        // What stands to the left of an operator as loose as itself comes first anyway.
        let part = part.bound(if place == 0 { own } else { own + 1 });
        if place > 0
            && let Some(first) = part.first()
        {
            words.push(Word { text: spelling(operator).into(), variable: None, lines: first.lines });
        }
        words.extend(part);
    }
    Part { words, binding: own }
}
