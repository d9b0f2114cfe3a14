//! The samples as rungs, each at a telling moment: to be read as somebody who knows ladder diagrams reads them.

#![allow(missing_docs, clippy::unwrap_used)]

mod bench;

use std::{collections::BTreeSet, fs, path::Path};

use bench::Ran;

const SAMPLES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../samples");

/// Tasks of the gallery, in both languages: a procedure by words of its title, and a time in it.
const GALLERY: [(&str, &str, &str); 13] = [
    // The first pump runs and holds itself.
    ("alternating-pumps", "runs from the upper", "T#450ms"),
    // Alarm, not yet acknowledged.
    ("annunciator", "alarm, acknowledged, gone", "T#800ms"),
    ("batch-mixer", "one batch", "T#5s"),
    // Somebody waits, the road has its green.
    ("crossing-lights", "waits until the road", "T#12s"),
    ("heater-pid", "PI control", "T#3s"),
    // Start and stop held together.
    ("jog", "stop beats the jog", "T#100ms"),
    ("level-scaling", "the currents of a failure", "T#100ms"),
    // Out runs, back is locked.
    ("reversing", "each direction", "T#700ms"),
    // The start button is released.
    ("seal-in", "runs on when the start", "T#1s"),
    // In star, the timer runs.
    ("star-delta", "five seconds", "T#2s"),
    ("tank-fill", "fills to the upper", "T#5s"),
    ("tray-conveyor", "defective tray", "T#300ms"),
    // The first hand is down.
    ("two-hand", "both hands", "T#300ms"),
];

/// Other samples: their folder, and the arguments behind `rungs`.
const OTHERS: [(&str, &str); 9] = [
    ("transfer-pump", "pump.st --at T#1.2s --station station.toml --stimulus stimulus.csv"),
    ("transfer-pump", "pump.il"),
    ("four-inputs", "copy.st --at T#1s --station station.toml --stimulus stimulus.csv"),
    ("header-tank", "plant.st --at T#1s --station station.toml --stimulus stimulus.csv"),
    ("misting-cycle", "misting.st --at T#1s --station station.toml --stimulus stimulus.csv"),
    ("plant-tank", "pump.st --at T#2s --station station.toml --stimulus stimulus.csv"),
    ("plant-motor", "--procedure procedure.steps run-up.il --only jams --at T#1s"),
    ("plant-conveyor", "belt.st --at T#1s --station station.toml --stimulus stimulus.csv"),
    ("published-algorithms", "vent-position.st --at T#1s"),
];

fn run(folder: &Path, arguments: &[&str]) -> Ran {
    let mut command = assert_cmd::Command::new(env!("CARGO_BIN_EXE_latchwork"));
    command.current_dir(folder).arg("rungs").args(arguments).args(["--width", "96", "--color", "never"]);
    Ran::from(command.output().unwrap())
}

#[test]
fn the_gallery_reads_as_ladder() {
    let root = Path::new(SAMPLES).join("gallery");
    for (task, title, at) in GALLERY {
        for language in ["st", "il"] {
            let program = format!("{task}.{language}");
            let arguments = [&program, "--procedure", "procedure.steps", "--only", title, "--at", at];
            let shown = run(&root.join(task), &arguments).expect(0);
            assert!(shown.err.is_empty(), "{}", shown.err);
            insta::assert_snapshot!(format!("gallery_{task}_{language}"), shown.out);
        }
    }
    let tasks: BTreeSet<String> = GALLERY.iter().map(|(task, ..)| (*task).to_owned()).collect();
    let folders = fs::read_dir(&root).unwrap().map(|entry| entry.unwrap());
    let folders = folders.filter(|entry| entry.path().is_dir()).map(|entry| entry.file_name().into_string());
    let folders: BTreeSet<String> =
        folders.map(Result::unwrap).filter(|name| !name.starts_with('.')).collect();
    assert_eq!(tasks, folders);
}

#[test]
fn samples_in_both_languages_read_as_ladder() {
    let root = Path::new(SAMPLES).join("both-languages");
    let mut names: Vec<String> =
        fs::read_dir(&root).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    for program in names.iter().filter(|name| !name.ends_with(".csv")) {
        let (stem, language) = program.rsplit_once('.').unwrap();
        let stimulus = format!("{stem}.csv");
        let shown = run(&root, &[program, "--at", "T#1.2s", "--stimulus", &stimulus]).expect(0);
        insta::assert_snapshot!(format!("both_{stem}_{language}"), shown.out);
    }
}

#[test]
fn other_samples_read_as_ladder() {
    for (index, (folder, arguments)) in OTHERS.iter().enumerate() {
        let arguments: Vec<&str> = arguments.split_whitespace().collect();
        let shown = run(&Path::new(SAMPLES).join(folder), &arguments).expect(0);
        insta::assert_snapshot!(format!("sample_{index}_{folder}"), shown.out);
    }
}

/// Two thousand lines: every unit is drawn, in every form.
#[test]
fn the_whole_plant_is_drawn() {
    let root = Path::new(SAMPLES).join("rainwater-plant");
    let mut files: Vec<String> =
        fs::read_dir(&root).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    files.retain(|name| !name.ends_with(".csv"));
    files.sort();
    let mut arguments: Vec<&str> = files.iter().map(String::as_str).collect();
    arguments.extend(["--at", "T#2s", "--stimulus", "stimulus.csv"]);
    for form in ["text", "svg", "json"] {
        let mut arguments = arguments.clone();
        arguments.extend(["--format", form]);
        let shown = run(&root, &arguments).expect(0);
        assert!(shown.out.len() > 100_000, "{form}: {}", shown.out.len());
        if form == "text" {
            let mut safety = arguments.clone();
            safety.extend(["--pou", "Safety", "--pou", "Plant.Climate.ClimateControl"]);
            insta::assert_snapshot!("plant_safety_and_climate", run(&root, &safety).expect(0).out);
            assert!(shown.out.lines().all(|line| line.chars().count() <= 96));
        }
    }
}
