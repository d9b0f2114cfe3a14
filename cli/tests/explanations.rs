//! The explanations of problems in stations, stimuli, traces, procedures and exercises: their examples are read against one program and one
//! station, which the wrong ones do not fit and the right ones do.

#![allow(missing_docs, clippy::unwrap_used)]

use std::{fmt::Write as _, sync::Arc};

use latchwork_bench::{
    comparison::{Expected, Subject},
    exercise::Exercise,
    plant::Plant,
    procedure::{
        RunOptions, Script, ScriptParts, Verdict as Ran,
        report::{FAILURES, failure_name},
    },
    replay::{ReplayOptions, replay},
    station::Station,
    stimulus::Stimulus,
    wiring_proof::observed,
};
use latchwork_compiler::{
    Compilation, CompileOptions, compile_files,
    explain::{Example, Verdict, explain, explanations},
};
use latchwork_grammar::{Diagnostic, FileId, Names, Severity, Sources, parse_steps};
use latchwork_vm::Program;

const PROGRAM: &str = "\
VAR_GLOBAL CONSTANT
    Limit : INT := 80;
END_VAR

PROGRAM Main
VAR
    Start AT %IX0.0 : BOOL;
    Stop AT %IX0.1 : BOOL;
    Level AT %IW2 : INT;
    Pump AT %QX0.0 : BOOL;
    FillTime : TON;
    Seg : ARRAY [0..3] OF INT;
    Index : INT;
END_VAR
VAR_EXTERNAL CONSTANT
    Limit : INT;
END_VAR
    Pump := (Start OR Pump) AND Stop AND Level < Limit;
    FillTime(IN := Pump, PT := T#1s);
    IF FillTime.Q THEN Index := (Index + 1) MOD 4; END_IF;
    IF Seg[0] < Level THEN Seg[Index] := Level; END_IF;
END_PROGRAM
";

const STATION: &str = include_str!("files/station.toml");

/// What a procedure can set besides.
const ANALOG: &str = "[[analog]]\nname = \"Depth\"\nterminal = \"%IW2\"\nrange = [0.0, 100.0]\n";

/// What lies beside the stations of the examples.
const TANK: &str = include_str!("files/tank.st");

/// A device that the tank drives.
const FLOAT: &str = "[[device]]\nname = \"FloatFull\"\ncontact = \"normally open\"\nactuated = \"wet\"\n\
    terminal = \"%IX0.3\"\n[plant]\nfiles = [\"tank.st\"]\n";

struct Compiled {
    program: Arc<Program>,
    compilation: Compilation,
}

fn program() -> Compiled {
    let mut sources = Sources::new();
    sources.add("pump.st", PROGRAM);
    let mut compilation = latchwork_compiler::compile(&sources);
    assert!(compilation.diagnostics.is_empty(), "{:#?}", compilation.diagnostics);
    let image = compilation.image.take().unwrap();
    Compiled { program: Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap()), compilation }
}

/// Connects the plant, if the station has one.
fn connect(station: &mut Station) -> Vec<Diagnostic> {
    if station.plant.is_none() {
        return Vec::new();
    }
    let mut sources = Sources::new();
    let files = [sources.add("tank.st", TANK)];
    let image = compile_files(&sources, &files, &CompileOptions::default()).image.unwrap();
    match Plant::new(image, latchwork_stdlib::natives(), station, &sources, &files) {
        Ok(plant) => {
            station.connect(plant);
            Vec::new()
        }
        Err(problems) => problems,
    }
}

fn found(page: &str, example: &Example, compiled: &Compiled) -> Vec<Diagnostic> {
    let Compiled { program, compilation } = compiled;
    let file = FileId(0);
    if page.starts_with("trace-") && example.language != "steps" {
        let pump = Subject::find("Pump", program, None).unwrap();
        Expected::read(file, example.code, &[pump]).1
    } else if page.starts_with("observed-") {
        let station = Station::parse(file, STATION).0.unwrap();
        observed::read(file, example.code, &station, 10_000_000).1
    } else if page.starts_with("exercise-") {
        Exercise::read(file, example.code).1
    } else if example.language == "toml" {
        let (station, mut found) = Station::parse(file, example.code);
        if let Some(mut station) = station {
            let of_plant = connect(&mut station);
            if !of_plant.is_empty() {
                found.extend(of_plant);
                return found;
            }
            found.extend(station.check(program));
            found.extend(station.check_stops(program, &compilation.stops, &compilation.allowances));
        }
        found
    } else if example.language == "steps" {
        of_procedures(example.code, program)
    } else {
        let mut station = Station::parse(file, &format!("{STATION}\n{FLOAT}")).0.unwrap();
        assert!(connect(&mut station).is_empty());
        let (stimulus, mut found) = Stimulus::parse(file, example.code, program, Some(&station));
        if let Some(stimulus) = stimulus {
            let options = ReplayOptions::default();
            found.extend(
                replay(program.clone(), Some(&station), Some(&stimulus), &options).unwrap().warnings(),
            );
        }
        found
    }
}

/// What is wrong with a file of procedures, before and when they are run.
fn of_procedures(code: &str, program: &Arc<Program>) -> Vec<Diagnostic> {
    let mut sources = Sources::new();
    let file = sources.add("lab.steps", code);
    let mut names = Names::new();
    let parsed = parse_steps(file, code, &mut names);
    if parsed.diagnostics.iter().any(|problem| problem.severity == Severity::Error) {
        return parsed.diagnostics;
    }
    let toml = format!("{STATION}\n{ANALOG}");
    let station = Station::parse(FileId(0), &toml).0.unwrap();
    let files = [parsed.tree];
    let (script, of_file) = Script::new(ScriptParts {
        files: &files,
        program: Arc::clone(program),
        station: Some(&station),
        sources: &sources,
        names: &names,
    });
    let mut found = parsed.diagnostics;
    found.extend(of_file);
    for index in 0..script.procedures().len() {
        let outcome = script.run(index, &RunOptions::default());
        found.extend(outcome.warnings);
        match outcome.verdict {
            Ran::Refused(problems) => found.extend(problems),
            Ran::Failed(failure) => {
                let name = failure_name(&failure.kind);
                found.push(Diagnostic::error(name, failure.step, format!("{:?}", failure.kind)));
            }
            Ran::Passed => {}
        }
    }
    found
}

#[test]
fn examples_of_stations_and_stimuli_say_what_they_claim() {
    let program = program();
    let mut wrong = String::new();
    for page in explanations() {
        for example in page
            .examples()
            .iter()
            .filter(|example| matches!(example.language, "toml" | "csv" | "vcd" | "steps"))
        {
            let mut found = found(page.name, example, &program);
            // What the program makes of an example is the concern of pages about failures alone.
            let is_failure = |name: &str| FAILURES.iter().any(|(known, _)| *known == name);
            found.retain(|problem| is_failure(page.name) || !is_failure(problem.name));
            let fits = match example.verdict {
                Verdict::Wrong => !found.is_empty() && found.iter().all(|found| found.name == page.name),
                Verdict::Right => found.is_empty(),
            };
            if !fits {
                let found: Vec<_> = found.iter().map(|found| (found.name, &found.message)).collect();
                writeln!(wrong, "{}, {:?} example: {found:?}\n{}", page.name, example.verdict, example.code)
                    .unwrap();
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn each_problem_of_stations_and_stimuli_is_explained() {
    let missing: Vec<&str> = latchwork_bench::catalogue::CATALOGUE
        .iter()
        .chain(FAILURES)
        .map(|(name, _)| *name)
        .filter(|name| explain(name).is_none())
        .collect();
    assert!(missing.is_empty(), "no explanation of: {missing:#?}");
}
