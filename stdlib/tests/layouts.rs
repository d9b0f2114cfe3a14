//! The rows of function blocks: names, texts, bodies, and where the members lie.

#![allow(clippy::expect_used, reason = "a test stops where an assumption fails")]

use std::collections::BTreeSet;

use latchwork_stdlib::{BlockOperation, block, blocks, st_body};
use latchwork_vm::{Opcode, OperandKind, Section};

#[test]
fn blocks_have_unique_names_texts_and_bodies() {
    let mut names = BTreeSet::new();
    for definition in blocks() {
        assert!(names.insert(definition.name), "{} is there twice", definition.name);
        assert!(definition.summary.len() > 10, "{}: summary", definition.name);
        assert!(definition.edge_behaviour.len() > 10, "{}: edge behaviour", definition.name);
        assert!(definition.clause.starts_with("Table "), "{}: clause", definition.name);
        let body = st_body(definition);
        assert!(body.starts_with(&format!("FUNCTION_BLOCK {}_BODY\n", definition.name)), "{body}");
        assert!(body.ends_with("END_FUNCTION_BLOCK\n"), "{body}");
        for member in definition.members.iter().filter(|member| !member.hidden) {
            let declared = format!("{} : {}", member.name, member.ty.name());
            assert!(body.contains(&declared), "{}: {declared} is not in the body", definition.name);
        }
        assert_eq!(block(&definition.name.to_lowercase()), Some(definition));
    }
    let kinds = ["", "_INT", "_DINT", "_LINT", "_UDINT", "_ULINT"];
    let counters = ["CTU", "CTD", "CTUD"].iter().flat_map(|name| kinds.map(|kind| format!("{name}{kind}")));
    let timers = ["TP", "TON", "TOF"]
        .iter()
        .flat_map(|name| ["", "_TIME", "_LTIME"].map(|kind| format!("{name}{kind}")));
    let others = ["SR", "RS", "R_TRIG", "F_TRIG"].map(str::to_owned);
    let wanted: BTreeSet<String> = counters.chain(timers).chain(others).collect();
    assert_eq!(names, wanted.iter().map(String::as_str).collect());
    assert_eq!(block("TONNE"), None);
}

#[test]
fn operations_are_instructions_that_work_on_the_whole_instance() {
    for definition in blocks() {
        let operators = definition.input_operators.iter().filter_map(|operator| operator.operation);
        for operation in operators.chain([definition.operation]) {
            let BlockOperation { at_place, at_address, scalar } = operation;
            let place = Opcode::new(at_place, scalar).expect("the instruction exists for the scalar");
            let address = Opcode::new(at_address, scalar).expect("the instruction exists for the scalar");
            let [instance] = place.operands() else { panic!("{}: one operand", definition.name) };
            assert_eq!(instance.instance_bytes(scalar), Some(definition.bytes), "{}", definition.name);
            assert_eq!(address.operands(), [OperandKind::Address], "{}", definition.name);
            let mnemonics = [at_place, at_address].map(|family| family.description().mnemonic);
            assert_eq!(mnemonics[1], format!("{}-at", mnemonics[0]), "{}", definition.name);
            // The values of a counter or timer are of the instruction's scalar.
            for member in definition.members {
                if ["PV", "CV", "PT", "ET"].contains(&member.name) {
                    assert_eq!(member.ty.scalar(), Some(scalar), "{}.{}", definition.name, member.name);
                }
            }
        }
    }
}

#[test]
fn members_lie_in_order_aligned_and_apart() {
    for definition in blocks() {
        let order = |section| match section {
            Section::Input => 0,
            Section::Output => 1,
            _ => 2,
        };
        let mut end = 0;
        let mut before = 0;
        for member in definition.members {
            let size = member.ty.size().expect("members are scalars");
            assert_eq!(member.offset % size, 0, "{}.{} is aligned", definition.name, member.name);
            assert!(member.offset >= end, "{}.{} overlaps", definition.name, member.name);
            assert!(order(member.section) >= before, "{}.{} is out of order", definition.name, member.name);
            assert_eq!(
                member.hidden,
                member.section == Section::Local,
                "{}.{}",
                definition.name,
                member.name
            );
            assert!(definition.alignment.is_multiple_of(size), "{}.{}", definition.name, member.name);
            before = order(member.section);
            end = member.offset + size;
        }
        assert!(
            end <= definition.bytes && definition.bytes < end + definition.alignment.max(1),
            "{}",
            definition.name
        );
        assert!(definition.bytes.is_multiple_of(definition.alignment), "{}", definition.name);
        for operator in definition.input_operators {
            let member = &definition.members[operator.member];
            assert_eq!(
                definition.member_index(operator.operator),
                Some(operator.member),
                "{}",
                definition.name
            );
            assert_eq!(member.section, Section::Input, "{}", definition.name);
        }
        for member in definition.members.iter().filter(|member| member.hidden) {
            assert_eq!(definition.member_index(member.name), None);
        }
    }
}

/// Where the members of each block lie. Images and recorded states depend on it: a change is a change of format.
#[test]
fn instance_layouts() {
    let mut text = String::new();
    for definition in blocks() {
        text.push_str(&format!("{} {} bytes:", definition.name, definition.bytes));
        for member in definition.members {
            text.push_str(&format!(" {}@{}", member.name, member.offset));
        }
        text.push('\n');
    }
    insta::assert_snapshot!(text);
}
