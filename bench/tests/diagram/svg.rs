//! The SVG: well-formed, complete, small, and harmless whatever the names are.

use std::collections::BTreeSet;

use latchwork_bench::diagram::{Diagram, DiagramOptions, mark::Mark};
use latchwork_bench::recording::Recording;
use latchwork_bench::render::svg;
use proptest::prelude::*;
use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

use crate::recordings::{self, MS, Maker, int};

fn drawn(recording: &Recording) -> String {
    svg(&Diagram::new(recording, &DiagramOptions::default()))
}

/// An element: its name, its attributes, the text directly in it.
#[derive(Debug, Default)]
struct Element {
    name: String,
    attributes: Vec<(String, String)>,
    text: String,
}

impl Element {
    fn attribute(&self, name: &str) -> Option<&str> {
        self.attributes.iter().find(|(known, _)| known == name).map(|(_, value)| value.as_str())
    }
}

/// All elements of a document, in order; panics where it is not well-formed.
fn elements(document: &str) -> Vec<Element> {
    let mut reader = Reader::from_str(document);
    let mut elements: Vec<Element> = Vec::new();
    let mut open: Vec<usize> = Vec::new();
    let element = |start: &BytesStart<'_>| Element {
        name: start.name().as_ref().to_owned(),
        attributes: start
            .attributes()
            .map(|attribute| {
                let attribute = attribute.expect("attributes are well-formed");
                let value =
                    quick_xml::escape::unescape(&attribute.value).expect("values are escaped").into_owned();
                (attribute.key.as_ref().to_owned(), value)
            })
            .collect(),
        text: String::new(),
    };
    loop {
        match reader.read_event().expect("the document is well-formed") {
            Event::Start(start) => {
                open.push(elements.len());
                elements.push(element(&start));
            }
            Event::Empty(start) => elements.push(element(&start)),
            Event::End(_) => {
                open.pop().expect("an end has a start");
            }
            Event::Text(text) => match open.last() {
                Some(index) => elements[*index].text.push_str(&text),
                None => assert!(text.trim().is_empty(), "text outside of the root"),
            },
            Event::GeneralRef(reference) => {
                let reference = format!("&{};", &*reference);
                let text = quick_xml::escape::unescape(&reference).expect("references are known");
                let index = open.last().expect("references stand in elements");
                elements[*index].text.push_str(&text);
            }
            Event::Decl(_) => {}
            Event::Eof => break,
            other => panic!("unexpected {other:?}"),
        }
    }
    assert!(open.is_empty());
    elements
}

#[test]
fn transfer_pump() {
    insta::assert_snapshot!(drawn(&recordings::transfer_pump()));
}

#[test]
fn numbers_and_texts() {
    insta::assert_snapshot!(drawn(&recordings::numbers_and_texts()));
}

#[test]
fn marks_stand_above_the_rows() {
    let recording = recordings::transfer_pump();
    let marks = vec![
        Mark::span("allowed", 2_800 * MS, 2_900 * MS, "until 2.9 s"),
        Mark::span("throughout", -MS, 90_000 * MS, "a < b & c"),
        Mark::moment("seen", 2_950 * MS, "TRUE"),
        Mark::moment("outside", 90_000 * MS, "later"),
    ];
    let picture = svg(&Diagram::new(&recording, &DiagramOptions::default()).with_marks(marks));
    let elements = elements(&picture);
    let texts: Vec<&str> = elements
        .iter()
        .filter(|element| element.name == "text")
        .map(|element| element.text.as_str())
        .collect();
    for text in ["allowed", "until 2.9 s", "a < b & c", "seen"] {
        assert!(texts.contains(&text), "{text}: {texts:?}");
    }
    assert!(!texts.contains(&"outside"), "{texts:?}");
    let paths =
        |class: &str| elements.iter().filter(|element| element.attribute("class") == Some(class)).count();
    assert_eq!((paths("lw-mark"), paths("lw-shade"), paths("lw-head")), (2, 2, 1));
    insta::assert_snapshot!(
        picture.lines().filter(|line| line.starts_with("<g><title>")).collect::<Vec<_>>().join("\n")
    );
}

/// The texts of a picture, and what its description tells, line by line.
fn told(document: &str) -> String {
    let elements = elements(document);
    let texts = elements.iter().filter(|element| ["desc", "title", "text"].contains(&element.name.as_str()));
    texts.map(|element| format!("{}: {}\n", element.name, element.text)).collect()
}

#[test]
fn ten_minutes() {
    let document = drawn(&recordings::ten_minutes());
    insta::assert_snapshot!(document);
    let elements = elements(&document);
    let paths =
        |class: &str| elements.iter().filter(|element| element.attribute("class") == Some(class)).count();
    // A tear, its edges and its signs in each group.
    assert_eq!((paths("lw-tear"), paths("lw-edge"), paths("lw-slash")), (3, 3, 3));
    assert!(document.contains("class=\"lw-busy\"") || document.contains("lw-output"), "the pulse is there");
}

#[test]
fn what_happened_is_marked_and_told() {
    let document = drawn(&recordings::incidents());
    insta::assert_snapshot!(told(&document));
    let elements = elements(&document);
    let hairs = elements.iter().filter(|element| element.attribute("class") == Some("lw-hair")).count();
    assert_eq!(hairs, 5);
}

#[test]
fn steps_of_charts_are_bands() {
    insta::assert_snapshot!(drawn(&recordings::chart()));
}

#[test]
fn texts_that_are_cut_are_whole_in_their_titles() {
    let long = "a tray of very young seedlings that need shade & <quiet>";
    let values = [(0, "basil"), (500, long), (700, "end")];
    let values = values.map(|(scan, text)| (scan, latchwork_vm::Value::String(text.as_bytes().to_vec())));
    let recording = Maker::new("Texts", 10 * MS, 1_000).variable("Tray", values.to_vec()).finish();
    let elements = elements(&drawn(&recording));
    let cut = elements.iter().position(|element| element.name == "text" && element.text.ends_with('…'));
    let cut = cut.expect("a text is cut");
    assert!(elements[cut].text.starts_with("'a tray of very"), "{:?}", elements[cut]);
    assert_eq!(
        (elements[cut + 1].name.as_str(), elements[cut + 1].text.clone()),
        ("title", format!("'{long}'"))
    );
}

#[test]
fn a_pulse_of_one_scan_is_seen_beside_a_fold() {
    let elements = elements(&drawn(&recordings::ten_minutes()));
    let row = elements.iter().position(|element| element.text.starts_with("Pulse, output"));
    let shapes = &elements[row.expect("the row is there")..];
    let wave = shapes.iter().find(|element| element.attribute("class") == Some("lw-wave"));
    let wave = wave.and_then(|wave| wave.attribute("d")).unwrap_or_default();
    let bar = shapes.iter().take(12).any(|element| element.attribute("class") == Some("lw-busy"));
    assert!(bar || wave.contains("v-18h1v18") || wave.contains("v-18h2v18"), "{wave}");
}

#[test]
fn the_curve_of_a_number_is_a_line_of_few_points() {
    // A parabola, which no straight line is: every scan changes it.
    let share = |scan: u32| f64::from(scan) / 6_000.0;
    let rise = |scan: u32| (scan, latchwork_vm::Value::Lreal(60.0 * share(scan) * share(scan)));
    let recording =
        Maker::new("Warming", 10 * MS, 6_000).variable("Air", (0..6_000).map(rise).collect()).finish();
    let wave = wave(&recording);
    let points: Vec<(f64, f64)> = wave
        .split('L')
        .skip(1)
        .filter_map(|point| point.trim_end_matches("H900").split_once(' '))
        .filter_map(|(x, y)| Some((x.parse().ok()?, y.parse().ok()?)))
        .collect();
    assert!((5..60).contains(&points.len()), "{wave}");
    for (x, y) in points {
        // 900 units for 60 s; the curve is 44 units high.
        let expected = 44.0 * (1.0 - (x / 900.0) * (x / 900.0));
        assert!((y - expected).abs() < 1.0, "{x} {y} instead of {expected}");
    }
}

#[test]
fn hostile_sizes_and_numbers_are_drawn() {
    let mut maker = Maker::new("Many", 10 * MS, 60_000);
    let numbers = [f64::NAN, f64::MAX, f64::MIN, f64::INFINITY, f64::MIN_POSITIVE, -0.0, f64::NEG_INFINITY];
    for row in 0..2_000u32 {
        let values = numbers
            .iter()
            .zip(0..)
            .map(|(number, at)| (row + at * 3, latchwork_vm::Value::Lreal(*number / f64::from(row + 1))));
        maker = maker.variable(&format!("Row{row}"), values.collect());
    }
    let recording = maker.finish();
    let document = drawn(&recording);
    let listed =
        elements(&document).iter().filter(|element| element.attribute("role") == Some("listitem")).count();
    assert_eq!(listed, 2_000);
    assert!(
        !document.contains("NaN") && !document.contains("inf"),
        "numbers are written as the standard does"
    );
}

#[test]
fn it_says_what_it_is_and_has_a_group_for_each_row() {
    let elements = elements(&drawn(&recordings::transfer_pump()));
    let root = &elements[0];
    assert_eq!(root.name, "svg");
    assert_eq!(root.attribute("xmlns"), Some("http://www.w3.org/2000/svg"));
    assert_eq!(root.attribute("role"), Some("img"));
    assert_eq!(root.attribute("aria-label"), Some("Timing diagram: Transfer pump"));
    assert_eq!(
        (elements[1].name.as_str(), elements[1].text.as_str()),
        ("title", "Timing diagram: Transfer pump")
    );
    assert_eq!(elements[2].name, "desc");
    assert!(elements[2].text.contains("3 changes on 1 output"), "{}", elements[2].text);
    let groups: Vec<&str> = elements
        .iter()
        .filter(|element| element.attribute("role") == Some("list"))
        .filter_map(|element| element.attribute("aria-label"))
        .collect();
    assert_eq!(groups, ["Devices and terminals", "Outputs", "Variables"]);
    let rows: Vec<&str> = elements
        .iter()
        .filter(|element| element.attribute("role") == Some("listitem"))
        .filter_map(|element| element.attribute("class"))
        .collect();
    assert_eq!(
        rows,
        [
            "lw-device",
            "lw-terminal",
            "lw-device",
            "lw-terminal",
            "lw-output",
            "lw-variable",
            "lw-variable",
            "lw-variable"
        ]
    );
    let texts: BTreeSet<&str> = elements
        .iter()
        .filter(|element| element.name == "text")
        .map(|element| element.text.as_str())
        .collect();
    for text in [
        "StartPB",
        "device NO",
        "device NC",
        "terminal %IX0.1",
        "output %QX0.0, transfer pump",
        "pressed",
        "at rest",
        "Filling",
        "T#2s",
        "5 s",
    ] {
        assert!(texts.contains(text), "no {text} in {texts:?}");
    }
}

#[test]
fn it_stands_alone() {
    let document = drawn(&recordings::transfer_pump());
    let known = ["svg", "title", "desc", "style", "rect", "text", "g", "path"];
    for element in elements(&document) {
        assert!(known.contains(&element.name.as_str()), "{element:?}");
        assert!(element.attribute("href").is_none() && element.attribute("id").is_none(), "{element:?}");
    }
    for outside in ["url(", "<script", "onload", "@import", "@font-face", "xlink", "<script"] {
        assert!(!document.contains(outside), "{outside}");
    }
    for needed in ["prefers-color-scheme:dark", "@media print", "system-ui"] {
        assert!(document.contains(needed), "{needed}");
    }
}

#[test]
fn a_wiring_fault_is_named_in_the_device_row() {
    let elements = elements(&drawn(&recordings::open_wire()));
    let fault = elements.iter().find(|element| element.attribute("class") == Some("lw-fault"));
    assert_eq!(fault.map(|element| element.text.as_str()), Some("device NC, open wire"));
}

/// The wave of the first row, as lists of numbers behind their letters.
fn wave(recording: &Recording) -> String {
    let elements = elements(&drawn(recording));
    let path = elements.iter().find(|element| element.attribute("class") == Some("lw-wave"));
    path.and_then(|path| path.attribute("d")).expect("the row has a wave").to_owned()
}

#[test]
fn waves_are_where_the_edges_are() {
    // 900 units for 900 scans: one unit a scan. The upper level is at 0, the lower at 18.
    let recording =
        Maker::new("Edges", 10 * MS, 900).terminal("Start", "%IX0.0", None, false, &[100, 250, 400]).finish();
    assert_eq!(wave(&recording), "M0 18h100v-18h150v18h150v-18h500");
    let steps = vec![(0, int(0)), (90, int(10)), (450, int(5))];
    let recording = Maker::new("Steps", 10 * MS, 900).variable("Trays", steps).finish();
    assert_eq!(wave(&recording), "M0 18H90V0H450V9H900");
}

#[test]
fn ramps_are_slanted_lines() {
    let recording = recordings::transfer_pump();
    let elements = elements(&drawn(&recording));
    let waves: Vec<&str> = elements
        .iter()
        .filter(|element| element.attribute("class") == Some("lw-wave"))
        .filter_map(|element| element.attribute("d"))
        .collect();
    // The timer starts in scan 40, is at its preset of 2 s from scan 240 to 280, starts again in scan 380 and gets
    // there in scan 580; one scan is 1.5 units, and the curve is 44 high. What moves first is seen one scan after the start.
    assert_eq!(waves[5], "M0 44H61.5V43.8L360 0H420V44H571.5V43.8L870 0H900");
}

#[test]
fn numbers_that_are_none_break_the_line() {
    let values = [0.5, f64::NAN, 1.5, f64::INFINITY].iter().zip([0, 90, 180, 270]);
    let values = values.map(|(number, scan)| (scan, latchwork_vm::Value::Lreal(*number))).collect();
    let recording = Maker::new("Gaps", 10 * MS, 900).variable("Share", values).finish();
    assert_eq!(wave(&recording), "M0 18H90M180 0H270");
    // The same in a run of more steps than are drawn one by one.
    let number = |scan: u32| if scan < 450 { f64::from(scan % 2) } else { f64::NAN };
    let values = (0..900).map(|scan| (scan, latchwork_vm::Value::Lreal(number(scan)))).collect();
    let recording = Maker::new("Gaps", 10 * MS, 900).variable("Share", values).finish();
    let wave = wave(&recording);
    assert!(wave.starts_with("M0 44h1v-44h1v44"), "{wave}");
    let right: i64 =
        wave.split(['v', 'M', ' ']).filter_map(|part| part.split_once('h')?.1.parse::<i64>().ok()).sum();
    assert_eq!(right, 450, "{wave}");
}

#[test]
fn pulses_closer_than_the_picture_resolves_are_bars() {
    let elements = elements(&drawn(&recordings::million_scans()));
    let bars: Vec<&str> = elements
        .iter()
        .filter(|element| element.attribute("class") == Some("lw-busy"))
        .filter_map(|element| element.attribute("d"))
        .collect();
    assert_eq!(bars.len(), 2, "{bars:?}");
    // The lonely pulse at 412.345 s of 1000 s: column 371 of 900, one unit wide; a bar is never thinner than two.
    assert_eq!(bars[0], format!("M{} 9h2", 412_345 * 900 / 1_000_000));
    assert!(elements.iter().any(|element| element.text.contains("A solid bar: several changes within")));
}

#[test]
fn fifty_signals_of_a_thousand_edges_stay_below_200_kilobytes() {
    let mut state: u32 = 99;
    let mut random = move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        state >> 16
    };
    for gap in [10, 19, 40, 200] {
        let mut maker = Maker::new("Many edges", MS, 1_000 * gap);
        for row in 0..50u32 {
            let name = format!("Hall.Bay[{row}].Valve");
            let mut toggles = BTreeSet::new();
            while toggles.len() < 1_000 {
                toggles.insert(1 + random() % (1_000 * gap - 1));
            }
            maker =
                maker.terminal(&name, "%IX0.0", None, row % 2 == 0, &toggles.into_iter().collect::<Vec<_>>());
        }
        let size = drawn(&maker.finish()).len();
        assert!(size < 200_000, "{size} bytes with {gap} scans an edge");
    }
    // Evenly spaced edges leave no column with two of them: the most expensive case for two-state rows; numbers
    // that jump about are the most expensive of all.
    let mut maker = Maker::new("Many edges", MS, 10_000);
    let even: Vec<u32> = (1..1_000).map(|edge| edge * 10).collect();
    for row in 0..50 {
        if row < 20 {
            maker = maker.terminal(&format!("Even{row}"), "%IX0.0", None, false, &even);
            continue;
        }
        let values = (0..1_000).map(|change| (change * 10, int(i64::from(random() % 1_000)))).collect();
        maker = maker.variable(&format!("Jump{row}"), values);
    }
    let size = drawn(&maker.finish()).len();
    assert!(size < 200_000, "{size} bytes");
}

#[test]
fn hostile_names_are_only_text() {
    let document = drawn(&recordings::hostile_names());
    let elements = elements(&document);
    assert!(elements.iter().all(|element| element.name != "script" && element.name != "b"));
    assert!(elements.iter().any(|element| element.text == "<b>?[2J & \"Wasser\" 水 ]]>"));
}

#[test]
fn a_diagram_without_scans_is_a_picture_too() {
    let elements = elements(&drawn(&recordings::empty()));
    assert!(elements.iter().any(|element| element.text.contains("No scan was recorded.")));
}

proptest! {
    #[test]
    fn any_recording_is_well_formed_and_the_same_twice(recording in recordings::any_recording()) {
        let document = drawn(&recording);
        let rows = elements(&document).iter().filter(|element| element.attribute("role") == Some("listitem")).count();
        prop_assert_eq!(rows, recording.rows.len());
        prop_assert_eq!(document, drawn(&recording));
    }
}
