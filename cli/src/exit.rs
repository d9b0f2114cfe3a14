//! How the program ends: exit codes, and the message when it ends badly.

use std::{panic, process::ExitCode};

/// Outcome of a command. The numbers are an interface: scripts rely on them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Exit {
    /// All well; warnings are no reason to fail.
    Good = 0,
    /// Errors were found in a program, or a fault stopped it.
    Findings = 1,
    /// Wrong usage, bad configuration, or a file that cannot be read or written.
    Usage = 2,
    /// A defect of this program.
    Internal = 3,
    /// There was nothing to do.
    Nothing = 4,
    /// The user ended it.
    Interrupted = 130,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        ExitCode::from(exit as u8)
    }
}

/// Why a command could not do its work.
#[derive(Debug)]
pub(crate) struct Failure {
    /// The exit code.
    pub(crate) exit: Exit,
    /// For people, without a full stop at its end; several lines are possible. Empty if everything has been said.
    pub(crate) message: String,
}

impl Failure {
    /// Wrong usage, bad configuration, or a file that cannot be read or written.
    pub(crate) fn usage(message: impl Into<String>) -> Self {
        Failure { exit: Exit::Usage, message: message.into() }
    }

    /// There is nothing to do.
    pub(crate) fn nothing(message: impl Into<String>) -> Self {
        Failure { exit: Exit::Nothing, message: message.into() }
    }

    /// A defect of this program that was noticed in time.
    pub(crate) fn internal(message: impl Into<String>) -> Self {
        Failure { exit: Exit::Internal, message: format!("{}\n{REPORT}", message.into()) }
    }

    /// What is wrong has already been shown.
    pub(crate) fn shown(exit: Exit) -> Self {
        Failure { exit, message: String::new() }
    }
}

const REPORT: &str = "This is a defect of latchwork, not of your program. \
     Please report it with the command line and the files that led to it.";

/// Runs a command; a panic in it becomes a request for a report and [`Exit::Internal`], not a backtrace.
pub(crate) fn guarded(run: impl FnOnce() -> Exit + panic::UnwindSafe, say: fn(&str)) -> Exit {
    panic::set_hook(Box::new(move |information| {
        let place = information.location().map(|place| format!(" ({}:{})", place.file(), place.line()));
        say(&format!(
            "internal error{}: {}\n{REPORT}",
            place.unwrap_or_default(),
            payload(information.payload())
        ));
    }));
    panic::catch_unwind(run).unwrap_or(Exit::Internal)
}

fn payload(payload: &dyn std::any::Any) -> &str {
    payload
        .downcast_ref::<&str>()
        .copied()
        .or_else(|| payload.downcast_ref::<String>().map(String::as_str))
        .unwrap_or("no further information")
}

#[cfg(test)]
mod tests {
    use std::sync::Mutex;

    use super::*;

    static SAID: Mutex<String> = Mutex::new(String::new());

    #[test]
    fn a_panic_becomes_a_request_for_a_report() {
        let exit = guarded(|| panic!("the pump house is empty"), |text| SAID.lock().unwrap().push_str(text));
        let _ = panic::take_hook();
        assert_eq!(exit, Exit::Internal);
        let said = SAID.lock().unwrap();
        assert!(said.contains("the pump house is empty") && said.contains("report"), "{said}");
        assert!(!said.contains("backtrace"));
    }

    #[test]
    fn without_a_panic_the_outcome_is_passed_on() {
        assert_eq!(guarded(|| Exit::Nothing, |_| ()), Exit::Nothing);
        let _ = panic::take_hook();
    }
}
