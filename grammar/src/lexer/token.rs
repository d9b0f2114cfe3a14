//! Tokens: what kind, where, and whether a line begins with them.

use crate::{
    literal::Literal,
    source::{FileId, Span},
    tree::{AddressSize, DirectAddress, TypePrefix},
};

/// One token of the text. Comments and pragmas are no tokens; see [`super::Lexed::trivia`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Token {
    /// Which.
    pub kind: TokenKind,
    /// Only white space and comments stand before it on its line. A line end inside a comment does not
    /// count, so that an instruction of Instruction List goes on behind such a comment.
    pub first_on_line: bool,
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
    /// Name of an identifier, place of a literal in the side table, place of a keyword in the keyword table
    /// or, once blocks are paired, the end of the block that a keyword opens.
    pub(crate) payload: u32,
}

impl Token {
    /// Its place.
    pub fn span(self, file: FileId) -> Span {
        Span::new(file, self.start, self.end)
    }
}

/// What the side table holds for a literal or an address.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Value {
    Plain(Literal),
    Typed {
        prefix: TypePrefix,
        negative: bool,
        literal: Literal,
    },
    Address(Box<DirectAddress>),
    /// `%X3`, or `%X3.0` as the place of a member.
    Partial {
        size: AddressSize,
        index: u32,
        bit: Option<u32>,
    },
}

/// The kinds of tokens.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[allow(missing_docs, reason = "keywords and delimiters are named after what is written")]
#[repr(u8)]
pub enum TokenKind {
    Identifier,
    /// `Type#` in front of a value of a user type.
    TypeQualifier,
    IntegerLiteral,
    RealLiteral,
    StringLiteral,
    /// Durations, dates, times of day.
    TimeLiteral,
    /// `INT#5`, `BOOL#TRUE`, `CHAR#'x'`.
    TypedLiteral,
    /// `%IX0.1`
    DirectAddress,
    /// `%X3` as it follows a point; `%B2` and `%X3.0` as the place of a member of a structure.
    PartialAccess,
    /// Something that could not be read and has been reported; it swallowed text up to the line end.
    Unreadable,

    ParenthesisOpen,
    ParenthesisClose,
    BracketOpen,
    BracketClose,
    Comma,
    Semicolon,
    Colon,
    Dot,
    DotDot,
    Assign,
    Output,
    Attempt,
    Caret,
    Plus,
    Minus,
    Star,
    Slash,
    Power,
    Ampersand,
    Less,
    LessOrEqual,
    Greater,
    GreaterOrEqual,
    Equal,
    NotEqual,
    Question,
    Hash,

    Program,
    EndProgram,
    Function,
    EndFunction,
    FunctionBlock,
    EndFunctionBlock,
    Class,
    EndClass,
    Method,
    EndMethod,
    Interface,
    EndInterface,
    Namespace,
    EndNamespace,
    Using,
    Type,
    EndType,
    Struct,
    EndStruct,
    Configuration,
    EndConfiguration,
    Resource,
    EndResource,
    Var,
    VarInput,
    VarOutput,
    VarInOut,
    VarTemp,
    VarExternal,
    VarGlobal,
    VarAccess,
    VarConfig,
    EndVar,
    Constant,
    Retain,
    NonRetain,
    At,
    Of,
    Array,
    RisingEdge,
    FallingEdge,
    ReadOnly,
    ReadWrite,
    Overlap,
    Extends,
    Implements,
    Abstract,
    Final,
    Override,
    Public,
    Private,
    Protected,
    Internal,
    This,
    Super,
    RefTo,
    Ref,
    Null,
    If,
    Then,
    Elsif,
    Else,
    EndIf,
    Case,
    EndCase,
    For,
    To,
    By,
    Do,
    EndFor,
    While,
    EndWhile,
    Repeat,
    Until,
    EndRepeat,
    Exit,
    Continue,
    Return,
    And,
    Or,
    Xor,
    Not,
    Mod,
    True,
    False,
    Step,
    InitialStep,
    EndStep,
    Transition,
    EndTransition,
    From,
    Action,
    EndAction,
    Task,
    With,
    On,
    /// `PROGRAM` in a configuration, where it is no unit but an instance; the parser tells the two apart.
    ProgramInstance,
    /// An elementary type but the strings.
    ElementaryType,
    String,
    Wstring,
    /// `ANY_INT` and the like.
    GenericType,

    /// Behind the last token.
    EndOfFile,
}

impl TokenKind {
    /// Whether it is a reserved word.
    pub fn is_keyword(self) -> bool {
        self >= TokenKind::Program && self <= TokenKind::GenericType
    }

    /// Whether it is a literal of any form.
    pub fn is_literal(self) -> bool {
        use TokenKind as T;
        matches!(
            self,
            T::IntegerLiteral
                | T::RealLiteral
                | T::StringLiteral
                | T::TimeLiteral
                | T::TypedLiteral
                | T::True
                | T::False
                | T::Null
        )
    }

    /// Whether an operand can end with it.
    pub(crate) fn ends_operand(self) -> bool {
        use TokenKind as T;
        self.is_literal()
            || matches!(
                self,
                T::Identifier
                    | T::DirectAddress
                    | T::PartialAccess
                    | T::ParenthesisClose
                    | T::BracketClose
                    | T::Caret
                    | T::This
                    | T::Super
            )
    }
}
