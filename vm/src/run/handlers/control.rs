//! Jumps, loops, calls, native functions, events and time.

use super::handler;
use crate::event::EventKind;
use crate::fault::FaultKind;
use crate::place::NULL_ADDRESS;
use crate::run::Step;
use crate::run::number::{Integer, Number};

/// Whether a control variable has passed the final value of its loop.
#[inline(always)]
pub(super) fn beyond<S: Integer>(value: S, limit: S, step: S) -> bool {
    if step.is_positive_step() { value > limit } else { value < limit }
}

handler! {
    Jump<S: Number>(_x, [distance, _, _, _]) {
        Ok(Step::Jump(distance))
    }

    JumpIf<S: Number>(x, [condition, distance, _, _]) {
        if x.get::<u8>(condition) != 0 { Ok(Step::Jump(distance)) } else { Ok(Step::Next) }
    }

    JumpUnless<S: Number>(x, [condition, distance, _, _]) {
        if x.get::<u8>(condition) == 0 { Ok(Step::Jump(distance)) } else { Ok(Step::Next) }
    }

    ForEnter<S: Integer>(x, [control, limit, step, exit]) {
        let (value, limit, step) = (x.get::<S>(control), x.get::<S>(limit), x.get::<S>(step));
        if step.is_zero() {
            x.event(EventKind::ForStepZero, || vec![("control variable".to_owned(), value.value())])?;
            return Ok(Step::Jump(exit));
        }
        if beyond(value, limit, step) { Ok(Step::Jump(exit)) } else { Ok(Step::Next) }
    }

    ForNext<S: Integer>(x, [control, limit, step, back]) {
        let (value, limit, step) = (x.get::<S>(control), x.get::<S>(limit), x.get::<S>(step));
        // Where the next value does not exist in the type the loop has passed its limit.
        let (next, wrapped) = value.sum(step);
        if wrapped {
            return Ok(Step::Next);
        }
        x.set(control, next);
        let within = if step.is_positive_step() { next <= limit } else { next >= limit };
        if within { Ok(Step::Jump(back)) } else { Ok(Step::Next) }
    }

    Call<S: Number>(x, [distance, _, _, _]) {
        let base = x.base();
        Ok(Step::Call { distance, base })
    }

    CallBlock<S: Number>(x, [distance, instance, _, _]) {
        let base = x.address(instance);
        Ok(Step::Call { distance, base })
    }

    // The decoder puts the size of the instance or frame behind the operands.
    CallBlockAt<S: Number>(x, [distance, address, instance_bytes, _]) {
        let base = x.get::<u32>(address);
        let base = x.used_address(base)?;
        if base.saturating_add(instance_bytes) > x.size() {
            return Err(x.outside(base));
        }
        Ok(Step::Call { distance, base })
    }

    Return<S: Number>(_x, _) {
        Ok(Step::Return)
    }

    Native<S: Number>(x, [index, frame, _, _]) {
        let frame = x.address(frame);
        x.native(index, frame)?;
        Ok(Step::Next)
    }

    NativeAt<S: Number>(x, [index, address, frame_bytes, _]) {
        let frame = x.get::<u32>(address);
        let frame = x.used_address(frame)?;
        if frame.saturating_add(frame_bytes) > x.size() {
            return Err(x.outside(frame));
        }
        x.native(index, frame)?;
        Ok(Step::Next)
    }

    CallMethod<S: Number>(x, [table, address, _, _]) {
        let base = x.get::<u32>(address);
        let base = x.used_address(base)?;
        let Some(tag) = x.get_at::<u32>(base) else {
            return Err(x.outside(base));
        };
        let Some(target) = x.target(table, tag) else {
            return Err(x.fault(FaultKind::Address, || {
                vec![("address".to_owned(), base.value()), ("tag".to_owned(), tag.value())]
            }));
        };
        if base.saturating_add(target.instance_bytes) > x.size() {
            return Err(x.outside(base));
        }
        x.admit(target)?;
        let distance = x.distance(target);
        Ok(Step::Call { distance, base })
    }

    Fits<S: Number>(x, [to, address, table, _]) {
        let base = x.get::<u32>(address);
        let fits = base != NULL_ADDRESS && {
            let base = x.used_address(base)?;
            let Some(tag) = x.get_at::<u32>(base) else {
                return Err(x.outside(base));
            };
            x.target(table, tag).is_some()
        };
        x.set(to, u8::from(fits));
        Ok(Step::Next)
    }

    EventMark<S: Number>(x, [to, _, _, _]) {
        let mark = x.event_mark();
        x.set(to, mark);
        Ok(Step::Next)
    }

    Now<S: Number>(x, [to, _, _, _]) {
        let now = x.now();
        x.set(to, now);
        Ok(Step::Next)
    }

    RecordEvent<S: Number>(x, [kind, _, _, _]) {
        x.careful()?;
        if let Some(kind) = EventKind::from_code(kind) {
            x.event(kind, Vec::new)?;
        }
        Ok(Step::Next)
    }
}
