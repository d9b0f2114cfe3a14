//! The syntax tree of a source file, as the grammar of IEC 61131-3:2013 has it, with spans and without types.
//!
//! Names are interned without letter case; what the author wrote is found through the spans. A piece that
//! could not be parsed is left out of the tree (its diagnostic says why), so that later passes only ever
//! see well-formed pieces; [`ProgramUnit::damaged`] tells them that something is missing.

use crate::{
    literal::Literal,
    names::Name,
    source::{FileId, Span},
};

/// An identifier at a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ident {
    /// The interned name.
    pub name: Name,
    /// Where it stands.
    pub span: Span,
}

/// The tree of one file.
#[derive(Clone, Debug, Default)]
pub struct SyntaxTree {
    /// The file.
    pub file: FileId,
    /// Declarations in textual order.
    pub declarations: Vec<Declaration>,
    /// Every comment and pragma in textual order (the side table for a formatter).
    pub trivia: Vec<Trivia>,
}

/// A comment or pragma.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Trivia {
    /// Which form.
    pub kind: TriviaKind,
    /// Delimiters included.
    pub span: Span,
}

/// The forms of comments (table 3) and the pragma (table 4).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TriviaKind {
    /// `// …` to the end of the line.
    LineComment,
    /// `(* … *)` or `/* … */`.
    BlockComment,
    /// `{ … }`.
    Pragma,
}

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
    /// A user type or function block type by name.
    Named(Ident),
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

/// A statement of Structured Text (table 72).
#[derive(Clone, Debug)]
pub struct Statement {
    /// Which one.
    pub kind: StatementKind,
    /// Without its semicolon.
    pub span: Span,
}

/// The statements of Structured Text.
#[derive(Clone, Debug)]
pub enum StatementKind {
    /// `;`
    Empty,
    /// `target := value` or, for references and interfaces, `target ?= value`.
    Assignment {
        /// What is written.
        target: Expression,
        /// `?=`.
        attempt: bool,
        /// The place of the operator.
        operator: Span,
        /// The value.
        value: Expression,
    },
    /// A call as a statement.
    Call(Call),
    /// An expression where a statement is expected, such as `a = b;` or `Motor;`. Never right; the checker
    /// says what was probably meant.
    Expression(Expression),
    /// `RETURN`
    Return,
    /// `IF … END_IF`
    If {
        /// Conditions with their statements: `IF`, then each `ELSIF`.
        branches: Vec<(Expression, Vec<Statement>)>,
        /// `ELSE`.
        otherwise: Option<Vec<Statement>>,
    },
    /// `CASE … END_CASE`
    Case {
        /// The selector.
        selector: Expression,
        /// The groups in order.
        groups: Vec<CaseGroup>,
        /// `ELSE`.
        otherwise: Option<Vec<Statement>>,
    },
    /// `FOR … END_FOR`
    For {
        /// Control variable, as written.
        variable: Expression,
        /// Initial value.
        from: Expression,
        /// Final value.
        to: Expression,
        /// `BY`.
        by: Option<Expression>,
        /// Body.
        body: Vec<Statement>,
    },
    /// `WHILE … END_WHILE`
    While {
        /// Tested before each pass.
        condition: Expression,
        /// Body.
        body: Vec<Statement>,
    },
    /// `REPEAT … END_REPEAT`
    Repeat {
        /// Body.
        body: Vec<Statement>,
        /// Tested after each pass.
        until: Expression,
    },
    /// `EXIT`
    Exit,
    /// `CONTINUE`
    Continue,
}

/// `labels : statements` of a `CASE`.
#[derive(Clone, Debug)]
pub struct CaseGroup {
    /// The labels.
    pub labels: Vec<CaseLabel>,
    /// The statements.
    pub statements: Vec<Statement>,
}

/// One label of a case group.
#[derive(Clone, Debug)]
pub struct CaseLabel {
    /// The value, or the lower end of a range.
    pub first: Expression,
    /// The upper end of a range.
    pub last: Option<Expression>,
}

/// An expression.
#[derive(Clone, Debug)]
pub struct Expression {
    /// Which form.
    pub kind: ExpressionKind,
    /// Where.
    pub span: Span,
}

/// The forms of expressions (table 71) and variable accesses.
#[derive(Clone, Debug)]
pub enum ExpressionKind {
    /// A literal without a type prefix, or one whose prefix is part of its form (`T#1s`, `D#2024-02-29`).
    Literal(Literal),
    /// `INT#-5`, `REAL#1.5`, `STRING#'x'`, `BOOL#1`: an elementary prefix.
    TypedLiteral {
        /// The type in front of `#`; strings as [`TypePrefix::String`].
        prefix: TypePrefix,
        /// Sign after the `#`.
        negative: bool,
        /// The value.
        literal: Literal,
    },
    /// `Type#Value`, `Type#5`: a user type in front of `#`.
    QualifiedValue {
        /// The type.
        type_name: Ident,
        /// The value: an identifier or a literal.
        value: Box<Expression>,
    },
    /// A name: variable, enumeration value, function result.
    Name(Name),
    /// `%IX0.0` as a variable.
    Direct(DirectAddress),
    /// `base.member`.
    Member {
        /// What is accessed.
        base: Box<Expression>,
        /// The member.
        member: Ident,
    },
    /// `base[i, j]`.
    Index {
        /// The array or string.
        base: Box<Expression>,
        /// The subscripts.
        subscripts: Vec<Expression>,
    },
    /// `base^`.
    Dereference(Box<Expression>),
    /// `base.%X3`, `base.%B1`, `base.7` (table 17).
    Partial {
        /// What is accessed.
        base: Box<Expression>,
        /// Size of the part.
        size: AddressSize,
        /// Its number, 0 the least significant.
        index: u32,
        /// The access without its base.
        access: Span,
    },
    /// An operator with one operand.
    Unary {
        /// The operator.
        operator: UnaryOperator,
        /// Its place.
        operator_span: Span,
        /// The operand.
        operand: Box<Expression>,
    },
    /// An operator with two operands.
    Binary {
        /// The operator.
        operator: BinaryOperator,
        /// Its place.
        operator_span: Span,
        /// Left operand.
        left: Box<Expression>,
        /// Right operand.
        right: Box<Expression>,
    },
    /// `( e )`: kept, for warnings about mixed operators and for the formatter.
    Parenthesized(Box<Expression>),
    /// A call with a value.
    Call(Box<Call>),
    /// `THIS`
    This,
    /// `SUPER`
    Super,
    /// `NULL`
    Null,
}

/// The elementary type in front of the `#` of a literal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum TypePrefix {
    /// Any type but the strings.
    Elementary(ElementaryType),
    /// `STRING#` or `WSTRING#`.
    String {
        /// `WSTRING#`.
        wide: bool,
    },
}

/// Operators with one operand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs, reason = "table 71 names them")]
pub enum UnaryOperator {
    Negate,
    Plus,
    Not,
}

/// Operators with two operands, highest precedence first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs, reason = "table 71 names them")]
pub enum BinaryOperator {
    Power,
    Multiply,
    Divide,
    Modulo,
    Add,
    Subtract,
    Less,
    Greater,
    LessOrEqual,
    GreaterOrEqual,
    Equal,
    NotEqual,
    And,
    Xor,
    Or,
}

/// `callee(arguments)`.
#[derive(Clone, Debug)]
pub struct Call {
    /// What is called: a name, a member (`obj.method`), an element of an array of instances.
    pub callee: Expression,
    /// The arguments in textual order.
    pub arguments: Vec<Argument>,
    /// From the callee to the closing parenthesis.
    pub span: Span,
}

/// One argument of a call.
#[derive(Clone, Debug)]
pub struct Argument {
    /// Which form.
    pub kind: ArgumentKind,
    /// Where.
    pub span: Span,
}

/// The forms of arguments (table 20, table 69).
#[derive(Clone, Debug)]
pub enum ArgumentKind {
    /// `value`
    Positional(Expression),
    /// `name := value`
    Input {
        /// The parameter.
        name: Ident,
        /// The value.
        value: Expression,
    },
    /// `name := ( instructions )` of Instruction List.
    InputInstructions {
        /// The parameter.
        name: Ident,
        /// Their last current result is the value.
        instructions: Vec<Instruction>,
    },
    /// `name => target` or `NOT name => target`
    Output {
        /// The parameter.
        name: Ident,
        /// `NOT`.
        negated: bool,
        /// Where the value goes.
        target: Expression,
    },
}

/// One line of Instruction List.
#[derive(Clone, Debug)]
pub struct Instruction {
    /// `label:`
    pub label: Option<Ident>,
    /// What it does; `None` for a line with only a label.
    pub operation: Option<Operation>,
    /// The line without comment.
    pub span: Span,
}

/// The operation of an instruction (tables 67 to 70).
#[derive(Clone, Debug)]
pub enum Operation {
    /// `LD a`, `STN b`, `NOT`, `ADD b, c`: an operator of table 68 without parentheses.
    Operator {
        /// The operator.
        operator: InstructionOperator,
        /// Modifier `N`.
        negated: bool,
        /// The operator with its modifiers.
        operator_span: Span,
        /// The operands.
        operands: Vec<Expression>,
    },
    /// `AND( … )`: a deferred operation (table 67).
    Deferred {
        /// The operator.
        operator: InstructionOperator,
        /// Modifier `N`.
        negated: bool,
        /// The operator with its modifiers.
        operator_span: Span,
        /// Operand behind the parenthesis on the same line: the short form.
        first: Option<Expression>,
        /// The instructions inside.
        body: Vec<Instruction>,
    },
    /// `JMP`, `JMPC`, `JMPCN`
    Jump {
        /// When.
        condition: Condition,
        /// The operator.
        operator_span: Span,
        /// Where to.
        label: Ident,
    },
    /// `CAL`, `CALC`, `CALCN`
    Call {
        /// When.
        condition: Condition,
        /// The operator.
        operator_span: Span,
        /// The instance or method with its arguments (none for `CAL inst`).
        call: Call,
    },
    /// `RET`, `RETC`, `RETCN`
    Return {
        /// When.
        condition: Condition,
        /// The operator.
        operator_span: Span,
    },
    /// A function by its name, or an input operator of a standard function block (`CU c10`).
    Function {
        /// The name.
        name: Ident,
        /// `F( … )`: all arguments listed, the current result is no argument. Otherwise `F b, c` and the
        /// current result is the first.
        listed: bool,
        /// The arguments written.
        arguments: Vec<Argument>,
    },
}

/// The condition of a jump, call or return: modifiers `C` and `CN`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Condition {
    /// Always.
    Always,
    /// `C`: if the current result is TRUE.
    IfTrue,
    /// `CN`: if the current result is FALSE.
    IfFalse,
}

/// Operators of table 68 that take operands (jumps, calls and returns have forms of their own).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs, reason = "table 68 names them")]
pub enum InstructionOperator {
    Load,
    Store,
    Set,
    Reset,
    And,
    Or,
    Xor,
    Not,
    Add,
    Subtract,
    Multiply,
    Divide,
    Modulo,
    Greater,
    GreaterOrEqual,
    Equal,
    NotEqual,
    LessOrEqual,
    Less,
    /// `ST?`
    StoreAttempt,
}
