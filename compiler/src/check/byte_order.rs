//! What the functions of byte order work on: values of which every pattern of bits is one, and what consists of such.
//!
//! Source: IEC 61131-3:2013, table 37. Our choice: with the bytes turned round a value of an enumeration or subrange
//! might be none of its type, a reference would lead anywhere, so they are refused; by itself a subrange counts as its
//! base type, as in every operation.

use latchwork_grammar::{Diagnostic, Span};

use super::{Checker, standard::Callee};
use crate::types::{Type, TypeId};

impl Checker<'_> {
    /// Whether a function of byte order works on an array or structure; reports what is in its way.
    pub(super) fn accept_byte_order(&mut self, callee: &Callee, ty: TypeId, span: Span) -> bool {
        let Some(inside) =
            self.find_inside(ty, |kind| self.without_byte_order(kind).map(|why| (kind.clone(), why)))
        else {
            return true;
        };
        let (kind, why) = inside;
        let type_name = self.type_name(ty);
        let mut diagnostic = Diagnostic::error(
            "operand-types",
            span,
            format!("{} does not work on {type_name}", callee.shown),
        )
        .label(type_name.clone());
        let found = self.types.find(&kind).map(|id| self.type_name(id)).unwrap_or_default();
        diagnostic = diagnostic.note(if found == type_name || found.is_empty() {
            why.to_owned()
        } else {
            format!("{found} is inside: {why}")
        });
        self.report(diagnostic);
        false
    }

    /// Why the bytes of a type cannot be turned round; `None` if they can, apart from what is inside.
    fn without_byte_order(&self, kind: &Type) -> Option<&'static str> {
        match kind {
            Type::Enumeration(_) | Type::NamedValues { .. } | Type::Subrange { .. } => {
                Some("with its bytes turned round a value might be none of the type")
            }
            Type::Reference(_) | Type::Interface(_) | Type::Null => Some("a reference has no order of bytes"),
            Type::Unit(_) | Type::StandardBlock(_) => {
                Some("an instance has no value of its own; use its inputs and outputs")
            }
            Type::OpenArray { .. } => Some("an array of any bounds cannot be used as a whole"),
            Type::Structure(id) => {
                let open = self.types.open_members.range((*id, 0)..=(*id, u32::MAX)).next().is_some();
                if self.types.structure(*id).overlap {
                    Some("where members share bytes these have no one order")
                } else if open {
                    Some("a member whose address is given in VAR_CONFIG lies elsewhere")
                } else {
                    None
                }
            }
            _ => None,
        }
    }
}
