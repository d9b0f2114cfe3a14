//! `latchwork compliance` from outside.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use bench::Folder;

#[test]
fn the_statement_is_shown_as_text_json_and_markdown() {
    let folder = Folder::new();
    let text = folder.run("compliance").expect(0).out;
    assert!(text.starts_with("Latchwork "));
    assert!(
        text.contains("Table 72 Statements of Structured Text")
            && text.contains("Choices of the implementer")
    );
    let json = folder.run("compliance --format json").expect(0).out;
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["tables"].as_array().unwrap().len(), 76);
    let features =
        json["tables"].as_array().unwrap().iter().flat_map(|table| table["features"].as_array().unwrap());
    assert!(features.clone().any(|feature| feature["status"] == "yes"));
    assert!(features.clone().any(|feature| feature["status"] == "not applicable"));
    let markdown = folder.run("compliance --format markdown").expect(0).out;
    assert!(markdown.starts_with("# Latchwork ") && markdown.contains("## Table 3 Comments"));
}

#[test]
fn one_table_is_shown_alone_and_a_wrong_number_is_answered() {
    let folder = Folder::new();
    let text = folder.run("compliance --table 3").expect(0).out;
    assert_eq!(text.lines().filter(|line| line.starts_with("Table ")).count(), 1);
    assert!(text.contains("nested (* (* *) *)"));
    assert!(folder.run("compliance --table 77").expect(2).err.contains("1 to 76"));
    assert!(folder.run("compliance --table three").expect(2).err.contains("three"));
}

#[test]
fn the_text_keeps_to_the_width_of_the_terminal() {
    let folder = Folder::new();
    let output = folder.command().env("COLUMNS", "72").arg("compliance").output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(text.lines().all(|line| line.chars().count() <= 72));
}
