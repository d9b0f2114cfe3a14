//! Associations of actions with steps: the action or variable, the qualifier, its time, indicators.
//!
//! Source: IEC 61131-3:2013, 6.7.4, tables 56, 57 and 59. Our choices: an indicator is checked and has no effect;
//! a time is a literal or a variable.

use std::collections::BTreeMap;

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{self, ActionQualifier, Ident, SectionKind},
};
use latchwork_vm::ElementaryType as E;

use super::{ControlledAction, Network, Target, Use, is_timed};
use crate::{
    check::{Checker, conversion::Goal},
    nearest::nearest,
    typed::{Expression, ExpressionKind},
};

impl<'a> Checker<'a> {
    /// Finds what each step is associated with.
    pub(super) fn find_associations(&mut self, network: &mut Network<'_>) {
        let mut known: BTreeMap<latchwork_grammar::Name, usize> = BTreeMap::new();
        for step in 0..network.steps.len() {
            let tree = &network.tree.steps[network.steps[step].tree];
            for association in &tree.associations {
                let qualifier = association.qualifier.map_or(ActionQualifier::NonStored, |(kind, _)| kind);
                let time = self.association_time(association, qualifier);
                self.check_indicators(&association.indicators);
                let Some(target) = self.association_target(association.action) else { continue };
                let Ok(time) = time else { continue };
                let index = *known.entry(association.action.name).or_insert_with(|| {
                    let name = association.action;
                    network.actions.push(ControlledAction {
                        name,
                        target,
                        uses: Vec::new(),
                        contended: false,
                    });
                    network.actions.len() - 1
                });
                network.actions[index].uses.push(Use { step, qualifier, time, span: association.span });
            }
        }
    }

    /// What the name of an association stands for; `None` after a report.
    fn association_target(&mut self, ident: Ident) -> Option<Target> {
        let scope = &self.units[self.unit?.0 as usize];
        let names = scope.chart.as_ref()?;
        if let Some(action) = names.actions.get(&ident.name) {
            return Some(Target::Body(*action));
        }
        let spelling = self.text(ident.span);
        let Some(id) = scope.by_name.get(&ident.name).copied() else {
            if scope.tree.damaged {
                // The action may be the piece that could not be read.
                return None;
            }
            let count = names.actions.len() + scope.by_name.len();
            let search = self.may_search(count);
            let scope = &self.units[self.unit?.0 as usize];
            let actions = scope.chart.iter().flat_map(|names| names.actions.keys());
            let known = actions.chain(scope.by_name.keys()).map(|name| self.spelling(*name));
            let near = search.then(|| nearest(spelling, known)).flatten().map(str::to_owned);
            let diagnostic = Diagnostic::error(
                "unknown-action",
                ident.span,
                format!("there is no action `{spelling}` in this unit"),
            )
            .label("neither an action nor a variable");
            self.report(match near {
                Some(near) => diagnostic.fix(format!("write `{near}`"), ident.span, &near),
                None => {
                    diagnostic.note(format!("write `ACTION {spelling}: … END_ACTION`, or declare it as BOOL"))
                }
            });
            return None;
        };
        let variable = &scope.variables[id.0 as usize];
        let (section, constant, place, kind) =
            (variable.section, variable.constant, variable.span, variable.kind);
        if self.is_unknown(kind) {
            return None;
        }
        let type_name = self.type_name(kind);
        let why = if Some(kind) == self.step_type {
            "a step".to_owned()
        } else if self.types.elementary_base(kind) != Some(E::Bool) {
            type_name
        } else if constant {
            "CONSTANT".to_owned()
        } else {
            match section {
                SectionKind::Var | SectionKind::Output => {
                    let unit = self.unit?;
                    let scope = &mut self.units[unit.0 as usize];
                    scope.used.insert(id);
                    scope.written.insert(id);
                    return Some(Target::Variable(id));
                }
                SectionKind::Input => "VAR_INPUT".to_owned(),
                SectionKind::InOut => "VAR_IN_OUT".to_owned(),
                SectionKind::Temp => "VAR_TEMP".to_owned(),
                SectionKind::External | SectionKind::Global => "VAR_EXTERNAL".to_owned(),
            }
        };
        self.report(
            Diagnostic::error(
                "action-variable",
                ident.span,
                format!("`{spelling}` cannot be controlled by a step: it is {why}"),
            )
            .label("not a BOOL variable of VAR or VAR_OUTPUT")
            .also(place, "declared here")
            .note("a step controls an ACTION or a BOOL variable of its own unit; an ACTION may do the rest"),
        );
        None
    }

    /// The time of an association; `Err` after a report.
    fn association_time(
        &mut self,
        association: &tree::Association,
        qualifier: ActionQualifier,
    ) -> Result<Option<Expression>, ()> {
        let word = qualifier.spelling();
        match (&association.time, is_timed(qualifier)) {
            (None, false) => Ok(None),
            (None, true) => {
                let place = association.qualifier.map_or(association.span, |(_, span)| span);
                self.report(
                    Diagnostic::error("action-time", place, format!("the qualifier {word} needs a time"))
                        .label("how long?")
                        .note(format!("for example `{}({word}, T#5s);`", self.text(association.action.span))),
                );
                Err(())
            }
            (Some(time), false) => {
                let mut diagnostic = Diagnostic::error(
                    "action-time",
                    time.span,
                    format!("the qualifier {word} takes no time"),
                )
                .label("a time has no meaning here");
                if let Some(timed) = timed_relative(qualifier) {
                    diagnostic = diagnostic.note(format!("{timed} is the same with a time"));
                }
                self.report(diagnostic);
                Err(())
            }
            (Some(time), true) => {
                let duration = self.duration();
                let function = format!("the qualifier {word}");
                let goal = Goal::Operand { function: &function };
                let value = self.expression_for(time, duration, &goal);
                if self.is_unknown(value.ty) {
                    return Err(());
                }
                if !matches!(value.kind, ExpressionKind::Constant(_) | ExpressionKind::Access(_)) {
                    self.report(
                        Diagnostic::error(
                            "action-time",
                            time.span,
                            "the time of an action cannot be computed here",
                        )
                        .label("a literal or a variable of type TIME is needed")
                        .note("compute it into a variable, for example in an action of an earlier step"),
                    );
                    return Err(());
                }
                Ok(Some(value))
            }
        }
    }

    /// Indicators name what an action waits for, for the reader.
    fn check_indicators(&mut self, indicators: &[Ident]) {
        for indicator in indicators {
            let Some(id) = self.find_variable(indicator.name) else {
                self.report_no_variable(indicator.name, indicator.span);
                continue;
            };
            let Some(unit) = self.unit else { return };
            let scope = &mut self.units[unit.0 as usize];
            scope.used.insert(id);
            let variable = &scope.variables[id.0 as usize];
            let (kind, place) = (variable.kind, variable.span);
            if self.is_unknown(kind) {
                continue;
            }
            let name = self.text(indicator.span);
            if self.types.elementary_base(kind) != Some(E::Bool) {
                let type_name = self.type_name(kind);
                self.report(
                    Diagnostic::error(
                        "type-mismatch",
                        indicator.span,
                        format!("an indicator is a BOOL variable, `{name}` is {type_name}"),
                    )
                    .label(type_name)
                    .also(place, "declared here"),
                );
                continue;
            }
            self.report(
                Diagnostic::warning(
                    "indicator",
                    indicator.span,
                    format!("the indicator `{name}` has no effect"),
                )
                .label("for the reader only")
                .note(
                    "an indicator marks a variable that shows the progress of the action; it decides nothing",
                ),
            );
        }
    }

    /// The place of an action of the tree.
    pub(super) fn action_place(&self, network: &Network<'_>, action: &ControlledAction) -> Span {
        match action.target {
            Target::Body(index) => {
                network.tree.actions.get(index).map_or(action.name.span, |it| it.name.span)
            }
            Target::Variable(_) => action.name.span,
        }
    }
}

/// The qualifier that does the same for a time or after one.
const fn timed_relative(qualifier: ActionQualifier) -> Option<&'static str> {
    match qualifier {
        ActionQualifier::NonStored => Some("L for a limited time, or D after a delay,"),
        ActionQualifier::Set => Some("SL for a limited time, or SD after a delay,"),
        _ => None,
    }
}
