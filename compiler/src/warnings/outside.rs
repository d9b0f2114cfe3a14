//! Names that are reached from outside of a body: by access paths, by VAR_CONFIG, by a task that calls an instance
//! (IEC 61131-3:2013, 6.8; tables 62 and 63), and units that others are derived from.
//!
//! What bears such a name may be read, written or called without a trace in any body, so nothing is concluded from
//! its absence there. Names are enough: to stay silent once too often does no harm.

use std::collections::BTreeSet;

use latchwork_grammar::{
    Name,
    tree::{AccessPath, Declaration, Expression, ExpressionKind, ProgramElement, SyntaxTree},
};

/// All names in paths from outside.
pub(super) fn names(trees: &[SyntaxTree]) -> BTreeSet<Name> {
    let mut found = BTreeSet::new();
    trees.iter().for_each(|tree| declarations(&tree.declarations, &mut found));
    found
}

fn declarations(list: &[Declaration], found: &mut BTreeSet<Name>) {
    for declaration in list {
        match declaration {
            Declaration::Unit(unit) => {
                let sections = unit.access_paths.iter().flat_map(|section| &section.variables);
                sections.for_each(|access| path(&access.path, found));
                // What a unit is derived from is reached by it.
                found.extend(unit.extends.iter().map(|base| base.name.name));
            }
            Declaration::Namespace(namespace) => declarations(&namespace.declarations, found),
            Declaration::Configuration(configuration) => {
                for access in configuration.access.iter().flat_map(|section| &section.variables) {
                    path(&access.path, found);
                }
                for instance in configuration.instances.iter().flat_map(|section| &section.variables) {
                    path(&instance.path, found);
                }
                let programs = configuration.resources.iter().flat_map(|resource| &resource.programs);
                for element in programs.flat_map(|program| &program.elements) {
                    if let ProgramElement::Block { block, .. } = element {
                        expression(block, found);
                    }
                }
            }
            _ => {}
        }
    }
}

fn path(path: &AccessPath, found: &mut BTreeSet<Name>) {
    path.path.iter().for_each(|way| expression(way, found));
}

fn expression(way: &Expression, found: &mut BTreeSet<Name>) {
    let mut current = Some(way);
    while let Some(way) = current {
        current = match &way.kind {
            ExpressionKind::Name(name) => {
                found.insert(*name);
                None
            }
            ExpressionKind::Member { base, member } => {
                found.insert(member.name);
                Some(base)
            }
            ExpressionKind::Index { base, .. } | ExpressionKind::Partial { base, .. } => Some(base),
            ExpressionKind::Dereference(base) => Some(base),
            _ => None,
        };
    }
}
