//! Stimuli good and bad: each file of `tests/stimulus` with what is understood of it and what is said about it.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests may stop them")]

mod board;
mod shown;

use insta::{assert_snapshot, glob};
use latchwork_bench::{
    station::Station,
    stimulus::{Stimulus, Target},
};
use latchwork_grammar::{Diagnostic, Sources};
use proptest::prelude::*;

/// The station of the files whose names begin with `devices`.
const STATION: &str = r#"
[[device]]
name = "StartPB"
contact = "normally open"
terminal = "%IX0.0"

[[device]]
name = "StopPB"
contact = "normally closed"
actuated = "opened"
released = "closed"
terminal = "Main.Stop"

[[analog]]
name = "Tank"
terminal = "%IW1"
range = [0, 250]
raw = [0, 27648]

[[load]]
name = "P1"
terminal = "%QX0.0"
"#;

fn station() -> Station {
    Station::parse(Sources::new().add("station.toml", STATION), STATION).0.unwrap()
}

#[test]
fn corpus() {
    let program = board::every_kind();
    let station = station();
    glob!("stimulus/*.csv", |path| {
        let text = std::fs::read_to_string(path).unwrap();
        let file = Sources::new().add("stimulus.csv", text.as_str());
        let name = path.file_name().unwrap().to_str().unwrap();
        let station = name.starts_with("devices").then_some(&station);
        let (stimulus, diagnostics) = Stimulus::parse(file, &text, &program, station);
        let mut out = shown::diagnostics(&text, &diagnostics);
        match stimulus {
            Some(stimulus) => out.push_str(&outline(&stimulus)),
            None => out.push_str("no stimulus\n"),
        }
        assert_snapshot!(out);
    });
}

fn outline(stimulus: &Stimulus) -> String {
    let mut out = String::new();
    for column in &stimulus.columns {
        out.push_str(&match &column.target {
            Target::Device(index) => format!("column {} device {index}\n", column.name),
            Target::Variable(variable) => format!("column {} variable {}\n", column.name, variable.name),
            Target::Plant(variable) => format!("column {} of the plant {}\n", column.name, variable.name),
        });
    }
    for (index, row) in stimulus.rows.iter().enumerate() {
        out.push_str(&format!("{} ns {:?}\n", row.time_ns, row.restart));
        for cell in stimulus.cells_of_row(index) {
            let column = &stimulus.columns[cell.column as usize];
            out.push_str(&format!("    {} := {}\n", column.name, cell.value));
        }
    }
    out
}

fn names(diagnostics: &[Diagnostic]) -> Vec<&'static str> {
    diagnostics.iter().map(|diagnostic| diagnostic.name).collect()
}

fn parse(text: &str) -> (Option<Stimulus>, Vec<Diagnostic>) {
    Stimulus::parse(Sources::new().add("stimulus.csv", ""), text, &board::every_kind(), None)
}

#[test]
fn errors_are_limited() {
    let text = format!("time,Start\n{}", "0,x\n".repeat(100_000));
    let (stimulus, diagnostics) = parse(&text);
    assert!(stimulus.is_none());
    assert_eq!(diagnostics.len(), 101);
    assert_eq!(names(&diagnostics).last(), Some(&"stimulus-too-many-errors"));
}

#[test]
fn too_many_rows_and_columns_are_refused() {
    let text = format!("time,Start\n{}", "0,1\n".repeat(1_000_001));
    assert_eq!(names(&parse(&text).1), ["stimulus-too-large"]);
    let text = format!("time{}\n", ",Start".repeat(5_000));
    assert_eq!(names(&parse(&text).1), ["stimulus-time-column"]);
    let text = format!("time,Start\n0,{}\n", "9".repeat(600_000));
    assert_eq!(names(&parse(&text).1), ["stimulus-value"]);
}

/// What a run recorded, read again: devices and inputs are taken, everything else is left out with one word.
#[test]
fn a_trace_is_a_stimulus() {
    let text =
        "time,StartPB,Start,Stop,Tank,Level,Pump,Scans,%QX0.0\n0,TRUE,TRUE,TRUE,12.5,1382,FALSE,1,FALSE\n";
    let station = station();
    let program = board::every_kind();
    let file = Sources::new().add("trace.csv", text);
    let (stimulus, diagnostics) = Stimulus::parse(file, text, &program, Some(&station));
    assert_eq!(names(&diagnostics), ["stimulus-output"]);
    let columns: Vec<String> = stimulus.unwrap().columns.into_iter().map(|column| column.name).collect();
    assert_eq!(columns, ["StartPB", "Stop", "Tank"]);
}

fn cell() -> impl Strategy<Value = String> {
    prop_oneof![
        "[0-9]{1,4}",
        "-?[0-9]{0,3}\\.?[0-9]{0,3}",
        "T#[0-9]{1,3}(ms|s|m|h)",
        "(2|8|16)#[0-9A-F]{0,5}",
        "(TRUE|FALSE|Idle|warm|cold|'a'|\"\"\"a\"\"\"|NULL|Start)",
        "\"[^\"\n]{0,6}\"?",
        "\\PC{0,6}",
        Just(String::new()),
    ]
}

proptest! {
    /// Any bytes, read as a file would be.
    #[test]
    fn any_bytes_are_read_without_panic(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let text = String::from_utf8_lossy(&bytes);
        let (stimulus, diagnostics) = parse(&text);
        prop_assert!(stimulus.is_some() || !diagnostics.is_empty());
        shown::diagnostics(&text, &diagnostics);
    }

    /// Any cells below headings that exist.
    #[test]
    fn any_cells_are_read_without_panic(rows in prop::collection::vec(prop::collection::vec(cell(), 0..20), 0..6)) {
        let mut text = "time,Start,Level,Count,Mask,Speed,Delay,Day,Clock,Stamp,Letter,Crop,Wide,Mode,restart\n".to_string();
        for row in &rows {
            text.push_str(&row.join(","));
            text.push('\n');
        }
        let (stimulus, diagnostics) = parse(&text);
        prop_assert!(stimulus.is_some() || !diagnostics.is_empty());
        shown::diagnostics(&text, &diagnostics);
    }

    /// Any headings.
    #[test]
    fn any_headings_are_read_without_panic(headings in prop::collection::vec("(\\PC{0,8}|Main\\.?[A-Za-z\\[\\]0-9,.]{0,8}|%[IQM][XBW]?[0-9.]{0,4})", 0..6)) {
        let text = format!("time,{}\n0,1,1,1,1\n", headings.join(","));
        let (_, diagnostics) = parse(&text);
        shown::diagnostics(&text, &diagnostics);
    }
}
