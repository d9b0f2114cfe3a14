//! Words for types and kinds in messages: every message names a type the way its author wrote it.

use latchwork_grammar::tree::{SectionKind, UnitKind};

use super::Checker;
use crate::{
    typed::Variable,
    types::{Type, TypeId},
};

/// Capacity of `STRING` without a length (our choice; the standard leaves it open).
pub(crate) const STRING_CAPACITY: u16 = 255;

impl Checker<'_> {
    /// The name of a type for a message.
    pub(crate) fn type_name(&self, id: TypeId) -> String {
        self.type_name_within(id, 8)
    }

    fn type_name_within(&self, id: TypeId, depth: u32) -> String {
        if depth == 0 {
            return "…".to_owned();
        }
        match self.types.get(id) {
            Type::Unknown => "an unknown type".to_owned(),
            Type::Elementary(kind) => kind.name().to_owned(),
            Type::String { wide, capacity } => {
                let keyword = if *wide { "WSTRING" } else { "STRING" };
                if *capacity == STRING_CAPACITY {
                    keyword.to_owned()
                } else {
                    format!("{keyword}[{capacity}]")
                }
            }
            Type::UntypedInteger => "an integer literal".to_owned(),
            Type::UntypedReal => "a real literal".to_owned(),
            Type::Derived { name, .. } => self.spelling(*name).to_owned(),
            Type::Subrange { name: Some(name), .. } => self.spelling(*name).to_owned(),
            Type::Subrange { name: None, base, lower, upper } => {
                format!("{} ({lower}..{upper})", base.name())
            }
            Type::Enumeration(derived) | Type::NamedValues { id: derived, .. } => {
                let enumeration = self.types.enumeration(*derived);
                match enumeration.name {
                    Some(name) => self.spelling(name).to_owned(),
                    None => {
                        let mut shown: Vec<&str> =
                            enumeration.values.iter().take(4).map(|(name, _)| self.spelling(*name)).collect();
                        if enumeration.values.len() > 4 {
                            shown.push("…");
                        }
                        format!("({})", shown.join(", "))
                    }
                }
            }
            Type::OpenArray { dimensions, element } => {
                let stars = vec!["*"; usize::from(*dimensions)].join(", ");
                format!("ARRAY [{stars}] OF {}", self.type_name_within(*element, depth - 1))
            }
            Type::Array { bounds, element } => {
                let bounds: Vec<String> =
                    bounds.iter().map(|(lower, upper)| format!("{lower}..{upper}")).collect();
                format!("ARRAY [{}] OF {}", bounds.join(", "), self.type_name_within(*element, depth - 1))
            }
            Type::Structure(derived) => self.spelling(self.types.structure(*derived).name).to_owned(),
            Type::Unit(unit) => self.spelling(self.units[unit.0 as usize].name).to_owned(),
            Type::StandardBlock(index) => self.types.standard_block(*index).name.to_owned(),
            Type::Reference(target) => format!("REF_TO {}", self.type_name_within(*target, depth - 1)),
            Type::Interface(id) => {
                self.spelling(self.interface_scopes[id.0 as usize].tree.name.name).to_owned()
            }
            Type::Null => "NULL".to_owned(),
        }
    }

    /// `` `Level` `` for a named variable, its address for a nameless one.
    pub(crate) fn variable_name(&self, variable: &Variable) -> String {
        match (variable.name, &variable.location) {
            (Some(name), _) => format!("`{}`", self.spelling(name)),
            (None, Some(location)) => format!("`{}`", self.text(location.span)),
            (None, None) => "this variable".to_owned(),
        }
    }
}

/// The keyword that opens a section.
pub(crate) fn section_keyword(section: SectionKind) -> &'static str {
    match section {
        SectionKind::Var => "VAR",
        SectionKind::Input => "VAR_INPUT",
        SectionKind::Output => "VAR_OUTPUT",
        SectionKind::InOut => "VAR_IN_OUT",
        SectionKind::Temp => "VAR_TEMP",
        SectionKind::External => "VAR_EXTERNAL",
        SectionKind::Global => "VAR_GLOBAL",
    }
}

/// The standard's words for a kind of unit, with their article.
pub(crate) fn a_unit(kind: UnitKind) -> &'static str {
    match kind {
        UnitKind::Program => "a program",
        UnitKind::FunctionBlock => "a function block",
        UnitKind::Function => "a function",
        UnitKind::Class => "a class",
        UnitKind::Method => "a method",
    }
}

/// A name between the quotes of messages, made for every call.
pub(crate) fn quoted(name: &str) -> String {
    let mut shown = String::with_capacity(name.len() + 2);
    shown.push('`');
    shown.push_str(name);
    shown.push('`');
    shown
}

/// `1 name` or `n names`.
pub(crate) fn count(number: usize, one: &str, many: &str) -> String {
    if number == 1 { format!("1 {one}") } else { format!("{number} {many}") }
}
