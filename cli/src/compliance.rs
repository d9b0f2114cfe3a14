//! `latchwork compliance`: the implementer's compliance statement (clause 5), whole or of one table.

use latchwork_compiler::compliance::{Statement, markdown, text};

use crate::{
    arguments::{ComplianceArguments, StatementForm},
    exit::{Exit, Failure},
    terminal::Terminal,
};

/// Shows the statement.
pub(crate) fn run(arguments: &ComplianceArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    let statement = match arguments.table {
        None => Statement::whole(),
        Some(number) => Statement::of_table(number).ok_or_else(|| {
            Failure::usage(format!("the standard has no Table {number}; its tables of features are 1 to 76"))
        })?,
    };
    terminal.result(&match arguments.format {
        StatementForm::Text => text(&statement, terminal.columns()),
        StatementForm::Json => statement.json(),
        StatementForm::Markdown => markdown(&statement),
    })?;
    Ok(Exit::Good)
}
