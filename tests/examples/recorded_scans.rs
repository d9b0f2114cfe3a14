//! Runs scans of a program of 200 rungs with a recorder beside it, for an instruction counter such as callgrind: what a
//! recorder costs is the difference to a run with `nothing`.
//!
//! `cargo run --release -p latchwork-tests --example recorded_scans -- (nothing|terminals|everything) SCANS`

#![allow(clippy::print_stdout, reason = "a measurement to be read by a person")]

use std::{error::Error, time::Instant};

use latchwork_tests::rung_recording::{Recorded, RungRecording};

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [what, scans] = arguments.as_slice() else {
        return Err("wanted: nothing, terminals or everything, and a number of scans".into());
    };
    let recorded = match what.as_str() {
        "nothing" => Recorded::Nothing,
        "terminals" => Recorded::Terminals,
        "everything" => Recorded::Everything,
        other => return Err(format!("nobody can record {other}").into()),
    };
    let scans: i64 = scans.parse()?;
    let mut run = RungRecording::new(recorded)?;
    let begun = Instant::now();
    run.scans(scans)?;
    let each = begun.elapsed().as_nanos() as f64 / scans as f64;
    println!("{what}: {each:.0} ns a scan, {} changes of {} variables", run.changes(), run.variables());
    Ok(())
}
