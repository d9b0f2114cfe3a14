//! Files of procedures that nobody wrote on purpose: whatever they are, the answer is a tree and diagnostics.

#![allow(clippy::unwrap_used, reason = "a broken expectation fails the test")]

mod support;

use latchwork_grammar::{FileId, Names, ParsedSteps, parse_steps};
use proptest::prelude::*;
use support::{
    spans::{check_diagnostics, check_span},
    steps::spans,
};

fn parsed(text: &str) -> ParsedSteps {
    parse_steps(FileId(0), text, &mut Names::new())
}

fn names_of(parsed: &ParsedSteps) -> Vec<&'static str> {
    parsed.diagnostics.iter().map(|problem| problem.name).collect()
}

fn check(text: &str) {
    let parsed = parsed(text);
    check_diagnostics(text, &parsed.diagnostics);
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

fn answered(text: &str) -> Vec<&'static str> {
    names_of(&parsed(text))
}

#[test]
fn huge_texts_are_answered_in_linear_time() {
    let many = 100_000;
    let procedures: String =
        (0..many).map(|number| format!("procedure 'p{number}' press A; end_procedure\n")).collect();
    let whole = parsed(&procedures);
    assert_eq!((whole.tree.items.len(), whole.diagnostics.len()), (many, 0));

    let one_line = "press StartPB for T#1s; expect NOT Pump within T#20ms; ".repeat(180_000);
    let text = format!("procedure 'long' {one_line} end_procedure");
    assert!(text.len() > 9_000_000);
    assert_eq!(answered(&text), Vec::<&str>::new());

    // Were the time the square of the length, these would not end.
    let endings = [
        "procedure 'a' ",
        "procedure 'a'\n",
        "procedure ",
        "prepare\n",
        "repeat 3 times ",
        "repeat ",
        "expect a while ",
        "expect a while\n",
        "expect (",
        "expect ",
        "end_while ",
        "end_repeat; ",
        "end_procedure ",
        "end ",
        "IF a THEN\n",
        "END_IF; ",
        "FOR i := 1 TO 3 DO\n",
        "CASE a OF\n",
        "REPEAT UNTIL a ",
        "press ",
        "press a\n",
        "a ",
        "a.",
        "a\n",
        "at T#1s ",
        "PROGRAM a\n",
        "hint 'x' while ",
        "while hint ",
        "while end_while hint ",
        "; ",
        "'",
        "a withn ",
        "compare a with 'x' ",
        "include ",
        "program 'x', ",
        "points ",
        "at least 3 ",
        "(* ",
        "{ ",
    ];
    for ending in endings {
        let many = ending.repeat(20_000);
        for text in [
            many.clone(),
            format!(
                "procedure 'x' expect a while repeat 3 times\n{many}\nend_repeat; end_while; end_procedure"
            ),
        ] {
            let count = answered(&text).len();
            assert!(count <= 420, "{count} messages about many `{ending}`");
        }
    }
}

#[test]
fn deep_nesting_is_one_error() {
    for (open, close) in [
        ("repeat 3 times ", "end_repeat; "),
        ("expect a while ", "end_while; "),
        ("repeat 3 times\n", "end_repeat;\n"),
        ("expect a while repeat 3 times\n", "end_repeat;\nend_while;\n"),
    ] {
        let nested = |depth: usize| {
            format!(
                "procedure 'deep' {} wait T#1s; {} end_procedure",
                open.repeat(depth),
                close.repeat(depth)
            )
        };
        assert_eq!(answered(&nested(100)), Vec::<&str>::new(), "{open}");
        assert_eq!(answered(&nested(400)), ["nesting-too-deep"], "{open}");
        assert_eq!(answered(&nested(50_000)), ["nesting-too-deep"], "{open}");
    }
    let brackets = format!("procedure 'x' expect {}a{}; end_procedure", "(".repeat(5_000), ")".repeat(5_000));
    assert_eq!(answered(&brackets), ["nesting-too-deep"]);
}

#[test]
fn limits_are_reported_once() {
    let big = " ".repeat(latchwork_grammar::source::SOURCE_BYTES_MAX + 1);
    assert_eq!(answered(&big), ["file-too-large"]);
    assert_eq!(answered("(* open"), ["unclosed-comment"]);
    assert_eq!(answered("procedure 'x' press A (* open"), ["unclosed-comment"]);
    assert_eq!(answered(&"\u{1} a ".repeat(101)).last(), Some(&"too-many-errors"));
    let longest = "procedure 'x' repeat 18446744073709551615 times wait T#106751d23h47m16s854ms775us807ns; end_repeat; \
                   at T#106751d; expect a between T#106751d and T#106751d1h; end_procedure";
    assert_eq!(answered(longest), Vec::<&str>::new());
}

#[test]
fn letter_case_of_words_does_not_matter() {
    let text = include_str!("procedures/whole.steps");
    // Strings keep theirs.
    let mut outside = true;
    let mut upper = String::new();
    for character in text.chars() {
        outside ^= matches!(character, '\'' | '"');
        upper.push(if outside { character.to_ascii_uppercase() } else { character });
    }
    let shape = |text: &str| format!("{:?}", parsed(text).tree.items).to_ascii_uppercase();
    assert_eq!(shape(text), shape(&upper));
}
