//! A board with a fault, taken through the steps of a checkout.

use std::sync::Arc;

use latchwork_vm::{Machine, Program, Value};

use super::CheckoutStep;
use crate::{panel::Panel, procedure::InitialFault, station::Station, wiring_proof::SingleFault};

/// A program on a station, to be checked out.
#[derive(Clone)]
pub struct Board<'s> {
    /// The program, which [`Station::check`] has compared with the station.
    pub program: Arc<Program>,
    /// The station.
    pub station: &'s Station,
    /// Time between two scans in nanoseconds, above 0.
    pub scan_ns: i64,
}

impl Board<'_> {
    /// What each load does at the end of each step; steps after the program or the plant has stopped are missing.
    pub(super) fn predict(
        &self,
        steps: &[&CheckoutStep],
        fault: Option<SingleFault>,
    ) -> Vec<Vec<Option<Value>>> {
        let mut machine = Machine::new(Arc::clone(&self.program));
        let mut panel = Panel::new(&self.program, Some(self.station));
        match fault.map(|fault| fault.initial()) {
            Some(InitialFault::Device { device, fault, stuck_at }) => {
                panel.place_device(device, Some(fault), stuck_at, &mut machine);
            }
            Some(InitialFault::Load { load, fault }) => panel.place_load(load, Some(fault)),
            None => {}
        }
        panel.drive(&mut machine);
        let mut predicted = Vec::new();
        let (mut next_ns, mut now_ns) = (0_i64, 0_i64);
        for step in steps {
            for (device, value) in &step.acts {
                panel.act(*device, value, &mut machine);
            }
            now_ns = now_ns.saturating_add(step.wait_ns);
            // One scan at least sees what was done.
            let until_ns = now_ns.max(next_ns + 1);
            while next_ns < until_ns {
                let scanned = machine.scan(next_ns).is_ok();
                if !scanned || panel.advance(next_ns, self.scan_ns, &mut machine).is_err() {
                    return predicted;
                }
                next_ns += self.scan_ns;
            }
            predicted.push(panel.loads().iter().map(|load| load.value(&machine)).collect());
        }
        predicted
    }
}
