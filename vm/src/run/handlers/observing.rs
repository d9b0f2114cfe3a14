//! Observing: what images note that were compiled for measuring coverage or for telling reasons. See
//! [`crate::coverage`] and [`crate::journal`].
//!
//! They go the way of rare instructions, since nobody observes for speed.

use super::control::beyond;
use super::handler;
use crate::journal::NoteKind;
use crate::run::Step;
use crate::run::number::{Integer, Number};

/// At most eight bytes as a number, the first one lowest.
fn word(bytes: &[u8]) -> u64 {
    bytes.iter().rev().fold(0, |word, byte| word << 8 | u64::from(*byte))
}

handler! {
    ObservePoint<S: Number>(x, [point, _, _, _]) {
        x.careful()?;
        if let Some(log) = x.coverage() {
            log.pass(point);
        }
        Ok(Step::Next)
    }

    ObserveValue<S: Number>(x, [value, point, _, _]) {
        x.careful()?;
        let value = x.get::<u8>(value);
        if let Some(log) = x.coverage() {
            log.pass(point.saturating_add(u32::from(value != 0)));
        }
        Ok(Step::Next)
    }

    ObserveLoop<S: Integer>(x, [control, limit, step, point]) {
        x.careful()?;
        let (value, limit, step) = (x.get::<S>(control), x.get::<S>(limit), x.get::<S>(step));
        let enters = !step.is_zero() && !beyond(value, limit, step);
        if let Some(log) = x.coverage() {
            log.pass(point.saturating_add(u32::from(enters)));
        }
        Ok(Step::Next)
    }

    ObserveCondition<S: Number>(x, [value, decision, condition, _]) {
        x.careful()?;
        let value = x.get::<u8>(value);
        if let Some(log) = x.coverage() {
            log.condition(decision, condition, value != 0);
        }
        Ok(Step::Next)
    }

    ObserveOutcome<S: Number>(x, [value, decision, inverted, _]) {
        x.careful()?;
        let value = x.get::<u8>(value);
        if let Some(log) = x.coverage() {
            log.outcome(decision, (value != 0) != (inverted != 0));
        }
        Ok(Step::Next)
    }

    NoteStatement<S: Number>(x, [number, _, _, _]) {
        x.careful()?;
        let base = x.base();
        if let Some(journal) = x.journal() {
            journal.note(number, NoteKind::Statement, base.into());
        }
        Ok(Step::Next)
    }

    NoteValue<S: Number>(x, [value, number, _, _]) {
        x.careful()?;
        let value = word(x.get::<S>(value).to_bytes().as_ref());
        if let Some(journal) = x.journal() {
            journal.note(number, NoteKind::Value, value);
        }
        Ok(Step::Next)
    }

    NotePlace<S: Number>(x, [place, number, _, _]) {
        x.careful()?;
        let address = x.address(place);
        if let Some(journal) = x.journal() {
            journal.note(number, NoteKind::Place, address.into());
        }
        Ok(Step::Next)
    }

    NoteAddress<S: Number>(x, [address, further, number, _]) {
        x.careful()?;
        let address = x.get::<u32>(address).saturating_add(further);
        if let Some(journal) = x.journal() {
            journal.note(number, NoteKind::Place, address.into());
        }
        Ok(Step::Next)
    }
}
