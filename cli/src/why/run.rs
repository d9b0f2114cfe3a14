//! A run with an account, from a stimulus.

use std::sync::Arc;

use latchwork_bench::{
    reasons::Evidence,
    replay::{self, AFTER_LAST_NS, ReplayOptions},
    station::Station,
    stimulus::Stimulus,
};
use latchwork_grammar::Sources;

use super::arguments::WhyArguments;
use crate::{
    exit::Failure,
    program::{self, Journalled},
    run::{self, DEFAULT_SCAN_NS},
    station,
    terminal::Terminal,
};

/// Compiles, replays, and hands on what is known of the run.
pub(super) fn run<T>(
    arguments: &WhyArguments,
    terminal: &Terminal,
    tell: impl FnOnce(Evidence<'_>) -> Result<T, Failure>,
) -> Result<T, Failure> {
    let Journalled { sources, logic, program } =
        program::journalled(&arguments.files, arguments.language, terminal)?;
    program::require_program(program.image(), &arguments.files)?;
    let mut outside = Sources::new();
    let (language, stimulus) = (arguments.language, arguments.stimulus.as_ref());
    let station = station::checked(arguments.station.as_ref(), language, &program, &mut outside, terminal)?;
    let stimulus = run::stimulus(stimulus, &program, station.as_ref(), &mut outside, true, terminal)?;
    let last_ns = stimulus.as_ref().and_then(Stimulus::last_time_ns).unwrap_or(0);
    let suiting = program.image().base_interval_ns;
    let scan_ns = arguments.scan.unwrap_or(if suiting > 0 { suiting } else { DEFAULT_SCAN_NS });
    // Long enough for the scan that is asked about.
    let least_ns = arguments.at.map_or(0, |at| at.saturating_add(1));
    let until_ns = arguments.until.unwrap_or_else(|| last_ns.saturating_add(AFTER_LAST_NS).max(least_ns));
    let options = ReplayOptions {
        scan_ns,
        until_ns: Some(until_ns),
        account: Some(logic),
        record: Some(station.iter().flat_map(device_names).collect()),
        ..ReplayOptions::default()
    };
    let replayed = replay::replay(Arc::clone(&program), station.as_ref(), stimulus.as_ref(), &options)
        .map_err(run::refused)?;
    let Some(account) = &replayed.account else {
        return Err(Failure::internal("the run kept no account"));
    };
    let recording = Some(&replayed.recording);
    tell(Evidence {
        account,
        program: &program,
        station: station.as_ref(),
        recording,
        scan_ns,
        sources: &sources,
    })
}

fn device_names(station: &Station) -> impl Iterator<Item = String> {
    station.devices.iter().map(|device| device.name.value.clone())
}
