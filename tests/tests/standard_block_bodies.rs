//! Every standard function block against its body in Structured Text (IEC 61131-3:2013, tables 43 to 46): one program
//! calls both side by side, scan after scan, with any inputs at any times, wherever an instance can lie and however it can
//! be called. Outputs, and the hidden state that both have, must agree after each scan.
//!
//! The bodies of bistables, triggers and counters are those of the standard (from memory of the text); those of timers
//! state our reading of its diagrams. `LATCHWORK_BLOCK_SCANS` sets how many scans each block runs, 100 000 without it.

#![allow(clippy::unwrap_used, reason = "a failing test may panic")]

#[path = "standard_block_bodies/program.rs"]
mod program;
#[path = "standard_block_bodies/stimulus.rs"]
mod stimulus;

use latchwork_stdlib::{BlockDefinition, blocks};
use program::Pairs;
use proptest::{
    prelude::any,
    test_runner::{Config, TestCaseError, TestRunner},
};
use stimulus::{shortest, steps};

/// Scans of one random stimulus.
const LENGTH: usize = 2_000;

fn wanted_scans() -> usize {
    std::env::var("LATCHWORK_BLOCK_SCANS").ok().map_or(100_000, |text| text.parse().unwrap())
}

fn check(block: &'static BlockDefinition) {
    let pairs = Pairs::new(block);
    let cases = wanted_scans().div_ceil(LENGTH) as u32;
    // The shortest stimulus is found here, in a way that knows what a scan is.
    let mut runner = TestRunner::new(Config {
        cases,
        max_shrink_iters: 0,
        failure_persistence: None,
        ..Config::default()
    });
    let result = runner.run(&any::<u64>(), |seed| {
        let steps = steps(seed, LENGTH);
        if pairs.disagreement(&steps, false).is_none() {
            return Ok(());
        }
        let steps = shortest(&steps, |steps| pairs.disagreement(steps, true));
        Err(TestCaseError::fail(pairs.call_table(&steps)))
    });
    if let Err(error) = result {
        panic!("{error}");
    }
}

/// All blocks of a kind, whatever type their names carry.
fn check_kind(kind: &str) {
    let mut count = 0;
    for block in blocks().filter(|block| program::kind(block) == kind) {
        check(block);
        count += 1;
    }
    assert!(count > 0, "{kind}");
}

macro_rules! kinds {
    ($($test:ident $kind:literal)*) => {
        const KINDS: &[&str] = &[$($kind),*];
        $(#[test] fn $test() { check_kind($kind); })*
    };
}

kinds! {
    set_dominant_bistable "SR"
    reset_dominant_bistable "RS"
    rising_edges "R_TRIG"
    falling_edges "F_TRIG"
    up_counters "CTU"
    down_counters "CTD"
    up_down_counters "CTUD"
    pulses "TP"
    on_delays "TON"
    off_delays "TOF"
}

#[test]
fn every_block_is_of_a_kind_that_is_checked() {
    for block in blocks() {
        assert!(KINDS.contains(&program::kind(block)), "{}", block.name);
    }
}

/// The comparison finds a difference, and the search for the shortest stimulus comes to a few scans: here the body is
/// that of another block.
#[test]
fn a_wrong_body_is_found_with_a_short_call_table() {
    let find = |name: &str| blocks().find(|block| block.name == name).unwrap();
    let body = latchwork_stdlib::st_body(find("SR")).replace("S1 OR (NOT R AND Q1)", "NOT R AND (S1 OR Q1)");
    let pairs = Pairs::with_body(find("SR"), &body);
    let steps = steps(1, LENGTH);
    assert!(pairs.disagreement(&steps, false).is_some());
    let steps = shortest(&steps, |steps| pairs.disagreement(steps, true));
    let table = pairs.call_table(&steps);
    assert!(steps.len() <= 3, "{table}");
    assert!(table.contains("S1") && table.contains("Q1"), "{table}");
}
