//! Faults in declarations: types of blocks, edges, initial values, what is retained.

use latchwork_grammar::{
    Span,
    tree::{
        Edge, Qualifier, SectionKind, TypeSpecification, TypeSpecificationKind, VariableDeclaration,
        VariableSection,
    },
};

use super::Seeder;
use crate::mutation::kind::MutantKind;

const TIMERS: [&str; 3] = ["TON", "TOF", "TP"];

impl Seeder<'_, '_> {
    pub(super) fn section(&mut self, section: &VariableSection) {
        // What is declared elsewhere has its faults there.
        if section.kind == SectionKind::External {
            return;
        }
        for (qualifier, span) in &section.qualifiers {
            if *qualifier == Qualifier::Retain {
                self.leave_out(MutantKind::RetainDropped, *span, *span);
            }
        }
        for variable in &section.variables {
            self.variable(variable);
        }
    }

    fn variable(&mut self, variable: &VariableDeclaration) {
        if let Some((edge, span)) = variable.edge {
            let other = if edge == Edge::Rising { "F_EDGE" } else { "R_EDGE" };
            self.become_other(MutantKind::WrongEdge, span, other);
        }
        self.block_type(&variable.specification);
        if let Some(initial) = &variable.initial {
            self.initial(initial);
        }
    }

    fn block_type(&mut self, specification: &TypeSpecification) {
        match &specification.kind {
            TypeSpecificationKind::Array { element, .. } => self.block_type(element),
            TypeSpecificationKind::Named(name) if name.path.is_empty() => {
                let whole = self.text(name.span).to_ascii_uppercase();
                let (stem, rest) = whole
                    .split_once('_')
                    .map_or((whole.as_str(), ""), |(stem, _)| (stem, whole.get(stem.len()..).unwrap_or("")));
                self.other_types(name.span, &whole, stem, rest);
            }
            _ => {}
        }
    }

    /// The other types that a type can be mistaken for: all of its name, that up to the first `_`, and the rest.
    fn other_types(&mut self, span: Span, whole: &str, stem: &str, rest: &str) {
        let edge = match whole {
            "R_TRIG" => Some("F_TRIG"),
            "F_TRIG" => Some("R_TRIG"),
            _ => None,
        };
        if let Some(other) = edge {
            self.become_other(MutantKind::WrongEdge, span, other);
        }
        if TIMERS.contains(&stem) {
            for other in TIMERS.into_iter().filter(|other| *other != stem) {
                self.become_other(MutantKind::TimerSwapped, span, format!("{other}{rest}"));
            }
        }
        match stem {
            "CTU" => self.become_other(MutantKind::CounterSwapped, span, format!("CTD{rest}")),
            "CTD" => self.become_other(MutantKind::CounterSwapped, span, format!("CTU{rest}")),
            _ => {}
        }
        // Where a call names the inputs this does not compile, and the fault is seeded into the call.
        match whole {
            "SR" => self.become_other(MutantKind::DominanceSwapped, span, "RS"),
            "RS" => self.become_other(MutantKind::DominanceSwapped, span, "SR"),
            _ => {}
        }
    }
}
