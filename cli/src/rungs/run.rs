//! What is to be drawn: a compiled program, and if a time is asked for a run up to it.

use std::{path::PathBuf, sync::Arc};

use latchwork_bench::{
    account::Account,
    diagram::scale::time_text,
    reasons::Evidence,
    recording::Recording,
    replay::{self, ReplayOptions},
    station::Station,
};
use latchwork_compiler::{logic::Logic, render};
use latchwork_grammar::Sources;
use latchwork_vm::Program;

use super::arguments::RungsArguments;
use crate::{
    exit::{Exit, Failure},
    program::{self, Journalled},
    run::{self, DEFAULT_SCAN_NS},
    station,
    terminal::Terminal,
    test::accounted::{self, Wanted},
};

/// A program, and what it did.
pub(super) struct Ran<'r> {
    /// The names of its files.
    pub(super) files: String,
    pub(super) sources: &'r Sources,
    pub(super) logic: &'r Logic,
    pub(super) program: &'r Program,
    pub(super) station: Option<&'r Station>,
    pub(super) moment: Option<Moment<'r>>,
    /// How the command ends when all is drawn.
    pub(super) exit: Exit,
}

/// The scan that is asked about.
pub(super) struct Moment<'r> {
    pub(super) account: &'r Account,
    pub(super) recording: Option<&'r Recording>,
    pub(super) scan: u32,
    pub(super) time_ns: i64,
}

/// Compiles, runs if a time is asked for, and hands on what is known.
pub(super) fn run<T>(
    arguments: &RungsArguments,
    terminal: &Terminal,
    tell: impl FnOnce(Ran<'_>) -> Result<T, Failure>,
) -> Result<T, Failure> {
    match &arguments.procedure {
        None => replayed(arguments, terminal, tell),
        Some(path) => {
            let wanted = Wanted {
                path,
                title: arguments.only.as_deref(),
                program: &arguments.files,
                station: arguments.station.as_ref(),
                language: arguments.language,
            };
            accounted::run(wanted, terminal, |evidence| {
                let Evidence { account, program, station, recording, scan_ns, sources } = evidence;
                let (moment, _) = moment(account, recording, arguments.at.unwrap_or(0), scan_ns, false)?;
                let names: Vec<&str> = sources.iter().map(|(_, file)| file.name.as_str()).collect();
                let files = few(&names.join(", "), names.len());
                let (logic, moment) = (account.logic(), Some(moment));
                tell(Ran { files, sources, logic, program, station, moment, exit: Exit::Good })
            })
        }
    }
}

fn replayed<T>(
    arguments: &RungsArguments,
    terminal: &Terminal,
    tell: impl FnOnce(Ran<'_>) -> Result<T, Failure>,
) -> Result<T, Failure> {
    let language = arguments.language;
    let Journalled { sources, logic, program } = program::journalled(&arguments.files, language, terminal)?;
    let mut outside = Sources::new();
    let station = station::checked(arguments.station.as_ref(), language, &program, &mut outside, terminal)?;
    let mut ran = Ran {
        files: few(&program::names(&arguments.files), arguments.files.len()),
        sources: &sources,
        logic: &logic,
        program: &program,
        station: station.as_ref(),
        moment: None,
        exit: Exit::Good,
    };
    let Some(at_ns) = arguments.at else { return tell(ran) };
    program::require_program(program.image(), &arguments.files)?;
    let path = arguments.stimulus.as_ref();
    let stimulus = run::stimulus(path, &program, station.as_ref(), &mut outside, true, terminal)?;
    let suiting = program.image().base_interval_ns;
    let scan_ns = arguments.scan.unwrap_or(if suiting > 0 { suiting } else { DEFAULT_SCAN_NS });
    let devices = station.iter().flat_map(|station| &station.devices);
    let options = ReplayOptions {
        scan_ns,
        until_ns: Some(at_ns.saturating_add(1)),
        account: Some(Arc::clone(&logic)),
        record: Some(devices.map(|device| device.name.value.clone()).collect()),
        ..ReplayOptions::default()
    };
    let replayed = replay::replay(Arc::clone(&program), station.as_ref(), stimulus.as_ref(), &options)
        .map_err(run::refused)?;
    let colour = terminal.message_colour();
    if let Some(fault) = &replayed.fault {
        terminal.say(&render::fault(fault, &sources, colour));
    }
    if let Some(fault) = &replayed.plant_fault {
        terminal.say(&render::plant_fault(fault, &outside, colour));
    }
    let Some(account) = &replayed.account else { return Err(Failure::internal("the run kept no account")) };
    let stopped = replayed.fault.is_some() || replayed.plant_fault.is_some();
    let (moment, exit) = moment(account, Some(&replayed.recording), at_ns, scan_ns, stopped)?;
    (ran.moment, ran.exit) = (Some(moment), exit);
    tell(ran)
}

/// The names of the files if they are few.
fn few(names: &str, count: usize) -> String {
    if count <= 3 { names.to_owned() } else { format!("{count} files") }
}

/// The scan that was running at a time; of a run that was stopped before, the last one.
fn moment<'r>(
    account: &'r Account,
    recording: Option<&'r Recording>,
    at_ns: i64,
    scan_ns: i64,
    stopped: bool,
) -> Result<(Moment<'r>, Exit), Failure> {
    let wanted = at_ns / scan_ns.max(1);
    let start = |scan: i64| scan.max(0).saturating_mul(scan_ns);
    let last = i64::from(account.scans()) - 1;
    if last < 0 || (wanted > last && !stopped) {
        let (at, last) = (time_text(at_ns), time_text(start(last)));
        return Err(Failure::usage(format!(
            "{at} lies behind the run, whose last scan started at {last}; give an earlier time"
        )));
    }
    let exit = if stopped { Exit::Findings } else { Exit::Good };
    let time_ns = start(wanted.min(last));
    // No more than the scans of the account, which are counted in 32 bits.
    let scan = u32::try_from(wanted.min(last)).unwrap_or(0);
    Ok((Moment { account, recording, scan, time_ns }, exit))
}

/// The files that are read.
pub(super) fn inputs(arguments: &RungsArguments) -> impl Iterator<Item = &PathBuf> {
    let others = arguments.station.iter().chain(&arguments.stimulus).chain(&arguments.procedure);
    arguments.files.iter().chain(others)
}
