//! Declarations: types, variables and program organization units (IEC 61131-3:2013, 6.4 to 6.6).

use super::{
    AccessSection, AddressSize, Chart, Configuration, DirectAddress, Ident, Initializer, Instruction,
    QualifiedName, Statement, TypeSpecification,
};
use crate::source::Span;

/// What can stand at the top of a file.
#[derive(Clone, Debug)]
pub enum Declaration {
    /// `TYPE … END_TYPE`.
    Types(TypeSection),
    /// `VAR_GLOBAL … END_VAR` at file level (an extension: taken as the globals of the configuration).
    Globals(VariableSection),
    /// A program organization unit or class.
    Unit(Box<ProgramUnit>),
    /// `INTERFACE … END_INTERFACE`.
    Interface(Interface),
    /// `NAMESPACE … END_NAMESPACE`.
    Namespace(Namespace),
    /// `USING …;` at file level: holds for the whole file.
    Using(Using),
    /// `CONFIGURATION … END_CONFIGURATION`.
    Configuration(Configuration),
}

/// `NAMESPACE a.b … END_NAMESPACE` (tables 64 and 65).
#[derive(Clone, Debug)]
pub struct Namespace {
    /// `INTERNAL`.
    pub internal: Option<Span>,
    /// `a.b` is `b` inside `a`.
    pub name: QualifiedName,
    /// `USING` behind the heading.
    pub using: Vec<Using>,
    /// What it contains.
    pub declarations: Vec<Declaration>,
    /// The whole namespace.
    pub span: Span,
}

/// `USING a, b.c;` (table 66).
#[derive(Clone, Debug)]
pub struct Using {
    /// The namespaces.
    pub names: Vec<QualifiedName>,
    /// Without its semicolon.
    pub span: Span,
}

/// `INTERFACE name EXTENDS a, b … END_INTERFACE` (table 51).
#[derive(Clone, Debug)]
pub struct Interface {
    /// Its name.
    pub name: Ident,
    /// `USING` behind the heading.
    pub using: Vec<Using>,
    /// The interfaces it extends.
    pub extends: Vec<QualifiedName>,
    /// The method prototypes: units of the kind [`UnitKind::Method`] without bodies.
    pub methods: Vec<ProgramUnit>,
    /// Some piece could not be parsed and is missing.
    pub damaged: bool,
    /// The whole interface.
    pub span: Span,
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

/// `PROGRAM`, `FUNCTION_BLOCK`, `FUNCTION`, `CLASS`, `METHOD`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum UnitKind {
    /// `PROGRAM`.
    Program,
    /// `FUNCTION_BLOCK`.
    FunctionBlock,
    /// `FUNCTION`.
    Function,
    /// `CLASS`.
    Class,
    /// `METHOD` of a class, function block or interface; never at file level.
    Method,
}

/// `ABSTRACT`, `FINAL`, `OVERRIDE` (tables 48 and 53).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs, reason = "the names are the standard's keywords")]
pub enum Modifier {
    Abstract,
    Final,
    Override,
}

/// A program organization unit.
#[derive(Clone, Debug)]
pub struct ProgramUnit {
    /// Which kind.
    pub kind: UnitKind,
    /// Its name.
    pub name: Ident,
    /// `ABSTRACT`, `FINAL`, `OVERRIDE` in front of the name, with their places.
    pub modifiers: Vec<(Modifier, Span)>,
    /// `PUBLIC`, `PRIVATE`, `PROTECTED`, `INTERNAL` in front of the name: of a method, or `INTERNAL` of another unit.
    pub access: Option<(Qualifier, Span)>,
    /// `USING` behind the heading.
    pub using: Vec<Using>,
    /// `EXTENDS`.
    pub extends: Option<QualifiedName>,
    /// `IMPLEMENTS`.
    pub implements: Vec<QualifiedName>,
    /// Result type of a function or method.
    pub result: Option<TypeSpecification>,
    /// Variable sections in textual order.
    pub sections: Vec<VariableSection>,
    /// `VAR_ACCESS` sections of a program.
    pub access_paths: Vec<AccessSection>,
    /// Methods of a class or function block: units of the kind [`UnitKind::Method`].
    pub methods: Vec<ProgramUnit>,
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
    pub location: Option<Box<DirectAddress>>,
    /// `AT %B2` of a member of a structure: its place in the structure.
    pub relative: Option<Box<RelativeAddress>>,
    /// The type.
    pub specification: TypeSpecification,
    /// `R_EDGE` or `F_EDGE`.
    pub edge: Option<(Edge, Span)>,
    /// `:= value`.
    pub initial: Option<Initializer>,
    /// The declaration without its semicolon.
    pub span: Span,
}

/// The place of a member from the start of its structure: `%B2`, `%X3.0` (table 11).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RelativeAddress {
    /// `X`, `B`, `W`, `D`, `L`.
    pub size: AddressSize,
    /// The byte, whatever the size letter is.
    pub byte: u32,
    /// The bit behind the point, for `X`.
    pub bit: Option<u32>,
    /// Where.
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
    /// A sequential function chart in its textual form.
    SequentialFunctionChart(Chart),
}
