//! The standard function blocks (IEC 61131-3:2013, Tables 43 to 46): each is one instruction on an instance.
//!
//! Every block has two forms: on the instance at a place, which the verifier has proven to be there, and on the instance
//! at an address, which is checked here. What it remembers lies in the instance ([`crate::block`]).
//!
//! Choices where the standard leaves them open. Counters stop at the limits of their type, so counting never overflows.
//! For timers the time is that of the scan, the same for all calls in it; PT is read at every call and a negative PT
//! counts as 0; ET never exceeds PT; after the time has run out the state is held until IN allows a new start; a pulse
//! ends before an edge in the same call is looked at.

use super::handler;
use crate::block::{BistableLayout, CounterLayout, TimerLayout, TriggerLayout, UpDownLayout};
use crate::run::Step;
use crate::run::access::{Instance, Members};
use crate::run::number::{Integer, Number};
use std::marker::PhantomData;

/// Defines both forms of a block: the function does the work on the instance.
macro_rules! blocks {
    ($($name:ident $name_at:ident<$scalar:ident: $bound:ident> $bytes:expr, $work:path;)*) => {
        handler! {$(
            $name<$scalar: $bound>(x, [place, _, _, _]) {
                let instance = x.instance(place);
                $work(x, instance);
                Ok(Step::Next)
            }

            $name_at<$scalar: $bound>(x, [address, _, _, _]) {
                let instance = x.instance_at(address, $bytes)?;
                $work(x, instance);
                Ok(Step::Next)
            }
        )*}
    };
}

blocks! {
    SetDominant SetDominantAt<S: Number> BistableLayout::BYTES, set_dominant::<X>;
    ResetDominant ResetDominantAt<S: Number> BistableLayout::BYTES, reset_dominant::<X>;
    RisingEdge RisingEdgeAt<S: Number> TriggerLayout::BYTES, rising_edge::<X>;
    FallingEdge FallingEdgeAt<S: Number> TriggerLayout::BYTES, falling_edge::<X>;
    CountUp CountUpAt<S: Integer> Layouts::<S>::ONE.bytes, count_up::<S, X>;
    CountDown CountDownAt<S: Integer> Layouts::<S>::ONE.bytes, count_down::<S, X>;
    LoadCount LoadCountAt<S: Integer> Layouts::<S>::ONE.bytes, load_count::<S, X>;
    CountUpDown CountUpDownAt<S: Integer> Layouts::<S>::BOTH.bytes, count_up_down::<S, X>;
    CompareCount CompareCountAt<S: Integer> Layouts::<S>::BOTH.bytes, compare_count::<S, X>;
    Pulse PulseAt<S: Number> TimerLayout::BYTES, pulse::<X>;
    OnDelay OnDelayAt<S: Number> TimerLayout::BYTES, on_delay::<X>;
    OffDelay OffDelayAt<S: Number> TimerLayout::BYTES, off_delay::<X>;
}

/// The layouts of counters of a scalar.
struct Layouts<S>(PhantomData<S>);

impl<S: Number> Layouts<S> {
    const ONE: CounterLayout = CounterLayout::of_width(size_of::<S>() as u32);
    const BOTH: UpDownLayout = UpDownLayout::of_width(size_of::<S>() as u32);
}

#[inline(always)]
fn level<X: Members>(x: &mut X, instance: Instance, offset: u32) -> bool {
    x.member::<u8>(instance, offset) != 0
}

#[inline(always)]
fn set_level<X: Members>(x: &mut X, instance: Instance, offset: u32, value: bool) {
    x.set_member(instance, offset, u8::from(value));
}

/// Whether a level has become TRUE since the last call; keeps it in the memory at an offset.
#[inline(always)]
fn rising<X: Members>(x: &mut X, instance: Instance, now: bool, memory: u32) -> bool {
    let edge = now & !level(x, instance, memory);
    set_level(x, instance, memory, now);
    edge
}

#[inline(always)]
pub(crate) fn set_dominant<X: Members>(x: &mut X, instance: Instance) {
    let (set, reset) = (level(x, instance, BistableLayout::SET), level(x, instance, BistableLayout::RESET));
    let state = level(x, instance, BistableLayout::Q1);
    set_level(x, instance, BistableLayout::Q1, set | (!reset & state));
}

#[inline(always)]
pub(crate) fn reset_dominant<X: Members>(x: &mut X, instance: Instance) {
    let (set, reset) = (level(x, instance, BistableLayout::SET), level(x, instance, BistableLayout::RESET));
    let state = level(x, instance, BistableLayout::Q1);
    set_level(x, instance, BistableLayout::Q1, !reset & (set | state));
}

#[inline(always)]
pub(crate) fn rising_edge<X: Members>(x: &mut X, instance: Instance) {
    let now = level(x, instance, TriggerLayout::CLK);
    let edge = rising(x, instance, now, TriggerLayout::MEMORY);
    set_level(x, instance, TriggerLayout::Q, edge);
}

#[inline(always)]
pub(crate) fn falling_edge<X: Members>(x: &mut X, instance: Instance) {
    let now = !level(x, instance, TriggerLayout::CLK);
    let edge = rising(x, instance, now, TriggerLayout::MEMORY);
    set_level(x, instance, TriggerLayout::Q, edge);
}

/// The hidden edge detector works at every call: an edge while R or LD is TRUE is spent.
#[inline(always)]
pub(crate) fn count_up<S: Integer, X: Members>(x: &mut X, instance: Instance) {
    let layout = Layouts::<S>::ONE;
    let now = level(x, instance, layout.count);
    let edge = rising(x, instance, now, layout.memory);
    let mut count = x.member::<S>(instance, layout.cv);
    if level(x, instance, layout.level) {
        count = S::default();
    } else if edge {
        count = count.counted_up();
    }
    let preset = x.member::<S>(instance, layout.pv);
    x.set_member(instance, layout.cv, count);
    set_level(x, instance, layout.q, count >= preset);
}

#[inline(always)]
pub(crate) fn count_down<S: Integer, X: Members>(x: &mut X, instance: Instance) {
    let layout = Layouts::<S>::ONE;
    let now = level(x, instance, layout.count);
    let edge = rising(x, instance, now, layout.memory);
    let mut count = x.member::<S>(instance, layout.cv);
    if level(x, instance, layout.level) {
        count = x.member::<S>(instance, layout.pv);
    } else if edge {
        count = count.counted_down();
    }
    x.set_member(instance, layout.cv, count);
    set_level(x, instance, layout.q, count <= S::default());
}

/// The input operator PV of CTD, which loads.
#[inline(always)]
fn load_count<S: Integer, X: Members>(x: &mut X, instance: Instance) {
    let layout = Layouts::<S>::ONE;
    let count = x.member::<S>(instance, layout.pv);
    x.set_member(instance, layout.cv, count);
    set_level(x, instance, layout.q, count <= S::default());
}

#[inline(always)]
pub(crate) fn count_up_down<S: Integer, X: Members>(x: &mut X, instance: Instance) {
    let layout = Layouts::<S>::BOTH;
    let (up, down) = (level(x, instance, layout.up), level(x, instance, layout.down));
    let up = rising(x, instance, up, layout.up_memory);
    let down = rising(x, instance, down, layout.down_memory);
    let mut count = x.member::<S>(instance, layout.cv);
    if level(x, instance, layout.reset) {
        count = S::default();
    } else if level(x, instance, layout.load) {
        count = x.member::<S>(instance, layout.pv);
    } else if up & !down {
        count = count.counted_up();
    } else if down & !up {
        count = count.counted_down();
    }
    x.set_member(instance, layout.cv, count);
    compare_count::<S, X>(x, instance);
}

/// The outputs of CTUD from CV and PV; alone it is the input operator PV of CTUD.
#[inline(always)]
fn compare_count<S: Integer, X: Members>(x: &mut X, instance: Instance) {
    let layout = Layouts::<S>::BOTH;
    let (count, preset) = (x.member::<S>(instance, layout.cv), x.member::<S>(instance, layout.pv));
    set_level(x, instance, layout.qu, count >= preset);
    set_level(x, instance, layout.qd, count <= S::default());
}

#[inline(always)]
fn timer_state<X: Members>(x: &mut X, instance: Instance) -> u8 {
    x.member::<u8>(instance, TimerLayout::STATE)
}

#[inline(always)]
fn start<X: Members>(x: &mut X, instance: Instance) {
    let now = x.now();
    x.set_member(instance, TimerLayout::STATE, TimerLayout::RUNNING);
    x.set_member(instance, TimerLayout::START, now);
}

/// Lets a running delay or pulse go on: to its end at PT, otherwise ET follows the time. Tells whether it has just come
/// to its end.
#[inline(always)]
fn advance<X: Members>(x: &mut X, instance: Instance) -> bool {
    let preset = x.member::<i64>(instance, TimerLayout::PT).max(0);
    let begin = x.member::<i64>(instance, TimerLayout::START);
    // Saturates: a time before the start gives a negative duration, which is below every PT.
    let elapsed = x.now().saturating_sub(begin);
    if elapsed >= preset {
        x.set_member(instance, TimerLayout::STATE, TimerLayout::ELAPSED);
        x.set_member(instance, TimerLayout::ET, preset);
        return true;
    }
    x.set_member(instance, TimerLayout::ET, elapsed);
    false
}

#[inline(always)]
fn reset<X: Members>(x: &mut X, instance: Instance) {
    x.set_member(instance, TimerLayout::STATE, TimerLayout::IDLE);
    x.set_member(instance, TimerLayout::ET, 0i64);
}

#[inline(always)]
pub(crate) fn on_delay<X: Members>(x: &mut X, instance: Instance) {
    if !level(x, instance, TimerLayout::IN) {
        set_level(x, instance, TimerLayout::Q, false);
        reset(x, instance);
        return;
    }
    if timer_state(x, instance) == TimerLayout::IDLE {
        start(x, instance);
    }
    if timer_state(x, instance) == TimerLayout::RUNNING {
        let over = advance(x, instance);
        set_level(x, instance, TimerLayout::Q, over);
    }
}

#[inline(always)]
pub(crate) fn off_delay<X: Members>(x: &mut X, instance: Instance) {
    let now = level(x, instance, TimerLayout::IN);
    if now {
        set_level(x, instance, TimerLayout::Q, true);
        reset(x, instance);
    } else {
        if level(x, instance, TimerLayout::MEMORY) {
            start(x, instance);
        }
        if timer_state(x, instance) == TimerLayout::RUNNING && advance(x, instance) {
            set_level(x, instance, TimerLayout::Q, false);
        }
    }
    set_level(x, instance, TimerLayout::MEMORY, now);
}

#[inline(always)]
pub(crate) fn pulse<X: Members>(x: &mut X, instance: Instance) {
    let now = level(x, instance, TimerLayout::IN);
    let edge = rising(x, instance, now, TimerLayout::MEMORY);
    if timer_state(x, instance) == TimerLayout::RUNNING {
        advance(x, instance);
    }
    if timer_state(x, instance) == TimerLayout::ELAPSED && (!now | edge) {
        reset(x, instance);
    }
    if edge && timer_state(x, instance) == TimerLayout::IDLE {
        start(x, instance);
        advance(x, instance);
    }
    let running = timer_state(x, instance) == TimerLayout::RUNNING;
    set_level(x, instance, TimerLayout::Q, running);
}
