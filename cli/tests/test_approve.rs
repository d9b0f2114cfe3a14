//! `latchwork test` with recorded traces: read, missing, approved anew.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use bench::{
    Folder,
    procedures::{failing, folder, write},
};

/// A procedure that is compared with its approved trace.
fn compared(title: &str) -> String {
    format!(
        "procedure '{title}'\n  compare Pump;\n  press StartPB for T#100ms;\n  wait T#1s;\nend_procedure\n\n"
    )
}

/// One that is compared with a file.
fn with_file(title: &str, file: &str) -> String {
    format!(
        "procedure '{title}'\n  compare Pump with '{file}';\n  press StartPB;\n  wait T#300ms;\nend_procedure\n\n"
    )
}

fn text(folder: &Folder, name: &str) -> String {
    String::from_utf8(folder.read(name)).unwrap()
}

#[test]
fn approved_once_followed_ever_after() {
    let folder = folder();
    write(&folder, "lab.steps", &[compared("the pump holds itself"), failing("other")]);
    let before = folder.run("test lab.steps --name pump").expect(1);
    assert!(before.out.contains("failed[trace-not-approved]"), "{}", before.shown());
    assert!(before.out.contains("lab.traces/the-pump-holds-itself.csv"), "{}", before.shown());
    assert!(!folder.path("lab.traces").exists());
    insta::assert_snapshot!(folder.run("test lab.steps --approve --name pump").expect(0).shown());
    insta::assert_snapshot!(text(&folder, "lab.traces/the-pump-holds-itself.csv"));
    folder.run("test lab.steps --name pump").expect(0);
    let again = folder.run("test lab.steps --approve --name pump").expect(0);
    assert!(again.out.contains("  unchanged  lab.traces/"), "{}", again.shown());
    // A program that does something else departs until that is approved.
    let slower = text(&folder, "pump.st").replacen(
        "END_PROGRAM",
        "IF TRUE THEN Pump := FALSE; END_IF;\nEND_PROGRAM",
        1,
    );
    folder.write("pump.st", slower);
    let departs = folder.run("test lab.steps --name pump").expect(1);
    assert!(departs.out.contains("failed[trace-differs]: `Pump` departs"), "{}", departs.shown());
    let changed = folder.run("test lab.steps --approve --name pump").expect(0);
    assert!(changed.out.contains("  changed  lab.traces/"), "{}", changed.shown());
    folder.run("test lab.steps --name pump").expect(0);
}

#[test]
fn what_does_not_pass_approves_nothing() {
    let folder = folder();
    let fails = compared("fails").replace("  wait T#1s;\n", "  expect NOT Pump;\n");
    let refused = compared("refused").replace("StartPB", "StratPB");
    write(&folder, "lab.steps", &[fails, refused, compared("passes")]);
    let ran = folder.run("test lab.steps --approve").expect(2);
    let told: Vec<&str> = ran.out.lines().skip_while(|line| *line != "approved traces").take(4).collect();
    insta::assert_snapshot!(told.join("\n"));
    let names: Vec<_> = std::fs::read_dir(folder.path("lab.traces")).unwrap().collect();
    assert_eq!(names.len(), 1);
}

#[test]
fn a_trace_that_no_title_asks_for_is_told() {
    let folder = folder();
    write(&folder, "lab.steps", &[compared("old title")]);
    folder.run("test --approve").expect(0);
    write(&folder, "lab.steps", &[compared("new title")]);
    let ran = folder.run("test --approve").expect(0);
    assert!(ran.out.contains("  new     lab.traces/new-title.csv"), "{}", ran.shown());
    assert!(
        ran.out.contains("  unused  lab.traces/old-title.csv: no procedure asks for it"),
        "{}",
        ran.shown()
    );
    // Nothing is taken away.
    assert!(folder.path("lab.traces/old-title.csv").exists());
    let quiet = folder.run("test --approve --quiet").expect(0);
    assert!(!quiet.out.contains("unchanged") && quiet.out.contains("unused"), "{}", quiet.shown());
}

#[test]
fn alike_titles_have_traces_of_their_own() {
    let folder = folder();
    let other = compared("The pump").replace("press StartPB for T#100ms", "wait T#1ms");
    write(&folder, "lab.steps", &[compared("the pump"), other]);
    folder.run("test --approve").expect(0);
    folder.run("test").expect(0);
    assert_eq!(std::fs::read_dir(folder.path("lab.traces")).unwrap().count(), 2);
}

#[test]
fn the_first_program_approves_and_the_others_follow() {
    let folder = folder();
    let other = text(&folder, "pump.st").replacen("END_PROGRAM", "Pump := FALSE;\nEND_PROGRAM", 1);
    folder.write("other.st", other);
    write(&folder, "lab.steps", &[format!("program 'other.st';\n{}", compared("two programs"))]);
    let ran = folder.run("test --approve").expect(0);
    assert!(
        ran.out.contains("differs  lab.traces/two-programs.csv: other.st does it otherwise"),
        "{}",
        ran.shown()
    );
    let ran = folder.run("test").expect(1);
    assert!(ran.out.contains("passed   two programs (pump.st)"), "{}", ran.shown());
    assert!(ran.out.contains("failed   two programs (other.st)"), "{}", ran.shown());
}

#[test]
fn nothing_to_approve_is_told() {
    let folder = folder();
    write(&folder, "lab.steps", &[with_file("a capture", "bench.csv")]);
    folder.write("bench.csv", "time,Pump\n0,TRUE\n300,\n");
    let ran = folder.run("test --approve").expect(0);
    assert!(ran.out.contains("no procedure that ran is compared with an approved trace"), "{}", ran.shown());
    assert!(!folder.path("lab.traces").exists());
    for wrong in ["--watch", "--list", "--shard 1/2"] {
        folder.run(&format!("test --approve {wrong}")).expect(2);
    }
}

#[test]
fn captures_are_read_from_the_folder_of_the_file() {
    let folder = folder();
    write(&folder, "lab/lab.steps", &[with_file("a capture", "bench/pump.vcd")]);
    let ran = folder.run("test").expect(2);
    assert!(ran.out.contains("error[procedure-file]: cannot read `bench/pump.vcd`"), "{}", ran.shown());
    std::fs::create_dir(folder.path("lab/bench")).unwrap();
    let dump = |level: &str| {
        format!("$timescale 1 ms $end\n$var wire 1 ! Pump $end\n$enddefinitions $end\n#0 {level}!\n#300\n")
    };
    folder.write("lab/bench/pump.vcd", dump("1"));
    folder.run("test").expect(0);
    folder.write("lab/bench/pump.vcd", dump("0"));
    folder.run("test").expect(1);
    // What is wrong with a trace is shown in the trace.
    folder.write("lab/bench/pump.vcd", dump("1").replace("Pump", "Pmup"));
    let ran = folder.run("test").expect(2);
    assert!(
        ran.out.contains("error[trace-no-signal]") && ran.out.contains("did you mean `Pmup`?"),
        "{}",
        ran.shown()
    );
    assert!(ran.out.contains("lab/bench/pump.vcd:3:1"), "{}", ran.shown());
    folder.write("lab/bench/pump.vcd", [0xff, 0xfe, 0x00]);
    folder.run("test").expect(2);
}

/// The table that `latchwork run` writes is a valid expectation of the same run.
#[test]
fn an_exported_run_is_an_expectation() {
    let folder = folder();
    folder.run("run pump.st --station station.toml --stimulus press.csv --until T#2s --csv run.csv --vcd run.vcd").expect(0);
    let steps = |file: &str| {
        let presses = text(&folder, "press.csv");
        assert!(presses.contains("StartPB"), "{presses}");
        format!(
            "procedure 'as exported to {file}'\n  compare Start, Stop with '{file}';\n  wait T#2s;\nend_procedure\n\n"
        )
    };
    write(&folder, "lab.steps", &[steps("run.csv"), steps("run.vcd")]);
    // Nobody presses anything in these procedures, so they depart where somebody did in the run.
    let ran = folder.run("test").expect(1);
    assert_eq!(ran.out.matches("failed[trace-differs]: `Start` departs").count(), 2, "{}", ran.shown());
}

#[test]
fn approvals_are_in_the_json_document() {
    let folder = folder();
    write(&folder, "lab.steps", &[compared("a"), failing("b")]);
    let ran = folder.run("test --approve --format json --json out.json").expect(1);
    let document: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(document["results"][0]["approval"], "new");
    assert_eq!(document["results"][1].get("approval"), None);
    assert!(ran.err.contains("approved traces\n  new  lab.traces/a.csv"), "{}", ran.shown());
    assert_eq!(text(&folder, "out.json"), ran.out);
}

/// The sample with recorded traces: followed in both languages, approved as it stands, and a pump that starts later
/// departs from both traces.
#[test]
fn the_sample_follows_its_traces() {
    let samples = concat!(env!("CARGO_MANIFEST_DIR"), "/../samples/transfer-pump");
    let folder = folder();
    let copy = |from: &str, to: &str| {
        for entry in std::fs::read_dir(format!("{samples}/{from}")).unwrap() {
            let path = entry.unwrap().path();
            if path.is_file() {
                let name = path.file_name().unwrap().to_str().unwrap();
                folder.write(&format!("{to}{name}"), std::fs::read(&path).unwrap());
            }
        }
    };
    copy("", "");
    std::fs::create_dir(folder.path("recorded.traces")).unwrap();
    copy("recorded.traces", "recorded.traces/");
    folder.run("test recorded.steps").expect(0);
    let approved = folder.run("test recorded.steps --approve").expect(0);
    assert!(
        approved
            .out
            .contains("approved traces\n  unchanged  recorded.traces/a-batch-then-the-stop-button.csv\n"),
        "{}",
        approved.shown()
    );
    folder.write("pump.st", text(&folder, "pump.st").replace("PT := T#800ms", "PT := T#900ms"));
    let late = folder.run("test recorded.steps").expect(1);
    assert_eq!(late.out.matches("failed[trace-differs]: `P1` departs").count(), 2, "{}", late.shown());
    assert!(late.out.contains("expected is TRUE (from 800 ms to 2.2 s)"), "{}", late.shown());
    // The board allowed 30 ms; its pump started at 1.321 s.
    assert!(late.out.contains("at 1.351 s"), "{}", late.shown());
}
