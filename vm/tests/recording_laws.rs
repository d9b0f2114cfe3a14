//! Laws of recordings: the recorder finds what a comparison of every variable after every scan finds, and changes come
//! back as they were put in.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{
    Change, Changes, ElementaryType, ImageBuilder, Machine, Recorder, Resolved, ResolvedKind, Section,
    TypeDescription, TypeIndex, Value,
};
use proptest::{collection::vec, prelude::*, sample::select};
use support::{counter, load};

/// A machine with so many bytes of data, and an enumeration as its only type.
fn machine(data_bytes: usize) -> Machine {
    let mut image = counter();
    let mut builder = ImageBuilder::new();
    let values = vec![("Red".into(), 0), ("Green".into(), 1), ("Blue".into(), -1)];
    builder.kind(TypeDescription::Enumeration { name: "Colour".into(), values });
    image.debug = builder.finish().unwrap().debug;
    let least = image.data.len();
    image.data.resize(data_bytes.max(least), 0);
    Machine::new(load(image))
}

fn any_kind() -> impl Strategy<Value = ResolvedKind> {
    let elementary: Vec<ElementaryType> =
        ElementaryType::ALL.iter().copied().filter(|kind| !kind.is_string()).collect();
    prop_oneof![
        3 => Just(ResolvedKind::Elementary(ElementaryType::Bool)),
        4 => select(elementary).prop_map(ResolvedKind::Elementary),
        1 => (any::<bool>(), 0u16..120).prop_map(|(wide, capacity)| ResolvedKind::String { wide, capacity }),
        1 => Just(ResolvedKind::Enumeration(TypeIndex(0))),
        1 => Just(ResolvedKind::Reference),
        2 => (0u8..8).prop_map(ResolvedKind::Bit),
    ]
}

/// Variables anywhere: side by side, on top of one another, astride the end of the data and behind it.
fn any_variables() -> impl Strategy<Value = Vec<Resolved>> {
    let variable = (16u32..420, any_kind()).prop_map(|(address, kind)| Resolved {
        address,
        kind,
        name: format!("At{address}"),
        location: None,
        section: Section::Local,
        constant: false,
        mirror: None,
    });
    vec(variable, 0..60)
}

/// What happens to the data in front of each scan: bytes at places, few of them, mostly small.
fn any_writes() -> impl Strategy<Value = Vec<Vec<(usize, u8)>>> {
    let byte = prop_oneof![3 => 0u8..2, 1 => any::<u8>()];
    vec(vec((16usize..420, byte), 0..4), 1..60)
}

fn write(machine: &mut Machine, writes: &[(usize, u8)]) {
    for (place, byte) in writes {
        if let Some(target) = machine.data_mut().get_mut(*place) {
            *target = *byte;
        }
    }
}

/// Compares a variable after every scan with what it was.
fn naive(machine: &Machine, variable: &Resolved, scan: u32, changes: &mut Vec<Change>) {
    let value = machine.read(variable);
    if changes.last().is_none_or(|last| last.value != value) {
        changes.push(Change { scan, value });
    }
}

proptest! {
    #[test]
    fn the_recorder_finds_what_comparing_everything_finds(
        data_bytes in 0usize..440, variables in any_variables(), writes in any_writes(),
    ) {
        let mut machine = machine(data_bytes);
        let mut recorder = Recorder::new(machine.program(), variables.clone());
        let mut expected = vec![Vec::new(); variables.len()];
        for (scan, writes) in (0u32..).zip(&writes) {
            write(&mut machine, writes);
            recorder.record(&machine, i64::from(scan));
            for (variable, changes) in variables.iter().zip(&mut expected) {
                naive(&machine, variable, scan, changes);
            }
        }
        prop_assert_eq!(recorder.changes(), expected.iter().map(Vec::len).sum::<usize>() as u64);
        let trace = recorder.finish();
        prop_assert_eq!(trace.scans.len(), writes.len());
        for (signal, changes) in trace.signals.iter().zip(&expected) {
            prop_assert_eq!(&Vec::from(signal.changes.clone()), changes);
        }
    }

    /// Handed on in parts, a recording has the same changes.
    #[test]
    fn parts_of_a_recording_are_the_recording(
        variables in any_variables(), writes in any_writes(), part in 1usize..9,
    ) {
        let mut machine = machine(300);
        let mut whole = Recorder::new(machine.program(), variables.clone());
        let mut parted = whole.clone();
        let mut joined = vec![Changes::new(); variables.len()];
        let mut handed_on = 0;
        for (scan, written) in writes.iter().enumerate() {
            write(&mut machine, written);
            whole.record(&machine, 0);
            parted.record(&machine, 0);
            if parted.len() == part || scan + 1 == writes.len() {
                for (signal, joined) in parted.trace().signals.iter().zip(&mut joined) {
                    joined.extend(signal.changes.iter().map(|change| Change {
                        scan: change.scan + handed_on,
                        ..change
                    }));
                }
                handed_on += parted.len() as u32;
                parted.forget();
            }
        }
        prop_assert_eq!(whole.changes(), parted.changes());
        for (signal, joined) in whole.finish().signals.iter().zip(&joined) {
            prop_assert_eq!(&signal.changes, joined);
        }
    }

    /// Changes are read as they were written, from the front and from anywhere.
    #[test]
    fn changes_come_back(changes in any_changes()) {
        let kept: Changes = changes.iter().cloned().collect();
        prop_assert_eq!(kept.len(), changes.len());
        prop_assert_eq!(&Vec::from(kept.clone()), &changes);
        prop_assert_eq!(kept.first(), changes.first().cloned());
        prop_assert_eq!(kept.last(), changes.last().cloned());
        prop_assert_eq!(kept.get(changes.len()), None);
        for (index, change) in changes.iter().enumerate() {
            prop_assert_eq!(&kept.get(index).unwrap(), change);
            for scan in change.scan.saturating_sub(1)..=change.scan.saturating_add(1) {
                let after = changes.partition_point(|change| change.scan <= scan);
                prop_assert_eq!(kept.in_force(scan), after.checked_sub(1).map(|last| changes[last].clone()));
                prop_assert!(kept.after(scan).eq(changes[after..].iter().cloned()));
            }
        }
    }
}

fn any_value() -> impl Strategy<Value = Value> {
    let elementary: Vec<ElementaryType> =
        ElementaryType::ALL.iter().copied().filter(|kind| !kind.is_string()).collect();
    let bits = prop_oneof![0u64..3, any::<u64>(), Just(u64::MAX)];
    prop_oneof![
        8 => (select(elementary), bits).prop_map(|(kind, bits)| Value::from_bits(bits, kind).unwrap()),
        1 => vec(any::<u8>(), 0..200).prop_map(Value::String),
        1 => vec(any::<u16>(), 0..200).prop_map(Value::WideString),
        2 => (-2i32..3, select(vec![None, Some("Idle"), Some("Full")]))
            .prop_map(|(value, name)| Value::Enumeration { value, name: name.map(str::to_owned) }),
    ]
}

/// Ascending changes: long runs of one type, and now and then any other.
fn any_changes() -> impl Strategy<Value = Vec<Change>> {
    let run = any_value().prop_flat_map(|first| {
        let like = match first.elementary_type().filter(|kind| !kind.is_string()) {
            Some(kind) => any::<u64>()
                .prop_map(move |bits| Value::from_bits(bits >> (bits % 64), kind).unwrap())
                .boxed(),
            None => Just(first).boxed(),
        };
        vec((prop_oneof![9 => 0u32..3, 1 => 0u32..20_000_000], like), 1..200)
    });
    vec(run, 0..4).prop_map(|runs| {
        let mut scan = 0;
        let changes = runs.into_iter().flatten().map(|(scans, value)| {
            scan += scans;
            Change { scan, value }
        });
        changes.collect()
    })
}

/// A number that counts in every scan takes a byte for the scan and one for the number, and marks.
#[test]
fn counting_takes_little_memory() {
    let count = |scan: u32| Change { scan, value: Value::Signed(i64::from(scan), ElementaryType::Dint) };
    let changes: Changes = (0..600_000).map(count).collect();
    assert!(changes.memory_bytes() < 1_400_000, "{}", changes.memory_bytes());
    assert_eq!(changes.get(123_456), Some(count(123_456)));
}
