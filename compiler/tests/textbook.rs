//! Programs as a textbook would have them, ours and the samples: no warning may doubt them.

#![allow(missing_docs, clippy::unwrap_used)]

use std::{
    fmt::Write as _,
    fs,
    path::{Path, PathBuf},
};

use latchwork_compiler::compile;
use latchwork_grammar::Sources;

fn programs(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(programs(&path));
        } else if path.extension().is_some_and(|extension| extension == "st" || extension == "il") {
            found.push(path);
        }
    }
    found.sort();
    found
}

#[test]
fn well_written_programs_have_no_warning() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let textbook = programs(&here.join("tests/textbook"));
    // The files of the plant are one program, which the test of that sample looks at.
    let mut samples = programs(&here.join("../samples"));
    samples.retain(|path| !path.parent().is_some_and(|folder| folder.ends_with("rainwater-plant")));
    // Those with the mistakes of a beginner are there to be found wanting.
    samples.retain(|path| path.file_stem().is_none_or(|stem| stem != "flawed"));
    samples.retain(|path| !path.components().any(|folder| folder.as_os_str() == "submissions"));
    assert!(textbook.len() >= 12 && !samples.is_empty());
    let mut all = String::new();
    for path in textbook.iter().chain(&samples) {
        let mut sources = Sources::new();
        sources.add(path.to_string_lossy(), fs::read_to_string(path).unwrap());
        let compilation = compile(&sources);
        assert!(compilation.image.is_some() || compilation.has_errors());
        for found in compilation.diagnostics {
            writeln!(all, "{}: {}: {}", path.display(), found.name, found.message).unwrap();
        }
    }
    assert!(all.is_empty(), "{all}");
}
