//! Stations with a plant: its files, its mistakes, its faults.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use std::fs;

use bench::Folder;

const CONTROLLER: &str = "\
PROGRAM Main
VAR
    Full AT %IX0.0 : BOOL;
    Pump AT %QX0.0 : BOOL;
END_VAR
    Pump := NOT Full;
END_PROGRAM
";

const STATION: &str = "\
[[device]]
name = \"FloatFull\"
contact = \"normally open\"
action = \"maintained\"
actuated = \"wet\"
terminal = \"%IX0.0\"

[[load]]
name = \"P1\"
terminal = \"%QX0.0\"

[plant]
files = [\"../models/tank.st\"]
";

const RUN: &str = "run main.st --station lab/station.toml --until T#30s";

/// A folder with a controller, a station and a plant, each in a folder of its own.
fn folder(plant: &str) -> Folder {
    let folder = Folder::new();
    for name in ["lab", "models"] {
        fs::create_dir(folder.path(name)).unwrap();
    }
    folder.write("main.st", CONTROLLER);
    folder.write("lab/station.toml", STATION);
    folder.write("models/tank.st", plant);
    folder
}

const TANK: &str = include_str!("files/tank.st");

/// 4 % in a second: full after 20 s.
#[test]
fn a_run_takes_its_plant_from_beside_the_station() {
    let folder = folder(TANK);
    let ran = folder.run(&format!("{RUN} --record FloatFull,P1,Tank.Level")).expect(0);
    assert_eq!(ran.err, "");
    insta::assert_snapshot!(ran.out);
    // An image has its plant too.
    folder.run("build main.st -o main.image").expect(0);
    let of_source = folder.run(&format!("{RUN} --quiet --csv source.csv")).expect(0);
    let of_image =
        folder.run(&format!("{RUN} --quiet --csv image.csv").replace("main.st", "main.image")).expect(0);
    assert_eq!(of_source.err, of_image.err);
    assert_eq!(folder.read("source.csv"), folder.read("image.csv"));
}

#[test]
fn a_plant_that_cannot_be_used_ends_it() {
    let said = |plant: Option<&str>| {
        let folder = folder(plant.unwrap_or_default());
        if plant.is_none() {
            fs::remove_file(folder.path("models/tank.st")).unwrap();
        }
        let ran = folder.run(RUN).expect(2);
        let checked = folder.run("check main.st --station lab/station.toml").expect(2);
        assert_eq!(ran.out, "");
        assert_eq!(checked.out, ran.err);
        ran.err
    };
    let out = [
        said(None),
        said(Some("")),
        said(Some(&TANK.replace("80.0", "Brim"))),
        said(Some(&TANK.replace("P1", "P2"))),
    ];
    insta::assert_snapshot!(out.join("\n"));
}

#[test]
fn a_fault_of_the_plant_is_told_as_such() {
    let faulty = TANK
        .replace("Inflow * Interval;", "Inflow * Interval;\n        Count := 1000 / (800 - Runs);")
        .replace("    Level : LREAL;\n", "    Level : LREAL;\n    Runs, Count : INT;\n    Small : SINT;\n")
        .replace(
            "    FloatFull :=",
            "    Runs := Runs + 1;\n    Small := INT_TO_SINT(Runs);\n    FloatFull :=",
        );
    let folder = folder(&faulty);
    let ran = folder.run(&format!("{RUN} --csv trace.csv --quiet")).expect(1);
    insta::assert_snapshot!(ran.err);
    // What was recorded before is there: a heading and the scans at 0 to 8 s.
    assert_eq!(String::from_utf8(folder.read("trace.csv")).unwrap().lines().count(), 802);
    let strict = folder.run(&format!("{RUN} --strict --quiet")).expect(1);
    assert!(strict.err.starts_with("fault[conversion]: the plant stopped: "), "{}", strict.err);
}

#[test]
fn files_of_the_plant_are_not_written_over() {
    let folder = folder(TANK);
    let ran = folder.run(&format!("{RUN} --csv models/tank.st")).expect(2);
    assert!(ran.err.contains("this file is read"), "{}", ran.err);
    assert_eq!(folder.read("models/tank.st"), TANK.as_bytes());
}
