//! Types as written, to types of the checker: `TYPE` sections and the types in variable declarations.
//!
//! Source: IEC 61131-3:2013, 6.4.4, tables 10 and 11. Types may be used before their declaration (our choice:
//! the order of files must not change the meaning of a program).

use std::collections::BTreeMap;

use latchwork_grammar::{
    Diagnostic, Name, Span,
    tree::{
        self, ArrayDimension, Ident, TypeDeclaration, TypeSpecification, TypeSpecificationKind, UnitKind,
    },
};
use latchwork_stdlib::TypeClass;
use latchwork_vm::ElementaryType;

use crate::{
    check::{Checker, describe::STRING_CAPACITY},
    configuration::is_open,
    constant,
    nearest::nearest,
    scope::Progress,
    types::{DerivedId, Structure, StructureMember, Type, TypeId},
};

/// Most characters a string type may hold (our choice: LEN gives an INT).
const STRING_CAPACITY_MAX: i128 = 32767;

/// The elementary type of a keyword.
pub(crate) fn elementary(kind: tree::ElementaryType) -> ElementaryType {
    use tree::ElementaryType as Written;
    match kind {
        Written::Bool => ElementaryType::Bool,
        Written::Byte => ElementaryType::Byte,
        Written::Word => ElementaryType::Word,
        Written::Dword => ElementaryType::Dword,
        Written::Lword => ElementaryType::Lword,
        Written::Sint => ElementaryType::Sint,
        Written::Int => ElementaryType::Int,
        Written::Dint => ElementaryType::Dint,
        Written::Lint => ElementaryType::Lint,
        Written::Usint => ElementaryType::Usint,
        Written::Uint => ElementaryType::Uint,
        Written::Udint => ElementaryType::Udint,
        Written::Ulint => ElementaryType::Ulint,
        Written::Real => ElementaryType::Real,
        Written::Lreal => ElementaryType::Lreal,
        Written::Time => ElementaryType::Time,
        Written::Ltime => ElementaryType::Ltime,
        Written::Date => ElementaryType::Date,
        Written::Ldate => ElementaryType::Ldate,
        Written::TimeOfDay => ElementaryType::TimeOfDay,
        Written::LtimeOfDay => ElementaryType::LtimeOfDay,
        Written::DateAndTime => ElementaryType::DateAndTime,
        Written::LdateAndTime => ElementaryType::LdateAndTime,
        Written::Char => ElementaryType::Char,
        Written::Wchar => ElementaryType::Wchar,
    }
}

impl<'a> Checker<'a> {
    /// Resolves all types of `TYPE` sections, then their structures' members.
    pub(crate) fn declare_types(&mut self) {
        let names: Vec<Name> = self.type_symbols.keys().copied().collect();
        for name in &names {
            self.named_type(*name);
        }
    }

    /// The type of a `TYPE` section, resolved when it is first needed; `None` for a type that contains itself
    /// other than through a structure.
    fn named_type(&mut self, name: Name) -> Option<TypeId> {
        let symbol = self.type_symbols.get_mut(&name)?;
        if symbol.id.is_some() || symbol.progress != Progress::Pending {
            return symbol.id;
        }
        symbol.progress = Progress::Running;
        let declaration = symbol.declaration;
        if !self.enter_declaration(declaration.name.span) {
            let unknown = self.unknown_type();
            if let Some(symbol) = self.type_symbols.get_mut(&name) {
                symbol.id = Some(unknown);
                symbol.progress = Progress::Done;
            }
            return Some(unknown);
        }
        let unit = self.unit.take();
        let declaring = self.declaring.replace(declaration.name.span);
        let id = self.resolve_declaration(declaration);
        if let Some(symbol) = self.type_symbols.get_mut(&name) {
            symbol.id = Some(id);
            symbol.progress = Progress::Done;
        }
        if let Some(initial) = &declaration.initial
            && let Some(value) = self.initial_value(initial, id, declaration.name)
        {
            self.types.defaults.insert(id, value);
        }
        self.unit = unit;
        self.declaring = declaring;
        self.leave_declaration();
        Some(id)
    }

    fn resolve_declaration(&mut self, declaration: &'a TypeDeclaration) -> TypeId {
        let name = declaration.name;
        let specification = &declaration.specification;
        match &specification.kind {
            TypeSpecificationKind::Structure { overlap, members } => {
                let structure =
                    Structure { name: name.name, overlap: *overlap, members: Vec::new(), span: name.span };
                let derived = self.types.add_structure(structure);
                let id = self.types.intern(Type::Structure(derived));
                // Known before its members are, so that a reference to it may be a member.
                if let Some(symbol) = self.type_symbols.get_mut(&name.name) {
                    symbol.id = Some(id);
                }
                let members = self.structure_members(members, derived, *overlap);
                self.types.structure_mut(derived).members = members;
                id
            }
            TypeSpecificationKind::Enumeration { .. } | TypeSpecificationKind::Subrange { .. } => {
                self.resolve_named(specification, Some(name))
            }
            _ => {
                let base = self.resolve_named(specification, None);
                if self.is_unknown(base) {
                    return base;
                }
                self.types.intern(Type::Derived { name: name.name, base })
            }
        }
    }

    fn structure_members(
        &mut self,
        declarations: &'a [tree::VariableDeclaration],
        derived: DerivedId,
        overlap: bool,
    ) -> Vec<StructureMember> {
        self.check_all_placed(declarations);
        let mut members: Vec<StructureMember> = Vec::new();
        let mut places: BTreeMap<Name, Span> = BTreeMap::new();
        for declaration in declarations {
            let kind = self.resolve(&declaration.specification);
            let place = self.member_place(declaration, kind, overlap);
            if let Some(location) = &declaration.location {
                self.check_member_location(location, kind, declaration.initial.as_ref());
            }
            for ident in &declaration.names {
                if let Some(first) = places.insert(ident.name, ident.span) {
                    self.report_duplicate(*ident, first, "members of a structure");
                    continue;
                }
                let initial = declaration
                    .initial
                    .as_ref()
                    .filter(|_| !overlap)
                    .and_then(|initial| self.initial_value(initial, kind, *ident));
                if let Some(location) = declaration.location.as_deref().filter(|location| is_open(location)) {
                    self.types.open_members.insert((derived, members.len() as u32), location.clone());
                }
                members.push(StructureMember { name: ident.name, kind, initial, place, span: ident.span });
            }
        }
        members
    }

    /// The type a specification stands for, outside a `TYPE` declaration.
    pub(crate) fn resolve(&mut self, specification: &'a TypeSpecification) -> TypeId {
        self.resolve_named(specification, None)
    }

    fn resolve_named(&mut self, specification: &'a TypeSpecification, name: Option<Ident>) -> TypeId {
        match &specification.kind {
            TypeSpecificationKind::Elementary(kind) => self.elementary(elementary(*kind)),
            TypeSpecificationKind::String { wide, length } => {
                let capacity = match length {
                    Some(length) => self.string_capacity(length),
                    None => STRING_CAPACITY,
                };
                self.types.intern(Type::String { wide: *wide, capacity })
            }
            TypeSpecificationKind::Named(name) if !name.path.is_empty() => {
                self.report_unresolved(name);
                self.unknown_type()
            }
            TypeSpecificationKind::Named(name) => self.type_by_name(name.name),
            TypeSpecificationKind::Subrange { base, lower, upper } => self.subrange(base, lower, upper, name),
            TypeSpecificationKind::Enumeration { base, values } => {
                self.enumeration(base.as_deref(), values, name, specification.span)
            }
            TypeSpecificationKind::Array { dimensions, element } => {
                let bounds = self.array_bounds(dimensions);
                let element = self.resolve(element);
                match bounds {
                    Some(bounds) if !self.is_unknown(element) => {
                        self.types.intern(Type::Array { bounds, element })
                    }
                    _ => self.unknown_type(),
                }
            }
            // The parser has refused a structure without a name of its own.
            TypeSpecificationKind::Structure { .. } => self.unknown_type(),
            TypeSpecificationKind::Reference(target) => {
                let target = self.resolve(target);
                if self.is_unknown(target) {
                    return target;
                }
                self.types.intern(Type::Reference(target))
            }
        }
    }

    /// A type by its name: of a `TYPE` section, a function block type, or a standard function block.
    pub(crate) fn type_by_name(&mut self, ident: Ident) -> TypeId {
        if self.type_symbols.contains_key(&ident.name) {
            if let Some(id) = self.named_type(ident.name) {
                return id;
            }
            let place = self.type_symbols.get(&ident.name).map(|symbol| symbol.declaration.name.span);
            let spelling = self.text(ident.span);
            let mut diagnostic =
                Diagnostic::error("type-cycle", ident.span, format!("type `{spelling}` is made of itself"))
                    .label("needs the type that is being declared")
                    .note("such a type would have no end; take out one of the types in the circle");
            if let Some(place) = place.filter(|place| *place != ident.span) {
                diagnostic = diagnostic.also(place, "the type");
            }
            self.report(diagnostic);
            return self.unknown_type();
        }
        if let Some(unit) = self.unit_names.get(ident.name).copied() {
            return match self.units[unit.0 as usize].kind {
                UnitKind::FunctionBlock | UnitKind::Class => self.types.intern(Type::Unit(unit)),
                kind => {
                    self.report_unit_as_type(ident, kind, self.units[unit.0 as usize].tree.name.span);
                    self.unknown_type()
                }
            };
        }
        if let Some(interface) = self.interface_names.get(&ident.name) {
            return self.types.intern(Type::Interface(*interface));
        }
        let spelling = self.text(ident.span);
        if let Some(block) = latchwork_stdlib::block(spelling) {
            return self.types.add_standard_block(block);
        }
        self.report_undeclared_type(ident);
        self.unknown_type()
    }

    fn report_unit_as_type(&mut self, ident: Ident, kind: UnitKind, place: Span) {
        let spelling = self.text(ident.span);
        let (what, remedy) = match kind {
            UnitKind::Program => (
                "a program",
                "a program runs by itself and has no instances inside other units; make it a FUNCTION_BLOCK",
            ),
            _ => ("a function", "a function keeps nothing between calls and needs no instance; just call it"),
        };
        self.report(
            Diagnostic::error("not-a-type", ident.span, format!("`{spelling}` is {what}, not a type"))
                .label("a type is expected here")
                .also(place, "declared here")
                .note(remedy),
        );
    }

    pub(super) fn report_undeclared_type(&mut self, ident: Ident) {
        let spelling = self.text(ident.span);
        let search = self.may_search(self.type_symbols.len() + self.unit_names.len());
        let declared =
            self.type_symbols.keys().copied().chain(self.unit_names.keys()).map(|name| self.spelling(name));
        let standard = latchwork_stdlib::blocks().map(|block| block.name);
        let candidates = declared.chain(standard).chain(ElementaryType::ALL.iter().map(|kind| kind.name()));
        let near = search.then(move || nearest(spelling, candidates)).flatten();
        let place = near.and_then(|near| {
            let name = self.names.find(near)?;
            let from_types = self.type_symbols.get(&name).map(|symbol| symbol.declaration.name.span);
            from_types
                .or_else(|| self.unit_names.get(name).map(|unit| self.units[unit.0 as usize].tree.name.span))
        });
        let generic = spelling.to_ascii_uppercase().starts_with("ANY");
        let mut diagnostic =
            Diagnostic::error("undeclared-type", ident.span, format!("there is no type `{spelling}`"))
                .label("not declared in any file");
        match (near, place) {
            (Some(near), Some(place)) => {
                diagnostic = diagnostic.also(place, format!("`{near}` is declared here"))
            }
            (Some(near), None) => diagnostic = diagnostic.note(format!("the standard has `{near}`")),
            (None, _) if generic => {
                diagnostic = diagnostic
                    .note("generic types describe the standard functions; a declaration needs one type");
            }
            (None, _) => {
                diagnostic = diagnostic
                    .note("types are declared in `TYPE … END_TYPE` or as a FUNCTION_BLOCK, in any of the files given");
            }
        }
        self.report(diagnostic);
    }

    fn string_capacity(&mut self, length: &'a tree::Expression) -> u16 {
        let Some((value, _)) = self.constant_integer(length) else { return STRING_CAPACITY };
        match u16::try_from(value) {
            Ok(capacity) if capacity >= 1 && value <= STRING_CAPACITY_MAX => capacity,
            _ => {
                self.report(
                    Diagnostic::error(
                        "string-length",
                        length.span,
                        format!("a string cannot hold {value} characters"),
                    )
                    .label(format!("1 to {STRING_CAPACITY_MAX}")),
                );
                STRING_CAPACITY
            }
        }
    }

    fn subrange(
        &mut self,
        base: &'a TypeSpecification,
        lower: &'a tree::Expression,
        upper: &'a tree::Expression,
        name: Option<Ident>,
    ) -> TypeId {
        let base_id = self.resolve(base);
        let low = self.constant_integer(lower);
        let high = self.constant_integer(upper);
        if self.is_unknown(base_id) {
            return base_id;
        }
        let kind = match self.types.get(self.types.underlying(base_id)) {
            Type::Elementary(kind) if TypeClass::AnyInt.accepts(*kind) => *kind,
            _ => {
                let base_name = self.type_name(base_id);
                self.report(
                    Diagnostic::error(
                        "subrange-bounds",
                        base.span,
                        format!("{base_name} cannot have a subrange"),
                    )
                    .label("only integer types can"),
                );
                return self.unknown_type();
            }
        };
        let (Some((low, _)), Some((high, _))) = (low, high) else { return self.unknown_type() };
        let range = constant::integer_range(kind).unwrap_or((0, 0));
        for (value, span) in [(low, lower.span), (high, upper.span)] {
            if value < range.0 || value > range.1 {
                self.report(
                    Diagnostic::error(
                        "subrange-bounds",
                        span,
                        format!("{value} is not a value of {}", kind.name()),
                    )
                    .label(format!(
                        "{} goes from {} to {}",
                        kind.name(),
                        range.0,
                        range.1
                    )),
                );
                return self.unknown_type();
            }
        }
        if low > high {
            self.report(
                Diagnostic::error(
                    "subrange-bounds",
                    lower.span.to(upper.span),
                    format!("the subrange {low}..{high} has no values"),
                )
                .label("the lower bound stands first"),
            );
            return self.unknown_type();
        }
        let name = name.map(|ident| ident.name);
        self.types.intern(Type::Subrange { name, base: kind, lower: low, upper: high })
    }

    fn array_bounds(&mut self, dimensions: &'a [ArrayDimension]) -> Option<Vec<(i64, i64)>> {
        let mut bounds = Some(Vec::new());
        for dimension in dimensions {
            let (lower, upper) = match dimension {
                ArrayDimension::Bounds { lower, upper } => (lower, upper),
                ArrayDimension::Open(span) => {
                    self.report_open_array(*span);
                    bounds = None;
                    continue;
                }
            };
            let low = self.constant_integer(lower);
            let high = self.constant_integer(upper);
            let (Some((low, _)), Some((high, _))) = (low, high) else {
                bounds = None;
                continue;
            };
            let (Ok(low), Ok(high)) = (i64::try_from(low), i64::try_from(high)) else {
                self.report(Diagnostic::error(
                    "array-bounds",
                    lower.span.to(upper.span),
                    "array bounds must be values of LINT",
                ));
                bounds = None;
                continue;
            };
            if low > high {
                self.report(
                    Diagnostic::error(
                        "array-bounds",
                        lower.span.to(upper.span),
                        format!("the array bounds {low}..{high} leave no element"),
                    )
                    .label("the lower bound stands first"),
                );
                bounds = None;
                continue;
            }
            if let Some(bounds) = &mut bounds {
                bounds.push((low, high));
            }
        }
        bounds
    }
}
