//! Traces good and bad: each file of `files` with what is understood of it and what is said about it. A comment
//! `compare: Pump, Level` in it names what is asked for.

use insta::{assert_snapshot, glob};
use latchwork_bench::{
    comparison::{Expected, Subject, TRACE_VALUES_MAX},
    station::Station,
};
use latchwork_grammar::{Diagnostic, FileId, Sources};
use proptest::prelude::*;

use crate::{board, shown};

const STATION: &str = r#"
[[device]]
name = "StartPB"
contact = "normally open"
terminal = "%IX0.0"

[[device]]
name = "Float"
contact = "normally open"
actuated = "wet"
released = "dry"
terminal = "%IX1.0"

[[analog]]
name = "Tank"
terminal = "%IW1"
range = [0, 250]
raw = [0, 27648]

[[load]]
name = "P1"
terminal = "%QX0.0"
"#;

fn subjects(names: &str) -> Vec<Subject> {
    let program = board::every_kind();
    let station = Station::parse(Sources::new().add("station.toml", STATION), STATION).0.unwrap();
    names.split(';').map(|name| Subject::find(name, &program, Some(&station)).unwrap()).collect()
}

fn read(text: &str, names: &str) -> (Option<Expected>, Vec<Diagnostic>) {
    Expected::read(FileId(0), text, &subjects(names))
}

#[test]
fn corpus() {
    glob!("files/*.*", |path| {
        let text = std::fs::read_to_string(path).unwrap();
        let (_, asked) = text.split_once("compare: ").expect("a comment says what is asked for");
        let asked = asked.lines().next().unwrap().trim_end_matches("$end").trim();
        let (expected, diagnostics) = read(&text, asked);
        let mut out = shown::diagnostics(&text, &diagnostics);
        match expected {
            Some(expected) => out.push_str(&outline(&expected)),
            None => out.push_str("no trace\n"),
        }
        assert_snapshot!(out);
    });
}

fn outline(expected: &Expected) -> String {
    let mut out = format!("ends at {} ns\n", expected.end_ns);
    for track in &expected.tracks {
        out.push_str(&format!("{} from {}\n", track.subject.name(), track.heading));
        for value in &track.values {
            let text = value.value.as_ref().map_or("not known".to_owned(), ToString::to_string);
            out.push_str(&format!("    {} ns {text}\n", value.time_ns));
        }
    }
    out
}

#[test]
fn every_diagnostic_of_traces_has_a_file() {
    let shown: String = std::fs::read_dir("tests/trace/snapshots")
        .unwrap()
        .map(|entry| std::fs::read_to_string(entry.unwrap().path()).unwrap())
        .collect();
    // What needs megabytes, a program of its own, or a command line has a test elsewhere.
    let elsewhere = ["trace-too-many-errors", "trace-too-large", "trace-reference", "trace-tolerance"];
    let names = latchwork_bench::catalogue::CATALOGUE.iter().map(|(name, _)| *name);
    let missing: Vec<&str> = names
        .filter(|name| name.starts_with("trace-") && !elsewhere.contains(name))
        .filter(|name| !shown.contains(&format!("[{name}]")))
        .collect();
    assert!(missing.is_empty(), "no file for {missing:?}");
}

#[test]
fn names_that_can_not_be_compared_are_refused() {
    let program = board::every_kind();
    let station = Station::parse(Sources::new().add("station.toml", STATION), STATION).0.unwrap();
    let refused = |name: &str| Subject::find(name, &program, Some(&station)).unwrap_err();
    assert_eq!(refused("Link").name, "trace-reference");
    let unknown = refused("Pmup");
    assert_eq!((unknown.name, unknown.remedy.as_str()), ("procedure-unknown-name", "did you mean `Pump`?"));
    assert_eq!(refused("Flaot").remedy, "did you mean `Float`?");
    assert_eq!(refused("%QX9.9").remedy, Subject::find("%QX9.9", &program, None).unwrap_err().remedy);
    // The terminal of a device that the program does not read.
    assert!(Subject::find("%IX1.0", &program, Some(&station)).is_ok());
}

#[test]
fn sizes_are_limited() {
    let names = |(expected, diagnostics): (Option<Expected>, Vec<Diagnostic>)| {
        assert!(expected.is_none());
        diagnostics.iter().map(|diagnostic| diagnostic.name).collect::<Vec<_>>()
    };
    let rows: String = (0..=TRACE_VALUES_MAX + 1).map(|row| format!("{row},{}\n", row % 2)).collect();
    assert_eq!(names(read(&format!("time,Pump\n{rows}"), "Pump")), ["trace-too-large"]);
    assert_eq!(names(read(&format!("time{}\n", ",Pump".repeat(5_000)), "Pump")), ["trace-too-large"]);
    let wrong = names(read(&format!("time,Pump\n{}", "0,maybe\n".repeat(10_000)), "Pump"));
    assert_eq!((wrong.len(), wrong.last()), (101, Some(&"trace-too-many-errors")));
    let heading = "$timescale 1 ns $end $var wire 1 ! Pump $end $enddefinitions $end\n";
    let changes: String =
        (0..=TRACE_VALUES_MAX + 1).map(|time| format!("#{time}\n{}!\n", time % 2)).collect();
    assert_eq!(names(read(&format!("{heading}{changes}"), "Pump")), ["trace-too-large"]);
    let variables = "$var wire 1 ! P $end\n".repeat(250_001);
    assert_eq!(names(read(&format!("$timescale 1 ns $end {variables}"), "Pump")), ["trace-too-large"]);
    assert_eq!(names(read(&" ".repeat(64 * 1024 * 1024 + 1), "Pump")), ["trace-too-large"]);
}

/// Scopes without end, and variables within: neither time nor memory grows with the product.
#[test]
fn deep_scopes_cost_nothing() {
    let scopes = format!("$scope module {} $end\n", "deep".repeat(1_000)).repeat(3_000);
    let variables = "$var wire 1 ! Pump $end\n".repeat(100_000);
    let text = format!("$timescale 1 ns $end {scopes}{variables}$enddefinitions $end #0 1! #5");
    let (expected, diagnostics) = read(&text, "Pump");
    assert!(expected.is_some(), "{diagnostics:?}");
    let (expected, diagnostics) = read(&text, "Level");
    assert!(expected.is_none() && diagnostics.len() == 1);
}

fn cell() -> impl Strategy<Value = String> {
    prop_oneof![
        "[0-9]{1,4}",
        "-?[0-9]{0,3}\\.?[0-9]{0,3}",
        "T#[0-9]{1,3}(ms|s|m|h)",
        "(TRUE|FALSE|Idle|wet|'a'|\"\"\"a\"\"\"|NULL|Pump)",
        "\"[^\"\n]{0,6}\"?",
        "\\PC{0,6}",
        Just(String::new()),
    ]
}

/// Pieces of dumps, well and badly put together.
fn piece() -> impl Strategy<Value = String> {
    prop_oneof![
        Just("$timescale 1 ns $end".to_owned()),
        Just("$enddefinitions $end".to_owned()),
        Just("$dumpvars".to_owned()),
        "\\$(scope|upscope|end|comment|var|timescale|dumpoff|x)",
        "\\$scope module [A-Za-z]{1,4} \\$end",
        "\\$var (wire|reg|real|integer|string|event) [0-9]{1,3} [!-%] (Pump|Scans|Mode|Crop|Speed) (\\[[0-9:]{1,4}\\] )?\\$end",
        "#[0-9]{1,22}",
        "[01xzXZbrs][!-%]",
        "b[01xz]{0,70} [!-%]",
        "r-?[0-9.e]{0,6} [!-%]",
        "s[\\\\x0-9a-z]{0,9} [!-%]",
        "\\PC{0,6}",
    ]
}

proptest! {
    /// Any bytes, read as a file would be.
    #[test]
    fn any_bytes_are_read_without_panic(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let text = String::from_utf8_lossy(&bytes);
        let (expected, diagnostics) = read(&text, "Pump");
        prop_assert!(expected.is_some() || !diagnostics.is_empty());
        shown::diagnostics(&text, &diagnostics);
    }

    #[test]
    fn any_cells_are_read_without_panic(rows in prop::collection::vec(prop::collection::vec(cell(), 0..10), 0..6)) {
        let mut text = "time,StartPB,Float,Level,Count,Speed,Delay,Crop,Wide,Mode\n".to_owned();
        for row in &rows {
            text.push_str(&row.join(","));
            text.push('\n');
        }
        let (expected, diagnostics) = read(&text, "StartPB;Float;Level;Count;Speed;Delay;Crop;Wide;Mode");
        prop_assert!(expected.is_some() || !diagnostics.is_empty());
        shown::diagnostics(&text, &diagnostics);
    }

    #[test]
    fn any_dump_is_read_without_panic(
        pieces in prop::collection::vec(piece(), 0..40), whole in any::<bool>(),
    ) {
        let heading = "$timescale 1 ms $end $var wire 1 ! Pump $end $var reg 16 \" Scans $end \
                       $var integer 32 # Mode $end $var string 1 $ Crop $end $var real 64 % Speed $end \
                       $enddefinitions $end";
        let text = format!("$comment\n$end {} {}", if whole { heading } else { "" }, pieces.join(" "));
        let (expected, diagnostics) = read(&text, "Pump;Scans;Mode;Crop;Speed");
        prop_assert!(expected.is_some() || !diagnostics.is_empty());
        shown::diagnostics(&text, &diagnostics);
    }
}
