//! Parts of sequential function charts in senseless places: an answer to each, never a panic, and what is accepted
//! loads and runs.

#![allow(missing_docs, clippy::unwrap_used, reason = "a failing test may panic")]

use std::sync::Arc;

use latchwork_compiler::{CompileOptions, compile_with};
use latchwork_grammar::Sources;
use latchwork_vm::{Machine, Program};
use proptest::prelude::*;

const PARTS: &[&str] = &[
    "INITIAL_STEP s1: a(N); END_STEP",
    "INITIAL_STEP s1: END_STEP",
    "STEP s2: a(L, T#20ms); lamp(S); END_STEP",
    "STEP s3: lamp(R); b(P1); b(P0); END_STEP",
    "STEP s2: END_STEP",
    "STEP s4: a(D, wait, lamp); number(N); unknown; s1(N); END_STEP",
    "STEP lamp: a(); END_STEP",
    "STEP s3: b(SL, T#1s); a(SD, waits[n]); END_STEP",
    "TRANSITION FROM s1 TO s2 := TRUE; END_TRANSITION",
    "TRANSITION FROM s1 TO (s2, s3) := go; END_TRANSITION",
    "TRANSITION t (PRIORITY := 1) FROM s2 TO s1 := s2.T > T#10ms; END_TRANSITION",
    "TRANSITION t (PRIORITY := 1) FROM s2 TO s3 := NOT s3.X; END_TRANSITION",
    "TRANSITION FROM (s2, s3) TO s1 := go; END_TRANSITION",
    "TRANSITION FROM s3 TO s1 := number; END_TRANSITION",
    "TRANSITION FROM s3 TO s3 := a; END_TRANSITION",
    "TRANSITION FROM s3 TO s4 := f(n); END_TRANSITION",
    "TRANSITION FROM (s1, s1) TO nowhere := ; END_TRANSITION",
    "TRANSITION FROM s4 TO s1:\nLD go\nAND(\nLD n\nGT 3\n)\nEND_TRANSITION",
    "TRANSITION FROM s2 TO s1:\nLD n\nST n\nJMP x\nEND_TRANSITION",
    "ACTION a: n := n + 1; RETURN; END_ACTION",
    "ACTION b:\nLD n\nADD 1\nST n\nRET\nEND_ACTION",
    "ACTION b: s1.X := TRUE; WHILE go DO IF go THEN RETURN; END_IF; EXIT; END_WHILE; END_ACTION",
    "ACTION s1: t(IN := s1.X, PT := s2.T); END_ACTION",
    "ACTION c: INITIAL_STEP inner: END_STEP END_ACTION",
    "ACTION a: END_ACTION",
    "n := 1;",
    "END_STEP",
    "END_ACTION",
    "TRANSITION FROM",
    "STEP",
    "INITIAL_STEP",
    "VAR late : INT; END_VAR",
];

/// Something sound to begin with, so that some of it is accepted.
const BEGINNING: &[&str] = &[
    "INITIAL_STEP s1: a(N); END_STEP STEP s2: b(S); lamp(P); END_STEP STEP s3: b(R); lamp(DS, T#20ms); END_STEP",
    "TRANSITION FROM s1 TO s2 := go OR s1.T > T#20ms; END_TRANSITION TRANSITION FROM s2 TO s3 := TRUE; END_TRANSITION",
    "TRANSITION FROM s3 TO s1 := NOT s2.X; END_TRANSITION ACTION a: n := n + 1; END_ACTION ACTION b: END_ACTION",
];

proptest! {
    #[test]
    fn chart_soup_has_an_answer(
        kind in prop::sample::select(vec!["PROGRAM", "PROGRAM", "FUNCTION_BLOCK", "FUNCTION"]),
        sound in 0..=BEGINNING.len(),
        parts in prop::collection::vec(prop::sample::select(PARTS), 0..6),
        final_scan: bool,
    ) {
        let parts: Vec<&str> = BEGINNING.iter().take(sound).copied().chain(parts).collect();
        let result = if kind == "FUNCTION" { " : INT" } else { "" };
        let text = format!(
            "FUNCTION f : BOOL VAR_INPUT x : INT; END_VAR f := x > 3; END_FUNCTION\n\
             {kind} P{result}\n\
             VAR go, lamp : BOOL; n, number : INT; wait : TIME; waits : ARRAY[0..3] OF TIME; t : TON; END_VAR\n\
             {}\nEND_{kind}\n",
            parts.join("\n"),
        );
        let mut sources = Sources::new();
        sources.add("soup.st", &text);
        let compilation = compile_with(&sources, &CompileOptions { final_scan, exclusive_selections: false, ..CompileOptions::default() });
        for diagnostic in &compilation.diagnostics {
            prop_assert!(diagnostic.primary.span.end as usize <= text.len());
            prop_assert!(diagnostic.name != "internal", "{text}");
        }
        if let Some(image) = compilation.image {
            let mut machine = Machine::new(Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap()));
            for scan in 0..5 {
                // A fault is an answer too.
                if machine.scan(scan * 10_000_000).is_err() {
                    break;
                }
            }
        }
    }
}
