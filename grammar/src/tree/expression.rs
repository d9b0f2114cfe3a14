//! Expressions, variable accesses and calls (IEC 61131-3:2013, tables 17, 20, 42, 69 and 71).

use super::{AddressSize, DirectAddress, ElementaryType, Ident, Instruction, QualifiedName};
use crate::{literal::Literal, names::Name, source::Span};

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
        type_name: Box<QualifiedName>,
        /// The value: an identifier or a literal.
        value: Box<Expression>,
    },
    /// A name: variable, enumeration value, function result.
    Name(Name),
    /// `%IX0.0` as a variable.
    Direct(Box<DirectAddress>),
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
        subscripts: Box<[Expression]>,
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
