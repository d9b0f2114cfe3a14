//! The whole way from source texts to an image, for front ends that need nothing in between.

use latchwork_grammar::{Diagnostic, Names, Severity, Sources, parse};
use latchwork_vm::Image;

use crate::{allow::Allowances, check::check, lower::lower};

/// What became of a program.
#[derive(Clone, Debug, Default)]
pub struct Compilation {
    /// The image; `None` if there is an error among the diagnostics.
    pub image: Option<Image>,
    /// Errors and warnings in the order of files and places.
    pub diagnostics: Vec<Diagnostic>,
    /// All names that occur.
    pub names: Names,
    /// What the pragmas of the program allow; the diagnostics are already without it.
    pub allowances: Allowances,
}

impl Compilation {
    /// Whether there is an error among the diagnostics.
    pub fn has_errors(&self) -> bool {
        self.diagnostics.iter().any(|diagnostic| diagnostic.severity == Severity::Error)
    }
}

/// Parses, checks and lowers a program of one or more files. A file without any program is fine: its image
/// has no task.
pub fn compile(sources: &Sources) -> Compilation {
    let mut result = Compilation::default();
    let mut trees = Vec::new();
    for (file, source) in sources.iter() {
        let parsed = parse(file, &source.text, &mut result.names);
        result.diagnostics.extend(parsed.diagnostics);
        trees.push(parsed.tree);
    }
    let checked = check(&trees, sources, &mut result.names);
    result.diagnostics.extend(checked.diagnostics);
    if !result.has_errors() {
        match lower(&checked.program, sources, &result.names) {
            Ok(image) => result.image = Some(image),
            Err(errors) => result.diagnostics.extend(errors),
        }
    }
    result.allowances = Allowances::read(&trees, sources);
    result.allowances.apply(&mut result.diagnostics);
    // Stable: at one place the parser's findings stay before the checker's.
    result
        .diagnostics
        .sort_by_key(|diagnostic| (diagnostic.primary.span.file, diagnostic.primary.span.start));
    result
}
