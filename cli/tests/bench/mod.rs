//! A folder with the files of the help texts, and the command run in it.

#![allow(dead_code, reason = "each test binary uses a part of it")]

pub mod browser;
pub mod class;
pub mod long;
pub mod procedures;

use std::{fs, path::PathBuf, process::Output};

use assert_cmd::Command;
use tempfile::TempDir;

/// A folder that is gone after the test.
pub struct Folder(TempDir);

impl Folder {
    /// A folder with the files that the help texts speak of.
    pub fn new() -> Self {
        let folder = Folder(tempfile::tempdir().unwrap());
        for (name, text) in [
            ("pump.st", include_str!("../files/pump.st")),
            ("types.st", include_str!("../files/types.st")),
            ("station.toml", include_str!("../files/station.toml")),
            ("press.csv", include_str!("../files/press.csv")),
            ("pump.steps", include_str!("../files/pump.steps")),
        ] {
            folder.write(name, text);
        }
        folder
    }

    /// Writes a file into the folder.
    pub fn write(&self, name: &str, bytes: impl AsRef<[u8]>) {
        fs::write(self.path(name), bytes).unwrap();
    }

    /// Writes an exercise about the pump, `lift`, what three students handed in, and a list of them.
    pub fn write_exercise(&self) {
        self.write("wiring.steps", include_str!("../files/wiring.steps"));
        for folder in ["lift", "handed-in"] {
            fs::create_dir_all(self.path(folder)).unwrap();
        }
        let pump = include_str!("../files/pump.st");
        for (name, text) in [
            ("lift/exercise.toml", include_str!("../files/exercise.toml")),
            ("lift/task.md", "# The pump\n\nIt holds itself until it is stopped.\n"),
            ("handed-in/ada.st", pump),
            ("handed-in/ben.st", &pump.replace("(Start OR Pump) AND Stop", "Start AND Stop")),
            ("handed-in/cleo.st", &pump.replace(":=", "=")),
            ("class.csv", "student,name\nada,Ada\nben,Ben\ncleo,Cleo\ndan,Dan\n"),
        ] {
            self.write(name, text);
        }
    }

    /// Reads a file in the folder.
    pub fn read(&self, name: &str) -> Vec<u8> {
        fs::read(self.path(name)).unwrap()
    }

    /// Path of a file in the folder.
    pub fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    /// Names of all files in the folder, sorted.
    pub fn names(&self) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(self.0.path())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    /// The command, in the folder, in an environment that says nothing about terminals.
    pub fn command(&self) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_latchwork"));
        command.current_dir(self.0.path());
        for name in ["NO_COLOR", "CLICOLOR_FORCE", "COLUMNS", "LC_ALL", "LC_CTYPE"] {
            command.env_remove(name);
        }
        // The longest takes seconds on a computer with nothing else to do: whatever runs for minutes hangs.
        command.timeout(std::time::Duration::from_secs(300));
        command
    }

    /// Runs the command with arguments separated by blanks.
    pub fn run(&self, arguments: &str) -> Ran {
        Ran::from(self.command().args(arguments.split_whitespace()).output().unwrap())
    }
}

/// What a command left.
#[derive(Debug)]
pub struct Ran {
    /// Exit code.
    pub code: Option<i32>,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

impl From<Output> for Ran {
    fn from(output: Output) -> Self {
        Ran {
            code: output.status.code(),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }
}

impl Ran {
    /// Exit code and both streams, for a snapshot.
    pub fn shown(&self) -> String {
        format!("exit {:?}\n--- out\n{}--- err\n{}", self.code, self.out, self.err)
    }

    /// Asserts the exit code, and that nothing panicked.
    #[track_caller]
    pub fn expect(self, code: i32) -> Self {
        assert_eq!(self.code, Some(code), "{}", self.shown());
        assert!(!self.err.contains("internal error") && !self.err.contains("panicked"), "{}", self.shown());
        self
    }
}
