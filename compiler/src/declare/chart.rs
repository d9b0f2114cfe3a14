//! The names of a sequential function chart: steps and actions share one name space with the variables of their
//! unit (our reading of IEC 61131-3:2013, 6.7.2), because `Fill.X` stands in expressions beside them.
//!
//! A step becomes a variable with the members X and T (table 54, 3 and 4), read like any structure; that nothing
//! writes it is for the checker to see.

use latchwork_grammar::{
    Span,
    tree::{Body, Chart, Ident, SectionKind, UnitKind},
};
use latchwork_vm::ElementaryType as E;

use crate::{
    check::Checker,
    scope::{ChartScope, STEP_ACTIVE, StepSymbol},
    typed::{Constant, InitialValue, Variable, VariableId},
    types::{Structure, StructureMember, Type, TypeId, UnitId},
};

impl<'a> Checker<'a> {
    /// Enters the steps and actions of a unit whose body is a chart.
    pub(super) fn declare_chart(&mut self, unit: UnitId) {
        let scope = &self.units[unit.0 as usize];
        let tree = scope.tree;
        let Body::SequentialFunctionChart(chart) = &tree.body else { return };
        if !matches!(scope.kind, UnitKind::Program | UnitKind::FunctionBlock) {
            return;
        }
        let kind = self.step_type();
        let mut names = ChartScope::default();
        for (index, step) in chart.steps.iter().enumerate() {
            if !self.is_new(unit, chart, &names, step.name) {
                continue;
            }
            let active = (STEP_ACTIVE, InitialValue::Constant(Constant::Bool(true)));
            let variable = Variable {
                initial: step.initial.then(|| InitialValue::Members(vec![active])),
                ..Variable::plain(Some(step.name.name), kind, SectionKind::Var, step.name.span)
            };
            let scope = &mut self.units[unit.0 as usize];
            let id = VariableId(scope.variables.len() as u32);
            scope.variables.push(variable);
            scope.by_name.insert(step.name.name, id);
            scope.used.insert(id);
            names.step_names.insert(step.name.name, names.steps.len());
            names.steps.push(StepSymbol { tree: index, variable: id });
        }
        for (index, action) in chart.actions.iter().enumerate() {
            if self.is_new(unit, chart, &names, action.name) {
                names.actions.insert(action.name.name, index);
            }
        }
        self.units[unit.0 as usize].chart = Some(names);
    }

    /// Whether a name is not taken in the unit; reports it otherwise.
    fn is_new(&mut self, unit: UnitId, chart: &Chart, names: &ChartScope, ident: Ident) -> bool {
        let scope = &self.units[unit.0 as usize];
        let variable = scope.by_name.get(&ident.name).map(|id| scope.variables[id.0 as usize].span);
        let action = names.actions.get(&ident.name).and_then(|index| chart.actions.get(*index));
        let own = (scope.name == ident.name).then_some(scope.tree.name.span);
        match variable.or(action.map(|action| action.name.span)).or(own) {
            Some(first) => {
                self.report_duplicate(ident, first, "a unit, its variables, steps and actions");
                false
            }
            None => true,
        }
    }

    /// The structure that stands behind every step.
    pub(crate) fn step_type(&mut self) -> TypeId {
        if let Some(known) = self.step_type {
            return known;
        }
        let mut member = |name: &str, kind: E| StructureMember {
            name: self.names.intern(name),
            kind: self.types.elementary(kind),
            initial: None,
            place: None,
            span: Span::default(),
        };
        // In the order of STEP_ACTIVE and STEP_TIME.
        let members = vec![member("X", E::Bool), member("T", E::Time)];
        let name = self.names.intern("STEP");
        let id = self.types.add_structure(Structure { name, overlap: false, members, span: Span::default() });
        let kind = self.types.intern(Type::Structure(id));
        self.step_type = Some(kind);
        kind
    }
}
