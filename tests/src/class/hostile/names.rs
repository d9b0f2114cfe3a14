//! Right answers under names that mean something to a table, a page, a terminal or another operating system.

use std::{fs, path::PathBuf};

use super::{
    RAN,
    places::{HostilePlace, UNREAD, right_answer},
};

/// Names of files, with what is wrong about each. All of them hold a right answer, which the name must not harm.
const NAMES: &[(&str, &str)] = &[
    ("=1+1.st", "a formula as a name"),
    ("@SUM(A1:A9).st", "a formula in the older form"),
    ("+31.st", "begins with a plus"),
    ("-31.st", "begins with a minus, as an option does"),
    ("--out.st", "is an option"),
    ("\tTab.st", "begins with a tab"),
    ("\rReturn.st", "begins with a carriage return"),
    ("two\nlines.st", "is two lines"),
    ("quote\"and,comma;semicolon.st", "ends a cell of a table"),
    ("'apostrophe.st", "begins with what spreadsheets take for text"),
    ("<img src=x onerror=alert(1)>.st", "is markup"),
    ("&lt;b&gt;.st", "is markup that was escaped before"),
    ("[a](javascript:alert(1)).st", "is a link of Markdown"),
    ("|a|b|.st", "is a row of a table of Markdown"),
    ("$(touch harm).st", "is a command of a shell"),
    ("`touch harm`.st", "is a command of an older shell"),
    ("%2e%2e%2fharm.st", "is a path, written as in an address"),
    ("harm...st", "has the folder above in it"),
    ("..harm.st", "begins like the folder above"),
    ("... .st", "is dots and a blank"),
    (" .st", "is a blank"),
    ("CON.st", "is a device on other systems"),
    ("nul.tar.st", "is a device with two endings"),
    ("trailing dot..st", "has an ending that other systems cut"),
    ("name\u{202e}ts.txe.st", "turns the direction of writing"),
    ("\u{200b}\u{200b}.st", "is nothing to be seen"),
    ("\u{1b}[31mred\u{1b}[0m.st", "colours a terminal"),
    ("\u{fffd}.st", "is the sign for what cannot be read"),
    ("a\u{300}b.st", "is a letter and an accent"),
    ("\u{e0}b.st", "is the same as one character"),
    ("Anna.st", "is the same as another one, but for the letter case"),
    ("anna.st", "is the same as another one, but for the letter case"),
    ("back\\slash.st", "is a folder on other systems"),
    ("C:harm.st", "is a drive on other systems"),
    ("1e5.st", "is a number to a table"),
    ("2026-01-02.st", "is a date to a table"),
    ("TRUE.st", "is a truth value to a table"),
];

/// The same, hidden by a dot in front.
const HIDDEN: &[(&str, &str)] = &[(".main.st", "is hidden"), (".st", "is an ending alone")];

pub(super) fn places() -> Result<Vec<HostilePlace>, String> {
    let right = right_answer()?;
    let named = |name: PathBuf, shown: String, tries: &'static str| {
        let text = right.clone();
        HostilePlace {
            name: shown,
            tries,
            states: RAN,
            works: true,
            make: Box::new(move |folder, _| fs::write(folder.join(&name), &text)),
        }
    };
    let mut all: Vec<HostilePlace> =
        NAMES.iter().map(|(name, tries)| named(PathBuf::from(name), (*name).to_owned(), tries)).collect();
    // What begins with a dot is hidden, and no submission.
    for (name, tries) in HIDDEN {
        let hidden = named(PathBuf::from(name), (*name).to_owned(), tries);
        all.push(HostilePlace { states: UNREAD, works: false, ..hidden });
    }
    // As long as a file system allows: 255 bytes with the ending.
    let long = format!("{}.st", "n".repeat(252));
    all.push(named(PathBuf::from(&long), long.clone(), "is as long as a name can be"));
    let wide = format!("{}.st", "\u{1f331}".repeat(62));
    all.push(named(PathBuf::from(&wide), wide.clone(), "is as long as a name can be, in few characters"));
    #[cfg(unix)]
    {
        use std::{ffi::OsStr, os::unix::ffi::OsStrExt};
        let raw = OsStr::from_bytes(b"\xff\xfe\xc3\x28.st");
        all.push(named(PathBuf::from(raw), raw.to_string_lossy().into_owned(), "is no text at all"));
    }
    Ok(all)
}
