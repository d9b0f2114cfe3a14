//! The narrow passage to the generated parser: what goes in (the tokens of one piece) and what comes out (a
//! tree, or a place and the terminals that could have stood there). No type of the generator leaves it.

use crate::{
    construct::FUNCTION_WORDS,
    lexer::{Token, TokenKind, Value},
    names::Names,
    source::{FileId, Span},
    tree::*,
};
use lalrpop_util::{ParseError, lalrpop_mod};
use std::cell::RefCell;

lalrpop_mod!(
    #[allow(warnings, clippy::all, clippy::pedantic, clippy::unwrap_used, clippy::expect_used)]
    generated,
    "/grammar.rs"
);

/// What a piece of the text is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum PieceKind {
    Statement,
    Variable,
    Type,
    StructureHead,
    StructureTail,
    Unit,
    /// `EXTENDS …` and `IMPLEMENTS …` behind a heading.
    Bases,
    Using,
    Namespace,
    /// `STEP name:`, `INITIAL_STEP name:`, `ACTION name:`.
    PartHead,
    /// An action of a step.
    Association,
    /// From `TRANSITION` to the steps it leads to.
    Transition,
    /// `RESOURCE name ON type`.
    Resource,
    Task,
    /// A program instance.
    Instance,
    /// A line of `VAR_ACCESS`.
    Access,
    /// A line of `VAR_CONFIG`.
    Setting,
    Section,
    /// From `IF`, `ELSIF`, `CASE`, `WHILE` or `UNTIL` to the word behind the expression.
    Condition,
    For,
    Labels,
    Expression,
    Constant,
    Instruction,
    Operand,
}

/// The tree of a piece.
pub(crate) enum Piece {
    Statement(Statement),
    Variable(VariableDeclaration),
    Type(TypeDeclaration),
    StructureHead {
        name: Ident,
        overlap: bool,
    },
    Initial(Option<Initializer>),
    /// No kind for an interface.
    Unit {
        kind: Option<UnitKind>,
        words: Vec<(HeadingWord, Span)>,
        name: Ident,
        result: Option<TypeSpecification>,
    },
    Bases(Bases),
    Using(Vec<QualifiedName>),
    Namespace(QualifiedName),
    Resource {
        name: Ident,
        on: Ident,
    },
    Task {
        name: Ident,
        items: Vec<(Ident, Expression)>,
    },
    Instance(ProgramInstance),
    Access(AccessDeclaration),
    Setting(InstanceDeclaration),
    PartHead(Ident),
    Association {
        action: Ident,
        first: Option<Expression>,
        rest: Vec<Expression>,
    },
    Transition {
        name: Option<Ident>,
        priority: Option<(Ident, Expression)>,
        from: Vec<Ident>,
        to: Vec<Ident>,
    },
    Section {
        kind: SectionKind,
        qualifiers: Vec<(Qualifier, Span)>,
    },
    For {
        variable: Expression,
        from: Expression,
        to: Expression,
        by: Option<Expression>,
    },
    Labels(Vec<CaseLabel>),
    Expression(Expression),
    Instruction(Instruction),
}

/// A word between the keyword of a heading and the name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum HeadingWord {
    Access(Qualifier),
    Modifier(Modifier),
}

/// What a unit extends and implements.
#[derive(Default)]
pub(crate) struct Bases {
    pub extends: Vec<QualifiedName>,
    pub implements: Vec<QualifiedName>,
}

/// An operator of Instruction List as written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Instructed {
    pub operator: InstructionOperator,
    pub negated: bool,
}

/// What the generated parser reads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Terminal {
    Start(PieceKind),
    Lexed(Token),
    Operator(Instructed),
    Jump(Condition),
    Call(Condition),
    Return(Condition),
    /// Place of a list of instructions in [`Context::lists`].
    Instructions(u32),
}

/// A terminal with its place.
pub(crate) type Placed = (u32, Terminal, u32);

/// What the actions of the grammar need.
pub(crate) struct Context<'a> {
    pub file: FileId,
    pub values: &'a [Value],
    /// Names of the keywords that are functions too.
    pub function_names: [u32; FUNCTION_WORDS.len()],
    /// Instruction lists waiting to be taken into a call.
    pub lists: RefCell<Vec<Vec<Instruction>>>,
}

impl<'a> Context<'a> {
    pub(crate) fn new(file: FileId, values: &'a [Value], names: &mut Names) -> Self {
        let function_names = FUNCTION_WORDS.map(|(_, word)| names.intern(word).0);
        Context { file, values, function_names, lists: RefCell::default() }
    }

    pub(crate) fn span(&self, start: u32, end: u32) -> Span {
        Span::new(self.file, start, end)
    }

    pub(crate) fn value(&self, place: u32) -> Option<&'a Value> {
        self.values.get(place as usize)
    }

    pub(crate) fn address(&self, place: u32) -> DirectAddress {
        match self.value(place) {
            Some(Value::Address(address)) => DirectAddress::clone(address),
            // The lexer puts an address behind every token of this kind.
            _ => DirectAddress {
                area: Area::Memory,
                size: AddressSize::Bit,
                path: Vec::new(),
                span: self.span(0, 0),
            },
        }
    }

    pub(crate) fn function_name(&self, word: TokenKind) -> u32 {
        let place = FUNCTION_WORDS.iter().position(|(kind, _)| *kind == word);
        place.and_then(|place| self.function_names.get(place)).copied().unwrap_or_default()
    }

    pub(crate) fn take_list(&self, place: u32) -> Vec<Instruction> {
        self.lists.borrow_mut().get_mut(place as usize).map(std::mem::take).unwrap_or_default()
    }
}

/// Where the parser could not go on, and what could have stood there.
#[derive(Debug)]
pub(crate) struct Failure {
    /// First byte of the terminal that did not fit; `None` at the end of the piece.
    pub at: Option<u32>,
    pub expected: Expected,
}

/// The terminals that could have stood at a place, by their names in the grammar.
#[derive(Debug)]
pub(crate) struct Expected(Vec<String>);

impl Expected {
    /// Whether a terminal, by its text or its name in the grammar, could have stood there.
    pub(crate) fn has(&self, terminal: &str) -> bool {
        self.0.iter().any(|name| name.trim_matches('"') == terminal)
    }

    /// All of them, without quotes.
    pub(crate) fn iter(&self) -> impl Iterator<Item = &str> {
        self.0.iter().map(|name| name.trim_matches('"'))
    }
}

/// The generated parser.
pub(crate) struct PieceParser(generated::PieceParser);

impl PieceParser {
    pub(crate) fn new() -> Self {
        PieceParser(generated::PieceParser::new())
    }

    /// Parses tokens as a piece, with an optional token behind them.
    pub(crate) fn tokens(
        &self,
        context: &Context<'_>,
        kind: PieceKind,
        tokens: &[Token],
        behind: Option<Token>,
    ) -> Result<Box<Piece>, Failure> {
        let start = tokens.first().map_or(0, |token| token.start);
        let first = (start, Terminal::Start(kind), start);
        let rest = tokens.iter().copied().chain(behind);
        let rest = rest.map(|token| (token.start, Terminal::Lexed(token), token.end));
        self.run(context, std::iter::once(first).chain(rest))
    }

    /// Parses terminals as a piece.
    pub(crate) fn terminals(
        &self,
        context: &Context<'_>,
        kind: PieceKind,
        terminals: &[Placed],
    ) -> Result<Box<Piece>, Failure> {
        let start = terminals.first().map_or(0, |terminal| terminal.0);
        let first = (start, Terminal::Start(kind), start);
        self.run(context, std::iter::once(first).chain(terminals.iter().copied()))
    }

    fn run(&self, context: &Context<'_>, input: impl Iterator<Item = Placed>) -> Result<Box<Piece>, Failure> {
        self.0.parse(context, input.map(Ok::<_, u32>)).map_err(|error| match error {
            ParseError::UnrecognizedToken { token, expected } => {
                Failure { at: Some(token.0), expected: Expected(expected) }
            }
            ParseError::UnrecognizedEof { expected, .. } => {
                Failure { at: None, expected: Expected(expected) }
            }
            ParseError::ExtraToken { token } => Failure { at: Some(token.0), expected: Expected(Vec::new()) },
            // The input has no place where the lexer fails; an action fails at the place it names.
            ParseError::InvalidToken { location } | ParseError::User { error: location } => {
                Failure { at: Some(location), expected: Expected(Vec::new()) }
            }
        })
    }
}
