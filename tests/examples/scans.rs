//! Runs scans of one workload and nothing else, for an instruction counter such as callgrind: the difference of two runs
//! with different numbers of scans is the cost of the scans.
//!
//! `cargo run --release -p latchwork-tests --example scans -- WORKLOAD [compiled|threaded|matched] SCANS`, where the
//! workload is one of `tests/speed` (it also gives the checksum of its outputs), of the samples (pump, pump-list) or a
//! generated program (coils, blocks). Without a way of running it is that of every front end: interpreted at first,
//! compiled when that is worth it.

#![allow(clippy::print_stdout, reason = "a measurement to be read by a person")]

use std::error::Error;

use latchwork_tests::{
    control::{self, Run},
    generate,
    workbench::{self, sample},
};
use latchwork_vm::{Dispatcher, Machine};

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (workload, way, scans) = match arguments.as_slice() {
        [workload, scans] => (workload, "adaptive", scans),
        [workload, way, scans] => (workload, way.as_str(), scans),
        _ => {
            let names = control::workloads().collect::<Vec<_>>().join(", ");
            let wanted =
                format!("wanted: a workload ({names}, pump, pump-list, coils, blocks) and a number of scans");
            return Err(wanted.into());
        }
    };
    let scans: u64 = scans.parse()?;
    let dispatcher = match way {
        "adaptive" => Dispatcher::best(),
        "compiled" => Dispatcher::Compiled,
        "threaded" => Dispatcher::Threaded,
        "matched" => Dispatcher::Matched,
        other => return Err(format!("there is no way of running {other}").into()),
    };
    if control::workloads().any(|name| name == workload) {
        let mut run = Run::new(workload, dispatcher)?;
        let instructions = run.scan_times(scans)?;
        println!("{workload}: {} bytecode instructions a scan", instructions as f64 / scans as f64);
        println!("checksum {:08x}", run.checksum());
        return Ok(());
    }
    let source = match workload.as_str() {
        "pump" => sample("transfer-pump/pump.st")?,
        "pump-list" => sample("transfer-pump/pump.il")?,
        "coils" => generate::boolean_rungs(200),
        "blocks" => generate::standard_blocks(50),
        other => return Err(format!("there is no workload {other}").into()),
    };
    let mut machine = Machine::with_dispatcher(workbench::program(&source)?, dispatcher);
    let mut instructions = 0;
    for scan in 0..scans as i64 {
        // At the pump: the start button is pressed now and then, the stop button is at rest, the tank becomes full.
        // The other programs ignore their inputs.
        let terminals = 0b10 | u8::from(scan % 300 < 2) | (u8::from(scan % 300 > 200) << 2);
        let inputs = machine.program().image().layout.inputs;
        if let Some(byte) = machine.data_mut().get_mut(inputs.start as usize).filter(|_| inputs.size > 0) {
            *byte = terminals;
        }
        instructions += machine.scan(scan * control::SCAN_NS)?.instructions;
    }
    println!("{workload}: {} bytecode instructions a scan", instructions as f64 / scans as f64);
    Ok(())
}
