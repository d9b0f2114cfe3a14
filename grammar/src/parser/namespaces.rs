//! The file level and namespaces (6.9, tables 64 to 66): what stands side by side in a file or between `NAMESPACE`
//! and `END_NAMESPACE`. Names are not looked up here.

use super::{
    NESTING_MAX, Parser, Said,
    cut::{self, Cut},
    wording::with_article,
};
use crate::{
    diagnostic::Diagnostic,
    lexer::TokenKind,
    piece::{Piece, PieceKind},
    source::Span,
    tree::{Declaration, Namespace, QualifiedName},
};

/// Where declarations stand.
#[derive(Clone, Copy)]
struct Place {
    /// Where they end.
    limit: usize,
    /// `NAMESPACE` around them.
    around: Option<usize>,
    /// How many namespaces are around them.
    depth: usize,
}

impl Parser<'_> {
    /// All declarations of the file.
    pub(super) fn declarations(&mut self) -> Vec<Declaration> {
        self.declarations_in(0, Place { limit: self.tokens.len(), around: None, depth: 0 })
    }

    fn declarations_in(&mut self, start: usize, place: Place) -> Vec<Declaration> {
        use TokenKind as T;
        let limit = place.limit;
        let mut declarations = Vec::new();
        let mut index = start;
        while index < limit {
            let too_deep = place.depth > 0 && self.said.contains(&Said::TooDeep);
            self.said.clear();
            if too_deep {
                self.said.insert(Said::TooDeep);
            }
            index = match self.kind(index) {
                T::Program | T::Configuration | T::VarGlobal if place.around.is_some() => {
                    self.misplaced_in_namespace(index, place)
                }
                T::Program | T::Function | T::FunctionBlock | T::Class | T::Interface => {
                    self.unit(index, limit, &mut declarations)
                }
                T::Type => {
                    let (section, next) = self.type_section(index);
                    declarations.push(Declaration::Types(section));
                    next
                }
                T::VarGlobal => {
                    let (section, next) = self.variable_section(index, limit);
                    declarations.extend(section.map(Declaration::Globals));
                    next
                }
                T::Configuration => {
                    let (configuration, next) = self.configuration(index, limit);
                    declarations.extend(configuration.map(Declaration::Configuration));
                    next
                }
                T::Namespace => self.namespace(index, place, &mut declarations),
                T::Using => self.using_among_declarations(index, place, &mut declarations),
                T::Semicolon if index > 0 => self.semicolon_after_end(index),
                _ => match self.word_before_keyword(index, limit) {
                    Some(keyword) => keyword,
                    None => self.outside_unit(index, limit),
                },
            };
        }
        declarations
    }

    /// `NAMESPACE a.b … END_NAMESPACE`.
    fn namespace(&mut self, start: usize, place: Place, declarations: &mut Vec<Declaration>) -> usize {
        let close = self.namespace_partner(start).filter(|close| *close < place.limit);
        let limit = close.unwrap_or(place.limit);
        let next = close.map_or(limit, |close| close + 1);
        if place.depth >= NESTING_MAX {
            if self.said.insert(Said::TooDeep) {
                self.report(
                    Diagnostic::error(
                        "nesting-too-deep",
                        self.span(start),
                        format!("namespaces are nested more than {NESTING_MAX} deep"),
                    )
                    .label("too deep from here on"),
                );
            }
            return next;
        }
        let (heading, index) = self.namespace_heading(start, limit);
        let mut using = Vec::new();
        let mut index = index;
        while index < limit && self.kind(index) == TokenKind::Using {
            let (directive, behind) = self.using(index, limit);
            using.extend(directive);
            index = behind;
        }
        if index < limit && self.kind(index) == TokenKind::Semicolon {
            index = self.semicolon_after_end(index).min(limit);
        }
        let inner = Place { limit, around: Some(start), depth: place.depth + 1 };
        let content = self.declarations_in(index, inner);
        if close.is_none() && !self.is_behind_unread(limit) && !self.said.contains(&Said::TooDeep) {
            self.report_unclosed_namespace(start, limit);
        }
        if let Some((internal, name)) = heading {
            let span = self.span_of(start, next);
            let namespace = Namespace { internal, name, using, declarations: content, span };
            declarations.push(Declaration::Namespace(namespace));
        }
        next
    }

    fn report_unclosed_namespace(&mut self, start: usize, limit: usize) {
        let before = self.found(limit);
        let place = self.behind_previous(limit);
        let mut problem = Diagnostic::error(
            "unclosed-block",
            self.span(start),
            "this `NAMESPACE` is never closed by `END_NAMESPACE`",
        )
        .label("no `END_NAMESPACE` belongs to this")
        .also(place, format!("expected `END_NAMESPACE` before {before}"));
        if limit >= self.tokens.len() {
            problem = problem.fix("add `END_NAMESPACE`", place, "\nEND_NAMESPACE");
        }
        self.report(problem);
    }

    /// `NAMESPACE INTERNAL a.b`, and what stands behind it.
    fn namespace_heading(
        &mut self,
        start: usize,
        limit: usize,
    ) -> (Option<(Option<Span>, QualifiedName)>, usize) {
        use TokenKind as T;
        let mut index = start + 1;
        let mut internal = None;
        while index < limit && cut::is_heading_word(self.kind(index)) {
            let span = self.span(index);
            if self.kind(index) == T::Internal && internal.is_none() {
                internal = Some(span);
            } else {
                self.report_misfit(start, span);
            }
            index += 1;
        }
        let names = index;
        while index < limit
            && (self.kind(index) == T::Dot
                || !self.first_on_line(index)
                    && self.kind(index - 1) == T::Dot
                    && self.kind(index).is_keyword()
                || self.kind(index) == T::Identifier && (index == names || self.kind(index - 1) == T::Dot))
        {
            index += 1;
        }
        if index == names {
            let place = self.behind_previous(index);
            let word = self.text(index - 1).to_ascii_uppercase();
            self.report(
                Diagnostic::error("missing-name", place, format!("expected a name after `{word}`"))
                    .label("expected a name here"),
            );
            return (None, index);
        }
        let piece = self.piece(PieceKind::Namespace, names, Cut { end: index, terminated: true }).0;
        match piece.map(|piece| *piece) {
            Some(Piece::Namespace(name)) => (Some((internal, name)), index),
            _ => (None, index),
        }
    }

    /// Index of the `END_NAMESPACE` of a namespace.
    fn namespace_partner(&self, start: usize) -> Option<usize> {
        let partners = self.namespace_partners.get_or_init(|| {
            let mut partners = vec![0; self.tokens.len()];
            let mut open: Vec<usize> = Vec::new();
            for index in 0..self.tokens.len() {
                match self.kind(index) {
                    TokenKind::Namespace if cut::opens_unit(self.tokens, index) => open.push(index),
                    TokenKind::EndNamespace => {
                        if let Some(partner) = open.pop().and_then(|place| partners.get_mut(place)) {
                            *partner = index as u32;
                        }
                    }
                    _ => {}
                }
            }
            partners
        });
        partners.get(start).map(|close| *close as usize).filter(|close| *close > start)
    }

    /// `USING` at file level, or behind a declaration.
    fn using_among_declarations(
        &mut self,
        index: usize,
        place: Place,
        declarations: &mut Vec<Declaration>,
    ) -> usize {
        let is_first = declarations.last().is_none_or(|before| matches!(before, Declaration::Using(_)));
        if !is_first || place.around.is_some() {
            let note = match place.around {
                Some(_) => "in a namespace it stands behind the heading `NAMESPACE name`",
                None => "at file level it stands at the start of the file, and holds for the whole file",
            };
            self.report(
                Diagnostic::error(
                    "unexpected-token",
                    self.span(index),
                    "`USING` stands before the first declaration",
                )
                .label("behind a declaration")
                .note(note),
            );
        }
        let (using, next) = self.using(index, place.limit);
        declarations.extend(using.map(Declaration::Using));
        next
    }

    /// Programs, configurations and global variables belong to no namespace: read for their own errors.
    fn misplaced_in_namespace(&mut self, index: usize, place: Place) -> usize {
        let word = self.text(index).to_ascii_uppercase();
        let around = place.around.unwrap_or(index);
        let (name, message) = match self.kind(index) {
            TokenKind::VarGlobal => ("misplaced-section", "a namespace has no variables".to_owned()),
            _ => ("misplaced-unit", format!("{} cannot stand in a namespace", with_article(&word))),
        };
        self.report(
            Diagnostic::error(name, self.span(index), message)
                .label("move it out of the namespace")
                .also(self.span(around), "the namespace begins here")
                .note(
                    "a namespace holds types, functions, function blocks, classes, interfaces and namespaces; \
                     whoever needs them writes `USING` or their full names",
                ),
        );
        match self.kind(index) {
            TokenKind::VarGlobal => self.variable_section(index, place.limit).1,
            TokenKind::Configuration => self.configuration(index, place.limit).1,
            _ => self.unit(index, place.limit, &mut Vec::new()),
        }
    }
}
