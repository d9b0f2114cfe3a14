//! What the commands write: streams, formats, files, colour, width.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use std::{fs, process::Stdio};

use bench::Folder;

const RUN: &str = "run pump.st --station station.toml --stimulus press.csv";

const WRONG: &str = "\
PROGRAM Main
VAR
    Level : INT;
    Full : BOOL;
END_VAR
    Full = Level > 40;
    Level := Leve + 1;
END_PROGRAM
";

#[test]
fn a_run_draws_its_diagram_on_standard_output() {
    let folder = Folder::new();
    let ran = folder.run(RUN).expect(0);
    assert_eq!(ran.err, "");
    insta::assert_snapshot!(ran.out);
}

#[test]
fn the_diagram_fits_the_width_asked_for() {
    let folder = Folder::new();
    for columns in [40, 80, 200] {
        let output =
            folder.command().args(RUN.split(' ')).env("COLUMNS", columns.to_string()).output().unwrap();
        let text = String::from_utf8(output.stdout).unwrap();
        let widest = text.lines().map(|line| line.chars().count()).max().unwrap();
        assert!(widest <= columns && widest > columns / 2, "{widest} of {columns} columns:\n{text}");
    }
}

#[test]
fn quiet_says_nothing_when_all_is_well() {
    let folder = Folder::new();
    let ran = folder.run(&format!("{RUN} --quiet --csv trace.csv")).expect(0);
    assert_eq!((ran.out.as_str(), ran.err.as_str()), ("", ""));
    assert!(folder.path("trace.csv").exists());
}

#[test]
fn an_image_runs_like_its_source() {
    let folder = Folder::new();
    folder.run("build pump.st -o pump.image").expect(0);
    let outputs = "--station station.toml --stimulus press.csv --quiet";
    folder.run(&format!("run pump.st {outputs} --csv source.csv --vcd source.vcd")).expect(0);
    folder.run(&format!("run pump.image {outputs} --csv image.csv --vcd image.vcd")).expect(0);
    assert_eq!(folder.read("source.csv"), folder.read("image.csv"));
    assert_eq!(folder.read("source.vcd"), folder.read("image.vcd"));
}

#[test]
fn building_twice_gives_the_same_bytes() {
    let folder = Folder::new();
    folder.run("build pump.st types.st -o one.image").expect(0);
    folder.run("build pump.st types.st -o two.image").expect(0);
    assert_eq!(folder.read("one.image"), folder.read("two.image"));
}

#[test]
fn all_files_asked_for_are_written_and_nothing_else() {
    let folder = Folder::new();
    folder.run(&format!("{RUN} --csv a.csv --vcd a.vcd --svg a.svg")).expect(0);
    assert_eq!(
        folder.names(),
        ["a.csv", "a.svg", "a.vcd", "press.csv", "pump.st", "pump.steps", "station.toml", "types.st"]
    );
    assert!(folder.read("a.svg").starts_with(b"<"));
    assert!(String::from_utf8(folder.read("a.vcd")).unwrap().contains("$enddefinitions"));
}

#[test]
fn the_record_option_chooses_rows_and_their_order() {
    let folder = Folder::new();
    folder.run("run pump.st --until 30 --record Main.Pump,%IX0.0 --quiet --csv trace.csv").expect(0);
    let trace = String::from_utf8(folder.read("trace.csv")).unwrap();
    assert_eq!(trace.lines().count(), 4, "{trace}");
    assert!(trace.starts_with("time,Main.Pump,"), "{trace}");
}

#[test]
fn inputs_are_never_written_over() {
    let folder = Folder::new();
    let before = folder.read("pump.st");
    for arguments in [
        "build pump.st -o pump.st",
        "build pump.st -o ./pump.st",
        "run pump.st --csv pump.st",
        "run pump.st --stimulus press.csv --csv press.csv",
        "run pump.st --station station.toml --svg station.toml",
        "run pump.st --csv same.txt --vcd same.txt",
    ] {
        folder.run(arguments).expect(2);
    }
    assert_eq!(folder.read("pump.st"), before);
    assert!(!folder.path("same.txt").exists());
}

#[test]
fn a_check_lists_in_three_forms() {
    let folder = Folder::new();
    folder.write("wrong.st", WRONG);
    let text = folder.run("check wrong.st").expect(1);
    assert_eq!(text.err, "");
    assert!(text.out.ends_with("2 errors\n"), "{}", text.out);
    let json: serde_json::Value =
        serde_json::from_str(&folder.run("check wrong.st --format json").expect(1).out).unwrap();
    assert_eq!(json["schema_version"], 1);
    let lines: Vec<u64> =
        json["diagnostics"].as_array().unwrap().iter().map(|entry| entry["line"].as_u64().unwrap()).collect();
    assert_eq!(lines, [6, 7]);
    let sarif: serde_json::Value =
        serde_json::from_str(&folder.run("check wrong.st --format sarif").expect(1).out).unwrap();
    assert_eq!(sarif["version"], "2.1.0");
    assert_eq!(sarif["runs"][0]["results"].as_array().unwrap().len(), 2);
    for rule in sarif["runs"][0]["tool"]["driver"]["rules"].as_array().unwrap() {
        assert!(rule["help"]["text"].is_string(), "a rule without an explanation: {rule}");
    }
}

#[test]
fn colour_only_where_it_is_wanted() {
    let folder = Folder::new();
    folder.write("wrong.st", WRONG);
    let coloured = |variables: &[(&str, &str)], flags: &str| {
        let mut command = folder.command();
        command.args(["check", "wrong.st"]).args(flags.split_whitespace()).envs(variables.iter().copied());
        command.output().unwrap().stdout.contains(&0x1b)
    };
    assert!(!coloured(&[], ""));
    assert!(coloured(&[("CLICOLOR_FORCE", "1")], ""));
    assert!(!coloured(&[("CLICOLOR_FORCE", "1"), ("NO_COLOR", "1")], ""));
    assert!(coloured(&[("NO_COLOR", "1")], "--color always"));
    assert!(!coloured(&[("CLICOLOR_FORCE", "1")], "--color never"));
}

#[test]
fn a_listing_shows_bytecode_beside_source_lines() {
    let folder = Folder::new();
    let ran = folder.run("listing pump.st").expect(0);
    assert!(
        ran.out.contains("PROGRAM Main") && ran.out.contains("pump.st:7  Pump := (Start OR Pump) AND Stop;")
    );
    folder.run("build pump.st -o pump.image").expect(0);
    let image = folder.run("listing pump.image").expect(0);
    assert!(image.out.contains("pump.st:7"), "{}", image.out);
    assert!(!image.out.contains(":= (Start"), "an image has no source text");
}

#[test]
fn every_diagnostic_can_be_explained() {
    let folder = Folder::new();
    let list = folder.run("explain").expect(0).out;
    for line in list.lines() {
        let name = line.split_whitespace().next().unwrap();
        let page = folder.run(&format!("explain {name}")).expect(0).out;
        assert!(page.starts_with(&format!("# {name}\n")), "{page}");
    }
    // Brackets come along when a name is copied from a message.
    folder.run("explain [type-mismatch]").expect(0);
}

#[cfg(unix)]
#[test]
fn a_reader_that_goes_away_is_no_error() {
    let folder = Folder::new();
    for arguments in [RUN, "explain", "completions bash", "listing pump.st", "--help"] {
        let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_latchwork"))
            .args(arguments.split(' '))
            .current_dir(folder.path("."))
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{arguments}");
        assert!(output.stderr.is_empty(), "{arguments}: {}", String::from_utf8_lossy(&output.stderr));
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_told() {
    let folder = Folder::new();
    let full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_latchwork"))
        .args(RUN.split(' '))
        .current_dir(folder.path("."))
        .stdout(full)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("cannot write"));
    folder.run("run pump.st --until 50 --quiet --csv /dev/full").expect(2);
}

#[cfg(unix)]
#[test]
fn outputs_can_go_to_a_stream() {
    let folder = Folder::new();
    let ran = folder.run("run pump.st --until 30 --quiet --csv /dev/stdout").expect(0);
    assert!(ran.out.starts_with("time,"), "{}", ran.shown());
}

#[test]
fn a_strict_run_stops_at_the_first_event() {
    let folder = Folder::new();
    folder.write(
        "overflow.st",
        "PROGRAM Main\nVAR_OUTPUT Count : INT := 32765; END_VAR\n    Count := Count + 1;\nEND_PROGRAM\n",
    );
    let ran = folder.run("run overflow.st --strict --until T#1s").expect(1);
    assert!(ran.err.contains("overflow") && ran.err.contains("overflow.st:3"), "{}", ran.shown());
    assert!(ran.out.contains("32767") && !ran.out.contains("-32768"), "{}", ran.shown());
    folder.run("run overflow.st --until T#1s").expect(0);
}

#[test]
fn events_are_summed_up_on_standard_error() {
    let folder = Folder::new();
    folder.write(
        "overflow.st",
        "PROGRAM Main\nVAR Trays : SINT := 120; END_VAR\n    Trays := Trays + SINT#3;\nEND_PROGRAM\n",
    );
    let ran = folder.run("run overflow.st --until T#1s").expect(0);
    insta::assert_snapshot!(ran.err);
}

#[test]
fn a_stop_asked_the_wrong_way_round_is_told_with_the_station() {
    let folder = Folder::new();
    let program = "PROGRAM Main\nVAR\n    Start AT %IX0.0 : BOOL;\n    Stop AT %IX0.1 : BOOL;\n    \
        Level AT %IW2 : INT;\n    Pump AT %QX0.0 : BOOL;\nEND_VAR\n    \
        Pump := (Start OR Pump) AND NOT Stop AND Level < 80;\nEND_PROGRAM\n";
    folder.write("turned.st", program);
    folder.run("check turned.st").expect(0);
    let ran = folder.run("check turned.st --station station.toml").expect(0);
    assert!(ran.out.contains("warning[station-stop-sense]"), "{}", ran.shown());
    folder.run("check turned.st --station station.toml --warnings-fail").expect(1);
    let ran = folder.run("check turned.st --station station.toml --format json").expect(0);
    assert!(ran.out.contains("station-stop-sense") && ran.out.contains("station.toml"), "{}", ran.shown());
    let ran = folder.run("run turned.st --station station.toml --until T#100ms").expect(0);
    assert!(ran.err.contains("warning[station-stop-sense]"), "{}", ran.shown());
    // Allowed, it is silent, and without the station the pragma is no pragma without effect.
    let pragma = "    {allow station-stop-sense: the button is to be changed}\n    Pump :=";
    folder.write("allowed.st", program.replace("    Pump :=", pragma));
    folder.run("check allowed.st --warnings-fail").expect(0);
    folder.run("check allowed.st --station station.toml --warnings-fail").expect(0);
    // A station that cannot be used.
    folder.write("bad.toml", "[[device]]\nname = \"StopPB\"\n");
    folder.run("check turned.st --station bad.toml").expect(2);
    folder.run("check turned.st --station missing.toml").expect(2);
}
