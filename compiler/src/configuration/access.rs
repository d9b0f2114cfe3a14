//! VAR_ACCESS: names under which variables are reached from outside the controller.
//!
//! Source: IEC 61131-3:2013, 6.8.1 (access paths), 6.5.2, tables 47 and 62. The default is READ_ONLY.

use std::collections::BTreeMap;

use latchwork_grammar::{
    Diagnostic, Name, Span,
    tree::{AccessDeclaration, AccessSection},
};

use super::{InstanceScope, Level, paths::Reached};
use crate::{
    check::Checker,
    declare::size_bits,
    typed::{AccessVariable, Root},
};

impl<'a> Checker<'a> {
    pub(super) fn check_access_paths(&mut self) {
        let sections: &'a [AccessSection] = self.configuration.tree.map_or(&[][..], |tree| &tree.access);
        let mut places = BTreeMap::new();
        for declaration in sections.iter().flat_map(|section| &section.variables) {
            if self.access_name_is_free(declaration, &mut places)
                && let Some(reached) = self.walk_path(&declaration.path)
            {
                self.access_variable(declaration, reached, None);
            }
        }
        for index in 0..self.configuration.resources.len() {
            self.configuration.place = Some(Level::Resource(index));
            let resource = self.configuration.resources[index].name;
            for instance in self.configuration.resources[index].instances.clone() {
                self.program_access(instance, resource.map(|resource| resource.name));
            }
        }
    }

    /// VAR_ACCESS of a program.
    fn program_access(&mut self, instance: InstanceScope<'a>, resource: Option<Name>) {
        let tree = self.units[instance.unit.0 as usize].tree;
        let mut places = BTreeMap::new();
        for declaration in tree.access_paths.iter().flat_map(|section| &section.variables) {
            let shown = self.spelling(instance.name.name).to_owned();
            if self.access_name_is_free(declaration, &mut places)
                && let Some(reached) = self.walk_program_path(&declaration.path, instance.global, shown)
            {
                self.access_variable(declaration, reached, Some((resource, instance.name.name)));
            }
        }
    }

    fn access_name_is_free(
        &mut self,
        declaration: &AccessDeclaration,
        places: &mut BTreeMap<Name, Span>,
    ) -> bool {
        match places.insert(declaration.name.name, declaration.name.span) {
            Some(first) => {
                self.report_duplicate(declaration.name, first, "access paths");
                false
            }
            None => true,
        }
    }

    fn access_variable(
        &mut self,
        tree: &'a AccessDeclaration,
        reached: Reached,
        owner: Option<(Option<Name>, Name)>,
    ) {
        let kind = self.resolve(&tree.specification);
        let variable = reached.variable.clone();
        let declared = variable.as_ref().map_or(tree.path.span, |variable| variable.span);
        let mut target = match self.completed(&reached, tree.path.span) {
            Some(target) => target,
            // The missing place has been reported.
            None => return,
        };
        if self.holds_instance(reached.walk.ty) {
            let type_name = self.type_name(reached.walk.ty);
            self.report(
                Diagnostic::error(
                    "access-path",
                    tree.path.span,
                    format!("an access path leads to data, and this is an instance of {type_name}"),
                )
                .label("function block instance")
                .note("go on to one of its variables: `….variable`"),
            );
            return;
        }
        if let (Root::Direct(address), None) = (&reached.walk.root, &variable) {
            // An address has no type but its width.
            if self.is_unknown(kind) {
                return;
            }
            let fits = self.located_bits(kind) == Some(size_bits(address.size));
            if !fits {
                self.check_address_type(&address.clone(), kind);
                return;
            }
            target.access.ty = kind;
            target.start = kind;
        } else if !self.same_type(kind, reached.walk.ty, tree.specification.span, declared) {
            return;
        }
        let writable = matches!(tree.writable, Some((true, _)));
        let fixed = if variable.as_ref().is_some_and(|variable| variable.constant) {
            Some("a CONSTANT")
        } else if reached.is_physical_input() {
            Some("an input of the controller")
        } else {
            None
        };
        if let (Some((true, span)), Some(fixed)) = (tree.writable, fixed) {
            let mut diagnostic = Diagnostic::error(
                "access-direction",
                span,
                format!("`{}` is {fixed} and cannot be READ_WRITE", reached.shown),
            )
            .label("READ_ONLY is possible");
            if variable.is_some() {
                diagnostic = diagnostic.also(declared, "declared here");
            }
            self.report(diagnostic);
            return;
        }
        self.configuration.typed.access.push(AccessVariable {
            owner,
            name: tree.name.name,
            target,
            writable,
        });
    }
}
