//! What the checker knows of a program, by the places of the text: types of values and variables, instances that are
//! called, and which names are taken.

use std::collections::{HashMap, HashSet};

use latchwork_grammar::{
    Name, Names, Sources, Span,
    tree::{Declaration, ProgramUnit, SyntaxTree, UnitKind},
};
use latchwork_stdlib::TypeClass;
use latchwork_vm::ElementaryType as E;

use crate::{
    check::describe::STRING_CAPACITY,
    constant,
    typed::{Constant, ExpressionKind, TypedProgram, walk},
    types::{Type, TypeId},
};

/// Deepest type that is written out.
const TYPE_DEPTH_MAX: u32 = 8;

/// What is known of a program without errors.
pub(super) struct Facts<'a> {
    /// The texts.
    pub(super) sources: &'a Sources,
    /// All names.
    pub(super) names: &'a Names,
    program: &'a TypedProgram,
    /// The type of what stands at a place, before any implicit conversion.
    types: HashMap<Span, TypeId>,
    /// The integer that stands at a place, if it is known before the program runs.
    integers: HashMap<Span, i128>,
    /// Functions of the user, by name.
    functions: HashMap<Name, &'a ProgramUnit>,
    /// Function block types and classes of the user, by name.
    blocks: HashMap<Name, &'a ProgramUnit>,
    /// Names of methods that have a result.
    methods: HashSet<Name>,
}

impl<'a> Facts<'a> {
    /// Gathers what is known.
    pub(super) fn new(
        program: &'a TypedProgram,
        trees: &'a [SyntaxTree],
        sources: &'a Sources,
        names: &'a Names,
    ) -> Self {
        let mut types = HashMap::new();
        let mut integers = HashMap::new();
        for unit in &program.units {
            walk::statements(&unit.body, &mut |statement| {
                walk::own_targets(statement, &mut |access| {
                    types.insert(access.span, access.ty);
                });
                walk::own_reads_of_call(statement, &mut |access| {
                    types.insert(access.span, access.ty);
                });
                // Outer ones come first: what stands inside a conversion at the same place is what is written there.
                walk::own_expressions(statement, &mut |value| {
                    types.insert(value.span, value.ty);
                    if let ExpressionKind::Constant(Constant::Integer(integer)) = value.kind {
                        integers.insert(value.span, integer);
                    }
                    walk::writes_of(value, &mut |access| {
                        types.insert(access.span, access.ty);
                    });
                });
            });
        }
        let mut facts = Facts {
            sources,
            names,
            program,
            types,
            integers,
            functions: HashMap::new(),
            blocks: HashMap::new(),
            methods: HashSet::new(),
        };
        trees.iter().for_each(|tree| facts.enter(&tree.declarations));
        facts
    }

    fn enter(&mut self, declarations: &'a [Declaration]) {
        for declaration in declarations {
            match declaration {
                Declaration::Unit(unit) => {
                    self.enter_methods(&unit.methods);
                    match unit.kind {
                        UnitKind::Function => self.functions.insert(unit.name.name, unit),
                        _ => self.blocks.insert(unit.name.name, unit),
                    };
                }
                Declaration::Interface(interface) => self.enter_methods(&interface.methods),
                Declaration::Namespace(namespace) => self.enter(&namespace.declarations),
                _ => {}
            }
        }
    }

    fn enter_methods(&mut self, methods: &[ProgramUnit]) {
        self.methods.extend(methods.iter().filter(|m| m.result.is_some()).map(|m| m.name.name));
    }

    /// Whether there is a method of this name with a result; one that overrides another has one as that has.
    pub(super) fn method_has_result(&self, name: Name) -> bool {
        self.methods.contains(&name)
    }

    /// The text of a place.
    pub(super) fn text(&self, span: Span) -> &'a str {
        self.sources.text(span)
    }

    /// The type of what stands at a place.
    pub(super) fn type_at(&self, span: Span) -> Option<TypeId> {
        self.types.get(&span).copied()
    }

    /// The integer that stands at a place, if it is known before the program runs.
    pub(super) fn integer_at(&self, span: Span) -> Option<i128> {
        self.integers.get(&span).copied()
    }

    /// The elementary type of what stands at a place.
    pub(super) fn elementary_at(&self, span: Span) -> Option<E> {
        self.program.types.elementary_base(self.type_at(span)?)
    }

    /// The standard function block whose instance stands at a place.
    pub(super) fn standard_block_at(&self, span: Span) -> Option<&'static latchwork_stdlib::BlockDefinition> {
        let types = &self.program.types;
        match types.get(types.underlying(self.type_at(span)?)) {
            Type::StandardBlock(index) => Some(types.standard_block(*index)),
            _ => None,
        }
    }

    /// The function block of the user whose instance stands at a place.
    pub(super) fn block_at(&self, span: Span) -> Option<&'a ProgramUnit> {
        let types = &self.program.types;
        match types.get(types.underlying(self.type_at(span)?)) {
            Type::Unit(unit) => {
                let name = self.program.units.get(unit.0 as usize)?.name;
                self.blocks.get(&name).copied()
            }
            _ => None,
        }
    }

    /// A function of the user by its name.
    pub(super) fn function(&self, name: Name) -> Option<&'a ProgramUnit> {
        self.functions.get(&name).copied()
    }

    /// Smallest and largest value of the integer type of a variable.
    pub(super) fn integer_range(&self, ty: TypeId) -> Option<(i128, i128)> {
        let types = &self.program.types;
        if let Type::Subrange { lower, upper, .. } = types.get(types.underlying(ty)) {
            return Some((*lower, *upper));
        }
        let base = types.elementary_base(ty).filter(|kind| TypeClass::AnyInt.accepts(*kind))?;
        constant::integer_range(base)
    }

    /// A type as it is written in a declaration; `None` if it has no spelling there.
    pub(super) fn type_text(&self, ty: TypeId) -> Option<String> {
        self.type_text_within(ty, TYPE_DEPTH_MAX)
    }

    fn type_text_within(&self, ty: TypeId, depth: u32) -> Option<String> {
        let depth = depth.checked_sub(1)?;
        let types = &self.program.types;
        Some(match types.get(ty) {
            Type::Elementary(kind) => kind.name().to_owned(),
            Type::String { wide, capacity } => {
                let keyword = if *wide { "WSTRING" } else { "STRING" };
                match *capacity {
                    STRING_CAPACITY => keyword.to_owned(),
                    capacity => format!("{keyword}[{capacity}]"),
                }
            }
            Type::Derived { name, .. } | Type::Subrange { name: Some(name), .. } => {
                self.names.spelling(*name).to_owned()
            }
            Type::Subrange { name: None, base, lower, upper } => {
                format!("{} ({lower}..{upper})", base.name())
            }
            Type::Enumeration(id) | Type::NamedValues { id, .. } => {
                self.names.spelling(types.enumeration(*id).name?).to_owned()
            }
            Type::Array { bounds, element } => {
                let bounds: Vec<String> = bounds.iter().map(|(low, high)| format!("{low}..{high}")).collect();
                format!("ARRAY[{}] OF {}", bounds.join(", "), self.type_text_within(*element, depth)?)
            }
            Type::Structure(id) => self.names.spelling(types.structure(*id).name).to_owned(),
            Type::Reference(target) => format!("REF_TO {}", self.type_text_within(*target, depth)?),
            _ => return None,
        })
    }
}

/// Names that nothing in the program has, given out one after the other.
pub(super) struct FreshNames<'a> {
    names: &'a Names,
    given: HashSet<String>,
}

impl<'a> FreshNames<'a> {
    /// None has been given out yet.
    pub(super) fn new(names: &'a Names) -> Self {
        FreshNames { names, given: HashSet::new() }
    }

    /// Whether a name is free; without regard to letter case.
    pub(super) fn is_free(&self, name: &str) -> bool {
        self.names.find(name).is_none()
            && !self.given.contains(&name.to_ascii_lowercase())
            && latchwork_stdlib::function(name).is_none()
            && latchwork_stdlib::block(name).is_none()
            && !latchwork_grammar::keywords().iter().any(|(keyword, _)| keyword.eq_ignore_ascii_case(name))
    }

    /// A name that begins with `base`; the base itself if it is free.
    pub(super) fn give(&mut self, base: &str) -> String {
        let mut name = base.to_owned();
        let mut number = 1u32;
        while !self.is_free(&name) {
            number += 1;
            name = format!("{base}{number}");
        }
        self.given.insert(name.to_ascii_lowercase());
        name
    }
}

/// A variable that the rewritten text needs and the old one had no name for.
#[derive(Clone, Debug)]
pub(super) struct NewVariable {
    /// Its name.
    pub(super) name: String,
    /// Its type as written.
    pub(super) type_text: String,
}
