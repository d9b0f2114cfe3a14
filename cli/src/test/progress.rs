//! How far a run has come, on one line of a terminal; nothing where standard error is none.

use std::{
    io::{self, IsTerminal, Write},
    time::{Duration, Instant},
};

/// Time between two lines, so that the terminal does not slow the run down.
const BETWEEN: Duration = Duration::from_millis(100);

/// The line.
pub(super) struct Progress {
    enabled: bool,
    shown: bool,
    next: Instant,
}

impl Progress {
    /// Nothing shown yet; the first line comes only after a while.
    pub(super) fn new(quiet: bool) -> Self {
        let enabled = !quiet && io::stderr().is_terminal();
        Progress { enabled, shown: false, next: Instant::now() + BETWEEN }
    }

    /// Shows a line if it is time for one; `text` makes it.
    pub(super) fn show(&mut self, text: impl FnOnce() -> String) {
        if self.enabled && Instant::now() >= self.next {
            self.next = Instant::now() + BETWEEN;
            self.shown = true;
            // Nothing can be done when even the messages find no reader.
            let _ = write!(io::stderr().lock(), "\r\u{1b}[K{}", text());
        }
    }

    /// Makes room for what is to stay.
    pub(super) fn clear(&mut self) {
        if std::mem::take(&mut self.shown) {
            let _ = write!(io::stderr().lock(), "\r\u{1b}[K");
        }
    }
}
