//! One procedure, run with an account of what its program does.

use std::path::{Path, PathBuf};

use latchwork_bench::{
    procedure::{RunOptions, Verdict},
    reasons::Evidence,
};
use latchwork_compiler::render;
use latchwork_grammar::{Diagnostic, Sources};

use super::{
    Shared, check_given,
    program::Compiled,
    suite::{Given, Refusal, Scripts, Suite},
};
use crate::{
    arguments::LanguageArguments,
    coverage::Measuring,
    exit::{Exit, Failure},
    terminal::Terminal,
};

/// Which procedure, and what it runs on instead of what its file names.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Wanted<'a> {
    /// The file of procedures.
    pub(crate) path: &'a Path,
    /// A part of the title; without it the file must hold one procedure.
    pub(crate) title: Option<&'a str>,
    /// The program; empty for the first that the file names.
    pub(crate) program: &'a [PathBuf],
    /// The station.
    pub(crate) station: Option<&'a PathBuf>,
    pub(crate) language: LanguageArguments,
}

/// Runs a procedure to its end, whatever fails on the way, and hands on what is known of the run.
pub(crate) fn run<T>(
    wanted: Wanted<'_>,
    terminal: &Terminal,
    tell: impl FnOnce(Evidence<'_>) -> Result<T, Failure>,
) -> Result<T, Failure> {
    let Wanted { path, title, program, station, language } = wanted;
    let given = Given { program, station, language };
    let mut shared = Shared::default();
    shared.programs.journal = Measuring::Demanded;
    check_given(given, &mut shared, terminal)?;
    let suite = Suite::read(path.to_path_buf(), given, &mut shared);
    let show = |problems: &[Diagnostic], sources: &Sources| {
        terminal.say(&render::text(problems, sources, terminal.message_colour()));
    };
    if let Some(message) = &suite.unreadable {
        return Err(Failure::usage(message.clone()));
    }
    if suite.is_refused() {
        show(&suite.problems, &suite.sources);
        return Err(Failure::shown(Exit::Usage));
    }
    let procedure = chosen(&suite, title)?;
    let scripts = Scripts::new(&suite);
    let prepared = match scripts.get(&suite, 0, language) {
        Ok(prepared) => prepared,
        Err(refusal) => return Err(refused(&suite, refusal, language, show)),
    };
    let Some(Compiled::Ready { program, sources, logic, .. }) =
        suite.variants.first().map(|program| program.compiled(language))
    else {
        return Err(Failure::internal("a script without its program"));
    };
    let station = suite.station.as_ref().and_then(|station| station.station.as_ref());
    let devices = station.map_or(&[][..], |station| &station.devices);
    let options = RunOptions {
        carry_on: true,
        brief: true,
        record: Some(devices.iter().map(|device| device.name.value.clone()).collect()),
        account: logic.clone(),
        ..RunOptions::default()
    };
    let outcome = prepared.script.run(procedure, &options);
    if let Verdict::Refused(problems) = &outcome.verdict {
        show(problems, &suite.sources);
        return Err(Failure::shown(Exit::Usage));
    }
    let Some(account) = &outcome.account else { return Err(Failure::internal("the run kept no account")) };
    let scan_ns = prepared.script.scan_ns();
    let recording = outcome.compared.as_ref();
    tell(Evidence { account, program, station, recording, scan_ns, sources })
}

/// The only procedure, or the only one with this in its title.
fn chosen(suite: &Suite, title: Option<&str>) -> Result<usize, Failure> {
    let titles: Vec<&str> = suite.procedures().map(|procedure| procedure.title.value.as_str()).collect();
    let wanted = title.unwrap_or_default().to_lowercase();
    let exact = titles.iter().position(|other| other.to_lowercase() == wanted);
    let mut fitting = (0..titles.len())
        .filter(|index| titles.get(*index).is_some_and(|title| title.to_lowercase().contains(&wanted)));
    match (exact, fitting.next(), fitting.next()) {
        (Some(index), ..) | (None, Some(index), None) => Ok(index),
        (None, None, _) if titles.is_empty() => {
            Err(Failure::nothing(format!("{}: there is no procedure in it", suite.name())))
        }
        (_, found, _) => {
            let which = if found.is_some() { "several procedures fit" } else { "no procedure fits" };
            let list: Vec<String> =
                titles.iter().map(|title| format!("  {}", render::visible(title))).collect();
            let message = format!("{}: {which}; give one of their titles with --only:", suite.name());
            Err(Failure::usage(format!("{message}\n{}", list.join("\n"))))
        }
    }
}

fn refused(
    suite: &Suite,
    refusal: &Refusal,
    language: LanguageArguments,
    show: impl Fn(&[Diagnostic], &Sources),
) -> Failure {
    match refusal {
        Refusal::Suite => show(&suite.problems, &suite.sources),
        Refusal::Station | Refusal::Unfit(_) => {
            if let Some(station) = &suite.station {
                let problems =
                    if let Refusal::Unfit(problems) = refusal { problems } else { &station.problems };
                show(problems, &station.sources);
            }
        }
        Refusal::Program => match suite.variants.first().map(|program| program.compiled(language)) {
            Some(Compiled::Errors { diagnostics, sources }) => {
                show(diagnostics, sources);
                return Failure::shown(Exit::Findings);
            }
            Some(Compiled::Unusable(message)) => return Failure::usage(message.clone()),
            _ => {}
        },
        Refusal::Problems(problems) => show(problems, &suite.sources),
    }
    Failure::shown(Exit::Usage)
}
