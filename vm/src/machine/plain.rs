//! A scan of an image whose only task is cyclic and has no status, when nothing takes time: inputs, programs, outputs.

use super::dispatcher::{Dispatcher, dispatch};
use super::process_image::{pack, unpack};
use super::{Machine, ScanSummary};
use crate::fault::Fault;
use crate::run::Start;

impl Machine {
    /// Runs such a scan.
    #[inline(never)]
    pub(super) fn scan_plain(&mut self, now_ns: i64) -> Result<ScanSummary, Box<Fault>> {
        if self.state.fault.is_some() {
            return Err(self.stopped());
        }
        self.begin(now_ns);
        #[cfg(compiled_form)]
        if self.dispatcher == Dispatcher::Compiled
            && let Some(compiled) = self.program.compiled_already()
            && let Some(exit) = compiled.scan(&self.program, &mut self.data, &mut self.state)
        {
            return if exit.faulted { Err(self.stopped()) } else { Ok(self.completed(exit.executed)) };
        }
        self.interpret_plain()
    }

    /// Out of line, so that the compiled form has no more than it needs.
    #[inline(never)]
    fn interpret_plain(&mut self) -> Result<ScanSummary, Box<Fault>> {
        // Borrows of the fields: the program need not be held by one more count.
        let Self { program, data, state, stack, dispatcher, .. } = self;
        unpack(data, &program.unpacked);
        let mut executed = 0;
        for call in program.schedule().plain.as_deref().unwrap_or_default() {
            let start = Start { unit: call.unit, base: call.base, executed };
            let exit = dispatch(*dispatcher, program, data, state, stack, start);
            if exit.faulted {
                return Err(self.stopped());
            }
            executed = exit.executed;
        }
        pack(data, &program.packed);
        Ok(self.interpreted(executed))
    }
}
