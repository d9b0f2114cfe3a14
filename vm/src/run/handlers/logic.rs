//! Bits, Booleans, shifts, comparison and selection (IEC 61131-3:2013 Tables 30 to 33).

use super::handler;
use crate::event::EventKind;
use crate::fault::Named;
use crate::run::Step;
use crate::run::number::{Bits, Number};
use crate::types::ElementaryType;
use crate::value::Value;

/// The values of a shift by a negative count, which Table 30 calls an error.
fn unshifted<S: Bits>(value: S, count: i64) -> Vec<Named> {
    vec![
        ("operand".to_owned(), value.value()),
        ("count".to_owned(), Value::Signed(count, ElementaryType::Lint)),
    ]
}

handler! {
    And<S: Bits>(x, [to, left, right, _]) {
        let result = x.get::<S>(left).and(x.get::<S>(right));
        x.set(to, result);
        Ok(Step::Next)
    }

    Or<S: Bits>(x, [to, left, right, _]) {
        let result = x.get::<S>(left).or(x.get::<S>(right));
        x.set(to, result);
        Ok(Step::Next)
    }

    Xor<S: Bits>(x, [to, left, right, _]) {
        let result = x.get::<S>(left).xor(x.get::<S>(right));
        x.set(to, result);
        Ok(Step::Next)
    }

    Complement<S: Bits>(x, [to, from, _, _]) {
        let result = x.get::<S>(from).complement();
        x.set(to, result);
        Ok(Step::Next)
    }

    // The Boolean forms only look at bit 0 of their operands' complement, so that a BOOL stays 0 or 1.
    Not<S: Bits>(x, [to, from, _, _]) {
        let result = x.get::<u8>(from) ^ 1;
        x.set(to, result);
        Ok(Step::Next)
    }

    AndNot<S: Bits>(x, [to, left, right, _]) {
        let result = x.get::<u8>(left) & (x.get::<u8>(right) ^ 1);
        x.set(to, result);
        Ok(Step::Next)
    }

    OrNot<S: Bits>(x, [to, left, right, _]) {
        let result = x.get::<u8>(left) | (x.get::<u8>(right) ^ 1);
        x.set(to, result);
        Ok(Step::Next)
    }

    BoolAnd<S: Bits>(x, [to, left, right, _]) {
        let result = x.get::<u8>(left) & x.get::<u8>(right);
        x.set(to, result);
        Ok(Step::Next)
    }

    BoolOr<S: Bits>(x, [to, left, right, _]) {
        let result = x.get::<u8>(left) | x.get::<u8>(right);
        x.set(to, result);
        Ok(Step::Next)
    }

    BoolXor<S: Bits>(x, [to, left, right, _]) {
        let result = x.get::<u8>(left) ^ x.get::<u8>(right);
        x.set(to, result);
        Ok(Step::Next)
    }

    BoolEqual<S: Bits>(x, [to, left, right, _]) {
        let result = x.get::<u8>(left) ^ x.get::<u8>(right) ^ 1;
        x.set(to, result);
        Ok(Step::Next)
    }

    ShiftLeft<S: Bits>(x, [to, from, count, _]) {
        let (value, count) = (x.get::<S>(from), x.get::<i64>(count));
        if count < 0 {
            x.event(EventKind::Domain, || unshifted(value, count))?;
        }
        x.set(to, value.shifted_left(count));
        Ok(Step::Next)
    }

    ShiftRight<S: Bits>(x, [to, from, count, _]) {
        let (value, count) = (x.get::<S>(from), x.get::<i64>(count));
        if count < 0 {
            x.event(EventKind::Domain, || unshifted(value, count))?;
        }
        x.set(to, value.shifted_right(count));
        Ok(Step::Next)
    }

    RotateLeft<S: Bits>(x, [to, from, count, _]) {
        let (value, count) = (x.get::<S>(from), x.get::<i64>(count));
        if count < 0 {
            x.event(EventKind::Domain, || unshifted(value, count))?;
        }
        x.set(to, value.rotated_left(count));
        Ok(Step::Next)
    }

    RotateRight<S: Bits>(x, [to, from, count, _]) {
        let (value, count) = (x.get::<S>(from), x.get::<i64>(count));
        if count < 0 {
            x.event(EventKind::Domain, || unshifted(value, count))?;
        }
        x.set(to, value.rotated_right(count));
        Ok(Step::Next)
    }

    Equal<S: Number>(x, [to, left, right, _]) {
        let result = x.get::<S>(left) == x.get::<S>(right);
        x.set(to, u8::from(result));
        Ok(Step::Next)
    }

    NotEqual<S: Number>(x, [to, left, right, _]) {
        let result = x.get::<S>(left) != x.get::<S>(right);
        x.set(to, u8::from(result));
        Ok(Step::Next)
    }

    Less<S: Number>(x, [to, left, right, _]) {
        let result = x.get::<S>(left) < x.get::<S>(right);
        x.set(to, u8::from(result));
        Ok(Step::Next)
    }

    LessOrEqual<S: Number>(x, [to, left, right, _]) {
        let result = x.get::<S>(left) <= x.get::<S>(right);
        x.set(to, u8::from(result));
        Ok(Step::Next)
    }

    Select<S: Number>(x, [to, choice, when_false, when_true]) {
        let (choice, low, high) = (x.get::<u8>(choice), x.get::<S>(when_false), x.get::<S>(when_true));
        x.set(to, if choice == 0 { low } else { high });
        Ok(Step::Next)
    }
}
