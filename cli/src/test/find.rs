//! Files of procedures: those named, and those in the folders named.

use std::{
    collections::BTreeSet,
    fs, io,
    path::{Path, PathBuf},
};

use crate::exit::Failure;

/// The ending of a file of procedures.
const EXTENSION: &str = "steps";

/// A folder that is not searched unless it is named: what builds leave.
const SKIPPED: &str = "target";

/// The files behind some paths, each once: paths in the order given, folders by name. Without paths, those below the
/// folder that is worked in.
pub(super) fn find(paths: &[PathBuf]) -> Result<Vec<PathBuf>, Failure> {
    let mut search = Search::default();
    if paths.is_empty() {
        search.folder(Path::new("."))?;
    }
    for path in paths {
        if path.is_dir() {
            search.folder(path)?;
        } else {
            search.file(path.clone());
        }
    }
    Ok(search.found)
}

#[derive(Default)]
struct Search {
    found: Vec<PathBuf>,
    /// Files and folders that were seen, by the path without links: links may lead in circles.
    seen: BTreeSet<PathBuf>,
}

impl Search {
    /// Whether a path is met for the first time. What does not exist is told when it is read.
    fn is_new(&mut self, path: &Path) -> bool {
        fs::canonicalize(path).map_or(true, |real| self.seen.insert(real))
    }

    fn file(&mut self, path: PathBuf) {
        if self.is_new(&path) {
            // "./pump.steps" reads worse than "pump.steps".
            let shorter = path.strip_prefix(".").map(Path::to_path_buf);
            self.found.push(shorter.unwrap_or(path));
        }
    }

    fn folder(&mut self, folder: &Path) -> Result<(), Failure> {
        // A list instead of recursion: folders may be nested deeply.
        let mut waiting = vec![folder.to_path_buf()];
        while let Some(path) = waiting.pop() {
            if !path.is_dir() {
                self.file(path);
                continue;
            }
            if !self.is_new(&path) {
                continue;
            }
            let mut entries = entries(&path).map_err(|error| {
                Failure::usage(format!("{}: cannot search this folder: {error}", path.display()))
            })?;
            entries.sort();
            waiting.extend(entries.into_iter().rev());
        }
        Ok(())
    }
}

/// What of a folder is looked at: files of procedures and folders.
fn entries(folder: &Path) -> io::Result<Vec<PathBuf>> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let steps = path.extension().is_some_and(|extension| extension.eq_ignore_ascii_case(EXTENSION));
        let wanted = if path.is_dir() { name != SKIPPED } else { steps };
        if wanted && !name.starts_with('.') {
            found.push(path);
        }
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path, paths: &[PathBuf]) -> Vec<String> {
        let short =
            |path: PathBuf| path.strip_prefix(folder).unwrap_or(&path).to_string_lossy().replace('\\', "/");
        find(paths).unwrap().into_iter().map(short).collect()
    }

    #[test]
    fn folders_are_searched_by_name_without_hidden_ones() {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path();
        for path in
            ["b.steps", "a/z.steps", "a/b/c.STEPS", "a.steps", "x.st", ".git/h.steps", "target/t.steps"]
        {
            fs::create_dir_all(root.join(path).parent().unwrap()).unwrap();
            fs::write(root.join(path), "").unwrap();
        }
        fs::create_dir(root.join("folder.steps")).unwrap();
        let all = ["a/b/c.STEPS", "a/z.steps", "a.steps", "b.steps"];
        assert_eq!(names(root, &[root.to_path_buf()]), all);
        // Named paths keep their order, whatever is named twice comes once, and what is named is not skipped.
        let named = [root.join("b.steps"), root.to_path_buf(), root.join("target")];
        assert_eq!(names(root, &named), ["b.steps", "a/b/c.STEPS", "a/z.steps", "a.steps", "target/t.steps"]);
    }

    #[cfg(unix)]
    #[test]
    fn links_in_a_circle_are_followed_once() {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path();
        fs::create_dir(root.join("a")).unwrap();
        fs::write(root.join("a/p.steps"), "").unwrap();
        std::os::unix::fs::symlink(root, root.join("a/back")).unwrap();
        std::os::unix::fs::symlink(root.join("a/p.steps"), root.join("b.steps")).unwrap();
        std::os::unix::fs::symlink(root.join("nowhere"), root.join("c.steps")).unwrap();
        // What a link leads nowhere to is named, so that it can be told.
        assert_eq!(names(root, &[root.to_path_buf()]), ["a/p.steps", "c.steps"]);
    }
}
