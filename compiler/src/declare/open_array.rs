//! Parameters for arrays of any bounds: where `ARRAY [*]` may stand.
//!
//! Source: IEC 61131-3:2013, 6.5.3 and table 15: inputs, outputs and in-outs of functions and methods, in-outs of
//! function blocks.

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{ArrayDimension, SectionKind, TypeSpecificationKind, UnitKind, VariableDeclaration},
};

use crate::{
    check::Checker,
    types::{Type, TypeId},
};

impl<'a> Checker<'a> {
    /// The type of a variable of a unit, which may be an array of any bounds if it is a parameter.
    pub(super) fn resolve_parameter(
        &mut self,
        declaration: &'a VariableDeclaration,
        section: SectionKind,
        unit: UnitKind,
    ) -> TypeId {
        let specification = &declaration.specification;
        let TypeSpecificationKind::Array { dimensions, element } = &specification.kind else {
            return self.resolve(specification);
        };
        let open: Vec<Span> = dimensions
            .iter()
            .filter_map(|dimension| match dimension {
                ArrayDimension::Open(span) => Some(*span),
                ArrayDimension::Bounds { .. } => None,
            })
            .collect();
        let Some(first) = open.first().copied() else { return self.resolve(specification) };
        let allowed = match section {
            SectionKind::InOut => !matches!(unit, UnitKind::Program),
            SectionKind::Input | SectionKind::Output => matches!(unit, UnitKind::Function | UnitKind::Method),
            _ => false,
        };
        if !allowed {
            self.report_open_array(first);
            return self.unknown_type();
        }
        if open.len() < dimensions.len() {
            self.report(
                Diagnostic::error("open-array", first, "the bounds of an array are all open or all given")
                    .label("open, others are not")
                    .note("write `*` for every dimension: `ARRAY [*, *] OF …`"),
            );
            return self.unknown_type();
        }
        let element = self.resolve(element);
        let Ok(dimensions) = u8::try_from(dimensions.len()) else {
            self.report(
                Diagnostic::error(
                    "open-array",
                    specification.span,
                    "an array of any bounds has too many dimensions",
                )
                .label("more than 255"),
            );
            return self.unknown_type();
        };
        if self.is_unknown(element) {
            return element;
        }
        self.types.intern(Type::OpenArray { dimensions, element })
    }

    /// `*` where the bounds of an array must be known.
    pub(super) fn report_open_array(&mut self, span: Span) {
        self.report(
            Diagnostic::error("open-array", span, "the bounds of this array must be given")
                .label("open")
                .note(
                    "only the VAR_INPUT, VAR_OUTPUT and VAR_IN_OUT of a function or method, and the VAR_IN_OUT of a \
                     function block, can take arrays of any bounds",
                ),
        );
    }
}
