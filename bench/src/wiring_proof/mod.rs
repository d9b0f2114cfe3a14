//! The wiring proof: what single wiring faults do to the loads, and whether a procedure notices them.
//!
//! ```text
//! Script + Station --sound--> SoundRun, with the stops found in it
//! SoundRun + SingleFault --run--> FaultRun: what becomes of each load, whether the procedure notices it
//! SoundRuns + FaultRuns --answers--> which faults are dangerous, which go unnoticed, whether a broken wire stops
//! ```
//!
//! One fault at a time, there from the start: open wire, shorted, stuck in either position for a device; open wire, stuck
//! on, stuck off for a load. A transmitter has an open wire or is shorted. A step of the procedure that places or clears a
//! fault on the same device or load takes the place of the fault.
//!
//! **Loads that move.** A load whose `kind` is a word for a signal (lamp, light, beacon, horn, bell, buzzer, siren,
//! display, meter, gauge, indicator)
//! is told of in the table; what follows is asked of all others. An analog load runs while it is above the lower end of its
//! range.
//!
//! **Stop devices.** In the sound run a person acts on device D at a scan, and load L, which ran in the scan before, goes
//! off before the next thing that is done (to a device, by a restart, a placed fault, a variable that is set). D stops L if L would run on without that: in a run in which D is
//! stuck where it was, from that moment on, L is still on when it went off in the sound run. So a timer that runs out by
//! itself is not taken for the effect of the last button. An act that in some procedure *starts* a load that moves (by the
//! same test the other way round), such as the button for the other direction, is not judged as a stop if a broken wire
//! does not stop: a start has a normally open contact.
//!
//! **A fault leaves a load running** that a person is trying to stop, if the fault comes in the middle of the time for which
//! L runs, and L is on from the act on D to a second after it goes off in the sound run, or to the next thing that is done if
//! that comes sooner.
//!
//! **A broken wire stops** L, if L goes off at the latest when it does in the sound run, although the wire of D breaks in the
//! middle of the time for which L runs and D is acted on only later.
//!
//! Runs are compared act by act: an expectation that waits in vain makes a run longer, so the time of the sound run counts
//! from the last thing that was done in both.
//!
//! Knows nothing of files, threads or terminals.

pub(crate) mod answers;
mod effect;
mod fault;
pub mod observed;
pub mod report;
mod run;
mod sound;
pub(crate) mod stop;
mod timeline;

pub use answers::{Answers, BrokenWire, LeftRunning, Unnoticed, answers};
pub use effect::{Change, Effect};
pub use fault::{FaultKind, Place, SingleFault, single_faults};
pub use run::{FaultRun, Notice, with_fault};
pub use sound::{SoundRun, sound};
pub use stop::{Break, Move, Stop};
