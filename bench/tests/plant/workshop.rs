//! A controller, a panel and a tank, and how they are put together.

use std::sync::Arc;

use latchwork_bench::{
    plant::Plant,
    replay::{ReplayOptions, Replayed, replay},
    station::Station,
    stimulus::Stimulus,
};
use latchwork_compiler::{CompileOptions, compile_files};
use latchwork_grammar::{Diagnostic, Sources};
use latchwork_vm::Program;

use crate::shown;

/// A controller that hands on its inputs.
pub const CONTROLLER: &str = "\
PROGRAM Main
VAR
  Switch AT %IX0.0 : BOOL;
  Float  AT %IX0.1 : BOOL;
  Raw    AT %IW1 : INT;
  Pump   AT %QX0.0 : BOOL;
  Valve  AT %QW1 : INT;
END_VAR
  Pump := Switch;
  Valve := 6912;
END_PROGRAM
";

pub const PANEL: &str = "\
[[device]]
name = \"Switch1\"
contact = \"normally open\"
action = \"maintained\"
terminal = \"%IX0.0\"
[[device]]
name = \"FloatFull\"
contact = \"normally closed\"
actuated = \"wet\"
terminal = \"%IX0.1\"
[[analog]]
name = \"Level\"
range = [0, 100]
raw = [0, 1000]
terminal = \"%IW1\"
[[load]]
name = \"P1\"
terminal = \"%QX0.0\"
[[load]]
name = \"V1\"
range = [0, 100]
raw = [0, 27648]
terminal = \"%QW1\"
[plant]
files = [\"tank.st\"]
";

/// Rises by 2 in a second while the pump works.
pub const TANK: &str = "\
PROGRAM Tank
VAR_INPUT
  P1 : BOOL;
  V1 : LREAL;
  Interval : TIME;
END_VAR
VAR_OUTPUT
  Level : LREAL := 40.0;
  FloatFull : BOOL := TRUE;
END_VAR
VAR
  Runs : INT;
  Rate : LREAL := 2.0;
  Opening : LREAL;
  Elapsed, Divisor : DINT := 1;
  Wide : INT;
END_VAR
  Runs := Runs + 1;
  Opening := V1;
  IF P1 THEN
    Level := Level + Rate / 100.0;
  END_IF;
  FloatFull := Level >= 41.0;
  IF Interval = T#10ms THEN
    Elapsed := 100 / Divisor;
  END_IF;
  Wide := DINT_TO_INT(Elapsed);
END_PROGRAM
";

pub fn program(source: &str) -> Arc<Program> {
    let mut sources = Sources::new();
    sources.add("main.st", source);
    let compiled = latchwork_compiler::compile(&sources);
    let image = compiled.image.unwrap_or_else(|| panic!("{:?}", compiled.diagnostics));
    Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap())
}

/// A station with a plant, or what is wrong with the plant.
pub fn station(panel: &str, plant: &str) -> Result<Station, Vec<Diagnostic>> {
    let mut sources = Sources::new();
    let file = sources.add("station.toml", panel);
    let (station, diagnostics) = Station::parse(file, panel);
    let mut station = station.unwrap_or_else(|| panic!("{}", shown::diagnostics(panel, &diagnostics)));
    let files = [sources.add("tank.st", plant)];
    let compiled = compile_files(&sources, &files, &CompileOptions::default());
    let image =
        compiled.image.unwrap_or_else(|| panic!("{}", shown::diagnostics(plant, &compiled.diagnostics)));
    let plant = Plant::new(image, latchwork_stdlib::natives(), &station, &sources, &files)?;
    station.connect(plant);
    Ok(station)
}

pub fn run(station: &Station, stimulus: Option<&str>, options: &ReplayOptions) -> Replayed {
    let program = program(CONTROLLER);
    assert!(station.check(&program).is_empty(), "{:?}", station.check(&program));
    let stimulus = stimulus.map(|text| {
        let file = Sources::new().add("stimulus.csv", text);
        let (stimulus, diagnostics) = Stimulus::parse(file, text, &program, Some(station));
        stimulus.unwrap_or_else(|| panic!("{}", shown::diagnostics(text, &diagnostics)))
    });
    replay(program, Some(station), stimulus.as_ref(), options).unwrap()
}

pub fn recording(names: &[&str], milliseconds: i64) -> ReplayOptions {
    ReplayOptions {
        record: Some(names.iter().map(|name| name.to_string()).collect()),
        until_ns: Some(milliseconds * 1_000_000),
        ..ReplayOptions::default()
    }
}

/// The values of a row at each of the first scans.
pub fn values(replayed: &Replayed, name: &str) -> Vec<String> {
    let recording = &replayed.recording;
    let row =
        recording.rows.iter().find(|row| row.signal.name == name).unwrap_or_else(|| panic!("no row {name}"));
    (0..recording.scans.len() as u32).map(|scan| row.signal.value_at(scan).to_string()).collect()
}
