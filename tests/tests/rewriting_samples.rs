//! Every sample, rewritten into both languages: it compiles, keeps its comments, does the same on random inputs, gives
//! the same recording of its stimulus and the same verdicts of its procedures.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    reason = "a failing test may panic"
)]

#[path = "gallery/bench.rs"]
#[allow(dead_code, reason = "the gallery uses more of it")]
mod bench;
#[path = "gallery/folder.rs"]
#[allow(dead_code, reason = "the gallery uses more of it")]
mod folder;

use std::{collections::BTreeMap, fs, path::PathBuf, sync::Arc};

use latchwork_bench::{
    procedure::{RunOptions, Script, ScriptParts},
    recording::Recording,
    replay::ReplayOptions,
};
use latchwork_compiler::rewrite::Language;
use latchwork_grammar::Sources;
use latchwork_tests::{
    rewriting::{comments, rewritten},
    twins,
    workbench::{program_of, run_program, samples},
};

const LANGUAGES: [Language; 2] = [Language::InstructionList, Language::StructuredText];

/// Scans on random inputs.
const SCANS: usize = 300;

/// A sample program: its name, its files, and a stimulus without a station.
struct Sample {
    name: String,
    sources: Sources,
    stimulus: Option<String>,
}

fn files_of(folder: &str) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> =
        fs::read_dir(samples().join(folder)).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files
}

fn is_program(path: &std::path::Path) -> bool {
    path.extension().is_some_and(|extension| extension == "st" || extension == "il")
}

fn read(sources: &mut Sources, path: &std::path::Path) {
    let name = path.file_name().unwrap().to_string_lossy().into_owned();
    sources.add(name.as_str(), fs::read_to_string(path).unwrap());
}

/// All programs of the samples: those of the rainwater plant are one, any other file is one of its own.
fn all() -> Vec<Sample> {
    let mut all = Vec::new();
    let mut folders: Vec<String> = Vec::new();
    for path in files_of("").into_iter().filter(|path| path.is_dir()) {
        folders.push(path.file_name().unwrap().to_string_lossy().into_owned());
    }
    folders.extend(
        files_of("gallery")
            .into_iter()
            .filter(|path| path.is_dir())
            .map(|path| format!("gallery/{}", path.file_name().unwrap().to_string_lossy())),
    );
    for folder in folders {
        let programs: Vec<PathBuf> = files_of(&folder).into_iter().filter(|path| is_program(path)).collect();
        if folder == "rainwater-plant" {
            let mut sources = Sources::new();
            programs.iter().for_each(|path| read(&mut sources, path));
            let stimulus = fs::read_to_string(samples().join(&folder).join("stimulus.csv")).ok();
            all.push(Sample { name: folder, sources, stimulus });
            continue;
        }
        for path in programs {
            let mut sources = Sources::new();
            read(&mut sources, &path);
            let stimulus = fs::read_to_string(path.with_extension("csv")).ok();
            let name = format!("{folder}/{}", path.file_name().unwrap().to_string_lossy());
            all.push(Sample { name, sources, stimulus });
        }
    }
    all
}

/// The rows of a recording by their names.
fn rows(recording: &Recording) -> BTreeMap<String, String> {
    recording.rows.iter().map(|row| (row.signal.name.clone(), format!("{:?}", row.signal.changes))).collect()
}

fn recorded(sample: &Sample, sources: &Sources) -> BTreeMap<String, String> {
    let run = run_program(
        program_of(sources).unwrap(),
        None,
        sample.stimulus.as_deref(),
        &ReplayOptions::default(),
    )
    .unwrap_or_else(|problem| panic!("{}: {problem}", sample.name));
    assert!(run.fault.is_none(), "{}", sample.name);
    let mut rows = rows(&run.recording);
    // It tells of the instructions of the machine, which are others.
    rows.retain(|name, _| !name.ends_with(".instructions"));
    rows
}

#[test]
fn every_sample_does_the_same_in_the_other_language() {
    let mut refused = Vec::new();
    let mut bodies = 0;
    let mut stimuli = 0;
    let samples = all();
    assert!(samples.len() > 80, "{} samples", samples.len());
    for sample in &samples {
        let old = program_of(&sample.sources).unwrap_or_else(|problem| panic!("{}: {problem}", sample.name));
        for language in LANGUAGES {
            let (new, done) = rewritten(&sample.sources, language).unwrap();
            bodies += done.bodies.len();
            refused.extend(
                done.diagnostics.iter().map(|refusal| format!("{}: {}", sample.name, refusal.message)),
            );
            assert_eq!(comments(&sample.sources), comments(&new), "{}", sample.name);
            let program = program_of(&new).unwrap_or_else(|problem| panic!("{}: {problem}", sample.name));
            twins::compare(&old, &program, &[], SCANS, 1)
                .unwrap_or_else(|difference| panic!("{}: {difference}", sample.name));
            if sample.stimulus.is_some() {
                stimuli += 1;
                let mut rows = recorded(sample, &new);
                let expected = recorded(sample, &sample.sources);
                rows.retain(|name, _| expected.contains_key(name));
                assert_eq!(expected, rows, "{}", sample.name);
            }
            // Nothing is left to be rewritten but what was refused, and the text stays as it is.
            let (again, rest) = rewritten(&new, language).unwrap();
            assert_eq!(rest.bodies, [], "{}", sample.name);
            for ((_, text), (_, same)) in new.iter().zip(again.iter()) {
                assert_eq!(text.text, same.text, "{}", sample.name);
            }
            // And back.
            let other = LANGUAGES[usize::from(language == Language::InstructionList)];
            let (back, _) = rewritten(&new, other).unwrap();
            assert_eq!(comments(&sample.sources), comments(&back), "{}", sample.name);
            let program = program_of(&back).unwrap_or_else(|problem| panic!("{}: {problem}", sample.name));
            twins::compare(&old, &program, &[], SCANS, 2)
                .unwrap_or_else(|difference| panic!("{} and back: {difference}", sample.name));
        }
    }
    assert!(bodies > 200 && stimuli >= 40, "{bodies} bodies, {stimuli} stimuli");
    // A method calls another inside an expression, and may change what stands to the left of it.
    assert_eq!(refused, ["rainwater-plant: `EnergyMeter` was not rewritten into Instruction List"]);
}

/// The programs that other tests run: they have what samples have not.
#[test]
fn the_programs_of_the_tests_do_the_same_too() {
    let root = samples().join("../compiler/tests");
    let mut seen = 0;
    for folder in
        ["run", "textbook", "lower", "coverage", "rewrite/to-list", "rewrite/to-text", "rewrite/refused"]
    {
        for entry in fs::read_dir(root.join(folder)).unwrap() {
            let path = entry.unwrap().path();
            let mut sources = Sources::new();
            if is_program(&path) {
                read(&mut sources, &path);
            }
            let Ok(old) = program_of(&sources) else { continue };
            for language in LANGUAGES {
                let (new, done) = rewritten(&sources, language).unwrap();
                assert_eq!(comments(&sources), comments(&new), "{}", path.display());
                let program =
                    program_of(&new).unwrap_or_else(|problem| panic!("{}: {problem}", path.display()));
                twins::compare(&old, &program, &[], SCANS, 3)
                    .unwrap_or_else(|difference| panic!("{}: {difference}", path.display()));
                for refusal in &done.diagnostics {
                    assert!(!refusal.primary.text.contains("what it would become"), "{refusal:?}");
                }
                seen += done.bodies.len();
            }
        }
    }
    assert!(seen > 80, "{seen} bodies");
}

#[test]
fn the_procedures_of_the_gallery_give_the_same_verdicts() {
    let mut run = 0;
    for folder in folder::folders() {
        for steps in folder.steps() {
            let setup = folder::steps_of(&folder, steps);
            let (files, sources, names) = folder::trees_of(&folder, steps);
            for variant in &setup.variants {
                let bench = bench::bench(&folder, variant, setup.station.as_deref());
                let mut old = Sources::new();
                variant.iter().for_each(|file| {
                    old.add(file.as_str(), folder.text(file));
                });
                for language in LANGUAGES {
                    let program = program_of(&rewritten(&old, language).unwrap().0).unwrap();
                    let verdicts = [&bench.program, &program].map(|program| {
                        let (script, _) = Script::new(ScriptParts {
                            files: &files,
                            program: Arc::clone(program),
                            station: bench.station.as_ref(),
                            sources: &sources,
                            names: &names,
                        });
                        let outcomes = (0..script.procedures().len())
                            .map(|index| script.run(index, &RunOptions::default()).passed());
                        outcomes.collect::<Vec<bool>>()
                    });
                    run += verdicts[0].len();
                    assert_eq!(verdicts[0], verdicts[1], "{}/{steps} {variant:?}", folder.name);
                }
            }
        }
    }
    assert!(run > 200, "{run} procedures");
}
