//! Ctrl-C, or a request to terminate: asked once, a run ends in good order; asked twice, it ends at once.

use std::{
    process,
    sync::{
        Arc, LazyLock, Once,
        atomic::{AtomicBool, Ordering},
    },
};

use crate::exit::Exit;

/// Whether the user asked to end. A signal belongs to the whole process, so this does too.
static ASKED: LazyLock<Arc<AtomicBool>> = LazyLock::new(Arc::default);

/// From now on Ctrl-C and SIGTERM, with which a batch system cancels a job, are noted instead of ending the process.
/// Where it was told to ignore Ctrl-C, that stays ignored.
pub(crate) fn watch() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        // Without a handler the signal does what it always does.
        let _ = ctrlc::try_set_handler(|| {
            if ASKED.swap(true, Ordering::SeqCst) {
                process::exit(Exit::Interrupted as i32);
            }
        });
        #[cfg(unix)]
        {
            use signal_hook::{consts::SIGTERM, flag};
            // In this order: the first request is noted, the second finds the note.
            let _ =
                flag::register_conditional_shutdown(SIGTERM, Exit::Interrupted as i32, Arc::clone(&ASKED));
            let _ = flag::register(SIGTERM, Arc::clone(&ASKED));
        }
    });
}

/// Whether the user asked to end.
pub(crate) fn asked() -> bool {
    ASKED.load(Ordering::SeqCst)
}

/// Ends the process while threads are still at work that nobody waits for and nothing can end.
pub(crate) fn leave() -> ! {
    process::exit(Exit::Interrupted as i32)
}
