//! The exit codes, which scripts rely on: one case each, and what tells them apart.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use bench::Folder;

const FAULT: &str = "\
PROGRAM Main
VAR
    Trays : INT;
    Scans : INT;
END_VAR
    Scans := Scans + 1;
    Trays := 100 / (5 - Scans);
END_PROGRAM
";

#[test]
fn good_is_0() {
    let folder = Folder::new();
    folder.run("check pump.st").expect(0);
    folder.run("run pump.st --until T#100ms").expect(0);
    folder.run("build pump.st -o pump.image").expect(0);
    folder.run("listing pump.st").expect(0);
    folder.run("explain type-mismatch").expect(0);
}

#[test]
fn an_empty_file_can_be_checked() {
    let folder = Folder::new();
    folder.write("empty.st", "");
    folder.run("check empty.st").expect(0);
}

#[test]
fn warnings_alone_are_0() {
    let folder = Folder::new();
    folder.write("warned.st", "PROGRAM Main\nVAR Level : REAL; Full : BOOL; END_VAR\n    Level := Level + 0.5;\n    Full := Level = 2.0;\nEND_PROGRAM\n");
    let ran = folder.run("check warned.st").expect(0);
    assert!(ran.out.contains("warning["), "{}", ran.shown());
    assert!(ran.out.ends_with("1 warning\n"), "{}", ran.shown());
}

#[test]
fn warnings_are_1_where_they_are_told_to_fail() {
    let folder = Folder::new();
    let program = |pragma: &str| {
        format!(
            "PROGRAM Main\nVAR Level : REAL; Full : BOOL; END_VAR\n    Level := Level + 0.5;\n    {pragma}\n    Full := Level = 2.0;\nEND_PROGRAM\n"
        )
    };
    folder.write("warned.st", program(""));
    folder.run("check warned.st --warnings-fail").expect(1);
    folder.run("check warned.st --warnings-fail --format json").expect(1);
    folder.write("warned.st", program("{allow real-equal: it counts halves}"));
    folder.run("check warned.st --warnings-fail").expect(0);
    folder.write("warned.st", program("{allow int-division}"));
    let ran = folder.run("check warned.st --warnings-fail").expect(1);
    assert!(ran.out.contains("warning[allow-unused]"), "{}", ran.shown());
}

#[test]
fn errors_in_the_program_are_1() {
    let folder = Folder::new();
    folder.write("wrong.st", "PROGRAM Main\nVAR Level : INT; END_VAR\n    Level := 'full';\nEND_PROGRAM\n");
    for arguments in ["check wrong.st", "run wrong.st", "build wrong.st -o wrong.image", "listing wrong.st"] {
        folder.run(arguments).expect(1);
    }
    assert!(!folder.path("wrong.image").exists());
}

#[test]
fn a_fault_is_1_and_what_was_recorded_before_it_is_shown() {
    let folder = Folder::new();
    folder.write("fault.st", FAULT);
    let ran =
        folder.run("run fault.st --until T#1s --record Main.Scans --csv trace.csv --color never").expect(1);
    insta::assert_snapshot!(ran.err);
    let trace = String::from_utf8(folder.read("trace.csv")).unwrap();
    assert_eq!(trace.lines().collect::<Vec<_>>(), ["time,Main.Scans", "0,1", "10,2", "20,3", "30,4"]);
    assert!(ran.out.contains("Scans"));
}

#[test]
fn wrong_usage_and_unreadable_input_are_2() {
    let folder = Folder::new();
    folder.write("bad.toml", "[[device]]\nname = \"PB\"\ncontact = \"open\"\nterminal = \"%IX0.0\"\n");
    folder.write("bad.csv", "time,Strat\n0,1\n");
    folder.write("bad.image", "LTWK and nothing behind it");
    for arguments in [
        "check",
        "frobnicate",
        "check missing.st",
        "check .",
        "run pump.st --scan 0",
        "run pump.st --scan T#0s",
        "run pump.st --scan soon",
        "run pump.st --until T#-1s",
        "run pump.st --station missing.toml",
        "run pump.st --station bad.toml",
        "run pump.st --stimulus bad.csv",
        "run pump.st --record Nothing",
        "run pump.st --record Start,,Pump",
        "run pump.st --csv missing/trace.csv",
        "run pump.st --csv .",
        "run bad.image",
        "listing bad.image",
        "check bad.image",
        "build pump.st",
        "explain no-such-thing",
        "completions none",
        "check pump.st --color sometimes",
    ] {
        let ran = folder.run(arguments).expect(2);
        assert!(!ran.err.is_empty(), "`{arguments}` is refused without a word");
    }
}

#[test]
fn nothing_to_run_is_4() {
    let folder = Folder::new();
    folder.write("empty.st", "");
    for arguments in ["run types.st", "run empty.st", "build types.st -o types.image"] {
        let ran = folder.run(arguments).expect(4);
        assert!(ran.err.contains("PROGRAM"), "{}", ran.shown());
    }
    assert!(!folder.path("types.image").exists());
}

/// Without a handler of its own the process ends by the signal, which a shell reports as 130.
#[cfg(unix)]
#[test]
fn interrupted_is_130_in_a_shell() {
    // Whoever starts the tests with this signal ignored has it ignored in all that they start.
    let ignored = std::fs::read_to_string("/proc/self/status").ok().and_then(|status| {
        let mask = status.lines().find_map(|line| line.strip_prefix("SigIgn:"))?;
        u64::from_str_radix(mask.trim(), 16).ok()
    });
    if ignored.is_some_and(|mask| mask & 0b10 != 0) {
        return;
    }
    let folder = Folder::new();
    folder.write("long.st", "PROGRAM Main\nVAR N : DINT; I : DINT; END_VAR\n    N := 0;\n    FOR I := 1 TO 900000 DO\n        N := N + I MOD 3;\n    END_FOR;\nEND_PROGRAM\n");
    let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_latchwork"))
        .args(["run", "long.st", "--until", "T#10h", "--quiet"])
        .current_dir(folder.path("."))
        .spawn()
        .unwrap();
    std::thread::sleep(std::time::Duration::from_millis(500));
    let sent = std::process::Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(sent.success());
    let status = child.wait().unwrap();
    assert_eq!(std::os::unix::process::ExitStatusExt::signal(&status), Some(2));
}
