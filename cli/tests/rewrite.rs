//! The same program in the other text language, by the command.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use bench::Folder;

fn text(folder: &Folder, name: &str) -> String {
    String::from_utf8(folder.read(name)).unwrap()
}

#[test]
fn a_program_goes_to_standard_output_and_back() {
    let folder = Folder::new();
    let ran = folder.run("rewrite pump.st --to il").expect(0);
    assert!(ran.out.contains("        LD    Start\n        OR    Pump\n"), "{}", ran.shown());
    assert_eq!(ran.err, "1 body rewritten into Instruction List\n");
    folder.write("pump.il", &ran.out);
    let back = folder.run("rewrite pump.il --to st").expect(0);
    assert_eq!(back.out, text(&folder, "pump.st"));
    let runs = ["pump.st", "pump.il"].map(|file| {
        folder
            .run(&format!("run {file} --station station.toml --stimulus press.csv --quiet --csv -"))
            .expect(0)
            .out
    });
    assert_eq!(runs[0], runs[1]);
}

#[test]
fn a_file_or_a_folder_is_written() {
    let folder = Folder::new();
    folder.run("rewrite pump.st --to il -o new.il").expect(0);
    assert!(text(&folder, "new.il").contains("ST    Pump"));
    let ran = folder.run("rewrite pump.st types.st --to il --write-to other").expect(0);
    assert_eq!(ran.out, "");
    assert_eq!(text(&folder, "other/pump.il"), text(&folder, "new.il"));
    assert_eq!(text(&folder, "other/types.st"), text(&folder, "types.st"));
    folder.run("check other/pump.il other/types.st").expect(0);
    // Of several files the one with a new body.
    assert_eq!(folder.run("rewrite pump.st types.st --to il").expect(0).out, text(&folder, "new.il"));
}

#[test]
fn nothing_is_overwritten_and_nothing_is_mixed_up() {
    let folder = Folder::new();
    let before = text(&folder, "pump.st");
    folder.run("rewrite pump.st --to il -o pump.st").expect(2);
    folder.run("rewrite types.st pump.st --to il --write-to . ").expect(2);
    assert_eq!(text(&folder, "pump.st"), before);
    folder.write("two.st", "FUNCTION Two : INT\nTwo := 2;\nEND_FUNCTION\n");
    let ran = folder.run("rewrite pump.st two.st --to il").expect(2);
    assert!(ran.err.contains("--write-to"), "{}", ran.shown());
    // Where both names are there, both stay.
    folder.write("two.il", "FUNCTION Three : INT\n  LD 3\n  ST Three\nEND_FUNCTION\n");
    folder.run("rewrite two.st two.il --to il --write-to both").expect(0);
    assert!(
        text(&folder, "both/two.st").contains("LD    2") && text(&folder, "both/two.il").contains("LD 3")
    );
}

#[test]
fn what_cannot_be_rewritten_stays_and_is_told() {
    let folder = Folder::new();
    folder.write(
        "mixed.st",
        "FUNCTION Good : INT\nGood := 2;\nEND_FUNCTION\nFUNCTION Bad : INT\nVAR_INPUT Stride : INT; END_VAR\nVAR I : INT; END_VAR\n\
         FOR I := 1 TO 9 BY Stride DO\nBad := Bad + 1;\nEND_FOR;\nEND_FUNCTION\n",
    );
    let ran = folder.run("rewrite mixed.st --to il").expect(1);
    assert!(ran.out.contains("LD    2") && ran.out.contains("BY Stride DO"), "{}", ran.shown());
    insta::assert_snapshot!(ran.err);
    let ran = folder.run("rewrite mixed.st --to il --pou good").expect(0);
    assert!(ran.out.contains("LD    2"));
}

#[test]
fn new_variables_are_told() {
    let folder = Folder::new();
    folder.write(
        "turns.st",
        "PROGRAM Turns\nVAR N : INT; END_VAR\n  CASE N + 1 OF\n    1: N := 2;\n    2: N := 0;\n  END_CASE;\nEND_PROGRAM\n",
    );
    let ran = folder.run("rewrite turns.st --to il").expect(0);
    assert!(ran.out.contains("VAR_TEMP\n  Choice : INT;\nEND_VAR\n"), "{}", ran.shown());
    assert!(ran.err.contains("`Turns` got the variable `Choice : INT`"), "{}", ran.shown());
}

#[test]
fn what_is_wrong_is_told() {
    let folder = Folder::new();
    folder.write("wrong.st", "PROGRAM Main\n  x := 1;\nEND_PROGRAM\n");
    let ran = folder.run("rewrite wrong.st --to il").expect(1);
    assert!(ran.out.is_empty() && ran.err.contains("undeclared-name"), "{}", ran.shown());
    let ran = folder.run("rewrite pump.st --to il --pou Nobody").expect(2);
    assert!(ran.err.contains("there is Main"), "{}", ran.shown());
    let ran = folder.run("rewrite pump.st --to st").expect(4);
    assert!(ran.err.contains("Structured Text"), "{}", ran.shown());
    folder.run("rewrite nowhere.st --to st").expect(2);
    folder.run("rewrite pump.st").expect(2);
}
