//! Conversions between all elementary types through whole programs, and texts read as literals beside the same
//! literals in source texts.

#![allow(clippy::expect_used, reason = "a test stops where an assumption fails")]

use latchwork_compiler::compile;
use latchwork_grammar::Sources;
use latchwork_stdlib::{conversion, natives, value_of_text};
use latchwork_vm::{ElementaryType as T, Machine, Program, Value};
use proptest::prelude::*;

/// A machine with a program, or the names of what is wrong with it.
fn machine(file: &str, text: &str) -> Result<Machine, Vec<String>> {
    let mut sources = Sources::new();
    sources.add(file, text);
    let compilation = compile(&sources);
    match compilation.image {
        Some(image) => {
            let program = Program::load(image, natives()).expect("what is compiled can be loaded");
            Ok(Machine::new(std::sync::Arc::new(program)))
        }
        None => {
            Err(compilation.diagnostics.iter().map(|one| format!("{}: {}", one.name, one.message)).collect())
        }
    }
}

fn read(machine: &Machine, name: &str) -> Value {
    let variable = machine.program().resolve(&format!("Main.{name}")).expect("the variable is there");
    machine.read(&variable)
}

/// A value of each type as a literal, as the type of a variable writes it.
fn sample(kind: T) -> &'static str {
    match kind {
        T::Bool => "TRUE",
        T::Byte => "16#41",
        T::Word => "16#0041",
        T::Dword => "16#00000041",
        T::Lword => "16#0000000000000041",
        T::Sint | T::Int | T::Dint | T::Lint => "-5",
        T::Usint | T::Uint | T::Udint | T::Ulint => "65",
        T::Real | T::Lreal => "2.5",
        T::Time => "T#1d2h3m4s5ms",
        T::Ltime => "LTIME#-1us",
        T::Date => "D#2024-02-29",
        T::Ldate => "LDATE#1969-12-31",
        T::TimeOfDay => "TOD#13:14:15.678",
        T::LtimeOfDay => "LTOD#23:59:59.999999999",
        T::DateAndTime => "DT#2024-02-29-13:14:15",
        T::LdateAndTime => "LDT#1969-12-31-23:59:59.5",
        T::Char | T::String => "'A'",
        T::Wchar | T::Wstring => "\"A\"",
    }
}

/// What stands in a text of this type as a value of another.
fn text_of(kind: T, wide: bool) -> String {
    let quote = if wide { '"' } else { '\'' };
    format!("{quote}{}{quote}", sample(kind).trim_matches(['\'', '"']))
}

/// The compiler takes a conversion by either name, in both languages, exactly if the library has it; both give the
/// same; texts are what the machine shows, and give the value back.
#[test]
fn every_pair_of_types() {
    let (mut taken, mut refused) = (0, 0);
    for from in T::ALL {
        for to in T::ALL {
            let by_both = format!("{}_TO_{}", from.name(), to.name());
            let by_target = format!("TO_{}", to.name());
            let given = match from {
                T::String => text_of(*to, false),
                T::Wstring => text_of(*to, true),
                _ => sample(*from).to_owned(),
            };
            let variables =
                format!("PROGRAM Main\nVAR x : {} := {given}; y, z : {}; END_VAR\n", from.name(), to.name());
            let call = |target: &str, name: &str| format!("{target} := {name}(x);\n");
            let instructions = |target: &str, name: &str| format!("LD x\n{name}\nST {target}\n");
            let both = |one: &dyn Fn(&str, &str) -> String| {
                format!("{variables}{}{}END_PROGRAM\n", one("y", &by_both), one("z", &by_target))
            };
            if conversion(*from, *to, false).is_none() {
                for name in [&by_both, &by_target] {
                    for (file, body) in [("main.st", call("y", name)), ("main.il", instructions("y", name))] {
                        let text = format!("{variables}{body}END_PROGRAM\n");
                        let wrong = machine(file, &text).expect_err(&format!("{name} of {}", from.name()));
                        assert!(
                            wrong.iter().any(|one| one.starts_with("undeclared-function")
                                || one.starts_with("operand-types")),
                            "{wrong:?}"
                        );
                    }
                }
                refused += 1;
                continue;
            }
            for (file, text) in [("main.st", both(&call)), ("main.il", both(&instructions))] {
                let mut machine = machine(file, &text).unwrap_or_else(|wrong| panic!("{text}{wrong:?}"));
                machine.scan(0).expect("a conversion does not stop the run");
                let (given, one, other) = (read(&machine, "x"), read(&machine, "y"), read(&machine, "z"));
                assert_eq!(one, other, "{text}");
                assert_eq!(one.elementary_type(), Some(*to));
                if to.is_string() {
                    let shown = given.to_string();
                    let text = one.to_string();
                    assert_eq!(text.trim_matches(['\'', '"']), shown.trim_matches(['\'', '"']), "{by_both}");
                } else if from.is_string() {
                    assert_eq!(one.to_string(), sample(*to), "{by_both}");
                }
            }
            taken += 1;
        }
    }
    assert_eq!(taken + refused, T::ALL.len() * T::ALL.len());
    assert!(taken > 300 && refused > 200, "{taken} {refused}");
}

/// What looks like a literal of a type, and often is one. Signs and type names stand where a literal may have them:
/// elsewhere they make expressions of a source text.
fn any_literal(kind: T) -> BoxedStrategy<String> {
    let own = |pattern: &'static str| {
        let names = match kind {
            T::Time => vec!["T", "TIME", "t"],
            T::Ltime => vec!["LT", "LTIME"],
            T::Date => vec!["D", "DATE"],
            T::Ldate => vec!["LD", "LDATE"],
            T::TimeOfDay => vec!["TOD", "TIME_OF_DAY"],
            T::LtimeOfDay => vec!["LTOD", "LTIME_OF_DAY"],
            T::DateAndTime => vec!["DT", "DATE_AND_TIME"],
            T::LdateAndTime => vec!["LDT", "LDATE_AND_TIME"],
            _ => vec![kind.name()],
        };
        (prop::sample::select(names), pattern).prop_map(|(name, text)| format!("{name}#{text}")).boxed()
    };
    let untyped = |pattern: &'static str| pattern.prop_map(|text: String| text).boxed();
    match kind {
        T::Bool => prop_oneof![
            untyped("[01]|2#[0-2_]{1,3}|TRUE|false|[0-9]{1,2}"),
            own("[+-]?[012]|true|FALSE|16#[01]|YES"),
        ]
        .boxed(),
        T::Time | T::Ltime => prop_oneof![
            own("[+-]?[0-9]{1,3}d_?[0-9]{1,2}h_?[0-9]{1,2}m_?[0-9]{1,2}s_?[0-9]{1,4}ms_?[0-9]{1,3}us[0-9]{1,3}ns"),
            own("[+-]?[0-9_]{1,6}(d|h|m|s|ms|us|ns)_?[0-9]{1,3}(h|m|s|ms|us|ns)"),
            own("[+-]?[0-9]{1,4}\\.[0-9_]{1,25}(D|h|M|s|ms|Us|ns)"),
            own("[0-9]{1,22}(d|h|ns|x|)"),
            untyped("[0-9]{1,3}(s|ms)"),
        ]
        .boxed(),
        T::Date | T::Ldate => prop_oneof![
            own("(19|20)[0-9]{2}-[01]?[0-9]-[0-3]?[0-9]"),
            own("[0-9_]{3,5}-[0-9]{0,3}-[0-9]{1,3}(-[0-9]{1,2})?"),
            own("(1677-09-2[0-9]|2262-04-1[0-9])"),
        ]
        .boxed(),
        T::TimeOfDay | T::LtimeOfDay => prop_oneof![
            own("[0-2]?[0-9]:[0-6]?[0-9]:[0-6]?[0-9](\\.[0-9_]{1,14})?"),
            own("[0-9]{1,3}(:[0-9]{0,3}){1,3}"),
        ]
        .boxed(),
        T::DateAndTime | T::LdateAndTime => prop_oneof![
            own("(19|20)[0-9]{2}-[01]?[0-9]-[0-3]?[0-9]-[0-2]?[0-9]:[0-5]?[0-9]:[0-5]?[0-9](\\.[0-9_]{1,12})?"),
            own("(1677-09-21-00:12:4[0-9]|2262-04-11-23:47:1[0-9])(\\.[0-9]{1,9})?"),
            own("[0-9]{4}-[0-9]{2}-[0-9]{2}"),
        ]
        .boxed(),
        T::Real | T::Lreal => prop_oneof![
            untyped("[+-]?[0-9]{1,20}\\.[0-9]{1,20}([eE][+-]?[0-9]{1,3})?"),
            untyped("[+-]?[0-9_]{1,6}\\.[0-9_]{1,6}([eE][+-]?[0-9_]{1,3})?"),
            untyped("[+-]?[0-9]{1,22}|16#[0-9A-F]{1,16}|[0-9]\\.|\\.[0-9]|[0-9]E[0-9]"),
            own("[+-]?[0-9]{1,4}(\\.[0-9]{1,12}(E[+-]?[0-9]{1,3})?)?"),
            own("[+-]?16#[0-9]"),
        ]
        .boxed(),
        // Before a bit string without its type, a sign makes an expression of integers.
        T::Byte | T::Word | T::Dword | T::Lword => prop_oneof![
            untyped("[0-9]{1,21}|[0-9_]{1,8}|(2#[01_2]{1,17}|8#[0-8_]{1,12}|16#[0-9a-fA-F_G]{1,17}|10#[0-9])"),
            own("[+-]?[0-9_]{1,12}"),
            own("[+-]?(2#[01]{1,17}|8#[0-8]{1,12}|16#[0-9a-fA-F_]{1,17})"),
            untyped("[0-9]{1,3}\\.[0-9]"),
        ]
        .boxed(),
        _ => prop_oneof![
            untyped("[+-]?[0-9]{1,21}"),
            untyped("[+-]?[0-9_]{1,8}"),
            untyped("[+-]?(2#[01_2]{1,17}|8#[0-8_]{1,12}|16#[0-9a-fA-F_G]{1,17}|10#[0-9])"),
            own("[+-]?[0-9_]{1,12}"),
            own("[+-]?(2#[01]{1,17}|8#[0-8]{1,12}|16#[0-9a-fA-F_]{1,17})"),
            untyped("[0-9]{1,3}\\.[0-9]"),
        ]
        .boxed(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: ProptestConfig::default().cases.min(2000), ..ProptestConfig::default() })]

    /// A literal in a source text and the same text read by a conversion: taken or refused alike, and the same value.
    #[test]
    fn texts_are_read_as_literals(
        (kind, text) in prop::sample::select(T::ALL.iter().copied().filter(|kind| !kind.is_chars()).collect::<Vec<_>>())
            .prop_flat_map(|kind| (Just(kind), any_literal(kind)))
    ) {
        let source = format!("PROGRAM Main\nVAR x : {} := {text}; END_VAR\nEND_PROGRAM\n", kind.name());
        let written = machine("main.st", &source).map(|machine| read(&machine, "x"));
        let bits = value_of_text(format!(" {text}\t").encode_utf16(), kind);
        let read = bits.and_then(|bits| Value::from_bits(bits, kind));
        prop_assert_eq!(written.as_ref().ok(), read.as_ref(), "{} {}: {:?}", kind.name(), text, written);
    }
}
