//! The types of a program, interned: equal types have equal [`TypeId`]s, so that comparing is one number.
//!
//! Sources: IEC 61131-3:2013, 6.4 (tables 10 and 11). Named types are equal by name, anonymous arrays by
//! element type and bounds (our choice, because variables are usually declared with anonymous arrays).

use std::collections::{BTreeMap, HashMap};

use latchwork_grammar::{Name, Span, tree::DirectAddress};
use latchwork_stdlib::BlockDefinition;
use latchwork_vm::ElementaryType;

/// A type.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct TypeId(pub u32);

/// A structure or enumeration type by its number in [`Types`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct DerivedId(pub u32);

/// A program organization unit by its number in the program.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct UnitId(pub u32);

/// An interface by its number in the program.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct InterfaceId(pub u32);

/// What a type is.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Type {
    /// Not known because of an error already reported; fits everything, silently.
    Unknown,
    /// An elementary type other than the strings.
    Elementary(ElementaryType),
    /// `STRING[capacity]` or `WSTRING[capacity]`.
    String {
        /// `WSTRING`.
        wide: bool,
        /// Most characters it holds, 1..=32767.
        capacity: u16,
    },
    /// An integer literal that has not met a typed operand yet; never the type of a variable.
    UntypedInteger,
    /// A real literal that has not met a typed operand yet; never the type of a variable.
    UntypedReal,
    /// A directly derived type: values and operations of its base, its own name and default.
    Derived {
        /// Its name.
        name: Name,
        /// What it derives from.
        base: TypeId,
    },
    /// `INT (lower..upper)`.
    Subrange {
        /// Name, if declared in a `TYPE` section.
        name: Option<Name>,
        /// An integer type.
        base: ElementaryType,
        /// Smallest value.
        lower: i128,
        /// Largest value.
        upper: i128,
    },
    /// `(a, b, c)`; values in [`Types::enumeration`].
    Enumeration(DerivedId),
    /// `INT (a := 1, b := 5)`: named values of a base type; values in [`Types::enumeration`].
    NamedValues {
        /// The values.
        id: DerivedId,
        /// The base type.
        base: ElementaryType,
    },
    /// `ARRAY [a..b, …] OF element`.
    Array {
        /// Lower and upper bound of each dimension.
        bounds: Vec<(i64, i64)>,
        /// Type of the elements.
        element: TypeId,
    },
    /// `ARRAY [*, *] OF element`: a parameter for arrays of any bounds (table 15).
    OpenArray {
        /// Number of dimensions.
        dimensions: u8,
        /// Type of the elements.
        element: TypeId,
    },
    /// A structure; members in [`Types::structure`].
    Structure(DerivedId),
    /// A function block type or class written by the user, or a program.
    Unit(UnitId),
    /// An interface: a variable of it holds the address of an instance, or NULL.
    Interface(InterfaceId),
    /// A standard function block, by its number in [`Types::standard_block`].
    StandardBlock(u16),
    /// `REF_TO target`.
    Reference(TypeId),
    /// The type of `NULL`.
    Null,
}

/// An enumeration, plain or with named values.
#[derive(Clone, Debug)]
pub struct Enumeration {
    /// Its name; `None` when anonymous in a variable declaration.
    pub name: Option<Name>,
    /// The values with their numbers in order.
    pub values: Vec<(Name, i128)>,
    /// Where it was declared.
    pub span: Span,
}

/// A structure type.
#[derive(Clone, Debug)]
pub struct Structure {
    /// Its name.
    pub name: Name,
    /// `OVERLAP`: members may share bytes, and all bits start as zero.
    pub overlap: bool,
    /// Its members in order.
    pub members: Vec<StructureMember>,
    /// Where it was declared.
    pub span: Span,
}

/// A member of a structure.
#[derive(Clone, Debug)]
pub struct StructureMember {
    /// Its name.
    pub name: Name,
    /// Its type.
    pub kind: TypeId,
    /// Its initial value, if one was written.
    pub initial: Option<crate::typed::InitialValue>,
    /// Where it lies, if that does not follow from the members before it.
    pub place: Option<MemberPlace>,
    /// Its declaration.
    pub span: Span,
}

/// The place of a member from the start of its structure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MemberPlace {
    /// The byte.
    pub byte: u32,
    /// The bit of that byte, 0 to 7, for a BOOL.
    pub bit: Option<u8>,
}

/// All types of one compilation.
#[derive(Clone, Debug, Default)]
pub struct Types {
    types: Vec<Type>,
    /// Each type with its derived names taken away, by its id; a chain of names may be long.
    underlying: Vec<TypeId>,
    ids: HashMap<Type, TypeId>,
    elementary: [Option<TypeId>; ElementaryType::ALL.len()],
    enumerations: Vec<Enumeration>,
    structures: Vec<Structure>,
    standard_blocks: Vec<&'static BlockDefinition>,
    /// Members declared with `AT %I*`, with that address: what is stored is the place of the value.
    pub open_members: BTreeMap<(DerivedId, u32), DirectAddress>,
    /// Default values of named types that differ from their base's (`TYPE f : REAL := 50.0; END_TYPE`).
    pub defaults: HashMap<TypeId, crate::typed::InitialValue>,
}

impl Types {
    /// No types yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// The id of a type, entered if it is new.
    pub fn intern(&mut self, kind: Type) -> TypeId {
        if let Some(id) = self.ids.get(&kind) {
            return *id;
        }
        let id = TypeId(self.types.len() as u32);
        // The base of a derived type has been entered before it.
        let underlying = if let Type::Derived { base, .. } = kind { self.underlying(base) } else { id };
        self.underlying.push(underlying);
        self.types.push(kind.clone());
        self.ids.insert(kind, id);
        id
    }

    /// All types, in the order in which they were entered.
    pub fn all(&self) -> impl Iterator<Item = TypeId> + use<> {
        (0..self.types.len() as u32).map(TypeId)
    }

    /// The id of an elementary type.
    pub fn elementary(&mut self, kind: ElementaryType) -> TypeId {
        // Asked for at every operator and literal.
        if let Some(Some(id)) = self.elementary.get(kind as usize) {
            return *id;
        }
        let id = self.intern(Type::Elementary(kind));
        if let Some(slot) = self.elementary.get_mut(kind as usize) {
            *slot = Some(id);
        }
        id
    }

    /// The id of a type, if it has been entered.
    pub fn find(&self, kind: &Type) -> Option<TypeId> {
        self.ids.get(kind).copied()
    }

    /// What a type is.
    pub fn get(&self, id: TypeId) -> &Type {
        &self.types[id.0 as usize]
    }

    /// The type with derived names taken away (subranges and named values stay).
    pub fn underlying(&self, id: TypeId) -> TypeId {
        self.underlying[id.0 as usize]
    }

    /// The elementary type whose values and operations a type has, if any: itself, or the base of a derived
    /// type, subrange or named-value type. Plain enumerations and strings have none.
    pub fn elementary_base(&self, id: TypeId) -> Option<ElementaryType> {
        match self.get(self.underlying(id)) {
            Type::Elementary(kind) => Some(*kind),
            Type::Subrange { base, .. } | Type::NamedValues { base, .. } => Some(*base),
            _ => None,
        }
    }

    /// Enters an enumeration.
    pub fn add_enumeration(&mut self, enumeration: Enumeration) -> DerivedId {
        self.enumerations.push(enumeration);
        DerivedId(self.enumerations.len() as u32 - 1)
    }

    /// An enumeration entered before.
    pub fn enumeration(&self, id: DerivedId) -> &Enumeration {
        &self.enumerations[id.0 as usize]
    }

    /// Enters a structure, usually without members until its declaration has been read.
    pub fn add_structure(&mut self, structure: Structure) -> DerivedId {
        self.structures.push(structure);
        DerivedId(self.structures.len() as u32 - 1)
    }

    /// How many structures there are.
    pub(crate) fn structures(&self) -> usize {
        self.structures.len()
    }

    /// A structure entered before.
    pub fn structure(&self, id: DerivedId) -> &Structure {
        &self.structures[id.0 as usize]
    }

    /// A structure entered before, to fill in its members.
    pub fn structure_mut(&mut self, id: DerivedId) -> &mut Structure {
        &mut self.structures[id.0 as usize]
    }

    /// The type of a standard function block.
    pub fn add_standard_block(&mut self, definition: &'static BlockDefinition) -> TypeId {
        let index = match self.standard_blocks.iter().position(|known| known.name == definition.name) {
            Some(index) => index,
            None => {
                self.standard_blocks.push(definition);
                self.standard_blocks.len() - 1
            }
        };
        self.intern(Type::StandardBlock(index as u16))
    }

    /// The definition behind [`Type::StandardBlock`].
    pub fn standard_block(&self, index: u16) -> &'static BlockDefinition {
        self.standard_blocks[index as usize]
    }
}
