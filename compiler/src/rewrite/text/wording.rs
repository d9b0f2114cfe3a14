//! Values as text: with the parentheses they need, and those that show what comes first.

use latchwork_grammar::tree::BinaryOperator;

use super::value::{Argument, Value};

/// How tightly an operator binds; larger is tighter.
const fn rank(operator: BinaryOperator) -> u8 {
    match operator {
        BinaryOperator::Or => 1,
        BinaryOperator::Xor => 2,
        BinaryOperator::And => 3,
        BinaryOperator::Equal | BinaryOperator::NotEqual => 4,
        BinaryOperator::Less
        | BinaryOperator::Greater
        | BinaryOperator::LessOrEqual
        | BinaryOperator::GreaterOrEqual => 5,
        BinaryOperator::Add | BinaryOperator::Subtract => 6,
        BinaryOperator::Multiply | BinaryOperator::Divide | BinaryOperator::Modulo => 7,
        BinaryOperator::Power => 8,
    }
}

/// Widest line.
const WIDTH_MAX: usize = 100;

const UNARY: u8 = 9;
const ATOM: u8 = 10;

const fn word(operator: BinaryOperator) -> &'static str {
    match operator {
        BinaryOperator::Or => "OR",
        BinaryOperator::Xor => "XOR",
        BinaryOperator::And => "AND",
        BinaryOperator::Equal => "=",
        BinaryOperator::NotEqual => "<>",
        BinaryOperator::Less => "<",
        BinaryOperator::Greater => ">",
        BinaryOperator::LessOrEqual => "<=",
        BinaryOperator::GreaterOrEqual => ">=",
        BinaryOperator::Add => "+",
        BinaryOperator::Subtract => "-",
        BinaryOperator::Multiply => "*",
        BinaryOperator::Divide => "/",
        BinaryOperator::Modulo => "MOD",
        BinaryOperator::Power => "**",
    }
}

/// The text of a value.
pub(super) fn text(value: &Value) -> String {
    let mut written = String::new();
    write(value, 0, &mut written);
    written
}

fn write(value: &Value, least: u8, into: &mut String) {
    let own = match value {
        Value::Literal(text) if text.starts_with('-') => UNARY,
        Value::Literal(_) | Value::Access { .. } | Value::Call(_) => ATOM,
        Value::Not(_) | Value::Negate(_) => UNARY,
        Value::Binary(operator, ..) => rank(*operator),
    };
    let enclosed = own < least;
    if enclosed {
        into.push('(');
    }
    match value {
        Value::Literal(text) | Value::Access { text, .. } => into.push_str(text),
        Value::Not(inner) => {
            into.push_str("NOT ");
            write(inner, ATOM, into);
        }
        Value::Negate(inner) => {
            into.push('-');
            write(inner, ATOM, into);
        }
        Value::Binary(operator, left, right, _) => {
            let is_comparison = |rank: u8| rank == 4 || rank == 5;
            // Comparisons of comparisons, and AND beside OR, show which comes first.
            let mixes = |operand: &Value| match operand {
                Value::Binary(inner, ..) => {
                    let inner = rank(*inner);
                    (is_comparison(inner) && is_comparison(own)) || (inner <= 3 && own <= 3 && inner != own)
                }
                _ => false,
            };
            write(left, if mixes(left) { ATOM } else { own }, into);
            into.push(' ');
            into.push_str(word(*operator));
            into.push(' ');
            // A sign behind an operator stands in parentheses.
            let signed = matches!(&**right, Value::Negate(_))
                || matches!(&**right, Value::Literal(text) if text.starts_with('-'));
            let sign_meets = signed && matches!(own, 6..=8);
            write(right, if sign_meets || mixes(right) { ATOM } else { own + 1 }, into);
        }
        Value::Call(call) => {
            into.push_str(&call.callee);
            into.push('(');
            into.push_str(&arguments(&call.arguments));
            into.push(')');
        }
    }
    if enclosed {
        into.push(')');
    }
}

/// The text of arguments.
pub(super) fn arguments(all: &[Argument]) -> String {
    let parts: Vec<String> = all
        .iter()
        .map(|argument| match argument {
            Argument::Positional(value) => text(value),
            Argument::Input(name, value) => format!("{name} := {}", text(value)),
            Argument::Output(text) => text.clone(),
        })
        .collect();
    parts.join(", ")
}

/// How many operands a value has from the left, each combined with all before it.
pub(super) fn operands(value: &Value) -> usize {
    let mut count = 1;
    let mut at = value;
    while let Value::Binary(_, left, ..) = at {
        count += 1;
        at = left;
    }
    count
}

/// The text of a value with its operands on lines of their own, each with what stands beside it.
pub(super) fn spread(value: &Value, beside: &[Vec<String>], margin: &str) -> String {
    // From the right: what is combined last.
    let mut spine = Vec::new();
    let mut at = value;
    while let Value::Binary(operator, left, right, _) = at {
        spine.push((*operator, &**right));
        at = left;
    }
    let mut lines = Vec::new();
    let mut first = String::new();
    write(at, if spine.is_empty() { 0 } else { UNARY }, &mut first);
    lines.push(first);
    let mut opened = 0;
    for (place, (operator, right)) in spine.iter().enumerate().rev() {
        let mut line = format!("{} ", word(*operator));
        write(right, rank(*operator) + 1, &mut line);
        // What was combined so far stands in parentheses if the next operator binds more tightly, or to show the order.
        if let Some((next, _)) = place.checked_sub(1).and_then(|place| spine.get(place))
            && (rank(*operator) < rank(*next) || (rank(*next) <= 3 && next != operator))
        {
            line.push(')');
            opened += 1;
        }
        lines.push(line);
    }
    let mut text = "(".repeat(opened);
    let count = lines.len();
    for (place, line) in lines.iter().enumerate() {
        if place > 0 {
            text.push('\n');
            text.push_str(margin);
        }
        text.push_str(line);
        if place + 1 == count {
            text.push(';');
        }
        for comment in beside.get(place).into_iter().flatten() {
            text.push_str("  ");
            text.push_str(comment);
        }
    }
    text
}

/// A long line broken at its operators and commas, the others further in than the first.
pub(super) fn wrapped(code: &str, indent: usize, step: usize) -> String {
    if code.len() + indent <= WIDTH_MAX {
        return code.to_owned();
    }
    let mut text = String::with_capacity(code.len() + 32);
    let mut width = indent;
    let inner = " ".repeat(indent + 2 * step);
    for word in words(code) {
        if width + word.len() > WIDTH_MAX && width > indent + 2 * step {
            text.truncate(text.trim_end().len());
            text.push('\n');
            text.push_str(&inner);
            width = inner.len();
        }
        text.push_str(word);
        width += word.len();
    }
    text
}

/// The words of a line with the blanks behind them; texts between quotes stay whole.
fn words(code: &str) -> Vec<&str> {
    let mut words = Vec::new();
    let mut start = 0;
    let mut quote = None;
    let mut before = ' ';
    for (at, character) in code.char_indices() {
        match quote {
            Some(open) if character == open && before != '$' => quote = None,
            // Two signs are one sign, which closes nothing.
            Some(_) if character == '$' && before == '$' => {
                before = ' ';
                continue;
            }
            Some(_) => {}
            None if character == '\'' || character == '"' => quote = Some(character),
            None if character == ' ' => {
                words.push(code.get(start..=at).unwrap_or(""));
                start = at + 1;
            }
            None => {}
        }
        before = character;
    }
    words.push(code.get(start..).unwrap_or(""));
    words
}
