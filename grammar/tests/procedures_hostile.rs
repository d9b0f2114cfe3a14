//! Files of procedures that nobody wrote on purpose: whatever they are, the answer is a tree and diagnostics.

#![allow(clippy::unwrap_used, reason = "a broken expectation fails the test")]

mod support;

use latchwork_grammar::{FileId, Names, ParsedSteps, Span, parse_steps};
use proptest::prelude::*;
use support::steps::spans;

fn parsed(text: &str) -> ParsedSteps {
    parse_steps(FileId(0), text, &mut Names::new())
}

fn names_of(parsed: &ParsedSteps) -> Vec<&'static str> {
    parsed.diagnostics.iter().map(|problem| problem.name).collect()
}

fn check_span(text: &str, span: Span) {
    assert!(span.start <= span.end, "{span:?}");
    assert!(text.get(span.start as usize..span.end as usize).is_some(), "{span:?} in {text:?}");
}

fn check(text: &str) {
    let parsed = parsed(text);
    for problem in &parsed.diagnostics {
        check_span(text, problem.primary.span);
        problem.secondary.iter().for_each(|label| check_span(text, label.span));
        for edit in problem.fix.iter().flat_map(|fix| &fix.edits) {
            check_span(text, edit.span);
        }
        assert!(!problem.message.contains('\n') && !problem.message.ends_with('.'), "{}", problem.message);
    }
    spans(&parsed.tree).into_iter().for_each(|span| check_span(text, span));
    assert!(parsed.diagnostics.is_sorted_by_key(|problem| problem.primary.span.start));
}

/// Words and signs from which something like a procedure arises now and then.
fn pieces() -> impl Strategy<Value = String> {
    let words: Vec<&'static str> = "a b Pump.x Pump Level always and at between change changes clear cold compare edge edges end_prepare \
        end_procedure end_repeat end_while exactly expect falling faults for hint include least most near never of on open over \
        place points prepare press procedure program ramp record release repeat restart rising scan set shift shorted station \
        stuck then times to tolerance turn wait warm whenever while wire with within expct withn end END procedure endrepeat IF \
        THEN END_IF FOR := END_FOR WHILE DO CASE OF ELSE UNTIL RETURN VAR FUNCTION AND OR NOT TRUE = + - ; ; ; ; , . ( ) [ ] \
        1 3 0 2.5 T#1s T#1s T#20ms T#-5ms T#5 D#2024-02-30 'abc' 'x' '' \"w\" ' %IX0.0 (* *) // { } $ ü"
        .split_whitespace()
        .collect();
    let word = proptest::sample::select(words);
    let gap = prop_oneof![4 => Just(" "), 2 => Just("\n"), 1 => Just(""), 1 => Just("\n  ")];
    proptest::collection::vec((word, gap), 0..80)
        .prop_map(|list| list.into_iter().map(|(word, gap)| format!("{word}{gap}")).collect())
}

/// Lines of procedures, some of them damaged.
fn lines() -> impl Strategy<Value = String> {
    let whole = include_str!("procedures/whole.steps");
    let lines: Vec<&'static str> = whole.lines().filter(|line| !line.trim().is_empty()).collect();
    let line = (proptest::sample::select(lines), any::<u16>(), 0..8u8).prop_map(|(line, place, damage)| {
        let place = (0..=line.len())
            .rev()
            .find(|at| *at <= place as usize % (line.len() + 1) && line.is_char_boundary(*at));
        let (before, behind) = line.split_at(place.unwrap_or(0));
        match damage {
            0 => format!("{before}{}", behind.get(1..).unwrap_or("")),
            1 => before.to_owned(),
            2 => format!("{before} end {behind}"),
            _ => line.to_owned(),
        }
    });
    proptest::collection::vec(line, 0..40).prop_map(|lines| lines.join("\n"))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_are_answered(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
        check(&String::from_utf8_lossy(&bytes));
    }

    #[test]
    fn any_characters_are_answered(text in "\\PC{0,200}") {
        check(&text);
        check(&format!("procedure 'x' {text} end_procedure"));
    }

    #[test]
    fn any_tokens_are_answered(text in pieces()) {
        check(&text);
        check(&format!("procedure 'x'\n{text}\nend_procedure"));
        check(&format!("prepare\n{text}\nend_prepare"));
        check(&format!("procedure 'x'\nrepeat 3 times\n{text}\nend_repeat;\nend_procedure"));
        check(&format!("procedure 'x'\nexpect a while\n{text}\nend_while;\nend_procedure"));
        check(&format!("procedure 'x'\nexpect {text};\nend_procedure"));
    }

    #[test]
    fn any_lines_are_answered(text in lines()) {
        check(&text);
        check(&format!("procedure 'x'\n{text}\nend_procedure"));
    }
}
