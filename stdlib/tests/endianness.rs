//! Byte order (IEC 61131-3:2013, Table 37): scalars against `swap_bytes` of the Rust library, and what consists of
//! several against a model that lists every place by itself.

#![allow(clippy::expect_used, reason = "a test stops where an assumption fails")]

mod harness;

use harness::{call::call, value::Typed};
use latchwork_stdlib::{SWAP_PATTERN, SwapPart, SwapPattern, natives};
use latchwork_vm::{
    ElementaryType as T, Family, ImageBuilder, Operand, Place, Scalar, UnitBuilder, UnitKind,
};
use proptest::prelude::*;

/// A type with its layout written out.
#[derive(Clone, Debug)]
enum Shape {
    Scalar(u32),
    /// A WSTRING with room for so many characters, of which so many are there.
    Text(u16, u16),
    Array(u32, Box<Shape>),
    /// Members, each behind a gap.
    Structure(Vec<(u32, Shape)>),
}

impl Shape {
    fn size(&self) -> u32 {
        match self {
            Shape::Scalar(bytes) => *bytes,
            Shape::Text(capacity, _) => 4 + 2 * u32::from(*capacity),
            Shape::Array(count, element) => count * element.size(),
            Shape::Structure(members) => members.iter().map(|(gap, member)| gap + member.size()).sum(),
        }
    }

    /// Writes the heads of texts, and lists what is to be turned round: offset and bytes.
    fn places(&self, offset: u32, value: &mut [u8], found: &mut Vec<(u32, u32)>) {
        match self {
            Shape::Scalar(bytes) => found.push((offset, *bytes)),
            Shape::Text(capacity, length) => {
                let at = offset as usize;
                value[at..at + 2].copy_from_slice(&capacity.to_le_bytes());
                value[at + 2..at + 4].copy_from_slice(&length.to_le_bytes());
                found.extend((0..u32::from(*length)).map(|index| (offset + 4 + 2 * index, 2)));
            }
            Shape::Array(count, element) => {
                (0..*count).for_each(|index| element.places(offset + index * element.size(), value, found));
            }
            Shape::Structure(members) => {
                let mut at = offset;
                for (gap, member) in members {
                    member.places(at + gap, value, found);
                    at += gap + member.size();
                }
            }
        }
    }

    fn part(&self, pattern: &mut SwapPattern) -> Option<SwapPart> {
        match self {
            Shape::Scalar(bytes) => pattern.scalar(*bytes),
            Shape::Text(..) => Some(pattern.text()),
            Shape::Array(count, element) => {
                let inner = element.part(pattern)?;
                Some(pattern.repeat(inner, *count, element.size()))
            }
            Shape::Structure(members) => {
                let mut at = 0;
                let mut parts = Vec::new();
                for (gap, member) in members {
                    parts.extend(member.part(pattern).map(|part| part.at(at + gap)));
                    at += gap + member.size();
                }
                pattern.sequence(parts)
            }
        }
    }
}

fn shape() -> impl Strategy<Value = Shape> {
    let leaf = prop_oneof![
        prop::sample::select(vec![1, 1, 2, 2, 4, 8]).prop_map(Shape::Scalar),
        (1..6_u16)
            .prop_flat_map(|capacity| (Just(capacity), 0..=capacity))
            .prop_map(|(capacity, length)| Shape::Text(capacity, length)),
    ];
    leaf.prop_recursive(5, 40, 5, |inner| {
        prop_oneof![
            (1..5_u32, inner.clone()).prop_map(|(count, element)| Shape::Array(count, Box::new(element))),
            prop::collection::vec((prop_oneof![3 => Just(0), 1 => 0..4_u32], inner), 1..5)
                .prop_map(Shape::Structure),
        ]
    })
}

/// The routine on a value: what it leaves, and whether the run went on.
fn swapped(value: &[u8], pattern: &[u8]) -> (Vec<u8>, bool) {
    let native = natives().iter().find(|native| native.name == SWAP_PATTERN).expect("the routine");
    // Frame, value, guard, pattern.
    let at_pattern = 24 + value.len() as u32 + 8;
    let bytes = at_pattern + pattern.len() as u32;
    let mut builder = ImageBuilder::new();
    let mut unit = UnitBuilder::new("Call", UnitKind::Program, bytes);
    let index = builder.native(native.name, native.frame_bytes);
    unit.emit(Family::Native, Scalar::U8, &[Operand::Native(index), Place::relative(0).into()]);
    let unit = unit.finish().expect("the unit is whole");
    let (mut machine, base) = harness::machine(builder, unit, bytes);
    let start = base + 24;
    let pattern_start = base + at_pattern as usize;
    let data = machine.data_mut();
    data[base..base + 4].copy_from_slice(&(start as u32).to_le_bytes());
    data[base + 8..base + 12].copy_from_slice(&(pattern_start as u32).to_le_bytes());
    data[base + 16..base + 20].copy_from_slice(&(value.len() as u32).to_le_bytes());
    data[start..start + value.len()].copy_from_slice(value);
    data[pattern_start..pattern_start + pattern.len()].copy_from_slice(pattern);
    let before = data.to_vec();
    let went_on = machine.scan(0).is_ok();
    let after = machine.data();
    assert_eq!(before[base..start], after[base..start], "nothing in front of the value changes");
    assert_eq!(before[start + value.len()..], after[start + value.len()..], "nothing behind it does");
    (after[start..start + value.len()].to_vec(), went_on)
}

const SCALARS: [T; 17] = [
    T::Word,
    T::Dword,
    T::Lword,
    T::Int,
    T::Dint,
    T::Lint,
    T::Uint,
    T::Udint,
    T::Ulint,
    T::Real,
    T::Lreal,
    T::Time,
    T::Ldate,
    T::LtimeOfDay,
    T::DateAndTime,
    T::Wchar,
    T::Date,
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn scalars_are_turned_round(index in 0..SCALARS.len(), bits: u64) {
        let ty = SCALARS[index];
        let operand = Typed::new(ty, bits);
        let wanted = match ty.size() {
            Some(2) => u64::from((operand.bits as u16).swap_bytes()),
            Some(4) => u64::from((operand.bits as u32).swap_bytes()),
            _ => operand.bits.swap_bytes(),
        };
        for name in ["TO_BIG_ENDIAN", "FROM_BIG_ENDIAN"] {
            let (given, events) = call(name, &[operand]).expect("no fault");
            prop_assert_eq!((given.ty, given.bits), (ty, wanted));
            prop_assert!(events.is_empty());
        }
        for name in ["TO_LITTLE_ENDIAN", "FROM_LITTLE_ENDIAN"] {
            let (given, _) = call(name, &[operand]).expect("no fault");
            prop_assert_eq!(given.bits, operand.bits);
        }
    }

    #[test]
    fn single_bytes_stay(bits: u8) {
        for ty in [T::Byte, T::Sint, T::Usint, T::Char] {
            let (given, _) = call("TO_BIG_ENDIAN", &[Typed::new(ty, u64::from(bits))]).expect("no fault");
            prop_assert_eq!(given.bits, u64::from(bits));
        }
    }

    /// Every place is turned round where it is, and once more gives the value again.
    #[test]
    fn patterns_reach_every_place(shape in shape(), seed: u64) {
        let mut state = seed | 1;
        let mut value: Vec<u8> = (0..shape.size())
            .map(|_| {
                state ^= state << 13;
                state ^= state >> 7;
                state ^= state << 17;
                state as u8
            })
            .collect();
        let mut places = Vec::new();
        shape.places(0, &mut value, &mut places);
        let mut wanted = value.clone();
        for (offset, bytes) in &places {
            wanted[*offset as usize..(*offset + *bytes) as usize].reverse();
        }
        let mut pattern = SwapPattern::default();
        let Some(whole) = shape.part(&mut pattern) else {
            prop_assert_eq!(wanted, value);
            return Ok(());
        };
        let pattern = pattern.finish(whole);
        let (once, went_on) = swapped(&value, &pattern);
        prop_assert!(went_on);
        prop_assert_eq!(&once, &wanted);
        prop_assert_eq!(swapped(&once, &pattern).0, value);
    }

    /// Any pattern ends and stays inside the value, whatever stands in it.
    #[test]
    fn senseless_patterns_end(
        words in prop::collection::vec(prop_oneof![4 => 0..8_u32, 1 => any::<u32>()], 4..80),
        size in 0..64_usize,
    ) {
        let mut words = words;
        words[2] = words.len() as u32 / 4;
        let pattern: Vec<u8> = words.into_iter().flat_map(u32::to_le_bytes).collect();
        swapped(&vec![7; size], &pattern);
    }
}

/// The length of a pattern does not depend on the number of elements, and one that repeats nothing for ever ends.
#[test]
fn patterns_are_short_and_bounded() {
    let mut pattern = SwapPattern::default();
    let id = pattern.scalar(2).expect("two bytes");
    let level = pattern.scalar(4).expect("four bytes").at(4);
    let row = pattern.sequence([id, level]).expect("two parts");
    let rows = pattern.repeat(row, 1000, 8);
    let table = pattern.repeat(rows, 1000, 8000);
    assert!(pattern.finish(table).len() <= 16 * 8, "a million structures");
    // Ten repetitions inside one another, each of four thousand million passes over nothing.
    let mut words = vec![10, 0, 11, 0, 1, 0, 0, 0];
    (1..=10).for_each(|node| words.extend([3, node - 1, u32::MAX, 0]));
    let pattern: Vec<u8> = words.into_iter().flat_map(u32::to_le_bytes).collect();
    swapped(&[0; 16], &pattern);
}
