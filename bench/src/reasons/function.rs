//! Functions of the user: their result, and what was given to their inputs.

use latchwork_compiler::logic::{LogicKind, LogicStatement, LogicUnit, Part, PartKind};
use latchwork_grammar::tree::UnitKind;

use super::{
    Cause, Reason,
    derive::{Derivation, Run},
    names::shown,
};
use crate::account::Moment;

/// A call of a function whose body is being looked at.
#[derive(Clone, Debug)]
pub(super) struct Called<'d> {
    /// Its unit.
    name: String,
    inputs: &'d [(String, Part)],
    /// The statement that calls it.
    run: Run,
}

impl<'d> Derivation<'d> {
    /// The value of a function: the statement in its body that gave it, as long as that is known to have run for this
    /// call; otherwise the inputs.
    pub(super) fn function(&mut self, part: &'d Part, run: Run, depth: u32) -> Vec<Reason> {
        let PartKind::Function { name, inputs, .. } = &part.kind else { return Vec::new() };
        let value = self.evidence.account.value(run.site, part.number, run.moment.scan);
        let mut parts = Vec::new();
        let open = self.calls.iter().any(|call| call.name.eq_ignore_ascii_case(name));
        match (self.result(name, value, run), depth.checked_sub(1)) {
            (Some((inner, statement)), Some(deeper)) if !open => {
                self.calls.push(Called { name: name.clone(), inputs, run });
                if let LogicKind::Assign { target, value: result } = &statement.kind {
                    let mut because = self.guards(statement, inner, deeper);
                    because.extend(self.decisive(result, inner, deeper));
                    parts.push(Reason {
                        subject: target.text.clone(),
                        value: value.and_then(|value| shown(&part.value, value)),
                        at: self.reasoner.instant(inner.moment.scan),
                        since: None,
                        since_known: false,
                        cause: Cause::Result(self.statement(statement, inner)),
                        parts: because,
                    });
                }
                self.calls.pop();
            }
            _ => {
                for (_, input) in inputs {
                    parts.extend(self.values(input, run, depth));
                }
            }
        }
        vec![Reason { parts, ..self.bare(part, value, Cause::Function(name.clone()), run) }]
    }

    /// The last statement in the body of a function that wrote its result in the scan of a run, if it wrote this value.
    fn result(&self, name: &str, value: Option<u64>, run: Run) -> Option<(Run, &'d LogicStatement)> {
        let account = self.evidence.account;
        let units = &account.logic().units;
        let unit = units.iter().find(|unit| is_function(unit) && ends_with(&unit.name, name))?;
        let mut found: Vec<&LogicStatement> = Vec::new();
        results(&unit.statements, name, &mut found);
        let runs = found.iter().flat_map(|statement| {
            account.passes_of(statement.number).filter_map(|site| {
                let moment = account.last_run(site, Moment::end_of(run.moment.scan))?;
                (moment.scan == run.moment.scan && moment > run.moment).then_some((site, moment))
            })
        });
        // It may be called again behind this call.
        let wrote = runs.filter(|(site, moment)| {
            let result = self.run(*site, *moment).and_then(|(_, statement)| match &statement.kind {
                LogicKind::Assign { value, .. } => account.value(*site, value.number, moment.scan),
                _ => None,
            });
            result == value
        });
        let (site, moment) = wrote.min_by_key(|(_, moment)| *moment)?;
        self.run(site, moment)
    }

    /// An input of the function whose body is looked at: what the call gave.
    pub(super) fn parameter(&mut self, part: &'d Part, run: Run, depth: u32) -> Option<Reason> {
        let account = self.evidence.account;
        let call = self.calls.last()?;
        let (number, _) = account.identity(run.site)?;
        let (unit, _) = account.statement(number)?;
        if !is_function(unit) || !ends_with(&unit.name, &call.name) {
            return None;
        }
        let (_, given) = call.inputs.iter().find(|(input, _)| input.eq_ignore_ascii_case(&part.text))?;
        let (caller, outer) = (call.run, self.calls.pop()?);
        let (_, statement) = self.run(caller.site, caller.moment)?;
        let parts = self.decisive(given, caller, depth);
        let cause = Cause::Given(self.statement(statement, caller));
        self.calls.push(outer);
        let value = account.value(run.site, part.number, run.moment.scan);
        Some(Reason { parts, ..self.bare(part, value, cause, run) })
    }
}

fn is_function(unit: &LogicUnit) -> bool {
    matches!(unit.kind, UnitKind::Function | UnitKind::Method)
}

/// A method has the name of its type in front.
fn ends_with(whole: &str, name: &str) -> bool {
    let last = whole.rsplit('.').next().unwrap_or(whole);
    whole.eq_ignore_ascii_case(name) || last.eq_ignore_ascii_case(name)
}

/// The statements that write the result. Statements nest as deep as the grammar allows.
fn results<'l>(statements: &'l [LogicStatement], name: &str, found: &mut Vec<&'l LogicStatement>) {
    for statement in statements {
        if let LogicKind::Assign { target, .. } = &statement.kind
            && ends_with(name, &target.text)
        {
            found.push(statement);
        }
        statement.inner().into_iter().for_each(|inner| results(inner, name, found));
    }
}
