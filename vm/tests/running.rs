//! The machine: scans, process image, restarts, calls, counting, events, strings.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{
    AreaKind, ElementaryType, EventKind, Family, FaultKind, Image, ImageBuilder, LocatedBit, Operand, Region,
    ResolvedKind, Restart, Scalar, Section, SourcePlace, TypeDescription, UnitBuilder, UnitKind, Value,
    Variable,
};
use support::{COUNTER, at, counter, every, every_scan, load, machine, one, plus, put, single, take};
#[test]
fn scans_are_counted_in_the_data_image() {
    let mut machine = machine(counter());
    for scan in 0..5 {
        assert_eq!(machine.scans(), scan);
        assert_eq!(machine.scan(scan as i64 * 10).unwrap().instructions, 2);
    }
    let snapshot = machine.data().to_vec();
    machine.scan(50).unwrap();
    assert_eq!(i32::from_le_bytes(take(&machine, 16)), 6);
    machine.data_mut().copy_from_slice(&snapshot);
    assert_eq!((machine.scans(), i32::from_le_bytes(take(&machine, 16))), (5, 5));
}

/// Start %IX0.1, Lamp %QX1.7, Mark %MX0.0: the lamp follows the start, the mark its opposite; Speed %QW1 counts.
fn located() -> Image {
    let mut image = ImageBuilder::new();
    let inputs = image.allocate(2, 0);
    let outputs = image.allocate(4, 0);
    let memory = image.allocate(1, 0);
    let (start, lamp, mark) = (image.allocate(1, 0), image.allocate(1, 0), image.allocate(1, 0));
    let one = image.allocate(2, 0);
    image.write(one, &[1, 0]);
    image.layout.inputs = Region { start: inputs, size: 2 };
    image.layout.outputs = Region { start: outputs, size: 4 };
    image.layout.memory = Region { start: memory, size: 1 };
    image.bits = vec![
        LocatedBit { place: start, byte: inputs, bit: 1, area: AreaKind::Input },
        LocatedBit { place: lamp, byte: outputs + 1, bit: 7, area: AreaKind::Output },
        LocatedBit { place: mark, byte: memory, bit: 0, area: AreaKind::Memory },
    ];
    let mut unit = UnitBuilder::new("Main", UnitKind::Program, 0);
    unit.emit(Family::Move, Scalar::U8, &[at(lamp), at(start)]);
    unit.emit(Family::Not, Scalar::U8, &[at(mark), at(start)]);
    unit.emit(Family::Add, Scalar::U16, &[at(outputs + 2), at(outputs + 2), at(one)]);
    let unit = image.add_unit(unit.finish().unwrap());
    image.tasks.push(every_scan(unit, 0));
    let bool_type = image.kind(TypeDescription::Elementary(ElementaryType::Bool));
    let word = image.kind(TypeDescription::Elementary(ElementaryType::Word));
    let mut root = |name: &str, address, kind, location: &str| {
        image.root(Variable {
            name: name.into(),
            address,
            kind,
            section: Section::Global,
            location: Some(location.into()),
            constant: false,
        });
    };
    root("Start", start, bool_type, "%IX0.1");
    root("Lamp", lamp, bool_type, "%QX1.7");
    root("Mark", mark, bool_type, "%MX0.0");
    root("Main.Speed", outputs + 2, word, "%QW1");
    image.finish().unwrap()
}

#[test]
fn inputs_are_latched_before_and_outputs_published_after_a_scan() {
    let mut machine = machine(located());
    let inputs = machine.program().image().layout.inputs.start;
    let outputs = machine.program().image().layout.outputs.start;
    put(&mut machine, inputs, &[0b0000_0010, 0]);
    put(&mut machine, outputs, &[0x11, 0x22, 0, 0]);
    machine.scan(0).unwrap();
    assert_eq!(take(&machine, outputs), [0x11, 0x22 | 0x80, 1, 0], "only bit 7 and the word change");
    put(&mut machine, inputs, &[0b1111_1101, 0xff]);
    machine.scan(1).unwrap();
    assert_eq!(take(&machine, outputs), [0x11, 0x22, 2, 0]);
    assert_eq!(machine.read(&machine.program().resolve("mark").unwrap()), Value::Bool(true));
}

#[test]
fn direct_addresses_name_declared_variables_and_areas() {
    let mut machine = machine(located());
    let program = machine.program().clone();
    let start = program.resolve("%ix0.1").unwrap();
    assert_eq!((start.name.as_str(), start.location.as_deref()), ("Start", Some("%IX0.1")));
    assert_eq!(program.resolve("%I1").unwrap().name, "Start", "the bit number counts over the bytes");
    machine.write(&start, &Value::Bool(true)).unwrap();
    machine.scan(0).unwrap();
    assert_eq!(
        machine.read(&program.resolve("Lamp").unwrap()),
        Value::Bool(true),
        "the latch keeps what was written"
    );

    let free = program.resolve("%IX1.5").unwrap();
    assert_eq!(free.kind, ResolvedKind::Bit(5));
    machine.write(&free, &Value::Bool(true)).unwrap();
    assert_eq!(machine.read(&program.resolve("%IB1").unwrap()), Value::Bits(0x20, ElementaryType::Byte));
    assert_eq!(machine.read(&program.resolve("%IW0").unwrap()).to_string(), "16#2002");
    assert_eq!(program.resolve("Speed").unwrap().name, "Main.Speed");
    assert_eq!(program.resolve("main.speed").unwrap().name, "Main.Speed");
    assert_eq!(machine.read(&program.resolve("%QW1").unwrap()).to_string(), "16#0001");
    for wrong in ["%IX2.0", "%IW1", "%IX0.8", "%Z1", "%", "%IX", "%QD1", "%IX1.2.3", "%IW4294967295"] {
        assert!(program.resolve(wrong).is_err(), "{wrong}");
    }
}

#[test]
fn a_restart_keeps_terminals_and_when_warm_the_retained() {
    let mut image = located();
    let start = image.data.len() as u32;
    image.data.extend([7, 8]);
    image.layout.retained.push(Region { start, size: 1 });
    let mut machine = machine(image);
    let (inputs, outputs) =
        (machine.program().image().layout.inputs.start, machine.program().image().layout.outputs.start);
    put(&mut machine, inputs, &[2, 0]);
    machine.scan(0).unwrap();
    put(&mut machine, start, &[70, 80]);
    machine.restart(Restart::Warm);
    assert_eq!(take(&machine, start), [70, 8]);
    assert_eq!(take(&machine, outputs), [0; 4]);
    assert_eq!(take(&machine, inputs), [2, 0]);
    assert_eq!(machine.scans(), 0);
    put(&mut machine, start, &[70, 80]);
    machine.restart(Restart::Cold);
    assert_eq!(take(&machine, start), [7, 8]);
}

#[test]
fn loops_count_their_instructions() {
    // FOR i := 1 TO limit BY step: counts the rounds.
    let image = single(64, |unit| {
        let (body, exit) = (unit.label(), unit.label());
        unit.emit(Family::ForEnter, Scalar::I8, &[at(16), at(17), at(18), exit.into()]);
        unit.bind(body);
        unit.emit(Family::Add, Scalar::U16, &[at(20), at(20), at(24)]);
        unit.emit(Family::ForNext, Scalar::I8, &[at(16), at(17), at(18), body.into()]);
        unit.bind(exit);
    });
    let program = load(image);
    for (from, limit, step, rounds, last) in [
        (1i8, 10i8, 1i8, 10u16, 11i8),
        (1, 0, 1, 0, 1),
        (5, 5, 1, 1, 6),
        (10, 1, -3, 4, -2),
        (100, 127, 20, 2, 120),
        (-100, -128, -20, 2, -120),
        (1, 10, 0, 0, 1),
        (-128, 127, 127, 3, 126),
    ] {
        for mut machine in every(&program) {
            put(&mut machine, 16, &[from as u8, limit as u8, step as u8]);
            put(&mut machine, 24, &[1]);
            let counted = machine.scan(0).unwrap().instructions;
            assert_eq!(u16::from_le_bytes(take(&machine, 20)), rounds, "{from} to {limit} by {step}");
            assert_eq!(i8::from_le_bytes(take(&machine, 16)), last);
            assert_eq!(counted, 1 + 2 * u64::from(rounds) + 1);
            assert_eq!(machine.events().count(EventKind::ForStepZero), u64::from(step == 0));
        }
    }
}

#[test]
fn block_operations_count_by_their_size() {
    let mut copying = machine(single(1024, |unit| {
        unit.emit(Family::Copy, Scalar::U8, &[at(16), at(400), Operand::Immediate(640)]);
    }));
    assert_eq!(copying.scan(0).unwrap().instructions, 1 + 10 + 1);
}

#[test]
fn calls_pass_instances() {
    // Block: adds its own number to its sum. The program calls two instances directly and one by its address.
    let mut image = ImageBuilder::new();
    image.allocate(64, 0);
    let mut block = UnitBuilder::new("Sum", UnitKind::FunctionBlock, 8);
    block.emit(Family::Add, Scalar::U32, &[plus(4), plus(4), plus(0)]);
    let block = image.add_unit(block.finish().unwrap());
    let mut method = UnitBuilder::new("Twice", UnitKind::Method, 8);
    method.emit(Family::Call, Scalar::U8, &[Operand::Unit(block)]);
    method.emit(Family::Call, Scalar::U8, &[Operand::Unit(block)]);
    let method = image.add_unit(method.finish().unwrap());
    let mut main = UnitBuilder::new("Main", UnitKind::Program, 32);
    main.emit(Family::CallBlock, Scalar::U8, &[Operand::Unit(block), plus(0)]);
    main.emit(Family::CallBlock, Scalar::U8, &[Operand::Unit(method), plus(8)]);
    main.emit(Family::CallBlockAt, Scalar::U8, &[Operand::Unit(method), plus(24)]);
    let main = image.add_unit(main.finish().unwrap());
    image.tasks.push(every_scan(main, 32));
    for mut machine in every(&load(image.finish().unwrap())) {
        put(&mut machine, 32, &[1, 0, 0, 0, 0, 0, 0, 0, 10, 0, 0, 0, 0, 0, 0, 0, 100]);
        put(&mut machine, 56, &48u32.to_le_bytes());
        let counted = machine.scan(0).unwrap().instructions;
        assert_eq!(take(&machine, 32 + 4), [1, 0, 0, 0]);
        assert_eq!(take(&machine, 32 + 12), [20, 0, 0, 0]);
        assert_eq!(take(&machine, 32 + 20), [200, 0, 0, 0]);
        assert_eq!(counted, 4 + 2 + 2 * (3 + 2 * 2));
        put(&mut machine, 56, &75u32.to_le_bytes());
        assert_eq!(machine.scan(1).unwrap_err().kind, FaultKind::Address, "75 + 8 is behind the end");
    }
}

#[test]
fn native_functions_see_their_frame_and_the_time() {
    let mut image = ImageBuilder::new();
    let frame = image.allocate(32, 0);
    let native = image.native(COUNTER.name, COUNTER.frame_bytes);
    let mut unit = UnitBuilder::new("Main", UnitKind::Program, 0);
    unit.emit(Family::Native, Scalar::U8, &[Operand::Native(native), at(frame)]);
    unit.emit(Family::NativeAt, Scalar::U8, &[Operand::Native(native), at(frame + 28)]);
    let unit = image.add_unit(unit.finish().unwrap());
    image.write(frame + 28, &frame.to_le_bytes());
    image.tasks.push(every_scan(unit, 0));
    for mut machine in every(&load(image.finish().unwrap())) {
        for scan in 1..=8 {
            machine.scan(scan * 7).unwrap();
        }
        assert_eq!(u32::from_le_bytes(take(&machine, frame)), 16);
        assert_eq!(i64::from_le_bytes(take(&machine, frame + 8)), 56);
        assert_eq!(machine.events().count(EventKind::Domain), 2);
        put(&mut machine, frame + 28, &[0; 4]);
        assert_eq!(machine.scan(70).unwrap_err().kind, FaultKind::NullReference);
    }
}

#[test]
fn events_are_counted_by_kind_and_line() {
    let mut image = ImageBuilder::new();
    image.allocate(64, 0);
    let file = image.file("sum.st");
    let mut unit = UnitBuilder::new("Main", UnitKind::Program, 0);
    for line in [5, 5, 6] {
        unit.at(SourcePlace { file, line, column: 1, end_line: line, end_column: 9 });
        unit.emit(Family::Add, Scalar::I8, &[at(16), at(20), at(20)]);
        unit.emit(Family::Move, Scalar::U8, &[at(17), at(16)]);
    }
    let unit = image.add_unit(unit.finish().unwrap());
    image.tasks.push(every_scan(unit, 0));
    let program = load(image.finish().unwrap());
    for mut machine in every(&program) {
        machine.scan(0).unwrap();
        assert!(machine.events().is_empty());
        put(&mut machine, 20, &[100]);
        for scan in 1..4 {
            machine.scan(scan * 10).unwrap();
        }
        let entries: Vec<_> = machine.events().iter().collect();
        assert_eq!(entries.len(), 2);
        assert_eq!((entries[0].kind, entries[0].count, entries[0].scan), (EventKind::Overflow, 6, 1));
        assert_eq!((entries[0].time_ns, entries[1].count), (10, 3));
        let values: Vec<String> =
            entries[0].values.iter().map(|(name, value)| format!("{name} {value}")).collect();
        assert_eq!(values, ["left operand 100", "right operand 100", "result -56"]);
        assert_eq!(entries[1].place.as_ref().unwrap().to_string(), "sum.st:6:1");
        assert_eq!(machine.events().total(), 9);

        machine.set_strict(true);
        let fault = machine.scan(50).unwrap_err();
        assert_eq!(fault.kind, FaultKind::Event(EventKind::Overflow));
        assert_eq!(fault.place.unwrap().to_string(), "sum.st:5:1");
    }
}

#[test]
fn event_marks_and_times_are_read() {
    let mut image = ImageBuilder::new();
    image.allocate(64, 0);
    let mut main = UnitBuilder::new("Main", UnitKind::Program, 0);
    main.emit(Family::EventMark, Scalar::U32, &[at(16)]);
    main.emit(Family::Add, Scalar::I8, &[at(40), at(41), at(41)]);
    main.emit(Family::EventMark, Scalar::U32, &[at(20)]);
    main.emit(Family::Now, Scalar::I64, &[at(24)]);
    let main = image.add_unit(main.finish().unwrap());
    image.tasks.push(every_scan(main, 0));
    for mut machine in every(&load(image.finish().unwrap())) {
        machine.scan(-7).unwrap();
        assert_eq!(take(&machine, 16), [0; 8]);
        assert_eq!(i64::from_le_bytes(take(&machine, 24)), -7);
        put(&mut machine, 41, &[100]);
        for scan in 0..3u8 {
            machine.scan(i64::from(scan)).unwrap();
            assert_eq!(take(&machine, 16), [scan, 0, 0, 0, scan + 1, 0, 0, 0]);
            assert_eq!(i64::from_le_bytes(take(&machine, 24)), i64::from(scan));
        }
    }
}

#[test]
fn strings_are_cut_and_compared_with_padding() {
    let text = |capacity: u8, length: u8, text: &[u8]| {
        let mut bytes = vec![capacity, 0, length, 0];
        bytes.extend(text);
        bytes
    };
    let copy = load(one(Family::CopyString, Scalar::U8, &[at(16), at(20)]));
    for mut machine in every(&copy) {
        put(&mut machine, 16, &[64, 0, 0, 0, 96, 0, 0, 0]);
        put(&mut machine, 64, &text(4, 1, b"zzzz!"));
        put(&mut machine, 96, &text(9, 6, b"abcdef"));
        machine.scan(0).unwrap();
        assert_eq!(take(&machine, 64), [4, 0, 4, 0, b'a', b'b', b'c', b'd', b'!']);
        assert_eq!(machine.events().count(EventKind::StringCut), 1);
    }
    let compare = load(one(Family::CompareString, Scalar::U8, &[at(24), at(16), at(20)]));
    for (left, right, order) in [
        (&b"abc"[..], &b"abc"[..], 0i8),
        (b"abc", b"abd", -1),
        (b"b", b"abc", 1),
        (b"a", b"a\0", 0),
        (b"a", b"a ", -1),
        (b"\xff", b"a", 1),
    ] {
        for mut machine in every(&compare) {
            put(&mut machine, 16, &[64, 0, 0, 0, 96, 0, 0, 0]);
            put(&mut machine, 64, &text(9, left.len() as u8, left));
            put(&mut machine, 96, &text(9, right.len() as u8, right));
            machine.scan(0).unwrap();
            assert_eq!(i8::from_le_bytes(take(&machine, 24)), order, "{left:?} {right:?}");
        }
    }
    let wide = load(one(Family::CompareWideString, Scalar::U16, &[at(24), at(16), at(20)]));
    for mut machine in every(&wide) {
        put(&mut machine, 16, &[64, 0, 0, 0, 96, 0, 0, 0]);
        put(&mut machine, 64, &[4, 0, 1, 0, 0x00, 0x01]);
        put(&mut machine, 96, &[4, 0, 1, 0, 0xff, 0x00]);
        machine.scan(0).unwrap();
        assert_eq!(take(&machine, 24), [1], "256 is above 255, whatever the order of the bytes");
    }
}
