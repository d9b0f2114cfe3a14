//! Programs rewritten into the other text language do the same: random programs, and back again.
//!
//! 320 programs; `LATCHWORK_RANDOM_PROGRAMS` sets another number. The programs follow from a seed, which
//! `PROPTEST_RNG_SEED` sets.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a failing test may panic")]

#[path = "rewriting/random.rs"]
mod random;

use std::{
    sync::{
        Mutex,
        atomic::{AtomicU64, Ordering},
    },
    thread,
};

use latchwork_tests::generate::programs::PROGRAMS;
use random::{Seen, examine};

fn number(variable: &str) -> Option<u64> {
    std::env::var(variable)
        .ok()
        .map(|text| text.parse().unwrap_or_else(|_| panic!("{variable} is no number")))
}

#[test]
fn random_programs_do_the_same_in_the_other_language_and_back() {
    let programs = number("LATCHWORK_RANDOM_PROGRAMS").unwrap_or(320);
    let first = number("PROPTEST_RNG_SEED").unwrap_or(20_261_130);
    let batches = programs.div_ceil(PROGRAMS as u64);
    let next = AtomicU64::new(0);
    let sum = Mutex::new(Seen::default());
    thread::scope(|scope| {
        for _ in 0..thread::available_parallelism().map_or(1, usize::from) {
            scope.spawn(|| {
                loop {
                    let index = next.fetch_add(1, Ordering::Relaxed);
                    if index >= batches {
                        return;
                    }
                    let seen = examine(first.wrapping_mul(1_000_003).wrapping_add(index));
                    sum.lock().unwrap().add(seen);
                }
            });
        }
    });
    let sum = sum.into_inner().unwrap();
    // What is compared must be worth it.
    assert!(sum.scans > 20 * programs as usize, "{sum:?}");
    assert!(sum.to_list > 5 * sum.refused_to_list, "{sum:?}");
    assert!(sum.to_text > 10 * sum.refused_to_text, "{sum:?}");
    assert!(sum.faults < sum.scans / 4, "{sum:?}");
}
