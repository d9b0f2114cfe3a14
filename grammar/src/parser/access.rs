//! The lines of `VAR_ACCESS` and `VAR_CONFIG` (6.5.2 and 6.8.1, table 62): ways from a configuration to a variable.

use super::Parser;
use crate::{
    diagnostic::Diagnostic,
    lexer::TokenKind,
    piece::{Piece, PieceKind},
    tree::{AccessDeclaration, AccessPath, Expression, ExpressionKind, InstanceDeclaration},
};

impl Parser<'_> {
    /// The lines of a `VAR_ACCESS` section.
    pub(super) fn access_paths(&mut self, start: usize, end: usize) -> Vec<AccessDeclaration> {
        let pieces = self.lines(PieceKind::Access, start, end);
        let lines = pieces.into_iter().filter_map(|piece| match piece {
            Piece::Access(line) => Some(line),
            _ => None,
        });
        lines.filter(|line| self.check_path(&line.path)).collect()
    }

    /// The lines of a `VAR_CONFIG` section.
    pub(super) fn settings(&mut self, start: usize, end: usize) -> Vec<InstanceDeclaration> {
        let pieces = self.lines(PieceKind::Setting, start, end);
        let lines = pieces.into_iter().filter_map(|piece| match piece {
            Piece::Setting(line) => Some(line),
            _ => None,
        });
        lines.filter(|line| self.check_path(&line.path)).collect()
    }

    fn lines(&mut self, kind: PieceKind, start: usize, end: usize) -> Vec<Piece> {
        let mut pieces = Vec::new();
        let mut index = start;
        while index < end {
            if self.kind(index) == TokenKind::Semicolon {
                index = self.stray_semicolon(index);
                continue;
            }
            let cut = self.cut_declaration(index, end);
            let (piece, next) = self.piece(kind, index, cut);
            pieces.extend(piece.map(|piece| *piece));
            index = next.max(index + 1);
        }
        pieces
    }

    /// A path has names and subscripts only.
    fn check_path(&mut self, path: &AccessPath) -> bool {
        let mut step: Option<&Expression> = path.path.as_ref();
        while let Some(expression) = step {
            step = match &expression.kind {
                ExpressionKind::Name(_) => return true,
                ExpressionKind::Member { base, .. } | ExpressionKind::Index { base, .. } => Some(base),
                _ => {
                    self.damaged = true;
                    self.report(
                        Diagnostic::error(
                            "unexpected-token",
                            expression.span,
                            "a path has only names with points between them, and subscripts",
                        )
                        .label("does not belong into a path"),
                    );
                    return false;
                }
            };
        }
        true
    }
}
