//! What can be wrong with the files that a file of procedures names, in words. Whoever reads the files finds it.

use latchwork_grammar::{
    Diagnostic, FileId, Span,
    steps::tree::{ItemKind, StepsFile, Text},
};

/// A file that is named cannot be read.
pub fn unreadable(name: &Text, reason: &str) -> Diagnostic {
    Diagnostic::error("procedure-file", name.span, format!("cannot read `{}`", name.value))
        .label(reason)
        .note("names of files are meant from the folder of the file that names them")
}

/// A file that is included includes the file that includes it.
pub fn included_in_a_circle(name: &Text, chain: &[String]) -> Diagnostic {
    Diagnostic::error("procedure-include-circle", name.span, "these files include one another in a circle")
        .label("begins again here")
        .note(format!("the circle: {}", chain.join(", ")))
}

/// No program is named, neither in the file nor outside of it.
pub fn no_program(file: FileId) -> Diagnostic {
    Diagnostic::error(
        "procedure-no-program",
        Span::new(file, 0, 0),
        "no program is named to run the procedures on",
    )
    .label("name it in front of the first procedure, like `program 'pump.st';`")
}

/// What an included file must not hold, and what all files together may hold once.
pub fn together(files: &[StepsFile]) -> Vec<Diagnostic> {
    let mut found = Vec::new();
    let mut station: Option<Span> = None;
    for (index, file) in files.iter().enumerate() {
        let included = index + 1 < files.len();
        for item in &file.items {
            match &item.kind {
                ItemKind::Procedure(procedure) if included => found.push(
                    Diagnostic::error(
                        "procedure-included",
                        procedure.heading,
                        "a file that is included has no procedures",
                    )
                    .label("this one would belong to several files")
                    .note("put what several files need into the included file, the procedures into files of their own"),
                ),
                ItemKind::Station(_) => match station {
                    Some(first) if first.file != item.span.file => found.push(
                        Diagnostic::error("steps-twice", item.span, "there is one station for all procedures")
                            .label("a second one")
                            .also(first, "the first"),
                    ),
                    _ => station = Some(item.span),
                },
                _ => {}
            }
        }
    }
    found
}
