//! A file of procedures, read: what scripts of it are made from.

use std::sync::Arc;

use latchwork_grammar::{
    Diagnostic, Names, Severity, Sources,
    steps::tree::{ItemKind, Procedure, StepsFile},
};
use latchwork_vm::Program;

use super::{
    script::{Script, ScriptParts},
    traces::Traces,
};
use crate::station::Station;

/// A file of procedures, read.
#[derive(Clone)]
pub struct ProcedureTexts<'s> {
    /// The trees: those of included files first, that of the file itself last.
    pub files: &'s [StepsFile],
    /// The texts that the trees come from.
    pub sources: &'s Sources,
    /// The names in the trees.
    pub names: &'s Names,
    /// The recorded traces that its procedures are compared with.
    pub traces: Traces,
}

impl<'s> ProcedureTexts<'s> {
    /// The script of a program on a station that fits it.
    ///
    /// # Errors
    /// Why none of its procedures can be run on this program.
    pub fn script(
        &self,
        program: &Arc<Program>,
        station: Option<&'s Station>,
    ) -> Result<Script<'s>, Vec<Diagnostic>> {
        let (script, mut problems) = Script::new(ScriptParts {
            files: self.files,
            program: Arc::clone(program),
            station,
            sources: self.sources,
            names: self.names,
        });
        problems.retain(|problem| problem.severity == Severity::Error);
        if problems.is_empty() { Ok(script.with_traces(self.traces.clone())) } else { Err(problems) }
    }

    /// The procedures, in the order of the text.
    pub fn procedures(&self) -> Vec<&'s Procedure> {
        let items = self.files.iter().flat_map(|tree| &tree.items);
        let procedures = items.filter_map(|item| match &item.kind {
            ItemKind::Procedure(procedure) => Some(procedure),
            _ => None,
        });
        procedures.collect()
    }
}
