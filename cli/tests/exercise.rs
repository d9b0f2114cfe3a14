//! `latchwork exercise` and `latchwork practise` from outside.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use std::{
    fs,
    io::Read,
    process::{Command, Stdio},
    time::{Duration, Instant},
};

use bench::{Folder, class::exercise};

/// The exercise about the pump, in a folder of its own.
fn lift() -> Folder {
    let folder = Folder::new();
    folder.write_exercise();
    folder
}

fn described(folder: &Folder, change: impl Fn(String) -> String) {
    let text = String::from_utf8(folder.read("lift/exercise.toml")).unwrap();
    folder.write("lift/exercise.toml", change(text));
}

#[test]
fn the_sample_exercise_is_sound() {
    let ran = Folder::new().run(&format!("exercise check {}", exercise().display())).expect(0);
    insta::assert_snapshot!(ran.out);
}

#[test]
fn an_exercise_that_asks_for_nothing_is_found() {
    let folder = lift();
    folder.write(
        "wiring.steps",
        "procedure 'nothing happens'\n  points 3;\n  press StopPB;\n  expect NOT P1 for T#1s;\nend_procedure\n\n\
         procedure 'whatever happens'\n  press StartPB for T#1s;\n  expect P1 OR NOT P1;\nend_procedure\n",
    );
    let ran = folder.run("exercise check lift").expect(1);
    insta::assert_snapshot!(ran.out);
}

#[test]
fn a_reference_that_is_not_right_is_found() {
    let folder = lift();
    let pump = String::from_utf8(folder.read("pump.st")).unwrap();
    folder.write("pump.st", pump.replace("Start OR Pump", "Start"));
    described(&folder, |text| text + "\n[constraints]\nlanguage = \"IL\"\nmust-use = [\"TON\"]\n");
    insta::assert_snapshot!(folder.run("exercise check lift").expect(1).out);
}

#[test]
fn an_interface_that_the_reference_lacks_is_found() {
    let folder = lift();
    let interface = "\n[interface]\nprograms = [\"Mian\"]\n\n[[interface.variable]]\nname = \"Stopp\"\naddress = \"%IX0.1\"\n";
    described(&folder, |text| text + interface);
    insta::assert_snapshot!(folder.run("exercise check lift").expect(1).out);
}

#[test]
fn a_reference_may_be_an_image() {
    let folder = lift();
    folder.run("build pump.st -o lift/pump.image").expect(0);
    described(&folder, |text| text.replace("../pump.st", "pump.image"));
    insta::assert_snapshot!(folder.run("exercise check lift").expect(0).out);
    folder.run("mark lift handed-in --out marks --quiet").expect(0);
    assert!(!folder.run("practise lift handed-in/ben.st --once").expect(1).out.is_empty());
}

#[test]
fn what_is_wrong_with_an_exercise_is_told_with_its_place() {
    let folder = lift();
    let check = |folder: &Folder| folder.run("exercise check lift").expect(2).err;
    assert!(folder.run("exercise check nowhere").expect(2).err.contains("nowhere"));
    fs::create_dir(folder.path("empty")).unwrap();
    assert!(folder.run("exercise check empty").expect(2).err.contains("exercise.toml"));
    let text = String::from_utf8(folder.read("lift/exercise.toml")).unwrap();
    for (from, to, expected) in [
        ("task.md", "tasks.md", "lift/exercise.toml:2: lift/tasks.md: cannot read"),
        ("../pump.st", "pump.st", "lift/exercise.toml:4:"),
        ("../station.toml", "../stations.toml", "lift/exercise.toml:3:"),
        ("../wiring.steps", "../wiring.txt", "lift/exercise.toml:10:"),
        ("compiles", "compile", "did you mean `compiles`?"),
        ("\"Lift pump\"", "Lift pump", "quotation"),
    ] {
        folder.write("lift/exercise.toml", text.replace(from, to));
        let told = check(&folder);
        assert!(told.contains(expected), "{from}: {told}");
    }
    folder.write("lift/exercise.toml", &text);
    folder.write("pump.st", "PROGRAM Main\n  Pump = TRUE;\nEND_PROGRAM\n");
    assert!(check(&folder).contains("error["));
}

#[test]
fn a_student_is_told_the_first_thing_that_is_not_right() {
    let folder = lift();
    let practise = |file: &str, code| folder.run(&format!("practise lift {file} --once")).expect(code).out;
    insta::assert_snapshot!("practise_right", practise("handed-in/ada.st", 0));
    insta::assert_snapshot!("practise_wrong", practise("handed-in/ben.st", 1));
    insta::assert_snapshot!("practise_errors", practise("handed-in/cleo.st", 1));
    folder.run("practise lift nobody.st --once").expect(2);
}

/// An exercise as it is handed out: without what is kept back, and without its reference.
#[test]
fn practice_needs_neither_reference_nor_what_is_kept_back() {
    let folder = lift();
    described(&folder, |text| {
        text.replace("../pump.st", "not-handed-out.st")
            + "\n[[procedures]]\nfile = \"not-handed-out.steps\"\nshown = false\n"
    });
    let out = folder.run("practise lift handed-in/ada.st --once").expect(0).out;
    assert!(out.contains("keeps some of its procedures back"), "{out}");
    folder.run("exercise check lift").expect(2);
}

/// The file is saved again while somebody practises, and what is told follows.
#[test]
fn practice_follows_the_file() {
    let folder = lift();
    let mut child = Command::new(env!("CARGO_BIN_EXE_latchwork"))
        .current_dir(folder.path(""))
        .args(["practise", "lift", "handed-in/ben.st"])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut out = child.stdout.take().unwrap();
    let mut told = String::new();
    let mut read_until = |wanted: &str| {
        let begun = Instant::now();
        let mut bytes = [0; 4096];
        while !told.contains(wanted) {
            assert!(begun.elapsed() < Duration::from_secs(60), "{told}");
            let count = out.read(&mut bytes).unwrap();
            assert!(count > 0, "{told}");
            told += &String::from_utf8_lossy(&bytes[..count]);
        }
        told.clear();
    };
    read_until("1 of 2 points");
    fs::copy(folder.path("handed-in/ada.st"), folder.path("handed-in/ben.st")).unwrap();
    read_until("2 of 2 points");
    child.kill().unwrap();
    child.wait().unwrap();
}

#[test]
fn faults_that_no_procedure_notices_are_told() {
    let folder = lift();
    // Nobody looks at what the stop button does.
    folder.write(
        "wiring.steps",
        "procedure 'it starts'\n  press StartPB for T#100ms;\n  expect P1 for T#300ms;\nend_procedure\n",
    );
    let told = folder.run("exercise mutate lift").expect(0).out;
    insta::assert_snapshot!(told);
    folder.run("exercise mutate lift --strict --quiet").expect(1);
    let json = folder.run("exercise mutate lift --format json").expect(0).out;
    let document: serde_json::Value = serde_json::from_str(&json).unwrap();
    let counts = &document["counts"];
    assert!(counts["told_apart"].as_u64().unwrap() > 0, "{counts}");
    assert_eq!(document["faults"].as_array().unwrap().len() as u64, counts["seeded"].as_u64().unwrap());

    folder.run("build pump.st -o lift/pump.image").expect(0);
    described(&folder, |text| text.replace("../pump.st", "pump.image"));
    assert!(folder.run("exercise mutate lift").expect(2).err.contains("name the source"));
}
