//! Types as written, initial values and direct addresses (IEC 61131-3:2013, tables 10, 11, 14 and 16).

use super::{Expression, Ident, QualifiedName, VariableDeclaration};
use crate::source::Span;

/// A type as written.
#[derive(Clone, Debug)]
pub struct TypeSpecification {
    /// Which form.
    pub kind: TypeSpecificationKind,
    /// Where.
    pub span: Span,
}

/// The forms a type can be written in.
#[derive(Clone, Debug)]
pub enum TypeSpecificationKind {
    /// An elementary type other than the strings.
    Elementary(ElementaryType),
    /// `STRING`, `STRING[n]`, `WSTRING`, `WSTRING[n]`.
    String {
        /// `WSTRING`.
        wide: bool,
        /// The length in the brackets.
        length: Option<Box<Expression>>,
    },
    /// A user type, function block, class or interface by name.
    Named(QualifiedName),
    /// `INT (lower..upper)`.
    Subrange {
        /// The base type.
        base: Box<TypeSpecification>,
        /// Lower bound.
        lower: Box<Expression>,
        /// Upper bound.
        upper: Box<Expression>,
    },
    /// `(a, b, c)` or, with named values, `INT (a := 1, b := 5)`.
    Enumeration {
        /// The base type of named values.
        base: Option<Box<TypeSpecification>>,
        /// The values in order.
        values: Vec<EnumerationValue>,
    },
    /// `ARRAY [a..b, c..d] OF element`.
    Array {
        /// One entry a dimension.
        dimensions: Vec<ArrayDimension>,
        /// Type of the elements.
        element: Box<TypeSpecification>,
    },
    /// `STRUCT … END_STRUCT`.
    Structure {
        /// `OVERLAP`.
        overlap: bool,
        /// The members; a declaration may name several.
        members: Vec<VariableDeclaration>,
    },
    /// `REF_TO type`.
    Reference(Box<TypeSpecification>),
}

/// One value of an enumeration.
#[derive(Clone, Debug)]
pub struct EnumerationValue {
    /// Its name.
    pub name: Ident,
    /// `:= value`.
    pub value: Option<Expression>,
}

/// One dimension of an array type.
#[derive(Clone, Debug)]
pub enum ArrayDimension {
    /// `lower..upper`.
    Bounds {
        /// Lower bound.
        lower: Expression,
        /// Upper bound.
        upper: Expression,
    },
    /// `*` (table 15).
    Open(Span),
}

/// The elementary types (table 10) that are written as one word without a length.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[allow(missing_docs, reason = "the names are the standard's keywords")]
pub enum ElementaryType {
    Bool,
    Byte,
    Word,
    Dword,
    Lword,
    Sint,
    Int,
    Dint,
    Lint,
    Usint,
    Uint,
    Udint,
    Ulint,
    Real,
    Lreal,
    Time,
    Ltime,
    Date,
    Ldate,
    TimeOfDay,
    LtimeOfDay,
    DateAndTime,
    LdateAndTime,
    Char,
    Wchar,
}

/// A directly represented variable (table 16).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DirectAddress {
    /// `I`, `Q` or `M`.
    pub area: Area,
    /// `X` (also when left out), `B`, `W`, `D`, `L`.
    pub size: AddressSize,
    /// The numbers between the points; empty for a partly specified address (`%I*`).
    pub path: Vec<u32>,
    /// Where.
    pub span: Span,
}

/// Memory area of a direct address.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Area {
    /// `%I`
    Input,
    /// `%Q`
    Output,
    /// `%M`
    Memory,
}

/// Size letter of a direct address.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum AddressSize {
    /// `X` or none: one bit.
    Bit,
    /// `B`: 8 bits.
    Byte,
    /// `W`: 16 bits.
    Word,
    /// `D`: 32 bits.
    DoubleWord,
    /// `L`: 64 bits.
    LongWord,
}

/// An initial value.
#[derive(Clone, Debug)]
pub enum Initializer {
    /// A constant expression.
    Expression(Expression),
    /// `[v, 3(v), …]`.
    Array {
        /// The elements with their repetition.
        elements: Vec<ArrayInitialElement>,
        /// Brackets included.
        span: Span,
    },
    /// `(member := value, …)`.
    Structure {
        /// The members given.
        members: Vec<(Ident, Initializer)>,
        /// Parentheses included.
        span: Span,
    },
}

/// `value` or `count(value, …)` in an array initializer.
#[derive(Clone, Debug)]
pub struct ArrayInitialElement {
    /// The count.
    pub repetition: Option<Expression>,
    /// The values; empty in `count()`.
    pub values: Vec<Initializer>,
}
