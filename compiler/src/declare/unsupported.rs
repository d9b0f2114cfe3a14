//! What the parser reads and nothing behind it works on yet: each is one error, so that no program is accepted
//! whose meaning would be lost. Must not look into bodies.

use latchwork_grammar::tree::ProgramUnit;

use crate::check::Checker;

impl Checker<'_> {
    /// Reports the first part of a unit that is not supported.
    pub(super) fn report_unsupported_parts(&mut self, unit: &ProgramUnit) {
        // An error was found in it, so it is not accepted anyway.
        if unit.damaged {
            return;
        }
        let parts = [
            (unit.access.map(|(_, span)| span), "an access specifier"),
            (unit.using.first().map(|using| using.span), "`USING`"),
        ];
        if let Some((span, what)) = parts.into_iter().find_map(|(span, what)| Some((span?, what))) {
            self.not_in_subset(span, what);
        }
    }
}
