//! Located bits: every way of running moves them as the definition says, one by one in the order of the image.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{
    AreaKind, Family, FaultKind, Image, ImageBuilder, LocatedBit, Operand, ProgramCall, Region, Scalar, Task,
    UnitBuilder, UnitKind,
};
use proptest::collection::vec;
use proptest::prelude::*;
use support::{at, every, load, put, take};

const AREA_BYTES: u32 = 4;
const AREAS: [AreaKind; 3] = [AreaKind::Input, AreaKind::Output, AreaKind::Memory];

/// Bits that follow one another in a byte of an area, with places that do too.
#[derive(Clone, Debug)]
struct Bits {
    area: usize,
    byte: u32,
    first: u8,
    count: u8,
    /// Bytes in front of the first place.
    gap: u32,
}

fn bits() -> impl Strategy<Value = Bits> {
    (0..3usize, 0..AREA_BYTES, 0..8u8, 1..9u8, 0..3u32).prop_map(|(area, byte, first, count, gap)| Bits {
        area,
        byte,
        first,
        count: count.min(8 - first),
        gap,
    })
}

/// A program that copies places of bits to others, and the bits of its image.
fn copying(runs: &[Bits], copies: &[(usize, usize)]) -> Image {
    let mut image = ImageBuilder::new();
    let areas: Vec<u32> = AREAS.iter().map(|_| image.allocate(AREA_BYTES, 0)).collect();
    let area = |index: usize| Region { start: areas[index], size: AREA_BYTES };
    (image.layout.inputs, image.layout.outputs, image.layout.memory) = (area(0), area(1), area(2));
    for run in runs {
        image.allocate(run.gap, 0);
        for bit in 0..run.count {
            let place = image.allocate(1, 0);
            let byte = areas[run.area] + run.byte;
            image.bits.push(LocatedBit { place, byte, bit: run.first + bit, area: AREAS[run.area] });
        }
    }
    let places: Vec<u32> = image.bits.iter().map(|bit| bit.place).collect();
    let mut unit = UnitBuilder::new("Main", UnitKind::Program, 0);
    for (to, from) in copies {
        let [to, from] = [to, from].map(|index| at(places[index % places.len()]));
        unit.emit(Family::Move, Scalar::U8, &[to, from]);
    }
    let unit = image.add_unit(unit.finish().unwrap());
    image.tasks.push(Task::cyclic("Main", vec![ProgramCall { unit, base: 0 }]));
    image.finish().unwrap()
}

/// What a scan of such a program does, bit by bit.
fn scanned(image: &Image, copies: &[(usize, usize)], data: &mut [u8]) {
    for bit in image.bits.iter().filter(|bit| bit.area == AreaKind::Input) {
        data[bit.place as usize] = data[bit.byte as usize] >> bit.bit & 1;
    }
    let places: Vec<usize> = image.bits.iter().map(|bit| bit.place as usize).collect();
    for (to, from) in copies {
        data[places[to % places.len()]] = data[places[from % places.len()]];
    }
    for bit in image.bits.iter().filter(|bit| bit.area != AreaKind::Input) {
        let others = data[bit.byte as usize] & !(1 << bit.bit);
        data[bit.byte as usize] = others | data[bit.place as usize] << bit.bit;
    }
}

/// Compares every way of running with [`scanned`], for some contents of the areas.
fn moved_one_by_one(image: &Image, copies: &[(usize, usize)], contents: &[[u8; 12]]) {
    for mut machine in every(&load(image.clone())) {
        let mut expected = machine.data().to_vec();
        for (scan, content) in contents.iter().enumerate() {
            put(&mut machine, 16, content);
            expected[16..28].copy_from_slice(content);
            scanned(image, copies, &mut expected);
            machine.scan(scan as i64).unwrap();
            assert_eq!(machine.data()[16..], expected[16..], "scan {scan}");
        }
    }
}

proptest! {
    #[test]
    fn bits_move_as_one_by_one(
        runs in vec(bits(), 1..12),
        copies in vec(any::<(usize, usize)>(), 0..6),
        contents in vec(any::<[u8; 12]>(), 1..4),
    ) {
        // Outputs are packed one by one, so that of two places of a bit the later one counts.
        moved_one_by_one(&copying(&runs, &copies), &copies, &contents);
    }

    #[test]
    fn places_anywhere_change_the_same_bytes_in_every_way(
        bits in vec((0..3usize, 0..AREA_BYTES, 0..8u8, 0..64u32, 1..9u8), 1..12),
        contents in vec(any::<[u8; 32]>(), 1..4),
    ) {
        // An image made by hand may have places over areas and over other places, and bytes there that are no BOOL.
        let mut image = copying(&[], &[]);
        image.data.resize(80, 0);
        for (area, byte, first, place, count) in bits {
            for bit in 0..count.min(8 - first) {
                let place = 16 + (place + u32::from(bit)) % 64;
                let byte = 16 + area as u32 * AREA_BYTES + byte;
                image.bits.push(LocatedBit { place, byte, bit: first + bit, area: AREAS[area] });
            }
        }
        let mut machines = every(&load(image));
        for (scan, content) in contents.iter().enumerate() {
            for machine in &mut machines {
                put(machine, 16 + 24 * (scan as u32 % 2), content);
                machine.scan(scan as i64).unwrap();
            }
            let [compiled, threaded, matched] = &machines;
            prop_assert_eq!(compiled.data(), matched.data());
            prop_assert_eq!(threaded.data(), matched.data());
        }
    }
}

#[test]
fn very_many_bits_move_too() {
    // More than are moved by code of the processor.
    let single = |index: u32| Bits {
        area: index as usize % 3,
        byte: index / 8 % AREA_BYTES,
        first: (index % 8) as u8,
        count: 1,
        gap: 1,
    };
    let runs: Vec<Bits> = (0..3000).map(single).collect();
    let copies = [(1, 0), (2998, 2997)];
    moved_one_by_one(&copying(&runs, &copies), &copies, &[[0x5a; 12], [0xa5; 12], [0xff; 12]]);
}

#[test]
fn a_fault_publishes_nothing() {
    let mut image = ImageBuilder::new();
    let (inputs, outputs) = (image.allocate(1, 0), image.allocate(1, 0));
    let (go, lamp, address) = (image.allocate(1, 0), image.allocate(1, 0), image.allocate(4, 0));
    image.layout.inputs = Region { start: inputs, size: 1 };
    image.layout.outputs = Region { start: outputs, size: 1 };
    image.bits.push(LocatedBit { place: go, byte: inputs, bit: 0, area: AreaKind::Input });
    image.bits.push(LocatedBit { place: lamp, byte: outputs, bit: 0, area: AreaKind::Output });
    let mut first = UnitBuilder::new("First", UnitKind::Program, 0);
    first.emit(Family::Move, Scalar::U8, &[at(lamp), at(go)]);
    // The address is NULL.
    let mut second = UnitBuilder::new("Second", UnitKind::Program, 0);
    second.emit(Family::Store, Scalar::U8, &[at(address), Operand::Immediate(0), at(go)]);
    let mut third = UnitBuilder::new("Third", UnitKind::Program, 0);
    third.emit(Family::Xor, Scalar::U8, &[at(go), at(go), at(go)]);
    let calls = [first, second, third]
        .map(|unit| ProgramCall { unit: image.add_unit(unit.finish().unwrap()), base: 0 });
    for cyclic in [true, false] {
        let task =
            Task { interval_ns: if cyclic { 0 } else { 1 }, cyclic, ..Task::cyclic("T", calls.to_vec()) };
        image.tasks = vec![task];
        for mut machine in every(&load(image.clone().finish().unwrap())) {
            put(&mut machine, inputs, &[1]);
            for _ in 0..2 {
                assert_eq!(machine.scan(0).unwrap_err().kind, FaultKind::NullReference);
                assert_eq!((take(&machine, lamp), take(&machine, outputs)), ([1], [0]));
                assert_eq!((take(&machine, go), machine.scans()), ([1], 0), "the third one did not run");
            }
        }
    }
}
