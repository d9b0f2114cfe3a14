//! Configurations, resources, tasks and access paths (IEC 61131-3:2013, 6.8; tables 62 and 63).

use super::{
    DirectAddress, Expression, Ident, Initializer, QualifiedName, Qualifier, TypeSpecification,
    VariableSection,
};
use crate::source::Span;

/// `CONFIGURATION … END_CONFIGURATION` (table 62).
#[derive(Clone, Debug)]
pub struct Configuration {
    /// Its name.
    pub name: Ident,
    /// `VAR_GLOBAL` sections.
    pub globals: Vec<VariableSection>,
    /// Its resources; the body of a single resource without `RESOURCE` is one without a name.
    pub resources: Vec<Resource>,
    /// `VAR_ACCESS` sections.
    pub access: Vec<AccessSection>,
    /// `VAR_CONFIG` sections.
    pub instances: Vec<InstanceSection>,
    /// Some piece could not be parsed and is missing.
    pub damaged: bool,
    /// The whole configuration.
    pub span: Span,
}

/// `RESOURCE name ON type … END_RESOURCE` (table 62).
#[derive(Clone, Debug)]
pub struct Resource {
    /// Its name and the type behind `ON`; `None` for the body of a single resource.
    pub heading: Option<(Ident, Ident)>,
    /// `VAR_GLOBAL` sections.
    pub globals: Vec<VariableSection>,
    /// Its tasks in textual order.
    pub tasks: Vec<TaskDeclaration>,
    /// Its program instances in textual order.
    pub programs: Vec<ProgramInstance>,
    /// The whole resource.
    pub span: Span,
}

/// `TASK name (SINGLE := …, INTERVAL := …, PRIORITY := …);` (table 63).
#[derive(Clone, Debug)]
pub struct TaskDeclaration {
    /// Its name.
    pub name: Ident,
    /// `SINGLE := value`.
    pub single: Option<Expression>,
    /// `INTERVAL := value`.
    pub interval: Option<Expression>,
    /// `PRIORITY := value`.
    pub priority: Option<Expression>,
    /// The declaration without its semicolon.
    pub span: Span,
}

/// `PROGRAM name WITH task : Type (…);` in a resource (table 62).
#[derive(Clone, Debug)]
pub struct ProgramInstance {
    /// `RETAIN` or `NON_RETAIN`.
    pub qualifier: Option<(Qualifier, Span)>,
    /// Its name.
    pub name: Ident,
    /// `WITH task`.
    pub task: Option<Ident>,
    /// Its type.
    pub program: QualifiedName,
    /// What stands in the parentheses.
    pub elements: Vec<ProgramElement>,
    /// The declaration without its semicolon.
    pub span: Span,
}

/// One element of the list behind a program instance.
#[derive(Clone, Debug)]
pub enum ProgramElement {
    /// `block WITH task`: a function block instance of the program that runs under a task of its own.
    Block {
        /// The instance: a name, or members of it.
        block: Expression,
        /// The task.
        task: Ident,
    },
    /// `input := source`.
    Input {
        /// The input or in-out variable.
        name: Ident,
        /// A constant, global or directly represented variable.
        source: Expression,
    },
    /// `output => sink`.
    Output {
        /// The output.
        name: Ident,
        /// A global or directly represented variable.
        sink: Expression,
    },
}

/// The way to a variable from the configuration: `Resource.Program.block.variable`, `Resource.%QX0.0`.
#[derive(Clone, Debug)]
pub struct AccessPath {
    /// The names and subscripts in order, as an access expression; a name alone where only an address follows.
    pub path: Option<Expression>,
    /// A directly represented variable at the end.
    pub direct: Option<DirectAddress>,
    /// All of it.
    pub span: Span,
}

/// `VAR_ACCESS … END_VAR`.
#[derive(Clone, Debug)]
pub struct AccessSection {
    /// The declarations.
    pub variables: Vec<AccessDeclaration>,
    /// The whole section.
    pub span: Span,
}

/// `name : path : type READ_WRITE;`
#[derive(Clone, Debug)]
pub struct AccessDeclaration {
    /// Its name.
    pub name: Ident,
    /// What it gives access to.
    pub path: AccessPath,
    /// The type of that.
    pub specification: TypeSpecification,
    /// `READ_WRITE` is `true`, `READ_ONLY` is `false`, with its place.
    pub writable: Option<(bool, Span)>,
    /// The declaration without its semicolon.
    pub span: Span,
}

/// `VAR_CONFIG … END_VAR`.
#[derive(Clone, Debug)]
pub struct InstanceSection {
    /// The declarations.
    pub variables: Vec<InstanceDeclaration>,
    /// The whole section.
    pub span: Span,
}

/// `path AT %QW3 : INT := 5;`
#[derive(Clone, Debug)]
pub struct InstanceDeclaration {
    /// The variable of an instance.
    pub path: AccessPath,
    /// `AT address`.
    pub location: Option<DirectAddress>,
    /// Its type.
    pub specification: TypeSpecification,
    /// `:= value`.
    pub initial: Option<Initializer>,
    /// The declaration without its semicolon.
    pub span: Span,
}
