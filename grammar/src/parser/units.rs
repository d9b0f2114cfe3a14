//! Program organization units, classes and interfaces as a whole (6.6), and text that belongs to none.

use super::{Parser, cut, heading::unit_kind};
use crate::{
    diagnostic::Diagnostic,
    lexer::TokenKind,
    tree::{Body, Declaration, Interface, ProgramUnit},
};

impl Parser<'_> {
    /// Index of the first token of the next line.
    pub(super) fn line_end(&self, index: usize) -> usize {
        let mut end = index + 1;
        while end < self.tokens.len() && !self.first_on_line(end) {
            end += 1;
        }
        end
    }

    /// `;` behind `END_VAR`, `END_TYPE`, `END_FUNCTION` and the like.
    pub(super) fn semicolon_after_end(&mut self, index: usize) -> usize {
        let span = self.span(index);
        let word = self.text(index - 1);
        self.report(
            Diagnostic::error("semicolon-after-end", span, format!("no `;` stands after `{word}`"))
                .label("not allowed here")
                .fix("remove `;`", span, ""),
        );
        let mut next = index + 1;
        while self.kind(next) == TokenKind::Semicolon {
            next += 1;
        }
        next
    }

    /// Text that belongs to no unit, up to where one begins.
    pub(super) fn outside_unit(&mut self, index: usize, limit: usize) -> usize {
        let kind = self.kind(index);
        let word = self.found(index);
        if self.text(index).to_ascii_uppercase().starts_with("END_") && kind.is_keyword() {
            self.report(
                Diagnostic::error("unmatched-end", self.span(index), format!("{word} closes nothing"))
                    .label("nothing is open here"),
            );
            return index + 1;
        }
        let mut end = index;
        while end < limit {
            let opens = cut::opens_unit(self.tokens, end);
            let opens_globals = self.kind(end) == TokenKind::VarGlobal && end > index;
            if end > index && (opens || opens_globals) {
                break;
            }
            end += 1;
            if cut::closes_unit(self.kind(end - 1))
                || matches!(self.kind(end - 1), TokenKind::EndType | TokenKind::EndMethod)
            {
                break;
            }
        }
        self.report(
            Diagnostic::error("outside-unit", self.span(index), format!("{word} stands outside of any unit"))
                .label("expected `PROGRAM`, `FUNCTION_BLOCK`, `FUNCTION`, `CLASS`, `TYPE` or the like")
                .note("variables and statements stand inside a unit such as `PROGRAM name … END_PROGRAM`"),
        );
        end
    }

    /// A unit with everything up to its end.
    pub(super) fn unit(&mut self, start: usize, limit: usize, declarations: &mut Vec<Declaration>) -> usize {
        let (end, next) = self.unit_end(start, limit);
        if self.kind(start) == TokenKind::Interface {
            declarations.extend(self.interface(start, end, next).map(Declaration::Interface));
        } else if let Some(unit) = self.unit_content(start, end, next, false) {
            declarations.push(Declaration::Unit(Box::new(unit)));
        }
        next
    }

    /// A unit or method whose content reaches up to `end`, with its closing word up to `next`.
    pub(super) fn unit_content(
        &mut self,
        start: usize,
        end: usize,
        next: usize,
        is_prototype: bool,
    ) -> Option<ProgramUnit> {
        let outer_damage = std::mem::take(&mut self.damaged);
        let outer_sections = std::mem::take(&mut self.late_sections);
        let outer_methods = std::mem::take(&mut self.late_methods);
        let opening = self.kind(start);
        let outer = std::mem::replace(&mut self.owner, opening);
        let (heading, index) = self.heading(start, end);
        let (mut contents, body_start) = self.contents(start, index, end);
        let mut body = self.body(body_start, end);
        if is_prototype && !matches!(body, Body::Empty) {
            self.report_body_of_prototype(body_start);
            body = Body::Empty;
        }
        contents.sections.append(&mut self.late_sections);
        contents.methods.append(&mut self.late_methods);
        self.owner = outer;
        self.late_sections = outer_sections;
        self.late_methods = outer_methods;
        let damaged = std::mem::replace(&mut self.damaged, outer_damage);
        let kind = unit_kind(opening)?;
        Some(ProgramUnit {
            kind,
            name: heading.name?,
            modifiers: heading.modifiers,
            access: heading.access,
            using: heading.using,
            extends: heading.bases.extends.into_iter().next(),
            implements: heading.bases.implements,
            result: heading.result,
            sections: contents.sections,
            access_paths: contents.access_paths,
            methods: contents.methods,
            body,
            damaged,
            span: self.span_of(start, next),
        })
    }

    /// `INTERFACE … END_INTERFACE` (table 51).
    fn interface(&mut self, start: usize, end: usize, next: usize) -> Option<Interface> {
        self.damaged = false;
        let (heading, index) = self.heading(start, end);
        let (contents, _) = self.contents(start, index, end);
        Some(Interface {
            name: heading.name?,
            using: heading.using,
            extends: heading.bases.extends,
            methods: contents.methods,
            damaged: self.damaged,
            span: self.span_of(start, next),
        })
    }

    fn report_body_of_prototype(&mut self, index: usize) {
        self.damaged = true;
        self.report(
            Diagnostic::error(
                "statement-outside-body",
                self.span(index),
                "a method of an interface has no body",
            )
            .label("expected `END_METHOD`")
            .note("the body stands in the classes and function blocks that implement the interface"),
        );
    }

    /// The body between the sections and the end of the unit.
    pub(super) fn body(&mut self, start: usize, end: usize) -> Body {
        use super::language::Language;
        match self.language(start, end) {
            Language::Nothing => Body::Empty,
            Language::StructuredText => Body::StructuredText(self.body_statements(start, end)),
            Language::InstructionList => Body::InstructionList(self.body_instructions(start, end)),
            Language::SequentialFunctionChart => self.body_chart(start, end),
        }
    }
}
