//! Byte order through whole programs: random nested types are laid out by the compiler, turned round and back by ST,
//! and what lies in between is compared with a model that knows the members by their names only.

#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, reason = "a failing test may panic")]

use std::{fmt::Write as _, sync::Arc};

use latchwork_compiler::compile;
use latchwork_grammar::Sources;
use latchwork_vm::{Machine, Program};
use proptest::prelude::*;

/// A type of a program.
#[derive(Clone, Debug)]
enum Shape {
    /// An unsigned number or bit string: its name, its bytes.
    Scalar(&'static str, usize),
    /// A WSTRING.
    Text,
    /// A STRING.
    Narrow,
    Array(usize, Box<Shape>),
    Structure(Vec<Shape>),
}

const SCALARS: &[(&str, usize)] = &[
    ("BYTE", 1),
    ("USINT", 1),
    ("UINT", 2),
    ("WORD", 2),
    ("UDINT", 4),
    ("DWORD", 4),
    ("ULINT", 8),
    ("LWORD", 8),
];

fn shape() -> impl Strategy<Value = Shape> {
    let leaf = prop_oneof![
        6 => prop::sample::select(SCALARS).prop_map(|(name, bytes)| Shape::Scalar(name, bytes)),
        1 => Just(Shape::Text),
        1 => Just(Shape::Narrow),
    ];
    leaf.prop_recursive(4, 24, 4, |inner| {
        prop_oneof![
            (1..4_usize, inner.clone()).prop_map(|(count, element)| Shape::Array(count, Box::new(element))),
            prop::collection::vec(inner, 1..5).prop_map(Shape::Structure),
        ]
    })
}

/// Names a type, declaring the structures in it.
fn declare(shape: &Shape, types: &mut String, number: &mut u32) -> String {
    match shape {
        Shape::Scalar(name, _) => (*name).to_owned(),
        Shape::Text => "WSTRING[3]".to_owned(),
        Shape::Narrow => "STRING[3]".to_owned(),
        Shape::Array(count, element) => {
            let element = declare(element, types, number);
            format!("ARRAY [1..{count}] OF {element}")
        }
        Shape::Structure(members) => {
            let members: Vec<String> = members.iter().map(|member| declare(member, types, number)).collect();
            *number += 1;
            let name = format!("Shape{number}");
            write!(types, "{name} : STRUCT").unwrap();
            for (index, member) in members.iter().enumerate() {
                write!(types, " m{index} : {member};").unwrap();
            }
            types.push_str(" END_STRUCT;\n");
            name
        }
    }
}

/// For every leaf its path, its value as written, and how it prints as it is and turned round.
fn leaves(shape: &Shape, path: &str, next: &mut impl FnMut() -> u64, found: &mut Vec<[String; 4]>) {
    match shape {
        Shape::Scalar(name, bytes) => {
            let value = next() & (u64::MAX >> (64 - 8 * bytes));
            let turned = value.swap_bytes() >> (64 - 8 * bytes);
            let shown = |value: u64| {
                if matches!(*name, "BYTE" | "WORD" | "DWORD" | "LWORD") {
                    format!("16#{value:0width$X}", width = 2 * bytes)
                } else {
                    value.to_string()
                }
            };
            found.push([path.to_owned(), format!("{name}#{value}"), shown(value), shown(turned)]);
        }
        Shape::Text => {
            // Letters from outside ASCII, so that both forms print in one way.
            let units: Vec<u16> = (0..next() % 4).map(|_| 0x0100 + (next() as u16 % 0x40) * 0x0101).collect();
            let shown = |units: &[u16]| {
                let text: String = units.iter().map(|unit| format!("${unit:04X}")).collect();
                format!("\"{text}\"")
            };
            let turned: Vec<u16> = units.iter().map(|unit| unit.swap_bytes()).collect();
            found.push([path.to_owned(), shown(&units), shown(&units), shown(&turned)]);
        }
        Shape::Narrow => {
            let text = ["''", "'a'", "'abc'"][next() as usize % 3].to_owned();
            found.push([path.to_owned(), text.clone(), text.clone(), text]);
        }
        Shape::Array(count, element) => {
            (1..=*count).for_each(|index| leaves(element, &format!("{path}[{index}]"), next, found));
        }
        Shape::Structure(members) => {
            for (index, member) in members.iter().enumerate() {
                leaves(member, &format!("{path}.m{index}"), next, found);
            }
        }
    }
}

/// A text of characters as the machine prints it, in the form of [`leaves`].
fn plain(text: &str) -> String {
    if !text.starts_with('"') {
        return text.to_owned();
    }
    let inner = text.trim_matches('"');
    let mut plain = String::from("\"");
    let mut rest = inner.chars().peekable();
    while let Some(character) = rest.next() {
        if character == '$' {
            let digits: String = std::iter::once('$').chain(rest.by_ref().take(4)).collect();
            plain.push_str(&digits);
        } else {
            let mut units = [0; 2];
            character.encode_utf16(&mut units).iter().for_each(|unit| write!(plain, "${unit:04X}").unwrap());
        }
    }
    plain.push('"');
    plain
}

proptest! {
    #[test]
    fn nested_types_come_back(shape in shape(), seed: u64) {
        let mut state = seed | 1;
        let mut next = || {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            state
        };
        let (mut types, mut found) = (String::new(), Vec::new());
        let name = declare(&shape, &mut types, &mut 0);
        leaves(&shape, "x", &mut next, &mut found);
        let section = if types.is_empty() { String::new() } else { format!("TYPE\n{types}END_TYPE\n") };
        let mut text = format!("{section}PROGRAM Main\nVAR x, turned, back, own : {name}; END_VAR\n");
        for [path, value, ..] in &found {
            writeln!(text, "{path} := {value};").unwrap();
        }
        text.push_str("turned := TO_BIG_ENDIAN(x);\nback := FROM_BIG_ENDIAN(turned);\n");
        text.push_str("own := x; own := TO_BIG_ENDIAN(own);\n");
        text.push_str("x := FROM_LITTLE_ENDIAN(TO_LITTLE_ENDIAN(x));\nEND_PROGRAM\n");
        let mut sources = Sources::new();
        sources.add("shapes.st", &text);
        let compilation = compile(&sources);
        let Some(image) = compilation.image else {
            let said: Vec<_> = compilation.diagnostics.iter().map(|one| &one.message).collect();
            panic!("{said:?}\n{text}");
        };
        let program = Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap());
        let mut machine = Machine::new(Arc::clone(&program));
        machine.scan(0).unwrap();
        for [path, _, shown, round] in &found {
            for (variable, wanted) in [("x", shown), ("back", shown), ("turned", round), ("own", round)] {
                let path = format!("Main.{variable}{}", &path[1..]);
                let value = machine.read(&program.resolve(&path).unwrap()).to_string();
                prop_assert_eq!(&plain(&value), wanted, "{}\n{}", path, text);
            }
        }
    }
}
