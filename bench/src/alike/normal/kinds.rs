//! What a program declares: types, units, globals, and what their names stand for.

use std::{
    borrow::Cow,
    collections::{HashMap, HashSet},
};

use latchwork_grammar::{
    FileId, Name, Names, Sources,
    tree::{
        Declaration, DirectAddress, ExpressionKind, ProgramUnit, SectionKind, SyntaxTree, TypeDeclaration,
        TypeSpecification, TypeSpecificationKind, VariableDeclaration, VariableSection,
    },
};
use latchwork_stdlib::BlockDefinition;
use latchwork_vm::ElementaryType;

use crate::alike::Demanded;

/// Most names of types, bases or constants that are followed one after the other.
pub(super) const FOLLOWED_MAX: usize = 16;

/// What something is.
#[derive(Clone, Copy)]
pub(super) enum Kind<'t> {
    /// An elementary type, also one with a name or bounds of the author.
    Elementary(&'static str),
    /// A standard function block.
    Standard(&'static BlockDefinition),
    /// A function block type or class of the author.
    Unit(&'t ProgramUnit),
    /// A structure, with its members.
    Structure(&'t [VariableDeclaration]),
    /// An enumeration.
    Enumeration,
    /// An array of elements of a type.
    Array(&'t TypeSpecification),
    /// A reference to something of a type.
    Reference(&'t TypeSpecification),
    /// Nobody knows.
    Unknown,
}

impl Kind<'_> {
    /// The word for a variable that is this.
    pub(super) fn word(self, declared: &Declared<'_>) -> Cow<'static, str> {
        match self {
            Kind::Array(element) => format!("array of {}", declared.kind(element).inner_word()).into(),
            Kind::Reference(target) => format!("reference to {}", declared.kind(target).inner_word()).into(),
            other => other.inner_word().into(),
        }
    }

    /// The word for it as a part of another: types may contain themselves by reference, so nothing is followed from here.
    fn inner_word(self) -> &'static str {
        match self {
            Kind::Elementary(name) => name,
            Kind::Standard(block) => block.name,
            Kind::Unit(_) => "own block",
            Kind::Structure(_) => "structure",
            Kind::Enumeration => "enumeration",
            Kind::Array(_) => "array",
            Kind::Reference(_) => "reference",
            Kind::Unknown => "name",
        }
    }
}

/// A variable as declared.
#[derive(Clone, Copy)]
pub(super) struct Variable<'t> {
    /// Its declaration.
    pub(super) declaration: &'t VariableDeclaration,
    /// The section it stands in.
    pub(super) section: &'t VariableSection,
}

/// What a program declares.
pub(in crate::alike) struct Declared<'t> {
    /// The texts.
    pub(super) sources: &'t Sources,
    /// All names.
    pub(super) names: &'t Names,
    types: HashMap<Name, &'t TypeDeclaration>,
    units: HashMap<Name, &'t ProgramUnit>,
    globals: HashMap<Name, Variable<'t>>,
    /// Values of enumerations.
    values: HashSet<Name>,
    /// What the task demands by name, with the word for it.
    demanded: HashMap<Name, String>,
}

impl<'t> Declared<'t> {
    /// Gathers what is declared; of several things of one name the first counts.
    pub(in crate::alike) fn new(
        trees: &'t [SyntaxTree],
        sources: &'t Sources,
        names: &'t Names,
        demanded: &[Demanded],
    ) -> Self {
        let demanded = demanded
            .iter()
            .filter_map(|variable| {
                let word = variable.address.as_deref().and_then(address_of_text);
                let word = word.unwrap_or_else(|| format!("demanded {}", variable.name.to_ascii_uppercase()));
                Some((names.find(&variable.name)?, word))
            })
            .collect();
        let mut declared = Declared {
            sources,
            names,
            types: HashMap::new(),
            units: HashMap::new(),
            globals: HashMap::new(),
            values: HashSet::new(),
            demanded,
        };
        trees.iter().for_each(|tree| declared.enter(&tree.declarations));
        declared
    }

    fn enter(&mut self, declarations: &'t [Declaration]) {
        for declaration in declarations {
            match declaration {
                Declaration::Types(section) => {
                    for ty in &section.types {
                        self.enter_values(&ty.specification);
                        self.types.entry(ty.name.name).or_insert(ty);
                    }
                }
                Declaration::Globals(section) => self.enter_globals(section),
                Declaration::Unit(unit) => {
                    self.units.entry(unit.name.name).or_insert(unit);
                    for variable in unit.sections.iter().flat_map(|section| &section.variables) {
                        self.enter_values(&variable.specification);
                    }
                    unit.sections
                        .iter()
                        .filter(|section| section.kind == SectionKind::Global)
                        .for_each(|section| self.enter_globals(section));
                }
                Declaration::Namespace(namespace) => self.enter(&namespace.declarations),
                Declaration::Configuration(configuration) => {
                    let resources = configuration.resources.iter().flat_map(|resource| &resource.globals);
                    configuration.globals.iter().chain(resources).for_each(|it| self.enter_globals(it));
                }
                Declaration::Interface(_) | Declaration::Using(_) => {}
            }
        }
    }

    fn enter_globals(&mut self, section: &'t VariableSection) {
        for declaration in &section.variables {
            self.enter_values(&declaration.specification);
            for name in &declaration.names {
                self.globals.entry(name.name).or_insert(Variable { declaration, section });
            }
        }
    }

    fn enter_values(&mut self, specification: &TypeSpecification) {
        match &specification.kind {
            TypeSpecificationKind::Enumeration { values, .. } => {
                self.values.extend(values.iter().map(|value| value.name.name));
            }
            TypeSpecificationKind::Array { element, .. } => self.enter_values(element),
            TypeSpecificationKind::Structure { members, .. } => {
                members.iter().for_each(|member| self.enter_values(&member.specification));
            }
            _ => {}
        }
    }

    /// What a type as written is.
    pub(super) fn kind(&self, specification: &'t TypeSpecification) -> Kind<'t> {
        let mut specification = specification;
        for _ in 0..FOLLOWED_MAX {
            match &specification.kind {
                TypeSpecificationKind::Elementary(_) => {
                    let written = ElementaryType::from_name(self.sources.text(specification.span));
                    return written.map_or(Kind::Unknown, |kind| Kind::Elementary(kind.name()));
                }
                TypeSpecificationKind::String { wide, .. } => {
                    return Kind::Elementary(if *wide { "WSTRING" } else { "STRING" });
                }
                TypeSpecificationKind::Named(name) => {
                    let name = name.name.name;
                    if let Some(ty) = self.types.get(&name) {
                        specification = &ty.specification;
                    } else if let Some(unit) = self.units.get(&name) {
                        return Kind::Unit(unit);
                    } else {
                        let block = latchwork_stdlib::block(self.names.spelling(name));
                        return block.map_or(Kind::Unknown, Kind::Standard);
                    }
                }
                TypeSpecificationKind::Subrange { base, .. } => specification = base,
                TypeSpecificationKind::Enumeration { .. } => return Kind::Enumeration,
                TypeSpecificationKind::Array { element, .. } => return Kind::Array(element),
                TypeSpecificationKind::Structure { members, .. } => return Kind::Structure(members),
                TypeSpecificationKind::Reference(target) => return Kind::Reference(target),
            }
        }
        Kind::Unknown
    }

    /// A unit of the author.
    pub(super) fn unit(&self, name: Name) -> Option<&'t ProgramUnit> {
        self.units.get(&name).copied()
    }

    /// A global variable.
    pub(super) fn global(&self, name: Name) -> Option<Variable<'t>> {
        self.globals.get(&name).copied()
    }

    /// Whether a name is that of a value of an enumeration.
    pub(super) fn is_value(&self, name: Name) -> bool {
        self.values.contains(&name)
    }

    /// The word for a variable that the task demands by this name.
    pub(super) fn demanded(&self, name: Name) -> Option<&str> {
        self.demanded.get(&name).map(String::as_str)
    }
}

/// An address as a word; `None` for one that is only partly specified.
pub(super) fn address(address: &DirectAddress) -> Option<String> {
    use latchwork_grammar::tree::Area;
    if address.path.is_empty() {
        return None;
    }
    let area = match address.area {
        Area::Input => 'I',
        Area::Output => 'Q',
        Area::Memory => 'M',
    };
    let path: Vec<String> = address.path.iter().map(u32::to_string).collect();
    Some(format!("%{area}{}{}", size(address.size), path.join(".")))
}

/// The word for an address as text.
fn address_of_text(text: &str) -> Option<String> {
    let parsed = latchwork_grammar::parse_expression(FileId(0), text, &mut Names::new()).ok()?;
    match &parsed.kind {
        ExpressionKind::Direct(direct) => address(direct),
        _ => None,
    }
}

/// The letter of the size of an address; `X` also where it was left out.
pub(super) const fn size(size: latchwork_grammar::tree::AddressSize) -> char {
    use latchwork_grammar::tree::AddressSize as S;
    match size {
        S::Bit => 'X',
        S::Byte => 'B',
        S::Word => 'W',
        S::DoubleWord => 'D',
        S::LongWord => 'L',
    }
}
