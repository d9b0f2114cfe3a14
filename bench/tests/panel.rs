//! Faults that come and go while a program runs: what terminals read and what loads do.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests may stop them")]

mod board;
mod shown;

use std::sync::Arc;

use latchwork_bench::{
    panel::Panel,
    station::Station,
    wiring::{LoadFault, WiringFault},
};
use latchwork_grammar::Sources;
use latchwork_vm::{ElementaryType, Family, Machine, Program, Scalar, Section, Value};

const STATION: &str = r#"
[[device]]
name = "B1"
contact = "normally open"
terminal = "%IX0.1"
[[device]]
name = "B2"
contact = "normally closed"
terminal = "%IX0.2"
fault = "stuck"
stuck_at = "pressed"
[[load]]
name = "H1"
terminal = "%QX0.1"
[[load]]
name = "H2"
terminal = "%QX0.2"
fault = "open wire"
"#;

fn station(text: &str) -> Station {
    let (station, diagnostics) = Station::parse(Sources::new().add("station.toml", text), text);
    station.unwrap_or_else(|| panic!("{}", shown::diagnostics(text, &diagnostics)))
}

fn read(machine: &Machine, program: &Program, name: &str) -> String {
    machine.read(&program.resolve(name).unwrap()).to_string()
}

/// Common practice, no source.
#[test]
fn faults_of_devices_come_and_go_at_once() {
    let station = station(STATION);
    let program = board::four_inputs();
    let mut machine = Machine::new(Arc::clone(&program));
    let mut panel = Panel::new(&program, Some(&station));
    panel.drive(&mut machine);
    let mut now = 0;
    let mut level = |machine: &mut Machine, name: &str| {
        machine.scan(now).unwrap();
        now += 1;
        read(machine, &program, name) == "TRUE"
    };
    panel.act(0, &Value::Bool(true), &mut machine);
    assert!(level(&mut machine, "In1"));
    panel.place_device(0, Some(WiringFault::OpenWire), None, &mut machine);
    assert_eq!(panel.devices()[0].fault(), Some(WiringFault::OpenWire));
    assert!(!level(&mut machine, "In1"));
    // Released while the wire is off, then stuck where it is: it stays released.
    panel.act(0, &Value::Bool(false), &mut machine);
    panel.place_device(0, Some(WiringFault::Shorted), None, &mut machine);
    assert!(level(&mut machine, "In1"));
    panel.place_device(0, Some(WiringFault::Stuck), None, &mut machine);
    assert!(!level(&mut machine, "In1"));
    panel.act(0, &Value::Bool(true), &mut machine);
    assert!(!level(&mut machine, "In1"), "stuck");
    // Stuck once more, it stays where it is, not where the hand is.
    panel.place_device(0, Some(WiringFault::Stuck), None, &mut machine);
    assert!(!level(&mut machine, "In1"));
    panel.place_device(0, Some(WiringFault::Stuck), Some(Value::Bool(true)), &mut machine);
    assert!(level(&mut machine, "In1"));
    panel.act(0, &Value::Bool(false), &mut machine);
    assert!(level(&mut machine, "In1"));
    // What was done in the meantime shows when the fault is gone.
    panel.place_device(0, None, None, &mut machine);
    assert!(!level(&mut machine, "In1"));

    // The fault of the station file: a normally closed contact stuck open.
    assert!(!level(&mut machine, "In2"));
    panel.place_device(1, None, None, &mut machine);
    assert!(level(&mut machine, "In2"));
    panel.place_device(1, Some(WiringFault::Stuck), Some(Value::Bool(false)), &mut machine);
    panel.place_device(0, Some(WiringFault::Shorted), None, &mut machine);
    panel.clear_all(&mut machine);
    assert!(!level(&mut machine, "In1"));
    assert!(!level(&mut machine, "In2"), "back to what the station file says");
    // Nobody is there.
    panel.place_device(9, Some(WiringFault::Shorted), None, &mut machine);
}

#[test]
fn faults_of_loads_come_and_go_at_once() {
    let station = station(STATION);
    let program = board::four_inputs();
    let mut machine = Machine::new(Arc::clone(&program));
    let mut panel = Panel::new(&program, Some(&station));
    panel.drive(&mut machine);
    panel.place_device(1, Some(WiringFault::Shorted), None, &mut machine);
    machine.scan(0).unwrap();
    let on = |panel: &Panel<'_>, index: usize| panel.loads()[index].value(&machine).unwrap().to_string();
    assert_eq!((read(&machine, &program, "Out1"), on(&panel, 0)), ("FALSE".to_owned(), "FALSE".to_owned()));
    panel.place_load(0, Some(LoadFault::StuckOn));
    assert_eq!((read(&machine, &program, "Out1"), on(&panel, 0)), ("FALSE".to_owned(), "TRUE".to_owned()));
    assert_eq!(panel.loads()[0].stuck(None, &machine), LoadFault::StuckOn);
    assert_eq!(panel.loads()[0].stuck(Some(&Value::Bool(false)), &machine), LoadFault::StuckOff);
    // The wire of the station file is off.
    assert_eq!((read(&machine, &program, "Out2"), on(&panel, 1)), ("TRUE".to_owned(), "FALSE".to_owned()));
    panel.place_load(1, None);
    assert_eq!(on(&panel, 1), "TRUE");
    panel.place_load(1, Some(LoadFault::StuckOff));
    assert_eq!(on(&panel, 1), "FALSE");
    let mut other = Machine::new(Arc::clone(&program));
    panel.clear_all(&mut other);
    assert_eq!((on(&panel, 0), on(&panel, 1)), ("FALSE".to_owned(), "FALSE".to_owned()));
    assert_eq!(panel.loads()[1].fault(), Some(LoadFault::OpenWire));
}

/// Linear arithmetic.
#[test]
fn analog_loads_follow_outputs_of_every_sort() {
    let mut board = board::Board::new();
    let plain = board.elementary("Plain", ElementaryType::Int, Section::Output);
    board.elementary("Bits", ElementaryType::Word, Section::Output);
    board.elementary("Fine", ElementaryType::Lreal, Section::Output);
    let step = board.hidden(2, &6912_i16.to_le_bytes());
    board.emit(Family::Add, Scalar::I16, &[plain, plain, step]);
    let program = board.program();
    let load = |name: &str, terminal: &str, rest: &str| {
        format!("[[load]]\nname = \"{name}\"\nterminal = \"Main.{terminal}\"\n{rest}\n")
    };
    let text = [
        load("V1", "Plain", "range = [0, 100]\nraw = [0, 27648]\nunit = \"%\""),
        load("M1", "Bits", "range = [-1500, 1500]\nraw = [-10000, 10000]"),
        load("T1", "Fine", "range = [0, 90]"),
        load("V2", "Plain", "range = [0, 100]\nfault = \"stuck\"\nstuck_at = 12.5"),
    ]
    .concat();
    let station = station(&text);
    assert!(station.check(&program).is_empty());
    let mut machine = Machine::new(Arc::clone(&program));
    let mut panel = Panel::new(&program, Some(&station));
    machine.scan(0).unwrap();
    machine.write(&program.resolve("Bits").unwrap(), &Value::Bits(0xEC78, ElementaryType::Word)).unwrap();
    machine.write(&program.resolve("Fine").unwrap(), &Value::Lreal(120.5)).unwrap();
    let values = |panel: &Panel<'_>| {
        let value = |load: &latchwork_bench::panel::WiredLoad<'_>| load.value(&machine).unwrap().to_string();
        panel.loads().iter().map(value).collect::<Vec<_>>().join(" ")
    };
    // 16#EC78 is -5000 as a signed number, -50 % of 1500; 120.5 is beyond the range.
    assert_eq!(values(&panel), "25.0 -750.0 90.0 12.5");
    for index in 0..4 {
        panel.place_load(index, Some(LoadFault::OpenWire));
    }
    assert_eq!(values(&panel), "0.0 0.0 0.0 0.0");
    panel.place_load(0, None);
    let stuck = panel.loads()[0].stuck(None, &machine);
    panel.place_load(0, Some(stuck));
    panel.place_load(1, Some(LoadFault::StuckOn));
    panel.place_load(2, Some(LoadFault::StuckOff));
    machine.scan(1).unwrap();
    let value = |index: usize| panel.loads()[index].value(&machine).unwrap().to_string();
    assert_eq!([value(0), value(1), value(2)], ["25.0", "1500.0", "0.0"]);
}
