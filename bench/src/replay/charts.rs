//! The sequential function charts of a program: instances with steps, found in the debug tables.
//!
//! A step is a structure of the type `STEP`, a keyword, so that no type of a user has that name.

use latchwork_vm::{Program, Resolved, TypeDescription, TypeIndex};

/// Most charts that are looked for.
const CHARTS_MAX: usize = 64;
/// Most elements of one array that are looked at.
const ELEMENTS_MAX: i64 = 64;

/// The chart of one instance.
pub(super) struct FoundChart {
    /// Path of the instance.
    pub(super) name: String,
    /// Names and flags of its steps, in the order of the text.
    pub(super) steps: Vec<(String, Resolved)>,
}

/// The charts of a program, those of program instances and of function block instances within them.
pub(super) fn charts(program: &Program) -> Vec<FoundChart> {
    let mut walk = Walk { program, found: Vec::new() };
    if program.image().debug.types.iter().any(is_step) {
        for root in &program.image().debug.roots {
            walk.visit(&root.name, root.kind);
        }
    }
    walk.found
}

fn is_step(kind: &TypeDescription) -> bool {
    matches!(kind, TypeDescription::Structure { name, .. } if name.eq_ignore_ascii_case("STEP"))
}

struct Walk<'p> {
    program: &'p Program,
    found: Vec<FoundChart>,
}

impl Walk<'_> {
    /// The verifier limits how deep types nest, so this recursion does too.
    fn visit(&mut self, path: &str, kind: TypeIndex) {
        let program = self.program;
        if self.found.len() >= CHARTS_MAX {
            return;
        }
        match program.image().debug.kind(kind) {
            Some(TypeDescription::Structure { members, .. }) => {
                let is_one = |kind| program.image().debug.kind(kind).is_some_and(is_step);
                let steps = members.iter().filter(|member| is_one(member.kind));
                let steps: Vec<(String, Resolved)> = steps
                    .filter_map(|step| {
                        let flag = program.resolve(&format!("{path}.{}.X", step.name)).ok()?;
                        Some((step.name.clone(), flag))
                    })
                    .collect();
                if !steps.is_empty() {
                    self.found.push(FoundChart { name: path.to_owned(), steps });
                }
                for member in members.iter().filter(|member| !is_one(member.kind)) {
                    self.visit(&format!("{path}.{}", member.name), member.kind);
                }
            }
            Some(TypeDescription::Array { bounds, element, .. }) => {
                // Instances stand in arrays of one dimension; other arrays have no charts of interest in them.
                if let [(lower, upper)] = bounds.as_slice() {
                    let last = (*upper).min(lower.saturating_add(ELEMENTS_MAX - 1));
                    (*lower..=last).for_each(|index| self.visit(&format!("{path}[{index}]"), *element));
                }
            }
            _ => {}
        }
    }
}
