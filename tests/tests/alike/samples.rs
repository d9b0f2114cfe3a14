//! The samples in both languages: one task is found again in the other language, another task is not.

use std::{collections::BTreeMap, fmt::Write as _, fs, path::Path};

use latchwork_bench::alike::{Fingerprints, OWN_MIN};

use super::{likeness, of_files};

const SAMPLES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../samples");

/// Programs by the name of their task: Structured Text and Instruction List.
fn samples() -> BTreeMap<String, [Fingerprints; 2]> {
    let folders =
        fs::read_dir(Path::new(SAMPLES).join("gallery")).unwrap().map(|entry| entry.unwrap().path());
    let folders: Vec<_> = folders.chain([Path::new(SAMPLES).join("both-languages")]).collect();
    let mut found = BTreeMap::new();
    for path in folders.iter().filter(|it| it.is_dir()).flat_map(|it| fs::read_dir(it).unwrap()) {
        let list = path.unwrap().path();
        if list.extension().is_none_or(|extension| extension != "il") {
            continue;
        }
        let name = list.file_stem().unwrap().to_str().unwrap().to_owned();
        let read = |path: &Path, file: &str| of_files(&name, &[(file, &fs::read_to_string(path).unwrap())]);
        found.insert(name.clone(), [read(&list.with_extension("st"), "a.st"), read(&list, "a.il")]);
    }
    found
}

/// Where a task is less alike in both languages, the samples solve it in two ways: phases as an enumeration here and as BOOL
/// variables there, a loop with jumps in another order.
#[test]
fn one_task_in_both_languages() {
    let samples = samples();
    let mut table = String::new();
    let mut alike = 0;
    for (name, [text, list]) in &samples {
        assert_eq!((text.not_understood, list.not_understood), (0, 0), "{name}");
        assert!(list.rewritten > 0, "{name}");
        let own = likeness(text, list);
        let others = samples.iter().filter(|(other, _)| *other != name);
        let most = others.flat_map(|(_, both)| both).map(|other| likeness(text, other)).max().unwrap();
        let same = if text.whole == list.whole { ", the same text" } else { "" };
        let few = if text.prints.len() < OWN_MIN { ", too little to compare" } else { "" };
        let _ = writeln!(
            table,
            "{name}: {} words, in the other language {own}, another task at most {most}{same}{few}",
            text.words
        );
        alike += usize::from(own >= 700);
    }
    insta::assert_snapshot!(table);
    assert!(alike * 3 >= samples.len() * 2, "{alike} of {}", samples.len());
}
