//! The machine: scans, tasks, process image, restarts, faults, events, budget, variables, recordings.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{
    AreaKind, Change, ElementaryType, EventKind, Family, FaultKind, Image, ImageBuilder, IndexRange,
    LocatedBit, Machine, Member, Operand, ProgramCall, Recorder, Region, ResolveError, ResolvedKind, Restart,
    Scalar, Section, SourcePlace, Task, TypeDescription, UnitBuilder, UnitKind, Value, Variable, WriteError,
};
use support::{COUNTER, at, both, every_scan, load, machine, one, plus, put, single, take};

/// Every scan adds 1 to the DINT at 16.
fn counting(unit: &mut UnitBuilder) {
    unit.emit(Family::Add, Scalar::I32, &[at(16), at(16), at(32)]);
}

fn counter() -> Image {
    let mut image = single(64, counting);
    image.data[32] = 1;
    image
}

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

#[test]
fn tasks_run_by_priority_when_their_interval_has_passed() {
    let mut image = ImageBuilder::new();
    image.allocate(64, 0);
    // Each program writes its number to the last place and adds it up in its own.
    let mut task = |name: &str, number: u8, interval_ns: i64, priority: u32| {
        let constant = image.allocate(1, 0);
        image.write(constant, &[number]);
        let mut unit = UnitBuilder::new(name, UnitKind::Program, 0);
        unit.emit(Family::Move, Scalar::U8, &[at(16), at(constant)]);
        unit.emit(
            Family::Add,
            Scalar::U8,
            &[at(16 + u32::from(number)), at(16 + u32::from(number)), at(constant)],
        );
        let unit = image.add_unit(unit.finish().unwrap());
        let programs = vec![ProgramCall { unit, base: 0 }];
        image.tasks.push(Task {
            interval_ns,
            priority,
            cyclic: interval_ns == 0,
            ..Task::cyclic(name, programs)
        });
    };
    task("Slow", 1, 100, 0);
    task("Fast", 2, 0, 5);
    task("Middle", 3, 30, 5);
    let mut machine = machine(image.finish().unwrap());
    let mut runs = Vec::new();
    for time in (0..=120).step_by(20) {
        let before: [u8; 5] = take(&machine, 16);
        machine.scan(time).unwrap();
        let after: [u8; 5] = take(&machine, 16);
        runs.push((after[1] != before[1], after[2] != before[2], after[3] != before[3], after[0]));
    }
    // Slow at 0, 100; Fast always; Middle at 0, 40 (30 passed), 60, 100 (90 passed), 120. The last one to run is the
    // one without a time of its own.
    assert_eq!(
        runs,
        vec![
            (true, true, true, 2),
            (false, true, false, 2),
            (false, true, true, 2),
            (false, true, true, 2),
            (false, true, false, 2),
            (true, true, true, 2),
            (false, true, true, 2),
        ]
    );
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
fn a_fault_names_place_and_values_and_stays() {
    let mut image = ImageBuilder::new();
    image.allocate(64, 0);
    let file = image.file("tank.st");
    let mut unit = UnitBuilder::new("Tank", UnitKind::Program, 0);
    unit.at(SourcePlace { file, line: 3, column: 1, end_line: 3, end_column: 9 });
    unit.emit(Family::Move, Scalar::U32, &[at(16), at(20)]);
    unit.at(SourcePlace { file, line: 4, column: 5, end_line: 4, end_column: 19 });
    let range = image.range(IndexRange { lower: 1, count: 4, stride: 4 });
    unit.emit(Family::Index, Scalar::I16, &[at(16), at(20), at(40), Operand::Range(range)]);
    let unit = image.add_unit(unit.finish().unwrap());
    image.tasks.push(every_scan(unit, 0));
    let program = load(image.finish().unwrap());
    for mut machine in both(&program) {
        put(&mut machine, 40, &4i16.to_le_bytes());
        machine.scan(0).unwrap();
        put(&mut machine, 40, &5i16.to_le_bytes());
        let fault = machine.scan(2_000_000).unwrap_err();
        assert_eq!(fault.kind, FaultKind::Subscript);
        assert_eq!(
            fault.to_string(),
            "tank.st:4:5: the array index is outside its bounds: index 5, lower bound 1, upper bound 4 (in Tank, scan 1)"
        );
        assert_eq!(fault.time_ns, 2_000_000);
        assert_eq!(machine.scan(3), Err(fault.clone()));
        assert_eq!(machine.fault(), Some(&*fault));
        machine.restart(Restart::Warm);
        assert!(machine.fault().is_none());
        machine.scan(4).unwrap_err();
    }
}

fn fault_of(image: Image, prepare: impl Fn(&mut Machine)) -> (FaultKind, Vec<String>) {
    let program = load(image);
    let [threaded, matched] = both(&program).map(|mut machine| {
        prepare(&mut machine);
        *machine.scan(0).unwrap_err()
    });
    assert_eq!(threaded, matched);
    (threaded.kind, threaded.values.iter().map(|(name, value)| format!("{name} {value}")).collect())
}

#[test]
fn kinds_of_faults() {
    let divide = one(Family::Divide, Scalar::I16, &[at(16), at(20), at(24)]);
    let (kind, values) = fault_of(divide, |machine| put(machine, 20, &[0xf9, 0xff]));
    assert_eq!((kind, values), (FaultKind::DivisionByZero, vec!["dividend -7".to_owned()]));

    let check = || one(Family::CheckRange, Scalar::U8, &[at(16), at(17), at(18)]);
    let (kind, values) = fault_of(check(), |machine| put(machine, 16, &[9, 2, 8]));
    assert_eq!(kind, FaultKind::Subrange);
    assert_eq!(values, ["value 9", "lower bound 2", "upper bound 8"]);
    assert!(machine(check()).scan(0).is_ok(), "0 lies in 0..0");

    let load = || one(Family::Load, Scalar::U32, &[at(16), at(20), Operand::Immediate(2)]);
    assert_eq!(fault_of(load(), |_| {}).0, FaultKind::NullReference);
    for address in [1u32, 15, 271, 5000, u32::MAX] {
        let (kind, _) = fault_of(load(), |machine| put(machine, 20, &address.to_le_bytes()));
        assert_eq!(kind, FaultKind::Address, "{address}");
    }
    let mut machine = machine(load());
    put(&mut machine, 20, &266u32.to_le_bytes());
    machine.scan(0).unwrap();

    for (family, operands) in [
        (Family::Store, vec![at(20), Operand::Immediate(0), at(24)]),
        (Family::CopyFrom, vec![at(24), at(20), Operand::Immediate(8)]),
        (Family::CopyTo, vec![at(20), at(24), Operand::Immediate(8)]),
        (Family::CopyBetween, vec![at(20), at(20), Operand::Immediate(8)]),
        (Family::OffsetAddress, vec![at(24), at(20), Operand::Immediate(8)]),
        (Family::CopyString, vec![at(20), at(20)]),
        (Family::CompareWideString, vec![at(24), at(20), at(20)]),
    ] {
        assert_eq!(
            fault_of(one(family, Scalar::U8, &operands), |_| {}).0,
            FaultKind::NullReference,
            "{family:?}"
        );
        if family != Family::OffsetAddress {
            let outside = |machine: &mut Machine| put(machine, 20, &272u32.to_le_bytes());
            assert_eq!(
                fault_of(one(family, Scalar::U8, &operands), outside).0,
                FaultKind::Address,
                "{family:?}"
            );
        }
    }
}

#[test]
fn indices_far_outside_do_not_wrap_into_the_range() {
    for (scalar, lower, index, fits) in [
        (Scalar::I64, 1 << 62, i64::MIN as u64, false),
        (Scalar::I64, -(1 << 62), i64::MAX as u64, false),
        (Scalar::U64, -5, u64::MAX, false),
        (Scalar::U64, -5, 0, true),
        (Scalar::U64, 0, 1 << 63, false),
        (Scalar::I8, -128, 0x80, true),
        (Scalar::U8, 0, 9, true),
        (Scalar::U8, 0, 10, false),
        (Scalar::I32, -3, (-4i32) as u32 as u64, false),
    ] {
        let mut image = ImageBuilder::new();
        image.allocate(128, 0);
        let range = image.range(IndexRange { lower, count: 10, stride: 4 });
        let mut unit = UnitBuilder::new("Main", UnitKind::Program, 0);
        unit.emit(Family::Index, scalar, &[at(16), at(32), at(24), Operand::Range(range)]);
        let unit = image.add_unit(unit.finish().unwrap());
        image.tasks.push(every_scan(unit, 0));
        for mut machine in both(&load(image.finish().unwrap())) {
            put(&mut machine, 24, &index.to_le_bytes());
            assert_eq!(machine.scan(0).is_ok(), fits, "{scalar:?} {lower} {index}");
        }
    }
}

#[test]
fn the_watchdog_counts_exactly() {
    // Two instructions a round, and the return at the end never comes.
    let forever = || {
        single(64, |unit| {
            let start = unit.label();
            unit.bind(start);
            counting(unit);
            unit.emit(Family::Jump, Scalar::U8, &[start.into()]);
        })
    };
    for (budget, rounds) in [(0u64, 1), (1, 1), (2, 2), (3, 2), (1000, 501)] {
        let mut image = forever();
        image.data[32] = 1;
        for mut machine in both(&load(image)) {
            machine.set_budget(budget);
            let fault = machine.scan(0).unwrap_err();
            assert_eq!(fault.kind, FaultKind::Watchdog);
            assert_eq!(u64::from(u32::from_le_bytes(take(&machine, 16))), rounds, "budget {budget}");
        }
    }
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
        for mut machine in both(&program) {
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
    for mut machine in both(&load(image.finish().unwrap())) {
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
    for mut machine in both(&load(image.finish().unwrap())) {
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
    for mut machine in both(&program) {
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
fn strings_are_cut_and_compared_with_padding() {
    let text = |capacity: u8, length: u8, text: &[u8]| {
        let mut bytes = vec![capacity, 0, length, 0];
        bytes.extend(text);
        bytes
    };
    let copy = load(one(Family::CopyString, Scalar::U8, &[at(16), at(20)]));
    for mut machine in both(&copy) {
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
        for mut machine in both(&compare) {
            put(&mut machine, 16, &[64, 0, 0, 0, 96, 0, 0, 0]);
            put(&mut machine, 64, &text(9, left.len() as u8, left));
            put(&mut machine, 96, &text(9, right.len() as u8, right));
            machine.scan(0).unwrap();
            assert_eq!(i8::from_le_bytes(take(&machine, 24)), order, "{left:?} {right:?}");
        }
    }
    let wide = load(one(Family::CompareWideString, Scalar::U16, &[at(24), at(16), at(20)]));
    for mut machine in both(&wide) {
        put(&mut machine, 16, &[64, 0, 0, 0, 96, 0, 0, 0]);
        put(&mut machine, 64, &[4, 0, 1, 0, 0x00, 0x01]);
        put(&mut machine, 96, &[4, 0, 1, 0, 0xff, 0x00]);
        machine.scan(0).unwrap();
        assert_eq!(take(&machine, 24), [1], "256 is above 255, whatever the order of the bytes");
    }
}

/// Globals and a program with nested variables.
fn named() -> Image {
    let mut image = counter();
    let mut builder = ImageBuilder::new();
    let bool_type = builder.kind(TypeDescription::Elementary(ElementaryType::Bool));
    let dint = builder.kind(TypeDescription::Elementary(ElementaryType::Dint));
    let text = builder.kind(TypeDescription::String { wide: false, capacity: 4 });
    let colour = builder.kind(TypeDescription::Enumeration {
        name: "Colour".into(),
        values: vec![("Red".into(), 0), ("Green".into(), 5)],
    });
    let member = |name: &str, offset, kind| Member {
        name: name.into(),
        offset,
        kind,
        section: Section::Local,
        location: None,
        constant: false,
    };
    let cell = builder.kind(TypeDescription::Structure {
        name: "Cell".into(),
        members: vec![member("Level", 0, dint), member("Full", 4, bool_type)],
    });
    let grid =
        builder.kind(TypeDescription::Array { bounds: vec![(1, 2), (0, 1)], element: cell, stride: 8 });
    let program = builder.kind(TypeDescription::Structure {
        name: "Main".into(),
        members: vec![member("Count", 0, dint), member("Shared", 4, bool_type)],
    });
    let root = |name: &str, address, kind, constant| Variable {
        name: name.into(),
        address,
        kind,
        section: Section::Global,
        location: None,
        constant,
    };
    builder.root(root("Main", 16, program, false));
    builder.root(root("Second", 24, program, false));
    builder.root(root("Grid", 80, grid, false));
    builder.root(root("Label", 120, text, false));
    builder.root(root("Light", 128, colour, false));
    builder.root(root("Step", 32, dint, true));
    image.debug = builder.finish().unwrap().debug;
    image.data.resize(140, 0);
    image.data[120] = 4;
    image
}

#[test]
fn paths_name_variables() {
    let program = load(named());
    let names: Vec<String> = program.variables().map(|variable| variable.name).collect();
    assert_eq!(names[..5], ["Main.Count", "Main.Shared", "Second.Count", "Second.Shared", "Grid[1,0].Level"]);
    assert_eq!(names.len(), 4 + 8 + 3);
    for name in &names {
        assert_eq!(&program.resolve(&name.to_lowercase()).unwrap().name, name);
    }
    let cell = program.resolve(" grid[ 2 , 1 ] . level ").unwrap();
    assert_eq!((cell.name.as_str(), cell.address), ("Grid[2,1].Level", 80 + 24));
    let error = |path: &str| program.resolve(path).unwrap_err().to_string();
    let errors = [
        "Cuont",
        "Count",
        "Main.Cuont",
        "Main",
        "Grid",
        "Grid[1]",
        "Grid[3,0].Level",
        "Grid[1,0].Levl",
        "Label.X",
        "Label[1]",
        "Main..Count",
        "Main.Count]",
        "Grid[1,0",
        "Grid[a,0]",
        "",
        "Zzz",
        "Gird[1,0].Level",
    ]
    .map(|path| format!("{path}: {}", error(path)));
    insta::assert_snapshot!(errors.join("\n"));
    assert!(matches!(program.resolve("Count"), Err(ResolveError::Ambiguous { .. })));
}

#[test]
fn values_are_checked_when_written() {
    let mut machine = machine(named());
    let program = machine.program().clone();
    let variable = |path: &str| program.resolve(path).unwrap();
    let dint = |value| Value::Signed(value, ElementaryType::Dint);
    machine.write(&variable("Main.Count"), &dint(-5)).unwrap();
    assert_eq!(machine.read(&variable("Main.Count")), dint(-5));
    assert!(matches!(machine.write(&variable("Step"), &dint(2)), Err(WriteError::Constant { .. })));
    assert!(matches!(
        machine.write(&variable("Main.Count"), &Value::Bool(true)),
        Err(WriteError::Type { .. })
    ));
    machine.write(&variable("Label"), &Value::String(b"abcd".to_vec())).unwrap();
    assert_eq!(machine.read(&variable("Label")).to_string(), "'abcd'");
    let long = machine.write(&variable("Label"), &Value::String(b"abcde".to_vec())).unwrap_err();
    assert_eq!(long.to_string(), "the text is longer than `Label`, which holds 4 characters");
    let green = Value::Enumeration { value: 5, name: Some("Green".into()) };
    machine.write(&variable("Light"), &green).unwrap();
    assert_eq!(machine.read(&variable("Light")), green);
    assert!(machine.write(&variable("Light"), &Value::Enumeration { value: 1, name: None }).is_err());
}

#[test]
fn recordings_keep_changes() {
    let mut machine = machine(named());
    let program = machine.program().clone();
    let variables =
        ["Main.Count", "Label", "Main.Shared"].map(|path| program.resolve(path).unwrap()).to_vec();
    let mut recorder = Recorder::new(&program, variables);
    for scan in 0..6i64 {
        if scan == 3 {
            machine.write(&program.resolve("Label").unwrap(), &Value::String(b"ab".to_vec())).unwrap();
        }
        if scan == 4 {
            // Beyond the end of the text: no change of the value.
            put(&mut machine, 127, b"x");
        }
        machine.scan(scan * 10).unwrap();
        recorder.record(&machine, scan * 10);
    }
    let trace = recorder.finish();
    assert_eq!(trace.scans.len(), 6);
    assert_eq!((trace.scans[2].time_ns, trace.scans[2].instructions), (20, 2));
    let count = trace.signal("main.count").unwrap();
    assert_eq!(count.changes.len(), 6);
    assert_eq!(count.value_at(4), &Value::Signed(5, ElementaryType::Dint));
    assert_eq!(count.value_at(99), &Value::Signed(6, ElementaryType::Dint));
    let label = trace.signal("Label").unwrap();
    assert_eq!(
        label.changes,
        [
            Change { scan: 0, value: Value::String(vec![]) },
            Change { scan: 3, value: Value::String(b"ab".to_vec()) }
        ]
    );
    assert_eq!(trace.signal("Main.Shared").unwrap().changes.len(), 1, "the first scan always has a change");
    assert_eq!((trace.scan_at(-1), trace.scan_at(0), trace.scan_at(25)), (None, Some(0), Some(2)));
}

#[test]
fn values_look_like_literals() {
    let signed = |value| Value::Signed(value, ElementaryType::Lint);
    let day = 86_400_000_000_000i64;
    let cases = [
        (Value::Bool(true), "TRUE"),
        (signed(-12), "-12"),
        (signed(i64::MIN), "-9223372036854775808"),
        (Value::Bits(0xff, ElementaryType::Word), "16#00FF"),
        (Value::Bits(1, ElementaryType::Byte), "16#01"),
        (Value::Real(0.1), "0.1"),
        (Value::Lreal(1.0), "1.0"),
        (Value::Lreal(1.0e21), "1.0E21"),
        (Value::Lreal(1.0e15), "1000000000000000.0"),
        (Value::Lreal(1.0e16), "1.0E16"),
        (Value::Lreal(0.00001), "0.00001"),
        (Value::Lreal(0.000001), "1.0E-6"),
        (Value::Lreal(-2.5e-7), "-2.5E-7"),
        (Value::Lreal(f64::NAN), "NAN"),
        (Value::Lreal(f64::NEG_INFINITY), "-INF"),
        (Value::Lreal(-0.0), "-0.0"),
        (Value::Duration(0, ElementaryType::Time), "T#0s"),
        (Value::Duration(3_723_004_000_000, ElementaryType::Time), "T#1h2m3s4ms"),
        (Value::Duration(-day - 5_000, ElementaryType::Ltime), "LTIME#-1d5us"),
        (Value::Duration(i64::MIN, ElementaryType::Ltime), "LTIME#-106751d23h47m16s854ms775us808ns"),
        // Day numbers from Python's datetime: (date(2024, 2, 29) - date(1970, 1, 1)).days = 19782.
        (Value::Date(19_782 * day, ElementaryType::Date), "D#2024-02-29"),
        (Value::Date(-day, ElementaryType::Ldate), "LDATE#1969-12-31"),
        (Value::Date(11_017 * day, ElementaryType::Date), "D#2000-03-01"),
        (Value::TimeOfDay(47_655_678_000_000, ElementaryType::TimeOfDay), "TOD#13:14:15.678"),
        (
            Value::DateAndTime(19_782 * day + 1_000_000_000, ElementaryType::DateAndTime),
            "DT#2024-02-29-00:00:01",
        ),
        (Value::DateAndTime(i64::MIN, ElementaryType::LdateAndTime), "LDT#1677-09-21-00:12:43.145224192"),
        (Value::Char(b'A'), "'A'"),
        (Value::String(b"a$'\"\n\r\t\x0c\x00\xe9".to_vec()), "'a$$$'\"$L$R$T$P$00$E9'"),
        (Value::WideString(vec![0x41, 0x22, 0x27, 0x20ac]), "\"A$\"'$20AC\""),
        (Value::Enumeration { value: 3, name: None }, "3"),
    ];
    for (value, text) in cases {
        assert_eq!(value.to_string(), text);
    }
}

#[test]
fn values_compare_as_in_the_language() {
    use std::cmp::Ordering::{Equal, Greater, Less};
    let int = |value| Value::Signed(value, ElementaryType::Int);
    assert_eq!(int(3).compare(&Value::Lreal(3.5)), Some(Less));
    assert_eq!(Value::Unsigned(u64::MAX, ElementaryType::Ulint).compare(&int(-1)), Some(Greater));
    assert_eq!(Value::Lreal(0.0).compare(&Value::Lreal(-0.0)), Some(Equal));
    assert_eq!(Value::Lreal(f64::NAN).compare(&Value::Lreal(f64::NAN)), None);
    assert_eq!(Value::String(b"a".to_vec()).compare(&Value::String(b"a\0".to_vec())), Some(Equal));
    assert_eq!(Value::String(b"a".to_vec()).compare(&int(1)), None);
    assert_eq!(Value::Lreal(f64::NAN), Value::Lreal(f64::NAN));
    assert_ne!(Value::Lreal(0.0), Value::Lreal(-0.0));
}
