//! Configurations: globals of configurations and resources, program instances, tasks, access paths.
//!
//! ```text
//! collect: names of globals -> instances: a hidden global each -> after the bodies: tasks, connections, paths
//! ```
//!
//! [`Checker::check_configuration`] runs when all bodies are checked, because which global a `VAR_EXTERNAL` means
//! may differ from program to program, and what a program reaches is known only then.
//!
//! Source: IEC 61131-3:2013, 6.8 (tables 62 and 63), 6.5.2.2 (search for globals). Our choices: one configuration a
//! run; a single resource without a name is called as the configuration; a name in an inner scope hides the same
//! name outside, with a warning; the type behind `ON` is any identifier.

mod access;
mod blocks;
mod connections;
mod externals;
mod instances;
mod parts;
mod path_messages;
mod paths;
mod places;
mod tasks;

pub(crate) use parts::is_open;

use std::{
    collections::{BTreeMap, BTreeSet},
    rc::Rc,
};

use latchwork_grammar::{
    Diagnostic, Name, Span,
    tree::{self, DirectAddress, Ident, UnitKind},
};

use crate::{
    check::Checker,
    scope::ExternalTarget,
    typed::{GlobalId, Statement, TypedConfiguration, Variable, VariableId},
    types::{TypeId, UnitId},
};

/// Where a global was declared, and where a name is looked up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Level {
    /// In the configuration, or at file level.
    Configuration,
    /// In the resource with this index.
    Resource(usize),
}

/// What each link means.
type Bindings = Rc<[(GlobalId, ExternalTarget)]>;

/// What is declared in the configuration.
#[derive(Default)]
pub(crate) struct ConfigurationScope<'a> {
    pub(crate) tree: Option<&'a tree::Configuration>,
    pub(crate) resources: Vec<ResourceScope<'a>>,
    /// Of each global that the text declares.
    pub(crate) levels: Vec<Level>,
    /// Where names are looked up while something of the configuration is checked.
    pub(crate) place: Option<Level>,
    /// Everything that a `VAR_EXTERNAL` of a name may mean.
    pub(crate) targets: BTreeMap<Name, Vec<ExternalTarget>>,
    /// `VAR_EXTERNAL` variables that may mean more than one global.
    pub(crate) linked: BTreeSet<(UnitId, VariableId)>,
    /// Function block instances with tasks of their own: the variable of the program that holds them.
    pub(crate) tasked: BTreeSet<(UnitId, VariableId)>,
    /// Sections of file-level globals.
    pub(crate) outside: Vec<Span>,
    /// Where connections write.
    sinks: BTreeMap<String, Span>,
    /// What each unit calls or holds an instance of; made when it is first needed.
    edges: BTreeMap<UnitId, BTreeSet<UnitId>>,
    link_of: BTreeMap<Name, GlobalId>,
    /// What the links mean to the instances of a program in a resource, by the unit that is run.
    bindings: BTreeMap<(UnitId, UnitId, Level), Bindings>,
    /// The VAR_EXTERNAL variables that each unit reaches.
    externals: BTreeMap<UnitId, Rc<[(UnitId, VariableId)]>>,
    /// Places given by VAR_CONFIG, by what the path leads through.
    completed: BTreeMap<Vec<i64>, (DirectAddress, Span)>,
    /// Variables for which VAR_CONFIG has a line, right or wrong.
    attempted: BTreeSet<Vec<i64>>,
    /// Bodies of stubs, with names, in the order of their units.
    stubs: Vec<StubBody>,
    typed: TypedConfiguration,
}

/// A unit made for a program instance.
pub(crate) struct StubBody {
    /// Its name in messages of a run.
    pub(crate) name: Name,
    pub(crate) body: Vec<Statement>,
    pub(crate) span: Span,
}

/// A resource.
pub(crate) struct ResourceScope<'a> {
    /// `None` where there is no configuration.
    pub(crate) tree: Option<&'a tree::Resource>,
    /// `None` where there is no configuration.
    pub(crate) name: Option<Ident>,
    pub(crate) globals: BTreeMap<Name, GlobalId>,
    pub(crate) instances: Vec<InstanceScope<'a>>,
}

/// A program instance.
#[derive(Clone, Copy)]
pub(crate) struct InstanceScope<'a> {
    pub(crate) tree: Option<&'a tree::ProgramInstance>,
    pub(crate) name: Ident,
    pub(crate) unit: UnitId,
    pub(crate) global: GlobalId,
}

impl<'a> Checker<'a> {
    /// Enters the globals of a configuration and its resources.
    pub(crate) fn collect_configuration(&mut self, tree: &'a tree::Configuration) {
        if let Some(first) = self.configuration.tree {
            self.report(
                Diagnostic::error(
                    "configuration-count",
                    tree.name.span,
                    "a program can have one configuration only",
                )
                .label("second configuration")
                .also(first.name.span, "first configuration")
                .note(
                    "a configuration stands for one controller; give the files of one controller at a time",
                ),
            );
            return;
        }
        self.configuration.tree = Some(tree);
        for section in &tree.globals {
            self.enter_globals(section, Level::Configuration);
        }
        let mut places: BTreeMap<Name, Span> = BTreeMap::new();
        for resource in &tree.resources {
            let index = self.configuration.resources.len();
            let name = resource.heading.map_or(tree.name, |(name, _)| name);
            if resource.heading.is_some()
                && let Some(first) = places.insert(name.name, name.span)
            {
                self.report_duplicate(name, first, "the resources of a configuration");
            }
            self.configuration.resources.push(ResourceScope {
                tree: Some(resource),
                name: Some(name),
                globals: BTreeMap::new(),
                instances: Vec::new(),
            });
            for section in &resource.globals {
                self.enter_globals(section, Level::Resource(index));
            }
        }
    }

    /// The global that a level has under a name.
    pub(crate) fn global_of_level(&self, name: Name, level: Level) -> Option<GlobalId> {
        match level {
            Level::Configuration => self.globals.by_name.get(&name).copied(),
            Level::Resource(index) => self.configuration.resources.get(index)?.globals.get(&name).copied(),
        }
    }

    /// Enters the name of a global of a level.
    pub(crate) fn enter_global_name(&mut self, ident: Ident, id: GlobalId, level: Level) {
        match level {
            Level::Configuration => {
                self.globals.by_name.insert(ident.name, id);
            }
            Level::Resource(index) => {
                if let Some(resource) = self.configuration.resources.get_mut(index) {
                    resource.globals.insert(ident.name, id);
                }
            }
        }
        self.configuration.targets.entry(ident.name).or_default().push(ExternalTarget::Global(id));
    }

    /// The globals that can be named at a place of the configuration: those of its level and around it.
    pub(crate) fn visible_global(&self, name: Name) -> Option<GlobalId> {
        if let Some(Level::Resource(index)) = self.configuration.place
            && let Some(resource) = self.configuration.resources.get(index)
            && let Some(global) = resource.globals.get(&name)
        {
            return Some(*global);
        }
        self.globals.by_name.get(&name).copied()
    }

    /// A global of any level with a name.
    pub(crate) fn any_global(&self, name: Name) -> Option<&Variable> {
        self.configuration.targets.get(&name)?.iter().find_map(|target| match target {
            ExternalTarget::Global(global) => self.globals.variables.get(global.0 as usize),
            ExternalTarget::Program(..) => None,
        })
    }

    /// Notes that a `VAR_GLOBAL` of a program can be meant by a `VAR_EXTERNAL`.
    pub(crate) fn enter_program_global(&mut self, unit: UnitId, variable: VariableId, ident: Ident) {
        if let Some(hidden) = self.globals.by_name.get(&ident.name) {
            let hidden = self.globals.variables[hidden.0 as usize].span;
            self.report_hidden_global(ident, hidden, "in this program");
        }
        let target = ExternalTarget::Program(unit, variable);
        self.configuration.targets.entry(ident.name).or_default().push(target);
    }

    pub(crate) fn report_hidden_global(&mut self, ident: Ident, hidden: Span, whither: &str) {
        let spelling = self.text(ident.span);
        self.report(
            Diagnostic::warning(
                "global-hidden",
                ident.span,
                format!("`{spelling}` hides a global variable of the same name"),
            )
            .label(format!("meant by VAR_EXTERNAL {whither}"))
            .also(hidden, "hidden here")
            .note(
                "give one of them another name, so that everybody who reads the name thinks of one variable",
            ),
        );
    }

    fn global_type(&self, id: GlobalId) -> TypeId {
        self.globals.variables[id.0 as usize].kind
    }

    /// Checks tasks, connections and paths, and makes the typed form of them.
    pub(crate) fn check_configuration(&mut self) {
        if let Some(tree) = self.configuration.tree
            && tree.resources.is_empty()
            && !tree.damaged
        {
            self.report_no_program(tree.name.span, self.text(tree.name.span));
        }
        self.check_places();
        for index in 0..self.configuration.resources.len() {
            self.configuration.place = Some(Level::Resource(index));
            self.check_resource(index);
        }
        self.configuration.place = Some(Level::Configuration);
        self.check_access_paths();
        self.configuration.place = None;
        self.link_unreached();
        self.report_programs_without_instance();
        self.report_shared_outputs();
    }

    fn report_no_program(&mut self, span: Span, name: &str) {
        self.report(
            Diagnostic::error("resource-without-program", span, format!("`{name}` runs no program"))
                .label("nothing to run")
                .note(
                    "write at least one program instance behind the tasks: `PROGRAM name WITH task : type;`",
                ),
        );
    }

    /// Warns where a program with outputs of its own at fixed addresses has more than one instance.
    fn report_shared_outputs(&mut self) {
        let mut first: BTreeMap<UnitId, Span> = BTreeMap::new();
        let instances = self.configuration.resources.iter().flat_map(|resource| &resource.instances);
        let instances: Vec<(UnitId, Ident)> =
            instances.map(|instance| (instance.unit, instance.name)).collect();
        for (unit, name) in instances {
            let Some(before) = first.insert(unit, name.span) else { continue };
            let output = self.units[unit.0 as usize].variables.iter().find_map(|variable| {
                variable.location.as_deref().filter(|at| at.area == tree::Area::Output && !is_open(at))
            });
            let Some(output) = output.map(|output| output.span) else { continue };
            let (shown, program) = (self.text(output), self.spelling(self.units[unit.0 as usize].name));
            self.report(
                Diagnostic::warning(
                    "address-shared",
                    name.span,
                    format!("two instances of `{program}` stand for the output {shown}"),
                )
                .label("the one that runs last wins")
                .also(before, "the other one")
                .also(output, "declared in the program")
                .note("leave the place open, `AT %Q*`, and give each instance its own in VAR_CONFIG"),
            );
        }
    }

    fn report_programs_without_instance(&mut self) {
        let Some(tree) = self.configuration.tree.filter(|tree| !tree.damaged) else { return };
        // An instance with a mistake may have been meant.
        if self.has_error_in(tree.span) {
            return;
        }
        let used: BTreeSet<UnitId> = self
            .configuration
            .resources
            .iter()
            .flat_map(|resource| resource.instances.iter().map(|instance| instance.unit))
            .collect();
        for index in 0..self.units.len() {
            let unit = &self.units[index];
            if unit.kind == UnitKind::Program && !used.contains(&UnitId(index as u32)) {
                let (span, name) = (unit.tree.name.span, self.spelling(unit.name).to_owned());
                self.report(
                    Diagnostic::warning(
                        "program-never-run",
                        span,
                        format!("the program `{name}` never runs"),
                    )
                    .label("no resource has an instance of it")
                    .also(tree.name.span, "the configuration")
                    .note(format!("write `PROGRAM name : {name};` in a resource")),
                );
            }
        }
    }

    /// The typed configuration, and the stubs to be appended to the units.
    pub(crate) fn finished_configuration(&mut self) -> (Option<TypedConfiguration>, Vec<StubBody>) {
        if self.configuration.resources.is_empty() {
            return (None, Vec::new());
        }
        let mut typed = std::mem::take(&mut self.configuration.typed);
        typed.span = self.configuration.tree.map_or_else(Span::default, |tree| tree.name.span);
        (Some(typed), std::mem::take(&mut self.configuration.stubs))
    }
}
