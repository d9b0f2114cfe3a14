//! From the name of a variable, as a person writes it, to its place: `Main.Start`, `Start`, `Main.Fill.ET`,
//! `Grid[1,2].Level`, `%IX0.0`.
//!
//! Works on the debug tables of a verified program. Letter case does not matter (IEC 61131-3:2013 6.1.2). This module
//! knows nothing of running.

mod path;
mod walk;

pub(crate) use walk::Locations;

use crate::image::{AreaKind, LocatedBit, Section, TypeDescription, TypeIndex};
use crate::program::Program;
use crate::types::ElementaryType;
use path::parse;
use serde::{Deserialize, Serialize};
use std::fmt;

/// How the bytes of a resolved variable are to be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum ResolvedKind {
    /// An elementary type other than a string.
    Elementary(ElementaryType),
    /// STRING or WSTRING.
    String {
        /// WSTRING.
        wide: bool,
        /// Greatest number of characters.
        capacity: u16,
    },
    /// An enumeration, by its type.
    Enumeration(TypeIndex),
    /// A reference: its value is the address, 0 for NULL.
    Reference,
    /// One bit, 0 to 7, of the byte at the address: a direct address that no variable was declared for.
    Bit(u8),
}

/// A variable that can be read, written and recorded.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Resolved {
    /// Absolute address.
    pub address: u32,
    /// How to read it.
    pub kind: ResolvedKind,
    /// Full path as declared.
    pub name: String,
    /// Section it was declared in.
    pub section: Section,
    /// Direct address such as `%IX0.0`.
    pub location: Option<String>,
    /// CONSTANT.
    pub constant: bool,
    /// The bit of a packed area that a located BOOL mirrors; writing the variable writes it too.
    pub mirror: Option<LocatedBit>,
}

/// Why a path names no variable.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum ResolveError {
    /// The text is no path.
    Syntax {
        /// The path.
        path: String,
        /// What is wrong with it.
        problem: String,
    },
    /// Nothing has this name.
    Unknown {
        /// The path.
        path: String,
        /// The part that is not known.
        part: String,
        /// Names that are close to it, the nearest first.
        nearest: Vec<String>,
    },
    /// Several variables have this name.
    Ambiguous {
        /// The path.
        path: String,
        /// Their full names.
        candidates: Vec<String>,
    },
    /// The path names a whole array, structure or instance.
    NotElementary {
        /// The path.
        path: String,
        /// An example of a path to an element of it.
        example: Option<String>,
    },
    /// An index does not fit the array.
    Subscript {
        /// The path.
        path: String,
        /// What is wrong with it.
        problem: String,
    },
}

impl fmt::Display for ResolveError {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Syntax { path, problem } => {
                write!(formatter, "`{path}` is not a path to a variable: {problem}")
            }
            Self::Unknown { path, part, nearest } => {
                if path == part {
                    write!(formatter, "there is no variable `{path}`")?;
                } else {
                    write!(formatter, "there is no `{part}` in `{path}`")?;
                }
                if nearest.is_empty() {
                    Ok(())
                } else {
                    write!(formatter, "; did you mean {}?", list(nearest, "or"))
                }
            }
            Self::Ambiguous { path, candidates } => {
                write!(formatter, "`{path}` could be {}; write the full path", list(candidates, "or"))
            }
            Self::NotElementary { path, example } => {
                write!(formatter, "`{path}` is not a single value")?;
                match example {
                    Some(example) => write!(formatter, "; name an element such as `{example}`"),
                    None => Ok(()),
                }
            }
            Self::Subscript { path, problem } => write!(formatter, "`{path}`: {problem}"),
        }
    }
}

impl std::error::Error for ResolveError {}

fn list(names: &[String], word: &str) -> String {
    let quoted: Vec<String> = names.iter().map(|name| format!("`{name}`")).collect();
    match quoted.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, first)) => format!("{} {word} {last}", first.join(", ")),
        None => String::new(),
    }
}

impl Program {
    /// The variable that a path names: `Main.Start`; `Start` where only one program or global variable has that name;
    /// `Main.Fill.ET`; `Seg[0]`; `Grid[1,2].Level`; `%IX0.0`.
    ///
    /// # Errors
    /// [`ResolveError`] says what is wrong, with names that are near.
    pub fn resolve(&self, path: &str) -> Result<Resolved, ResolveError> {
        let text = path.trim();
        if text.starts_with('%') {
            return self.resolve_location(text);
        }
        walk::resolve(self, text, &parse(text)?)
    }

    /// All scalar variables in the order of their declaration, for default recordings and completion. Of an array no
    /// more than [`crate::limits::ARRAY_LEAVES`] elements are listed, in all no more than
    /// [`crate::limits::VARIABLE_LEAVES`].
    pub fn variables(&self) -> impl Iterator<Item = Resolved> + '_ {
        walk::leaves(self).into_iter()
    }

    /// The names of the values of an enumeration.
    pub(crate) fn enumeration_name(&self, kind: TypeIndex, value: i32) -> Option<&str> {
        match self.image().debug.kind(kind) {
            Some(TypeDescription::Enumeration { values, .. }) => {
                values.iter().find(|(_, number)| *number == value).map(|(name, _)| name.as_str())
            }
            _ => None,
        }
    }

    /// A direct address: the variable declared there, or the place in the area itself.
    fn resolve_location(&self, text: &str) -> Result<Resolved, ResolveError> {
        let Some(direct) = path::direct_address(text) else {
            return Err(ResolveError::Syntax {
                path: text.to_owned(),
                problem: "a direct address looks like `%IX0.0`, `%QB1` or `%MW2`".to_owned(),
            });
        };
        if let Some(declared) = walk::located(self, &direct) {
            return Ok(declared);
        }
        let layout = &self.image().layout;
        let region = match direct.area {
            AreaKind::Input => layout.inputs,
            AreaKind::Output => layout.outputs,
            AreaKind::Memory => layout.memory,
        };
        let unknown = || ResolveError::Unknown {
            path: text.to_owned(),
            part: text.to_owned(),
            nearest: walk::nearest(text, walk::leaves(self).into_iter().filter_map(|leaf| leaf.location)),
        };
        let place = direct.place.ok_or_else(unknown)?;
        if u64::from(place.byte) + u64::from(place.size) > u64::from(region.size) {
            return Err(unknown());
        }
        let kind = match (place.bit, place.size) {
            (Some(bit), _) => ResolvedKind::Bit(bit),
            (None, 1) => ResolvedKind::Elementary(ElementaryType::Byte),
            (None, 2) => ResolvedKind::Elementary(ElementaryType::Word),
            (None, 4) => ResolvedKind::Elementary(ElementaryType::Dword),
            (None, _) => ResolvedKind::Elementary(ElementaryType::Lword),
        };
        Ok(Resolved {
            address: region.start + place.byte,
            kind,
            name: direct.text.clone(),
            section: Section::Global,
            location: Some(direct.text),
            constant: false,
            mirror: None,
        })
    }
}
