//! An image with something of everything.

use super::{ADDER, COUNTER, at, every_scan, plus};
use latchwork_vm::{
    AreaKind, DispatchTarget, ElementaryType, Family, Image, ImageBuilder, IndexRange, LocatedBit, Member,
    Operand, Region, Scalar, Section, SourcePlace, Task, TaskStatus, TypeDescription, UnitBuilder, UnitKind,
    Variable,
};

/// A pump control with something of everything an image can hold.
pub fn sample() -> Image {
    let mut image = ImageBuilder::new();
    let inputs = image.allocate(4, 0);
    let outputs = image.allocate(4, 0);
    let memory = image.allocate(4, 0);
    let level = image.allocate(32, 8);
    let instance = image.allocate(32, 8);
    let start = image.allocate(1, 0);
    let lamp = image.allocate(1, 0);
    let frame = image.allocate(24, 8);
    let constants = image.allocate(8, 8);
    image.write(constants, &3i32.to_le_bytes());
    image.layout.inputs = Region { start: inputs, size: 4 };
    image.layout.outputs = Region { start: outputs, size: 4 };
    image.layout.memory = Region { start: memory, size: 4 };
    image.layout.constants = Region { start: constants, size: 8 };
    image.layout.retained.push(Region { start: level, size: 32 });
    image.layout.frames = Region { start: frame, size: 24 };
    image.layout.temporaries = Region { start: frame + 16, size: 8 };
    image.bits.push(LocatedBit { place: start, byte: inputs, bit: 0, area: AreaKind::Input });
    image.bits.push(LocatedBit { place: lamp, byte: outputs + 1, bit: 7, area: AreaKind::Output });
    let adder = image.native(ADDER.name, ADDER.frame_bytes);
    let counter = image.native(COUNTER.name, COUNTER.frame_bytes);
    let range = image.range(IndexRange { lower: -2, count: 8, stride: 4 });
    let file = image.file("pump.st");

    let mut fill = UnitBuilder::new("Fill", UnitKind::FunctionBlock, 16);
    fill.at(SourcePlace { file, line: 2, column: 1, end_line: 2, end_column: 9 });
    fill.emit(Family::Add, Scalar::I32, &[plus(0), plus(0), at(constants)]);
    let fill = image.add_unit(fill.finish().unwrap());
    let main_unit = image.reserve_unit();
    // A valve with a tag, its address, and the two methods that its type or another one has.
    let valve = image.allocate(8, 8);
    let valve_address = image.allocate(4, 4);
    let (open, close) = (image.reserve_unit(), image.reserve_unit());
    let targets = [(3, open), (7, close)].map(|(tag, unit)| DispatchTarget { tag, unit });
    let table = image.dispatch_table("Valve.Move", targets.to_vec());
    image.write(valve, &[3, 0, 0, 0]);
    image.write(valve_address, &valve.to_le_bytes());
    let mut method = UnitBuilder::new("Gate.Move", UnitKind::Method, 8);
    method.emit(Family::EventMark, Scalar::U32, &[plus(4)]);
    method.emit(Family::Fits, Scalar::U8, &[at(frame), at(valve_address), Operand::Dispatch(table)]);
    image.define_unit(open, method.finish().unwrap());
    let mut method = UnitBuilder::new("Flap.Move", UnitKind::Method, 8);
    method.emit(Family::CallMethod, Scalar::U8, &[Operand::Dispatch(table), at(valve_address)]);
    image.define_unit(close, method.finish().unwrap());

    let mut main = UnitBuilder::new("Main", UnitKind::Program, 32);
    let skip = main.label();
    main.at(SourcePlace { file, line: 10, column: 1, end_line: 10, end_column: 5 });
    main.emit(Family::JumpUnless, Scalar::U8, &[at(start), skip.into()]);
    main.emit(Family::CallBlock, Scalar::U8, &[Operand::Unit(fill), plus(16)]);
    main.emit(Family::Index, Scalar::I32, &[plus(0), at(level), at(constants), Operand::Range(range)]);
    main.emit(Family::Store, Scalar::U32, &[plus(0), Operand::Immediate(0), plus(16)]);
    main.bind(skip);
    main.emit(Family::Native, Scalar::U8, &[Operand::Native(adder), at(frame)]);
    main.emit(Family::Native, Scalar::U8, &[Operand::Native(counter), at(frame)]);
    main.emit(Family::Not, Scalar::U8, &[at(lamp), at(lamp)]);
    main.emit(Family::CallMethod, Scalar::U8, &[Operand::Dispatch(table), at(valve_address)]);
    image.define_unit(main_unit, main.finish().unwrap());
    let main = main_unit;
    image.resources = vec!["Tanks".into(), "Greenhouse".into()];
    image.base_interval_ns = 5;
    image.tasks.push(every_scan(main, instance));
    let status = image.allocate(2 * TaskStatus::BYTES, 8);
    image.tasks.push(Task {
        resource: 1,
        interval_ns: 2,
        cyclic: false,
        single: Some(lamp),
        priority: 1,
        status,
        ..every_scan(main, instance)
    });
    image.tasks.push(Task {
        cyclic: false,
        interval_ns: 1,
        status: status + TaskStatus::BYTES,
        ..every_scan(main, instance)
    });

    let dint = image.kind(TypeDescription::Elementary(ElementaryType::Dint));
    let levels = image.kind(TypeDescription::Array { bounds: vec![(-2, 5)], element: dint, stride: 4 });
    let member = |name: &str, offset, kind| Member {
        name: name.into(),
        offset,
        kind,
        section: Section::Local,
        location: None,
        constant: false,
    };
    let fill = image
        .kind(TypeDescription::Structure { name: "Fill".into(), members: vec![member("Amount", 0, dint)] });
    let program = image.kind(TypeDescription::Structure {
        name: "Main".into(),
        members: vec![member("Pointer", 0, dint), member("First", 16, fill)],
    });
    let root = |name: &str, address, kind| Variable {
        name: name.into(),
        address,
        kind,
        section: Section::Global,
        location: None,
        constant: false,
    };
    image.root(root("Level", level, levels));
    image.root(root("Main", instance, program));
    image.finish().unwrap()
}
