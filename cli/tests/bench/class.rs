//! Classes for the tests of `mark`: the sample exercise, what its class hands in, and results held against one another.

use std::{
    collections::BTreeMap,
    fs,
    path::{Path, PathBuf},
    process::{Child, Command, Stdio},
};

use super::Folder;

/// Folder of the sample exercise.
pub fn exercise() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../samples/exercises/tray-watering")
}

/// Begins to mark submissions by the sample exercise, on two threads, in a process of its own that says nothing.
pub fn start(folder: &Folder, submissions: &str, out: &str) -> Child {
    Command::new(env!("CARGO_BIN_EXE_latchwork"))
        .current_dir(folder.path(""))
        .arg("mark")
        .arg(exercise())
        .args([submissions, "--out", out, "--quiet", "--jobs", "2"])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// All files below a folder by their names from it, but for the lock.
pub fn contents(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    collect(folder, folder, &mut found);
    found.remove("work/lock");
    found
}

fn collect(root: &Path, folder: &Path, found: &mut BTreeMap<String, Vec<u8>>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            collect(root, &path, found);
        } else {
            let name = path.strip_prefix(root).unwrap().to_string_lossy().replace('\\', "/");
            found.insert(name, fs::read(&path).unwrap());
        }
    }
}

/// Says which files differ.
pub fn assert_same(one: &Path, other: &Path) {
    let (first, second) = (contents(one), contents(other));
    let names = |files: &BTreeMap<String, Vec<u8>>| files.keys().cloned().collect::<Vec<_>>();
    assert_eq!(names(&first), names(&second));
    let different: Vec<&String> = first.keys().filter(|name| first[*name] != second[*name]).collect();
    assert!(different.is_empty(), "{different:?}");
}

/// The rows of a gradebook by student, each with its cells by heading.
pub fn gradebook(out: &Path) -> BTreeMap<String, BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_path(out.join("gradebook.csv")).unwrap();
    let headings = reader.headers().unwrap().clone();
    reader
        .records()
        .map(|row| {
            let row = row.unwrap();
            let cells = headings.iter().zip(row.iter());
            let cells: BTreeMap<String, String> =
                cells.map(|(heading, cell)| (heading.to_owned(), cell.to_owned())).collect();
            (cells["student"].clone(), cells)
        })
        .collect()
}
