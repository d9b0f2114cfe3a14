//! Observing: what images note that were compiled for measuring coverage. See [`crate::coverage`].
//!
//! They go the way of rare instructions, since nobody measures coverage for speed.

use super::control::beyond;
use super::handler;
use crate::run::Step;
use crate::run::number::{Integer, Number};

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
}
