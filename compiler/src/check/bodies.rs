//! Bodies one by one: each is checked, looked at by the warnings, and its syntax tree given back before the next one, so
//! that memory which has just been used is used again.

use std::collections::{HashMap, hash_map::Entry};

use latchwork_grammar::{
    Span,
    tree::{self, Body, Declaration, ProgramUnit, SyntaxTree},
};

use super::Checker;
use crate::{
    scope::BodyState,
    typed::Statement,
    types::UnitId,
    warnings::{SurveyLists, Warnings},
};

/// Bodies in Structured Text that have been taken out of their trees, by the places of their units.
#[derive(Default)]
pub(super) struct Bodies(HashMap<Span, Vec<tree::Statement>>);

impl Bodies {
    /// Takes the bodies out of the trees. What stays behind is an empty body of the same kind.
    pub(super) fn take(trees: &mut [SyntaxTree]) -> Self {
        let mut bodies = Bodies::default();
        for declaration in trees.iter_mut().flat_map(|tree| &mut tree.declarations) {
            if let Declaration::Unit(unit) = declaration {
                bodies.take_from(unit);
            }
        }
        bodies
    }

    fn take_from(&mut self, unit: &mut ProgramUnit) {
        if let Body::StructuredText(statements) = &mut unit.body
            && let Entry::Vacant(entry) = self.0.entry(unit.span)
        {
            entry.insert(std::mem::take(statements));
        }
        unit.methods.iter_mut().for_each(|method| self.take_from(method));
    }
}

impl Checker<'_> {
    /// Checks all bodies, and finds the warnings of each on the way.
    pub(super) fn check_bodies(&mut self, mut bodies: Bodies, warnings: &mut Warnings) {
        let mut lists = SurveyLists::default();
        // Units that are made on the way have no bodies of their own.
        for index in 0..self.units.len() {
            let unit = UnitId(index as u32);
            let tree = self.units[index].tree;
            let taken = bodies.0.remove(&tree.span);
            let text = match (&taken, &tree.body) {
                (Some(statements), _) | (None, Body::StructuredText(statements)) => statements.as_slice(),
                _ => &[],
            };
            let body = self.check_body(unit, text);
            lists = warnings.look(self, unit, text, &body, lists);
            self.units[index].body = body;
        }
    }

    /// Checks the body of a unit; `text` are its statements if it is in Structured Text.
    fn check_body(&mut self, unit: UnitId, text: &[tree::Statement]) -> Vec<Statement> {
        self.unit = Some(unit);
        self.body = BodyState::default();
        self.note_names(unit);
        let tree = self.units[unit.0 as usize].tree;
        let body = match &tree.body {
            Body::Empty => Vec::new(),
            Body::SequentialFunctionChart(chart) => self.chart(chart),
            Body::StructuredText(_) => self.statements(text),
            Body::InstructionList(instructions) => self.instruction_list(instructions),
        };
        self.check_result_assigned(unit);
        self.unit = None;
        body
    }
}
