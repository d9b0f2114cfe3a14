//! Random Boolean expressions, drawn and evaluated by the names on their contacts.

use std::fmt::Write as _;

use latchwork_bench::rungs::{Body, Element, Shape, sheet};
use latchwork_grammar::Sources;
use latchwork_vm::{Machine, Value};
use proptest::prelude::*;

use crate::{evaluate::network, journal};

const NAMES: [&str; 6] = ["A", "B", "C", "D", "E", "F"];

#[derive(Clone, Debug)]
enum Tree {
    Variable(usize),
    Constant(bool),
    /// `N >= number`
    Least(i16),
    Not(Box<Tree>),
    Row(&'static str, Vec<Tree>),
}

fn tree() -> impl Strategy<Value = Tree> {
    let leaf = prop_oneof![
        8 => (0..NAMES.len()).prop_map(Tree::Variable),
        1 => any::<bool>().prop_map(Tree::Constant),
        1 => (-2..3_i16).prop_map(Tree::Least),
    ];
    leaf.prop_recursive(5, 40, 4, |inner| {
        prop_oneof![
            1 => inner.clone().prop_map(|tree| Tree::Not(Box::new(tree))),
            3 => (prop::sample::select(vec!["AND", "OR", "XOR", "=", "<>"]), prop::collection::vec(inner, 2..4))
                .prop_map(|(operator, mut operands)| {
                    if operator == "=" || operator == "<>" {
                        operands.truncate(2);
                    }
                    Tree::Row(operator, operands)
                }),
        ]
    })
}

impl Tree {
    fn write(&self, text: &mut String) {
        match self {
            Tree::Variable(index) => text.push_str(NAMES[*index]),
            Tree::Constant(value) => text.push_str(if *value { "TRUE" } else { "FALSE" }),
            Tree::Least(number) => {
                let _ = write!(text, "(N >= {number})");
            }
            Tree::Not(inner) => {
                text.push_str("NOT (");
                inner.write(text);
                text.push(')');
            }
            Tree::Row(operator, operands) => {
                text.push('(');
                for (index, operand) in operands.iter().enumerate() {
                    if index > 0 {
                        let _ = write!(text, " {operator} ");
                    }
                    operand.write(text);
                }
                text.push(')');
            }
        }
    }

    fn value(&self, levels: &[bool], number: i16) -> bool {
        match self {
            Tree::Variable(index) => levels[*index],
            Tree::Constant(value) => *value,
            Tree::Least(least) => number >= *least,
            Tree::Not(inner) => !inner.value(levels, number),
            Tree::Row(operator, operands) => {
                let values = operands.iter().map(|operand| operand.value(levels, number));
                values
                    .reduce(|left, right| match *operator {
                        "AND" => left && right,
                        "OR" => left || right,
                        "=" => left == right,
                        _ => left != right,
                    })
                    .unwrap()
            }
        }
    }
}

/// What an element lets through, from what is written at it alone; a function is no business of this test.
fn by_name(element: &Element, levels: &[bool], number: i16) -> Option<bool> {
    match &element.shape {
        Shape::Contact { name, edge: None } => {
            let level = levels[NAMES.iter().position(|known| known == name)?];
            Some(level != element.negated)
        }
        Shape::Constant(value) => Some(*value != element.negated),
        Shape::Compare { operator, opposite: false, left, right } => {
            let right: i16 = right.text.parse().ok()?;
            assert_eq!(left.text, "N");
            // The sign on the symbol is the condition under which it conducts.
            Some(match *operator {
                ">=" => number >= right,
                "<" => number < right,
                _ => return None,
            })
        }
        _ => None,
    }
}

proptest! {
    #[test]
    fn random_expressions_are_drawn_as_they_are_meant(
        tree in tree(),
        inputs in prop::collection::vec((prop::collection::vec(any::<bool>(), NAMES.len()), -3..4_i16), 1..6),
    ) {
        let mut expression = String::new();
        tree.write(&mut expression);
        let names = NAMES.join(", ");
        let source = format!(
            "PROGRAM Main VAR_INPUT {names} : BOOL; N : INT; END_VAR VAR_OUTPUT X : BOOL; END_VAR X := {expression}; END_PROGRAM"
        );
        let mut sources = Sources::new();
        sources.add("random", source);
        let (program, logic) = journal(&sources);
        let sheet = sheet(&logic.units[0], &sources);
        prop_assert_eq!(sheet.entries.len(), 1);
        let Body::Rung(rung) = &sheet.entries[0].body else { panic!("no rung") };
        let mut machine = Machine::new(program.clone());
        for (scan, (levels, number)) in inputs.iter().enumerate() {
            for (name, level) in NAMES.iter().zip(levels) {
                machine.write(&program.resolve(name).unwrap(), &Value::Bool(*level)).unwrap();
            }
            let kind = latchwork_vm::ElementaryType::Int;
            machine.write(&program.resolve("N").unwrap(), &Value::Signed(i64::from(*number), kind)).unwrap();
            machine.scan(scan as i64 * 10_000_000).unwrap();
            let meant = tree.value(levels, *number);
            prop_assert_eq!(machine.read(&program.resolve("X").unwrap()), Value::Bool(meant));
            // An XOR of many operands is a block, whose value no name tells.
            if let Some(drawn) = network(&rung.network, &|element| by_name(element, levels, *number)) {
                prop_assert_eq!(drawn, meant, "{}", expression);
            }
        }
    }
}
