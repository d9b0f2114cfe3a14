//! Words among the statements that do not belong there.

use super::{Parser, cut};
use crate::{diagnostic::Diagnostic, lexer::TokenKind};

impl Parser<'_> {
    pub(super) fn is_closing(&self, kind: TokenKind) -> bool {
        use TokenKind as T;
        cut::closes_block(kind)
            || matches!(
                kind,
                T::EndVar
                    | T::EndType
                    | T::EndStruct
                    | T::EndMethod
                    | T::EndClass
                    | T::EndInterface
                    | T::EndNamespace
                    | T::EndConfiguration
                    | T::EndResource
                    | T::EndStep
                    | T::EndTransition
                    | T::EndAction
            )
    }

    pub(super) fn stray_closing_word(&mut self, index: usize) -> usize {
        let word = self.text(index).to_ascii_uppercase();
        let opening = word.strip_prefix("END").unwrap_or("").trim_start_matches('_').to_owned();
        self.damaged = true;
        self.report(
            Diagnostic::error("unmatched-end", self.span(index), format!("`{word}` closes nothing"))
                .label(format!("no `{opening}` is open here")),
        );
        if self.kind(index + 1) == TokenKind::Semicolon { index + 2 } else { index + 1 }
    }

    pub(super) fn stray_middle_word(&mut self, index: usize, limit: usize) -> usize {
        let word = self.text(index).to_ascii_uppercase();
        let block = match self.kind(index) {
            TokenKind::Until => "REPEAT",
            TokenKind::Elsif => "IF",
            _ => "IF` or `CASE",
        };
        self.damaged = true;
        self.report(
            Diagnostic::error("unmatched-end", self.span(index), format!("`{word}` belongs to no `{block}`"))
                .label(format!("no `{block}` is open here")),
        );
        if self.kind(index) == TokenKind::Else {
            index + 1
        } else {
            self.cut_head(index, limit).end.max(index + 1)
        }
    }

    /// Variables declared behind the start of the body: reported, and declared all the same.
    pub(super) fn late_section(&mut self, index: usize, limit: usize) -> usize {
        let word = self.text(index).to_ascii_uppercase();
        self.report(
            Diagnostic::error(
                "declaration-in-body",
                self.span(index),
                format!("a `{word}` section cannot stand behind the first statement"),
            )
            .label("statements stand before this")
            .note("move the section up, before the first statement"),
        );
        let (section, mut next) = self.variable_section(index, limit);
        self.late_sections.extend(section);
        while self.kind(next) == TokenKind::Semicolon && next < limit {
            next += 1;
        }
        next
    }
}
