//! `latchwork rewrite`: the same program in the other text language.

use std::{
    collections::BTreeSet,
    ffi::OsStr,
    fs,
    path::{Path, PathBuf},
};

use latchwork_compiler::{
    render,
    rewrite::{Language, Rewriting, rewrite},
};
use latchwork_grammar::FileId;

use crate::{
    arguments::{RewriteArguments, WantedLanguage},
    exit::{Exit, Failure},
    files, program,
    terminal::Terminal,
};

/// Rewrites the files and shows or writes what came out, also where some bodies stayed as they were.
pub(crate) fn run(arguments: &RewriteArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    files::check_outputs(arguments.files.iter(), arguments.output.iter())?;
    let sources = program::sources(&arguments.files)?;
    let language = match arguments.to {
        WantedLanguage::Il => Language::InstructionList,
        WantedLanguage::St => Language::StructuredText,
    };
    let only = arguments.pou.as_deref();
    let done = rewrite(&sources, language, only, &arguments.language.options());
    if done.texts.is_empty() {
        terminal.say(&render::text(&done.diagnostics, &sources, terminal.message_colour()));
        return Ok(Exit::Findings);
    }
    if let Some(only) = only
        && !done.units.iter().any(|unit| unit.eq_ignore_ascii_case(only))
    {
        let units = done.units.join(", ");
        return Err(Failure::usage(format!(
            "there is no program organization unit `{only}`; there is {units}"
        )));
    }
    if done.bodies.is_empty() && done.diagnostics.is_empty() {
        return Err(Failure::nothing(format!(
            "{}: there is no body here that could be rewritten into {}",
            program::names(&arguments.files),
            language.name()
        )));
    }
    write(arguments, &done, terminal)?;
    terminal.say(&render::text(&done.diagnostics, &sources, terminal.message_colour()));
    terminal.say(&summary(&done, language));
    Ok(if done.diagnostics.is_empty() { Exit::Good } else { Exit::Findings })
}

/// Puts the texts where they are wanted.
fn write(arguments: &RewriteArguments, done: &Rewriting, terminal: &mut Terminal) -> Result<(), Failure> {
    let changed: BTreeSet<FileId> = done.bodies.iter().map(|body| body.file).collect();
    if let Some(folder) = &arguments.write_to {
        let paths = outputs(arguments, folder, &changed)?;
        fs::create_dir_all(folder).map_err(|error| {
            Failure::usage(format!("{}: cannot make the folder: {error}", folder.display()))
        })?;
        for (path, (_, text)) in paths.iter().zip(&done.texts) {
            files::write(path, text.as_bytes())?;
        }
        return Ok(());
    }
    // Of several files only those with a new body are of interest.
    let mut texts: Vec<&str> =
        done.texts.iter().filter(|(file, _)| changed.contains(file)).map(|(_, text)| text.as_str()).collect();
    if let ([], [(_, text)]) = (texts.as_slice(), done.texts.as_slice()) {
        texts.push(text);
    }
    let text = match texts.as_slice() {
        [] => return Ok(()),
        [only] => *only,
        several => {
            return Err(Failure::usage(format!(
                "{} files get new bodies; `--write-to FOLDER` writes each of them",
                several.len()
            )));
        }
    };
    match &arguments.output {
        Some(path) => files::write(path, text.as_bytes()),
        None => terminal.result(text),
    }
}

/// The files to write: all of them, so that the folder holds a whole program; those with new bodies are named after their
/// language.
fn outputs(
    arguments: &RewriteArguments,
    folder: &Path,
    changed: &BTreeSet<FileId>,
) -> Result<Vec<PathBuf>, Failure> {
    let extension = match arguments.to {
        WantedLanguage::Il => "il",
        WantedLanguage::St => "st",
    };
    let mut paths: Vec<PathBuf> = Vec::new();
    for (at, file) in arguments.files.iter().enumerate() {
        let name = file.file_name().unwrap_or(OsStr::new("program"));
        let mut path = folder.join(name);
        let named = path
            .extension()
            .is_some_and(|old| ["st", "il"].iter().any(|known| old.eq_ignore_ascii_case(known)));
        let other = path.with_extension(extension);
        // Where the program has a file of that name already, both keep theirs.
        let taken = arguments.files.iter().any(|file| file.file_name() == other.file_name());
        if named && !taken && changed.contains(&FileId(at as u32)) {
            path = other;
        }
        if paths.contains(&path) {
            return Err(Failure::usage(format!(
                "{}: two files would be written there; rewrite them one after the other",
                path.display()
            )));
        }
        paths.push(path);
    }
    files::check_outputs(arguments.files.iter(), paths.iter())?;
    Ok(paths)
}

/// What was done, and which variables came with it.
fn summary(done: &Rewriting, language: Language) -> String {
    let count = |number: usize, one: &str, many: &str| {
        if number == 1 { format!("1 {one}") } else { format!("{number} {many}") }
    };
    let bodies = count(done.bodies.len(), "body", "bodies");
    let mut text = format!("{bodies} rewritten into {}", language.name());
    if !done.diagnostics.is_empty() {
        text.push_str(&format!(", {} left as written", done.diagnostics.len()));
    }
    text.push('\n');
    for body in &done.bodies {
        for (name, kind) in &body.variables {
            text.push_str(&format!(
                "`{}` got the variable `{name} : {kind}` for a value that had no name\n",
                render::visible(&body.name)
            ));
        }
    }
    text
}
