//! Variables by path, their values as literals, and recordings.

#![allow(clippy::unwrap_used)] // A panic is how a test fails.

mod support;

use latchwork_vm::{
    Change, ElementaryType, Image, ImageBuilder, Member, Recorder, ResolveError, Section, TypeDescription,
    Value, Variable, WriteError,
};
use support::{counter, load, machine, put};
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
    assert_eq!(count.value_at(4), Value::Signed(5, ElementaryType::Dint));
    assert_eq!(count.value_at(99), Value::Signed(6, ElementaryType::Dint));
    let label = trace.signal("Label").unwrap();
    assert_eq!(
        Vec::from(label.changes.clone()),
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
