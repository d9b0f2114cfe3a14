//! Doing something again whenever a file changes.
//!
//! Times and sizes of the files are compared several times a second. That needs nothing of the system, works on
//! network folders too, and for the few files of a project costs nothing.

use std::{
    collections::BTreeMap,
    fs,
    path::{Path, PathBuf},
    thread,
    time::{Duration, SystemTime},
};

use latchwork_bench::diagram::counted;
use latchwork_compiler::render;

use crate::{
    exit::{Exit, Failure},
    interrupt,
    terminal::Terminal,
};

/// How often the files are looked at.
const LOOK: Duration = Duration::from_millis(300);

/// Files with what tells that they changed; `None` for one that is not there.
#[derive(Debug, Default, PartialEq, Eq)]
pub(crate) struct Seen(BTreeMap<PathBuf, Option<(SystemTime, u64)>>);

impl Seen {
    /// Looks at some files.
    pub(crate) fn look(paths: impl Iterator<Item = PathBuf>) -> Self {
        Seen(paths.map(|path| (path.clone(), stamp(&path))).collect())
    }

    /// The first file that is not as it was.
    fn changed<'n>(&self, now: &'n Seen) -> Option<&'n Path> {
        let changed = now.0.iter().find(|(path, stamp)| self.0.get(*path) != Some(*stamp));
        changed.map(|(path, _)| path.as_path())
    }
}

fn stamp(path: &Path) -> Option<(SystemTime, u64)> {
    let metadata = fs::metadata(path).ok()?;
    Some((metadata.modified().ok()?, metadata.len()))
}

/// Does something again and again until the user ends it: whenever one of the files changes that `round` leaves in what it
/// was given. `more` finds files that have come since.
pub(crate) fn run(
    terminal: &mut Terminal,
    more: impl Fn() -> Vec<PathBuf>,
    mut round: impl FnMut(&mut Terminal, &mut Seen) -> Result<Exit, Failure>,
) -> Result<Exit, Failure> {
    interrupt::watch();
    let mut seen = Seen::default();
    // What is wrong with the command line itself will not be repaired by a change of a file.
    let mut exit = round(terminal, &mut seen)?;
    loop {
        if exit == Exit::Interrupted {
            return Ok(exit);
        }
        let count = counted(seen.0.len() as u64, "file");
        terminal.say(&format!("\nwatching {count}; Ctrl-C ends\n"));
        let Some(changed) = wait(&more, &seen) else { return Ok(Exit::Interrupted) };
        terminal.say(&format!("{} changed; running again\n\n", render::visible(&changed.to_string_lossy())));
        exit = match round(terminal, &mut seen) {
            Ok(exit) => exit,
            Err(failure) if failure.exit == Exit::Internal => return Err(failure),
            Err(failure) => {
                let lines: Vec<String> = failure.message.lines().map(render::visible).collect();
                terminal.say(&format!("{}\n", lines.join("\n")));
                failure.exit
            }
        };
    }
}

/// Waits for a change and then until nothing changes any more, since an editor may write a file in several steps.
/// `None` if the user ends it.
fn wait(more: &impl Fn() -> Vec<PathBuf>, seen: &Seen) -> Option<PathBuf> {
    let mut changed: Option<(PathBuf, Seen)> = None;
    while !interrupt::asked() {
        thread::sleep(LOOK);
        let now = Seen::look(seen.0.keys().cloned().chain(more()));
        changed = match (changed, seen.changed(&now)) {
            (Some((path, before)), _) if before == now => return Some(path),
            (Some((path, _)), _) => Some((path, now)),
            (None, Some(path)) => Some((path.to_path_buf(), now)),
            (None, None) => None,
        };
    }
    None
}
