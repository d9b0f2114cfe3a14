//! Members of structures with relative addresses, and structures whose members overlap.
//!
//! Source: IEC 61131-3:2013, 6.4.4.6, table 11, features 8 and 9. Our choices: the number is a byte whatever the
//! size letter is; either all members have a place or none; an OVERLAP structure holds bit strings, numbers and
//! characters only and starts as zero bits, so that no reference, text or enumeration value comes from other
//! bytes; a BOOL there is one bit.

use latchwork_grammar::{
    Diagnostic,
    tree::{AddressSize, Initializer, RelativeAddress, VariableDeclaration},
};
use latchwork_stdlib::TypeClass;
use latchwork_vm::ElementaryType as E;

use super::{sections::initial_span, size_bits, size_letter};
use crate::{
    check::Checker,
    types::{MemberPlace, Type, TypeId},
};

impl<'a> Checker<'a> {
    /// Either all members have a place or none.
    pub(super) fn check_all_placed(&mut self, declarations: &'a [VariableDeclaration]) {
        let placed = declarations.iter().find_map(|declaration| declaration.relative.as_ref());
        let free = declarations
            .iter()
            .find(|declaration| declaration.relative.is_none() && declaration.location.is_none());
        if let (Some(placed), Some(free)) = (placed, free) {
            self.report(
                Diagnostic::error(
                    "member-place",
                    free.span,
                    "this member has no relative address, others have one",
                )
                .label("where is it?")
                .also(placed.span, "a relative address")
                .note("give every member of the structure a place with AT, or none of them"),
            );
        }
    }

    /// Where a member lies, if that is said or all members begin at the start.
    pub(super) fn member_place(
        &mut self,
        declaration: &'a VariableDeclaration,
        kind: TypeId,
        overlap: bool,
    ) -> Option<MemberPlace> {
        let boolean = self.types.elementary_base(kind) == Some(E::Bool);
        if overlap {
            self.check_overlapping_member(declaration, kind);
        }
        if declaration.location.is_some() {
            // Its place is outside of the structure.
            return None;
        }
        match &declaration.relative {
            Some(relative) => self.relative_place(relative, kind, boolean),
            None if overlap => Some(MemberPlace { byte: 0, bit: boolean.then_some(0) }),
            None => None,
        }
    }

    fn relative_place(
        &mut self,
        relative: &RelativeAddress,
        kind: TypeId,
        boolean: bool,
    ) -> Option<MemberPlace> {
        if self.is_unknown(kind) {
            return None;
        }
        let (element, is_array) = match self.types.get(self.types.underlying(kind)) {
            Type::Array { element, .. } => (*element, true),
            _ => (kind, false),
        };
        let type_name = self.type_name(kind);
        let bits = self.types.elementary_base(element).map(|kind| match kind {
            E::Bool => 1,
            kind => kind.size().map_or(8, |bytes| bytes * 8),
        });
        if is_array && bits == Some(1) {
            self.report(
                Diagnostic::error(
                    "member-place",
                    relative.span,
                    format!("{type_name} cannot have a relative address"),
                )
                .label("bits of an array lie in bytes of their own")
                .note("use a BYTE, WORD, DWORD or LWORD, whose bits are reached with `.%X`"),
            );
            return None;
        }
        // What is not elementary begins at a byte.
        let wanted = bits.unwrap_or(8);
        if wanted != size_bits(relative.size) {
            let letter = match wanted {
                1 => AddressSize::Bit,
                8 => AddressSize::Byte,
                16 => AddressSize::Word,
                32 => AddressSize::DoubleWord,
                _ => AddressSize::LongWord,
            };
            self.report(
                Diagnostic::error(
                    "address-size",
                    relative.span,
                    format!("the size letter {} does not fit {type_name}", size_letter(relative.size)),
                )
                .label(format!(
                    "names {}",
                    crate::check::describe::count(size_bits(relative.size) as usize, "bit", "bits")
                ))
                .note(format!("the size letter for {type_name} is {}", size_letter(letter))),
            );
            return None;
        }
        let bit = match (boolean, relative.bit) {
            (false, None) => None,
            (true, Some(bit)) if bit <= 7 => Some(bit as u8),
            (true, Some(bit)) => {
                self.report(
                    Diagnostic::error("address-bit", relative.span, format!("a byte has no bit {bit}"))
                        .label("the number behind the point is a bit, 0 to 7"),
                );
                return None;
            }
            (true, None) => {
                self.report(
                    Diagnostic::error(
                        "member-place",
                        relative.span,
                        "a bit is named by its byte and its number",
                    )
                    .label("the number of the bit is missing")
                    .note("write `%X3.5` for bit 5 of byte 3"),
                );
                return None;
            }
            (false, Some(_)) => {
                self.report(
                    Diagnostic::error(
                        "member-place",
                        relative.span,
                        format!("{type_name} begins at a byte, not at a bit"),
                    )
                    .label("only a BOOL is a bit"),
                );
                return None;
            }
        };
        Some(MemberPlace { byte: relative.byte, bit })
    }

    fn check_overlapping_member(&mut self, declaration: &'a VariableDeclaration, kind: TypeId) {
        if let Some(initial) = &declaration.initial {
            self.report_overlap_initial(initial);
        }
        if self.is_unknown(kind) {
            return;
        }
        if let Some(location) = &declaration.location {
            self.report(
                Diagnostic::error(
                    "member-place",
                    location.span,
                    "a member with an address shares no bytes with others",
                )
                .label("not in a STRUCT OVERLAP"),
            );
            return;
        }
        let (element, is_array) = match self.types.get(self.types.underlying(kind)) {
            Type::Array { element, .. } => (*element, true),
            _ => (kind, false),
        };
        let plain = match self.types.get(self.types.underlying(element)) {
            Type::Elementary(E::Bool) => !is_array,
            Type::Elementary(kind) | Type::NamedValues { base: kind, .. } => {
                [TypeClass::AnyBit, TypeClass::AnyNum, TypeClass::AnyChar]
                    .iter()
                    .any(|class| class.accepts(*kind))
            }
            _ => false,
        };
        if !plain {
            let type_name = self.type_name(kind);
            self.report(
                Diagnostic::error(
                    "member-place",
                    declaration.specification.span,
                    format!("{type_name} cannot share its bytes with other members"),
                )
                .label("not in a STRUCT OVERLAP")
                .note("bit strings, integers, reals and characters can, and arrays of them; other types have bytes that mean nothing"),
            );
        }
    }

    /// An initial value of a structure with OVERLAP or of one of its members.
    pub(super) fn report_overlap_initial(&mut self, initial: &Initializer) {
        self.report(
            Diagnostic::error(
                "initial-not-allowed",
                initial_span(initial),
                "a structure with OVERLAP cannot have initial values",
            )
            .label("several members may lie here")
            .note("all of its bits start as 0; assign members in the body"),
        );
    }
}
