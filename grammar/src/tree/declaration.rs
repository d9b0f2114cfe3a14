//! Declarations: types, variables and program organization units (IEC 61131-3:2013, 6.4 to 6.6).

use super::{DirectAddress, Ident, Initializer, Instruction, Statement, TypeSpecification};
use crate::source::Span;

/// What can stand at the top of a file.
#[derive(Clone, Debug)]
pub enum Declaration {
    /// `TYPE … END_TYPE`.
    Types(TypeSection),
    /// `VAR_GLOBAL … END_VAR` at file level (an extension: taken as the globals of the configuration).
    Globals(VariableSection),
    /// A program organization unit.
    Unit(ProgramUnit),
}

/// `TYPE … END_TYPE` (table 11).
#[derive(Clone, Debug)]
pub struct TypeSection {
    /// The types declared.
    pub types: Vec<TypeDeclaration>,
    /// From `TYPE` to `END_TYPE`.
    pub span: Span,
}

/// `Name : specification := initial value;`
#[derive(Clone, Debug)]
pub struct TypeDeclaration {
    /// Name of the new type.
    pub name: Ident,
    /// What it is.
    pub specification: TypeSpecification,
    /// Its default value.
    pub initial: Option<Initializer>,
    /// The declaration without its semicolon.
    pub span: Span,
}

/// `PROGRAM`, `FUNCTION_BLOCK`, `FUNCTION`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum UnitKind {
    /// `PROGRAM`.
    Program,
    /// `FUNCTION_BLOCK`.
    FunctionBlock,
    /// `FUNCTION`.
    Function,
}

/// A program organization unit.
#[derive(Clone, Debug)]
pub struct ProgramUnit {
    /// Which kind.
    pub kind: UnitKind,
    /// Its name.
    pub name: Ident,
    /// Result type of a function.
    pub result: Option<TypeSpecification>,
    /// Variable sections in textual order.
    pub sections: Vec<VariableSection>,
    /// The body.
    pub body: Body,
    /// Some piece of this unit could not be parsed and is missing from the tree; checks that reason about
    /// absence ("never used", "never assigned") must stay silent.
    pub damaged: bool,
    /// The whole unit.
    pub span: Span,
}

/// A `VAR…` section.
#[derive(Clone, Debug)]
pub struct VariableSection {
    /// Which section.
    pub kind: SectionKind,
    /// `CONSTANT`, `RETAIN` and the like, with their places.
    pub qualifiers: Vec<(Qualifier, Span)>,
    /// The declarations.
    pub variables: Vec<VariableDeclaration>,
    /// The opening keyword.
    pub keyword: Span,
    /// The whole section.
    pub span: Span,
}

/// The kinds of variable sections (table 13).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs, reason = "the names are the standard's keywords")]
pub enum SectionKind {
    Var,
    Input,
    Output,
    InOut,
    Temp,
    External,
    Global,
}

/// Qualifiers of a variable section.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs, reason = "the names are the standard's keywords")]
pub enum Qualifier {
    Constant,
    Retain,
    NonRetain,
    Public,
    Private,
    Protected,
    Internal,
}

/// `a, b AT %IX0.0 : T := v;`
#[derive(Clone, Debug)]
pub struct VariableDeclaration {
    /// The names; empty for `AT %QW3 : INT;`, where the address is the name.
    pub names: Vec<Ident>,
    /// `AT address`.
    pub location: Option<DirectAddress>,
    /// The type.
    pub specification: TypeSpecification,
    /// `R_EDGE` or `F_EDGE`.
    pub edge: Option<(Edge, Span)>,
    /// `:= value`.
    pub initial: Option<Initializer>,
    /// The declaration without its semicolon.
    pub span: Span,
}

/// Edge qualifier of a Boolean input (table 40).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edge {
    /// `R_EDGE`.
    Rising,
    /// `F_EDGE`.
    Falling,
}

/// The body of a unit. Which language it is in is decided from the text.
#[derive(Clone, Debug)]
pub enum Body {
    /// Nothing but comments.
    Empty,
    /// Structured Text.
    StructuredText(Vec<Statement>),
    /// Instruction List.
    InstructionList(Vec<Instruction>),
}
