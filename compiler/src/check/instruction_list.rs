//! Bodies in Instruction List.
//!
//! Source: IEC 61131-3:2013, 7.2, tables 67 to 70.

use latchwork_grammar::tree::Instruction;

use super::Checker;
use crate::typed::Statement;

impl<'a> Checker<'a> {
    /// Checks a body in Instruction List.
    pub(super) fn instruction_list(&mut self, instructions: &'a [Instruction]) -> Vec<Statement> {
        if let (Some(first), Some(last)) = (instructions.first(), instructions.last()) {
            self.not_in_subset(first.span.to(last.span), "a body in Instruction List");
        }
        Vec::new()
    }
}
