//! Images as files: round trip, damage, hostile content. Whatever the bytes are, reading and loading give an error or
//! a program that runs safely.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{
    DebugTables, ElementaryType, FORMAT_VERSION, Family, Image, ImageBuilder, ImageError, IndexRange,
    LineEntry, LoadError, Member, NativeImport, Operand, Program, Scalar, Section, Timing, TypeDescription,
    TypeIndex, UnitBuilder, UnitKind, Variable,
};
use proptest::prelude::*;
use std::sync::Arc;
use support::sample::sample;
use support::{NATIVES, both, every, every_scan, single};

#[test]
fn an_image_survives_its_file_form() {
    let image = sample();
    let bytes = image.to_bytes().unwrap();
    assert_eq!(Image::from_bytes(&bytes), Ok(image));
}

#[test]
fn a_cut_at_every_byte_is_told() {
    let bytes = sample().to_bytes().unwrap();
    for length in 0..bytes.len() {
        let error = Image::from_bytes(&bytes[..length]).unwrap_err();
        if length == 0 {
            assert_eq!(error, ImageError::NotAnImage);
        } else {
            assert!(
                matches!(error, ImageError::Truncated { found, .. } if found == length),
                "{length}: {error:?}"
            );
        }
    }
}

#[test]
fn every_single_changed_byte_is_told() {
    let bytes = sample().to_bytes().unwrap();
    let values: &[u8] = if cfg!(miri) { &[1] } else { &[1, 2, 4, 8, 16, 32, 64, 128, 0xff, 0x55] };
    for index in 0..bytes.len() {
        for change in values {
            let mut changed = bytes.clone();
            changed[index] ^= change;
            assert!(Image::from_bytes(&changed).is_err(), "byte {index} changed by {change:#x}");
        }
    }
}

#[test]
fn version_and_trailing_bytes_are_told() {
    let mut bytes = sample().to_bytes().unwrap();
    bytes.push(0);
    assert_eq!(Image::from_bytes(&bytes), Err(ImageError::TrailingBytes { count: 1 }));
    bytes[4] = 0x34;
    bytes[5] = 0x12;
    assert_eq!(Image::from_bytes(&bytes), Err(ImageError::Version { found: 0x1234 }));
    assert_ne!(FORMAT_VERSION, 0x1234);
    assert_eq!(Image::from_bytes(b"PROGRAM Main"), Err(ImageError::NotAnImage));
}

/// A body with the right checksum around it.
fn sealed(body: &[u8]) -> Vec<u8> {
    let mut bytes = b"LTWK".to_vec();
    bytes.extend(FORMAT_VERSION.to_le_bytes());
    bytes.extend((body.len() as u32).to_le_bytes());
    bytes.extend(crc32fast::hash(body).to_le_bytes());
    bytes.extend(body);
    bytes
}

#[test]
fn absurd_lengths_take_no_memory() {
    // A data image of 2^63 bytes, by its length alone.
    let huge = [0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0x7f];
    assert!(matches!(Image::from_bytes(&sealed(&huge)), Err(ImageError::Malformed { .. })));
    let mut bytes = sealed(&[]);
    bytes[6..10].copy_from_slice(&u32::MAX.to_le_bytes());
    assert!(matches!(Image::from_bytes(&bytes), Err(ImageError::TooLarge { .. })));
}

/// Loads bytes if they can be; if so, runs them with both dispatchers, which must agree.
fn load_and_run(bytes: &[u8]) -> bool {
    let Ok(image) = Image::from_bytes(bytes) else { return false };
    let listed = (0..image.units.len() as u32)
        .map(|unit| latchwork_vm::unit_listing(&image, unit).len())
        .sum::<usize>();
    let Ok(program) = Program::load(image, &NATIVES) else { return false };
    assert!(listed > 0 || program.image().units.is_empty());
    let program = Arc::new(program);
    let variables: Vec<_> = program.variables().collect();
    let [mut threaded, mut matched] = both(&program);
    for machine in [&mut threaded, &mut matched] {
        machine.set_budget(2_000);
        for variable in &variables {
            let value = machine.read(variable);
            let _ = machine.write(variable, &value);
        }
    }
    for scan in 0..6 {
        // At first without time, then with it: releases are interrupted and go on.
        if scan == 2 {
            for machine in [&mut threaded, &mut matched] {
                machine.set_timing(Timing { instruction_ns: 1, preemptive: true, cycle_ns: 0 });
            }
        }
        assert_eq!(threaded.scan(scan), matched.scan(scan));
        assert!(threaded.state() == matched.state());
        assert_eq!(threaded.events(), matched.events());
    }
    true
}

#[test]
fn the_sample_runs() {
    assert!(load_and_run(&sample().to_bytes().unwrap()));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: if cfg!(miri) { 5 } else { 6000 }, ..ProptestConfig::default() })]

    #[test]
    fn mutated_bodies_are_refused_or_run_safely(changes in prop::collection::vec((any::<u16>(), any::<u8>()), 1..5)) {
        let bytes = sample().to_bytes().unwrap();
        let mut body = bytes[14..].to_vec();
        for (index, value) in changes {
            let index = usize::from(index) % body.len();
            body[index] = value;
        }
        load_and_run(&sealed(&body));
    }

    #[test]
    fn mutated_code_is_refused_or_runs_safely(changes in prop::collection::vec((any::<u16>(), any::<u8>()), 1..4)) {
        let mut image = sample();
        for (index, value) in changes {
            let index = usize::from(index) % image.code.len();
            image.code[index] = value;
        }
        load_and_run(&image.to_bytes().unwrap());
    }

    #[test]
    fn any_bytes_are_refused(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        prop_assert!(Image::from_bytes(&bytes).is_err());
        load_and_run(&sealed(&bytes));
    }

    #[test]
    fn any_small_image_survives_its_file_form(data: Vec<u8>, code: Vec<u8>, name in ".*", lower: i64, count: u32) {
        let image = Image {
            data,
            code,
            ranges: vec![IndexRange { lower, count, stride: count }],
            natives: vec![NativeImport { name, frame_bytes: count }],
            ..Image::default()
        };
        prop_assert_eq!(Image::from_bytes(&image.to_bytes().unwrap()), Ok(image));
    }
}

fn refused(change: impl FnOnce(&mut Image)) -> String {
    let mut image = sample();
    change(&mut image);
    Program::load(image, &NATIVES).unwrap_err().to_string()
}

#[test]
fn the_verifier_says_what_is_wrong() {
    let cases: Vec<String> = vec![
        refused(|image| image.data.truncate(8)),
        refused(|image| image.data.truncate(100)),
        refused(|image| image.layout.inputs.start = 4),
        refused(|image| image.layout.outputs.size = u32::MAX),
        refused(|image| image.layout.retained[0].start = u32::MAX),
        refused(|image| image.bits[0].bit = 8),
        refused(|image| image.bits[0].byte = 4000),
        refused(|image| image.bits[1].place = 3),
        refused(|image| image.units[1].first_instruction = 1),
        refused(|image| image.units[0].instruction_count = 0),
        refused(|image| image.units[0].instruction_count = 1),
        refused(|image| image.units[0].instance_bytes = 2),
        refused(|image| image.units[0].instance_bytes = 20),
        refused(|image| image.units[1].instance_bytes = 1 << 20),
        refused(|image| image.code.push(0)),
        refused(|image| image.code.truncate(10)),
        refused(|image| image.code[0] = 250),
        refused(|image| image.code[1] = 77),
        refused(|image| image.ranges[0].count = 0),
        refused(|image| image.ranges[0].count = 50),
        refused(|image| image.ranges[0].stride = u32::MAX),
        refused(|image| image.ranges[0].lower = i64::MIN),
        refused(|image| image.natives[0].name = "missing".into()),
        refused(|image| image.natives[0].frame_bytes = 8),
        refused(|image| image.natives.truncate(1)),
        refused(|image| image.tasks[0].interval_ns = -1),
        refused(|image| image.tasks[0].programs[0].unit = 9),
        refused(|image| image.tasks[0].programs[0].base = 5000),
        refused(|image| image.tasks[0].programs[0].base = 8),
        refused(|image| image.tasks[0].resource = 2),
        refused(|image| image.tasks[0].interval_ns = 1),
        refused(|image| image.tasks[0].single = Some(16)),
        refused(|image| image.tasks[1].single = Some(15)),
        refused(|image| image.tasks[1].single = Some(4000)),
        refused(|image| image.tasks[1].status = 0),
        refused(|image| image.tasks[1].status = 8),
        refused(|image| image.tasks[1].status = 4000),
        refused(|image| image.base_interval_ns = -5),
        refused(|image| image.layout.frames.size = 4000),
        refused(|image| image.layout.temporaries.size = 4000),
        refused(|image| image.layout.temporaries.size += 1),
        refused(|image| image.layout.temporaries.start = image.layout.frames.start - 1),
        refused(|image| image.dispatch[0].targets[0].tag = 9),
        refused(|image| image.dispatch[0].targets[1].unit = 9),
        refused(|image| image.dispatch.clear()),
        refused(|image| image.resources.resize(65, String::new())),
        refused(|image| image.debug.lines[0].file = 7),
        refused(|image| image.debug.lines.reverse()),
        refused(|image| image.debug.roots[0].address = 5000),
        refused(|image| image.debug.roots[0].kind = TypeIndex(99)),
        refused(|image| {
            image.debug.types[1] =
                TypeDescription::Array { bounds: vec![(0, i64::MAX)], element: TypeIndex(0), stride: 4 }
        }),
        refused(|image| {
            image.debug.types[1] = TypeDescription::Array { bounds: vec![], element: TypeIndex(0), stride: 4 }
        }),
        refused(|image| {
            image.debug.types[1] =
                TypeDescription::Array { bounds: vec![(0, 1)], element: TypeIndex(1), stride: 4 }
        }),
        refused(|image| image.debug.types[0] = TypeDescription::Elementary(ElementaryType::String)),
    ];
    insta::assert_snapshot!(cases.join("\n"));
}

#[test]
fn recursion_is_refused() {
    let mut image = ImageBuilder::new();
    let (first, second) = (image.reserve_unit(), image.reserve_unit());
    for (own, other) in [(first, second), (second, first)] {
        let mut unit = UnitBuilder::new(format!("F{own}"), UnitKind::Function, 0);
        unit.emit(Family::Call, Scalar::U8, &[Operand::Unit(other)]);
        image.define_unit(own, unit.finish().unwrap());
    }
    let error = Program::load(image.finish().unwrap(), &[]).unwrap_err();
    assert_eq!(error, LoadError::Recursion { unit: "F0".into() });
}

#[test]
fn call_chains_are_limited() {
    let chain = |length: u32| {
        let mut image = ImageBuilder::new();
        for index in 0..length {
            let mut unit = UnitBuilder::new("F", UnitKind::Function, 0);
            if index + 1 < length {
                unit.emit(Family::Call, Scalar::U8, &[Operand::Unit(index + 1)]);
            }
            image.add_unit(unit.finish().unwrap());
        }
        image.tasks.push(every_scan(0, 0));
        Program::load(image.finish().unwrap(), &[])
    };
    // 257 units in a row have 256 open calls.
    let program = Arc::new(chain(257).unwrap());
    for mut machine in every(&program) {
        assert_eq!(machine.scan(0).unwrap().instructions, 2 * 256 + 1);
    }
    assert!(matches!(chain(258), Err(LoadError::Limit { found: 257, limit: 256, .. })));
}

#[test]
fn deep_and_wide_types_take_no_time() {
    let mut image = single(16, |_| {});
    let nested = |count: usize| -> Vec<TypeDescription> {
        let mut types = vec![TypeDescription::Structure { name: "Empty".into(), members: vec![] }];
        for index in 0..count {
            let member = |name: &str| Member {
                name: name.into(),
                offset: 0,
                kind: TypeIndex(index as u32),
                section: Section::Local,
                location: None,
                constant: false,
            };
            // Two parts on each level and not one leaf: 2^count parts in no bytes.
            types.push(TypeDescription::Structure {
                name: "Nest".into(),
                members: vec![member("A"), member("B")],
            });
        }
        types
    };
    image.debug = DebugTables { types: nested(100), lines: vec![], ..DebugTables::default() };
    image.debug.roots.push(Variable {
        name: "Deep".into(),
        address: 16,
        kind: TypeIndex(100),
        section: Section::Global,
        location: None,
        constant: false,
    });
    let program = Program::load(image.clone(), &[]).unwrap();
    assert_eq!(program.variables().count(), 0);
    assert!(latchwork_vm::unit_listing(&image, 0).len() == 1);
    image.debug.types = nested(200);
    let error = Program::load(image, &[]).unwrap_err();
    assert!(error.to_string().contains("nested too deeply"), "{error}");
}

#[test]
fn line_entries_of_another_unit_do_not_count() {
    let mut image = sample();
    image.debug.lines =
        vec![LineEntry { instruction: 0, file: 0, line: 2, column: 1, end_line: 2, end_column: 3 }];
    let program = Program::load(image, &NATIVES).unwrap();
    assert_eq!(program.place_of(1).unwrap().to_string(), "pump.st:2:1");
    assert_eq!(program.place_of(2), None);
}

#[test]
fn listing_of_the_sample() {
    let image = sample();
    let text: Vec<String> = (0..2)
        .flat_map(|unit| latchwork_vm::unit_listing(&image, unit))
        .map(|line| {
            let place = line.place.map_or(String::new(), |place| format!("   line {}", place.line));
            format!("{:3}  {}{place}", line.index, line.text)
        })
        .collect();
    insta::assert_snapshot!(text.join("\n"));
}

#[test]
fn tables_of_the_sample() {
    let image = sample();
    let mut text = String::new();
    for table in latchwork_vm::dispatch_listing(&image).iter().chain(&latchwork_vm::task_listing(&image)) {
        text.push_str(&format!("{}\n  {}\n", table.heading, table.rows.join("\n  ")));
    }
    insta::assert_snapshot!(text);
}

#[test]
fn instruction_reference() {
    insta::assert_snapshot!(latchwork_vm::instruction_reference());
}
