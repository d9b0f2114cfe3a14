//! Timers are looked at scan by scan, so their times come in whole scans (IEC 61131-3:2013, table 46; arithmetic): with a
//! scan time S, Q of TON switches so many scans after the scan that saw the edge of IN as PT / S rounded up, and the
//! pulse of TP and the delay of TOF last as many scans. The scan that switches Q shows ET = PT.

#![allow(clippy::unwrap_used, reason = "a failing test may panic")]

use latchwork_tests::workbench;
use latchwork_vm::{Machine, Value};

const MILLISECOND: i64 = 1_000_000;

const SOURCE: &str = "PROGRAM Main
VAR
  Terminal AT %IX0.0 : BOOL; Preset : TIME;
  Late : TON; Off : TOF; Pulse : TP;
END_VAR
  Late(IN := Terminal, PT := Preset);
  Off(IN := Terminal, PT := Preset);
  Pulse(IN := Terminal, PT := Preset);
END_PROGRAM";

struct Bench {
    machine: Machine,
    scan_ns: i64,
    now: i64,
}

impl Bench {
    fn new(scan_ns: i64, preset_ns: i64) -> Self {
        let mut machine = Machine::new(workbench::program(SOURCE).unwrap());
        let place = machine.program().resolve("Main.Preset").unwrap();
        let Value::Duration(_, kind) = machine.read(&place) else { panic!("Preset is a duration") };
        machine.write(&place, &Value::Duration(preset_ns, kind)).unwrap();
        Self { machine, scan_ns, now: -scan_ns }
    }

    fn scan(&mut self, terminal: bool) {
        let place = self.machine.program().resolve("Main.Terminal").unwrap();
        self.machine.write(&place, &Value::Bool(terminal)).unwrap();
        self.now += self.scan_ns;
        self.machine.scan(self.now).unwrap();
    }

    fn bool(&self, name: &str) -> bool {
        self.read(name) == Value::Bool(true)
    }

    fn nanoseconds(&self, name: &str) -> i64 {
        match self.read(name) {
            Value::Duration(nanoseconds, _) => nanoseconds,
            other => panic!("{other} is no duration"),
        }
    }

    fn read(&self, name: &str) -> Value {
        self.machine.read(&self.machine.program().resolve(name).unwrap())
    }
}

/// Scan times and presets in nanoseconds: whole multiples, a little more and less, and shorter than a scan.
fn combinations() -> impl Iterator<Item = (i64, i64)> {
    [1, 3, 10, 20].into_iter().flat_map(|scan| {
        let scan = scan * MILLISECOND;
        [1, scan - 1, scan, scan + 1, 5 * scan, 5 * scan - 1, 5 * scan + 1, 7 * scan / 2, 25 * MILLISECOND]
            .into_iter()
            .map(move |preset| (scan, preset))
    })
}

/// PT / S, rounded up.
fn scans(scan_ns: i64, preset_ns: i64) -> i64 {
    (preset_ns + scan_ns - 1) / scan_ns
}

#[test]
fn times_come_in_whole_scans_rounded_up() {
    for (scan_ns, preset_ns) in combinations() {
        let wanted = scans(scan_ns, preset_ns);
        let mut bench = Bench::new(scan_ns, preset_ns);
        bench.scan(false);
        for scan in 0..=wanted + 2 {
            bench.scan(true);
            let over = scan >= wanted;
            let elapsed = if over { preset_ns } else { scan * scan_ns };
            let what = format!("scan time {scan_ns}, PT {preset_ns}, scan {scan}");
            assert_eq!(bench.bool("Main.Late.Q"), over, "TON, {what}");
            assert_eq!(bench.nanoseconds("Main.Late.ET"), elapsed, "TON, {what}");
            assert_eq!(bench.bool("Main.Pulse.Q"), !over, "TP, {what}");
            assert_eq!(bench.nanoseconds("Main.Pulse.ET"), elapsed, "TP, {what}");
            assert!(bench.bool("Main.Off.Q"), "TOF, {what}");
        }
        for scan in 0..=wanted + 2 {
            bench.scan(false);
            let over = scan >= wanted;
            let what = format!("scan time {scan_ns}, PT {preset_ns}, scan {scan}");
            assert_eq!(bench.bool("Main.Off.Q"), !over, "TOF, {what}");
            let elapsed = if over { preset_ns } else { scan * scan_ns };
            assert_eq!(bench.nanoseconds("Main.Off.ET"), elapsed, "TOF, {what}");
        }
    }
}

#[test]
fn seen_from_the_field_a_delay_is_up_to_two_scans_longer() {
    for (scan_ns, preset_ns) in combinations() {
        let mut longest = 0;
        // The edge comes at any time between two scans; the next scan sees it.
        for part in 0..10 {
            let edge = 2 * scan_ns + part * scan_ns / 10 + 1;
            let mut bench = Bench::new(scan_ns, preset_ns);
            while !bench.bool("Main.Late.Q") {
                let next = bench.now + bench.scan_ns;
                bench.scan(next >= edge);
            }
            let delay = bench.now - edge;
            assert!((preset_ns..preset_ns + 2 * scan_ns).contains(&delay), "{scan_ns} {preset_ns} {delay}");
            longest = longest.max(delay - preset_ns);
        }
        // A PT of whole scans and a bit more waits for almost one scan more.
        if preset_ns % scan_ns == 1 && scan_ns > 1 {
            assert!(longest > scan_ns, "{scan_ns} {preset_ns}");
        }
    }
}
