//! The passes of checking in their order.

use latchwork_grammar::{Diagnostic, Names, Sources, tree::SyntaxTree};

use super::{Checked, Checker, bodies::Bodies};
use crate::{
    CompileOptions,
    namespaces::{self, Flat, Visibility},
    warnings::Warnings,
};

/// Checks the trees of all files of a program together.
pub fn check(trees: &[SyntaxTree], sources: &Sources, names: &mut Names) -> Checked {
    check_with(trees, sources, names, &CompileOptions::default())
}

/// As [`check`], with other options than the default ones.
pub fn check_with(
    trees: &[SyntaxTree],
    sources: &Sources,
    names: &mut Names,
    options: &CompileOptions,
) -> Checked {
    match namespaces::flatten(trees, sources, names) {
        Some(flat) => check_flat(flat, sources, names, options),
        None => check_bodies(trees, Bodies::default(), None, sources, names, options),
    }
}

/// As [`check_with`], for a caller who needs the trees no more: most of their memory is given back on the way.
pub(crate) fn check_and_release(
    mut trees: Vec<SyntaxTree>,
    sources: &Sources,
    names: &mut Names,
    options: &CompileOptions,
) -> Checked {
    match namespaces::flatten(&trees, sources, names) {
        Some(flat) => {
            drop(trees);
            check_flat(flat, sources, names, options)
        }
        None => {
            let bodies = Bodies::take(&mut trees);
            check_bodies(&trees, bodies, None, sources, names, options)
        }
    }
}

fn check_flat(mut flat: Flat, sources: &Sources, names: &mut Names, options: &CompileOptions) -> Checked {
    let bodies = Bodies::take(&mut flat.trees);
    let found = Some((&flat.visibility, flat.diagnostics.as_slice()));
    check_bodies(&flat.trees, bodies, found, sources, names, options)
}

/// Checks trees without namespaces. Bodies may have been taken out of them.
fn check_bodies(
    trees: &[SyntaxTree],
    bodies: Bodies,
    namespaces: Option<(&Visibility, &[Diagnostic])>,
    sources: &Sources,
    names: &mut Names,
    options: &CompileOptions,
) -> Checked {
    let mut checker = Checker::new(sources, names);
    checker.options = *options;
    if let Some((visibility, diagnostics)) = namespaces {
        checker.visibility = Some(visibility);
        diagnostics.iter().for_each(|diagnostic| checker.report(diagnostic.clone()));
    }
    checker.collect(trees);
    checker.link_types();
    checker.enter_units();
    checker.declare_types();
    checker.declare_globals();
    checker.declare_units();
    checker.declare_instances();
    checker.check_objects();
    checker.break_containment_cycles();
    let mut warnings = Warnings::new(trees);
    checker.check_bodies(bodies, &mut warnings);
    checker.report_condition_effects();
    checker.report_recursion();
    checker.check_configuration();
    checker.check_addresses();
    checker.report_undeclared();
    warnings.report(&mut checker);
    checker.finish()
}
