//! Stations good and bad: each file of `tests/station` with what is understood of it and what is said about it.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests may stop them")]

mod shown;

use insta::{assert_snapshot, glob};
use latchwork_bench::station::{Placed, Station, WireMarks};
use latchwork_grammar::Sources;
use proptest::prelude::*;

#[test]
fn corpus() {
    glob!("station/*.toml", |path| {
        let text = std::fs::read_to_string(path).unwrap();
        let file = Sources::new().add("station.toml", text.as_str());
        let (station, diagnostics) = Station::parse(file, &text);
        let mut out = shown::diagnostics(&text, &diagnostics);
        match station {
            Some(station) => out.push_str(&outline(&station)),
            None => out.push_str("no station\n"),
        }
        assert_snapshot!(out);
    });
}

/// A station, one line a device and load.
fn outline(station: &Station) -> String {
    let mut out = format!("station {:?}\n", station.title);
    let marked = |marks: &WireMarks| {
        let text =
            |mark: &Option<Placed<String>>| mark.as_ref().map_or("-".to_owned(), |mark| mark.value.clone());
        format!("strip {} wire {}", text(&marks.strip), text(&marks.wire))
    };
    for device in &station.devices {
        out.push_str(&format!(
            "device {} {:?} at {} {:?} fault {:?}\n",
            device.name.value, device.label, device.terminal.text, device.form, device.fault
        ));
        if device.marks != WireMarks::default() {
            out.push_str(&format!("  {}\n", marked(&device.marks)));
        }
    }
    for load in &station.loads {
        out.push_str(&format!(
            "load {} {:?} {:?} at {} {:?} fault {:?}\n",
            load.name.value, load.label, load.kind, load.terminal.text, load.form, load.fault
        ));
        if load.marks != WireMarks::default() {
            out.push_str(&format!("  {}\n", marked(&load.marks)));
        }
    }
    if let Some(plant) = &station.plant {
        let files: Vec<&str> = plant.files.iter().map(|file| file.value.as_str()).collect();
        let program = plant.program.as_ref().map(|program| program.value.as_str());
        out.push_str(&format!("plant {files:?} {program:?}\n"));
    }
    out
}

#[test]
fn too_large_files_are_refused_unread() {
    let text = "#".repeat(latchwork_bench::station::STATION_BYTES_MAX + 1);
    let (station, diagnostics) = Station::parse(Sources::new().add("station.toml", ""), &text);
    assert!(station.is_none());
    assert_eq!(
        diagnostics.iter().map(|diagnostic| diagnostic.name).collect::<Vec<_>>(),
        ["station-too-large"]
    );

    let many = "[[load]]\nname = \"A\"\nterminal = \"%QX0.0\"\n".repeat(1001);
    let (station, diagnostics) = Station::parse(Sources::new().add("station.toml", ""), &many);
    assert!(station.is_none());
    assert_eq!(
        diagnostics.iter().map(|diagnostic| diagnostic.name).collect::<Vec<_>>(),
        ["station-too-large"]
    );
}

#[test]
fn deep_nesting_is_an_error() {
    let text = format!("device = {}{}", "[".repeat(100_000), "]".repeat(100_000));
    let (station, diagnostics) = Station::parse(Sources::new().add("station.toml", ""), &text);
    assert!(station.is_none());
    assert!(!diagnostics.is_empty());
}

/// Pieces of station files, to be put together at random.
fn piece() -> impl Strategy<Value = String> {
    prop_oneof![
        Just("[[device]]\n".to_string()),
        Just("[[analog]]\n".to_string()),
        Just("[[load]]\n".to_string()),
        Just("[plant]\n".to_string()),
        ("(name|label|contact|action|actuated|released|start|terminal|strip|wire|range|unit|raw|kind|fault|stuck_at|title|files|program|x)",
         "(\"%IX0.0\"|\"%QW1\"|\"A\"|\"ä\"|\"\"|\"normally open\"|\"stuck\"|true|1|-1e400|nan|\\[0, 1\\]|\\[\\]|\\[0, \"a\"\\]|\\[\"a.st\"\\]|\\{\\}|1979-05-27|\"\\\\u0000\"|9999999999999999999999)")
            .prop_map(|(key, value)| format!("{key} = {value}\n")),
        "\\PC{0,8}",
    ]
}

proptest! {
    #[test]
    fn any_pieces_are_read_without_panic(pieces in prop::collection::vec(piece(), 0..24)) {
        let text: String = pieces.concat();
        let (station, diagnostics) = Station::parse(Sources::new().add("station.toml", ""), &text);
        // Either a station, or a reason why not; and every place is one of the text.
        prop_assert!(station.is_some() || !diagnostics.is_empty());
        shown::diagnostics(&text, &diagnostics);
    }

    #[test]
    fn any_text_is_read_without_panic(text in "\\PC{0,60}|[\\[\\]=\"'a.\n\r#{}]{0,60}") {
        let (station, diagnostics) = Station::parse(Sources::new().add("station.toml", ""), &text);
        prop_assert!(station.is_some() || !diagnostics.is_empty());
        shown::diagnostics(&text, &diagnostics);
    }
}
