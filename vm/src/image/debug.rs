//! Debug tables: names, types and source places. The machine runs without them; paths, faults, listings and
//! recordings are made from them.

use crate::types::ElementaryType;
use serde::{Deserialize, Serialize};

/// Index into [`DebugTables::types`]. A description only refers to descriptions before it, so types cannot be cyclic.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct TypeIndex(pub u32);

/// How the bytes of a variable are to be read.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum TypeDescription {
    /// An elementary type other than a string.
    Elementary(ElementaryType),
    /// STRING or WSTRING: capacity word, length word, characters.
    String {
        /// WSTRING.
        wide: bool,
        /// Greatest number of characters.
        capacity: u16,
    },
    /// An enumeration, stored in 32 bits.
    Enumeration {
        /// Name of the type.
        name: String,
        /// Names and values in the order of the declaration.
        values: Vec<(String, i32)>,
    },
    /// An array.
    Array {
        /// Lower and upper bound of each dimension.
        bounds: Vec<(i64, i64)>,
        /// Type of an element.
        element: TypeIndex,
        /// Distance of neighbouring elements of the last dimension in bytes.
        stride: u32,
    },
    /// A structure, a function block instance or a program instance.
    Structure {
        /// Name of the type.
        name: String,
        /// Its members in the order of the declaration.
        members: Vec<Member>,
    },
    /// A reference: 32 bits holding an address, [`crate::NULL_ADDRESS`] for NULL.
    Reference,
    /// One bit, 0 to 7, of a byte that others share: a BOOL with a relative address in its structure.
    Bit(u8),
}

/// The section that a variable was declared in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Section {
    /// VAR_INPUT.
    Input,
    /// VAR_OUTPUT.
    Output,
    /// VAR_IN_OUT.
    InOut,
    /// VAR.
    Local,
    /// VAR_TEMP.
    Temporary,
    /// VAR_GLOBAL.
    Global,
    /// VAR_EXTERNAL.
    External,
    /// VAR_ACCESS: another name of a variable; `constant` is READ_ONLY.
    Access,
}

/// A member of a structure or instance.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Member {
    /// Its name as declared.
    pub name: String,
    /// Its offset in bytes.
    pub offset: u32,
    /// Its type.
    pub kind: TypeIndex,
    /// Section it was declared in.
    pub section: Section,
    /// Direct address such as `%IX0.0`.
    pub location: Option<String>,
    /// CONSTANT: it can be read and not written.
    pub constant: bool,
}

/// A variable at a fixed address: a global variable, a program instance, a located variable.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Variable {
    /// Its name as declared; a nameless located variable has its location as name. The name of a variable that a
    /// program declares but that lies elsewhere (located words) is dotted: `Main.Speed`.
    pub name: String,
    /// Its absolute address.
    pub address: u32,
    /// Its type.
    pub kind: TypeIndex,
    /// Section it was declared in.
    pub section: Section,
    /// Direct address such as `%IX0.0`.
    pub location: Option<String>,
    /// CONSTANT, or READ_ONLY.
    pub constant: bool,
}

/// Where in the source the instructions from `instruction` on come from, up to the next entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LineEntry {
    /// Index of the first instruction, counted over the whole image.
    pub instruction: u32,
    /// Index into [`DebugTables::files`].
    pub file: u32,
    /// First line, from 1.
    pub line: u32,
    /// First column, from 1.
    pub column: u32,
    /// Last line.
    pub end_line: u32,
    /// Column after the last character.
    pub end_column: u32,
}

/// Names, types and source places of an image.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct DebugTables {
    /// Source file names.
    pub files: Vec<String>,
    /// Type descriptions.
    pub types: Vec<TypeDescription>,
    /// Program instances, global variables, located variables.
    pub roots: Vec<Variable>,
    /// Source places, ascending by instruction.
    pub lines: Vec<LineEntry>,
}

impl DebugTables {
    /// The description with this index, if there is one.
    #[must_use]
    pub fn kind(&self, index: TypeIndex) -> Option<&TypeDescription> {
        // u32 to usize never loses bits on the targets this crate supports (32 and 64 bits).
        self.types.get(index.0 as usize)
    }

    /// The line entry that an instruction belongs to, with its index.
    #[must_use]
    pub fn line_of(&self, instruction: u32) -> Option<(usize, &LineEntry)> {
        let after = self.lines.partition_point(|entry| entry.instruction <= instruction);
        let index = after.checked_sub(1)?;
        self.lines.get(index).map(|entry| (index, entry))
    }
}
