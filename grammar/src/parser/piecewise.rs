//! One piece through the grammar, and what to do when it does not fit: put the commonest slips right and try
//! again, find a missing end, or say what was expected and go on behind the piece.

use super::{
    Parser, Said,
    cut::{self, Cut},
    depth::{self, TooDeep},
};
use crate::{
    diagnostic::Diagnostic,
    direct::Reader,
    lexer::{Token, TokenKind},
    piece::{Failure, Piece, PieceKind},
};

/// Slips put right in one piece before it is given up.
const REPAIRS_MAX: usize = 8;

/// What to do about a piece that does not fit.
pub(super) enum Remedy {
    /// The tokens were changed, and what was wrong was noted: try again.
    Changed,
    /// The piece ends before this token; its last token is missing.
    EndsBefore(usize),
    /// Nothing certain: report what was expected.
    Unknown,
    /// Give the piece up with this message, and go on at this token of the file.
    GiveUp(Box<Diagnostic>, Option<usize>),
}

/// A piece on its way through the repairs.
pub(super) struct Patient {
    pub kind: PieceKind,
    /// The tokens as repaired so far.
    pub tokens: Vec<Token>,
    /// What was wrong so far.
    pub problems: Vec<Diagnostic>,
    pub cut: Cut,
    /// Index in the file of the first token of the piece.
    pub start: usize,
}

impl<'a> Parser<'a> {
    /// What the short way makes of the text at `start`, and where to go on. Nothing where the grammar has to look: the
    /// piece is then to be cut and parsed as if nothing had been tried.
    ///
    /// The text needs not be cut: what the short way takes holds none of the words and signs before which it would be.
    pub(super) fn directly<Tree>(
        &mut self,
        start: usize,
        limit: usize,
        read: impl FnOnce(&mut Reader<'a>) -> Option<Tree>,
    ) -> Option<(Tree, usize)> {
        if !self.is_direct {
            return None;
        }
        let arguments = std::mem::take(&mut self.arguments);
        let mut reader = Reader::new(self.context, self.slice(start, limit), arguments);
        let tree = read(&mut reader);
        let next = start + reader.read();
        self.arguments = reader.into_arguments();
        Some((tree?, next))
    }

    /// Parses the tokens from `start` up to the end of the cut. Reports what is wrong with them. Tells the tree,
    /// if there is one, and where to go on.
    pub(super) fn piece(&mut self, kind: PieceKind, start: usize, cut: Cut) -> (Option<Box<Piece>>, usize) {
        let slice = self.slice(start, cut.end);
        if let Some(too_deep) = depth::measure(slice) {
            self.report_too_deep(start, too_deep);
            return (None, cut.end.max(start + 1));
        }
        if self.has_unreadable && slice.iter().any(|token| token.kind == TokenKind::Unreadable) {
            self.damaged = true;
            return (None, self.behind_unreadable(start, cut));
        }
        let behind = if cut.terminated { None } else { missing_terminator(kind, slice) };
        match self.pieces.tokens(self.context, kind, slice, behind) {
            Ok(piece) => {
                if behind.is_some() {
                    self.report_missing_end(kind, start, cut.end);
                }
                (Some(piece), cut.end)
            }
            Err(failure) => self.treat(kind, start, cut, failure),
        }
    }

    /// Something unreadable swallowed the rest of its line, and with it the end of the piece.
    fn behind_unreadable(&self, start: usize, cut: Cut) -> usize {
        let bad = (start..cut.end).find(|index| self.kind(*index) == TokenKind::Unreadable);
        let behind = bad.map_or(cut.end, |index| index + 1);
        // The next line begins something new, unless brackets are open.
        if cut::balance(self.slice(start, behind)) > 0 && cut.terminated { cut.end } else { behind }
    }

    fn report_too_deep(&mut self, start: usize, too_deep: TooDeep) {
        self.damaged = true;
        if !self.said.insert(Said::TooDeep) {
            return;
        }
        let (offset, message) = match too_deep {
            TooDeep::Brackets(offset) => {
                (offset, format!("brackets are nested more than {} deep", super::NESTING_MAX))
            }
            TooDeep::Chain(offset) => {
                (offset, format!("more than {} operators depend on one another here", depth::CHAIN_MAX))
            }
        };
        let problem = Diagnostic::error("nesting-too-deep", self.span(start + offset), message)
            .label("too deep from here on")
            .note("compute parts of it in variables of their own");
        self.report(problem);
    }

    fn treat(
        &mut self,
        kind: PieceKind,
        start: usize,
        cut: Cut,
        failure: Failure,
    ) -> (Option<Box<Piece>>, usize) {
        let mut patient =
            Patient { kind, tokens: self.slice(start, cut.end).to_vec(), problems: Vec::new(), cut, start };
        let mut failure = failure;
        for _ in 0..REPAIRS_MAX {
            let at = place_of(&patient.tokens, &failure);
            match self.remedy(&mut patient, at, &failure.expected) {
                Remedy::Changed => {
                    let behind =
                        if cut.terminated { None } else { missing_terminator(kind, &patient.tokens) };
                    match self.pieces.tokens(self.context, kind, &patient.tokens, behind) {
                        Ok(piece) => {
                            self.report_all(patient.problems);
                            if behind.is_some() {
                                self.report_missing_end(kind, start, cut.end);
                            }
                            return (Some(piece), cut.end);
                        }
                        Err(next) => failure = next,
                    }
                }
                Remedy::EndsBefore(place) => {
                    let prefix = patient.tokens.get(..place).unwrap_or(&[]);
                    let behind = missing_terminator(kind, prefix);
                    let next = self.original_index(&patient, place);
                    let piece = self.pieces.tokens(self.context, kind, prefix, behind).ok();
                    self.damaged |= piece.is_none();
                    self.report_all(patient.problems);
                    self.report_missing_end(kind, start, next);
                    return (piece, next);
                }
                Remedy::GiveUp(problem, next) => {
                    patient.problems.push(*problem);
                    self.damaged = true;
                    self.report_all(patient.problems);
                    let next = next.unwrap_or_else(|| self.next_after_failure(kind, start, cut, at));
                    return (None, next.max(start + 1));
                }
                Remedy::Unknown => break,
            }
        }
        let at = place_of(&patient.tokens, &failure);
        let index = self.original_index(&patient, at);
        let problem = self.word_failure(&patient, at, index, &failure.expected);
        self.damaged = true;
        let silent = self.is_behind_unread(index);
        self.report_all(patient.problems);
        if !silent {
            self.report(problem);
        }
        (None, self.next_after_failure(kind, start, cut, at).max(start + 1))
    }

    fn report_all(&mut self, problems: Vec<Diagnostic>) {
        for problem in problems {
            self.report(problem);
        }
    }

    /// Index in the file of a token of the patient, or of the end of the piece.
    pub(super) fn original_index(&self, patient: &Patient, place: usize) -> usize {
        let Some(token) = patient.tokens.get(place) else { return patient.cut.end };
        let offset =
            self.slice(patient.start, patient.cut.end).partition_point(|own| own.start < token.start);
        patient.start + offset
    }

    /// Where to go on after a piece that was given up.
    fn next_after_failure(&self, kind: PieceKind, start: usize, cut: Cut, at: usize) -> usize {
        if !cut.terminated {
            if matches!(kind, PieceKind::Condition | PieceKind::For) {
                // The statements of the block may have been taken into its head.
                let next_line = (start + at.max(1)..cut.end).find(|index| self.first_on_line(*index));
                return next_line.unwrap_or(cut.end);
            }
            return cut.end;
        }
        if matches!(kind, PieceKind::Statement | PieceKind::Variable) {
            return self.call_goes_on(start, cut).unwrap_or(cut.end);
        }
        cut.end
    }

    /// `f(a; b);`: where a call ends that was cut short by a semicolon between its arguments.
    pub(super) fn call_goes_on(&self, start: usize, cut: Cut) -> Option<usize> {
        let slice = self.slice(start, cut.end);
        let open = cut::balance(slice);
        if open <= 0 {
            return None;
        }
        let innermost = *super::repair::open_brackets(slice).last()?;
        let place = slice.partition_point(|token| token.start < innermost.start);
        let is_call = place
            .checked_sub(1)
            .and_then(|before| slice.get(before))
            .is_some_and(|token| token.kind.ends_operand());
        let rest = self.cut_statement(cut.end, self.tokens.len());
        let closes = rest.terminated && cut::balance(self.slice(cut.end, rest.end)) == -open;
        (is_call && closes).then_some(rest.end)
    }
}

/// Index of the token a failure speaks of; the number of tokens for the end.
fn place_of(tokens: &[Token], failure: &Failure) -> usize {
    match failure.at {
        Some(byte) => {
            // An inserted token has no width and begins where its neighbour does: take the last with width.
            let place = tokens.partition_point(|token| token.start < byte);
            match tokens.get(place) {
                Some(token)
                    if token.start == token.end && tokens.get(place + 1).is_some_and(|n| n.start == byte) =>
                {
                    place + 1
                }
                _ => place,
            }
        }
        None => tokens.len(),
    }
}

/// The token a piece of this kind ends with, placed behind its tokens.
fn missing_terminator(kind: PieceKind, tokens: &[Token]) -> Option<Token> {
    use PieceKind as P;
    let first = tokens.first().map(|token| token.kind);
    let kind = match kind {
        P::Statement
        | P::Variable
        | P::Type
        | P::StructureTail
        | P::Using
        | P::Association
        | P::Task
        | P::Instance
        | P::Access
        | P::Setting => TokenKind::Semicolon,
        P::Condition | P::For => terminator_of_head(first?),
        P::Labels | P::PartHead => TokenKind::Colon,
        P::StructureHead
        | P::Unit
        | P::Bases
        | P::Namespace
        | P::Transition
        | P::Resource
        | P::Section
        | P::Expression
        | P::Constant
        | P::Instruction
        | P::Operand => {
            return None;
        }
    };
    let end = tokens.last().map_or(0, |token| token.end);
    Some(Token { kind, first_on_line: false, start: end, end, payload: 0 })
}

/// The word behind the condition of a block.
pub(super) fn terminator_of_head(opening: TokenKind) -> TokenKind {
    match opening {
        TokenKind::If | TokenKind::Elsif => TokenKind::Then,
        TokenKind::Case => TokenKind::Of,
        TokenKind::Until => TokenKind::EndRepeat,
        _ => TokenKind::Do,
    }
}
