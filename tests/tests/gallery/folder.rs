//! A folder of the gallery as its files tell it: what stands in its files of procedures, and its list of verdicts.

use std::fs;

use latchwork_grammar::{
    Names, Sources, parse_steps,
    steps::tree::{ItemKind, StepsFile},
};
use latchwork_tests::workbench::{samples, text};

/// One task.
pub struct Folder {
    /// Its name, also that of its programs.
    pub name: String,
    /// The names of its files, in order.
    pub files: Vec<String>,
}

/// One line of `verdicts.txt`.
pub struct Verdict {
    /// The file of procedures.
    pub file: String,
    /// The title of the procedure.
    pub title: String,
    /// Otherwise it failed.
    pub passed: bool,
}

/// What a file of procedures names, its included files among it.
#[derive(Default)]
pub struct Setup {
    /// The files of each variant of the program.
    pub variants: Vec<Vec<String>>,
    /// The station.
    pub station: Option<String>,
    /// The titles of the procedures.
    pub titles: Vec<String>,
}

/// All folders, by name.
pub fn folders() -> Vec<Folder> {
    let root = samples().join("gallery");
    let names = |path: &std::path::Path| -> Vec<String> {
        let entries = fs::read_dir(path).unwrap();
        let mut names: Vec<String> =
            entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    };
    // What begins with a dot was left there by a run, and is no task.
    let folders = names(&root).into_iter().filter(|name| !name.starts_with('.') && root.join(name).is_dir());
    folders.map(|name| Folder { files: names(&root.join(&name)), name }).collect()
}

impl Folder {
    /// The text of a file.
    pub fn text(&self, file: &str) -> String {
        let path = samples().join("gallery").join(&self.name).join(file);
        fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
    }

    /// The files with procedures; what only is included has no programs.
    pub fn steps(&self) -> impl Iterator<Item = &str> {
        let files = self.files.iter().map(String::as_str).filter(|file| file.ends_with(".steps"));
        files.filter(|file| !steps_of(self, file).titles.is_empty())
    }

    /// The lines of `verdicts.txt`: file, title, verdict. A title may have colons of its own.
    pub fn verdicts(&self) -> Vec<Verdict> {
        let text = self.text("verdicts.txt");
        let lines = text.lines().filter(|line| !line.is_empty() && !line.starts_with('#'));
        let verdict = |line: &str| {
            let (file, rest) = line.split_once(": ")?;
            let (title, verdict) = rest.rsplit_once(": ")?;
            let passed = match verdict {
                "passed" => true,
                "failed" => false,
                _ => return None,
            };
            Some(Verdict { file: file.to_owned(), title: title.to_owned(), passed })
        };
        lines.map(|line| verdict(line).unwrap_or_else(|| panic!("{}: {line}", self.name))).collect()
    }
}

/// What a file of procedures names.
pub fn steps_of(folder: &Folder, file: &str) -> Setup {
    let (trees, _, _) = trees_of(folder, file);
    let mut setup = Setup::default();
    for item in trees.into_iter().flat_map(|tree| tree.items) {
        match item.kind {
            ItemKind::Program(files) => {
                setup.variants.push(files.into_iter().map(|file| file.value).collect());
            }
            ItemKind::Station(station) => setup.station = Some(station.value),
            ItemKind::Procedure(procedure) => setup.titles.push(procedure.title.value),
            _ => {}
        }
    }
    setup
}

/// The trees of a file and of those it includes, which stand in front of it.
pub fn trees_of(folder: &Folder, file: &str) -> (Vec<StepsFile>, Sources, Names) {
    let (mut trees, mut sources, mut names) = (Vec::new(), Sources::new(), Names::new());
    read(folder, file, &mut trees, &mut sources, &mut names);
    (trees, sources, names)
}

fn read(folder: &Folder, file: &str, trees: &mut Vec<StepsFile>, sources: &mut Sources, names: &mut Names) {
    let id = sources.add(file, folder.text(file));
    let parsed = parse_steps(id, &sources.file(id).text, names);
    assert!(parsed.diagnostics.is_empty(), "{}: {}", folder.name, text(&parsed.diagnostics, sources));
    for item in &parsed.tree.items {
        if let ItemKind::Include(included) = &item.kind {
            read(folder, &included.value, trees, sources, names);
        }
    }
    trees.push(parsed.tree);
}
