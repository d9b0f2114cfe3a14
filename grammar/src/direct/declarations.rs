//! Declarations of variables and the headings of their sections (tables 11 to 14). Structures, subranges and
//! enumerations are left to the grammar.

use super::Reader;
use crate::{
    construct,
    lexer::TokenKind,
    source::Span,
    tree::{
        ArrayDimension, ArrayInitialElement, DirectAddress, Edge, Expression, Ident, Initializer,
        QualifiedName, Qualifier, SectionKind, TypeSpecification, TypeSpecificationKind, VariableDeclaration,
    },
};

impl Reader<'_> {
    /// The heading of a section: all the tokens there are.
    pub(crate) fn section(&mut self) -> Option<(SectionKind, Vec<(Qualifier, Span)>)> {
        use TokenKind as T;
        let kind = match self.next()?.kind {
            T::Var => SectionKind::Var,
            T::VarInput => SectionKind::Input,
            T::VarOutput => SectionKind::Output,
            T::VarInOut => SectionKind::InOut,
            T::VarTemp => SectionKind::Temp,
            T::VarExternal => SectionKind::External,
            T::VarGlobal => SectionKind::Global,
            _ => return None,
        };
        let mut qualifiers = Vec::new();
        while let Some(token) = self.next() {
            let qualifier = match token.kind {
                T::Constant => Qualifier::Constant,
                T::Retain => Qualifier::Retain,
                T::NonRetain => Qualifier::NonRetain,
                T::Public => Qualifier::Public,
                T::Private => Qualifier::Private,
                T::Protected => Qualifier::Protected,
                T::Internal => Qualifier::Internal,
                _ => return None,
            };
            qualifiers.push((qualifier, self.context.span(token.start, token.end)));
        }
        Some((kind, qualifiers))
    }

    /// The declaration of variables by name, with its semicolon.
    pub(crate) fn variable(&mut self) -> Option<VariableDeclaration> {
        use TokenKind as T;
        let start = self.start();
        let names = self.list(Self::ident)?;
        let location = if self.skip(T::At) { Some(self.address()?) } else { None };
        self.take(T::Colon)?;
        let specification = self.specification()?;
        let edge = match self.kind() {
            T::RisingEdge => Some(Edge::Rising),
            T::FallingEdge => Some(Edge::Falling),
            _ => None,
        };
        let edge = match edge {
            Some(edge) => self.next().map(|word| (edge, self.context.span(word.start, word.end))),
            None => None,
        };
        let initial = if self.skip(T::Assign) { Some(self.initializer()?) } else { None };
        let span = self.context.span(start, self.end());
        self.take(T::Semicolon)?;
        Some(VariableDeclaration { names, location, relative: None, specification, edge, initial, span })
    }

    fn address(&mut self) -> Option<Box<DirectAddress>> {
        let token = self.take(TokenKind::DirectAddress)?;
        Some(Box::new(self.context.address(token.payload)))
    }

    fn specification(&mut self) -> Option<TypeSpecification> {
        use TokenKind as T;
        let start = self.start();
        let kind = match self.kind() {
            T::ElementaryType => construct::elementary(self.next()?.payload),
            T::Identifier => TypeSpecificationKind::Named(self.qualified_name()?),
            T::String | T::Wstring => {
                let wide = self.next()?.kind == T::Wstring;
                TypeSpecificationKind::String { wide, length: self.length()? }
            }
            T::Array => {
                self.read += 1;
                self.take(T::BracketOpen)?;
                let dimensions = self.list(Self::dimension)?;
                self.take(T::BracketClose)?;
                self.take(T::Of)?;
                TypeSpecificationKind::Array { dimensions, element: Box::new(self.specification()?) }
            }
            T::RefTo => {
                self.read += 1;
                TypeSpecificationKind::Reference(Box::new(self.specification()?))
            }
            _ => return None,
        };
        Some(TypeSpecification { kind, span: self.context.span(start, self.end()) })
    }

    fn qualified_name(&mut self) -> Option<QualifiedName> {
        let mut name = QualifiedName::plain(self.ident()?);
        while self.skip(TokenKind::Dot) {
            name = construct::inside(name, self.ident()?);
        }
        Some(name)
    }

    /// The length of a string in brackets, if it stands here.
    #[allow(
        clippy::option_option,
        reason = "nothing for the grammar to look at, and no length, are two things"
    )]
    fn length(&mut self) -> Option<Option<Box<Expression>>> {
        if !self.skip(TokenKind::BracketOpen) {
            return Some(None);
        }
        let length = self.expression()?;
        self.take(TokenKind::BracketClose)?;
        Some(Some(Box::new(length)))
    }

    fn dimension(&mut self) -> Option<ArrayDimension> {
        if let Some(star) = self.take(TokenKind::Star) {
            return Some(ArrayDimension::Open(self.context.span(star.start, star.end)));
        }
        let lower = self.expression()?;
        self.take(TokenKind::DotDot)?;
        Some(ArrayDimension::Bounds { lower, upper: self.expression()? })
    }

    fn initializer(&mut self) -> Option<Initializer> {
        use TokenKind as T;
        let start = self.start();
        match self.kind() {
            T::BracketOpen => {
                self.read += 1;
                let elements = self.list(Self::element)?;
                let close = self.take(T::BracketClose)?;
                Some(Initializer::Array { elements, span: self.context.span(start, close.end) })
            }
            T::ParenthesisOpen if self.kind_ahead(2) == T::Assign => {
                self.read += 1;
                let members = self.list(Self::member_initial)?;
                let close = self.take(T::ParenthesisClose)?;
                Some(Initializer::Structure { members, span: self.context.span(start, close.end) })
            }
            _ => Some(Initializer::Expression(self.expression()?)),
        }
    }

    fn member_initial(&mut self) -> Option<(Ident, Initializer)> {
        let name = self.ident()?;
        self.take(TokenKind::Assign)?;
        Some((name, self.initializer()?))
    }

    /// `value`, or `count(value, …)`.
    fn element(&mut self) -> Option<ArrayInitialElement> {
        use TokenKind as T;
        if self.kind() != T::IntegerLiteral || self.kind_ahead(1) != T::ParenthesisOpen {
            return Some(ArrayInitialElement { repetition: None, values: vec![self.initializer()?] });
        }
        let count = self.next()?;
        let repetition = construct::literal(self.context, count.start, count.payload, count.end);
        self.read += 1;
        let values = match self.kind() {
            T::ParenthesisClose => Vec::new(),
            _ => self.list(Self::initializer)?,
        };
        self.take(T::ParenthesisClose)?;
        Some(ArrayInitialElement { repetition: Some(repetition), values })
    }
}
