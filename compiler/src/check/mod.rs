//! Checking: syntax trees to a [`TypedProgram`] and diagnostics.
//!
//! ```text
//! collect names -> types -> globals -> variables of units -> bodies, each with its warnings -> cycles
//! ```
//!
//! [`check`] never fails and collects everything. An expression with an error has the type
//! [`Type::Unknown`], which fits everything silently, so that one mistake is reported once. The passes share
//! one `Checker`, which is made inside [`check`] and dropped at its end; nothing here reads files or prints,
//! and nothing knows of bytecode.
//!
//! Source: IEC 61131-3:2013, 6.4 to 6.6 (types, variables, units), 7.3 (Structured Text).

pub(crate) mod access;
pub(crate) mod arguments;
mod attempt;
mod bits;
pub(crate) mod block_call;
mod bodies;
mod byte_order;
pub(crate) mod callee;
pub(crate) mod case;
mod chart;
pub(crate) mod conversion;
mod conversion_call;
pub(crate) mod describe;
pub(crate) mod dispatch;
pub(crate) mod enable;
pub(crate) mod expression;
pub(crate) mod function_call;
mod instance_input;
pub(crate) mod instructions;
pub(crate) mod literal;
pub(crate) mod loops;
pub(crate) mod members;
pub(crate) mod method_call;
pub(crate) mod names;
pub(crate) mod object_value;
pub(crate) mod open_array;
pub(crate) mod operands;
mod outputs;
mod passes;
pub(crate) mod reference;
mod rights;
pub(crate) mod standard;
mod standard_messages;
pub(crate) mod statement;
mod subscripts;
mod super_call;
mod text_operands;
mod time_arithmetic;
pub(crate) mod values;
mod visible;

pub(crate) use self::passes::check_and_release;
pub use self::passes::{check, check_with};

use std::{
    cell::RefCell,
    collections::{BTreeMap, BTreeSet},
    rc::Rc,
};

use latchwork_grammar::{Diagnostic, Name, Names, Severity, Sources, Span, tree::UnitKind};
use latchwork_vm::ElementaryType;

use self::{arguments::Parameter, dispatch::DispatchScope};
use crate::{
    CompileOptions,
    configuration::{ConfigurationScope, StubBody},
    findings::SameName,
    name_map::NameMap,
    namespaces::Visibility,
    object_scope::InterfaceScope,
    scope::{
        BodyState, CallEdge, ConditionCall, GlobalScope, TypeSymbol, Undeclared, UnitScope, ValueSymbol,
    },
    typed::{self, TypedProgram, TypedUnit, VariableId},
    types::{InterfaceId, Type, TypeId, Types, UnitId},
};

/// Most variables that all types of a program together may inherit.
const INHERITED_MAX: usize = 200_000;

/// Most declarations that may wait for one another at a time.
const WAITING_MAX: u32 = 64;

/// What [`check`] found.
#[derive(Clone, Debug)]
pub struct Checked {
    /// The typed tree. Complete and free of contradictions only if no diagnostic is an error.
    pub program: TypedProgram,
    /// All problems, by place.
    pub diagnostics: Vec<Diagnostic>,
}

impl Checked {
    /// Whether an error was found; such a program is not to be lowered.
    pub fn has_errors(&self) -> bool {
        self.diagnostics.iter().any(|diagnostic| diagnostic.severity == Severity::Error)
    }
}

/// The number of variables a unit had, its parameters, and which of them are inputs for instances.
type KnownParameters = (usize, Rc<[Parameter]>, Rc<[usize]>);

/// The state shared by the passes of [`check`]: everything declared so far, the unit being worked on, and the
/// diagnostics found.
pub(crate) struct Checker<'a> {
    pub(crate) names: &'a mut Names,
    pub(crate) sources: &'a Sources,
    pub(crate) options: CompileOptions,
    pub(crate) types: Types,
    pub(crate) type_symbols: BTreeMap<Name, TypeSymbol<'a>>,
    /// Values of the enumerations of `TYPE` sections.
    pub(crate) values: BTreeMap<Name, Vec<ValueSymbol>>,
    pub(crate) units: Vec<UnitScope<'a>>,
    pub(crate) unit_names: NameMap<UnitId>,
    /// By the number of a name: the unit whose body was checked last among those with such a variable, and the variable.
    names_here: Vec<(UnitId, VariableId)>,
    /// By the number of a name: it is known to be none of the standard library's.
    ordinary: RefCell<Vec<bool>>,
    /// By the number of a name: its spelling, once that was shared.
    spellings: RefCell<Vec<Option<Rc<str>>>>,
    pub(crate) interface_scopes: Vec<InterfaceScope<'a>>,
    pub(crate) interface_names: BTreeMap<Name, InterfaceId>,
    /// The calls that depend on the instance, and what `?=` asks.
    pub(crate) dispatch: DispatchScope,
    pub(crate) globals: GlobalScope<'a>,
    pub(crate) configuration: ConfigurationScope<'a>,
    /// The unit whose declarations or body are being worked on; `None` at file level.
    pub(crate) unit: Option<UnitId>,
    pub(crate) body: BodyState,
    /// Which namespaces are visible where; `None` in a program without any.
    pub(crate) visibility: Option<&'a Visibility>,
    /// The type being declared, outside of any unit.
    pub(crate) declaring: Option<Span>,
    /// A constant expression is being checked: only constants may be read.
    pub(crate) constant_only: bool,
    pub(crate) calls: Vec<CallEdge>,
    /// The parameters of units that were called, and which of them are instances, with the number of variables the
    /// unit had then.
    pub(crate) interfaces: BTreeMap<UnitId, KnownParameters>,
    /// The parameters of standard blocks that were called, by the number of the block.
    pub(crate) standard_interfaces: BTreeMap<u16, Rc<[Parameter]>>,
    /// Undeclared names by the unit they are used in.
    pub(crate) undeclared: BTreeMap<(Option<UnitId>, Name), Undeclared>,
    /// CASE statements with an ELSE, which may be empty and then leaves no trace in the typed tree.
    pub(crate) cases_with_else: BTreeSet<Span>,
    /// Calls of functions in the conditions of transitions.
    pub(crate) condition_calls: Vec<ConditionCall>,
    /// The type of the steps of sequential function charts, once there is one.
    pub(crate) step_type: Option<TypeId>,
    /// How many more variables may be inherited: each derived type has a list of all of them.
    pub(crate) inherited_left: usize,
    /// How many declarations wait for the one being worked on.
    waiting: u32,
    /// How many more names are compared to find the nearest: a text full of unknown names is not worth it.
    comparisons_left: usize,
    diagnostics: Vec<Diagnostic>,
    /// How many there are of each name.
    counted: SameName,
    reported: BTreeSet<(Span, &'static str)>,
    error_places: BTreeSet<Span>,
}

impl<'a> Checker<'a> {
    fn new(sources: &'a Sources, names: &'a mut Names) -> Self {
        Checker {
            names,
            sources,
            options: CompileOptions::default(),
            types: Types::new(),
            type_symbols: BTreeMap::new(),
            values: BTreeMap::new(),
            units: Vec::new(),
            unit_names: NameMap::default(),
            names_here: Vec::new(),
            ordinary: RefCell::default(),
            spellings: RefCell::default(),
            interface_scopes: Vec::new(),
            interface_names: BTreeMap::new(),
            dispatch: DispatchScope::default(),
            globals: GlobalScope::default(),
            configuration: ConfigurationScope::default(),
            unit: None,
            body: BodyState::default(),
            visibility: None,
            declaring: None,
            constant_only: false,
            calls: Vec::new(),
            interfaces: BTreeMap::new(),
            standard_interfaces: BTreeMap::new(),
            undeclared: BTreeMap::new(),
            cases_with_else: BTreeSet::new(),
            condition_calls: Vec::new(),
            step_type: None,
            inherited_left: INHERITED_MAX,
            waiting: 0,
            comparisons_left: 300_000,
            diagnostics: Vec::new(),
            counted: SameName::default(),
            reported: BTreeSet::new(),
            error_places: BTreeSet::new(),
        }
    }

    /// Adds a diagnostic; the same name at the same place is said once.
    pub(crate) fn report(&mut self, diagnostic: Diagnostic) {
        if diagnostic.severity == Severity::Error {
            self.error_places.insert(diagnostic.primary.span);
        }
        let known = (diagnostic.primary.span, diagnostic.name);
        if !self.reported.contains(&known)
            && let Some(diagnostic) = self.counted.admit(diagnostic)
        {
            self.reported.insert(known);
            self.diagnostics.push(diagnostic);
        }
    }

    /// Whether an error was reported inside a span.
    pub(crate) fn has_error_in(&self, span: Span) -> bool {
        let last = Span::new(span.file, span.end, u32::MAX);
        self.error_places.range(Span::new(span.file, span.start, 0)..=last).any(|place| place.end <= span.end)
    }

    /// Whether an error was reported anywhere.
    pub(crate) fn has_errors(&self) -> bool {
        !self.error_places.is_empty()
    }

    /// Notes that a declaration is needed by another one; reports and refuses where too many wait, since each
    /// takes a part of the stack. To be followed by [`Checker::leave_declaration`] if it was not refused.
    pub(crate) fn enter_declaration(&mut self, place: Span) -> bool {
        if self.waiting >= WAITING_MAX {
            self.report(
                Diagnostic::error(
                    "expression-too-deep",
                    place,
                    "this declaration stands at the end of a long chain of declarations",
                )
                .label(format!("more than {WAITING_MAX} declarations need one another"))
                .note("declare what is needed before what needs it, or take types and constants out of the chain"),
            );
            return false;
        }
        self.waiting += 1;
        true
    }

    /// The counterpart of [`Checker::enter_declaration`].
    pub(crate) fn leave_declaration(&mut self) {
        self.waiting -= 1;
    }

    /// Whether one more search for a nearest name among so many candidates is worth its time.
    pub(crate) fn may_search(&mut self, candidates: usize) -> bool {
        // The names of the standard are always among them.
        const STANDARD_NAMES: usize = 100;
        match self.comparisons_left.checked_sub(candidates.saturating_add(STANDARD_NAMES)) {
            Some(left) => {
                self.comparisons_left = left;
                true
            }
            None => false,
        }
    }

    /// The spelling of a name as first written.
    pub(crate) fn spelling(&self, name: Name) -> &str {
        self.names.spelling(name)
    }

    /// The text of a place as written.
    pub(crate) fn text(&self, span: Span) -> &'a str {
        self.sources.text(span)
    }

    /// The id of an elementary type.
    pub(crate) fn elementary(&mut self, kind: ElementaryType) -> TypeId {
        self.types.elementary(kind)
    }

    /// The type of what has an error already reported.
    pub(crate) fn unknown_type(&mut self) -> TypeId {
        self.types.intern(Type::Unknown)
    }

    /// Whether a type is [`Type::Unknown`].
    pub(crate) fn is_unknown(&self, id: TypeId) -> bool {
        matches!(self.types.get(id), Type::Unknown)
    }

    /// An expression in place of one with an error already reported.
    pub(crate) fn unknown(&mut self, span: Span) -> typed::Expression {
        typed::Expression {
            kind: typed::ExpressionKind::Constant(typed::Constant::Null),
            ty: self.unknown_type(),
            span,
        }
    }

    fn finish(mut self) -> Checked {
        let failed = self.diagnostics.iter().any(|diagnostic| diagnostic.severity == Severity::Error);
        let parts: Vec<typed::ObjectPart> =
            (0..self.units.len()).map(|unit| self.object_part(UnitId(unit as u32))).collect();
        let (configuration, stubs) = self.finished_configuration();
        let stubs: Vec<TypedUnit> = stubs
            .into_iter()
            .map(|StubBody { name, body, span }| TypedUnit {
                name,
                kind: UnitKind::Function,
                object: typed::ObjectPart::default(),
                variables: Vec::new(),
                result: None,
                body,
                labels: 0,
                may_use_addresses: true,
                span,
            })
            .collect();
        let (dispatch, fits, entries) =
            if failed { Default::default() } else { self.dispatch_tables(self.units.len() + stubs.len()) };
        let units = std::mem::take(&mut self.units);
        let units = units
            .into_iter()
            .zip(parts)
            .map(|(unit, object)| TypedUnit {
                object,
                name: unit.name,
                kind: unit.kind,
                variables: unit.variables,
                result: unit.result,
                body: unit.body,
                labels: unit.labels,
                may_use_addresses: unit.uses_addresses,
                span: unit.tree.name.span,
            })
            .chain(stubs)
            .chain(entries)
            .collect();
        let program = TypedProgram {
            types: std::mem::take(&mut self.types),
            units,
            globals: std::mem::take(&mut self.globals.variables),
            configuration,
            dispatch,
            fits,
        };
        for (member, other) in crate::layout::places::shared(&program) {
            self.report_shared_place(member, other);
        }
        self.diagnostics.sort_by_key(|diagnostic| (diagnostic.primary.span, diagnostic.name));
        Checked { program, diagnostics: self.diagnostics }
    }

    fn report_shared_place(&mut self, member: Span, other: Span) {
        let (name, first) = (self.text(member), self.text(other));
        self.report(
            Diagnostic::error("member-place", member, format!("`{name}` and `{first}` lie on the same bits"))
                .label("shares its place")
                .also(other, "with this member")
                .note("move one of them, or write `STRUCT OVERLAP` if both are meant to show the same bits"),
        );
    }
}
