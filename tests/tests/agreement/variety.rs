//! The random programs have what the dispatchers must agree on: nearly every family of instructions.

use std::collections::BTreeSet;

use latchwork_tests::generate::programs::Batch;
use latchwork_vm::{Family, Opcode, decode_instruction};

use super::disagreement::image;

/// Batches that are looked at.
const BATCHES: u64 = 40;

/// Families that the programs need not have: what measures coverage, and what the tests of their own features have.
const ELSEWHERE: [Family; 7] = [
    Family::IndexWideCharacter,
    Family::CompareWideString,
    Family::CopyWideString,
    Family::NativeAt,
    Family::Now,
    Family::LoadCountAt,
    Family::CompareCountAt,
];

#[test]
fn nearly_all_families_of_instructions_occur() {
    let mut found = BTreeSet::new();
    let mut pairs = BTreeSet::new();
    for seed in 0..BATCHES {
        let image = image(&Batch::new(seed)).unwrap();
        let mut rest = image.code.as_slice();
        let mut before = None;
        while !rest.is_empty() {
            let (instruction, used) = decode_instruction(rest).unwrap();
            rest = &rest[used..];
            let family = instruction.opcode.family();
            found.insert(family);
            if let Some(before) = before {
                pairs.insert((before, family));
            }
            before = Some(family);
        }
    }
    let missing: BTreeSet<Family> = Opcode::all()
        .map(Opcode::family)
        .filter(|family| !family.observes() && !ELSEWHERE.contains(family) && !found.contains(family))
        .collect();
    assert_eq!(missing, BTreeSet::new(), "families that no random program has");
    // What follows one another may be treated together.
    assert!(pairs.len() >= 2000, "only {} pairs of families follow one another", pairs.len());
}
