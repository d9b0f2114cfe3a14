//! Initial values of all forms: constants, lists for arrays, members of structures, inputs and outputs of
//! function block instances.
//!
//! Source: IEC 61131-3:2013, 6.5.1 and table 14. Lists that are too long are cut with a warning (the wording
//! of the second edition, taken to stand).

use std::collections::BTreeMap;

use latchwork_grammar::{
    Diagnostic, Name, Span,
    tree::{self, ArrayInitialElement, Ident, Initializer, SectionKind},
};
use latchwork_vm::Section;

use super::sections::initial_span;
use crate::{
    check::{Checker, conversion::Goal},
    nearest::nearest,
    object_scope::{Visibility, is_incomplete},
    typed::{ExpressionKind, InitialValue, VariableId},
    types::{Type, TypeId},
};

/// Most values a list may stand for, repetitions counted out, so that `1000000000(7)` cannot fill memory.
const LIST_VALUES_MAX: u64 = 1 << 20;

impl<'a> Checker<'a> {
    /// The initial value of something of type `kind`; `ident` names it in messages.
    pub(crate) fn initial_value(
        &mut self,
        initial: &'a Initializer,
        kind: TypeId,
        ident: Ident,
    ) -> Option<InitialValue> {
        if self.is_unknown(kind) {
            return None;
        }
        let underlying = self.types.underlying(kind);
        match (self.types.get(underlying).clone(), initial) {
            (Type::Array { bounds, element }, Initializer::Array { elements, span }) => {
                self.array_value(&bounds, element, elements, *span, ident)
            }
            (Type::Structure(derived), other) if self.types.structure(derived).overlap => {
                self.report_overlap_initial(other);
                None
            }
            (Type::Structure(derived), Initializer::Structure { members, .. }) => {
                let known = self.types.structure(derived).members.iter();
                let known = known.enumerate().map(|(index, m)| (m.name, (index as u32, m.kind))).collect();
                self.member_values(members, &known, kind)
            }
            (Type::Unit(unit), Initializer::Structure { members, .. }) => {
                let mut known = BTreeMap::new();
                for index in 0..self.units[unit.0 as usize].declared.len() {
                    self.resolve_variable(unit, VariableId(index as u32));
                    let variable = &self.units[unit.0 as usize].variables[index];
                    let visibility = &self.units[unit.0 as usize].object.variable_visibility;
                    let outside = match variable.section {
                        SectionKind::Input | SectionKind::Output => !self.is_instance(variable.kind),
                        SectionKind::Var => visibility.get(index) == Some(&Visibility::Public),
                        _ => false,
                    };
                    if let (true, Some(name)) = (outside, variable.name) {
                        known.insert(name, (index as u32, variable.kind));
                    }
                }
                self.member_values(members, &known, kind)
            }
            (Type::StandardBlock(index), Initializer::Structure { members, .. }) => {
                let block = self.types.standard_block(index);
                let mut known = BTreeMap::new();
                for (member, _) in members {
                    let Some(found) = block.member_index(self.text(member.span)) else { continue };
                    // `member_index` gives places inside `members`.
                    let entry = &block.members[found];
                    if matches!(entry.section, Section::Input | Section::Output) {
                        let ty = self.elementary(entry.ty);
                        known.insert(member.name, (found as u32, ty));
                    }
                }
                self.member_values(members, &known, kind)
            }
            (Type::OpenArray { .. }, other) => {
                self.report(
                    Diagnostic::error(
                        "initial-not-allowed",
                        initial_span(other),
                        "an array of any bounds cannot have an initial value",
                    )
                    .label("the array is that of the caller"),
                );
                None
            }
            (Type::Array { .. }, other) => self.wrong_form(other, kind, "a list in brackets: `[1, 2, 3]`"),
            (Type::Structure(_), other) => self.wrong_form(
                other,
                kind,
                "its members by name in parentheses: `(Level := 1, Full := FALSE)`",
            ),
            (Type::Unit(_) | Type::StandardBlock(_), other) => {
                self.wrong_form(other, kind, "its inputs by name in parentheses: `(PT := T#5s)`")
            }
            (Type::Reference(_), Initializer::Expression(expression)) => {
                self.initial_reference(expression, kind, ident)
            }
            (_, Initializer::Expression(expression)) => {
                let goal = Goal::Initial { place: ident.span };
                let (value, _) = self.constant(expression, Some(kind), &goal)?;
                Some(InitialValue::Constant(value))
            }
            (_, other) => self.wrong_form(other, kind, "one value"),
        }
    }

    /// NULL or `REF(variable)`: where a variable that lasts has its place is known before the program runs.
    fn initial_reference(
        &mut self,
        expression: &'a tree::Expression,
        kind: TypeId,
        ident: Ident,
    ) -> Option<InitialValue> {
        let goal = Goal::Initial { place: ident.span };
        let outer = std::mem::replace(&mut self.constant_only, true);
        let mut value = self.expression_for(expression, kind, &goal);
        self.constant_only = outer;
        while let ExpressionKind::Convert(inner) = value.kind {
            value = *inner;
        }
        match value.kind {
            _ if self.is_unknown(value.ty) => None,
            ExpressionKind::Constant(constant) => Some(InitialValue::Constant(constant)),
            ExpressionKind::Reference(access) => Some(InitialValue::Reference(access)),
            _ => {
                self.report(
                    Diagnostic::error(
                        "not-constant",
                        value.span,
                        "a reference known before the program runs is needed here",
                    )
                    .label("only known at run time")
                    .note("NULL and REF of a variable can stand here"),
                );
                None
            }
        }
    }

    fn wrong_form(&mut self, initial: &Initializer, kind: TypeId, wanted: &str) -> Option<InitialValue> {
        let type_name = self.type_name(kind);
        self.report(
            Diagnostic::error(
                "initial-form",
                initial_span(initial),
                format!("this is not the form of an initial value for {type_name}"),
            )
            .label("wrong form")
            .note(format!("{type_name} takes {wanted}")),
        );
        None
    }

    fn array_value(
        &mut self,
        bounds: &[(i64, i64)],
        element: TypeId,
        elements: &'a [ArrayInitialElement],
        span: Span,
        ident: Ident,
    ) -> Option<InitialValue> {
        let capacity = bounds.iter().fold(1u64, |count, (lower, upper)| {
            count.saturating_mul(upper.abs_diff(*lower).saturating_add(1))
        });
        let mut list: Vec<Option<InitialValue>> = Vec::new();
        let mut given: u64 = 0;
        let mut first_extra = None;
        for entry in elements {
            let repetition = match &entry.repetition {
                None => 1,
                Some(written) => match self.constant_integer(written) {
                    Some((value, _)) => match u64::try_from(value) {
                        Ok(value) => value,
                        Err(_) => {
                            self.report(
                                Diagnostic::error(
                                    "initial-form",
                                    written.span,
                                    format!("a value cannot be repeated {value} times"),
                                )
                                .label("0 or more"),
                            );
                            return None;
                        }
                    },
                    None => return None,
                },
            };
            let mut values: Vec<Option<InitialValue>> = Vec::new();
            for value in &entry.values {
                // An element whose value is wrong keeps its default; the mistake is reported.
                values.push(self.initial_value(value, element, ident));
            }
            let width = (values.len() as u64).max(1);
            let total = repetition.saturating_mul(width);
            given = given.saturating_add(total);
            if given > capacity && first_extra.is_none() {
                first_extra = entry.values.first().map(initial_span).or(Some(span));
            }
            let wanted = total.min(capacity.saturating_sub(list.len() as u64));
            if (list.len() as u64).saturating_add(wanted) > LIST_VALUES_MAX {
                self.report(
                    Diagnostic::error(
                        "initial-form",
                        span,
                        format!("an initial value may list at most {LIST_VALUES_MAX} elements"),
                    )
                    .label("too long")
                    .note("give the elements their values in the program"),
                );
                return None;
            }
            for index in 0..wanted {
                // Inside: the remainder is smaller than the length, unless there are no values at all.
                list.push(values.get((index % width) as usize).cloned().flatten());
            }
        }
        if let Some(place) = first_extra {
            self.report(
                Diagnostic::warning(
                    "too-many-initial-values",
                    place,
                    format!("{given} values for an array of {capacity} elements"),
                )
                .label("from here on, values are not used")
                .note("take them out or make the array longer"),
            );
        }
        Some(InitialValue::Array(list))
    }

    fn member_values(
        &mut self,
        members: &'a [(Ident, Initializer)],
        known: &BTreeMap<Name, (u32, TypeId)>,
        whole: TypeId,
    ) -> Option<InitialValue> {
        let mut values = Vec::new();
        let mut places: BTreeMap<u32, Span> = BTreeMap::new();
        for (ident, initial) in members {
            let Some((index, kind)) = known.get(&ident.name).copied() else {
                self.report_unknown_member(*ident, whole);
                continue;
            };
            if let Some(first) = places.insert(index, ident.span) {
                self.report_duplicate(*ident, first, "the members given in an initial value");
                continue;
            }
            if let Some(value) = self.initial_value(initial, kind, *ident) {
                values.push((index, value));
            }
        }
        Some(InitialValue::Members(values))
    }

    /// A member that a structure or function block type does not have, or does not show.
    pub(crate) fn report_unknown_member(&mut self, ident: Ident, whole: TypeId) {
        if let Type::Unit(unit) = self.types.get(self.types.underlying(whole))
            && is_incomplete(&self.units, *unit)
        {
            return;
        }
        let spelling = self.text(ident.span);
        let type_name = self.type_name(whole);
        let known = match self.types.get(self.types.underlying(whole)) {
            Type::Structure(derived) => self.types.structure(*derived).members.len(),
            Type::Unit(unit) => self.units[unit.0 as usize].variables.len(),
            _ => 0,
        };
        let search = self.may_search(known);
        // What is not searched is only listed.
        let wanted = if search { usize::MAX } else { LISTED_MAX + 1 };
        let mut hidden = None;
        let (members, place): (Vec<String>, Option<Span>) = match self.types.get(self.types.underlying(whole))
        {
            Type::Structure(derived) => {
                let structure = self.types.structure(*derived);
                let members = structure.members.iter().map(|member| self.spelling(member.name).to_owned());
                // The type of steps is declared nowhere.
                let place = (Some(whole) != self.step_type).then_some(structure.span);
                (members.take(wanted).collect(), place)
            }
            Type::Unit(unit) => {
                let unit = &self.units[unit.0 as usize];
                let shown = unit.variables.iter().filter(|variable| {
                    matches!(variable.section, SectionKind::Input | SectionKind::Output | SectionKind::InOut)
                });
                let shown =
                    shown.filter_map(|variable| variable.name).map(|name| self.spelling(name).to_owned());
                hidden = unit.by_name.get(&ident.name).map(|id| unit.variables[id.0 as usize].span);
                (shown.take(wanted).collect(), Some(unit.tree.name.span))
            }
            Type::StandardBlock(index) => {
                let members = self.types.standard_block(*index).members.iter();
                let shown = members.filter(|member| !member.hidden).map(|member| member.name.to_owned());
                (shown.collect(), None)
            }
            _ => (Vec::new(), None),
        };
        if let Some(hidden) = hidden {
            self.report(
                Diagnostic::error(
                    "private-variable",
                    ident.span,
                    format!("`{spelling}` belongs to the inside of {type_name}"),
                )
                .label("cannot be reached from outside")
                .also(hidden, "declared here")
                .note("only VAR_INPUT can be set and VAR_OUTPUT read from outside; make it a VAR_OUTPUT to show it"),
            );
            return;
        }
        let mut diagnostic =
            Diagnostic::error("unknown-member", ident.span, format!("{type_name} has no `{spelling}`"))
                .label("no such member");
        if let Some(place) = place {
            diagnostic = diagnostic.also(place, format!("{type_name} is declared here"));
        }
        let near = if search { nearest(spelling, members.iter().map(String::as_str)) } else { None };
        if let Some(near) = near {
            diagnostic = diagnostic.note(format!("its nearest member is `{near}`"));
        } else if !members.is_empty() {
            diagnostic = diagnostic.note(format!("it has {}", listed(&members)));
        }
        self.report(diagnostic);
    }
}

/// Most names listed in a message.
const LISTED_MAX: usize = 8;

/// The first names of a list for a message.
pub(crate) fn listed(names: &[String]) -> String {
    let mut shown: Vec<String> = names.iter().take(LISTED_MAX).map(|name| format!("`{name}`")).collect();
    if names.len() > LISTED_MAX {
        shown.push("…".to_owned());
    }
    shown.join(", ")
}
