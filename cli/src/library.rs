//! `latchwork library`: the standard functions and function blocks, all of them, some, or one at length.

use latchwork_bench::{
    diagram::{Diagram, DiagramOptions},
    recording::Recording,
    render::{self as draw, TerminalOptions},
};
use latchwork_compiler::library::{self, Calls, Entry, Group};

use crate::{
    arguments::{LibraryArguments, StatementForm},
    exit::{Exit, Failure},
    terminal::Terminal,
};

/// Below the overview.
const MORE: &str = "
`latchwork library NAME` shows one of them, with examples.
`latchwork library WORD` lists what has to do with a word.
";

/// Width of the diagrams in a document.
const DOCUMENT_COLUMNS: usize = 96;

/// Shows an entry, a list or everything.
pub(crate) fn run(arguments: &LibraryArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    let shown = match &arguments.name {
        None => groups(&library::groups(), true, arguments.format, terminal),
        // A name copied from a program may bring its parenthesis along.
        Some(name) => {
            let wanted = name.trim().trim_matches('`').trim_end_matches("()");
            match library::find(wanted) {
                Some(entry) => one(&entry, arguments.format, terminal),
                None => {
                    let found = library::search(wanted);
                    if found.is_empty() {
                        return Err(unknown(wanted));
                    }
                    groups(&found, false, arguments.format, terminal)
                }
            }
        }
    };
    terminal.result(&shown)?;
    Ok(Exit::Good)
}

fn one(entry: &Entry, format: StatementForm, terminal: &Terminal) -> String {
    match format {
        StatementForm::Text => {
            let colour = terminal.result_colour();
            let options = TerminalOptions {
                width: terminal.columns(),
                colour,
                ascii: terminal.ascii(),
                heading: true,
                footer: false,
            };
            let page = library::page(entry, &|calls| picture(calls, &options));
            library::text(&page, terminal.columns(), colour)
        }
        StatementForm::Json => library::json(&library::alone(entry)),
        StatementForm::Markdown => library::markdown(&library::page(entry, &for_document), 1),
    }
}

fn groups(groups: &[Group], whole: bool, format: StatementForm, terminal: &Terminal) -> String {
    match format {
        StatementForm::Json => library::json(groups),
        StatementForm::Markdown if whole => library::document(&for_document),
        StatementForm::Text | StatementForm::Markdown => {
            let mut text = library::overview(groups, terminal.columns(), terminal.result_colour(), whole);
            if whole {
                text.push_str(MORE);
            }
            text
        }
    }
}

fn for_document(calls: &Calls) -> String {
    let options = TerminalOptions { width: DOCUMENT_COLUMNS, footer: false, ..TerminalOptions::default() };
    picture(calls, &options)
}

fn picture(calls: &Calls, options: &TerminalOptions) -> String {
    draw::terminal(&Diagram::new(&Recording::of_calls(calls), &DiagramOptions::default()), options)
}

fn unknown(wanted: &str) -> Failure {
    let remedy = match library::nearest(wanted) {
        Some(near) => format!("the nearest is `{near}`"),
        None => "`latchwork library` lists all names".to_owned(),
    };
    Failure::usage(format!("there is no standard function or function block named `{wanted}`; {remedy}"))
}
