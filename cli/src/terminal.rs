//! Standard output and standard error: colour, width, and readers that go away.
//!
//! Standard output carries results, standard error everything said about them.

use std::{
    env,
    io::{self, IsTerminal, Write},
};

use crate::{arguments::Color, exit::Failure};

/// Width assumed when nobody tells.
const DEFAULT_COLUMNS: usize = 100;

/// The two streams and what they can show.
#[derive(Debug)]
pub(crate) struct Terminal {
    color: Color,
    /// The reader of standard output has gone: nothing more needs to be written.
    closed: bool,
}

impl Terminal {
    /// The streams of this process, with the choice of the command line.
    pub(crate) fn new(color: Color) -> Self {
        Terminal { color, closed: false }
    }

    /// Writes a result to standard output.
    ///
    /// A reader that has had enough, like `head`, is no error; a full disk is.
    pub(crate) fn result(&mut self, text: &str) -> Result<(), Failure> {
        if self.closed {
            return Ok(());
        }
        let mut out = io::stdout().lock();
        match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
            Ok(()) => Ok(()),
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => {
                self.closed = true;
                Ok(())
            }
            Err(error) => Err(Failure::usage(format!("cannot write to standard output: {error}"))),
        }
    }

    /// Says something on standard error, as it is.
    pub(crate) fn say(&self, text: &str) {
        // Nothing can be done when even the messages find no reader.
        let _ = io::stderr().lock().write_all(text.as_bytes());
    }

    /// Whether results may be coloured.
    pub(crate) fn result_colour(&self) -> bool {
        colour(self.color, io::stdout().is_terminal(), |name| env::var_os(name))
    }

    /// Whether messages may be coloured.
    pub(crate) fn message_colour(&self) -> bool {
        colour(self.color, io::stderr().is_terminal(), |name| env::var_os(name))
    }

    /// Columns to fit results into: COLUMNS, else the terminal's width, else 100.
    pub(crate) fn columns(&self) -> usize {
        env::var("COLUMNS")
            .ok()
            .and_then(|text| text.trim().parse().ok())
            .filter(|columns| *columns > 0)
            .or_else(|| terminal_size::terminal_size().map(|(width, _)| usize::from(width.0)))
            .unwrap_or(DEFAULT_COLUMNS)
    }

    /// Whether the terminal is said to show ASCII only. A file or another program gets Unicode in any case.
    pub(crate) fn ascii(&self) -> bool {
        io::stdout().is_terminal() && ascii_locale(|name| env::var(name).ok())
    }
}

/// The command line decides, then NO_COLOR, then CLICOLOR_FORCE, then whether a terminal that can show colour is
/// there. (The two variables are common practice: no-color.org and bixense.com/clicolors, from memory.)
fn colour(choice: Color, is_terminal: bool, variable: impl Fn(&str) -> Option<std::ffi::OsString>) -> bool {
    let set = |name| variable(name).is_some_and(|value| !value.is_empty());
    match choice {
        Color::Always => true,
        Color::Never => false,
        Color::Auto if set("NO_COLOR") => false,
        Color::Auto
            if set("CLICOLOR_FORCE") && variable("CLICOLOR_FORCE").is_none_or(|value| value != "0") =>
        {
            true
        }
        Color::Auto => is_terminal && variable("TERM").is_none_or(|value| value != "dumb"),
    }
}

/// POSIX: the first of LC_ALL, LC_CTYPE, LANG that is set and not empty names the character set.
fn ascii_locale(variable: impl Fn(&str) -> Option<String>) -> bool {
    ["LC_ALL", "LC_CTYPE", "LANG"]
        .into_iter()
        .filter_map(variable)
        .find(|value| !value.is_empty())
        .is_some_and(|value| {
            let value = value.to_ascii_lowercase();
            !value.contains("utf-8") && !value.contains("utf8")
        })
}

#[cfg(test)]
mod tests {
    use std::ffi::OsString;

    use super::*;

    fn with(choice: Color, is_terminal: bool, set: &[(&str, &str)]) -> bool {
        colour(choice, is_terminal, |name| {
            set.iter().find(|(known, _)| *known == name).map(|(_, value)| OsString::from(value))
        })
    }

    #[test]
    fn colour_goes_by_flag_then_environment_then_terminal() {
        let no_color = ("NO_COLOR", "1");
        let force = ("CLICOLOR_FORCE", "1");
        assert!(with(Color::Auto, true, &[]));
        assert!(!with(Color::Auto, false, &[]));
        assert!(!with(Color::Auto, true, &[("TERM", "dumb")]));
        assert!(!with(Color::Auto, true, &[no_color]));
        assert!(with(Color::Auto, true, &[("NO_COLOR", "")]));
        assert!(with(Color::Auto, false, &[force]));
        assert!(!with(Color::Auto, false, &[("CLICOLOR_FORCE", "0")]));
        assert!(!with(Color::Auto, false, &[no_color, force]));
        assert!(with(Color::Always, false, &[no_color]));
        assert!(!with(Color::Never, true, &[force]));
    }

    #[test]
    fn the_locale_tells_whether_unicode_can_be_shown() {
        let locale = |set: &[(&str, &str)]| {
            ascii_locale(|name| {
                set.iter().find(|(known, _)| *known == name).map(|(_, value)| value.to_string())
            })
        };
        assert!(!locale(&[]));
        assert!(!locale(&[("LANG", "en_US.UTF-8")]));
        assert!(locale(&[("LANG", "en_US.UTF-8"), ("LC_ALL", "C")]));
        assert!(!locale(&[("LANG", "C"), ("LC_CTYPE", "C.utf8")]));
        assert!(!locale(&[("LANG", "C.UTF-8"), ("LC_ALL", "")]));
    }
}
