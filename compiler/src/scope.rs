//! What is declared: the symbols of a program and of each unit, and the state while a body is checked.
//! Holds data; the rules are in `declare` and `check`.

use std::collections::BTreeMap;

use latchwork_grammar::{
    Name, Span,
    tree::{ProgramUnit, TypeDeclaration, UnitKind, VariableDeclaration},
};

use crate::{
    object_scope::ObjectScope,
    typed::{GlobalId, Statement, Variable, VariableId},
    types::{TypeId, UnitId},
};

/// How far the declaration of something that others may need first has been worked on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Progress {
    Pending,
    /// Needed by itself if it is asked for now.
    Running,
    Done,
}

/// A type of a `TYPE` section.
pub(crate) struct TypeSymbol<'a> {
    pub(crate) declaration: &'a TypeDeclaration,
    pub(crate) progress: Progress,
    /// Known from the start of [`Progress::Running`] for structures, at the end for others.
    pub(crate) id: Option<TypeId>,
}

/// A value of an enumeration or of a type with named values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct ValueSymbol {
    pub(crate) ty: TypeId,
    pub(crate) value: i128,
}

/// One name of a variable declaration.
#[derive(Clone, Copy)]
pub(crate) struct Declared<'a> {
    pub(crate) declaration: &'a VariableDeclaration,
    /// Index of the first name of the same declaration.
    pub(crate) first: u32,
    pub(crate) progress: Progress,
}

impl<'a> UnitScope<'a> {
    /// A unit of which nothing but the heading is known.
    pub(crate) fn new(tree: &'a ProgramUnit, name: Name, object: ObjectScope) -> Self {
        UnitScope {
            tree,
            name,
            kind: tree.kind,
            variables: Vec::new(),
            declared: Vec::new(),
            by_name: BTreeMap::new(),
            values: BTreeMap::new(),
            result: None,
            body: Vec::new(),
            labels: 0,
            uses_addresses: false,
            chart: None,
            used: VariableSet::default(),
            written: VariableSet::default(),
            object,
        }
    }
}

impl<'a> Declared<'a> {
    /// The next name of a scope, behind those `before` it.
    pub(crate) fn next(before: &[Declared<'a>], declaration: &'a VariableDeclaration) -> Declared<'a> {
        let first = match before.last() {
            Some(last) if std::ptr::eq(last.declaration, declaration) => last.first,
            _ => before.len() as u32,
        };
        Declared { declaration, first, progress: Progress::Pending }
    }
}

/// What a `VAR_EXTERNAL` may mean.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum ExternalTarget {
    /// A global of the configuration or of a resource.
    Global(GlobalId),
    /// A `VAR_GLOBAL` of a program, in each of its instances.
    Program(UnitId, VariableId),
}

/// The globals of the configuration, of its resources, and at file level.
#[derive(Default)]
pub(crate) struct GlobalScope<'a> {
    pub(crate) variables: Vec<Variable>,
    /// Parallel to `variables`.
    pub(crate) declared: Vec<Declared<'a>>,
    /// Those of the configuration and at file level.
    pub(crate) by_name: BTreeMap<Name, GlobalId>,
}

/// A unit with its variables.
pub(crate) struct UnitScope<'a> {
    pub(crate) tree: &'a ProgramUnit,
    pub(crate) name: Name,
    pub(crate) kind: UnitKind,
    pub(crate) variables: Vec<Variable>,
    /// Parallel to the declared part of `variables`.
    pub(crate) declared: Vec<Declared<'a>>,
    pub(crate) by_name: BTreeMap<Name, VariableId>,
    /// Values of enumerations without a name, visible in this unit only.
    pub(crate) values: BTreeMap<Name, Vec<ValueSymbol>>,
    pub(crate) result: Option<VariableId>,
    pub(crate) body: Vec<Statement>,
    pub(crate) labels: u32,
    /// The body uses directly represented variables without a declaration.
    pub(crate) uses_addresses: bool,
    /// The names of its sequential function chart, if its body is one.
    pub(crate) chart: Option<ChartScope>,
    /// Variables that occur in the body or in a constant expression.
    pub(crate) used: VariableSet,
    /// Variables that are written somewhere in the body.
    pub(crate) written: VariableSet,
    /// Base, methods, owner.
    pub(crate) object: ObjectScope,
}

/// Variables of one unit, by a bit for each.
#[derive(Clone, Debug, Default)]
pub(crate) struct VariableSet(Vec<u64>);

impl VariableSet {
    /// Puts a variable in.
    pub(crate) fn insert(&mut self, id: VariableId) {
        let (word, bit) = Self::place(id);
        if word >= self.0.len() {
            self.0.resize(word + 1, 0);
        }
        if let Some(word) = self.0.get_mut(word) {
            *word |= bit;
        }
    }

    /// Whether a variable is in it.
    pub(crate) fn contains(&self, id: VariableId) -> bool {
        let (word, bit) = Self::place(id);
        self.0.get(word).is_some_and(|word| word & bit != 0)
    }

    fn place(id: VariableId) -> (usize, u64) {
        ((id.0 / u64::BITS) as usize, 1 << (id.0 % u64::BITS))
    }
}

/// The member X of a step: TRUE while it is active (table 54, 3).
pub(crate) const STEP_ACTIVE: u32 = 0;

/// The member T of a step: how long it has been active (table 54, 4).
pub(crate) const STEP_TIME: u32 = 1;

/// The steps and actions of a sequential function chart by their names.
#[derive(Default)]
pub(crate) struct ChartScope {
    /// Steps in textual order, those with a name of their own.
    pub(crate) steps: Vec<StepSymbol>,
    /// Number in `steps`.
    pub(crate) step_names: BTreeMap<Name, usize>,
    /// Number of each action in the tree's list.
    pub(crate) actions: BTreeMap<Name, usize>,
}

/// A step: a variable with the members X and T.
#[derive(Clone, Copy)]
pub(crate) struct StepSymbol {
    /// Its number in the tree's list.
    pub(crate) tree: usize,
    pub(crate) variable: VariableId,
}

/// A call in a body, for the search for recursion.
#[derive(Clone, Copy, Debug)]
pub(crate) struct CallEdge {
    pub(crate) caller: UnitId,
    pub(crate) callee: UnitId,
    pub(crate) span: Span,
}

/// A call of a function in the condition of a transition.
#[derive(Clone, Copy, Debug)]
pub(crate) struct ConditionCall {
    pub(crate) callee: UnitId,
    pub(crate) span: Span,
}

/// State that lives as long as one body is checked.
#[derive(Default)]
pub(crate) struct BodyState {
    /// Control variables of the loops around the current statement; `None` for `WHILE` and `REPEAT`.
    pub(crate) loops: Vec<Option<VariableId>>,
    /// How deep the current expression is nested.
    pub(crate) depth: u32,
}

/// The uses of an undeclared name in a unit, in the order in which they were met.
pub(crate) struct Undeclared {
    pub(crate) first: Span,
    pub(crate) further: Vec<Span>,
}

impl Undeclared {
    /// All uses, in the order of the text.
    pub(crate) fn all(&self) -> Vec<Span> {
        let mut all: Vec<Span> = self.further.iter().copied().chain([self.first]).collect();
        all.sort_unstable();
        all.dedup();
        all
    }
}
