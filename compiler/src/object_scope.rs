//! What is declared about classes, methods and interfaces. Holds data and answers what follows from it alone:
//! who derives from whom, which method a name stands for. The rules are in `declare::objects` and `check`.
//!
//! Source: IEC 61131-3:2013, 6.6.5 to 6.6.7.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use latchwork_grammar::{Name, tree};

use crate::{
    scope::UnitScope,
    typed::VariableId,
    types::{InterfaceId, UnitId},
};

/// Most types a type may derive from, one above the other; also of interfaces.
pub(crate) const INHERITANCE_MAX: usize = 64;

/// Most interfaces that an interface or type may have, those it gets through others counted.
pub(crate) const INTERFACES_MAX: usize = 256;

/// Who may use a variable or method.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Visibility {
    /// Everybody.
    Public,
    /// The type that declares it and the types derived from that.
    #[default]
    Protected,
    /// The type that declares it.
    Private,
    /// Everybody in the same namespace.
    Internal,
}

impl Visibility {
    /// The keyword.
    pub(crate) fn keyword(self) -> &'static str {
        match self {
            Visibility::Public => "PUBLIC",
            Visibility::Protected => "PROTECTED",
            Visibility::Private => "PRIVATE",
            Visibility::Internal => "INTERNAL",
        }
    }
}

/// What a method belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Owner {
    /// A class or function block.
    Unit(UnitId),
    /// An interface: the method is a prototype.
    Interface(InterfaceId),
}

/// What a unit has to do with classes, methods and inheritance.
#[derive(Default)]
pub(crate) struct ObjectScope {
    /// For a method.
    pub(crate) owner: Option<Owner>,
    /// EXTENDS.
    pub(crate) base: Option<UnitId>,
    /// How many variables come from the base.
    pub(crate) inherited: usize,
    /// The types that extend this one.
    pub(crate) derived: Vec<UnitId>,
    /// IMPLEMENTS.
    pub(crate) interfaces: Vec<InterfaceId>,
    /// Methods declared here.
    pub(crate) methods: BTreeMap<Name, UnitId>,
    /// Of a method.
    pub(crate) visibility: Visibility,
    pub(crate) is_abstract: bool,
    pub(crate) is_final: bool,
    pub(crate) is_override: bool,
    /// The method of a base that a method overrides.
    pub(crate) overridden: Option<UnitId>,
    /// Of the variables, those of the base first.
    pub(crate) variable_visibility: Vec<Visibility>,
    /// Whether the variables have been entered.
    pub(crate) entered: bool,
    /// Made by the compiler to hold the arguments of dispatched calls.
    pub(crate) made: bool,
}

/// An interface with its method prototypes.
pub(crate) struct InterfaceScope<'a> {
    pub(crate) tree: &'a tree::Interface,
    /// The interfaces it extends.
    pub(crate) extends: Vec<InterfaceId>,
    /// Prototypes declared here.
    pub(crate) methods: BTreeMap<Name, UnitId>,
}

/// A type and the types it derives from, nearest first.
pub(crate) fn with_bases<'u>(units: &'u [UnitScope<'_>], unit: UnitId) -> impl Iterator<Item = UnitId> + 'u {
    let base = |unit: &UnitId| units[unit.0 as usize].object.base;
    std::iter::successors(Some(unit), base).take(INHERITANCE_MAX + 1)
}

/// Whether a type is another one or derives from it.
pub(crate) fn derives_from(units: &[UnitScope<'_>], unit: UnitId, base: UnitId) -> bool {
    with_bases(units, unit).any(|on_way| on_way == base)
}

/// The type that declares a variable of a type.
pub(crate) fn declaring_unit(units: &[UnitScope<'_>], unit: UnitId, variable: VariableId) -> UnitId {
    with_bases(units, unit)
        .find(|on_way| units[on_way.0 as usize].object.inherited <= variable.0 as usize)
        .unwrap_or(unit)
}

/// The method that a name stands for in instances of a type: its own, or the nearest of its bases that is not
/// PRIVATE there.
pub(crate) fn method_of(units: &[UnitScope<'_>], unit: UnitId, name: Name) -> Option<UnitId> {
    with_bases(units, unit).find_map(|on_way| {
        let method = units[on_way.0 as usize].object.methods.get(&name).copied()?;
        let private = units[method.0 as usize].object.visibility == Visibility::Private;
        (on_way == unit || !private).then_some(method)
    })
}

/// Interfaces with all those that they extend, each once; at most one more than [`INTERFACES_MAX`].
pub(crate) fn with_extended(
    interfaces: &[InterfaceScope<'_>],
    start: impl IntoIterator<Item = InterfaceId>,
) -> Vec<InterfaceId> {
    let mut all: Vec<InterfaceId> = Vec::new();
    let mut seen = BTreeSet::new();
    let mut waiting: VecDeque<InterfaceId> = start.into_iter().collect();
    while let Some(interface) = waiting.pop_front() {
        if all.len() > INTERFACES_MAX {
            break;
        }
        if seen.insert(interface) {
            all.push(interface);
            waiting.extend(&interfaces[interface.0 as usize].extends);
        }
    }
    all
}

/// Every interface that a type implements, also through its bases.
pub(crate) fn implemented(
    units: &[UnitScope<'_>],
    interfaces: &[InterfaceScope<'_>],
    unit: UnitId,
) -> Vec<InterfaceId> {
    let written = with_bases(units, unit).flat_map(|on_way| &units[on_way.0 as usize].object.interfaces);
    with_extended(interfaces, written.copied())
}

/// Whether a type or one of its bases extends something that it cannot: what it has from there is not known.
pub(crate) fn is_incomplete(units: &[UnitScope<'_>], unit: UnitId) -> bool {
    with_bases(units, unit).any(|on_way| {
        let scope = &units[on_way.0 as usize];
        scope.tree.extends.is_some() && scope.object.base.is_none()
    })
}

/// Whether an interface extends something that it cannot: which methods and interfaces it has from there is not known.
pub(crate) fn is_interface_incomplete(interfaces: &[InterfaceScope<'_>], interface: InterfaceId) -> bool {
    with_extended(interfaces, [interface]).iter().any(|extended| {
        let scope = &interfaces[extended.0 as usize];
        scope.tree.damaged || scope.tree.extends.len() != scope.extends.len()
    })
}

/// Whether a type implements something that it cannot, or has a base or interface of which too little is known.
pub(crate) fn may_implement_more(
    units: &[UnitScope<'_>],
    interfaces: &[InterfaceScope<'_>],
    unit: UnitId,
) -> bool {
    is_incomplete(units, unit)
        || with_bases(units, unit).any(|on_way| {
            let scope = &units[on_way.0 as usize];
            scope.tree.damaged || scope.tree.implements.len() != scope.object.interfaces.len()
        })
        || implemented(units, interfaces, unit)
            .iter()
            .any(|interface| is_interface_incomplete(interfaces, *interface))
}
