//! Which parts of an expression decided its value.
//!
//! Of `a AND b` that is TRUE, both; of one that is FALSE, those that are FALSE: with the others anything, it would be
//! FALSE all the same. The same the other way round holds for OR. Of everything else all parts decide.

use latchwork_compiler::logic::{Part, PartKind};

/// The truth value of parts in one run of a statement; `None` where the run did not look at them.
pub(crate) type Truth<'t> = &'t dyn Fn(&Part) -> Option<bool>;

/// The Boolean operators that are looked through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Operator {
    And,
    Or,
    Xor,
    Not,
}

impl Operator {
    /// The operator of a part with its operands, if it is one of truth values.
    pub(crate) fn of(part: &Part) -> Option<(Operator, &[Part])> {
        let PartKind::Operation { name, operands } = &part.kind else { return None };
        let operator = match *name {
            "AND" => Operator::And,
            "OR" => Operator::Or,
            "XOR" => Operator::Xor,
            "NOT" => Operator::Not,
            _ => return None,
        };
        let truths = part.value.is_bool() && operands.iter().all(|operand| operand.value.is_bool());
        truths.then_some((operator, operands))
    }

    /// The value from those of the operands, as far as they are known.
    pub(crate) fn value(self, operands: impl Iterator<Item = Option<bool>>) -> Option<bool> {
        let mut operands = operands;
        match self {
            Operator::Not => operands.next()?.map(|value| !value),
            Operator::Xor => operands.try_fold(false, |all, value| Some(all ^ value?)),
            Operator::And | Operator::Or => {
                let deciding = self == Operator::Or;
                let mut unknown = false;
                for value in operands {
                    match value {
                        Some(value) if value == deciding => return Some(deciding),
                        Some(_) => {}
                        None => unknown = true,
                    }
                }
                (!unknown).then_some(!deciding)
            }
        }
    }
}

/// The truth value of a part: as it was noted, else as it follows from its operands.
pub(crate) fn truth(part: &Part, noted: Truth<'_>) -> Option<bool> {
    noted(part).or_else(|| {
        let (operator, operands) = Operator::of(part)?;
        operator.value(operands.iter().map(|operand| truth(operand, noted)))
    })
}

/// The parts that decided, without the Boolean operators between them, from left to right.
pub(crate) fn deciding<'p>(part: &'p Part, noted: Truth<'_>) -> Vec<&'p Part> {
    let mut found = Vec::new();
    collect(part, noted, &mut found);
    found
}

/// Parts nest no deeper than the model of a program follows them.
fn collect<'p>(part: &'p Part, noted: Truth<'_>, found: &mut Vec<&'p Part>) {
    let Some((operator, operands)) = Operator::of(part) else {
        found.push(part);
        return;
    };
    let decisive = match operator {
        Operator::And => Some(false),
        Operator::Or => Some(true),
        Operator::Xor | Operator::Not => None,
    };
    let alone = |operand: &Part| decisive.is_some() && truth(operand, noted) == decisive;
    let some = operands.iter().any(alone);
    for operand in operands.iter().filter(|operand| !some || alone(operand)) {
        collect(operand, noted, found);
    }
}
