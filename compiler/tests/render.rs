//! Diagnostics as text, JSON and SARIF: what people and tools are shown, and that no source text however
//! strange gets through to a terminal.

#![allow(missing_docs, clippy::unwrap_used)]

use latchwork_compiler::render::{self, LISTED_MAX, SHOWN_MAX};
use latchwork_grammar::{Diagnostic, FileId, Sources, Span};
use latchwork_vm::{ElementaryType, Fault, FaultKind, FaultPlace, SourcePlace, Value};
use proptest::prelude::*;

const PUMP: &str = "\
PROGRAM Main
VAR_INPUT Start AT %IX0.0 : BOOL; Stop AT %IX0.1 : BOOL; END_VAR
VAR_OUTPUT Pump AT %QX0.0 : BOOL; END_VAR
\tPump = (Start OR Pump) AND Stop;
\tPump := Strat;
END_PROGRAM
";

fn span(sources: &Sources, file: FileId, wanted: &str) -> Span {
    let start = sources.file(file).text.find(wanted).unwrap() as u32;
    Span::new(file, start, start + wanted.len() as u32)
}

/// Three problems in two files, given in the wrong order.
fn example() -> (Sources, Vec<Diagnostic>) {
    let mut sources = Sources::new();
    let pump = sources.add("samples/pump 1.st", PUMP);
    let types = sources.add("types.st", "TYPE\n  Level : REAL;\n  Level : INT;\nEND_TYPE\n");
    let equals = span(&sources, pump, "= (");
    let equals = Span::new(pump, equals.start, equals.start + 1);
    let first = span(&sources, types, "Level : REAL");
    let second = span(&sources, types, "Level : INT");
    let diagnostics = vec![
        Diagnostic::error("duplicate-name", second, "`Level` is declared twice")
            .label("again here")
            .also(first, "first here")
            .also(span(&sources, pump, "Stop AT"), "in another file")
            .note("names are compared without letter case"),
        Diagnostic::warning("unused-variable", span(&sources, pump, "Start"), "`Start` is never used"),
        Diagnostic::error("assignment-operator", equals, "this compares, and the result goes nowhere")
            .label("`=` asks \"are they equal?\"; `:=` stores a value")
            .fix("write `:=` here", equals, ":="),
    ];
    (sources, diagnostics)
}

fn shown(text: &str, diagnostics: &[Diagnostic]) -> String {
    let mut sources = Sources::new();
    sources.add("vent.st", text);
    render::text(diagnostics, &sources, false)
}

fn file() -> FileId {
    FileId(0)
}

#[test]
fn text_shows_the_source_and_the_repair() {
    let (sources, diagnostics) = example();
    insta::assert_snapshot!(render::text(&diagnostics, &sources, false));
}

#[test]
fn text_in_colour_says_the_same_words() {
    let (sources, diagnostics) = example();
    let plain = render::text(&diagnostics, &sources, false);
    let coloured = render::text(&diagnostics, &sources, true);
    assert_ne!(plain, coloured);
    let mut stripped = String::new();
    let mut rest = coloured.as_str();
    while let Some((before, after)) = rest.split_once('\u{1b}') {
        stripped.push_str(before);
        rest = after.split_once('m').unwrap().1;
    }
    stripped.push_str(rest);
    let untrailed = |text: &str| text.lines().map(str::trim_end).collect::<Vec<_>>().join("\n");
    assert_eq!(untrailed(&stripped), untrailed(&plain));
}

#[test]
fn json_is_one_document_in_source_order() {
    let (sources, diagnostics) = example();
    let text = render::json(&diagnostics, &sources);
    let document: serde_json::Value = serde_json::from_str(&text).unwrap();
    let places: Vec<(&str, u64, u64)> = document["diagnostics"]
        .as_array()
        .unwrap()
        .iter()
        .map(|entry| {
            (
                entry["file"].as_str().unwrap(),
                entry["line"].as_u64().unwrap(),
                entry["column"].as_u64().unwrap(),
            )
        })
        .collect();
    assert_eq!(places, [("samples/pump 1.st", 2, 11), ("samples/pump 1.st", 4, 7), ("types.st", 3, 3)]);
    insta::assert_snapshot!(text);
}

#[test]
fn json_without_diagnostics_is_still_a_document() {
    let document: serde_json::Value = serde_json::from_str(&render::json(&[], &Sources::new())).unwrap();
    assert_eq!(document, serde_json::json!({ "schema_version": 1, "diagnostics": [] }));
}

/// Required properties and allowed values of SARIF 2.1.0, from memory of the standard.
#[test]
fn sarif_has_what_the_standard_requires() {
    let (sources, diagnostics) = example();
    let text = render::sarif(&diagnostics, &sources);
    let log: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(log["version"], "2.1.0");
    let runs = log["runs"].as_array().unwrap();
    assert_eq!(runs.len(), 1);
    let driver = &runs[0]["tool"]["driver"];
    assert!(driver["name"].is_string());
    let rules = driver["rules"].as_array().unwrap();
    let results = runs[0]["results"].as_array().unwrap();
    assert_eq!(results.len(), diagnostics.len());
    for result in results {
        assert!(result["message"]["text"].as_str().is_some_and(|text| !text.is_empty()));
        assert!(["none", "note", "warning", "error"].contains(&result["level"].as_str().unwrap()));
        let rule = &rules[result["ruleIndex"].as_u64().unwrap() as usize];
        assert_eq!(rule["id"], result["ruleId"]);
        let related = result["relatedLocations"].as_array().cloned().unwrap_or_default();
        for location in result["locations"].as_array().unwrap().iter().chain(&related) {
            let place = &location["physicalLocation"];
            let uri = place["artifactLocation"]["uri"].as_str().unwrap();
            assert!(!uri.contains(' '));
            region(&place["region"]);
        }
        for fix in result["fixes"].as_array().cloned().unwrap_or_default() {
            let changes = fix["artifactChanges"].as_array().unwrap();
            assert!(!changes.is_empty());
            for change in changes {
                assert!(change["artifactLocation"]["uri"].is_string());
                let replacements = change["replacements"].as_array().unwrap();
                assert!(!replacements.is_empty());
                for replacement in replacements {
                    region(&replacement["deletedRegion"]);
                    assert!(replacement["insertedContent"]["text"].is_string());
                }
            }
        }
    }
    // The pages are tested where they belong; here only that they have come along.
    let mut log = log;
    for rule in log["runs"][0]["tool"]["driver"]["rules"].as_array_mut().unwrap() {
        for key in ["shortDescription", "help"] {
            let page = rule.as_object_mut().unwrap().remove(key);
            assert!(page.is_none_or(|page| page["text"].as_str().is_some_and(|text| !text.is_empty())));
        }
    }
    insta::assert_snapshot!(serde_json::to_string_pretty(&log).unwrap());
}

fn region(region: &serde_json::Value) {
    let number = |key: &str| region[key].as_u64().unwrap();
    assert!(number("startLine") >= 1 && number("startColumn") >= 1);
    assert!(
        (number("endLine"), number("endColumn")) >= (number("startLine"), number("startColumn")),
        "a region ends before it starts"
    );
}

#[test]
fn control_and_direction_characters_are_made_visible() {
    let text = "x := '\u{1b}[2J\u{7}\u{202e}';\n";
    let at = text.find(';').unwrap() as u32;
    let diagnostic = Diagnostic::error("sample", Span::new(file(), at, at + 1), "bad \u{1b}[31m message")
        .label("label \u{7}")
        .note("note \u{202e}");
    insta::assert_snapshot!(shown(text, &[diagnostic]));
}

#[test]
fn a_long_line_is_cropped_around_the_place() {
    let mut text = "a".repeat(500_000);
    text.push('!');
    text.push_str(&"b".repeat(500_000));
    let place = Span::new(file(), 500_000, 500_001);
    let far = Span::new(file(), 10, 12);
    let diagnostic = Diagnostic::error("sample", place, "here").label("this one").also(far, "far away");
    let shown = shown(&text, &[diagnostic]);
    assert!(shown.len() < 2_000, "{} bytes shown", shown.len());
    insta::assert_snapshot!(shown);
}

#[test]
fn places_at_the_end_and_beyond_keep_their_caret() {
    let text = "IF a THEN\n  b := 1;";
    let end = text.len() as u32;
    let diagnostics = [
        Diagnostic::error("at-end", Span::new(file(), end, end), "something is missing")
            .label("expected `END_IF`"),
        Diagnostic::error("beyond", Span::new(file(), end + 9, end + 99), "beyond the text").label("here"),
        Diagnostic::error("line-end", Span::new(file(), 9, 10), "the line end").label("here"),
    ];
    insta::assert_snapshot!(shown(text, &diagnostics));
}

#[test]
fn an_empty_file_has_a_place_too() {
    insta::assert_snapshot!(shown(
        "",
        &[Diagnostic::error("empty", Span::new(file(), 0, 0), "nothing here")]
    ));
}

#[test]
fn short_blocks_are_bracketed_long_ones_marked_at_their_start() {
    let short = "IF a THEN\n  b := 1;\n  c := 1;\nEND_IF";
    let diagnostic =
        Diagnostic::warning("block", Span::new(file(), 0, short.len() as u32), "a block").label("all of it");
    insta::assert_snapshot!("short_block", shown(short, std::slice::from_ref(&diagnostic)));
    let long = format!("IF a THEN\n{}END_IF", "  b := 1;\n".repeat(200));
    let diagnostic =
        Diagnostic::warning("block", Span::new(file(), 0, long.len() as u32), "a block").label("all of it");
    insta::assert_snapshot!("long_block", shown(&long, std::slice::from_ref(&diagnostic)));
}

#[test]
fn wide_characters_and_tabs_keep_the_caret_under_its_place() {
    let text = "\t(* 水 *)\tx := y;\n";
    let at = text.find('y').unwrap() as u32;
    insta::assert_snapshot!(shown(
        text,
        &[Diagnostic::error("sample", Span::new(file(), at, at + 1), "here")]
    ));
}

#[test]
fn the_number_shown_is_capped_and_the_rest_counted() {
    let text = "x;\n".repeat(SHOWN_MAX + 23);
    let diagnostics: Vec<Diagnostic> = (0..SHOWN_MAX as u32 + 23)
        .map(|line| Diagnostic::error("sample", Span::new(file(), line * 3, line * 3 + 1), "wrong"))
        .collect();
    let shown = shown(&text, &diagnostics);
    assert_eq!(shown.matches("error[sample]").count(), SHOWN_MAX);
    assert_eq!(shown.matches("latchwork explain sample").count(), 1);
    assert!(shown.contains("… and 23 more"));
    assert!(shown.ends_with("\n123 errors\n"));
}

#[test]
fn documents_for_tools_have_a_limit_and_say_what_they_leave_out() {
    let mut sources = Sources::new();
    let file = sources.add("vent.st", "x;\n");
    let diagnostics = vec![Diagnostic::error("sample", Span::new(file, 0, 1), "wrong"); LISTED_MAX + 7];
    let json: serde_json::Value = serde_json::from_str(&render::json(&diagnostics, &sources)).unwrap();
    assert_eq!(json["diagnostics"].as_array().unwrap().len(), LISTED_MAX);
    assert_eq!(json["omitted"], 7);
    let sarif: serde_json::Value = serde_json::from_str(&render::sarif(&diagnostics, &sources)).unwrap();
    assert_eq!(sarif["runs"][0]["results"].as_array().unwrap().len(), LISTED_MAX);
    assert_eq!(sarif["runs"][0]["properties"]["omitted"], 7);
}

#[test]
fn a_span_of_unknown_sources_still_gives_its_message() {
    let diagnostic = Diagnostic::error("sample", Span::new(FileId(7), 0, 1), "where is this").note("a note");
    let text = render::text(std::slice::from_ref(&diagnostic), &Sources::new(), false);
    assert!(text.contains("error[sample]: where is this") && text.contains("a note"), "{text}");
    assert!(render::json(std::slice::from_ref(&diagnostic), &Sources::new()).contains("where is this"));
    assert!(render::sarif(&[diagnostic], &Sources::new()).contains("where is this"));
}

#[test]
fn the_summary_counts_in_words() {
    let place = Span::new(file(), 0, 0);
    let error = Diagnostic::error("a", place, "");
    let warning = Diagnostic::warning("b", place, "");
    let count = |errors: usize, warnings: usize| {
        let mut all = vec![error.clone(); errors];
        all.extend(vec![warning.clone(); warnings]);
        render::summary(&all)
    };
    assert_eq!(count(0, 0), "no errors, no warnings");
    assert_eq!(count(1, 0), "1 error");
    assert_eq!(count(2, 1), "2 errors, 1 warning");
    assert_eq!(count(0, 2), "2 warnings");
}

fn subscript_fault(file: &str) -> Fault {
    let signed = |value| Value::Signed(value, ElementaryType::Int);
    Fault {
        kind: FaultKind::Subscript,
        unit: "Main".into(),
        place: Some(FaultPlace {
            file: file.into(),
            place: SourcePlace { file: 0, line: 5, column: 10, end_line: 5, end_column: 15 },
        }),
        scan: 320,
        time_ns: 3_200_000_000,
        values: vec![("index".into(), signed(11)), ("upper bound".into(), signed(9))],
    }
}

#[test]
fn a_fault_points_at_its_source() {
    let (sources, _) = example();
    insta::assert_snapshot!(render::fault(&subscript_fault("samples/pump 1.st"), &sources, false));
}

#[test]
fn a_fault_without_its_source_still_names_the_place() {
    insta::assert_snapshot!(render::fault(&subscript_fault("elsewhere.st"), &Sources::new(), false));
    let mut fault = subscript_fault("samples/pump 1.st");
    fault.place = None;
    assert!(render::fault(&fault, &Sources::new(), false).contains("index 11, upper bound 9"));
    let (sources, _) = example();
    fault = subscript_fault("types.st");
    if let Some(place) = &mut fault.place {
        place.place.line = 4_000_000_000;
    }
    assert!(render::fault(&fault, &sources, false).contains("types.st:4000000000"));
}

/// A caret or a bracket for each label, wherever it points.
fn carets(shown: &str) -> usize {
    shown.lines().filter(|line| line.contains('│') && line.contains('^')).count()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// Any text with any spans is rendered: no panic, no lost caret, nothing that a terminal would obey, no line
    /// much longer than a screen.
    #[test]
    fn any_text_and_any_span_can_be_shown(
        text in prop_oneof![any::<String>(), "[ a\n\r\t\u{0}-\u{20}\u{80}-\u{a0}€水\u{202e}\u{feff}]{0,400}"],
        spans in prop::collection::vec((0_u32..500, 0_u32..500), 1..5),
    ) {
        let text = text.replace('^', "v").replace('│', "|");
        let mut sources = Sources::new();
        let file = sources.add("any\u{1b}.st", text);
        let mut places = spans.iter().map(|(start, end)| Span::new(file, *start, *end));
        let mut diagnostic = Diagnostic::error("any", places.next().unwrap(), "message").label("label");
        for place in places {
            diagnostic = diagnostic.also(place, "other");
        }
        let diagnostics = [diagnostic];
        let shown = render::text(&diagnostics, &sources, false);
        prop_assert!(shown.chars().all(|character| character == '\n' || !character.is_control()), "{shown:?}");
        prop_assert!(shown.chars().all(|character| character as u32 != 0x202e), "{shown:?}");
        prop_assert!(shown.lines().all(|line| line.chars().count() < 800));
        prop_assert!(carets(&shown) >= 1, "the caret is lost:\n{shown}");
        let json: serde_json::Value = serde_json::from_str(&render::json(&diagnostics, &sources)).unwrap();
        prop_assert!(json["diagnostics"][0]["line"].as_u64().unwrap() >= 1);
        let sarif: serde_json::Value = serde_json::from_str(&render::sarif(&diagnostics, &sources)).unwrap();
        region(&sarif["runs"][0]["results"][0]["locations"][0]["physicalLocation"]["region"]);
    }
}
