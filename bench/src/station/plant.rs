//! The heading `[plant]`: which files hold the process.

use latchwork_grammar::{Diagnostic, Span};
use toml::de::DeValue;

use super::{
    Placed,
    entry::{Entry, span_of},
    read::Reader,
};
use crate::plant::{PLANT_FILES_MAX, PlantFiles};

const PLANT_KEYS: [&str; 2] = ["files", "program"];

impl Reader {
    pub(super) fn plant(&mut self, top: &Entry<'_>) -> Option<PlantFiles> {
        let (key, value) = top.table.iter().find(|(name, _)| name.get_ref() == "plant")?;
        let span = span_of(self.file, &key.span());
        let DeValue::Table(table) = value.get_ref() else {
            self.diagnostics.push(
                Diagnostic::error("station-value-type", span, "`plant` is not a table").label(
                    "write its keys below a heading `[plant]`, with one bracket: a station has one plant",
                ),
            );
            return None;
        };
        let entry = Entry { file: self.file, what: "plant", one: "a plant", table, span };
        entry.check_keys(&PLANT_KEYS, &[], &mut self.diagnostics);
        let program = entry.text("program", &mut self.diagnostics);
        let Some(files) = entry.value("files") else {
            entry.missing(
                "files",
                "its source files, such as `files = [\"tank.st\"]`,",
                &mut self.diagnostics,
            );
            return None;
        };
        let expected = "a list of file names, such as `[\"tank.st\"]`";
        let place = span_of(self.file, &files.span());
        let DeValue::Array(array) = files.get_ref() else {
            self.diagnostics.push(entry.wrong_type("files", files, expected));
            return None;
        };
        if array.is_empty() || array.len() > PLANT_FILES_MAX {
            let message = match array.len() {
                0 => "the plant has no files".to_string(),
                many => format!("the plant has {many} files, more than the {PLANT_FILES_MAX} allowed"),
            };
            self.diagnostics.push(
                Diagnostic::error("station-plant-file", place, message)
                    .label("name the source files that hold its PROGRAM"),
            );
            return None;
        }
        let mut found = Vec::new();
        for element in array.iter() {
            let span = span_of(self.file, &element.span());
            match element.get_ref() {
                DeValue::String(path) => found.extend(self.plant_file(path.trim(), span)),
                _ => self.diagnostics.push(entry.wrong_type("files", element, expected)),
            }
        }
        Some(PlantFiles { files: found, program, span })
    }

    /// A path that means the same file wherever the folder of the station is copied to.
    fn plant_file(&mut self, path: &str, span: Span) -> Option<Placed<String>> {
        let problem = if path.is_empty() {
            Some("this names no file")
        } else if path.chars().any(char::is_control) {
            Some("this contains a line end or control character")
        } else if path.contains('\\') {
            Some("write `/` between folders")
        } else if path.starts_with('/') || path.contains(':') {
            Some("write the path from the folder of the station file, such as \"tank.st\"")
        } else {
            None
        };
        let Some(problem) = problem else {
            return Some(Placed { value: path.to_string(), span });
        };
        self.diagnostics.push(
            Diagnostic::error("station-plant-file", span, format!("`{path}` can not be a file of the plant"))
                .label(problem)
                .note("a station and its plant are handed on together, in one folder, to computers of every kind"),
        );
        None
    }
}
