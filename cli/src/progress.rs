//! How far a run has come: on one line of a terminal, and in a line now and then where standard error is none.

use std::{
    io::{self, IsTerminal, Write},
    time::{Duration, Instant},
};

/// Time between two lines on a terminal, so that it does not slow the run down.
const BETWEEN: Duration = Duration::from_millis(100);

/// Time between two lines elsewhere.
const BETWEEN_LINES: Duration = Duration::from_secs(10);

/// The line.
pub(crate) struct Progress {
    on: On,
    shown: bool,
    next: Instant,
}

/// Where it is shown.
#[derive(Clone, Copy, PartialEq, Eq)]
enum On {
    /// Nowhere.
    Nothing,
    /// On a line that is written over.
    Terminal,
    /// On lines that stay.
    Lines,
}

impl Progress {
    /// Nothing shown yet; the first line comes only after a while. Nothing at all where standard error is no terminal.
    pub(crate) fn new(quiet: bool) -> Self {
        let on = if !quiet && io::stderr().is_terminal() { On::Terminal } else { On::Nothing };
        Progress { on, shown: false, next: Instant::now() + BETWEEN }
    }

    /// The same, with lines that stay where standard error is no terminal: for runs that may take long.
    pub(crate) fn of_long_run(quiet: bool) -> Self {
        let progress = Progress::new(quiet);
        if quiet || progress.on == On::Terminal {
            return progress;
        }
        Progress { on: On::Lines, next: Instant::now() + BETWEEN_LINES, ..progress }
    }

    /// Shows a line if it is time for one; `text` makes it.
    pub(crate) fn show(&mut self, text: impl FnOnce() -> String) {
        if self.on == On::Nothing || Instant::now() < self.next {
            return;
        }
        // Nothing can be done when even the messages find no reader.
        if self.on == On::Terminal {
            self.next = Instant::now() + BETWEEN;
            self.shown = true;
            let _ = write!(io::stderr().lock(), "\r\u{1b}[K{}", text());
        } else {
            self.next = Instant::now() + BETWEEN_LINES;
            let _ = writeln!(io::stderr().lock(), "{}", text());
        }
    }

    /// Makes room for what is to stay.
    pub(crate) fn clear(&mut self) {
        if std::mem::take(&mut self.shown) {
            let _ = write!(io::stderr().lock(), "\r\u{1b}[K");
        }
    }
}
