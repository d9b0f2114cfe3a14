//! How many findings of one name a program may have told: a text of a few megabytes can hold millions of mistakes of one
//! kind, whose messages would take gigabytes. Each name has its own number, so that many of one never hide another.

use std::collections::BTreeMap;

use latchwork_grammar::Diagnostic;

/// Most findings of one name that are told of a program.
pub const SAME_NAME_MAX: usize = 1_000;

/// How many findings of each name there were.
#[derive(Clone, Debug, Default)]
pub(crate) struct SameName(BTreeMap<&'static str, usize>);

impl SameName {
    /// Counts one more of this name, and tells whether it may be kept.
    fn keeps(&mut self, name: &'static str) -> bool {
        let count = self.0.entry(name).or_default();
        *count += 1;
        *count <= SAME_NAME_MAX
    }

    /// Counts a finding. It is handed back if it may be told; the last one says so.
    pub(crate) fn admit(&mut self, diagnostic: Diagnostic) -> Option<Diagnostic> {
        let name = diagnostic.name;
        if !self.keeps(name) {
            return None;
        }
        let last = self.0.get(name) == Some(&SAME_NAME_MAX);
        let note = || format!("no more than {SAME_NAME_MAX} `{name}` are told; there may be others");
        Some(if last { diagnostic.note(note()) } else { diagnostic })
    }
}

/// Warnings that wait to be told.
#[derive(Debug, Default)]
pub(crate) struct Findings {
    kept: Vec<Diagnostic>,
    counted: SameName,
}

impl Findings {
    /// More of them, when so many were counted before.
    pub(crate) fn after(counted: SameName) -> Self {
        Findings { kept: Vec::new(), counted }
    }

    /// Adds one, unless there are too many of its name.
    pub(crate) fn push(&mut self, diagnostic: Diagnostic) {
        if self.counted.keeps(diagnostic.name) {
            self.kept.push(diagnostic);
        }
    }

    /// Those that were kept, and how many were counted.
    pub(crate) fn into_parts(self) -> (Vec<Diagnostic>, SameName) {
        (self.kept, self.counted)
    }
}
