//! The documents for other programs: well-formed, of the form that is told, the same bytes each time.

use insta::assert_snapshot;
use latchwork_bench::{
    class::{junit::JunitWriter, results_json::ResultsWriter},
    marking::{FindingKind, Gravity, ItemVerdict, Marked, MarkingScheme, Points, State},
};
use quick_xml::{Reader, events::Event};
use serde_json::Value;

use crate::{
    made::{divergence, finding, finished, in_state, ran, scheme},
    schema,
};

/// A title that would break most formats.
const HOSTILE: &str = "<b a=\"x\">&amp; ]]> 'q' \u{1b}[2J \r\n tab\t \u{fffe}é";

fn mixed() -> (MarkingScheme, Vec<Marked>) {
    let mut scheme = scheme(&[100, 250, 400]);
    scheme.items[1].title = HOSTILE.to_owned();
    scheme.items[2].hint = Some("Look at the float switch.".to_owned());
    let mut partly = ran("bolin", &scheme, &[100, 125, 0]);
    partly.student.name = Some("Bolin Tsai-Ferreira".to_owned());
    partly.items[1].met = Some((3, 6));
    partly.items[1].failure = Some(divergence(12, "expect-within", 1_250_000_000));
    partly.items[2].verdict = ItemVerdict::Refused;
    partly.deducted = Points::of(0.25);
    partly.total = Points::of(2.0);
    partly.findings = vec![finding(FindingKind::Constraint, "lines-max", Gravity::Error, "80 lines of 60")];
    let mut wrong = in_state(HOSTILE, &scheme, State::NotCompiled);
    wrong.findings = vec![
        finding(FindingKind::Compile, "unknown-name", Gravity::Error, "there is no `Pomp` ]]>"),
        finding(FindingKind::Compile, "unused-variable", Gravity::Warning, "`A` is never used"),
    ];
    wrong.files[0].encoding = None;
    let all = [
        ran("adeline", &scheme, &[100, 250, 400]),
        partly,
        wrong,
        in_state("dora", &scheme, State::NothingHandedIn),
        in_state("emil", &scheme, State::InternalFault),
    ];
    (scheme, all.into())
}

fn json(scheme: &MarkingScheme, marked: &[Marked]) -> String {
    let mut text = String::new();
    let mut writer = ResultsWriter::begin(scheme, &mut text).unwrap();
    for one in marked {
        writer.student(one, &mut text).unwrap();
    }
    writer.finish(&finished(scheme, marked), true, &mut text).unwrap();
    text
}

fn junit(scheme: &MarkingScheme, marked: &[Marked]) -> String {
    let mut text = String::new();
    let mut writer = JunitWriter::begin(scheme, &mut text).unwrap();
    for one in marked {
        writer.student(one, &mut text).unwrap();
    }
    writer.finish(&mut text).unwrap();
    text
}

#[test]
fn the_json_document() {
    let (scheme, marked) = mixed();
    let text = json(&scheme, &marked);
    assert_snapshot!(text);
    let document: Value = serde_json::from_str(&text).unwrap();
    assert_eq!(document["students"][2]["id"], HOSTILE);
    assert_eq!(document["students"][4]["total"], Value::Null);
    assert_eq!(text, json(&scheme, &marked));
}

#[test]
fn the_json_document_fits_its_schema() {
    let (scheme, marked) = mixed();
    let fits = |text: &str| schema::differences(&serde_json::from_str(text).unwrap());
    assert_eq!(fits(&json(&scheme, &marked)), [] as [String; 0]);
    assert_eq!(fits(&json(&scheme, &[])), [] as [String; 0]);
    // Enough students for every figure to be a number.
    let many: Vec<Marked> = (0..40i64)
        .map(|number| {
            let earned = [[100, 0][usize::from(number % 3 == 0)], number * 6, 10 * number];
            ran(&number.to_string(), &scheme, &earned)
        })
        .collect();
    let text = json(&scheme, &many);
    assert_eq!(fits(&text), [] as [String; 0]);
    // The test must be able to fail.
    assert_eq!(fits(&text.replace("\"state\":\"ran\"", "\"state\":\"went\"")).len(), 40);
    assert_eq!(fits(&text.replace("\"complete\"", "\"whole\"")).len(), 2);
}

#[test]
fn the_xml_document() {
    let (scheme, marked) = mixed();
    assert_snapshot!(junit(&scheme, &marked));
}

#[test]
fn a_reader_of_xml_finds_every_case_and_counts_what_is_told() {
    let (scheme, marked) = mixed();
    let text = junit(&scheme, &marked);
    let mut reader = Reader::from_str(&text);
    let (mut told, mut found) = ([0u32; 4], [0u32; 4]);
    let mut suites = Vec::new();
    loop {
        let start = match reader.read_event().unwrap() {
            Event::Start(start) | Event::Empty(start) => start,
            Event::Eof => break,
            _ => continue,
        };
        let attribute = |name: &str| {
            let value = start.attributes().map(|it| it.unwrap()).find(|it| it.key.as_ref() == name)?.value;
            Some(quick_xml::escape::unescape(&value).unwrap().into_owned())
        };
        match start.name().as_ref() {
            "testsuite" => {
                suites.push(attribute("name").unwrap());
                for (sum, name) in told.iter_mut().zip(["tests", "failures", "errors", "skipped"]) {
                    *sum += attribute(name).unwrap().parse::<u32>().unwrap();
                }
            }
            "testcase" => found[0] += 1,
            "failure" => found[1] += 1,
            "error" => found[2] += 1,
            "skipped" => found[3] += 1,
            _ => {}
        }
    }
    assert_eq!(told, found);
    assert_eq!(found, [15, 1, 10, 0]);
    assert_eq!(suites.len(), marked.len());
    assert_eq!(suites[2], HOSTILE.replace(['\u{1b}', '\u{fffe}'], "\u{fffd}"));
}
