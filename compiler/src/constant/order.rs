//! The order of constants.

use latchwork_stdlib::ComparisonKind;
use latchwork_vm::Family;

use super::reals::{long_real, real, takes_left};
use crate::typed::Constant;

pub(super) fn compare(kind: ComparisonKind, left: &Constant, right: &Constant) -> Option<bool> {
    use std::cmp::Ordering;
    let order: Option<Ordering> = match (left, right) {
        (Constant::Integer(a), Constant::Integer(b)) => a.partial_cmp(b),
        (Constant::Bool(a), Constant::Bool(b)) => a.partial_cmp(b),
        (Constant::Real(a), Constant::Real(b)) => a.partial_cmp(b),
        (Constant::Lreal(a), Constant::Lreal(b)) => a.partial_cmp(b),
        (Constant::Time(a), Constant::Time(b)) => a.partial_cmp(b),
        (Constant::String(a), Constant::String(b)) => Some(compare_texts(a, b)),
        (Constant::WideString(a), Constant::WideString(b)) => Some(compare_texts(a, b)),
        _ => return None,
    };
    Some(match kind {
        ComparisonKind::Greater => order == Some(Ordering::Greater),
        ComparisonKind::GreaterOrEqual => matches!(order, Some(Ordering::Greater | Ordering::Equal)),
        ComparisonKind::Equal => order == Some(Ordering::Equal),
        ComparisonKind::LessOrEqual => matches!(order, Some(Ordering::Less | Ordering::Equal)),
        ComparisonKind::Less => order == Some(Ordering::Less),
        ComparisonKind::NotEqual => order != Some(Ordering::Equal),
    })
}

/// The shorter text is filled at the right with code 0 (6.6.2.5.9).
fn compare_texts<T: Copy + Ord + Default>(left: &[T], right: &[T]) -> std::cmp::Ordering {
    let length = left.len().max(right.len());
    let at = |text: &[T], index: usize| text.get(index).copied().unwrap_or_default();
    (0..length)
        .map(|index| at(left, index).cmp(&at(right, index)))
        .find(|order| order.is_ne())
        .unwrap_or(std::cmp::Ordering::Equal)
}

pub(super) fn extreme(family: Family, left: &Constant, right: &Constant) -> Option<Constant> {
    match (left, right) {
        (Constant::Real(a), Constant::Real(b)) => {
            let value = if takes_left(family, f64::from(*a), f64::from(*b)) { *a } else { *b };
            return real(value, &[value]).ok();
        }
        (Constant::Lreal(a), Constant::Lreal(b)) => {
            let value = if takes_left(family, *a, *b) { *a } else { *b };
            return long_real(value, &[value]).ok();
        }
        _ => {}
    }
    let kind = if family == Family::Maximum { ComparisonKind::Greater } else { ComparisonKind::Less };
    Some(if compare(kind, right, left)? { right.clone() } else { left.clone() })
}
