//! `latchwork explain`: the page about a diagnostic, or the list of all names.

use std::fmt::Write as _;

use latchwork_compiler::explain;

use crate::{
    arguments::ExplainArguments,
    exit::{Exit, Failure},
    terminal::Terminal,
};

/// Shows a page or the list.
pub(crate) fn run(arguments: &ExplainArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    let Some(name) = &arguments.name else {
        return list(terminal);
    };
    // A name copied from a message may bring its brackets along.
    let wanted = name.trim().trim_start_matches(['[', '`']).trim_end_matches([']', '`']);
    match explain::explain(wanted) {
        Some(explanation) => {
            terminal.result(explanation.text)?;
            Ok(Exit::Good)
        }
        None => {
            let near = explain::nearest(wanted);
            let remedy = if near.is_empty() {
                "`latchwork explain` lists all names".to_string()
            } else {
                let near: Vec<String> = near.iter().map(|name| format!("`{name}`")).collect();
                format!("the nearest are {}", near.join(", "))
            };
            Err(Failure::usage(format!("there is no diagnostic named `{name}`; {remedy}")))
        }
    }
}

fn list(terminal: &mut Terminal) -> Result<Exit, Failure> {
    let pages = explain::explanations();
    let width = pages.iter().map(|page| page.name.len()).max().unwrap_or(0);
    let columns = terminal.columns().max(width + 24);
    let mut out = String::new();
    for page in pages {
        let summary = page.summary().replace('`', "");
        let room = columns.saturating_sub(width + 2);
        let shown: String = if summary.chars().count() > room {
            summary.chars().take(room.saturating_sub(1)).chain(std::iter::once('…')).collect()
        } else {
            summary
        };
        // Writing to a string cannot fail.
        let _ = writeln!(out, "{:width$}  {shown}", page.name);
    }
    terminal.result(&out)?;
    Ok(Exit::Good)
}
