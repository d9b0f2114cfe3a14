//! Ctrl-C, or a request to terminate: asked once, a run ends in good order; asked twice, it ends at once.

use std::{
    process,
    sync::atomic::{AtomicBool, Ordering},
};

use crate::exit::Exit;

/// Whether the user asked to end. A signal belongs to the whole process, so this does too.
static ASKED: AtomicBool = AtomicBool::new(false);

/// From now on Ctrl-C and SIGTERM, with which a batch system cancels a job, are noted instead of ending the process. Where the process was told to ignore it, it stays
/// ignored.
pub(super) fn watch() {
    // A second call finds the handler of the first, which does the same.
    let _ = ctrlc::try_set_handler(|| {
        if ASKED.swap(true, Ordering::SeqCst) {
            process::exit(Exit::Interrupted as i32);
        }
    });
}

/// Whether the user asked to end.
pub(super) fn asked() -> bool {
    ASKED.load(Ordering::SeqCst)
}

/// Ends the process while threads are still at work that nobody waits for and nothing can end.
pub(super) fn leave() -> ! {
    process::exit(Exit::Interrupted as i32)
}
