//! The gradebook, read by a reader that is not ours.

use latchwork_bench::{
    class::gradebook::{GradebookWriter, as_written, harmless},
    marking::{FindingKind, Gravity, Marked, MarkingScheme, Points, State},
};
use proptest::prelude::*;

use crate::made::{finding, in_state, ran, scheme};

fn written(scheme: &MarkingScheme, marked: &[Marked]) -> String {
    let mut text = String::new();
    let mut writer = GradebookWriter::begin(scheme, &mut text).unwrap();
    for marked in marked {
        writer.student(marked, &mut text).unwrap();
    }
    text
}

/// All rows with the heading; the reader demands as many cells in each.
fn read(text: &str) -> Vec<Vec<String>> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
    reader.records().map(|row| row.unwrap().iter().map(str::to_owned).collect()).collect()
}

#[test]
fn a_class_with_everything_in_it() {
    let mut scheme = scheme(&[100, 250]);
    scheme.items[1].title = "fills, then \"stops\"".to_owned();
    let mut good = ran("adeline", &scheme, &[100, 250]);
    good.student.name = Some("Adeline Ferroux".to_owned());
    let mut partly = ran("bo; lin", &scheme, &[100, 125]);
    partly.deducted = Points::of(1.0);
    partly.total = Points::of(1.25);
    partly.findings = vec![
        finding(FindingKind::Compile, "unused-variable", Gravity::Warning, "one"),
        finding(FindingKind::Compile, "unused-variable", Gravity::Warning, "two"),
        finding(FindingKind::Constraint, "lines-max", Gravity::Error, "three"),
        finding(FindingKind::Intake, "latin-1", Gravity::Note, "four"),
    ];
    let text = written(
        &scheme,
        &[
            good,
            partly,
            in_state("=cmd|' /C calc'!A0", &scheme, State::NotCompiled),
            in_state("dora", &scheme, State::InternalFault),
        ],
    );
    assert_eq!(
        text,
        "student,name,state,1 item 1,\"2 fills, then \"\"stops\"\"\",deductions,total,out of,percent,findings\r\n\
         adeline,Adeline Ferroux,ran,1,2.5,0,3.5,3.5,100.0,\r\n\
         \"bo; lin\",,ran,1,1.25,1,1.25,3.5,35.7,\"lines-max, unused-variable (2)\"\r\n\
         '=cmd|' /C calc'!A0,,does not compile,0,0,0,0,3.5,0.0,\r\n\
         dora,,internal fault of latchwork,,,,,3.5,,\r\n"
    );
    assert!(read(&text).iter().all(|row| row.len() == 10));
}

#[test]
fn no_cell_is_taken_for_a_formula() {
    let dangerous = [
        "=1+1",
        "+1",
        "-1",
        "@SUM(A1)",
        "\t=1",
        "\r=1",
        "\n=1",
        "\u{feff}=1",
        "\u{feff} \"'=1",
        " =1",
        "\u{a0}=1",
        "'=1",
        "\"=1",
        "\tx",
        "\rx",
        "\nx",
        "＝1",
        "－1",
        "\0=1",
        "\u{200b}=1",
        "\u{2066}@x",
        "\u{202e}+x",
    ];
    for text in dangerous {
        assert_eq!(harmless(text), format!("'{text}"), "{text:?}");
        assert_eq!(as_written(&harmless(text)), text);
    }
    for text in ["", "a=1", "1-2", "O'Brien", "'tis", "\"q\"", " x", "é", "2026-11-30", "a@b"] {
        assert_eq!(harmless(text), text);
        assert_eq!(as_written(text), text);
    }
}

/// Text with much of what is special in tables.
fn texts() -> impl Strategy<Value = String> {
    let special = prop::sample::select(vec![
        "=", "+", "-", "@", "'", "\"", ",", ";", "\t", "\r", "\n", "\r\n", " ", "\u{feff}", "\0", "a", "1",
        "é", "\u{202e}", "＝", "\u{200b}",
    ]);
    prop_oneof![prop::collection::vec(special, 0..8).prop_map(|parts| parts.concat()), any::<String>()]
}

proptest! {
    #[test]
    fn every_text_comes_back(id in texts(), name in texts(), title in texts()) {
        let mut scheme = scheme(&[300]);
        scheme.items[0].title.clone_from(&title);
        let mut marked = ran(&id, &scheme, &[275]);
        marked.student.name = Some(name.clone());
        let text = written(&scheme, std::slice::from_ref(&marked));
        let rows = read(&text);
        prop_assert_eq!(rows.len(), 2);
        prop_assert_eq!(&rows[0][3], &format!("1 {title}"));
        prop_assert_eq!(as_written(&rows[1][0]), id);
        prop_assert_eq!(as_written(&rows[1][1]), name);
        prop_assert_eq!(&rows[1][2..], ["ran", "2.75", "0", "2.75", "3", "91.7", ""]);
        for cell in &rows[1] {
            prop_assert!(!cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '\0']), "{cell:?}");
        }
    }
}
