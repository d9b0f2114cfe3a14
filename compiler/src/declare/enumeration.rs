//! Enumerations, plain and with named values.
//!
//! Source: IEC 61131-3:2013, 6.4.4.2 and 6.4.4.3. Our choices: a value without a number is one more than the value
//! before it, and values may share a number.

use std::collections::BTreeMap;

use latchwork_grammar::{
    Diagnostic, Name, Span,
    tree::{self, EnumerationValue, Ident, TypeSpecification},
};
use latchwork_vm::ElementaryType;

use crate::{
    check::{Checker, conversion::Goal},
    constant,
    scope::ValueSymbol,
    typed::Constant,
    types::{Enumeration, Type, TypeId},
};

impl<'a> Checker<'a> {
    pub(super) fn enumeration(
        &mut self,
        base: Option<&'a TypeSpecification>,
        values: &'a [EnumerationValue],
        name: Option<Ident>,
        span: Span,
    ) -> TypeId {
        let mut base_kind = None;
        if let Some(base) = base {
            let id = self.resolve(base);
            match self.types.elementary_base(id) {
                Some(kind) if constant::integer_range(kind).is_some() => base_kind = Some(kind),
                _ if self.is_unknown(id) => return id,
                _ => {
                    let base_name = self.type_name(id);
                    self.report(
                        Diagnostic::error(
                            "enumeration-value",
                            base.span,
                            format!("{base_name} cannot be the base of named values"),
                        )
                        .label("an integer or bit string type is needed"),
                    );
                    return self.unknown_type();
                }
            }
        }
        let mut places: BTreeMap<Name, Span> = BTreeMap::new();
        let mut listed: Vec<(Name, i128)> = Vec::new();
        let mut next: i128 = 0;
        for value in values {
            self.check_reserved(value.name, "a value of an enumeration");
            if let Some(first) = places.insert(value.name.name, value.name.span) {
                self.report_duplicate(value.name, first, "values of one enumeration");
                continue;
            }
            if let Some(written) = &value.value {
                next = self.named_value(written, base_kind).unwrap_or(next);
            }
            let range = base_kind.and_then(constant::integer_range).unwrap_or((0, i128::from(i32::MAX)));
            if next < range.0 || next > range.1 {
                let place = value.value.as_ref().map_or(value.name.span, |written| written.span);
                let what = base_kind.map_or("the enumeration", |kind| kind.name());
                self.report(
                    Diagnostic::error("enumeration-value", place, format!("{next} is not a value of {what}"))
                        .label(format!("must be from {} to {}", range.0, range.1)),
                );
                next = range.0;
            }
            listed.push((value.name.name, next));
            next += 1;
        }
        if listed.is_empty() {
            return self.unknown_type();
        }
        let enumeration = Enumeration {
            name: name.map(|ident| ident.name),
            values: listed.clone(),
            span: name.map_or(span, |ident| ident.span),
        };
        let derived = self.types.add_enumeration(enumeration);
        let id = match base_kind {
            Some(base) => self.types.intern(Type::NamedValues { id: derived, base }),
            None => self.types.intern(Type::Enumeration(derived)),
        };
        for (value_name, value) in listed {
            let symbol = ValueSymbol { ty: id, value };
            match self.unit {
                // Values of an enumeration without a name belong to the unit it stands in.
                Some(unit) if name.is_none() => {
                    self.units[unit.0 as usize].values.entry(value_name).or_default().push(symbol);
                }
                _ => self.values.entry(value_name).or_default().push(symbol),
            }
        }
        id
    }

    pub(super) fn named_value(
        &mut self,
        written: &'a tree::Expression,
        base: Option<ElementaryType>,
    ) -> Option<i128> {
        let Some(base) = base else {
            self.report(
                Diagnostic::error(
                    "enumeration-value",
                    written.span,
                    "the values of a plain enumeration have no numbers",
                )
                .label("number for a value without a base type")
                .note(
                    "write the base type in front of the list to give numbers: `INT (Low := 1, High := 5)`",
                ),
            );
            return None;
        };
        let base_id = self.elementary(base);
        match self.constant(written, Some(base_id), &Goal::NamedValue)?.0 {
            Constant::Integer(value) => Some(value),
            _ => None,
        }
    }
}
