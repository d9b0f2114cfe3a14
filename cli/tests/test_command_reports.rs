//! The reports of `latchwork test`, read by readers that are not ours: `quick-xml`, and the Python packages
//! `junitparser` and `jsonschema`.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use std::{env, io::Write, process::Command};

use bench::{
    Folder,
    procedures::{BENCH, failing, folder, passing, refused, write},
};
use quick_xml::{Reader, events::Event};

/// A title that would break most formats, as a text of the standard.
const HOSTILE: &str = "<a href=\"x\">&amp; ]]> $'quoted$' $1B[2J $R$N tab$T, é end";

/// The same as it is meant.
const MEANT: &str = "<a href=\"x\">&amp; ]]> 'quoted' \u{1b}[2J \r\n tab\t, é end";

/// The same as it can be written in XML.
const IN_XML: &str = "<a href=\"x\">&amp; ]]> 'quoted' \u{fffd}[2J \r\n tab\t, é end";

fn mixed() -> Folder {
    let folder = folder();
    write(&folder, "a.steps", &[passing("one"), failing("two"), refused("three"), failing(HOSTILE)]);
    folder.write("b & c.steps", BENCH.replace("pump.st", "pump.st'; program 'twin.st") + &passing("four"));
    folder.write("twin.st", folder.read("pump.st"));
    folder.write("syntax.steps", "procedure\n");
    folder
}

#[derive(Debug, Default, PartialEq)]
struct Case {
    name: String,
    suite: String,
    outcome: String,
    kind: String,
    text: String,
    points: String,
}

/// All cases; panics where the document is not well-formed.
fn cases(document: &str) -> Vec<Case> {
    let mut reader = Reader::from_str(document);
    let mut cases = Vec::new();
    let mut case = Case::default();
    let mut suite = String::new();
    let mut depth = 0;
    loop {
        let event = reader.read_event().unwrap();
        let start = match &event {
            Event::Start(start) => {
                depth += 1;
                Some(start)
            }
            Event::Empty(start) => Some(start),
            _ => None,
        };
        if let Some(start) = start {
            let attribute = |name: &str| {
                let found = start.attributes().map(|attribute| attribute.unwrap());
                let value =
                    found.filter(|attribute| attribute.key.as_ref() == name).map(|found| found.value).next();
                value
                    .map(|value| quick_xml::escape::unescape(&value).unwrap().into_owned())
                    .unwrap_or_default()
            };
            match start.name().as_ref() {
                "testsuite" => suite = attribute("name"),
                "testcase" => {
                    case = Case { name: attribute("name"), suite: suite.clone(), ..Case::default() };
                }
                "property" if attribute("name") == "points_reached" => case.points = attribute("value"),
                element @ ("failure" | "error" | "skipped") => {
                    case.outcome = element.to_string();
                    case.kind = attribute("type");
                }
                _ => {}
            }
        }
        match event {
            Event::End(end) => {
                depth -= 1;
                if end.name().as_ref() == "testcase" {
                    cases.push(std::mem::take(&mut case));
                }
            }
            Event::Text(text) => case.text.push_str(&text),
            Event::GeneralRef(reference) => {
                let reference = format!("&{};", &*reference);
                case.text.push_str(&quick_xml::escape::unescape(&reference).unwrap());
            }
            Event::Eof => break,
            _ => {}
        }
    }
    assert_eq!(depth, 0);
    cases
}

#[test]
fn a_reader_of_xml_finds_every_case() {
    let folder = mixed();
    folder.run("test --junit out.xml").expect(2);
    let document = String::from_utf8(folder.read("out.xml")).unwrap();
    let found = cases(&document);
    let told: Vec<(&str, &str, &str, &str)> = found
        .iter()
        .map(|case| (case.suite.as_str(), case.name.as_str(), case.outcome.as_str(), case.kind.as_str()))
        .collect();
    assert_eq!(
        told,
        [
            ("a.steps (pump.st)", "one", "", ""),
            ("a.steps (pump.st)", "two", "failure", "expect-now"),
            ("a.steps (pump.st)", "three", "error", "procedure-unknown-device"),
            ("a.steps (pump.st)", IN_XML, "failure", "expect-now"),
            ("b & c.steps (pump.st)", "four", "", ""),
            ("b & c.steps (twin.st)", "four", "", ""),
            ("syntax.steps", "(the file)", "error", "steps-unclosed-block"),
        ]
    );
    assert_eq!(
        found.iter().map(|case| case.points.as_str()).collect::<Vec<_>>(),
        ["1", "0", "0", "0", "1", "1", "0"]
    );
    assert!(found[1].text.contains("failed[expect-now]: `Pump` is FALSE"), "{}", found[1].text);
    assert!(found[1].text.contains("a.steps:12:10") && found[1].text.contains('━'), "{}", found[1].text);
    assert!(!document.contains("time="), "a clock got into the report");
    insta::assert_snapshot!(document);
}

#[test]
fn json_tells_everything() {
    let folder = mixed();
    let shown = folder.run("test --format json --json out.json").expect(2).out;
    assert_eq!(shown.as_bytes(), folder.read("out.json"));
    let document: serde_json::Value = serde_json::from_str(&shown).unwrap();
    assert_eq!(document["results"][3]["title"], MEANT);
    assert!(!shown.contains("took_ns"));
    let timed = folder.run("test --format json --timings").expect(2).out;
    assert_eq!(timed.matches("took_ns").count(), 7);
    insta::assert_snapshot!(shown);
}

#[test]
fn timings_are_told_where_they_are_asked_for() {
    let folder = mixed();
    let ran = folder.run("test a.steps --timings --junit out.xml");
    assert!(ran.out.contains("took ") && ran.out.contains(" ms"), "{}", ran.shown());
    let document = String::from_utf8(folder.read("out.xml")).unwrap();
    // All, the suite, and each of four cases.
    assert_eq!(document.matches(" time=\"").count(), 6, "{document}");
}

#[test]
fn reports_never_write_over_what_is_read() {
    let folder = mixed();
    folder.write("bench.steps", "program 'pump.st';\n");
    folder
        .write("d.steps", "include 'bench.steps';\nstation 'station.toml';\n".to_string() + &passing("five"));
    for input in ["pump.st", "station.toml", "a.steps", "bench.steps", "twin.st"] {
        let before = folder.read(input);
        let ran = folder.run(&format!("test --junit {input}")).expect(2);
        assert!(ran.err.contains("is read"), "{}", ran.shown());
        folder.run(&format!("test --json {input}")).expect(2);
        assert_eq!(folder.read(input), before);
    }
}

#[cfg(unix)]
#[test]
fn a_report_that_cannot_be_written_is_told_before_the_run() {
    let folder = mixed();
    for path in ["missing/out.xml", ".", "/dev/null/out.xml"] {
        let ran = folder.run(&format!("test --junit {path}")).expect(2);
        assert!(ran.out.is_empty() && !ran.err.is_empty(), "{}", ran.shown());
    }
    folder.run("test a.steps --name one --junit /dev/null --json /dev/null").expect(0);
}

const READ_JUNIT: &str = r#"
import sys
from junitparser import JUnitXml
def told(case):
    kinds = [type(result).__name__ for result in case.result]
    points = {p.name: p.value for p in case.properties()} if hasattr(case, "properties") else {}
    return "\t".join([case.classname, repr(case.name), ",".join(kinds)])
report = JUnitXml.fromfile(sys.argv[1])
print(report.tests, report.failures, report.errors, report.skipped)
for suite in report:
    print(suite.name, suite.tests, suite.failures, suite.errors, [(p.name, p.value) for p in suite.properties()])
    for case in suite:
        print(told(case))
"#;

const VALIDATE: &str = r#"
import json, sys
from jsonschema import Draft202012Validator
schema = json.load(open(sys.argv[1]))
Draft202012Validator.check_schema(schema)
validator = Draft202012Validator(schema)
for path in sys.argv[2:]:
    for error in validator.iter_errors(json.load(open(path))):
        print(path, list(error.absolute_path), error.message)
"#;

/// Runs a script that needs a package; `None` where it is missing, unless `LATCHWORK_PYTHON` names an interpreter, as
/// the continuous integration does.
fn python(package: &str, script: &str, arguments: &[std::path::PathBuf]) -> Option<String> {
    let demanded = env::var("LATCHWORK_PYTHON").ok();
    let python = demanded.clone().unwrap_or_else(|| "python3".to_owned());
    let import = format!("import {package}");
    if !Command::new(&python).args(["-c", &import]).output().is_ok_and(|run| run.status.success()) {
        assert!(demanded.is_none(), "{python} has no package {package}");
        let _ = writeln!(std::io::stderr(), "skipped: no Python with the package {package}");
        return None;
    }
    let run = Command::new(&python).args(["-c", script]).args(arguments).output().unwrap();
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    Some(String::from_utf8(run.stdout).unwrap())
}

#[test]
fn the_python_reader_of_junit_finds_every_case() {
    let folder = mixed();
    folder.run("test --junit out.xml --timings").expect(2);
    let Some(told) = python("junitparser", READ_JUNIT, &[folder.path("out.xml")]) else { return };
    insta::assert_snapshot!(told);
}

#[test]
fn the_json_document_fits_its_schema() {
    let folder = mixed();
    folder.run("test --json all.json").expect(2);
    folder.run("test --json stopped.json --fail-fast --timings").expect(1);
    folder.run("test a.steps --json passed.json --name one").expect(0);
    let schema = concat!(env!("CARGO_MANIFEST_DIR"), "/schemas/test-results.json").into();
    let documents = ["all.json", "stopped.json", "passed.json"].map(|name| folder.path(name));
    let arguments: Vec<_> = std::iter::once(schema).chain(documents).collect();
    let Some(told) = python("jsonschema", VALIDATE, &arguments) else { return };
    assert_eq!(told, "");
}
