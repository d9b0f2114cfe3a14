//! The typed tree: both text languages meet here, names are resolved, every expression has its type, every
//! implicit conversion of the standard is written out, and nothing is left that needs checking.
//!
//! Only a program without errors is lowered. The tree is kept simple for the lowering: labels and jumps
//! (from Instruction List) stand beside the structured statements, and the current result of Instruction
//! List has become ordinary temporary variables.

pub(crate) mod accesses;
mod call;
mod configuration;
mod object;
pub(crate) mod walk;

pub use self::{call::*, object::*};

use latchwork_grammar::{
    Name, Span,
    tree::{AddressSize, DirectAddress, Edge, SectionKind, UnitKind},
};
use latchwork_stdlib::FunctionDefinition;
use latchwork_vm::{ElementaryType, EventKind};

use crate::types::{TypeId, Types, UnitId};

pub use configuration::{
    AccessVariable, InstancePlace, InstanceValue, PathTarget, Single, Stub, TaskRun, TaskedBlock,
    TypedConfiguration, TypedResource, TypedTask,
};

/// A checked program.
#[derive(Clone, Debug, Default)]
pub struct TypedProgram {
    /// All types.
    pub types: Types,
    /// All units, in textual order over the files; [`UnitId`] is the index.
    pub units: Vec<TypedUnit>,
    /// Variables of `VAR_GLOBAL` sections at file level and in configurations and resources, then what the
    /// checker has made for program instances.
    pub globals: Vec<Variable>,
    /// The configuration, if there is one; else every program has one instance, and one task runs them all.
    pub configuration: Option<TypedConfiguration>,
    /// The method calls whose target depends on the instance.
    pub dispatch: Vec<Dispatch>,
    /// The questions of `?=`: the units whose instances fit.
    pub fits: Vec<Vec<UnitId>>,
}

/// A checked program organization unit.
#[derive(Clone, Debug)]
pub struct TypedUnit {
    /// Its name.
    pub name: Name,
    /// Program, function block, function, class or method.
    pub kind: UnitKind,
    /// What it has to do with classes, methods and inheritance.
    pub object: ObjectPart,
    /// All its variables: those of the base in the same order, declared ones in textual order, then the result
    /// of a function (named like it), then temporaries of Instruction List.
    pub variables: Vec<Variable>,
    /// The result variable of a function or method.
    pub result: Option<VariableId>,
    /// The body.
    pub body: Vec<Statement>,
    /// Number of labels used in the body.
    pub labels: u32,
    /// The body may use directly represented variables without a declaration ([`Root::Direct`]).
    pub may_use_addresses: bool,
    /// The name in the heading.
    pub span: Span,
}

/// A variable of a unit by its index in [`TypedUnit::variables`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct VariableId(pub u32);

/// A variable of [`TypedProgram::globals`] by its index.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct GlobalId(pub u32);

/// A declared variable.
#[derive(Clone, Debug)]
pub struct Variable {
    /// Its name; `None` for a located variable without one (`AT %QW3 : INT;`).
    pub name: Option<Name>,
    /// Its type.
    pub kind: TypeId,
    /// The section it was declared in.
    pub section: SectionKind,
    /// `CONSTANT`.
    pub constant: bool,
    /// `RETAIN`.
    pub retain: bool,
    /// `R_EDGE`, `F_EDGE`.
    pub edge: Option<Edge>,
    /// `AT`.
    pub location: Option<Box<DirectAddress>>,
    /// Its initial value where one was written, already of the variable's type.
    pub initial: Option<InitialValue>,
    /// For `VAR_EXTERNAL`: the global.
    pub global: Option<GlobalId>,
    /// Made by the compiler (a current result, for example): not shown to the user. In the section VAR of a
    /// program or function block it is a part of the instance and kept from scan to scan; otherwise it lives in
    /// the frame and holds a value for the rest of the scan.
    pub hidden: bool,
    /// The name in the declaration.
    pub span: Span,
}

impl Variable {
    /// A variable without qualifiers, place and initial value.
    pub(crate) fn plain(name: Option<Name>, kind: TypeId, section: SectionKind, span: Span) -> Self {
        Variable {
            name,
            kind,
            section,
            constant: false,
            retain: false,
            edge: None,
            location: None,
            initial: None,
            global: None,
            hidden: false,
            span,
        }
    }
}

/// A value known at compile time.
#[derive(Clone, Debug, PartialEq)]
pub enum Constant {
    /// BOOL.
    Bool(bool),
    /// Integers, bit strings, characters, enumerations, named values.
    Integer(i128),
    /// REAL, already rounded to it.
    Real(f32),
    /// LREAL.
    Lreal(f64),
    /// All durations and dates, in nanoseconds.
    Time(i64),
    /// STRING.
    String(Vec<u8>),
    /// WSTRING.
    WideString(Vec<u16>),
    /// NULL.
    Null,
}

/// The initial value of a variable or the default of a type. What is left out has the default of its type.
#[derive(Clone, Debug)]
pub enum InitialValue {
    /// An elementary value.
    Constant(Constant),
    /// Values of an array, flat, rightmost subscript fastest; `None` for an element left at its default.
    Array(Vec<Option<InitialValue>>),
    /// Members of a structure, or variables of a function block instance, by index.
    Members(Vec<(u32, InitialValue)>),
    /// `REF(variable)`: a variable of the unit whose declaration holds the value, or a global. Its steps are
    /// members and constant subscripts.
    Reference(Box<Access>),
}

/// A statement.
#[derive(Clone, Debug)]
pub struct Statement {
    /// Which one.
    pub kind: StatementKind,
    /// The source it came from: the statement, or the instruction.
    pub span: Span,
}

/// The statements of the typed tree.
#[derive(Clone, Debug)]
pub enum StatementKind {
    /// `target := value`; the value has exactly the target's representation. The value is evaluated first,
    /// then the subscripts of the target, then it is stored.
    Assign {
        /// What is written.
        target: Access,
        /// The value.
        value: Expression,
    },
    /// Call of a function block instance: all inputs are evaluated, then stored, then the body runs, then
    /// the outputs are copied.
    CallBlock(Box<BlockCall>),
    /// A function called for its effects; its result, if it has one, is dropped.
    Evaluate(Expression),
    /// Branches in order, then the alternative.
    If {
        /// Conditions with statements.
        branches: Vec<(Expression, Vec<Statement>)>,
        /// `ELSE`.
        otherwise: Vec<Statement>,
    },
    /// The first group with a matching label; no label is in two groups.
    Case {
        /// An integer, bit string, character or enumeration.
        selector: Box<Expression>,
        /// Inclusive ranges with statements.
        groups: Vec<CaseGroup>,
        /// `ELSE`.
        otherwise: Vec<Statement>,
    },
    /// Counted loop with the exact rules of the standard: bounds and step evaluated once, ends when the
    /// control variable would leave its type.
    For {
        /// A plain variable of an integer type.
        variable: Access,
        /// Initial value, of the variable's type.
        from: Box<Expression>,
        /// Final value, of the variable's type.
        to: Box<Expression>,
        /// Step, of the variable's type.
        by: Box<Expression>,
        /// Body.
        body: Vec<Statement>,
    },
    /// Tested before each pass.
    While {
        /// BOOL.
        condition: Expression,
        /// Body.
        body: Vec<Statement>,
    },
    /// Tested after each pass, ends when TRUE.
    Repeat {
        /// Body.
        body: Vec<Statement>,
        /// BOOL.
        until: Expression,
    },
    /// Leaves the innermost loop.
    Exit,
    /// Next pass of the innermost loop.
    Continue,
    /// Leaves the unit.
    Return,
    /// A place to jump to; numbered from 0 within the unit.
    Label(u32),
    /// A jump, always or if the condition has the wanted value.
    Jump {
        /// The label.
        label: u32,
        /// Condition (BOOL) and the value it must have.
        condition: Option<(Expression, bool)>,
    },
    /// Records an event at this place.
    Event(EventKind),
    /// Does nothing: what an image that observes itself must know here. Only there with
    /// [`crate::CompileOptions::coverage`] or [`crate::CompileOptions::journal`].
    Observe(Observation),
}

/// What is to be known of the text for measuring coverage and for telling reasons.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Observation {
    /// A statement or an instruction of the text begins; the span of the statement is its place.
    Statement,
    /// A group of CASE begins, at its labels; first in its statements.
    Labels,
    /// What follows was written by the user: `true`, as at the start of a body; or made by the compiler.
    Written(bool),
    /// What the next statement stores is the condition of a transition.
    Transition,
}

/// Inclusive ranges of label values, and the statements for them.
pub type CaseGroup = (Vec<(i128, i128)>, Vec<Statement>);

/// An expression with its type.
#[derive(Clone, Debug)]
pub struct Expression {
    /// Which form.
    pub kind: ExpressionKind,
    /// Its type; never an untyped literal.
    pub ty: TypeId,
    /// Its source.
    pub span: Span,
}

// A large program holds millions of them until they are lowered.
#[cfg(target_pointer_width = "64")]
const _: () = assert!(size_of::<Expression>() == 64 && size_of::<Statement>() == 128);

/// The forms of typed expressions.
#[derive(Clone, Debug)]
pub enum ExpressionKind {
    /// A known value of the expression's type.
    Constant(Constant),
    /// The value of a variable or a part of one.
    Access(Access),
    /// A value-keeping implicit conversion to the expression's type (elementary scalars, CHAR to STRING,
    /// STRING of another capacity), or into and out of derived types, which changes nothing.
    Convert(Box<Expression>),
    /// A value of a subrange's base type brought into a subrange: checked at run time.
    CheckRange(Box<Expression>),
    /// A standard function or operator. All generic operands have been brought to [`Self::Standard::on`].
    Standard {
        /// The row of the library.
        function: &'static FunctionDefinition,
        /// The elementary type the function works on (its generic type; for conversions the source type);
        /// `None` when the operands are enumerations, structures or references (MOVE, SEL, EQ…).
        on: Option<ElementaryType>,
        /// The operands in parameter order, none left out.
        arguments: Vec<Expression>,
    },
    /// A function or method written by the user.
    Function(Box<FunctionCall>),
    /// `REF(variable)`, or an instance that becomes the value of an interface variable.
    Reference(Box<Access>),
    /// The time of the scan, as a TIME: the same for everything in it.
    ScanTime,
    /// A standard function with outputs and no result; only as a statement.
    Outputs(Box<OutputsCall>),
    /// A standard function called with EN or ENO.
    Controlled(Box<ControlledCall>),
    /// `LOWER_BOUND`, `UPPER_BOUND`.
    Bound(Box<ArrayBound>),
    /// The value of `?=`: the address if its instance is one of [`TypedProgram::fits`], else NULL.
    Attempt {
        /// A reference or interface.
        value: Box<Expression>,
        /// Index in [`TypedProgram::fits`].
        fits: u32,
    },
}

/// A bound of an array, of type DINT.
#[derive(Clone, Debug)]
pub struct ArrayBound {
    /// The parameter whose bounds are known at run time, or the bounds.
    pub array: BoundedArray,
    /// `UPPER_BOUND`.
    pub upper: bool,
    /// The dimension, counted from 1; an integer type.
    pub dimension: Expression,
}

/// An array whose bounds are asked for.
#[derive(Clone, Debug)]
pub enum BoundedArray {
    /// A parameter `ARRAY [*]` with so many dimensions.
    Open(VariableId, u8),
    /// An array with these bounds.
    Fixed(Vec<(i64, i64)>),
}

/// A variable or a part of one, read or written.
#[derive(Clone, Debug)]
pub struct Access {
    /// Where it starts.
    pub root: Root,
    /// The way from there.
    pub steps: Box<[Step]>,
    /// Type of what is reached.
    pub ty: TypeId,
    /// Its source.
    pub span: Span,
}

impl Access {
    /// All of a variable.
    pub(crate) fn whole(root: Root, ty: TypeId, span: Span) -> Self {
        Access { root, steps: Box::default(), ty, span }
    }

    /// A member of a variable.
    pub(crate) fn member(root: Root, index: u32, ty: TypeId, span: Span) -> Self {
        Access { root, steps: Box::new([Step::Member(index)]), ty, span }
    }
}

/// The variable an access starts from.
#[derive(Clone, Debug, PartialEq)]
pub enum Root {
    /// A variable of the unit (in-out variables and externals are followed by the lowering).
    Variable(VariableId),
    /// The instance a method belongs to, or that a body runs for.
    This,
    /// A global, through its address only (`%IX0.0` of a nameless or global declaration).
    Global(GlobalId),
    /// A directly represented variable used without a declaration (in programs).
    Direct(Box<DirectAddress>),
}

/// One step of an access.
#[derive(Clone, Debug)]
pub enum Step {
    /// Member of a structure by index; variable of a function block instance by index; member of a standard
    /// block by index.
    Member(u32),
    /// Element of an array: one subscript a dimension, each of an integer type.
    Index(Vec<Expression>),
    /// Character of a string, counted from 1; an integer type.
    Character(Box<Expression>),
    /// What a reference points to.
    Dereference,
    /// Part of a bit string; always the last step.
    Partial {
        /// Size of the part.
        size: AddressSize,
        /// Its number from the least significant end.
        index: u32,
    },
}
