//! The threaded dispatcher does what the plain one does, on random programs: after every scan the same data image byte
//! for byte, the same events, faults and instruction counts.
//!
//! 10,000 programs; `LATCHWORK_RANDOM_PROGRAMS` sets another number. The programs follow from a seed, which
//! `PROPTEST_RNG_SEED` sets. What fails is made smaller and shown as source text, with the first variable that differs.

#![allow(clippy::unwrap_used, reason = "a failing test may panic")]

#[path = "agreement/course.rs"]
mod course;
#[path = "agreement/disagreement.rs"]
mod disagreement;
#[path = "agreement/variety.rs"]
mod variety;

use std::{
    env,
    sync::{
        Mutex,
        atomic::{AtomicU64, Ordering},
    },
    thread,
};

use course::Tally;
use disagreement::{examine, shrunk};
use latchwork_tests::generate::programs::{Batch, PROGRAMS};
use latchwork_vm::Dispatcher;

fn number(variable: &str) -> Option<u64> {
    env::var(variable).ok().map(|text| text.parse().unwrap_or_else(|_| panic!("{variable} is no number")))
}

#[test]
fn both_dispatchers_agree_on_random_programs() {
    let programs = number("LATCHWORK_RANDOM_PROGRAMS").unwrap_or(10_000);
    let first = number("PROPTEST_RNG_SEED").unwrap_or(20_261_130);
    let batches = programs.div_ceil(PROGRAMS as u64);
    let next = AtomicU64::new(0);
    let sum = Mutex::new(Tally::default());
    thread::scope(|scope| {
        for _ in 0..thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(|| {
                loop {
                    let index = next.fetch_add(1, Ordering::Relaxed);
                    if index >= batches {
                        return;
                    }
                    let seed = first.wrapping_mul(1_000_003).wrapping_add(index);
                    let batch = Batch::new(seed);
                    match examine(&batch, seed) {
                        Ok(tally) => sum.lock().unwrap().add(tally),
                        Err(found) => {
                            // The others need not go on.
                            next.store(batches, Ordering::Relaxed);
                            panic!("{}", shrunk(&batch, seed, *found));
                        }
                    }
                }
            });
        }
    });
    let Tally { scans, faults, inputs } = sum.into_inner().unwrap();
    // What is compared must be worth it: programs run, mostly to their end, and with inputs.
    assert!(scans >= 2 * batches as usize * course::SCANS_MIN, "{scans} scans");
    assert!(faults < scans / 5, "{faults} of {scans} scans ended with a fault");
    assert!(inputs > scans, "{inputs} values from outside in {scans} scans");
    assert_eq!(Dispatcher::best(), Dispatcher::Adaptive, "this build has no threaded dispatcher to compare");
}
