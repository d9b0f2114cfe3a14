//! The VCD export read back by two parsers that are not ours: the Rust crate `vcd` and the Python package
//! `vcdvcd`. Both must find the recorded values at the recorded times.

#![allow(clippy::unwrap_used, reason = "a failing test may panic")]

use std::{collections::BTreeMap, env, fs, io::Write, process::Command};

use latchwork_bench::{export, recording::Recording, replay::ReplayOptions};
use latchwork_tests::workbench::{run, sample};
use latchwork_vm::Value;

fn recording() -> Recording {
    let source = sample("transfer-pump/pump.st").unwrap();
    let station = sample("transfer-pump/station.toml").unwrap();
    let stimulus = sample("transfer-pump/stimulus.csv").unwrap();
    run(&source, Some(&station), Some(&stimulus), &ReplayOptions::default()).unwrap().recording
}

/// For each signal its changes as (nanoseconds, bits or number as text).
type Changes = BTreeMap<String, Vec<(u64, String)>>;

fn recorded(recording: &Recording) -> Changes {
    let mut all = Changes::new();
    for row in &recording.rows {
        let changes = row.signal.changes.iter().map(|change| {
            let time = recording.scans[change.scan as usize].time_ns as u64;
            let value = match &change.value {
                Value::Bool(value) => u8::from(*value).to_string(),
                Value::Signed(value, _) => value.to_string(),
                Value::Duration(value, _) => value.to_string(),
                other => panic!("the sample records no {other}"),
            };
            (time, value)
        });
        let name = row.signal.name.rsplit('.').next().unwrap().to_owned();
        all.insert(name, changes.collect());
    }
    all
}

fn bits_to_text(bits: &str, width: usize) -> String {
    if width == 1 {
        return bits.to_owned();
    }
    // VCD leaves leading zeros out; a leading one at full width is the sign of these signed values.
    let value = i128::from_str_radix(bits, 2).unwrap();
    let signed = bits.len() == width && bits.starts_with('1');
    (if signed { value - (1 << width) } else { value }).to_string()
}

#[test]
fn the_rust_reader_finds_the_recorded_values() {
    let recording = recording();
    let text = export::vcd(&recording);
    let mut parser = vcd::Parser::new(text.as_bytes());
    let header = parser.parse_header().unwrap();
    let (number, unit) = header.timescale.unwrap();
    let tick = u64::from(number) * (1_000_000_000 / unit.divisor());
    let mut names = BTreeMap::new();
    collect(&header.items, &mut names);
    let mut found = Changes::new();
    let mut now = 0;
    for command in parser {
        match command.unwrap() {
            vcd::Command::Timestamp(time) => now = time * tick,
            vcd::Command::ChangeScalar(code, value) => {
                found.entry(names[&code].0.clone()).or_default().push((now, value.to_string()));
            }
            vcd::Command::ChangeVector(code, value) => {
                let (name, width) = names[&code].clone();
                let bits: String = value.iter().map(|bit| bit.to_string()).collect();
                found.entry(name).or_default().push((now, bits_to_text(&bits, width)));
            }
            _ => {}
        }
    }
    assert_eq!(found, recorded(&recording));
}

fn collect(items: &[vcd::ScopeItem], names: &mut BTreeMap<vcd::IdCode, (String, usize)>) {
    for item in items {
        match item {
            vcd::ScopeItem::Var(variable) => {
                names.insert(variable.code, (variable.reference.clone(), variable.size as usize));
            }
            vcd::ScopeItem::Scope(scope) => collect(&scope.items, names),
            _ => {}
        }
    }
}

const SCRIPT: &str = r#"
import sys
from vcdvcd import VCDVCD
file = VCDVCD(sys.argv[1])
scale = int(file.timescale["timescale"] * 10**9)
for name in file.signals:
    signal = file[name]
    for time, value in signal.tv:
        print(name.split(".")[-1].split("[")[0], signal.size, time * scale, value)
"#;

/// Needs Python with the package; without it the test says so and passes, unless `LATCHWORK_PYTHON` names an
/// interpreter, as the continuous integration does.
#[test]
fn the_python_reader_finds_the_recorded_values() {
    let demanded = env::var("LATCHWORK_PYTHON").ok();
    let python = demanded.clone().unwrap_or_else(|| "python3".to_owned());
    let ready =
        Command::new(&python).args(["-c", "import vcdvcd"]).output().is_ok_and(|run| run.status.success());
    if !ready {
        assert!(demanded.is_none(), "{python} has no package vcdvcd");
        let _ = writeln!(std::io::stderr(), "skipped: no Python with the package vcdvcd");
        return;
    }
    let recording = recording();
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("pump.vcd");
    fs::write(&file, export::vcd(&recording)).unwrap();
    let run = Command::new(&python).args(["-c", SCRIPT]).arg(&file).output().unwrap();
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    let mut found = Changes::new();
    for line in String::from_utf8(run.stdout).unwrap().lines() {
        let [name, size, time, value] = line.split(' ').collect::<Vec<_>>()[..] else { panic!("{line}") };
        let value = bits_to_text(value, size.parse().unwrap());
        found.entry(name.to_owned()).or_default().push((time.parse().unwrap(), value));
    }
    assert_eq!(found, recorded(&recording));
}
