//! `latchwork library` from outside, and the document made from the same tables.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use std::{fs, path::Path};

use bench::Folder;

#[test]
fn the_overview_has_every_family_and_keeps_to_the_width_of_the_terminal() {
    let folder = Folder::new();
    for columns in [60, 80, 120] {
        let output = folder.command().env("COLUMNS", columns.to_string()).arg("library").output().unwrap();
        let text = String::from_utf8(output.stdout).unwrap();
        for word in [
            "Type conversion (Table",
            "LIMIT(MN, IN, MX)",
            "X_BCD_TO_Y(IN)",
            "CTU(CU, R, PV => Q, CV)",
            "TON(",
        ] {
            assert!(text.contains(word), "{word}:\n{text}");
        }
        assert!(text.lines().all(|line| line.chars().count() <= columns), "{text}");
        // One line for what differs in types only.
        assert!(text.lines().count() < 150);
    }
}

#[test]
fn pages_keep_to_the_width_and_show_what_the_tables_say() {
    let folder = Folder::new();
    for (name, words) in [
        (
            "limit",
            &[
                "LIMIT: function, Table 32",
                "MN : ANY_ELEMENTARY",
                "event crossed-limits",
                "LIMIT INT#12, INT#10",
            ][..],
        ),
        ("ADD", &["ANY_MAGNITUDE", "IN3 to IN255", "Result := INT#2 + INT#3", "ADD_LREAL"]),
        ("ADD_INT", &["IN1 : INT", "FUNCTION ADD_INT : INT"]),
        ("REAL_TO_INT", &["IN : REAL", "halves to the even one", "INT#32767"]),
        ("TO_INT", &["BOOL, BYTE, WORD", "Outside INT"]),
        ("**", &["EXPT: function"]),
        ("&", &["AND: function"]),
        ("x_to_y", &["X and Y stand for names of types"]),
        (
            "CTU",
            &["CU : BOOL R_EDGE", "also RESET", "CU Step", "CTU_DINT", "\u{2554}", "FUNCTION_BLOCK CTU_BODY"],
        ),
        ("TON_LTIME", &["PT : LTIME", "Table 46"]),
    ] {
        for columns in [72, 120] {
            let output = folder
                .command()
                .env("COLUMNS", columns.to_string())
                .args(["library", name])
                .output()
                .unwrap();
            let text = String::from_utf8(output.stdout).unwrap();
            let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
            for word in words {
                assert!(joined.contains(word), "{name} does not have {word}:\n{text}");
            }
            // A name of the standard that is longer than the line cannot be broken; declarations and bodies are code.
            let long = |line: &&str| line.chars().count() > columns && !line.starts_with("    ");
            assert_eq!(text.lines().find(long), None, "{name}");
        }
    }
}

#[test]
fn pages_are_as_they_were_read() {
    let folder = Folder::new();
    for name in ["LIMIT", "REAL_TO_INT", "TON"] {
        let output = folder.command().env("COLUMNS", "80").args(["library", name]).output().unwrap();
        insta::assert_snapshot!(format!("page_{name}"), String::from_utf8(output.stdout).unwrap());
    }
}

#[test]
fn colour_is_for_headings_only_and_on_request() {
    let folder = Folder::new();
    let plain = folder.run("library CTU").expect(0).out;
    assert!(!plain.contains('\u{1b}'));
    let coloured = folder.run("library SQRT --color always").expect(0).out;
    assert!(coloured.contains("\u{1b}[1mErrors\u{1b}[0m"));
    let stripped = coloured.replace("\u{1b}[1m", "").replace("\u{1b}[0m", "");
    assert_eq!(stripped, folder.run("library SQRT").expect(0).out);
}

#[test]
fn a_word_that_is_no_name_lists_what_has_it() {
    let folder = Folder::new();
    let text = folder.run("library logarithm").expect(0).out;
    assert!(text.contains("LN(IN)") && text.contains("LOG(IN)") && !text.contains("SQRT"), "{text}");
    let text = folder.run("library timers").expect(0).out;
    assert!(text.contains("TON(IN") && !text.contains("CTU"), "{text}");
}

#[test]
fn a_name_that_is_none_is_answered_with_the_nearest() {
    let folder = Folder::new();
    let error = folder.run("library LIMTI").expect(2).err;
    assert!(error.contains("`LIMTI`; the nearest is `LIMIT`"), "{error}");
    assert!(folder.run("library REAL_TO_ITN").expect(2).err.contains("`REAL_TO_INT`"));
    assert!(folder.run("library Wasserpumpe").expect(2).err.contains("lists all names"));
    let long = "X".repeat(100_000);
    let output = folder.command().args(["library", &long]).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
}

#[test]
fn json_has_everything() {
    let folder = Folder::new();
    let all: serde_json::Value =
        serde_json::from_str(&folder.run("library --format json").expect(0).out).unwrap();
    assert_eq!(all["schema_version"], 1);
    let functions = all["functions"].as_array().unwrap();
    assert_eq!(functions.len(), latchwork_stdlib::functions().count());
    assert_eq!(all["blocks"].as_array().unwrap().len(), latchwork_stdlib::blocks().count());
    assert!(functions.iter().all(|row| !row["examples"].as_array().unwrap().is_empty()));
    let one: serde_json::Value =
        serde_json::from_str(&folder.run("library CTUD --format json").expect(0).out).unwrap();
    assert_eq!(one["functions"].as_array().unwrap().len(), 0);
    assert_eq!(one["blocks"][0]["name"], "CTUD");
    assert!(one["blocks"][0]["example"]["rows"].as_array().unwrap().len() > 5);
}

#[test]
fn the_document_is_what_the_tables_say() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../stdlib/LIBRARY.md");
    let written = fs::read_to_string(path).unwrap_or_default().replace("\r\n", "\n");
    let made = Folder::new().run("library --format markdown").expect(0).out;
    let differs = written.lines().zip(made.lines()).position(|(written, made)| written != made);
    assert!(
        written == made,
        "stdlib/LIBRARY.md is not what the tables say (from line {} on); renew it with\n  \
         cargo run -p latchwork -- library --format markdown > stdlib/LIBRARY.md",
        differs.unwrap_or(written.lines().count().min(made.lines().count())) + 1
    );
}
