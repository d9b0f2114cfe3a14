//! Files of procedures laid out by the command.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use bench::Folder;

const CARELESS: &str =
    "procedure'lamp'PRESS StartPB; // now\nexpect Lamp and not Alarm within T#20ms;end_procedure";
const TIDY: &str =
    "procedure 'lamp'\n  press StartPB;  // now\n  expect Lamp AND NOT Alarm within T#20ms;\nend_procedure\n";

fn text(folder: &Folder, name: &str) -> String {
    String::from_utf8(folder.read(name)).unwrap()
}

#[test]
fn files_are_laid_out_in_their_place_and_only_once() {
    let folder = Folder::new();
    folder.write("a.steps", CARELESS);
    folder.write("b.STEPS", TIDY);
    let ran = folder.run("format a.steps b.STEPS").expect(0);
    assert_eq!((ran.out.as_str(), ran.err.as_str()), ("", "1 of 2 files laid out anew\n"));
    assert_eq!(text(&folder, "a.steps"), TIDY);
    let ran = folder.run("format a.steps").expect(0);
    assert_eq!(ran.err, "0 of 1 file laid out anew\n");
    folder.run("format a.steps b.STEPS --check").expect(0);
}

#[test]
fn a_check_names_what_would_change_and_writes_nothing() {
    let folder = Folder::new();
    folder.write("a.steps", CARELESS);
    folder.write("b.steps", TIDY);
    folder.write("c.steps", CARELESS);
    let ran = folder.run("format --check a.steps b.steps c.steps").expect(1);
    assert_eq!((ran.out.as_str(), ran.err.as_str()), ("a.steps\nc.steps\n", "2 of 3 files would change\n"));
    assert_eq!(text(&folder, "a.steps"), CARELESS);
}

#[test]
fn a_file_with_errors_is_left_as_it_is() {
    let folder = Folder::new();
    folder.write("a.steps", "procedure 'a'\npress  A\nend_procedure");
    folder.write("b.steps", CARELESS);
    let ran = folder.run("format a.steps b.steps").expect(1);
    assert!(ran.err.contains("steps-missing-semicolon") && ran.err.contains("a.steps:2"), "{}", ran.shown());
    assert!(ran.err.ends_with("1 of 2 files laid out anew\n"), "{}", ran.shown());
    assert_eq!(text(&folder, "a.steps"), "procedure 'a'\npress  A\nend_procedure");
    assert_eq!(text(&folder, "b.steps"), TIDY);
    folder.run("format --check a.steps").expect(1);
}

#[test]
fn only_files_of_procedures_are_laid_out() {
    let folder = Folder::new();
    let before = folder.read("pump.st");
    let ran = folder.run("format pump.st").expect(2);
    assert!(ran.err.contains("pump.st: not a file of procedures"), "{}", ran.shown());
    assert_eq!(folder.read("pump.st"), before);
    folder.run("format").expect(2);
    folder.run("format missing.steps").expect(2);
    folder.write("binary.steps", [0xff, 0x00]);
    folder.run("format binary.steps").expect(2);
    // What cannot be read is found out before anything is written.
    folder.write("a.steps", CARELESS);
    folder.run("format a.steps missing.steps").expect(2);
    assert_eq!(text(&folder, "a.steps"), CARELESS);
}
