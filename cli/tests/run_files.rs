//! The files of `run`: the same bytes whether they are written while the program runs or from the whole recording, whole
//! whatever happens on the way.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use bench::Folder;

/// Numbers, times, characters, a text that grows, names: everything that the head of a dump must tell is there late.
const EVERYTHING: &str = "\
TYPE Phase : (Idle, Filling, Full); END_TYPE
PROGRAM Main
VAR
    Scans : UDINT;
    Beat : BOOL;
    Level : REAL;
    Delay : TIME;
    Label : STRING[20];
    Wide : WSTRING[20];
    State : Phase;
END_VAR
    Scans := Scans + 1;
    Beat := Scans MOD 7 < 3;
    Level := Level + 0.25;
    Delay := T#3ms * Scans;
    IF Scans = 2500 THEN
        Label := 'nearly full';
        Wide := \"am Rand\";
        State := Phase#Full;
    ELSIF Scans = 40 THEN
        Label := 'on';
        State := Phase#Filling;
    END_IF;
END_PROGRAM
";

/// Only what the first scan tells all about.
const PLAIN: &str = "\
PROGRAM Main
VAR
    Scans : UDINT;
    Beat : BOOL;
    Trays : INT;
END_VAR
    Scans := Scans + 1;
    Beat := Scans MOD 7 < 3;
    Trays := 100 / (LAST - UDINT_TO_INT(Scans));
END_PROGRAM
";

const ALL: &str = "Main.Scans,Main.Beat,Main.Level,Main.Delay,Main.Label,Main.Wide,Main.State";
const FEW: &str = "Main.Beat,Main.Scans,Main.Trays";

/// Runs a program both ways and compares the files.
fn the_same_both_ways(program: &str, options: &str, code: i32) {
    let folder = Folder::new();
    folder.write("main.st", program);
    let run = format!("run main.st {options} --quiet");
    folder.run(&format!("{run} --csv followed.csv --vcd followed.vcd")).expect(code);
    folder.run(&format!("{run} --csv whole.csv --vcd whole.vcd --svg whole.svg")).expect(code);
    for kind in ["csv", "vcd"] {
        let (followed, whole) =
            (folder.read(&format!("followed.{kind}")), folder.read(&format!("whole.{kind}")));
        assert!(!whole.is_empty());
        assert!(followed == whole, "{kind} of {options}: {} and {} bytes", followed.len(), whole.len());
    }
    assert!(folder.names().iter().all(|name| !name.starts_with(".latchwork")), "{:?}", folder.names());
}

#[test]
fn files_written_while_the_program_runs_are_those_of_the_whole_recording() {
    the_same_both_ways(EVERYTHING, &format!("--until T#30s --record {ALL}"), 0);
    the_same_both_ways(EVERYTHING, &format!("--until T#30s --scan T#2500us --record {ALL}"), 0);
    the_same_both_ways(&PLAIN.replace("LAST", "30000"), &format!("--until T#30s --record {FEW}"), 0);
    the_same_both_ways(EVERYTHING, "--until T#10ms --record Main.State,Main.Label", 0);
}

#[test]
fn a_fault_leaves_the_scans_before_it_both_ways() {
    for last in ["2100", "1025", "1024", "2", "1"] {
        the_same_both_ways(&PLAIN.replace("LAST", last), &format!("--until T#30s --record {FEW}"), 1);
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_told_and_leaves_no_half_file() {
    let folder = Folder::new();
    folder.write("main.st", EVERYTHING);
    let names = folder.names();
    for option in ["--csv", "--vcd"] {
        for more in ["--quiet", "--quiet --svg", ""] {
            let more = more.replace("--svg", "--svg drawn.svg");
            let ran =
                folder.run(&format!("run main.st --until T#30s --record {ALL} {option} /dev/full {more}"));
            let ran = ran.expect(2);
            assert!(
                ran.shown().contains("/dev/full: cannot write: No space left on device"),
                "{}",
                ran.shown()
            );
        }
    }
    // The other file is not there either: it would hold a part of the run.
    folder
        .run(&format!("run main.st --until T#60s --record {ALL} --csv /dev/full --vcd a.vcd --quiet"))
        .expect(2);
    assert_eq!(folder.names(), names);
}

/// What was recorded up to then is written, as whole files.
#[cfg(unix)]
#[test]
fn an_interrupted_run_writes_what_it_has() {
    let folder = Folder::new();
    folder.write("main.st", EVERYTHING);
    let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_latchwork"))
        .args(["run", "main.st", "--until", "T#20h", "--record", ALL])
        .args(["--csv", "a.csv", "--vcd", "a.vcd", "--quiet"])
        .current_dir(folder.path("."))
        .spawn()
        .unwrap();
    // The files begin beside their places when the run begins.
    while !folder.names().iter().any(|name| name.starts_with(".latchwork")) {
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
    std::thread::sleep(std::time::Duration::from_millis(300));
    let sent = std::process::Command::new("kill").args(["-TERM", &child.id().to_string()]).status().unwrap();
    assert!(sent.success());
    assert_eq!(child.wait().unwrap().code(), Some(130));
    let (table, dump) = (folder.read("a.csv"), folder.read("a.vcd"));
    assert!(table.starts_with(b"time,Main.Scans") && table.ends_with(b"\n"));
    assert!(dump.starts_with(b"$version") && dump.ends_with(b"\n"));
    // The dump ends where the table ends: one scan after its last line.
    let last = String::from_utf8(table).unwrap().lines().last().unwrap().to_owned();
    let last: i64 = last.split(',').next().unwrap().parse().unwrap();
    assert!(String::from_utf8(dump).unwrap().ends_with(&format!("#{}\n", (last + 10) / 10)), "{last}");
    assert!(folder.names().iter().all(|name| !name.starts_with(".latchwork")));
}
