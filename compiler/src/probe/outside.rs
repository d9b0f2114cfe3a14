//! What the names in expressions mean, told from outside.

use latchwork_vm::{ElementaryType, Image, Program, ResolveError, ResolvedKind, TypeDescription};

/// What there is outside of the expressions.
pub trait Outside {
    /// The type of what a path names (`Start`, `Main.Fill.ET`, `Seg[0]`, `%IX0.0`, a device, a load); `None` if
    /// nothing has this name.
    ///
    /// # Errors
    /// Words for a label where something has this name but cannot be read: several variables have it, it is a whole
    /// array, an index is outside of its bounds.
    fn kind(&self, path: &str) -> Result<Option<ProbeKind>, String>;

    /// Names near to one that nothing has, the nearest first.
    fn nearest(&self, path: &str) -> Vec<String> {
        let _ = path;
        Vec::new()
    }
}

/// The type of something outside.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ProbeKind {
    /// An elementary type other than the strings.
    Elementary(ElementaryType),
    /// STRING or WSTRING.
    String {
        /// WSTRING.
        wide: bool,
        /// Greatest number of characters.
        capacity: u16,
    },
    /// An enumeration.
    Enumeration {
        /// Its name, with its namespaces; empty where it has none.
        name: String,
        /// Its values with their numbers, in the order of the numbers.
        values: Vec<(String, i32)>,
    },
}

impl ProbeKind {
    /// The type of a resolved variable of an image; `None` for references, which an image of probes cannot follow.
    #[must_use]
    pub fn of(image: &Image, kind: ResolvedKind) -> Option<Self> {
        Some(match kind {
            ResolvedKind::Elementary(kind) => Self::Elementary(kind),
            ResolvedKind::Bit(_) => Self::Elementary(ElementaryType::Bool),
            ResolvedKind::String { wide, capacity } => Self::String { wide, capacity },
            ResolvedKind::Enumeration(index) => {
                let Some(TypeDescription::Enumeration { name, values }) = image.debug.kind(index) else {
                    return None;
                };
                let mut values = values.clone();
                values.sort_by_key(|(_, number)| *number);
                Self::Enumeration { name: name.clone(), values }
            }
            ResolvedKind::Reference => return None,
        })
    }
}

/// The variables of a program as what there is outside.
#[derive(Clone, Copy, Debug)]
pub struct ProgramOutside<'a>(pub &'a Program);

impl Outside for ProgramOutside<'_> {
    fn kind(&self, path: &str) -> Result<Option<ProbeKind>, String> {
        match self.0.resolve(path) {
            Ok(found) => match ProbeKind::of(self.0.image(), found.kind) {
                Some(kind) => Ok(Some(kind)),
                None => Err("a reference, which cannot be followed here".to_owned()),
            },
            Err(ResolveError::Unknown { .. } | ResolveError::Syntax { .. }) => Ok(None),
            Err(ResolveError::Ambiguous { candidates, .. }) => {
                let all: Vec<String> = candidates.iter().map(|name| format!("`{name}`")).collect();
                Err(format!("could be {}; write the full path", all.join(" or ")))
            }
            Err(ResolveError::NotElementary { example, .. }) => Err(match example {
                Some(example) => format!("not a single value; name one such as `{example}`"),
                None => "not a single value".to_owned(),
            }),
            Err(ResolveError::Subscript { problem, .. }) => Err(problem),
        }
    }

    fn nearest(&self, path: &str) -> Vec<String> {
        match self.0.resolve(path) {
            Err(ResolveError::Unknown { nearest, .. }) => nearest,
            _ => Vec::new(),
        }
    }
}
