//! Arithmetic (IEC 61131-3:2013 Tables 28 and 29) and selection of the smaller or larger (Table 32).

use super::handler;
use crate::event::EventKind;
use crate::fault::{FaultKind, Named};
use crate::run::access::Access;
use crate::run::number::{Arithmetic, Integer, Number, SignedNumber};
use crate::run::{Step, Stop};

/// The final form of a flagged result, after recording what there is to record.
#[inline(always)]
fn unusual<S: Arithmetic, X: Access>(
    x: &mut X,
    result: S,
    kind: EventKind,
    operands: &[S],
) -> Result<S, Stop> {
    x.careful()?;
    let result = result.canonical();
    if result.is_event(operands) {
        x.event(kind, || explain(operands, result))?;
    }
    Ok(result)
}

fn explain<S: Number>(operands: &[S], result: S) -> Vec<Named> {
    let names: &[&str] = if operands.len() == 1 { &["operand"] } else { &["left operand", "right operand"] };
    names
        .iter()
        .zip(operands)
        .map(|(name, operand)| ((*name).to_owned(), operand.value()))
        .chain([("result".to_owned(), result.value())])
        .collect()
}

handler! {
    Add<S: Arithmetic>(x, [to, left, right, _]) {
        let (a, b) = (x.get::<S>(left), x.get::<S>(right));
        let (mut result, flag) = a.sum(b);
        if flag {
            result = unusual(x, result, EventKind::Overflow, &[a, b])?;
        }
        x.set(to, result);
        Ok(Step::Next)
    }

    Subtract<S: Arithmetic>(x, [to, left, right, _]) {
        let (a, b) = (x.get::<S>(left), x.get::<S>(right));
        let (mut result, flag) = a.difference(b);
        if flag {
            result = unusual(x, result, EventKind::Overflow, &[a, b])?;
        }
        x.set(to, result);
        Ok(Step::Next)
    }

    Multiply<S: Arithmetic>(x, [to, left, right, _]) {
        let (a, b) = (x.get::<S>(left), x.get::<S>(right));
        let (mut result, flag) = a.product(b);
        if flag {
            result = unusual(x, result, EventKind::Overflow, &[a, b])?;
        }
        x.set(to, result);
        Ok(Step::Next)
    }

    Divide<S: Arithmetic>(x, [to, left, right, _]) {
        let (a, b) = (x.get::<S>(left), x.get::<S>(right));
        let Some((mut result, flag)) = a.quotient(b) else {
            return Err(x.fault(FaultKind::DivisionByZero, || vec![("dividend".to_owned(), a.value())]));
        };
        if flag {
            let kind = if b.is_zero() { EventKind::DivisionByZero } else { EventKind::Overflow };
            result = unusual(x, result, kind, &[a, b])?;
        }
        x.set(to, result);
        Ok(Step::Next)
    }

    Modulo<S: Integer>(x, [to, left, right, _]) {
        let (a, b) = (x.get::<S>(left), x.get::<S>(right));
        let result = match a.remainder(b) {
            Some(result) => result,
            None => {
                x.event(EventKind::ModuloByZero, || explain(&[a, b], S::default()))?;
                S::default()
            }
        };
        x.set(to, result);
        Ok(Step::Next)
    }

    Negate<S: SignedNumber>(x, [to, from, _, _]) {
        let a = x.get::<S>(from);
        let (mut result, flag) = a.negated();
        if flag {
            result = unusual(x, result, EventKind::Overflow, &[a])?;
        }
        x.set(to, result);
        Ok(Step::Next)
    }

    Absolute<S: SignedNumber>(x, [to, from, _, _]) {
        let a = x.get::<S>(from);
        let (mut result, flag) = a.magnitude();
        if flag {
            result = unusual(x, result, EventKind::Overflow, &[a])?;
        }
        x.set(to, result);
        Ok(Step::Next)
    }

    Minimum<S: Number>(x, [to, left, right, _]) {
        let result = x.get::<S>(left).lower(x.get::<S>(right));
        x.set(to, result);
        Ok(Step::Next)
    }

    Maximum<S: Number>(x, [to, left, right, _]) {
        let result = x.get::<S>(left).higher(x.get::<S>(right));
        x.set(to, result);
        Ok(Step::Next)
    }

    CheckRange<S: Integer>(x, [from, lower, upper, _]) {
        let (value, low, high) = (x.get::<S>(from), x.get::<S>(lower), x.get::<S>(upper));
        if value < low || value > high {
            return Err(x.fault(FaultKind::Subrange, || {
                vec![
                    ("value".to_owned(), value.value()),
                    ("lower bound".to_owned(), low.value()),
                    ("upper bound".to_owned(), high.value()),
                ]
            }));
        }
        Ok(Step::Next)
    }
}
