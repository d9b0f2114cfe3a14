//! Pages of feedback for a small class: what they say, what they never say, and that they are whole.

#![allow(missing_docs, clippy::unwrap_used)]

#[path = "feedback/class.rs"]
mod class;

use std::{
    collections::BTreeSet,
    fs,
    path::{Path, PathBuf},
};

use class::{Class, files_handed_in, handed_in};
use insta::assert_snapshot;
use latchwork_bench::{
    marking::{
        Evidence, ExerciseTexts, Finding, FindingKind, Gravity, ItemEvidence, ItemKind, ItemVerdict, Marked,
        MarkedFile, MarkingScheme, Points, State, Student, Submitted,
        feedback::{FEEDBACK_BYTES_MAX, html, markdown},
    },
    recording::Role,
};
use latchwork_compiler::explain::explanations;
use latchwork_grammar::{Diagnostic, Sources};
use latchwork_vm::Value;

/// All that students hand in.
const CLASS: [&str; 7] = [
    class::REFERENCE,
    class::THREE_MISTAKES,
    class::ONE_MISTAKE,
    class::DOES_NOT_COMPILE,
    class::OTHER_NAMES,
    class::STOPS,
    class::LATE_AND_LATCHED,
];

/// A text that tries everything.
const HOSTILE: &str = "<script>alert(1)</script> </pre>&lt;\u{1b}[2J\u{202e}txt\u{200b}\n# no heading\n- no list | `code` [a](javascript:b) \
     **x** www.house.invalid https://house.invalid a@house.invalid ```";

/// Where pages are written to be looked at, if the variable is set.
fn keep(name: &str, html: &str, markdown: &str) {
    if let Ok(folder) = std::env::var("LATCHWORK_FEEDBACK_PAGES") {
        fs::write(format!("{folder}/{name}.html"), html).unwrap();
        fs::write(format!("{folder}/{name}.md"), markdown).unwrap();
    }
}

fn pages(name: &str, submitted: Submitted) -> (Marked, String, String) {
    Class::with(|class| {
        let (marked, evidence) = class.marker.mark(submitted);
        let (page, text) =
            (html(&class.texts(), &marked, &evidence), markdown(&class.texts(), &marked, &evidence));
        keep(name, &page, &text);
        assert!(page.len() <= FEEDBACK_BYTES_MAX && text.len() <= FEEDBACK_BYTES_MAX);
        // Where the exercise lies is no concern of students.
        assert!(!page.contains("tests/feedback") && !text.contains("tests/feedback"), "{text}");
        // The same again, and with other work done in between.
        assert_eq!(page, html(&class.texts(), &marked, &evidence));
        assert_eq!(text, markdown(&class.texts(), &marked, &evidence));
        (marked, page, text)
    })
}

fn body(page: &str) -> &str {
    page.split_once("<body>\n").unwrap().1
}

#[test]
fn all_is_right() {
    let (marked, page, text) = pages("all-right", handed_in("ada", "reference.st", class::REFERENCE));
    assert_eq!(marked.total, Points::of(12.0));
    assert_snapshot!("all_right", text);
    assert!(body(&page).contains("Everything went as it should."));
}

#[test]
fn three_mistakes() {
    let (_, page, text) = pages("three-mistakes", handed_in("bo", "house.st", class::THREE_MISTAKES));
    assert_snapshot!("three_mistakes", text);
    assert_snapshot!("three_mistakes_html", body(&page));
}

#[test]
fn all_that_is_shown_passes() {
    let (marked, _, text) = pages("one-mistake", handed_in("cy", "house.st", class::ONE_MISTAKE));
    assert!(marked.total < Points::of(12.0));
    assert_snapshot!("one_mistake", text);
}

#[test]
fn it_does_not_compile() {
    let (_, _, text) = pages("does-not-compile", handed_in("di", "house.st", class::DOES_NOT_COMPILE));
    assert_snapshot!("does_not_compile", text);
}

#[test]
fn names_and_addresses_differ() {
    let (_, _, text) = pages("other-names", handed_in("ed", "house.st", class::OTHER_NAMES));
    assert_snapshot!("other_names", text);
}

#[test]
fn the_program_stops() {
    let (_, _, text) = pages("stops", handed_in("fay", "house.st", class::STOPS));
    assert_snapshot!("stops", text);
}

#[test]
fn times_differ_within_what_is_allowed() {
    let (_, page, text) = pages("late-and-latched", handed_in("gil", "house.st", class::LATE_AND_LATCHED));
    assert_snapshot!("late_and_latched", text);
    assert!(body(&page).contains("What is expected there"));
}

#[test]
fn nothing_was_handed_in() {
    let (_, page, text) = pages("nothing", without_files("hal", State::NothingHandedIn, Vec::new()));
    assert_snapshot!("nothing_handed_in", text);
    assert!(body(&page).contains("nothing was handed in"));
}

#[test]
fn it_is_too_large() {
    let large = format!("(* {} *)\n{}", "x".repeat(20_000), class::REFERENCE);
    let (marked, _, text) = pages("over-budget", handed_in("ina", "house.st", &large));
    assert_eq!(marked.state, State::OverBudget);
    assert_snapshot!("over_budget", text);
}

#[test]
fn it_has_no_program() {
    let (marked, _, text) =
        pages("no-program", handed_in("jo", "house.st", "FUNCTION F : INT\n  F := 1;\nEND_FUNCTION\n"));
    assert_eq!(marked.state, State::Empty);
    assert_snapshot!("no_program", text);
}

#[test]
fn it_could_not_be_read() {
    let finding = noticed("intake-image", "`house.docx` is no text".to_owned());
    let (_, _, text) = pages("unreadable", without_files("kim", State::Unreadable, vec![finding]));
    assert_snapshot!("unreadable", text);
}

#[test]
fn a_fault_of_ours_says_nothing_about_the_work() {
    let finding =
        Finding { kind: FindingKind::Internal, ..noticed("internal", "the marking panicked".to_owned()) };
    let (_, page, text) = pages("internal", without_files("lou", State::InternalFault, vec![finding]));
    assert!(text.contains("That is not your mistake") && body(&page).contains("That is not your mistake"));
}

fn noticed(name: &str, message: String) -> Finding {
    Finding {
        kind: FindingKind::Intake,
        name: name.to_owned(),
        severity: Gravity::Note,
        shown: message.clone(),
        message,
        file: None,
        line: None,
        column: None,
    }
}

fn without_files(id: &str, state: State, findings: Vec<Finding>) -> Submitted {
    let student = Student { id: id.to_owned(), name: Some("Student Who Is Not There".to_owned()) };
    Submitted { student, files: Vec::new(), findings, state: Some(state) }
}

/// The words of a text that could give away what stands in it: lines of some length, titles and hints.
fn secrets(text: &str) -> Vec<String> {
    let lines = text.lines().map(str::trim).filter(|line| line.len() > 12);
    let quoted = text.split('\'').skip(1).step_by(2).map(str::to_owned);
    lines.map(str::to_owned).chain(quoted).collect()
}

#[test]
fn what_is_kept_back_stays_there() {
    // What also stands in what students are given is no secret.
    let given: String =
        [class::TASK, include_str!("feedback/shown.steps"), include_str!("feedback/vent.steps")].concat();
    let mut kept: BTreeSet<String> =
        [secrets(class::KEPT_BACK), secrets(class::REFERENCE)].concat().into_iter().collect();
    kept.retain(|secret| !given.contains(secret.as_str()));
    for word in
        ["kept-back.steps", "reference.st", "OfReference", "frost", "stillness", "series after branch"]
    {
        kept.insert(word.to_owned());
    }
    assert!(kept.len() > 20, "{kept:#?}");
    for (index, program) in CLASS.into_iter().enumerate().skip(1) {
        let (_, page, text) = pages("kept-back", handed_in("student", "house.st", program));
        for secret in kept.iter().filter(|secret| !program.contains(secret.as_str())) {
            assert!(
                !page.contains(&in_html(secret)) && !page.contains(secret.as_str()),
                "page {index}: {secret}"
            );
            let plain = text.replace('\\', "");
            assert!(!plain.contains(secret.as_str()), "text {index}: {secret}");
        }
        if text.contains("## Procedures kept back") {
            assert!(text.contains("a procedure kept back (1): "));
        }
    }
}

#[test]
fn the_sample_class_gets_pages_that_give_nothing_away() {
    let folder = Path::new("../samples/exercises/tray-watering");
    let text = |name: &str| fs::read_to_string(folder.join(name)).unwrap();
    // The pages that explain errors and failures are everybody's.
    let explained: String = explanations().iter().map(|page| page.text).collect();
    let given = ["task.md", "shown.steps", "skeleton.st", "station.toml"].map(text).concat() + &explained;
    let mut kept: BTreeSet<String> =
        [secrets(&text("kept-back.steps")), secrets(&text("reference.st"))].concat().into_iter().collect();
    kept.retain(|secret| !given.contains(secret.as_str()));
    kept.insert("kept-back.steps".to_owned());
    assert!(kept.len() > 30, "{kept:#?}");
    Class::of(folder, |class| {
        let (mut pages, mut with_pictures) = (0, 0);
        for (id, files) in submissions(&folder.join("submissions")) {
            let own: String = files.iter().map(|(_, text)| text.as_str()).collect();
            let (marked, evidence) = class.marker.mark(files_handed_in(&id, files));
            let (page, text) =
                (html(&class.texts(), &marked, &evidence), markdown(&class.texts(), &marked, &evidence));
            keep(&format!("sample-{id}"), &page, &text);
            assert!(!page.contains("samples/") && !text.contains("samples/"), "{id}");
            let plain = text.replace('\\', "");
            for secret in kept.iter().filter(|secret| !own.contains(secret.as_str())) {
                assert!(
                    !page.contains(&in_html(secret)) && !plain.contains(secret.as_str()),
                    "{id}: {secret}"
                );
            }
            pages += 1;
            with_pictures += usize::from(page.contains("What is expected there"));
            assert!(page.len() < 400_000 && text.len() < 200_000, "{id}: {} {}", page.len(), text.len());
        }
        assert!(pages >= 60 && with_pictures >= 20, "{pages} {with_pictures}");
    });
}

/// Id and files of each student; files and folders in the order of their names.
fn submissions(folder: &Path) -> Vec<(String, Vec<(String, String)>)> {
    let mut all = Vec::new();
    for path in entries(folder) {
        let paths = if path.is_dir() { entries(&path) } else { vec![path.clone()] };
        let name = |path: &Path| path.file_name().unwrap().to_string_lossy().into_owned();
        // What is no UTF-8 is for the intake.
        let read = paths.iter().filter_map(|path| Some((name(path), fs::read_to_string(path).ok()?)));
        all.push((path.file_stem().unwrap().to_string_lossy().into_owned(), read.collect()));
    }
    all
}

fn entries(folder: &Path) -> Vec<PathBuf> {
    let mut paths: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    paths
}

fn in_html(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('\'', "&#39;")
        .replace('"', "&quot;")
}

#[test]
fn evidence_of_what_is_kept_back_is_not_shown_even_if_it_is_there() {
    Class::with(|class| {
        let (marked, mut evidence) = class.marker.mark(handed_in("student", "house.st", class::ONE_MISTAKE));
        let (_, other) = class.marker.mark(handed_in("student", "house.st", class::THREE_MISTAKES));
        let before = html(&class.texts(), &marked, &evidence);
        let failed = other.items.iter().find(|item| item.failure.is_some()).unwrap();
        let shown = class.marker.scheme().items.iter().map(|item| item.shown);
        for (item, _) in evidence.items.iter_mut().zip(shown).filter(|(_, shown)| !shown) {
            *item = failed.clone();
        }
        assert_eq!(before, html(&class.texts(), &marked, &evidence));
    });
}

#[test]
fn the_reference_is_worked_in_the_same_scans_as_the_submission() {
    Class::with(|class| {
        let mut compared = 0;
        for program in CLASS {
            let (_, evidence) = class.marker.mark(handed_in("student", "house.st", program));
            for item in &evidence.items {
                let ItemEvidence { failure: Some(failure), expected: Some(expected), .. } = item else {
                    continue;
                };
                let run = &failure.recording;
                if run.scans.is_empty() {
                    continue;
                }
                assert_eq!(run.scans.len(), expected.scans.len());
                for row in run.rows.iter().filter(|row| matches!(row.role, Role::Device { .. })) {
                    let same =
                        expected.rows.iter().find(|other| other.signal.name == row.signal.name).unwrap();
                    let values = |signal: &latchwork_vm::Signal| -> Vec<Value> {
                        (0..run.scans.len() as u32).map(|scan| signal.value_at(scan)).collect()
                    };
                    assert_eq!(values(&row.signal), values(&same.signal), "{}", row.signal.name);
                    compared += 1;
                }
            }
        }
        assert!(compared > 5, "{compared}");
    });
}

#[test]
fn texts_of_others_stay_texts() {
    let text = format!("(* {HOSTILE} *)\nPROGRAM P\n  x := '{HOSTILE}';\n");
    let mut submitted = handed_in(HOSTILE, HOSTILE, &text);
    submitted.student.name = Some(HOSTILE.to_owned());
    let finding =
        Finding { file: Some(HOSTILE.to_owned()), line: Some(1), ..noticed(HOSTILE, HOSTILE.to_owned()) };
    submitted.findings = vec![finding.clone(), Finding { kind: FindingKind::Interface, ..finding.clone() }];
    submitted.findings.push(Finding {
        kind: FindingKind::Constraint,
        shown: format!("{HOSTILE}\n{HOSTILE}"),
        ..finding
    });
    let (_, page, text) = pages("hostile", submitted);
    assert_snapshot!("hostile", text);
    harmless(&page, &text);
    // A whole exercise of such texts.
    Class::with(|class| {
        let (marked, evidence) = class.marker.mark(handed_in("student", "house.st", class::THREE_MISTAKES));
        let mut scheme: MarkingScheme = class.marker.scheme().clone();
        scheme.title = HOSTILE.to_owned();
        for item in &mut scheme.items {
            item.title = HOSTILE.to_owned();
            item.hint = Some(HOSTILE.to_owned());
        }
        let texts = ExerciseTexts { scheme: &scheme, task: HOSTILE, ..class.texts() };
        let (page, text) = (html(&texts, &marked, &evidence), markdown(&texts, &marked, &evidence));
        keep("hostile-exercise", &page, &text);
        harmless(&page, &text);
    });
}

fn harmless(page: &str, text: &str) {
    for part in ["<script", "<b>", "javascript:b\"", "\u{1b}", "\u{202e}", "\u{200b}", "href=\"http"] {
        assert!(!page.contains(part), "{part}");
    }
    for part in ["\u{1b}", "\u{202e}", "\u{200b}"] {
        assert!(!text.contains(part), "{part:?}");
    }
    let fences = |line: &&str| line.starts_with("```") || line.trim_start().starts_with("```");
    let mut open: Option<&str> = None;
    for line in text.lines() {
        match open {
            Some(fence) if line.trim_start() == fence => open = None,
            Some(_) => {}
            None if fences(&line) => open = Some(line.trim_start().trim_end_matches("text")),
            None => {
                let plain = without_code(line);
                assert!(!plain.contains("<script") && !plain.contains("](java"), "{line}");
                assert!(
                    !plain.contains("https://") && !plain.contains("www.") && !plain.contains("a@house"),
                    "{line}"
                );
                assert!(!line.starts_with("# no"), "{line}");
            }
        }
    }
    assert_eq!(open, None);
}

/// A line without what is escaped and what is code in it.
fn without_code(line: &str) -> String {
    let mut plain = String::new();
    let mut is_code = false;
    let mut letters = line.chars();
    while let Some(letter) = letters.next() {
        match letter {
            '\\' if !is_code => {
                letters.next();
                plain.push('\u{fffd}');
            }
            '`' => is_code = !is_code,
            letter if !is_code => plain.push(letter),
            _ => {}
        }
    }
    plain
}

#[test]
fn pages_are_bounded() {
    Class::with(|class| {
        let (mut marked, evidence) =
            class.marker.mark(handed_in("student", "house.st", class::THREE_MISTAKES));
        let item =
            class.marker.scheme().items.iter().position(|item| item.kind == ItemKind::Procedure).unwrap();
        // Very many procedures that fail, with long titles and hints, and very many findings.
        let long = "<&'\"long> ".repeat(2_000);
        let mut scheme = class.marker.scheme().clone();
        let mut procedures: Vec<&Sources> = class.texts().procedures.to_vec();
        let mut all = Evidence { sources: evidence.sources.clone(), ..Evidence::default() };
        all.items.extend(evidence.items.iter().cloned());
        for _ in 0..3_000 {
            let mut one = scheme.items[item].clone();
            one.title = long.clone();
            scheme.items.push(one);
            procedures.push(procedures[item]);
            marked.items.push(marked.items[item].clone());
            all.items.push(all.items[item].clone());
        }
        let finding = Finding { shown: long.repeat(20), ..noticed("long", long.clone()) };
        marked.findings = vec![finding; 400];
        let task = format!("{}\n\n{}", "- ".repeat(5_000), long.repeat(40));
        let texts = ExerciseTexts { scheme: &scheme, task: &task, procedures: &procedures, ..class.texts() };
        let (page, text) = (html(&texts, &marked, &all), markdown(&texts, &marked, &all));
        keep("bounded", &page, &text);
        for (name, text) in [("html", &page), ("markdown", &text)] {
            assert!(text.len() <= FEEDBACK_BYTES_MAX, "{name}: {}", text.len());
            assert!(text.contains("no room in"), "{name}");
            // What counts is always there.
            assert!(text.contains("together") && text.contains("lock out"), "{name}");
        }
    });
}

#[test]
fn the_record_alone_is_enough_for_a_page() {
    Class::with(|class| {
        let (marked, _) = class.marker.mark(handed_in("mo", "house.st", class::THREE_MISTAKES));
        let kept: Marked = serde_json::from_str(&serde_json::to_string(&marked).unwrap()).unwrap();
        let text = markdown(&class.texts(), &kept, &Evidence::default());
        assert_snapshot!("record_alone", text.split("## Procedures kept back").next().unwrap());
        assert_eq!(kept.total, Points::of_hundredths(367));
    });
}

#[test]
fn a_file_has_a_note_of_its_encoding() {
    let mut submitted = handed_in("nan", "house.st", class::REFERENCE);
    let note = "`house.st` was read as Latin-1, since it is no UTF-8".to_owned();
    submitted
        .findings
        .push(Finding { file: Some("house.st".to_owned()), ..noticed("intake-encoding", note) });
    submitted
        .files
        .push((MarkedFile { name: "notes.pdf".to_owned(), bytes: 12, lines: 0, encoding: None }, None));
    let (_, _, text) = pages("note", submitted);
    assert!(text.contains("`house.st` was read as Latin-1"), "{text}");
}

#[test]
fn a_procedure_that_cannot_be_run_says_what_it_misses() {
    Class::with(|class| {
        let (mut marked, mut evidence) =
            class.marker.mark(handed_in("oz", "house.st", class::THREE_MISTAKES));
        let item = evidence.items.iter().position(|item| item.failure.is_some()).unwrap();
        let step = evidence.items[item].failure.take().unwrap().step;
        let message = "there is nothing named `Vent`";
        evidence.items[item].problems = vec![
            Diagnostic::error("procedure-unknown-name", step, message).label("a variable of the program"),
        ];
        marked.items[item].verdict = ItemVerdict::Refused;
        let (page, text) =
            (html(&class.texts(), &marked, &evidence), markdown(&class.texts(), &marked, &evidence));
        for text in [&text, &page] {
            assert!(
                text.contains("could not be run")
                    && text.contains("error[procedure-unknown-name]: there is nothing"),
                "{text}"
            );
        }
        // A page is made of whatever is there: texts of other files than those meant leave the message of the record.
        let none = Sources::new();
        let texts = vec![&none; marked.items.len()];
        let text = markdown(&ExerciseTexts { procedures: &texts, ..class.texts() }, &marked, &evidence);
        assert!(
            !text.contains("What happened") && text.contains("`H1` did not become TRUE within 150 ms"),
            "{text}"
        );
    });
}

#[test]
fn without_a_reference_there_is_what_the_program_did() {
    Class::with(|class| {
        let (marked, mut evidence) = class.marker.mark(handed_in("pat", "house.st", class::THREE_MISTAKES));
        evidence.items.iter_mut().for_each(|item| item.expected = None);
        let (page, text) =
            (html(&class.texts(), &marked, &evidence), markdown(&class.texts(), &marked, &evidence));
        assert!(
            page.contains("<figcaption>What your program did</figcaption>")
                && !page.contains("What is expected there")
        );
        assert!(text.contains("What your program did:") && text.contains("| your program |"), "{text}");
    });
}

#[test]
fn a_program_that_does_nothing_is_told_so() {
    let nothing = Class::with(|class| class.marker.nothing_text());
    let (marked, _, text) = pages("does-nothing", handed_in("quin", "house.st", &nothing));
    assert_eq!(marked.total, Points::ZERO);
    assert!(text.contains("It compiles, and no load ever changes."), "{text}");
}
