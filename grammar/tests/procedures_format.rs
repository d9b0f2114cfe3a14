//! The formatter of procedures: what it writes, that it does so once, and that nothing is lost.

#![allow(clippy::unwrap_used, reason = "a broken expectation fails the test")]

mod support;

use latchwork_grammar::{FileId, Names, parse_steps, steps::format, tree::TriviaKind};
use proptest::prelude::*;
use support::Printer;

fn formatted(text: &str) -> String {
    format(FileId(0), text, &mut Names::new()).unwrap_or_else(|problems| panic!("{problems:#?} in\n{text}"))
}

/// The tree without places, and the comments.
fn shape(text: &str) -> (String, Vec<(TriviaKind, String)>) {
    let mut names = Names::new();
    let parsed = parse_steps(FileId(0), text, &mut names);
    assert!(parsed.diagnostics.is_empty(), "{:#?} in\n{text}", parsed.diagnostics);
    let mut tree = parsed.tree.clone();
    let comments = tree.trivia.drain(..).map(|trivia| {
        let comment = &text[trivia.span.start as usize..trivia.span.end as usize];
        (trivia.kind, comment.replace("\r\n", "\n").replace('\r', "\n").trim_end().to_owned())
    });
    let comments = comments.collect();
    // Letter case of a state that is a word of the language is no difference.
    (Printer { names: &names }.steps_file(&tree).to_ascii_uppercase(), comments)
}

fn check(text: &str) -> String {
    let once = formatted(text);
    assert_eq!(shape(text), shape(&once), "another tree:\n{text}\n----\n{once}");
    assert_eq!(formatted(&once), once, "another text the second time, from\n{text}");
    once
}

#[test]
fn the_whole_language_is_laid_out() {
    insta::assert_snapshot!(check(include_str!("procedures/whole.steps")));
    insta::assert_snapshot!(check(include_str!("procedures/names.steps")));
}

#[test]
fn a_crowded_text_is_laid_out() {
    insta::assert_snapshot!(check(include_str!("procedures/crowded.steps")));
}

#[test]
fn nothing_stays_nothing_and_comments_stay() {
    assert_eq!(check(""), "");
    assert_eq!(check("\n\n"), "");
    assert_eq!(check("// only this"), "// only this\n");
    assert_eq!(check("\n\n// one\n\n\n\n(* two *)  // three"), "// one\n\n(* two *)  // three\n");
}

#[test]
fn line_ends_are_those_of_the_first_line() {
    assert_eq!(
        check("procedure 'x'\r\n(* a\r\nb *)\r\npress A;\nend_procedure"),
        "procedure 'x'\r\n  (* a\r\nb *)\r\n  press A;\r\nend_procedure\r\n"
    );
    assert_eq!(check("\u{feff}scan T#1s;"), "\u{feff}scan T#1s;\n");
}

#[test]
fn what_has_errors_is_not_touched() {
    for text in ["press A;", "procedure 'x' press A end_procedure", "procedure 'x'", "(* open", "'"] {
        let problems = format(FileId(0), text, &mut Names::new()).unwrap_err();
        assert!(!problems.is_empty(), "{text}");
    }
    // A warning is none.
    assert_eq!(formatted("scan T#1.5ns;"), "scan T#1.5ns;\n");
}

// ---- generated files ----------------------------------------------------------------------------------------------

fn name() -> impl Strategy<Value = &'static str> {
    proptest::sample::select(vec![
        "Pump", "StartPB", "press", "wait", "scan", "times", "Level", "stuck", "wire",
    ])
}

fn time() -> impl Strategy<Value = &'static str> {
    proptest::sample::select(vec!["T#1s", "t#20ms", "TIME#1h30m", "LT#5us", "T#0s"])
}

fn text() -> impl Strategy<Value = &'static str> {
    proptest::sample::select(vec!["'x'", "'stop beats start'", "\"w→\"", "'$$ // (* '", "'a.csv'"])
}

fn access() -> impl Strategy<Value = String> {
    prop_oneof![
        Just("Pump".to_owned()),
        Just("Main . Fill . ET".to_owned()),
        Just("Seg [ 0 , i ]".to_owned()),
        Just("%IX0.0".to_owned()),
        Just("bits . %X3".to_owned()),
        Just("Tank . within . 5".to_owned()),
        Just("p ^ . q".to_owned()),
    ]
}

fn expression() -> impl Strategy<Value = String> {
    let leaf = prop_oneof![
        access(),
        proptest::sample::select(vec![
            "true",
            "FALSE",
            "1",
            "2.5",
            "16#FF",
            "'a'",
            "INT#-5",
            "Colour # Red",
            "T#1s",
            "null"
        ])
        .prop_map(|text| text.replace("Colour # Red", "Colour#Red")),
    ];
    leaf.prop_recursive(4, 12, 2, |inner| {
        let operator = proptest::sample::select(vec![
            "AND", "or", "Xor", "&", "=", "<>", "<", ">=", "+", "-", "*", "/", "mod", "**",
        ]);
        prop_oneof![
            (inner.clone(), operator, inner.clone())
                .prop_map(|(a, operator, b)| format!("{a} {operator} {b}")),
            inner.clone().prop_map(|a| format!("not {a}")),
            inner.clone().prop_map(|a| format!("- {a}")),
            inner.clone().prop_map(|a| format!("( {a} )")),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("MAX ( {a} , {b} )")),
            inner.clone().prop_map(|a| format!("AND ( {a} , x )")),
            inner.prop_map(|a| format!("Fill ( IN := {a} , PT := T#1s ) . Q")),
        ]
    })
}

fn hint() -> impl Strategy<Value = String> {
    prop_oneof![2 => Just(String::new()), 1 => text().prop_map(|text| format!(" hint {text}"))]
}

fn simple() -> impl Strategy<Value = String> {
    let state = proptest::sample::select(vec!["wet", "on", "'by hand'", "true", "to", "pressed"]);
    let fault = proptest::sample::select(vec!["open wire", "shorted", "STUCK"]);
    let edge = proptest::sample::select(vec!["rising edges", "falling edge", "changes", "Change"]);
    let bound = proptest::sample::select(vec!["exactly 3", "at least 1", "at most 0"]);
    prop_oneof![
        (name(), name()).prop_map(|(a, b)| format!("press {a} , {b} ;")),
        (name(), time()).prop_map(|(a, time)| format!("Press {a} for {time} ;")),
        name().prop_map(|a| format!("release {a} ;")),
        (name(), state).prop_map(|(a, state)| format!("turn {a} to {state} ;")),
        (access(), expression()).prop_map(|(a, value)| format!("set {a} to {value} ;")),
        (access(), expression()).prop_map(|(a, value)| format!("ramp {a} to {value} OVER T#1s ;")),
        time().prop_map(|time| format!("wait {time} ;")),
        time().prop_map(|time| format!("at {time} ;")),
        (time(), name()).prop_map(|(time, a)| format!("at {time} press {a} ;")),
        (fault, name()).prop_map(|(fault, a)| format!("place {fault} on {a} ;")),
        name().prop_map(|a| format!("place stuck on {a} at on ;")),
        Just("clear faults ;".to_owned()),
        Just("restart WARM ; ;".to_owned()),
        (expression(), hint()).prop_map(|(a, hint)| format!("expect {a}{hint} ;")),
        (expression(), time(), hint())
            .prop_map(|(a, time, hint)| format!("expect {a} within {time}{hint} ;")),
        (expression(), time(), hint())
            .prop_map(|(a, time, hint)| { format!("expect {a} within {time} for {time}{hint} ;") }),
        (expression(), hint()).prop_map(|(a, hint)| format!("expect {a} between T#1s and T#2s{hint} ;")),
        (expression(), expression()).prop_map(|(a, b)| format!("expect {a} near {b} tolerance 0.5 ;")),
        (bound, edge, expression())
            .prop_map(|(bound, edge, a)| format!("expect {bound} {edge} of {a} within T#1s ;")),
        (expression(), hint()).prop_map(|(a, hint)| format!("always {a}{hint} ;")),
        (expression(), expression(), hint())
            .prop_map(|(a, b, hint)| format!("whenever {a} then {b}{hint} ;")),
        (expression(), expression(), time())
            .prop_map(|(a, b, time)| format!("whenever {a} then {b} for {time} ;")),
    ]
}

fn step() -> impl Strategy<Value = String> {
    simple().prop_recursive(3, 12, 4, |inner| {
        let block = proptest::collection::vec(inner, 0..4).prop_map(|steps| steps.join(" "));
        prop_oneof![
            block.clone().prop_map(|block| format!("repeat 3 times {block} end_repeat ;")),
            block.clone().prop_map(|block| format!("at T#1s repeat 3 TIMES {block} end_repeat")),
            (expression(), block.clone(), hint())
                .prop_map(|(a, block, hint)| { format!("expect {a} while {block} END_WHILE{hint} ;") }),
            (expression(), block).prop_map(|(a, block)| format!("expect {a} while {block} end_while")),
        ]
    })
}

fn item() -> impl Strategy<Value = String> {
    let head = prop_oneof![
        3 => Just(String::new()),
        1 => Just("points 2 ; ".to_owned()),
        1 => text().prop_map(|text| format!("hint {text} ; ")),
        1 => access().prop_map(|a| format!("compare {a} , B with 'x.csv' shift T#1s tolerance 0.5 ; ")),
    ];
    let steps = proptest::collection::vec(step(), 0..5).prop_map(|steps| steps.join(" "));
    prop_oneof![
        text().prop_map(|name| format!("include {name} ;")),
        (text(), text()).prop_map(|(a, b)| format!("PROGRAM {a} , {b} ;")),
        access().prop_map(|a| format!("record {a} , B ;")),
        (head, steps).prop_map(|(head, steps)| format!("Procedure NAMED {head}{steps} end_procedure")),
    ]
}

/// Files as a careless hand may write them: every blank may be more blanks, a line end or a comment.
fn files() -> impl Strategy<Value = String> {
    let gap = prop_oneof![
        6 => Just(" "),
        2 => Just("\n"),
        1 => Just("  \n\n\n "),
        1 => Just(" (* why *) "),
        1 => Just(" // why\n"),
        1 => Just("\n// because\n"),
        1 => Just(" /* a\n b */ "),
        1 => Just("\n\n{ pragma }\r\n"),
    ];
    (proptest::collection::vec(item(), 0..4), proptest::collection::vec(gap, 1..40)).prop_map(
        |(items, gaps)| {
            let mut text = String::new();
            let mut gaps = gaps.iter().cycle();
            let mut in_string = false;
            for (number, item) in items.iter().enumerate() {
                let item = item.replace("NAMED", &format!("'procedure_{number}'"));
                for character in item.chars().chain([' ']) {
                    in_string ^= matches!(character, '\'' | '"');
                    if character == ' ' && !in_string {
                        text.push_str(gaps.next().unwrap());
                    } else {
                        text.push(character);
                    }
                }
                in_string = false;
            }
            text
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_file_is_laid_out_once_and_keeps_its_tree(text in files()) {
        let once = check(&text);
        prop_assert!(!once.contains("\n\n\n"), "two blank lines in\n{once}");
        prop_assert!(once.lines().all(|line| !line.ends_with(' ')), "a blank at the end of a line of\n{once}");
        prop_assert!(once.is_empty() || once.ends_with('\n') && !once.starts_with('\n') && !once.ends_with("\n\n"));
    }
}
