//! Namespaces (IEC 61131-3:2013, 6.9, tables 64 to 66): before anything is checked, every declaration in a namespace
//! gets its full name, such as `plant.water.Mix`, and every use of it too. What stands behind this pass knows of
//! no namespaces; it only meets names with points in them, which no program can write otherwise.
//!
//! Where a name is looked for: in the unit itself and its bases, then in the namespaces around it from the inside
//! outwards, in each before the namespaces that `USING` names there, and last in the global namespace. That the
//! `USING` of a unit is searched before that of the namespace around it, and that a global name is searched last
//! even for a file with `USING`, are our choices. A program without namespaces is left as it is, at no cost.

mod headings;
mod lookup;
mod messages;
mod paths;
mod rewrite;
mod table;

use std::{
    cell::RefCell,
    collections::{BTreeMap, BTreeSet},
};

use latchwork_grammar::{
    Diagnostic, Name, Names, Sources, Span,
    tree::{Declaration, ProgramUnit, SyntaxTree},
};

pub(crate) use self::lookup::Visibility;
use self::{
    lookup::{Hit, Level},
    table::Table,
};
use crate::findings::SameName;

/// The trees with full names, and nothing but units, types and globals at file level.
pub(crate) struct Flat {
    pub(crate) trees: Vec<SyntaxTree>,
    pub(crate) visibility: Visibility,
    pub(crate) diagnostics: Vec<Diagnostic>,
}

/// Gives all names in full, if there is anything to give them to.
pub(crate) fn flatten(trees: &[SyntaxTree], sources: &Sources, names: &mut Names) -> Option<Flat> {
    if !trees.iter().flat_map(|tree| &tree.declarations).any(needs_namespaces) {
        return None;
    }
    let mut trees = trees.to_vec();
    let mut flattener = Flattener::new(sources, names);
    for tree in &trees {
        flattener.enter_declarations(&tree.declarations, table::GLOBAL);
    }
    for tree in &mut trees {
        flattener.file_headings(&mut tree.declarations);
    }
    for tree in &mut trees {
        let declarations = std::mem::take(&mut tree.declarations);
        tree.declarations = flattener.file(declarations);
    }
    Some(Flat { trees, visibility: flattener.visibility, diagnostics: flattener.diagnostics })
}

fn needs_namespaces(declaration: &Declaration) -> bool {
    let in_unit = |unit: &ProgramUnit| {
        !unit.using.is_empty()
            || unit.extends.iter().chain(&unit.implements).any(|name| !name.path.is_empty())
            || unit.methods.iter().any(|method| !method.using.is_empty())
    };
    match declaration {
        Declaration::Namespace(_) | Declaration::Using(_) => true,
        Declaration::Unit(unit) => unit.access.is_some() || in_unit(unit),
        Declaration::Interface(interface) => {
            !interface.using.is_empty()
                || interface.extends.iter().any(|name| !name.path.is_empty())
                || interface.methods.iter().any(in_unit)
        }
        _ => false,
    }
}

/// What a unit declares itself: its variables and methods, and what it extends.
#[derive(Default)]
struct Own {
    names: BTreeSet<Name>,
    base: Option<Name>,
}

/// The state of the pass.
struct Flattener<'a> {
    sources: &'a Sources,
    names: &'a mut Names,
    table: Table,
    /// The namespaces around the current place, the global one first.
    levels: Vec<Level>,
    /// What `USING` names: the namespaces of each list; the first is empty.
    lists: Vec<BTreeSet<usize>>,
    /// The lists at the headings of the current unit and method.
    unit_using: Vec<usize>,
    /// What was found by a name in a list, from a namespace.
    found: RefCell<BTreeMap<(usize, Name, usize), Option<Hit>>>,
    /// By full name, for classes and function blocks.
    owners: BTreeMap<Name, Own>,
    /// Names of enumeration values: they may be meant where a name is no call.
    values: BTreeSet<Name>,
    /// Names declared in the current unit and method.
    locals: Vec<BTreeSet<Name>>,
    /// The base of the current unit.
    base: Option<Name>,
    /// The current function as written, and in full.
    function: Option<(Name, Name)>,
    visibility: Visibility,
    diagnostics: Vec<Diagnostic>,
    /// How many there are of each name.
    counted: SameName,
    reported: BTreeSet<(Span, &'static str)>,
}

impl<'a> Flattener<'a> {
    fn new(sources: &'a Sources, names: &'a mut Names) -> Self {
        Flattener {
            sources,
            names,
            table: Table::default(),
            levels: Vec::new(),
            lists: vec![BTreeSet::new()],
            unit_using: Vec::new(),
            found: RefCell::default(),
            owners: BTreeMap::new(),
            values: BTreeSet::new(),
            locals: Vec::new(),
            base: None,
            function: None,
            visibility: Visibility::default(),
            diagnostics: Vec::new(),
            counted: SameName::default(),
            reported: BTreeSet::new(),
        }
    }

    /// Adds a diagnostic; headings are read twice, so the same one is said once.
    fn report(&mut self, diagnostic: Diagnostic) {
        let known = (diagnostic.primary.span, diagnostic.name);
        if !self.reported.contains(&known)
            && let Some(diagnostic) = self.counted.admit(diagnostic)
        {
            self.reported.insert(known);
            self.diagnostics.push(diagnostic);
        }
    }

    fn text(&self, span: Span) -> &'a str {
        self.sources.text(span)
    }

    fn spelling(&self, name: Name) -> &str {
        self.names.spelling(name)
    }
}
