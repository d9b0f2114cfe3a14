//! Headings: the keyword of a unit, the words before its name, its result, `USING`, `EXTENDS` and
//! `IMPLEMENTS` (6.6 and 6.9; tables 19, 40, 47, 48, 50, 51, 53 and 66). Which words a unit may have is
//! decided here; what they mean is not.

use super::{
    Parser,
    cut::{self, Cut},
    wording::with_article,
};
use crate::{
    diagnostic::Diagnostic,
    lexer::TokenKind,
    piece::{Bases, HeadingWord, Piece, PieceKind},
    source::Span,
    tree::{Ident, Modifier, Qualifier, TypeSpecification, UnitKind, Using},
};

/// A heading as far as it could be read.
#[derive(Default)]
pub(super) struct Heading {
    /// The name; without it there is no unit.
    pub name: Option<Ident>,
    pub modifiers: Vec<(Modifier, Span)>,
    pub access: Option<(Qualifier, Span)>,
    pub result: Option<TypeSpecification>,
    pub using: Vec<Using>,
    pub bases: Bases,
}

/// The kind of unit a keyword opens; none for `INTERFACE`.
pub(super) fn unit_kind(opening: TokenKind) -> Option<UnitKind> {
    use TokenKind as T;
    Some(match opening {
        T::Program => UnitKind::Program,
        T::FunctionBlock => UnitKind::FunctionBlock,
        T::Function => UnitKind::Function,
        T::Class => UnitKind::Class,
        T::Method => UnitKind::Method,
        _ => return None,
    })
}

impl Parser<'_> {
    /// The heading that begins at `start`, and what stands behind it.
    pub(super) fn heading(&mut self, start: usize, end: usize) -> (Heading, usize) {
        use TokenKind as T;
        let opening = self.kind(start);
        let mut index = start + 1;
        while index < end && cut::is_heading_word(self.kind(index)) && !self.names_a_unit(index, end) {
            index += 1;
        }
        let is_name = self.kind(index) == T::Identifier
            || self.kind(index).is_keyword()
                && !cut::opens_section(self.kind(index))
                && !self.first_on_line(index);
        if index >= end || !is_name {
            let place = self.behind_previous(index);
            let word = self.text(index - 1).to_ascii_uppercase();
            self.report(
                Diagnostic::error("missing-name", place, format!("expected a name after `{word}`"))
                    .label("expected a name here"),
            );
            self.damaged = true;
            return (Heading::default(), index);
        }
        index += 1;
        let mut piece_end = index;
        if self.kind(index) == T::Colon && index < end {
            let colon = index;
            index = self.result_end(colon, end);
            if matches!(opening, T::Function | T::Method) {
                piece_end = index;
            } else {
                let word = self.text(start).to_ascii_uppercase();
                let span = self.span_of(colon, index);
                self.report(
                    Diagnostic::error(
                        "unexpected-token",
                        span,
                        format!("{} has no result type", with_article(&word)),
                    )
                    .label("only a FUNCTION or METHOD has one")
                    .fix("remove this", span, ""),
                );
            }
        }
        let mut heading = self.named_heading(start, piece_end);
        index = self.clauses(start, index, end, &mut heading);
        if self.kind(index) == T::Semicolon && index < end {
            index = self.semicolon_after_heading(index, end);
        }
        (heading, index)
    }

    /// Whether a word such as `FINAL` stands in the place of the name.
    fn names_a_unit(&self, index: usize, end: usize) -> bool {
        let next = self.kind(index + 1);
        self.used_as_name(index)
            || index + 1 >= end
            || !cut::is_heading_word(next) && next != TokenKind::Identifier && !self.first_on_line(index)
    }

    /// Behind the result type that follows a colon.
    fn result_end(&self, colon: usize, end: usize) -> usize {
        use TokenKind as T;
        let mut index = colon + 1;
        match self.kind(index) {
            T::Identifier | T::ElementaryType | T::String | T::Wstring | T::GenericType if index < end => {
                index += 1;
                while index + 1 < end
                    && self.kind(index) == T::Dot
                    && self.kind(index + 1) == T::Identifier
                    && !self.first_on_line(index)
                {
                    index += 2;
                }
                if matches!(self.kind(index), T::BracketOpen | T::ParenthesisOpen)
                    && !self.first_on_line(index)
                {
                    index = self.matching_bracket(index, end).map_or(index, |close| close + 1);
                }
            }
            _ => {
                while index < end
                    && !self.first_on_line(index)
                    && !cut::opens_section(self.kind(index))
                    && self.kind(index) != T::Using
                {
                    index += 1;
                }
            }
        }
        index
    }

    /// The piece from the keyword to the name or the result.
    fn named_heading(&mut self, start: usize, end: usize) -> Heading {
        let mut heading = Heading::default();
        let piece = self.piece(PieceKind::Unit, start, Cut { end, terminated: true }).0;
        let Some(Piece::Unit { kind, words, name, result }) = piece.map(|piece| *piece) else {
            self.damaged = true;
            return heading;
        };
        heading.name = Some(name);
        heading.result = result;
        let mut last: Option<(u8, Span)> = None;
        for (word, span) in words {
            let (rank, fits) = match word {
                HeadingWord::Access(Qualifier::Internal) => {
                    (0, kind.is_some_and(|kind| kind != UnitKind::Program))
                }
                HeadingWord::Access(_) => (0, kind == Some(UnitKind::Method)),
                HeadingWord::Modifier(Modifier::Override) => (2, kind == Some(UnitKind::Method)),
                HeadingWord::Modifier(_) => {
                    (1, matches!(kind, Some(UnitKind::Method | UnitKind::Class | UnitKind::FunctionBlock)))
                }
            };
            if !fits {
                self.report_misfit(start, span);
                continue;
            }
            let repeated = match word {
                HeadingWord::Access(_) => heading.access.is_some(),
                HeadingWord::Modifier(modifier) => heading.modifiers.iter().any(|(m, _)| *m == modifier),
            };
            match last {
                _ if repeated => {
                    let text = self.text_of(span).to_ascii_uppercase();
                    let message = match word {
                        HeadingWord::Access(_) => "one access specifier is enough".to_owned(),
                        HeadingWord::Modifier(_) => format!("`{text}` stands here twice"),
                    };
                    self.report(
                        Diagnostic::error("unexpected-token", span, message).label("one too many").fix(
                            format!("remove `{text}`"),
                            span,
                            "",
                        ),
                    );
                    continue;
                }
                Some((before, place)) if before > rank => {
                    let text = self.text_of(span).to_ascii_uppercase();
                    let other = self.text_of(place).to_ascii_uppercase();
                    self.report(
                        Diagnostic::error(
                            "unexpected-token",
                            span,
                            format!("`{text}` stands before `{other}`"),
                        )
                        .label("in the wrong order")
                        .also(place, "expected behind it")
                        .note("the order is: access specifier, `FINAL` or `ABSTRACT`, `OVERRIDE`, name"),
                    );
                }
                _ => last = Some((rank, span)),
            }
            match word {
                HeadingWord::Access(access) => heading.access = Some((access, span)),
                HeadingWord::Modifier(modifier) => heading.modifiers.push((modifier, span)),
            }
        }
        heading
    }

    pub(super) fn report_misfit(&mut self, start: usize, span: Span) {
        let word = self.text_of(span).to_ascii_uppercase();
        let unit = self.text(start).to_ascii_uppercase();
        self.report(
            Diagnostic::error(
                "unexpected-token",
                span,
                format!("{} cannot be `{word}`", with_article(&unit)),
            )
            .label(match word.as_str() {
                "OVERRIDE" => "only a METHOD can be",
                "FINAL" | "ABSTRACT" => "only a CLASS, FUNCTION_BLOCK or METHOD can be",
                _ => "only methods and variable sections can be",
            })
            .fix(format!("remove `{word}`"), span, ""),
        );
    }

    /// `USING`, `EXTENDS` and `IMPLEMENTS` behind a name.
    fn clauses(&mut self, start: usize, mut index: usize, end: usize, heading: &mut Heading) -> usize {
        use TokenKind as T;
        while index < end && !self.used_as_name(index) {
            match self.kind(index) {
                T::Using => {
                    let (using, next) = self.using(index, end);
                    heading.using.extend(using);
                    index = next;
                }
                T::Extends | T::Implements => index = self.bases(start, index, end, &mut heading.bases),
                _ => break,
            }
        }
        index
    }

    /// `EXTENDS a` or `IMPLEMENTS a, b`.
    fn bases(&mut self, start: usize, index: usize, end: usize, bases: &mut Bases) -> usize {
        use TokenKind as T;
        let next = self.behind_names(index + 1, end);
        let word = self.text(index).to_ascii_uppercase();
        let piece = self.piece(PieceKind::Bases, index, Cut { end: next, terminated: true }).0;
        let Some(Piece::Bases(found)) = piece.map(|piece| *piece) else {
            self.damaged = true;
            return next;
        };
        let is_extends = self.kind(index) == T::Extends;
        let fits = match self.kind(start) {
            T::Class | T::FunctionBlock => true,
            T::Interface => is_extends,
            _ => false,
        };
        let unit = self.text(start).to_ascii_uppercase();
        let span = self.span_of(index, next);
        if !fits {
            let problem = Diagnostic::error(
                "unexpected-token",
                span,
                format!("`{word}` cannot stand at the heading of {}", with_article(&unit)),
            );
            self.report(match self.kind(start) {
                T::Interface => problem.label("an interface extends others").fix(
                    "write `EXTENDS`",
                    self.span(index),
                    "EXTENDS",
                ),
                _ => problem.label("only classes and function blocks have it").fix("remove this", span, ""),
            });
            self.damaged = true;
            return next;
        }
        let list = if is_extends { &mut bases.extends } else { &mut bases.implements };
        let repeated = !list.is_empty();
        let late = is_extends && !bases.implements.is_empty();
        if repeated || late {
            let message = if repeated {
                format!("{} has one `{word}`", with_article(&unit))
            } else {
                "`EXTENDS` stands before `IMPLEMENTS`".to_owned()
            };
            self.report(Diagnostic::error("unexpected-token", span, message).label(if repeated {
                "a second one"
            } else {
                "in the wrong order"
            }));
            if repeated {
                self.damaged = true;
                return next;
            }
        }
        if is_extends {
            let single = self.kind(start) != T::Interface;
            if let (true, Some(second)) = (single, found.extends.get(1)) {
                self.report(
                    Diagnostic::error(
                        "unexpected-token",
                        second.span,
                        format!("{} extends one type only", with_article(&unit)),
                    )
                    .label("one too many")
                    .note("it can implement any number of interfaces: `IMPLEMENTS a, b`"),
                );
                self.damaged = true;
            }
            bases.extends = found.extends;
        } else {
            bases.implements = found.implements;
        }
        next
    }

    /// Behind a list of names with points and commas; at least one token.
    fn behind_names(&self, start: usize, end: usize) -> usize {
        use TokenKind as T;
        let mut index = start;
        while index < end {
            let fits = match self.kind(index) {
                // Behind a name only a sign goes on with the list.
                T::Identifier => index == start || self.kind(index - 1) != T::Identifier,
                T::Comma | T::Dot => true,
                _ => false,
            };
            if !fits {
                break;
            }
            index += 1;
        }
        index
    }

    /// `USING a, b.c;` (table 66).
    pub(super) fn using(&mut self, start: usize, end: usize) -> (Option<Using>, usize) {
        let mut stop = self.behind_names(start + 1, end);
        // What does not belong there up to the semicolon is part of the mistake.
        let mut place = stop;
        while place < end && !self.first_on_line(place) && self.kind(place) != TokenKind::Semicolon {
            place += 1;
        }
        let terminated = place < end && self.kind(place) == TokenKind::Semicolon;
        if terminated && (place == stop || !self.first_on_line(place)) {
            stop = place + 1;
        }
        let terminated = self.kind(stop - 1) == TokenKind::Semicolon;
        let (piece, next) = self.piece(PieceKind::Using, start, Cut { end: stop, terminated });
        match piece.map(|piece| *piece) {
            Some(Piece::Using(names)) => {
                let last = names.last().map_or(self.span(start), |name| name.span);
                (Some(Using { names, span: self.span(start).to(last) }), next)
            }
            _ => (None, next),
        }
    }

    /// A `;` behind the heading: an error before a section, an empty statement before a body.
    fn semicolon_after_heading(&mut self, index: usize, end: usize) -> usize {
        let span = self.span(index);
        if index + 1 < end
            && (cut::opens_section(self.kind(index + 1)) || cut::opens_method(self.tokens, index + 1))
        {
            self.report(
                Diagnostic::error("semicolon-after-end", span, "no `;` stands after the heading of a unit")
                    .label("not allowed here")
                    .fix("remove `;`", span, ""),
            );
            return index + 1;
        }
        if self.first_on_line(index) {
            return index;
        }
        self.report(
            Diagnostic::warning("empty-statement", span, "this `;` after the heading is an empty statement")
                .label("not needed")
                .fix("remove `;`", span, ""),
        );
        index + 1
    }
}
