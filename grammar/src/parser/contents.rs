//! What stands between the heading of a unit and its body: variable sections, then methods (6.6.3, 6.6.5 and
//! 6.6.6; tables 48, 50, 51 and 53); and where units and methods end.

use super::{Parser, Said, cut, declarations::Section, wording::with_article};
use crate::{
    diagnostic::Diagnostic,
    lexer::TokenKind,
    tree::{AccessSection, ProgramUnit, VariableSection},
};

/// The declarations of a unit.
#[derive(Default)]
pub(super) struct Contents {
    pub sections: Vec<VariableSection>,
    pub methods: Vec<ProgramUnit>,
    /// `VAR_ACCESS` sections of a program.
    pub access_paths: Vec<AccessSection>,
}

/// The closing word of a unit or method.
pub(super) fn closing(opening: TokenKind) -> (TokenKind, &'static str) {
    use TokenKind as T;
    match opening {
        T::Program => (T::EndProgram, "END_PROGRAM"),
        T::Function => (T::EndFunction, "END_FUNCTION"),
        T::FunctionBlock => (T::EndFunctionBlock, "END_FUNCTION_BLOCK"),
        T::Class => (T::EndClass, "END_CLASS"),
        T::Interface => (T::EndInterface, "END_INTERFACE"),
        T::Configuration => (T::EndConfiguration, "END_CONFIGURATION"),
        T::Namespace => (T::EndNamespace, "END_NAMESPACE"),
        T::Type => (T::EndType, "END_TYPE"),
        _ => (T::EndMethod, "END_METHOD"),
    }
}

impl Parser<'_> {
    /// The declarations at the start of a unit, and where its body begins.
    pub(super) fn contents(&mut self, unit: usize, start: usize, end: usize) -> (Contents, usize) {
        use TokenKind as T;
        let opening = self.kind(unit);
        let has_methods = matches!(opening, T::Class | T::Interface | T::FunctionBlock);
        let mut contents = Contents::default();
        let mut index = start;
        while index < end {
            let kind = self.kind(index);
            if cut::opens_section(kind) && !self.used_as_name(index) {
                if let Some(method) = contents.methods.last() {
                    let place = method.span;
                    self.report_late_section(index, place);
                } else if opening == T::Interface {
                    self.report_section_of_interface(index);
                }
                index = self.section_of_unit(opening, index, end, &mut contents);
            } else if has_methods && cut::opens_method(self.tokens, index) {
                index = self.method(index, end, opening == T::Interface, &mut contents.methods);
            } else if cut::opens_method(self.tokens, index) {
                index = self.misplaced_method(index, end);
            } else if let Some(keyword) = self.word_before_keyword(index, end) {
                index = keyword;
            } else if kind == T::EndVar {
                let span = self.span(index);
                self.report(
                    Diagnostic::error("unmatched-end", span, "`END_VAR` closes nothing")
                        .label("no variable section is open here"),
                );
                index += 1;
            } else if kind == T::Semicolon
                && index > start
                && matches!(self.kind(index - 1), T::EndVar | T::EndMethod)
            {
                index = self.semicolon_behind_part(index, end);
            } else if matches!(opening, T::Class | T::Interface) {
                index = self.outside_body(unit, index, end);
            } else {
                break;
            }
        }
        (contents, index)
    }

    fn section_of_unit(
        &mut self,
        opening: TokenKind,
        index: usize,
        end: usize,
        contents: &mut Contents,
    ) -> usize {
        if opening == TokenKind::Program && self.kind(index) == TokenKind::VarAccess {
            let (section, next) = self.section(index, end);
            if let Section::Access(section) = section {
                contents.access_paths.push(section);
            }
            return next;
        }
        let (section, next) = self.variable_section(index, end);
        if opening != TokenKind::Interface {
            contents.sections.extend(section);
        }
        next
    }

    /// A `;` behind `END_VAR` or `END_METHOD`.
    fn semicolon_behind_part(&mut self, index: usize, end: usize) -> usize {
        use TokenKind as T;
        let mut next = index;
        while self.kind(next) == T::Semicolon && next < end {
            next += 1;
        }
        let part_follows =
            next < end && (cut::opens_section(self.kind(next)) || cut::opens_method(self.tokens, next));
        if part_follows || self.kind(index - 1) == T::EndMethod {
            return self.semicolon_after_end(index).min(end);
        }
        // Before a body it is an empty statement, and legal.
        let span = self.span(index);
        self.report(
            Diagnostic::warning("empty-statement", span, "this `;` after `END_VAR` is an empty statement")
                .label("not needed")
                .fix("remove `;`", span, ""),
        );
        next
    }

    /// `PUBLIC METHOD`, `ABSTRACT CLASS`: words that belong behind the keyword. Tells where the keyword is.
    pub(super) fn word_before_keyword(&mut self, index: usize, end: usize) -> Option<usize> {
        let mut keyword = index;
        while keyword < end && cut::is_heading_word(self.kind(keyword)) {
            keyword += 1;
        }
        let opens = cut::opens_method(self.tokens, keyword) || cut::opens_unit(self.tokens, keyword);
        if keyword == index || keyword >= end || !opens {
            return None;
        }
        let words = self.text_of(self.span_of(index, keyword)).to_ascii_uppercase();
        let opening = self.text(keyword).to_ascii_uppercase();
        let span = self.span_of(index, keyword + 1);
        let meant = format!("{opening} {words}");
        self.report(
            Diagnostic::error("unexpected-token", span, format!("`{words}` stands behind `{opening}`"))
                .label("in the wrong order")
                .fix(format!("write `{meant}`"), span, meant),
        );
        Some(keyword)
    }

    fn report_late_section(&mut self, index: usize, method: crate::source::Span) {
        let word = self.text(index).to_ascii_uppercase();
        self.report(
            Diagnostic::error(
                "misplaced-section",
                self.span(index),
                format!("a `{word}` section stands before the methods"),
            )
            .label("behind a method")
            .also(method, "this method stands before it")
            .note("move the section up, in front of the first method"),
        );
    }

    fn report_section_of_interface(&mut self, index: usize) {
        let word = self.text(index).to_ascii_uppercase();
        self.damaged = true;
        self.report(
            Diagnostic::error("misplaced-section", self.span(index), "an INTERFACE has no variables")
                .label(format!("no `{word}` section can stand here"))
                .note("parameters stand inside a method, between `METHOD` and `END_METHOD`"),
        );
    }

    /// Text in a class or interface that is neither a section nor a method; up to where one begins.
    fn outside_body(&mut self, unit: usize, index: usize, end: usize) -> usize {
        self.damaged = true;
        // Not behind the search for what follows: many of them would take quadratic time.
        if self.kind(index) == TokenKind::EndMethod {
            return self.stray_closing_word(index).min(end);
        }
        let mut next = index + 1;
        while next < end && !cut::opens_section(self.kind(next)) && !cut::opens_method(self.tokens, next) {
            next += 1;
        }
        if cut::opens_unit(self.tokens, index) {
            let close = self.closing_of_misplaced(index, end);
            self.report_misplaced_unit(unit, index, close.map_or(index + 1, |close| close + 1));
            return close.map_or(next, |close| close + 1);
        }
        if self.said.insert(Said::OutsideBody) {
            let word = self.text(unit).to_ascii_uppercase();
            self.report(
                Diagnostic::error(
                    "statement-outside-body",
                    self.span(index),
                    format!("{} has no body of its own, found {}", with_article(&word), self.found(index)),
                )
                .label("expected a method or the end")
                .note(if self.kind(unit) == TokenKind::Interface {
                    "an interface lists methods without bodies: `METHOD name : INT … END_METHOD`"
                } else {
                    "the statements of a class stand in its methods: `METHOD name … END_METHOD`"
                }),
            );
        }
        next
    }

    /// The closing word of a FUNCTION or the like written inside a class.
    fn closing_of_misplaced(&self, index: usize, end: usize) -> Option<usize> {
        let (wanted, _) = closing(self.kind(index));
        (index + 1..end).find(|place| self.kind(*place) == wanted)
    }

    pub(super) fn report_misplaced_unit(&mut self, unit: usize, start: usize, end: usize) {
        let outer = self.text(unit).to_ascii_uppercase();
        let inner = self.text(start).to_ascii_uppercase();
        let problem = Diagnostic::error(
            "misplaced-unit",
            self.span(start),
            format!("{} cannot stand inside {}", with_article(&inner), with_article(&outer)),
        )
        .label(format!("move it behind the `{outer}`"))
        .also(self.span(unit), format!("the `{outer}` begins here"));
        let is_function = self.kind(start) == TokenKind::Function;
        self.report(if is_function && end > start + 1 {
            problem.note("a function that belongs to an object is a METHOD: `METHOD name : INT … END_METHOD`")
        } else {
            problem
        });
    }

    /// A method with everything up to its end, and where to go on.
    fn method(
        &mut self,
        start: usize,
        limit: usize,
        is_prototype: bool,
        methods: &mut Vec<ProgramUnit>,
    ) -> usize {
        let (end, next) = self.unit_end(start, limit);
        let body_said = self.said.remove(&Said::OutsideBody);
        let unit = self.unit_content(start, end, next, is_prototype);
        if body_said {
            self.said.insert(Said::OutsideBody);
        }
        self.damaged |= unit.as_ref().is_none_or(|unit| unit.damaged);
        methods.extend(unit);
        next
    }

    /// A method in a unit that has none: read for its own errors.
    fn misplaced_method(&mut self, start: usize, limit: usize) -> usize {
        if self.said.insert(Said::MisplacedMethod) {
            self.report(
                Diagnostic::error(
                    "misplaced-unit",
                    self.span(start),
                    "methods belong to classes, function blocks and interfaces",
                )
                .label("no `METHOD` can stand in this unit")
                .note("write a FUNCTION behind the unit instead"),
            );
        }
        let mut dropped = Vec::new();
        let next = self.method(start, limit, false, &mut dropped);
        self.damaged = true;
        next
    }

    /// A method behind the first statement of a body: reported, and declared all the same.
    pub(super) fn late_method(&mut self, start: usize, limit: usize) -> usize {
        if self.owner != TokenKind::FunctionBlock {
            return self.misplaced_method(start, limit);
        }
        if self.said.insert(Said::MisplacedMethod) {
            self.report(
                Diagnostic::error(
                    "misplaced-unit",
                    self.span(start),
                    "a method stands before the body of its function block",
                )
                .label("statements stand before this")
                .note("move the method up, behind the variable sections"),
            );
        }
        let mut methods = std::mem::take(&mut self.late_methods);
        let next = self.method(start, limit, false, &mut methods);
        self.late_methods = methods;
        if self.kind(next) == TokenKind::Semicolon && next < limit { next + 1 } else { next }
    }

    /// Where the content of a unit or method ends, and where to go on behind it. Reports an end that is missing.
    pub(super) fn unit_end(&mut self, start: usize, limit: usize) -> (usize, usize) {
        use TokenKind as T;
        let opening = self.kind(start);
        let (wanted, word) = closing(opening);
        let has_parts = matches!(opening, T::FunctionBlock | T::Class | T::Interface | T::Configuration);
        let opening_word = self.text(start).to_ascii_uppercase();
        // The closing word of a method or of a function written where a method belongs.
        let mut inner: Option<TokenKind> = None;
        // Units up to here are inside this one, by mistake.
        let mut nested_until = start;
        let mut end = start + 1;
        loop {
            // The closing words, and what is asked for below, are all of these words.
            end = cut::find_kind(self.tokens, end, cut::is_unit_word).min(limit);
            if end >= limit {
                break;
            }
            let kind = self.kind(end);
            if kind == wanted {
                return (end, end + 1);
            }
            let opens_method = cut::opens_method(self.tokens, end);
            if opening == T::Method && opens_method {
                break;
            }
            if opens_method && has_parts {
                inner = Some(T::EndMethod);
            } else if kind == T::EndMethod {
                inner = None;
            } else if cut::closes_unit(kind) {
                let is_stray = opening == T::Configuration && self.closes_behind_stray(end, limit, wanted);
                if inner.take().is_none() && !is_stray {
                    self.closed_by_another(start, end, word, "the unit begins here");
                    return (end, end + 1);
                }
            } else if cut::opens_unit(self.tokens, end) {
                if has_parts && inner.is_none() && end >= nested_until {
                    nested_until = self.goes_on_behind(end, limit, wanted).unwrap_or(nested_until);
                }
                if end >= nested_until {
                    break;
                }
                inner = Some(closing(kind).0);
            }
            end += 1;
        }
        if self.unread_from.is_none() || end < self.tokens.len() {
            let before = self.found(end);
            let place = self.behind_previous(end);
            let mut problem = Diagnostic::error(
                "unclosed-block",
                self.span(start),
                format!("this `{opening_word}` is never closed by `{word}`"),
            )
            .label(format!("no `{word}` belongs to this"))
            .also(place, format!("expected `{word}` before {before}"));
            if end >= self.tokens.len() {
                problem = problem.fix(format!("add `{word}`"), place, format!("\n{word}"));
            }
            self.report(problem);
        }
        (end, end)
    }

    /// Reports a closing word of something else where `word` closes what begins at `start`.
    pub(super) fn closed_by_another(&mut self, start: usize, end: usize, word: &str, begins: &str) {
        let opening_word = self.text(start).to_ascii_uppercase();
        let written = self.text(end).to_ascii_uppercase();
        let span = self.span(end);
        self.report(
            Diagnostic::error(
                "unclosed-block",
                span,
                format!("`{opening_word}` is closed by `{word}`, not by `{written}`"),
            )
            .label(format!("expected `{word}`"))
            .also(self.span(start), begins)
            .fix(format!("write `{word}`"), span, word),
        );
    }

    /// Whether a closing word follows before another unit begins or ends.
    fn closes_behind_stray(&self, start: usize, limit: usize, wanted: TokenKind) -> bool {
        let ends =
            |index: &usize| cut::closes_unit(self.kind(*index)) || cut::opens_unit(self.tokens, *index);
        (start + 1..limit).find(ends).is_some_and(|index| self.kind(index) == wanted)
    }

    /// Where the unit around misplaced ones goes on behind them: its closing word, or a method.
    fn goes_on_behind(&self, start: usize, limit: usize, wanted: TokenKind) -> Option<usize> {
        let mut inner = Some(closing(self.kind(start)).0);
        for index in start + 1..limit {
            let kind = self.kind(index);
            if inner == Some(kind) {
                inner = None;
            } else if inner.is_none()
                && (kind == wanted
                    || cut::opens_method(self.tokens, index)
                    || cut::opens_item(self.tokens, index))
            {
                return Some(index);
            } else if cut::opens_unit(self.tokens, index) && inner.is_none() && kind == self.kind(start) {
                inner = Some(closing(kind).0);
            } else if cut::closes_unit(kind) || cut::opens_unit(self.tokens, index) {
                return None;
            }
        }
        None
    }
}
