//! `latchwork why`: why a variable has its value at a time of a run.

pub(crate) mod arguments;
mod run;

use latchwork_bench::{
    diagram::SAFETY_SENTENCE,
    reasons::{self, Evidence, Explanation, Reasoner, TextOptions},
};
use latchwork_compiler::render;
use serde_json::json;

use self::arguments::{WhyArguments, WhyForm};
use crate::{
    exit::{Exit, Failure},
    terminal::Terminal,
    test::{
        accounted::{self, Wanted},
        json::pretty,
    },
};

/// Version of the form of the JSON document: `cli/schemas/reason.json`.
const SCHEMA_VERSION: u32 = 1;

/// Runs, and tells the reason.
pub(crate) fn run(arguments: &WhyArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    let told = |evidence: Evidence<'_>| told(arguments, evidence, terminal);
    let (told, exit) = match &arguments.procedure {
        None => run::run(arguments, terminal, told)?,
        Some(path) => {
            let wanted = Wanted {
                path,
                title: arguments.only.as_deref(),
                program: &arguments.files,
                station: arguments.station.as_ref(),
                language: arguments.language,
            };
            accounted::run(wanted, terminal, told)?
        }
    };
    terminal.result(&told)?;
    Ok(exit)
}

fn told(
    arguments: &WhyArguments,
    evidence: Evidence<'_>,
    terminal: &Terminal,
) -> Result<(String, Exit), Failure> {
    let reasoner = Reasoner::new(evidence);
    let scan = match arguments.at {
        Some(at) => reasoner.scan_at(at),
        None => evidence.account.scans().saturating_sub(1),
    };
    let explanation = reasoner
        .reason(&arguments.variable, scan, arguments.depth)
        .map_err(|unanswered| Failure::usage(format!("error[{}]: {unanswered}", unanswered.name)))?;
    let told = match arguments.format {
        WhyForm::Text => text(&explanation, terminal),
        WhyForm::Json => pretty(&json!({
            "schema_version": SCHEMA_VERSION,
            "explanation": reasons::json(&explanation),
            "note": SAFETY_SENTENCE,
        })),
    };
    Ok((told, Exit::Good))
}

fn text(explanation: &Explanation, terminal: &Terminal) -> String {
    let options = TextOptions { width: terminal.columns(), ascii: terminal.ascii() };
    let lines = reasons::text(explanation, &options);
    lines.lines().map(|line| render::visible(line) + "\n").collect()
}
