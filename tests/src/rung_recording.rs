//! A program of 200 rungs with a recorder beside it: what recording costs when few values change.

use std::error::Error;

use latchwork_vm::{Machine, Recorder, Resolved};

use crate::{generate, workbench};

/// Time from scan to scan.
const SCAN_NS: i64 = 10_000_000;

/// What is recorded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Recorded {
    /// Nothing: there is no recorder.
    Nothing,
    /// The 16 inputs, and the last 16 coils in the place of outputs.
    Terminals,
    /// All variables of the program.
    Everything,
}

/// A machine in the middle of its run.
pub struct RungRecording {
    machine: Machine,
    recorder: Option<Recorder>,
    variables: usize,
    done: i64,
}

impl RungRecording {
    /// A machine in front of its first scan.
    ///
    /// # Errors
    /// What the compiler says against the program.
    pub fn new(recorded: Recorded) -> Result<Self, Box<dyn Error>> {
        const RUNGS: usize = 200;
        let program = workbench::program(&generate::boolean_rungs(RUNGS))?;
        let coil = |name: &str| name.rsplit_once(".C").and_then(|(_, number)| number.parse::<usize>().ok());
        let wanted = |variable: &Resolved| match recorded {
            Recorded::Nothing => false,
            Recorded::Terminals => {
                variable.location.is_some() || coil(&variable.name).is_some_and(|coil| coil + 16 >= RUNGS)
            }
            Recorded::Everything => true,
        };
        let variables: Vec<Resolved> = program.variables().filter(wanted).collect();
        let count = variables.len();
        let recorder = (recorded != Recorded::Nothing).then(|| Recorder::new(&program, variables));
        Ok(Self { machine: Machine::new(program), recorder, variables: count, done: 0 })
    }

    /// Runs and records further scans. Every tenth scan one input changes.
    ///
    /// # Errors
    /// The fault that stopped the machine, which has nothing that could.
    pub fn scans(&mut self, scans: i64) -> Result<(), Box<dyn Error>> {
        let inputs = self.machine.program().image().layout.inputs.start as usize;
        for scan in self.done..self.done + scans {
            if scan % 10 == 0 {
                let input = (scan / 10 % 16) as usize;
                if let Some(byte) = self.machine.data_mut().get_mut(inputs + input / 8) {
                    *byte ^= 1 << (input % 8);
                }
            }
            self.machine.scan(scan * SCAN_NS)?;
            if let Some(recorder) = &mut self.recorder {
                recorder.record(&self.machine, scan * SCAN_NS);
            }
        }
        self.done += scans;
        Ok(())
    }

    /// Forgets what was recorded so far.
    pub fn forget(&mut self) {
        if let Some(recorder) = &mut self.recorder {
            recorder.forget();
        }
    }

    /// The number of recorded variables.
    pub fn variables(&self) -> usize {
        self.variables
    }

    /// The number of recorded values.
    pub fn changes(&self) -> u64 {
        self.recorder.as_ref().map_or(0, Recorder::changes)
    }
}
