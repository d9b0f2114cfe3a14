//! Recordings made by hand: the plain cases and those that strain a picture. All of a rainwater and greenhouse
//! teaching workshop.

use latchwork_bench::recording::{ChartRecord, Contact, Incident, IncidentKind, Recording, Role, Row};
use latchwork_vm::trace::{Change, ScanRecord, Signal, SignalKind};
use latchwork_vm::{ElementaryType, ResolvedKind, Section, Value};
use proptest::prelude::*;

/// One millisecond in nanoseconds.
pub const MS: i64 = 1_000_000;

/// A recording in the making.
pub struct Maker {
    recording: Recording,
}

impl Maker {
    /// Scans at 0, `scan_ns`, twice that and so on.
    pub fn new(title: &str, scan_ns: i64, scans: u32) -> Self {
        let record = |scan: u32| ScanRecord {
            time_ns: i64::from(scan) * scan_ns,
            instructions: 11 + u64::from(scan % 13),
        };
        Self {
            recording: Recording {
                title: title.to_owned(),
                source: "pump.st".to_owned(),
                scan_ns,
                end_ns: i64::from(scans) * scan_ns,
                scans: (0..scans).map(record).collect(),
                ..Recording::default()
            },
        }
    }

    /// A row of values from given scans on.
    pub fn row(mut self, role: Role, name: &str, location: Option<&str>, values: Vec<(u32, Value)>) -> Self {
        let kind = values.first().map_or(SignalKind::Bool, |(_, value)| kind_of(value));
        let section = match role {
            Role::Output { .. } => Section::Output,
            Role::Terminal { .. } => Section::Input,
            _ => Section::Local,
        };
        let changes = values.into_iter().map(|(scan, value)| Change { scan, value }).collect();
        let signal =
            Signal { name: name.to_owned(), kind, location: location.map(str::to_owned), section, changes };
        self.recording.rows.push(Row { role, signal, asked: None });
        self
    }

    /// A two-state device.
    pub fn device(self, name: &str, contact: Contact, fault: Option<&str>, toggles: &[u32]) -> Self {
        let role = Role::Device {
            actuated: "pressed".to_owned(),
            contact: Some(contact),
            unit: None,
            fault: fault.map(str::to_owned),
        };
        self.row(role, name, None, levels(false, toggles))
    }

    /// An input terminal.
    pub fn terminal(
        self,
        name: &str,
        location: &str,
        device: Option<&str>,
        first: bool,
        toggles: &[u32],
    ) -> Self {
        let role = Role::Terminal { device: device.map(str::to_owned) };
        self.row(role, name, Some(location), levels(first, toggles))
    }

    /// An output terminal.
    pub fn output(self, name: &str, location: &str, load: Option<&str>, toggles: &[u32]) -> Self {
        let role = Role::Output { load: load.map(str::to_owned), unit: None };
        self.row(role, name, Some(location), levels(false, toggles))
    }

    /// Any other variable.
    pub fn variable(self, name: &str, values: Vec<(u32, Value)>) -> Self {
        self.row(Role::Variable, name, None, values)
    }

    /// A chart: for each step the scans at which it becomes active or ends; the first is active at the start.
    pub fn chart(mut self, name: &str, steps: &[(&str, &[u32])]) -> Self {
        let flag = |(index, (step, toggles)): (usize, &(&str, &[u32]))| {
            let values = levels(index == 0, toggles).into_iter();
            let changes = values.map(|(scan, value)| Change { scan, value }).collect();
            ((*step).to_owned(), changes)
        };
        let steps = steps.iter().enumerate().map(flag).collect();
        self.recording.charts.push(ChartRecord { name: name.to_owned(), steps });
        self
    }

    /// Something that happened at a time in milliseconds.
    pub fn incident(mut self, time_ms: i64, kind: IncidentKind, text: &str) -> Self {
        self.recording.incidents.push(Incident::at(time_ms * MS, kind, text));
        self
    }

    pub fn finish(self) -> Recording {
        self.recording
    }
}

/// The kind of signal that holds such values.
fn kind_of(value: &Value) -> SignalKind {
    match value.elementary_type() {
        Some(ElementaryType::String) => SignalKind::String,
        Some(ElementaryType::Wstring) => SignalKind::WideString,
        Some(kind) => SignalKind::of(ResolvedKind::Elementary(kind)),
        None => SignalKind::Enumeration,
    }
}

/// Levels that change at the given scans.
pub fn levels(first: bool, toggles: &[u32]) -> Vec<(u32, Value)> {
    let mut level = first;
    let mut values = vec![(0, Value::Bool(first))];
    for scan in toggles {
        level = !level;
        values.push((*scan, Value::Bool(level)));
    }
    values
}

pub fn int(value: i64) -> Value {
    Value::Signed(value, ElementaryType::Int)
}

pub fn time(ns: i64) -> Value {
    Value::Duration(ns, ElementaryType::Time)
}

pub fn step(value: i32, name: &str) -> Value {
    Value::Enumeration { value, name: Some(name.to_owned()) }
}

/// A timer's elapsed time: rises from `start` by one scan a scan up to `preset`, falls to 0 at `end` if the recording
/// reaches so far.
fn elapsed(scan_ns: i64, scans: u32, runs: &[(u32, u32)], preset: i64) -> Vec<(u32, Value)> {
    let mut values = vec![(0, time(0))];
    for (start, end) in runs {
        for scan in start + 1..*end {
            let elapsed = (i64::from(scan - start) * scan_ns).min(preset);
            if values.last().map(|(_, value)| value) != Some(&time(elapsed)) {
                values.push((scan, time(elapsed)));
            }
        }
        if *end < scans {
            values.push((*end, time(0)));
        }
    }
    values
}

/// Start and stop buttons, a pump, a timer, a counter, a step.
pub fn transfer_pump() -> Recording {
    Maker::new("Transfer pump", 10 * MS, 600)
        .device("StartPB", Contact::NormallyOpen, None, &[40, 58, 380, 398])
        .terminal("Main.Start", "%IX0.0", Some("StartPB"), false, &[40, 58, 380, 398])
        .device("StopPB", Contact::NormallyClosed, None, &[280, 291])
        .terminal("Main.Stop", "%IX0.1", Some("StopPB"), true, &[280, 291])
        .output("Main.Pump", "%QX0.0", Some("transfer pump"), &[40, 280, 380])
        .variable("Main.Fill.ET", elapsed(10 * MS, 600, &[(40, 280), (380, 600)], 2_000 * MS))
        .variable("Main.Batches", vec![(0, int(0)), (280, int(1))])
        .variable(
            "Main.Phase",
            vec![
                (0, step(0, "Idle")),
                (40, step(1, "Filling")),
                (280, step(0, "Idle")),
                (380, step(1, "Filling")),
            ],
        )
        .finish()
}

/// Pulses of one scan, several within a column, and bursts.
pub fn short_pulses() -> Recording {
    Maker::new("Short pulses", 10 * MS, 3_000)
        .terminal(
            "Flow",
            "%IX0.0",
            None,
            false,
            &[500, 501, 1_000, 1_001, 1_003, 1_004, 1_500, 1_501, 1_502, 2_000],
        )
        .terminal("Level", "%IX0.1", None, true, &[700, 701, 1_400, 1_402, 1_404])
        .output("Valve", "%QX0.0", None, &[501, 502, 1_502, 1_504])
        .variable(
            "Peak",
            vec![(0, int(0)), (800, int(90)), (801, int(0)), (1_600, int(40)), (2_400, int(20))],
        )
        .finish()
}

/// A normally closed stop button with an open wire: the device moves, the terminal does not.
pub fn open_wire() -> Recording {
    Maker::new("Stop button with an open wire", 10 * MS, 300)
        .device("StopPB", Contact::NormallyClosed, Some("open wire"), &[100, 150])
        .terminal("Main.Stop", "%IX0.1", Some("StopPB"), false, &[])
        .device("StartPB", Contact::NormallyOpen, None, &[50, 80])
        .terminal("Main.Start", "%IX0.0", Some("StartPB"), false, &[50, 80])
        .output("Main.Pump", "%QX0.0", Some("transfer pump"), &[])
        .finish()
}

/// Counters, negative numbers, bit strings, dates, strings, an analog device.
pub fn numbers_and_texts() -> Recording {
    let counter = (0..40).map(|count| (count * 25, int(i64::from(count)))).collect();
    let offset = vec![(0, int(0)), (100, int(-250)), (400, int(-32_768)), (700, int(120))];
    let mask = [(0, 0x00FF), (300, 0xA500), (320, 0xFFFF), (321, 0x0000)];
    let mask = mask.map(|(scan, bits)| (scan, Value::Bits(bits, ElementaryType::Word))).to_vec();
    let tray = ["", "basil", "a tray of very young seedlings that need shade", "$"];
    let tray = tray
        .iter()
        .zip([0, 200, 500, 900])
        .map(|(text, scan)| (scan, Value::String(text.as_bytes().to_vec())));
    let warmth = (0..100).map(|index| (index * 10, Value::Lreal(18.0 + f64::from(index) / 10.0))).collect();
    let device =
        Role::Device { actuated: String::new(), contact: None, unit: Some("°C".to_owned()), fault: None };
    Maker::new("Seedling conveyor", 10 * MS, 1_000)
        .row(device, "Probe", None, warmth)
        .variable("Trays", counter)
        .variable("Offset", offset)
        .variable("Mask", mask)
        .variable("Tray", tray.collect())
        .variable(
            "Share",
            vec![
                (0, Value::Real(f32::NAN)),
                (250, Value::Real(0.5)),
                (500, Value::Real(f32::INFINITY)),
                (750, Value::Real(0.25)),
            ],
        )
        .finish()
}

/// A noisy measurement. The numbers come from a small linear congruence, so that they are always the same.
pub fn noise() -> Recording {
    let mut state: u32 = 12_345;
    let mut sample = |scan: u32| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let noise = f64::from(state >> 16) / 65_536.0 - 0.5;
        (scan, Value::Real((f64::from(scan) / 250.0 + noise) as f32))
    };
    Maker::new("Level probe", 10 * MS, 1_000)
        .variable("Main.Level", (0..1_000).map(&mut sample).collect())
        .finish()
}

/// Ten minutes in which something happens at the beginning and at the end, and a timer runs all the time between: 60,000
/// scans. One pulse lasts one scan.
pub fn ten_minutes() -> Recording {
    Maker::new("Rinsing at night", 10 * MS, 60_000)
        .device("StartPB", Contact::NormallyOpen, None, &[100, 130])
        .terminal("Main.Start", "%IX0.0", Some("StartPB"), false, &[100, 130])
        .output("Main.Rinse", "%QX0.0", Some("V1 valve"), &[100, 59_100])
        .output("Main.Pulse", "%QX0.1", None, &[59_100, 59_101])
        .variable("Main.Hold.ET", elapsed(10 * MS, 60_000, &[(100, 59_200)], 590_000 * MS))
        .variable(
            "Main.Phase",
            vec![(0, step(0, "Idle")), (100, step(1, "Rinsing")), (59_100, step(2, "Done"))],
        )
        .finish()
}

/// Thirty seconds with a warm restart, two wiring faults one of which is taken away, and a fault at the end.
pub fn incidents() -> Recording {
    Maker::new("A bad morning", 10 * MS, 3_000)
        .terminal("Main.Start", "%IX0.0", None, false, &[200, 900, 1_000])
        .output("Main.Pump", "%QX0.0", Some("P1 pump"), &[200, 1_500])
        .incident(0, IncidentKind::WiringFault, "StopPB: open wire")
        .incident(10_000, IncidentKind::WarmRestart, "")
        .incident(12_000, IncidentKind::WiringFault, "P1: <stuck> & open")
        .incident(15_000, IncidentKind::WiringCleared, "P1")
        .incident(20_000, IncidentKind::WarmRestart, "")
        .incident(30_000, IncidentKind::Fault, "division by zero")
        .finish()
}

/// A chart with a simultaneous sequence and a loop, and one step that lasts one scan.
pub fn chart() -> Recording {
    Maker::new("Misting", 10 * MS, 1_000)
        .output("Main.Mist", "%QX0.0", None, &[300, 500])
        .chart(
            "Main",
            &[
                ("Idle", &[100, 900]),
                ("Feed", &[100, 300, 700, 899]),
                ("Spray", &[300, 500]),
                ("Sprayed_and_waiting_for_the_fan", &[500, 699]),
                ("Air", &[300, 699]),
                ("Away", &[699, 700]),
                ("Count", &[899, 900]),
            ],
        )
        .finish()
}

/// Rows, but not one scan.
pub fn empty() -> Recording {
    Maker::new("Nothing yet", 10 * MS, 0).terminal("Start", "%IX0.0", None, false, &[]).finish()
}

/// One scan alone.
pub fn single_scan() -> Recording {
    Maker::new("One scan", 10 * MS, 1)
        .terminal("Start", "%IX0.0", None, true, &[])
        .variable("Batches", vec![(0, int(7))])
        .finish()
}

/// A million scans of one millisecond with one lonely pulse and one busy row.
pub fn million_scans() -> Recording {
    let busy: Vec<u32> = (1..1_000_000).collect();
    Maker::new("A long night", MS, 1_000_000)
        .terminal("Rain", "%IX0.0", None, false, &[412_345, 412_346])
        .output("Blink", "%QX0.0", None, &busy)
        .finish()
}

/// Sixty rows.
pub fn sixty_rows() -> Recording {
    let mut maker = Maker::new("Vents of all bays", 10 * MS, 400);
    for bay in 0..20u32 {
        let device = format!("Bay{bay:02}PB");
        let toggles = [10 + bay * 15, 30 + bay * 15];
        maker = maker.device(&device, Contact::NormallyOpen, None, &toggles).terminal(
            &format!("Bay[{bay}].Open"),
            &format!("%IX{}.{}", bay / 8, bay % 8),
            Some(&device),
            false,
            &toggles,
        );
    }
    for bay in 0..20u32 {
        maker = maker.output(
            &format!("Vent[{bay}]"),
            &format!("%QX{}.{}", bay / 8, bay % 8),
            None,
            &[10 + bay * 15],
        );
    }
    maker.finish()
}

/// Names that try to break out of the picture.
pub fn hostile_names() -> Recording {
    let mut recording = Maker::new("<b>\u{1b}[2J & \"Wasser\" 水 ]]>", 10 * MS, 100)
        .device(
            "Tür\u{202E}<script>alert(1)</script>\u{7}",
            Contact::NormallyOpen,
            Some("wire & \"shield\" open"),
            &[20, 40],
        )
        .terminal(
            "A_name_that_goes_on_and_on_and_on_and_on_and_never_ends",
            "%IX0.0",
            Some("O'Door"),
            false,
            &[20, 40],
        )
        .variable(
            "水位",
            vec![
                (0, Value::String(b"<&>'\"\x1b[31m".to_vec())),
                (50, Value::WideString(vec![0x202E, 0x6C34, 0xD800])),
            ],
        )
        .finish();
    recording.source = "a,b\";.st".to_owned();
    recording
}

/// Any two-state, numeric or textual history over these scans.
fn any_history(scans: u32) -> impl Strategy<Value = Vec<(u32, Value)>> {
    let value = prop_oneof![
        prop::collection::vec(any::<bool>().prop_map(Value::Bool), 1..40),
        prop::collection::vec(any::<i16>().prop_map(|number| int(i64::from(number))), 1..40),
        prop::collection::vec(
            any::<u64>().prop_map(|bits| Value::Unsigned(bits, ElementaryType::Ulint)),
            1..40
        ),
        prop::collection::vec(
            any::<u8>().prop_map(|bits| Value::Bits(u64::from(bits), ElementaryType::Byte)),
            1..40
        ),
        prop::collection::vec(any::<f32>().prop_map(Value::Real), 1..40),
        prop::collection::vec(any::<f64>().prop_map(Value::Lreal), 1..40),
        prop::collection::vec(any::<i64>().prop_map(time), 1..40),
        prop::collection::vec(prop::collection::vec(any::<u8>(), 0..20).prop_map(Value::String), 1..40),
        prop::collection::vec(prop::collection::vec(any::<u16>(), 0..20).prop_map(Value::WideString), 1..40),
        prop::collection::vec(any::<u16>().prop_map(Value::Wchar), 1..40),
        prop::collection::vec((-3..3i32).prop_map(|value| step(value, "Phase")), 1..40),
    ];
    let steps = prop::collection::vec(1..(scans / 8).max(2), 40);
    (value, steps).prop_map(move |(values, steps)| {
        let mut scan = 0;
        let mut history: Vec<(u32, Value)> = Vec::new();
        for (value, step) in values.into_iter().zip(steps) {
            if scan >= scans {
                break;
            }
            if history.last().is_none_or(|(_, last)| *last != value) {
                history.push((scan, value));
            }
            scan += step;
        }
        history
    })
}

/// Any recording of up to 300 scans and 6 rows, with any names.
pub fn any_recording() -> impl Strategy<Value = Recording> {
    let scan_ns = prop_oneof![
        Just(MS),
        Just(10 * MS),
        Just(2_500_000),
        Just(1),
        Just(3_600_000 * MS),
        1..10_000_000_000i64
    ];
    (scan_ns, 1..300u32).prop_flat_map(|(scan_ns, scans)| {
        let row = (any::<u8>(), ".{0,30}", any_history(scans));
        ("\\PC{0,60}", prop::collection::vec(row, 0..6)).prop_map(move |(title, rows)| {
            let mut maker = Maker::new(&title, scan_ns, scans);
            for (role, name, history) in rows {
                let role = match role % 4 {
                    0 => Role::Device {
                        actuated: name.clone(),
                        contact: (role > 100).then_some(Contact::NormallyClosed),
                        unit: (role < 50).then(|| "m³/h".to_owned()),
                        fault: (role > 200).then(|| "open wire".to_owned()),
                    },
                    1 => Role::Terminal { device: Some(name.clone()) },
                    2 => Role::Output { load: Some(name.clone()), unit: None },
                    _ => Role::Variable,
                };
                maker = maker.row(role, &name, Some("%MW17"), history);
            }
            maker.finish()
        })
    })
}

/// A long run in which little happens: rows of every sort with few changes, and numbers that move for a while.
pub fn any_quiet_recording() -> impl Strategy<Value = Recording> {
    let scans = 2_000..40_000u32;
    let row = (any::<u8>(), prop::collection::vec((0..40_000u32, any::<i16>()), 0..6), 0..3_000u32);
    (scans, prop::collection::vec(row, 1..6)).prop_map(|(scans, rows)| {
        let mut maker = Maker::new("A quiet night", 10 * MS, scans);
        for (index, (kind, changes, moves)) in rows.into_iter().enumerate() {
            let name = format!("Row{index}");
            let mut starts: Vec<(u32, i64)> =
                changes.iter().map(|(scan, value)| (scan % scans, i64::from(*value))).collect();
            starts.sort_unstable();
            starts.dedup_by_key(|(scan, _)| *scan);
            let value = |number: i64| match kind % 4 {
                0 => Value::Bool(number % 2 == 0),
                1 => int(number),
                2 => time(number * MS),
                _ => step(number as i32, &format!("Phase{number}")),
            };
            let mut values: Vec<(u32, Value)> = vec![(0, value(0))];
            for (start, number) in starts {
                let last = if matches!(kind % 4, 1 | 2) { moves } else { 0 };
                for later in 0..=last {
                    let scan = start + later;
                    let next = value(number + i64::from(later));
                    let known = values.last();
                    if scan > 0
                        && scan < scans
                        && known.is_some_and(|(at, known)| *at < scan && *known != next)
                    {
                        values.push((scan, next));
                    }
                }
            }
            maker = maker.variable(&name, values);
        }
        maker.finish()
    })
}
