//! The forms of a report: for people, and for programs that are not ours.

use std::collections::BTreeMap;

use latchwork_bench::coverage::{Figure, Report, render};
use latchwork_vm::Value;
use lcov::{Reader, Record};
use quick_xml::events::Event;

use super::{program::Run, reports::PUMP};

fn pump() -> Report {
    let mut run = Run::new(PUMP);
    run.set("Level", Value::Signed(2, latchwork_vm::ElementaryType::Int));
    run.tests(&["Start", "Stop", "Full"], &["TFF", "FFF", "FTF", "TTF"]);
    run.report()
}

#[test]
fn summaries() {
    insta::assert_snapshot!(render::summary(&pump(), 100));
    let narrow = render::summary(&pump(), 50);
    // The table needs what it needs; running text is broken.
    assert!(narrow.lines().skip(5).all(|line| line.chars().count() <= 64), "{narrow}");
}

#[test]
fn annotated_text() {
    insta::assert_snapshot!(render::annotated(&pump()));
}

#[test]
fn pages() {
    insta::assert_snapshot!(render::html(&pump()));
}

/// Names and comments that try to be something else.
const HOSTILE: &str = "\
PROGRAM Main
VAR a, b, c : BOOL; END_VAR
  (* <script>alert('x')</script> & <img src=x onerror=y> \u{202e} *)
  c := a AND (* </code><b>` *) b;
  IF a < (* <svg/onload=z> *) b THEN c := FALSE; END_IF;
END_PROGRAM
";

fn hostile() -> Report {
    let mut run = Run::of_files(&[("<i>\"a'&\n\u{1b}[31m.st", HOSTILE)]);
    run.tests(&["a", "b"], &["TT", "FT"]);
    run.report()
}

/// The page is well formed, and has no element, attribute or address but ours.
#[test]
fn nothing_of_a_source_becomes_markup() {
    for report in [pump(), hostile()] {
        let page = render::html(&report);
        let mut reader = quick_xml::Reader::from_str(&page);
        let (mut depth, mut text, mut elements) = (0, String::new(), BTreeMap::new());
        loop {
            let event = reader.read_event().unwrap();
            match &event {
                Event::Start(start) | Event::Empty(start) => {
                    let name = start.name().as_ref().to_owned();
                    for attribute in start.attributes() {
                        let attribute = attribute.unwrap();
                        let key = attribute.key.as_ref().to_owned();
                        let value = attribute.value.clone().into_owned();
                        assert!(!key.starts_with("on") && key != "style" && key != "src", "{key}");
                        assert!(key != "href" || value.starts_with('#'), "{value}");
                    }
                    *elements.entry(name).or_insert(0) += 1;
                    depth += i32::from(matches!(event, Event::Start(_)));
                }
                Event::End(_) => depth -= 1,
                Event::Text(part) => text.push_str(part),
                Event::GeneralRef(reference) => {
                    let sign = match &**reference {
                        "lt" => '<',
                        "gt" => '>',
                        "amp" => '&',
                        "quot" => '"',
                        "#39" => '\'',
                        other => panic!("{other}"),
                    };
                    text.push(sign);
                }
                Event::Eof => break,
                _ => {}
            }
        }
        assert_eq!(depth, 0);
        for name in elements.keys() {
            let known = [
                "a", "body", "br", "code", "col", "colgroup", "div", "em", "footer", "h1", "h2", "h3",
                "head", "header", "html", "li", "main", "meta", "meter", "p", "section", "span", "strong",
                "style", "table", "tbody", "td", "th", "thead", "title", "tr", "ul",
            ];
            assert!(known.contains(&name.as_str()), "{name}");
        }
        for line in report.files[0].text.lines() {
            assert!(text.contains(&line.replace('\u{202e}', "\u{fffd}")), "{line}");
        }
        assert!(page.contains("content=\"default-src 'none'; style-src 'sha256-"));
        assert!(!page.contains("://"), "an address");
    }
    let shown = [render::summary(&hostile(), 100), render::annotated(&hostile())];
    for text in shown {
        assert!(text.chars().all(|letter| letter == '\n' || !letter.is_control()), "{text}");
        assert!(!text.contains('\u{202e}'));
    }
}

/// Lines and branches by file, as another reader of LCOV counts them, beside the sums that the file states.
fn read_back(text: &str) -> Vec<(String, [Figure; 2])> {
    let mut files = Vec::new();
    let (mut name, mut lines, mut branches) = (String::new(), Figure::default(), Figure::default());
    let count = |figure: &mut Figure, covered: bool| {
        figure.total += 1;
        figure.covered += usize::from(covered);
    };
    for record in Reader::new(text.as_bytes()) {
        match record.unwrap() {
            Record::SourceFile { path } => name = path.to_string_lossy().into_owned(),
            Record::LineData { count: hits, line, .. } => {
                assert!(line > 0);
                count(&mut lines, hits > 0);
            }
            Record::BranchData { taken, .. } => count(&mut branches, taken.is_some_and(|taken| taken > 0)),
            Record::LinesFound { found } => assert_eq!(found as usize, lines.total),
            Record::LinesHit { hit } => assert_eq!(hit as usize, lines.covered),
            Record::BranchesFound { found } => assert_eq!(found as usize, branches.total),
            Record::BranchesHit { hit } => assert_eq!(hit as usize, branches.covered),
            Record::EndOfRecord => {
                files.push((std::mem::take(&mut name), [lines, branches]));
                (lines, branches) = Default::default();
            }
            Record::TestName { name } => assert_eq!(name, ""),
            other => panic!("{other:?}"),
        }
    }
    files
}

#[test]
fn lcov_files_are_read_back_with_the_same_figures() {
    insta::assert_snapshot!(render::lcov(&pump()));
    let mut run = Run::of_files(&[
        ("plant/types.st", "TYPE Level : INT; END_TYPE"),
        ("plant/a b.st", PUMP),
        (
            "other.il",
            "FUNCTION Either : BOOL VAR_INPUT x, y : BOOL; END_VAR\nLD x\nOR y\nST Either\nRETC\nEND_FUNCTION\n",
        ),
    ]);
    for tests in [[].as_slice(), &["TFF"], &["FFF", "TFT", "FTF"]] {
        run.tests(&["Start", "Stop", "Full"], tests);
        let report = run.report();
        let found = read_back(&render::lcov(&report));
        let names: Vec<&str> = found.iter().map(|(name, _)| name.as_str()).collect();
        assert_eq!(names, ["plant/a b.st", "other.il"]);
        let mut branches = Figure::default();
        for (_, [_, of_file]) in &found {
            branches.total += of_file.total;
            branches.covered += of_file.covered;
        }
        assert_eq!(branches, report.figures.branches);
        for ((name, [lines, _]), file) in found.iter().zip(1..) {
            let marks = latchwork_bench::coverage::lines(&report, file);
            let hits: Vec<bool> = marks.iter().filter_map(|line| line.hit).collect();
            assert_eq!(lines.total, hits.len(), "{name}");
            assert_eq!(lines.covered, hits.iter().filter(|hit| **hit).count(), "{name}");
        }
    }
    // Nothing was run of a function that nobody calls.
    assert_eq!(
        read_back(&render::lcov(&run.report()))[1].1,
        [Figure { covered: 0, total: 4 }, Figure { covered: 0, total: 2 }]
    );
}

#[test]
fn lcov_names_stay_in_their_line() {
    let found = read_back(&render::lcov(&hostile()));
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].0, "<i>\"a'&\u{fffd}\u{fffd}[31m.st");
}

#[test]
fn json_documents() {
    let text = render::json(&pump());
    let document: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(document["schema_version"], 1);
    assert_eq!(document["figures"]["statements"]["total"], 15);
    let decision = &document["units"][0]["decisions"][0];
    assert_eq!(decision["text"], "(Start OR Run) AND NOT Stop AND NOT Full");
    let vectors = decision["vectors"].as_array().unwrap();
    let shown = &decision["conditions"][2]["unique_cause"];
    for pair in ["when_false", "when_true"] {
        assert!(vectors.iter().any(|vector| vector["conditions"] == shown[pair]), "{shown}");
    }
    insta::assert_snapshot!(format!("{:#}", decision));
}
