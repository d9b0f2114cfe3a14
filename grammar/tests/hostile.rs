//! Input nobody wrote on purpose: whatever it is, the answer is a tree and diagnostics.

#![allow(clippy::unwrap_used, reason = "a broken expectation fails the test")]

mod support;

use latchwork_grammar::{
    FileId, Names, Parsed, TokenKind, parse, parse_constant, parse_expression, tokens,
    tree::{Body, Declaration, ExpressionKind, StatementKind, TriviaKind},
};
use proptest::prelude::*;
use support::spans::{check_diagnostics, check_span};

fn parsed(text: &str) -> Parsed {
    parse(FileId(0), text, &mut Names::new())
}

fn names_of(parsed: &Parsed) -> Vec<&'static str> {
    parsed.diagnostics.iter().map(|d| d.name).collect()
}

fn check(text: &str) {
    let parsed = parsed(text);
    check_diagnostics(text, &parsed.diagnostics);
    for declaration in &parsed.tree.declarations {
        match declaration {
            Declaration::Types(section) => check_span(text, section.span),
            Declaration::Globals(section) => check_span(text, section.span),
            Declaration::Unit(unit) => check_span(text, unit.span),
            Declaration::Interface(interface) => check_span(text, interface.span),
            Declaration::Namespace(namespace) => check_span(text, namespace.span),
            Declaration::Using(using) => check_span(text, using.span),
            Declaration::Configuration(configuration) => check_span(text, configuration.span),
        }
    }
    assert!(parsed.diagnostics.is_sorted_by_key(|problem| problem.primary.span.start));
}

/// Words and signs from which something like a program arises now and then.
fn pieces() -> impl Strategy<Value = String> {
    let words: Vec<&'static str> = "PROGRAM END_PROGRAM FUNCTION END_FUNCTION FUNCTION_BLOCK END_FUNCTION_BLOCK TYPE END_TYPE STRUCT \
        END_STRUCT VAR VAR_INPUT VAR_GLOBAL VAR_ACCESS END_VAR IF THEN ELSIF ELSE END_IF CASE OF END_CASE FOR TO BY \
        DO END_FOR WHILE END_WHILE REPEAT UNTIL END_REPEAT EXIT RETURN AND OR NOT MOD TRUE INT BOOL STRING ARRAY AT \
        REF_TO METHOD END_METHOD CLASS END_CLASS INITIAL_STEP TRANSITION END_TRANSITION ACTION END_ACTION FROM PRIORITY INTERFACE END_INTERFACE EXTENDS IMPLEMENTS USING ABSTRACT FINAL OVERRIDE \
        PUBLIC PRIVATE THIS SUPER STEP END_STEP CONFIGURATION END_CONFIGURATION NAMESPACE END_NAMESPACE INTERNAL RESOURCE END_RESOURCE TASK WITH ON VAR_CONFIG READ_WRITE a b x LD ST AND( OR( \
        CAL JMP ADD S ST? a( : := = ; ; ; , . .. ( ) [ ] + - * / ** < <> => ?= ^ & # % ' \" $ (* *) // /* */ { } 1 2.5 \
        16#FF T#1s 'abc' %IX0.0 %X3 INT#5 Colour# ELSEIF END ENDIF ü €"
        .split_whitespace()
        .collect();
    let word = proptest::sample::select(words);
    let gap = prop_oneof![3 => Just(" "), 2 => Just("\n"), 1 => Just(""), 1 => Just("\n  ")];
    proptest::collection::vec((word, gap), 0..80)
        .prop_map(|list| list.into_iter().map(|(word, gap)| format!("{word}{gap}")).collect())
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
        let _ = parse_constant(&text, &mut Names::new());
        let _ = parse_expression(FileId(0), &text, &mut Names::new());
    }

    #[test]
    fn any_tokens_are_answered(text in pieces()) {
        check(&text);
        check(&format!("PROGRAM p\n{text}\nEND_PROGRAM"));
        check(&format!("PROGRAM p\nLD a\n{text}\nEND_PROGRAM"));
        check(&format!("PROGRAM p VAR\n{text}\nEND_VAR END_PROGRAM"));
        check(&format!("CLASS c\n{text}\nEND_CLASS"));
        check(&format!("FUNCTION_BLOCK f\nMETHOD m\n{text}\nEND_METHOD\n{text}\nEND_FUNCTION_BLOCK"));
        check(&format!("PROGRAM p\nSTEP s:\n{text}\nEND_STEP\n{text}\nACTION a:\n{text}\nEND_ACTION\nEND_PROGRAM"));
        check(&format!("CONFIGURATION c\n{text}\nRESOURCE r ON d\n{text}\nEND_RESOURCE\n{text}\nEND_CONFIGURATION"));
        check(&format!("NAMESPACE n\n{text}\nEND_NAMESPACE\n{text}"));
    }

    #[test]
    fn tokens_and_gaps_rebuild_the_text(text in pieces()) {
        let lexed = tokens(FileId(0), &text, &mut Names::new());
        let mut places: Vec<(u32, u32)> = lexed.tokens.iter().map(|token| (token.start, token.end)).collect();
        places.extend(lexed.trivia.iter().map(|trivia| (trivia.span.start, trivia.span.end)));
        // What is in neither was reported, and an unclosed comment is the rest of the file.
        places.extend(lexed.diagnostics.iter().filter(|d| {
            matches!(d.name, "unexpected-character" | "unmatched-comment-end")
        }).map(|d| (d.primary.span.start, d.primary.span.end)));
        if let Some(open) = lexed.diagnostics.iter().find(|d| matches!(d.name, "unclosed-comment" | "unclosed-pragma")) {
            places.push((open.primary.span.start, text.len() as u32));
        }
        places.sort_unstable();
        let mut at = 0;
        for (start, end) in places {
            prop_assert!(start >= at || end <= at, "{start} before {at} in {text:?}");
            if start >= at {
                let gap = &text[at as usize..start as usize];
                prop_assert!(gap.chars().all(char::is_whitespace), "{gap:?} is lost in {text:?}");
            }
            at = at.max(end);
        }
        prop_assert!(text[at as usize..].chars().all(char::is_whitespace));
        prop_assert!(lexed.tokens.windows(2).all(|pair| pair[0].end <= pair[1].start));
    }

    #[test]
    fn printed_expressions_are_read_back(text in expression(6)) {
        let read = |text: &str| {
            let mut names = Names::new();
            let expression = parse_expression(FileId(0), text, &mut names).unwrap_or_else(|e| panic!("{text}: {e:#?}"));
            (support::Printer { names: &names }.expression(&expression), print(&expression, &names))
        };
        let (tree, printed) = read(&text);
        let (tree_again, printed_again) = read(&printed);
        prop_assert_eq!(tree, tree_again, "{} became {}", text, printed);
        prop_assert_eq!(printed, printed_again);
    }
}

/// Texts of expressions.
fn expression(depth: u32) -> impl Strategy<Value = String> {
    let leaf = prop_oneof![
        Just("a".to_owned()),
        Just("b.c".to_owned()),
        Just("d[1, 2]".to_owned()),
        Just("r^".to_owned()),
        Just("w.%X3".to_owned()),
        Just("%IX0.1".to_owned()),
        (0u64..1000).prop_map(|n| n.to_string()),
        Just("TRUE".to_owned()),
        Just("NULL".to_owned()),
    ];
    leaf.prop_recursive(depth, 60, 3, |inner| {
        let operators = "OR XOR AND & = <> < <= > >= + - * / MOD **";
        let operator = proptest::sample::select(operators.split(' ').collect::<Vec<_>>());
        prop_oneof![
            (inner.clone(), operator, inner.clone()).prop_map(|(l, o, r)| format!("{l} {o} {r}")),
            inner.clone().prop_map(|e| format!("({e})")),
            inner.clone().prop_map(|e| format!("NOT ({e})")),
            inner.clone().prop_map(|e| format!("-({e})")),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("f({a}, {b})")),
            inner.clone().prop_map(|e| format!("g(x := {e}, NOT q => b)")),
        ]
    })
}

/// Text of an expression, with the parentheses it was written with.
fn print(expression: &latchwork_grammar::tree::Expression, names: &Names) -> String {
    use latchwork_grammar::{Literal, tree::*};
    let text = |e: &Expression| print(e, names);
    match &expression.kind {
        ExpressionKind::Name(name) => names.spelling(*name).into(),
        ExpressionKind::Literal(Literal::Integer(value)) => value.to_string(),
        ExpressionKind::Literal(Literal::Boolean(value)) => value.to_string(),
        ExpressionKind::Null => "NULL".into(),
        ExpressionKind::Direct(_) => "%IX0.1".into(),
        ExpressionKind::Member { base, member } => format!("{}.{}", text(base), names.spelling(member.name)),
        ExpressionKind::Index { base, subscripts } => {
            let list: Vec<String> = subscripts.iter().map(text).collect();
            format!("{}[{}]", text(base), list.join(","))
        }
        ExpressionKind::Dereference(base) => format!("{}^", text(base)),
        ExpressionKind::Partial { base, index, .. } => format!("{}.{index}", text(base)),
        ExpressionKind::Unary { operator, operand, .. } => {
            let sign = match operator {
                UnaryOperator::Negate => "-",
                UnaryOperator::Plus => "+",
                UnaryOperator::Not => "NOT ",
            };
            format!("{sign}{}", text(operand))
        }
        ExpressionKind::Binary { operator, left, right, .. } => {
            let sign = match operator {
                BinaryOperator::Power => "**",
                BinaryOperator::Multiply => "*",
                BinaryOperator::Divide => "/",
                BinaryOperator::Modulo => "MOD",
                BinaryOperator::Add => "+",
                BinaryOperator::Subtract => "-",
                BinaryOperator::Less => "<",
                BinaryOperator::Greater => ">",
                BinaryOperator::LessOrEqual => "<=",
                BinaryOperator::GreaterOrEqual => ">=",
                BinaryOperator::Equal => "=",
                BinaryOperator::NotEqual => "<>",
                BinaryOperator::And => "AND",
                BinaryOperator::Xor => "XOR",
                BinaryOperator::Or => "OR",
            };
            format!("{} {sign} {}", text(left), text(right))
        }
        ExpressionKind::Parenthesized(inner) => format!("({})", text(inner)),
        ExpressionKind::Call(call) => {
            let list: Vec<String> = call
                .arguments
                .iter()
                .map(|argument| match &argument.kind {
                    ArgumentKind::Positional(value) => text(value),
                    ArgumentKind::Input { name, value } => {
                        format!("{} := {}", names.spelling(name.name), text(value))
                    }
                    ArgumentKind::Output { name, negated, target } => {
                        let not = if *negated { "NOT " } else { "" };
                        format!("{not}{} => {}", names.spelling(name.name), text(target))
                    }
                    ArgumentKind::InputInstructions { .. } => panic!("no instructions here"),
                })
                .collect();
            format!("{}({})", text(&call.callee), list.join(", "))
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn deep_nesting_is_one_error() {
    const DEEP: usize = 10_000;
    let inside = |body: String| parsed(&format!("PROGRAM p\n{body}\nEND_PROGRAM"));
    let one = |body: String| assert_eq!(names_of(&inside(body)), ["nesting-too-deep"]);
    one(format!("x := {}1{};", "(".repeat(DEEP), ")".repeat(DEEP)));
    one(format!("x := {}1;", "(".repeat(DEEP)));
    one(format!("x := {}1;", "NOT ".repeat(DEEP)));
    one(format!("x := 1{};", " + 1".repeat(DEEP)));
    one(format!("x := a{};", ".b".repeat(DEEP)));
    one(format!("x := a{};", "[1]".repeat(DEEP)));
    one(format!("x := a{};", "^".repeat(DEEP)));
    one(format!("x := {}1{};", "f(".repeat(DEEP), ")".repeat(DEEP)));
    one(format!("{}{}", "IF a THEN ".repeat(DEEP), "END_IF; ".repeat(DEEP)));
    one("IF a THEN ".repeat(DEEP));
    // Not nested by their indentation: each is a mistake of its own.
    let flat = names_of(&inside("IF a THEN\n".repeat(DEEP)));
    assert_eq!(flat.len(), latchwork_grammar::SYNTAX_ERRORS_MAX + 1);
    assert!(flat.starts_with(&["unclosed-block"; 200]));
    one(format!("{}{}", "FOR i := 1 TO 2 DO\n".repeat(DEEP), "END_FOR;\n".repeat(DEEP)));
    one(format!("{}{}", "CASE a OF 1:\n".repeat(DEEP), "END_CASE;\n".repeat(DEEP)));
    one(format!("{}{}", "REPEAT\n".repeat(DEEP), "UNTIL a END_REPEAT;\n".repeat(DEEP)));
    one(format!("LD a\n{}{}", "AND(\n".repeat(DEEP), "LD a\n)\n".repeat(DEEP)));
    assert_eq!(
        names_of(&parsed(&format!("TYPE A : {}INT; END_TYPE", "ARRAY[0..1] OF ".repeat(DEEP)))),
        ["nesting-too-deep"]
    );
    assert_eq!(
        names_of(&parsed(&format!("TYPE A : {}INT; END_TYPE", "REF_TO ".repeat(DEEP)))),
        ["nesting-too-deep"]
    );
    assert_eq!(
        names_of(&parsed(&format!("TYPE A : X := {}1{}; END_TYPE", "[".repeat(DEEP), "]".repeat(DEEP)))),
        ["nesting-too-deep"]
    );
}

#[test]
fn namespaces_that_are_too_deep_are_one_error() {
    const DEEP: usize = 10_000;
    let deep = format!("{}{}", "NAMESPACE n\n".repeat(DEEP), "END_NAMESPACE\n".repeat(DEEP));
    assert_eq!(names_of(&parsed(&deep)), ["nesting-too-deep"]);
    assert_eq!(names_of(&parsed(&"NAMESPACE n\n".repeat(DEEP))), ["nesting-too-deep"]);
    let long = format!("NAMESPACE n{} END_NAMESPACE", ".n".repeat(DEEP));
    assert_eq!(names_of(&parsed(&long)), ["nesting-too-deep"]);
    let below = format!("{}{}", "NAMESPACE n\n".repeat(250), "END_NAMESPACE\n".repeat(250));
    assert_eq!(names_of(&parsed(&below)), Vec::<&str>::new());
}

/// Each of these is an error of its own, and quick to find: searching the rest of the file for each would not be.
#[test]
fn many_parts_without_an_end_are_answered_in_linear_time() {
    const MANY: usize = 50_000;
    for (before, part) in [
        ("", "END_METHOD\n"),
        ("", "END_ACTION\n"),
        ("CLASS c\n", "END_METHOD\n"),
        ("CLASS c\n", "METHOD m\n"),
        ("PROGRAM p\nSTEP s: END_STEP\n", "ACTION a:\n"),
        ("PROGRAM p\nSTEP s: END_STEP\n", "END_STEP\n"),
        ("CONFIGURATION c\n", "RESOURCE r ON d\n"),
        ("CONFIGURATION c\n", "TASK t (\n"),
        ("", "CLASS c FUNCTION f END_FUNCTION\n"),
        ("", "USING n\n"),
    ] {
        let found = parsed(&format!("{before}{}", part.repeat(MANY)));
        assert_eq!(found.diagnostics.len(), latchwork_grammar::SYNTAX_ERRORS_MAX + 1, "{before}{part}");
    }
}

#[test]
fn nesting_below_the_limit_is_no_error() {
    let depth = 250;
    for body in [
        format!("x := {}1{};", "(".repeat(depth), ")".repeat(depth)),
        format!("{}{}", "IF a THEN ".repeat(depth), "END_IF; ".repeat(depth)),
        format!("x := 1{};", " + 1".repeat(500)),
        format!("x := f(1{});", ", a + 1".repeat(2000)),
    ] {
        assert_eq!(names_of(&parsed(&format!("PROGRAM p\n{body}\nEND_PROGRAM"))), Vec::<&str>::new());
    }
}

#[test]
fn limits_are_reported_once() {
    let big = " ".repeat(latchwork_grammar::source::SOURCE_BYTES_MAX + 1);
    let result = parsed(&big);
    assert_eq!(names_of(&result), ["file-too-large"]);
    assert!(result.tree.declarations.is_empty());
    let junk =
        names_of(&parsed(&"\u{1} a ".repeat(5000))).into_iter().filter(|n| *n == "too-many-errors").count();
    assert_eq!(junk, 1);
    assert!(parsed(&"\u{1} a ".repeat(5000)).diagnostics.len() <= 103);
    let many = parsed(&format!("PROGRAM p {} END_PROGRAM", "x := ; ".repeat(5000)));
    assert_eq!(many.diagnostics.len(), latchwork_grammar::SYNTAX_ERRORS_MAX + 1);
    let neighbours = parsed(&format!("PROGRAM p {} END_PROGRAM", "\u{1}\u{2}\u{3}".repeat(50)));
    assert_eq!(names_of(&neighbours), ["unexpected-character"]);
    let long =
        |length: usize| names_of(&parsed(&format!("PROGRAM p {} := 1; END_PROGRAM", "a".repeat(length))));
    assert_eq!(long(255), Vec::<&str>::new());
    assert_eq!(long(256), ["identifier-too-long"]);
}

#[test]
fn constants_are_read_alone() {
    let mut names = Names::new();
    let good = [
        "5",
        "-5",
        "T#1s500ms",
        "TRUE",
        "INT#-5",
        "'abc'",
        "Colour#Red",
        "plant.water.Colour#Red",
        "plant.Level#-2.5",
        "2.5",
        "16#FF",
        " +3 ",
    ];
    for text in good {
        let constant = parse_constant(text, &mut names);
        assert!(constant.is_ok(), "{text}: {constant:?}");
    }
    let bad = [
        ("", "expected-expression"),
        ("a", "expected-expression"),
        ("1 + 2", "unexpected-token"),
        ("T#5", "malformed-duration"),
        ("'abc", "unclosed-string"),
        ("5 6", "unexpected-token"),
        ("INT#40000", "literal-out-of-range"),
        ("(5)", "expected-expression"),
        ("plant.Colour", "expected-expression"),
        ("plant[1].Colour#Red", "expected-expression"),
    ];
    for (text, name) in bad {
        assert_eq!(
            parse_constant(text, &mut names).map_err(|problem| problem.name).unwrap_err(),
            name,
            "{text}"
        );
    }
}

#[test]
fn tokens_tell_what_begins_a_line() {
    let lexed = tokens(FileId(0), "a b (* \n *) c\r\n d // e\nf", &mut Names::new());
    let first: Vec<bool> = lexed.tokens.iter().map(|token| token.first_on_line).collect();
    assert_eq!(first, [true, false, false, true, true]);
    assert!(lexed.tokens.iter().all(|token| token.kind == TokenKind::Identifier));
    assert_eq!(
        lexed.trivia.iter().map(|t| t.kind).collect::<Vec<_>>(),
        [TriviaKind::BlockComment, TriviaKind::LineComment]
    );
}

#[test]
fn many_names_and_letter_cases_stay_apart_or_together() {
    let mut names = Names::new();
    let upper = names.intern("PUMP_1");
    assert_eq!(names.intern("pump_1"), upper);
    assert_eq!(names.find("Pump_1"), Some(upper));
    assert_ne!(names.intern("PUMP1"), upper);
    let long = "X".repeat(500);
    let long_name = names.intern(&long);
    assert_eq!(names.intern(&long.to_lowercase()), long_name);
    assert_eq!(names.spelling(long_name), long);
}

#[test]
fn places_of_statements_are_their_text() {
    let text = "PROGRAM p\nx := a + f(1) ; IF a THEN y := 2; END_IF ;\nEND_PROGRAM";
    let tree = parsed(text).tree;
    let Some(Declaration::Unit(unit)) = tree.declarations.first() else { panic!("no unit") };
    let Body::StructuredText(statements) = &unit.body else { panic!("no statements") };
    let texts: Vec<&str> =
        statements.iter().map(|s| &text[s.span.start as usize..s.span.end as usize]).collect();
    assert_eq!(texts, ["x := a + f(1)", "IF a THEN y := 2; END_IF"]);
    assert!(matches!(statements[1].kind, StatementKind::If { .. }));
}

#[test]
fn the_type_before_a_qualified_value_keeps_its_place_behind_a_stray_character() {
    for stray in ["", "\u{fffd}", "\u{fffd}\u{fffd}"] {
        let text = format!("PROGRAM P VAR c : Colour; END_VAR c := Colour#{stray}Red; END_PROGRAM");
        let parsed = parsed(&text);
        let Some(Declaration::Unit(unit)) = parsed.tree.declarations.first() else { panic!("no unit") };
        let Body::StructuredText(statements) = &unit.body else { panic!("no statements") };
        let Some(StatementKind::Assignment { value, .. }) = statements.first().map(|first| &first.kind)
        else {
            panic!("no assignment in {statements:?}")
        };
        let ExpressionKind::QualifiedValue { type_name, .. } = &value.kind else { panic!("{value:?}") };
        assert_eq!(text.get(type_name.span.start as usize..type_name.span.end as usize), Some("Colour"));
    }
}
