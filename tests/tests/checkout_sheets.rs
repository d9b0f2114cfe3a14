//! What a checkout sheet expects, held to an independent replay of the same acts, and to the search for faults.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a failing test may panic")]

use std::{collections::BTreeSet, fmt::Write as _, sync::Arc};

use latchwork_bench::{
    procedure::{RunOptions, Script, ScriptParts},
    recording::Recording,
    replay::{ReplayOptions, replay},
    sheet::{
        Behaviour, HAND_NS, Phase, Sheet, SheetOptions, by_hand, is_for_the_fault_finder, note,
        of_procedures, stopwatch,
    },
    station::Station,
    stimulus::Stimulus,
    wiring_proof::observed::{self, Board},
};
use latchwork_grammar::{Names, Sources, parse_steps};
use latchwork_tests::workbench::{program, sample, station_of};
use latchwork_vm::{Program, Value};

const SCAN_NS: i64 = 10_000_000;

/// Every sample with a station, and the program on it.
const SAMPLES: [(&str, &str); 18] = [
    ("four-inputs", "copy.st"),
    ("transfer-pump", "pump.st"),
    ("misting-cycle", "misting.st"),
    ("plant-tank", "pump.st"),
    ("plant-motor", "run-up.st"),
    ("gallery/alternating-pumps", "alternating-pumps.st"),
    ("gallery/annunciator", "annunciator.st"),
    ("gallery/batch-mixer", "batch-mixer.st"),
    ("gallery/crossing-lights", "crossing-lights.st"),
    ("gallery/heater-pid", "heater-pid.st"),
    ("gallery/jog", "jog.st"),
    ("gallery/level-scaling", "level-scaling.st"),
    ("gallery/reversing", "reversing.st"),
    ("gallery/seal-in", "seal-in.st"),
    ("gallery/star-delta", "star-delta.st"),
    ("gallery/tank-fill", "tank-fill.st"),
    ("gallery/tray-conveyor", "tray-conveyor.st"),
    ("gallery/two-hand", "two-hand.st"),
];

fn board(folder: &str, file: &str) -> (Arc<Program>, Station) {
    let program = program(&sample(&format!("{folder}/{file}")).unwrap()).unwrap();
    (program, station_of(folder).unwrap())
}

fn by_hand_of(program: &Arc<Program>, station: &Station) -> Sheet {
    let board = Board { program: Arc::clone(program), station, scan_ns: SCAN_NS };
    by_hand(&board, &SheetOptions::default()).unwrap()
}

/// The rows of a stimulus as a table.
fn stimulus(station: &Station, acts: &[(i64, Vec<(usize, Value)>)]) -> String {
    let names: Vec<&str> = station.devices.iter().map(|device| device.name.value.as_str()).collect();
    let mut csv = format!("time,{}\n", names.join(","));
    for (time_ns, acts) in acts {
        let cell = |device: usize| {
            let act = acts.iter().find(|(index, _)| *index == device);
            act.map_or(String::new(), |(_, value)| match value {
                Value::Bool(state) => u8::from(*state).to_string(),
                value => value.as_f64().unwrap().to_string(),
            })
        };
        let cells: Vec<String> = (0..names.len()).map(cell).collect();
        writeln!(csv, "{},{}", *time_ns as f64 / 1e6, cells.join(",")).unwrap();
    }
    csv
}

fn replayed(program: &Arc<Program>, station: &Station, csv: &str, until_ns: i64) -> Recording {
    let mut sources = Sources::new();
    let file = sources.add("acts.csv", csv);
    let (stimulus, problems) = Stimulus::parse(file, csv, program, Some(station));
    assert!(problems.is_empty(), "{problems:?}");
    let names = station.loads.iter().map(|load| load.name.value.clone()).collect();
    let options = ReplayOptions {
        scan_ns: SCAN_NS,
        until_ns: Some(until_ns),
        record: Some(names),
        ..ReplayOptions::default()
    };
    let run = replay(Arc::clone(program), Some(station), stimulus.as_ref(), &options).unwrap();
    assert!(run.fault.is_none() && run.plant_fault.is_none());
    run.recording
}

/// The value of a load after the scan that starts at or last before a time.
fn value(recording: &Recording, load: usize, time_ns: i64) -> Value {
    recording.rows[load].signal.value_at(u32::try_from(time_ns / SCAN_NS).unwrap())
}

/// Starts of the scans in a stretch of time after which a load was another than before.
fn changes(recording: &Recording, load: usize, (from_ns, until_ns): (i64, i64)) -> Vec<i64> {
    let changes = recording.rows[load].signal.changes.iter();
    // Before the first scan a load is off; the first value of a number is no change.
    let changes = changes.filter(|change| change.scan > 0 || change.value == Value::Bool(true));
    let times = changes.map(|change| i64::from(change.scan) * SCAN_NS);
    times.filter(|time_ns| (from_ns..until_ns).contains(time_ns)).collect()
}

/// Holds what a sheet expects of a load in a step to a recording.
fn agrees(
    recording: &Recording,
    load: usize,
    span_ns: (i64, i64),
    expected: &Behaviour,
) -> Result<(), String> {
    let (from_ns, until_ns) = span_ns;
    let changed = changes(recording, load, span_ns);
    let end = value(recording, load, until_ns - SCAN_NS);
    let check =
        |right: bool, what: &str| if right { Ok(()) } else { Err(format!("{what}: changed {changed:?}")) };
    match expected {
        Behaviour::Stays(on) => {
            check(changed.is_empty(), "a change")?;
            check(end == Value::Bool(*on), "another state")
        }
        Behaviour::Level(level) => check((end.as_f64().unwrap() - level).abs() < 1e-9, "another level"),
        Behaviour::Moves { to, between, .. } => {
            check((end.as_f64().unwrap() - to).abs() < 1e-9, "another end")?;
            let inside = changed.iter().all(|time_ns| {
                let value = value(recording, load, *time_ns).as_f64().unwrap();
                (between.0..=between.1).contains(&value)
            });
            check(inside, "outside of what is told")
        }
        Behaviour::Changes { phases, ends } => {
            check(end == Value::Bool(*ends), "another end")?;
            let mut told = 0;
            for phase in phases {
                match phase {
                    Phase::To { at_ns, on } => {
                        told += 1;
                        check(changed.contains(&(from_ns + at_ns)), "no such change")?;
                        check(
                            value(recording, load, from_ns + at_ns) == Value::Bool(*on),
                            "the other change",
                        )?;
                    }
                    Phase::Flash { at_ns, long_ns, on } => {
                        told += 2;
                        check(changed.contains(&(from_ns + at_ns)), "no such flash")?;
                        check(changed.contains(&(from_ns + at_ns + long_ns)), "no end of the flash")?;
                        check(
                            value(recording, load, from_ns + at_ns) == Value::Bool(*on),
                            "the other flash",
                        )?;
                    }
                    Phase::Blinks { from_ns: since_ns, until_ns: to_ns, on_ns, off_ns } => {
                        let to_ns = to_ns.map_or(until_ns, |to_ns| from_ns + to_ns + 1);
                        let blinks: Vec<i64> = changed
                            .iter()
                            .copied()
                            .filter(|time_ns| (from_ns + since_ns..to_ns).contains(time_ns))
                            .collect();
                        told += blinks.len();
                        check(blinks.len() >= 4, "no blinking")?;
                        // The first light may be the rest of one.
                        for pair in blinks.windows(2).skip(1) {
                            let is_on = value(recording, load, pair[0]) == Value::Bool(true);
                            let wanted = if is_on { on_ns } else { off_ns };
                            let apart = (pair[1] - pair[0] - wanted).abs();
                            check(apart <= 2 * SCAN_NS + wanted / 50, "another rhythm")?;
                        }
                    }
                }
            }
            check(told == changed.len(), "not as many changes")
        }
    }
}

fn disagreements(sheet: &Sheet, station: &Station, recording: &Recording) -> String {
    let mut wrong = String::new();
    for step in sheet.steps() {
        assert_eq!(step.expected.len(), station.loads.len());
        for (load, expected) in step.expected.iter().enumerate() {
            if let Err(reason) = agrees(recording, load, step.span_ns, expected) {
                let name = &station.loads[load].name.value;
                writeln!(wrong, "step {} {name} {expected:?}: {reason}", step.number).unwrap();
            }
        }
    }
    wrong
}

/// The acts of a sheet are replayed by the stimulus, another way to the machine than that of the sheet.
#[test]
fn the_expected_states_are_those_of_a_replay_of_the_same_acts() {
    let mut steps = 0;
    for (folder, file) in SAMPLES {
        let (program, station) = board(folder, file);
        let sheet = by_hand_of(&program, &station);
        let station = station.without_process().sound();
        let acts: Vec<_> = sheet.steps().map(|step| (step.span_ns.0, step.acts.clone())).collect();
        let until_ns = sheet.steps().last().unwrap().span_ns.1;
        let recording = replayed(&program, &station, &stimulus(&station, &acts), until_ns);
        let wrong = disagreements(&sheet, &station, &recording);
        assert!(wrong.is_empty(), "{folder}\n{wrong}");
        steps += acts.len();
    }
    assert!(steps > 200, "{steps}");
}

/// The same for procedures that only work devices: what was done to the devices is recorded, and replayed by a stimulus.
#[test]
fn the_expected_states_of_procedures_are_those_of_a_replay_of_what_they_do() {
    let mut replays = 0;
    for (folder, file) in SAMPLES {
        let Ok(text) = sample(&format!("{folder}/procedure.steps")) else { continue };
        let (program, station) = board(folder, file);
        if station.process().is_some() {
            continue;
        }
        let (mut sources, mut names) = (Sources::new(), Names::new());
        let id = sources.add("procedure.steps", text.as_str());
        let parsed = parse_steps(id, &text, &mut names);
        let files = [parsed.tree];
        let parts = ScriptParts {
            files: &files,
            program: Arc::clone(&program),
            station: Some(&station),
            sources: &sources,
            names: &names,
        };
        let (script, problems) = Script::new(parts);
        assert!(problems.is_empty());
        let devices = station.devices.iter().map(|device| device.name.value.clone()).collect();
        for (index, procedure) in script.procedures().iter().enumerate() {
            let first = procedure.heading.start as usize;
            let body = text[first..].split("end_procedure").next().unwrap();
            if ["place ", "restart ", "set ", "ramp "].iter().any(|word| body.contains(word)) {
                continue;
            }
            let sheet = of_procedures(&script, &station, &[index], &SheetOptions::default()).unwrap();
            let is_paced =
                !sheet.parts[0].remarks.iter().any(|remark| remark.plain().contains("quicker than a hand"));
            let pace = if is_paced { HAND_NS } else { 0 };
            let record = Some(Vec::clone(&devices));
            let outcome = script.run(
                index,
                &RunOptions {
                    carry_on: true,
                    brief: true,
                    record,
                    course: Some(pace),
                    ..RunOptions::default()
                },
            );
            let recorded = outcome.compared.unwrap();
            let acts = device_acts(&recorded, &station);
            let until_ns = sheet.steps().last().unwrap().span_ns.1;
            let recording = replayed(&program, &station, &stimulus(&station, &acts), until_ns);
            let sheet = without_empty_steps(sheet);
            let wrong = disagreements(&sheet, &station, &recording);
            assert!(wrong.is_empty(), "{folder} {}\n{wrong}", procedure.title.value);
            replays += 1;
        }
    }
    assert!(replays > 20, "{replays}");
}

/// What was done to the devices of a run, by time.
fn device_acts(recorded: &Recording, station: &Station) -> Vec<(i64, Vec<(usize, Value)>)> {
    let rows = &recorded.rows[..station.devices.len()];
    let scans: BTreeSet<u32> =
        rows.iter().flat_map(|row| row.signal.changes.iter().map(|change| change.scan)).collect();
    let at = |scan: u32| {
        let changed = rows.iter().enumerate().filter_map(move |(index, row)| {
            row.signal
                .changes
                .iter()
                .find(|change| change.scan == scan)
                .map(|change| (index, change.value.clone()))
        });
        (i64::from(scan) * SCAN_NS, changed.collect())
    };
    scans.into_iter().map(at).collect()
}

/// Nothing is expected of a step that takes no time.
fn without_empty_steps(mut sheet: Sheet) -> Sheet {
    for part in &mut sheet.parts {
        part.steps.retain(|step| step.span_ns.0 < step.span_ns.1);
    }
    sheet
}

/// Noted exactly as expected, the steps are explained by sound wiring.
#[test]
fn a_note_as_expected_is_explained_by_sound_wiring() {
    for (folder, file) in SAMPLES {
        let (program, station) = board(folder, file);
        let sheet = by_hand_of(&program, &station);
        let station = station.without_process();
        assert!(is_for_the_fault_finder(&sheet), "{folder}");
        let csv = note(&sheet, &station, true);
        let mut sources = Sources::new();
        let (checkout, problems) =
            observed::read(sources.add("seen.csv", csv.as_str()), &csv, &station, SCAN_NS);
        assert!(problems.is_empty(), "{folder}: {problems:?}\n{csv}");
        let board = Board { program, station: &station, scan_ns: SCAN_NS };
        let best = &observed::explain(&board, &checkout.unwrap())[0];
        assert!(best.faults.contains(&None) && best.contradictions.is_empty(), "{folder}: {best:?}\n{csv}");
        // Without what was seen there is nothing to explain.
        let empty = note(&sheet, &station, false);
        let (checkout, _) =
            observed::read(sources.add("empty.csv", empty.as_str()), &empty, &station, SCAN_NS);
        assert!(checkout.is_none());
    }
}

/// The task says when what must come, and not a run: 5 s in star, then delta after a pause of 50 ms
/// (samples/gallery/star-delta/procedure.steps).
#[test]
fn the_delay_of_the_star_delta_start_stands_on_its_sheet() {
    let (program, station) = board("gallery/star-delta", "star-delta.st");
    let sheet = by_hand_of(&program, &station);
    let step = sheet.steps().find(|step| step.does[0].plain().starts_with("Press StartPB")).unwrap();
    let told: Vec<String> = step.told.changes.iter().map(|text| text.plain()).collect();
    assert_eq!(told[1], "K2 comes on at once, goes off after 5 s.");
    let Behaviour::Changes { phases, ends: true } = &step.expected[2] else {
        panic!("{:?}", step.expected[2])
    };
    let [Phase::To { at_ns, on: true }] = phases.as_slice() else { panic!("{phases:?}") };
    assert_eq!(stopwatch(*at_ns), "5.1 s");
}
