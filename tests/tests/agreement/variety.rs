//! The random programs have what the dispatchers must agree on: nearly every family of instructions.

use std::collections::{BTreeMap, BTreeSet};

use latchwork_tests::generate::programs::Batch;
use latchwork_vm::{Family, Opcode, decode_instruction};

use super::disagreement::image;

/// Batches that are looked at.
const BATCHES: u64 = 40;

/// Families that the programs need not have: what measures coverage, and what the tests of their own features have.
const ELSEWHERE: [Family; 8] = [
    Family::IndexWideCharacter,
    Family::CompareWideString,
    Family::CopyWideString,
    Family::NativeAt,
    Family::Now,
    Family::OffsetAddress,
    Family::LoadCountAt,
    Family::CompareCountAt,
];

#[test]
fn nearly_all_families_of_instructions_occur() {
    let mut found: BTreeMap<Family, usize> = BTreeMap::new();
    let mut pairs: BTreeMap<(Family, Family), usize> = BTreeMap::new();
    for seed in 0..BATCHES {
        let image = image(&Batch::new(seed)).unwrap();
        let mut rest = image.code.as_slice();
        let mut before = None;
        while !rest.is_empty() {
            let (instruction, used) = decode_instruction(rest).unwrap();
            rest = &rest[used..];
            let family = instruction.opcode.family();
            *found.entry(family).or_default() += 1;
            if let Some(before) = before {
                *pairs.entry((before, family)).or_default() += 1;
            }
            before = Some(family);
        }
    }
    if std::env::var_os("LATCHWORK_SHOW_VARIETY").is_some() {
        eprintln!("{found:#?} {}", pairs.len());
    }
    let missing: BTreeSet<Family> = Opcode::all()
        .map(Opcode::family)
        .filter(|family| !family.observes() && !ELSEWHERE.contains(family) && !found.contains_key(family))
        .collect();
    assert_eq!(missing, BTreeSet::new(), "families that no random program has");
}
