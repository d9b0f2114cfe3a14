//! Questions about the samples, from a table: `samples.txt`.

use std::{fmt::Write as _, fs, path::Path};

use latchwork_tests::workbench::{sample, samples, station_of};

use crate::run::{Built, Run};

/// A folder with its programs, and what is asked of each of them.
#[derive(Default)]
struct Asked<'t> {
    folder: &'t str,
    /// The files of each.
    programs: Vec<Vec<&'t str>>,
    runs: Vec<AskedRun<'t>>,
}

/// A run, and questions: names and milliseconds.
struct AskedRun<'t> {
    /// A title, or a stimulus with its end.
    by: Result<&'t str, (&'t str, i64)>,
    questions: Vec<(&'t str, i64)>,
}

/// The lines of the table.
fn parsed(table: &str) -> Vec<Asked<'_>> {
    let mut folders: Vec<Asked<'_>> = Vec::new();
    for line in table.lines().filter(|line| !line.is_empty() && !line.starts_with('#')) {
        let (word, rest) = line.trim_start().split_once(' ').unwrap_or_else(|| panic!("{line}"));
        let timed = || rest.rsplit_once(' ').map(|(name, at)| (name, at.parse().unwrap())).unwrap();
        if word == "folder" {
            folders.push(Asked { folder: rest, ..Asked::default() });
            continue;
        }
        let folder = folders.last_mut().unwrap();
        match word {
            "program" => folder.programs.push(rest.split(' ').collect()),
            "procedure" => folder.runs.push(AskedRun { by: Ok(rest), questions: Vec::new() }),
            "stimulus" => folder.runs.push(AskedRun { by: Err(timed()), questions: Vec::new() }),
            "why" => folder.runs.last_mut().unwrap().questions.push(timed()),
            _ => panic!("{line}"),
        }
    }
    folders
}

fn ran(folder: &str, files: &[&str], run: &AskedRun<'_>) -> Run {
    let texts: Vec<String> = files.iter().map(|file| sample(&format!("{folder}/{file}")).unwrap()).collect();
    let files: Vec<(&str, &str)> = files.iter().copied().zip(texts.iter().map(String::as_str)).collect();
    let wired = samples().join(folder).join("station.toml").exists();
    let built = Built::new(&files, wired.then(|| station_of(folder).unwrap()));
    match run.by {
        Ok(title) => built.proceeded(folder, title),
        Err(("none", until_ms)) => built.stimulated("time\n0\n", until_ms),
        Err((file, until_ms)) => {
            let stimulus = sample(&format!("{folder}/{file}")).unwrap();
            built.stimulated(&stimulus, until_ms)
        }
    }
}

#[test]
fn questions_about_the_samples() {
    let table = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reasons/samples.txt");
    let table = fs::read_to_string(table).unwrap();
    let folders = parsed(&table);
    assert!(folders.len() >= 19);
    for Asked { folder, programs, runs } in &folders {
        for files in programs {
            let mut all = String::new();
            for run in runs {
                if let Ok(title) = run.by {
                    let _ = writeln!(all, "# {title}\n");
                }
                all += &ran(folder, files, run).whys(&run.questions);
            }
            let name = folder.rsplit('/').next().unwrap();
            let file = if files.len() == 1 { files.concat() } else { "whole".to_owned() };
            insta::with_settings!({ snapshot_path => "../snapshots", prepend_module_to_snapshot => false }, {
                insta::assert_snapshot!(format!("reasons__sample_{name}_{file}"), all);
            });
        }
    }
}
