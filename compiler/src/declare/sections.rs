//! What may be declared where: sections and their qualifiers, edges, instances.
//!
//! Source: IEC 61131-3:2013, 6.5, table 13; 6.6 for the kinds of units.

use std::collections::BTreeSet;

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{self, Edge, Qualifier, SectionKind, UnitKind, VariableDeclaration, VariableSection},
};
use latchwork_vm::ElementaryType;

use crate::{
    check::{
        Checker,
        describe::{a_unit, section_keyword},
    },
    configuration::is_open,
    object_scope::Visibility,
    typed::Variable,
    types::{DerivedId, Type, TypeId},
};

/// The qualifiers of a section that matter for its variables.
#[derive(Clone, Copy, Default)]
pub(super) struct Qualifiers {
    pub(super) constant: bool,
    pub(super) retain: bool,
    /// Of VAR in a class or function block.
    pub(super) visibility: Visibility,
}

impl Checker<'_> {
    /// Whether a unit may have a section of this kind.
    pub(super) fn check_section(&mut self, section: &VariableSection, unit: UnitKind) {
        let why = match (section.kind, unit) {
            (SectionKind::Global, UnitKind::Program) => return,
            (SectionKind::Global, _) => {
                "write global variables in the configuration or outside of all units, and refer to them with \
                 VAR_EXTERNAL"
            }
            // A configuration connects it.
            (SectionKind::InOut, UnitKind::Program) if self.configuration.tree.is_some() => return,
            (SectionKind::InOut, UnitKind::Program) => {
                "a program is not called by another unit, so nothing could be passed to it without a \
                 configuration; use VAR"
            }
            (SectionKind::Input | SectionKind::Output | SectionKind::InOut, UnitKind::Class) => {
                "a class is not called, its methods are: give the parameters to them, or make it a FUNCTION_BLOCK"
            }
            (SectionKind::Temp, UnitKind::Class) => {
                "a class has no body that could use it; declare it in the methods"
            }
            _ => return,
        };
        let keyword = section_keyword(section.kind);
        self.report(
            Diagnostic::error(
                "section-not-allowed",
                section.keyword,
                format!("{} cannot have a {keyword} section", a_unit(unit)),
            )
            .label("not possible here")
            .note(why),
        );
    }

    /// Checks the qualifiers of a section; `unit` is `None` at file level.
    pub(super) fn qualifiers(&mut self, section: &VariableSection, unit: Option<UnitKind>) -> Qualifiers {
        let mut found = Qualifiers::default();
        let keyword = section_keyword(section.kind);
        for (qualifier, span) in &section.qualifiers {
            let refused = match qualifier {
                Qualifier::Constant => {
                    found.constant = true;
                    let fits = matches!(
                        section.kind,
                        SectionKind::Var | SectionKind::External | SectionKind::Global
                    );
                    (!fits).then(|| format!("{keyword} cannot be CONSTANT"))
                }
                Qualifier::Retain | Qualifier::NonRetain => {
                    found.retain = *qualifier == Qualifier::Retain;
                    let word = if found.retain { "RETAIN" } else { "NON_RETAIN" };
                    let fits = matches!(
                        section.kind,
                        SectionKind::Var | SectionKind::Input | SectionKind::Output | SectionKind::Global
                    );
                    if let Some(kind @ (UnitKind::Function | UnitKind::Method)) = unit {
                        Some(format!(
                            "{word} has no meaning in {}, which keeps nothing between calls",
                            a_unit(kind)
                        ))
                    } else {
                        (!fits).then(|| format!("{keyword} cannot be {word}"))
                    }
                }
                Qualifier::Public | Qualifier::Private | Qualifier::Protected | Qualifier::Internal => {
                    self.section_access(section, unit, *qualifier, &mut found)
                }
            };
            if let Some(message) = refused {
                self.report(
                    Diagnostic::error("qualifier-not-allowed", *span, message).label("remove this qualifier"),
                );
            }
        }
        if found.constant && found.retain {
            // Both were pushed by the loop, so that one of each is found.
            if let Some((_, span)) = section.qualifiers.iter().find(|(kind, _)| *kind == Qualifier::Retain) {
                self.report(
                    Diagnostic::error(
                        "qualifier-not-allowed",
                        *span,
                        "a CONSTANT cannot be RETAIN: its value never changes",
                    )
                    .label("remove this qualifier"),
                );
            }
        }
        found
    }

    /// Rules for a declaration as a whole, once for all its names.
    pub(super) fn check_declaration(
        &mut self,
        declaration: &VariableDeclaration,
        variable: &Variable,
        unit: Option<UnitKind>,
    ) {
        let section = variable.section;
        let keyword = section_keyword(section);
        let open = declaration.location.as_deref().is_some_and(is_open);
        if let (Some(initial), true) = (&declaration.initial, open) {
            self.report_open_initial(initial);
        } else if let Some(initial) = &declaration.initial {
            let why = match section {
                SectionKind::InOut => Some("it is another name of the variable passed in the call"),
                SectionKind::External => Some("it is the global variable; give the value in VAR_GLOBAL"),
                _ if declaration.edge.is_some() => Some("it is the pulse of an edge"),
                _ => None,
            };
            if let Some(why) = why {
                self.report(
                    Diagnostic::error(
                        "initial-not-allowed",
                        initial_span(initial),
                        format!("{} cannot have an initial value", self.variable_name(variable)),
                    )
                    .label("remove this value")
                    .note(format!("{keyword}: {why}")),
                );
            }
        } else if variable.constant && section != SectionKind::External && !self.holds_instance(variable.kind)
        {
            self.report(
                Diagnostic::warning(
                    "constant-without-value",
                    variable.span,
                    format!("the constant {} has no value", self.variable_name(variable)),
                )
                .label("keeps the default of its type for ever")
                .note("write `:=` and the value behind the type"),
            );
        }
        if let Some((_, span)) = declaration.edge {
            self.check_edge(span, variable, unit);
        }
        if let Some(location) = &declaration.location {
            self.check_location(location, variable, unit);
        }
        self.check_instance_place(declaration, variable, unit);
        self.check_open_place(declaration, variable, unit);
    }

    /// What has places of its own cannot be copied, and a path of VAR_CONFIG has to lead there.
    fn check_open_place(
        &mut self,
        declaration: &VariableDeclaration,
        variable: &Variable,
        unit: Option<UnitKind>,
    ) {
        let copied = matches!(variable.section, SectionKind::Input | SectionKind::Output | SectionKind::Temp)
            || variable.section == SectionKind::Var
                && matches!(unit, Some(UnitKind::Function | UnitKind::Method));
        if !copied || !self.has_open_members(variable.kind) {
            return;
        }
        let type_name = self.type_name(variable.kind);
        self.report(
            Diagnostic::error(
                "partial-address",
                declaration.specification.span,
                format!("{type_name} has members with places of their own and cannot be copied"),
            )
            .label(format!("not in {}", section_keyword(variable.section)))
            .note("pass it as VAR_IN_OUT"),
        );
    }

    pub(super) fn check_edge(&mut self, span: Span, variable: &Variable, unit: Option<UnitKind>) {
        let is_bool = self.types.elementary_base(variable.kind) == Some(ElementaryType::Bool);
        let input = variable.section == SectionKind::Input;
        let stateful = matches!(unit, Some(UnitKind::Program | UnitKind::FunctionBlock));
        if self.is_unknown(variable.kind) || (is_bool && input && stateful) {
            return;
        }
        let word = if variable.edge == Some(Edge::Rising) { "R_EDGE" } else { "F_EDGE" };
        let why = if !stateful {
            "an edge is found by comparing with the last call; only function blocks and programs remember it"
        } else if !input {
            "only a VAR_INPUT can have it"
        } else {
            "only a BOOL has edges"
        };
        self.report(
            Diagnostic::error("edge-not-allowed", span, format!("{word} is not possible here"))
                .label("remove this qualifier")
                .note(why),
        );
    }

    /// Function block instances need a place that lasts.
    pub(super) fn check_instance_place(
        &mut self,
        declaration: &VariableDeclaration,
        variable: &Variable,
        unit: Option<UnitKind>,
    ) {
        if !self.holds_instance(variable.kind) {
            return;
        }
        if !matches!(variable.section, SectionKind::InOut | SectionKind::External | SectionKind::Input) {
            self.check_abstract_instance(declaration, variable);
        }
        let span = declaration.specification.span;
        let type_name = self.type_name(variable.kind);
        let why = match (variable.section, unit) {
            (SectionKind::InOut | SectionKind::External, _) => None,
            (SectionKind::Input, Some(UnitKind::Program)) => {
                Some("nothing passes an instance to a program; declare it in VAR")
            }
            // An instance as a whole is passed by its address: its outputs can be read.
            (SectionKind::Input, _) if self.is_instance(variable.kind) => None,
            (SectionKind::Input | SectionKind::Output, _) => {
                Some("pass the instance as VAR_IN_OUT, so that the one instance is used and not a copy of it")
            }
            (SectionKind::Temp, _) => {
                Some("VAR_TEMP is new at every call; an instance has to remember: use VAR")
            }
            (_, Some(UnitKind::Method)) => Some(
                "a method keeps nothing between calls, an instance has to; declare it in a VAR section of the type, \
                 or take the instance as VAR_IN_OUT",
            ),
            (_, Some(UnitKind::Function)) => Some(
                "a function keeps nothing between calls, an instance has to; use a FUNCTION_BLOCK or take the \
                 instance as VAR_IN_OUT",
            ),
            _ if variable.constant => Some("an instance changes at every call; it cannot be CONSTANT"),
            _ => None,
        };
        if let Some(why) = why {
            self.report(
                Diagnostic::error(
                    "instance-not-allowed",
                    span,
                    format!("{} cannot hold an instance of {type_name}", section_keyword(variable.section)),
                )
                .label("function block instance")
                .note(why),
            );
        }
    }

    /// Whether a type is that of a function block instance.
    pub(crate) fn is_instance(&self, id: TypeId) -> bool {
        matches!(self.types.get(self.types.underlying(id)), Type::Unit(_) | Type::StandardBlock(_))
    }

    /// Whether a type is or contains a function block instance.
    pub(crate) fn holds_instance(&self, id: TypeId) -> bool {
        self.find_inside(id, |kind| matches!(kind, Type::Unit(_) | Type::StandardBlock(_)).then_some(()))
            .is_some()
    }

    /// The first answer about a type, the elements of arrays and the members of structures, not what is inside of
    /// instances.
    pub(crate) fn find_inside<T>(&self, id: TypeId, mut ask: impl FnMut(&Type) -> Option<T>) -> Option<T> {
        let mut id = self.types.underlying(id);
        // Most types have nothing inside.
        let outermost = loop {
            let kind = self.types.get(id);
            if let Some(answer) = ask(kind) {
                return Some(answer);
            }
            match kind {
                Type::Array { element, .. } | Type::OpenArray { element, .. } => {
                    id = self.types.underlying(*element);
                }
                Type::Structure(derived) => break *derived,
                _ => return None,
            }
        };
        // Each type is looked at once: structures of structures reach the same one on very many ways, and a
        // cycle, which is reported elsewhere, comes back to it.
        let mut seen = BTreeSet::from([id]);
        let members = |derived: DerivedId| self.types.structure(derived).members.iter();
        let mut waiting: Vec<TypeId> = members(outermost).map(|member| member.kind).collect();
        while let Some(id) = waiting.pop() {
            let id = self.types.underlying(id);
            if !seen.insert(id) {
                continue;
            }
            let kind = self.types.get(id);
            if let Some(answer) = ask(kind) {
                return Some(answer);
            }
            match kind {
                Type::Array { element, .. } | Type::OpenArray { element, .. } => waiting.push(*element),
                Type::Structure(derived) => waiting.extend(members(*derived).map(|member| member.kind)),
                _ => {}
            }
        }
        None
    }
}

/// The place of an initial value.
pub(super) fn initial_span(initial: &tree::Initializer) -> Span {
    use tree::Initializer;
    match initial {
        Initializer::Expression(expression) => expression.span,
        Initializer::Array { span, .. } | Initializer::Structure { span, .. } => *span,
    }
}
