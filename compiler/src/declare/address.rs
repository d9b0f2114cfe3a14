//! Directly represented variables: which type fits which size letter, where an address lies, and addresses
//! that share storage.
//!
//! Source: IEC 61131-3:2013, 6.5.5, table 16. Our choices: the last number counts units of the letter's size
//! (`%QW1` is bytes 2 and 3), `%X3.5` is bit 5 of byte 3, and each leading path is an area of its own.

use latchwork_grammar::{
    Diagnostic, Span,
    tree::{AddressSize, Area, DirectAddress, Initializer, SectionKind, UnitKind},
};
use latchwork_vm::ElementaryType as E;

use super::sections::initial_span;
use crate::{
    check::{
        Checker,
        describe::{a_unit, section_keyword},
    },
    configuration::is_open,
    typed::Variable,
    types::{Type, TypeId},
};

/// A located variable with the bits it covers.
struct Located {
    area: Area,
    /// The numbers in front of the place.
    path: Vec<u32>,
    first_bit: u64,
    bits: u64,
    span: Span,
    text: String,
}

/// Number of bits of a size letter.
pub(crate) fn size_bits(size: AddressSize) -> u32 {
    match size {
        AddressSize::Bit => 1,
        AddressSize::Byte => 8,
        AddressSize::Word => 16,
        AddressSize::DoubleWord => 32,
        AddressSize::LongWord => 64,
    }
}

/// The bit string type of a size letter.
pub(crate) fn size_type(size: AddressSize) -> E {
    match size {
        AddressSize::Bit => E::Bool,
        AddressSize::Byte => E::Byte,
        AddressSize::Word => E::Word,
        AddressSize::DoubleWord => E::Dword,
        AddressSize::LongWord => E::Lword,
    }
}

/// The letter of a size.
pub(crate) fn size_letter(size: AddressSize) -> &'static str {
    match size {
        AddressSize::Bit => "X",
        AddressSize::Byte => "B",
        AddressSize::Word => "W",
        AddressSize::DoubleWord => "D",
        AddressSize::LongWord => "L",
    }
}

/// The leading path of an address and the number of its first bit in that area; `None` for `%I*`.
fn place(address: &DirectAddress) -> Option<(Vec<u32>, u64)> {
    let (last, before) = address.path.split_last()?;
    if address.size == AddressSize::Bit
        && let Some((byte, leading)) = before.split_last()
    {
        return Some((leading.to_vec(), u64::from(*byte) * 8 + u64::from(*last)));
    }
    Some((before.to_vec(), u64::from(*last) * u64::from(size_bits(address.size))))
}

impl Checker<'_> {
    /// Number of bits a type takes in the process image; `None` if it cannot be located.
    pub(crate) fn located_bits(&self, id: TypeId) -> Option<u32> {
        match self.types.elementary_base(id)? {
            E::Bool => Some(1),
            E::String | E::Wstring => None,
            kind => kind.size().map(|bytes| bytes * 8),
        }
    }

    /// Checks a bit number and that the address is complete.
    pub(crate) fn check_address(&mut self, address: &DirectAddress) -> bool {
        if is_open(address) {
            self.report(
                Diagnostic::error("partial-address", address.span, "this place has to be complete")
                    .label("the number is missing")
                    .note(
                        "only a VAR of a program or function block can leave its place open for VAR_CONFIG",
                    ),
            );
            return false;
        }
        if let (AddressSize::Bit, [.., _, bit]) = (address.size, address.path.as_slice())
            && *bit > 7
        {
            self.report(
                Diagnostic::error("address-bit", address.span, format!("a byte has no bit {bit}"))
                    .label("the number behind the last point is a bit, 0 to 7"),
            );
            return false;
        }
        true
    }

    /// Rules for `AT`.
    pub(super) fn check_location(
        &mut self,
        address: &DirectAddress,
        variable: &Variable,
        unit: Option<UnitKind>,
    ) {
        if is_open(address) && self.check_open_address(address, variable, unit) {
            return;
        }
        let allowed = matches!(
            (variable.section, unit),
            (SectionKind::Var | SectionKind::Global, Some(UnitKind::Program)) | (SectionKind::Global, None)
        );
        if !allowed {
            let place = match unit {
                Some(UnitKind::Program) | None => section_keyword(variable.section),
                Some(kind) => a_unit(kind),
            };
            self.report(
                Diagnostic::error(
                    "address-not-allowed",
                    address.span,
                    format!("{place} cannot contain an address"),
                )
                .label("remove this address")
                .note(
                    "addresses belong in VAR of a program or in VAR_GLOBAL; pass the values on as inputs and \
                         outputs, so that the unit works with any wiring",
                ),
            );
            return;
        }
        if !self.check_address(address) || self.is_unknown(variable.kind) {
            return;
        }
        self.check_address_type(address, variable.kind);
    }

    /// Rules for `AT %I*`; `false` where there can be no such address.
    fn check_open_address(
        &mut self,
        address: &DirectAddress,
        variable: &Variable,
        unit: Option<UnitKind>,
    ) -> bool {
        let fits = variable.section == SectionKind::Var
            && matches!(unit, Some(UnitKind::Program | UnitKind::FunctionBlock | UnitKind::Class));
        if !fits {
            return false;
        }
        self.check_open_form(address, variable.kind);
        true
    }

    fn check_open_form(&mut self, address: &DirectAddress, kind: TypeId) {
        if self.text(address.span).len() != "%I*".len() {
            self.report(
                Diagnostic::error(
                    "partial-address",
                    address.span,
                    "a place that is left open has no size letter",
                )
                .label("the area and `*` alone")
                .note("the size follows from the type of the variable"),
            );
        }
        let element = match self.types.get(self.types.underlying(kind)) {
            Type::Array { element, .. } => *element,
            _ => kind,
        };
        if !self.is_unknown(element) && self.located_bits(element).is_none() {
            self.check_address_type(address, kind);
        }
    }

    /// Rules for the place of a member of a structure type: it is left open, for VAR_CONFIG to complete.
    pub(super) fn check_member_location(
        &mut self,
        address: &DirectAddress,
        kind: TypeId,
        initial: Option<&Initializer>,
    ) {
        if !is_open(address) {
            self.report(
                Diagnostic::error("partial-address", address.span, "the place of a member is left open")
                    .label("every variable of this type would lie here")
                    .note("write `AT %I*`, `AT %Q*` or `AT %M*`, and complete it in VAR_CONFIG for each variable"),
            );
            return;
        }
        self.check_open_form(address, kind);
        if let Some(initial) = initial {
            self.report_open_initial(initial);
        }
    }

    /// A value behind `AT %I*`.
    pub(super) fn report_open_initial(&mut self, initial: &Initializer) {
        self.report(
            Diagnostic::error(
                "initial-not-allowed",
                initial_span(initial),
                "a variable whose place is left open cannot have an initial value",
            )
            .label("remove this value")
            .note("VAR_CONFIG can give one to each instance"),
        );
    }

    /// Whether the size letter of an address fits the type of what lies there.
    pub(crate) fn check_address_type(&mut self, address: &DirectAddress, kind: TypeId) {
        let element = match self.types.get(self.types.underlying(kind)) {
            Type::Array { element, .. } => *element,
            _ => kind,
        };
        let letter_bits = size_bits(address.size);
        let type_name = self.type_name(element);
        match self.located_bits(element) {
            Some(bits) if bits == letter_bits => {}
            Some(bits) => {
                let fitting = match bits {
                    1 => AddressSize::Bit,
                    8 => AddressSize::Byte,
                    16 => AddressSize::Word,
                    32 => AddressSize::DoubleWord,
                    _ => AddressSize::LongWord,
                };
                let bits = crate::check::describe::count(bits as usize, "bit", "bits");
                self.report(
                    Diagnostic::error(
                        "address-size",
                        address.span,
                        format!("{type_name} has {bits}, but this address names {letter_bits}"),
                    )
                    .label(format!("size letter {}", size_letter(address.size)))
                    .note(format!("the size letter for {type_name} is {}", size_letter(fitting))),
                );
            }
            None => {
                self.report(
                    Diagnostic::error(
                        "address-size",
                        address.span,
                        format!("{type_name} cannot have an address"),
                    )
                    .label("only elementary values and arrays of them can")
                    .note("locate the single values and copy them"),
                );
            }
        }
    }

    /// Located variables that share storage.
    pub(crate) fn check_addresses(&mut self) {
        let mut located: Vec<Located> = Vec::new();
        let units = self.units.iter().filter(|unit| unit.kind == UnitKind::Program);
        let variables = units.flat_map(|unit| &unit.variables).chain(&self.globals.variables);
        let declared = variables.filter_map(|variable| Some((variable.location.as_deref()?, variable.kind)));
        for (address, kind) in declared.chain(self.completed_places()) {
            if self.has_error_in(address.span) {
                continue;
            }
            let Some((path, first_bit)) = place(address) else { continue };
            let count = match self.types.get(self.types.underlying(kind)) {
                Type::Array { bounds, .. } => bounds.iter().fold(1u64, |count, (lower, upper)| {
                    count.saturating_mul(upper.abs_diff(*lower).saturating_add(1))
                }),
                _ => 1,
            };
            located.push(Located {
                area: address.area,
                path,
                first_bit,
                bits: count.saturating_mul(u64::from(size_bits(address.size))),
                span: address.span,
                text: self.text(address.span).to_owned(),
            });
        }
        located.sort_by(|a, b| {
            (a.area, &a.path, a.first_bit, a.span).cmp(&(b.area, &b.path, b.first_bit, b.span))
        });
        let mut found = Vec::new();
        // The one that reaches farthest so far is the one a later start may lie in.
        let mut widest: Option<&Located> = None;
        for next in &located {
            if let Some(before) = widest.filter(|w| w.area == next.area && w.path == next.path) {
                let end = before.first_bit.saturating_add(before.bits);
                let same = before.first_bit == next.first_bit && before.bits == next.bits;
                let (first, second) = if before.span < next.span { (before, next) } else { (next, before) };
                if same && next.area == Area::Output {
                    found.push(
                        Diagnostic::warning(
                            "address-shared",
                            second.span,
                            format!("two variables stand for the output {}", second.text),
                        )
                        .label("the one written last wins")
                        .also(first.span, "the other one")
                        .note("an output is easier to follow when one variable alone drives it"),
                    );
                } else if !same && next.first_bit < end {
                    found.push(
                        Diagnostic::warning(
                            "address-overlap",
                            second.span,
                            format!("{} and {} share storage", first.text, second.text),
                        )
                        .label("writing one changes the other")
                        .also(first.span, "the other one")
                        .note(
                            "the number counts units of its letter: W1 is bytes 2 and 3, D1 is bytes 4 to 7",
                        ),
                    );
                }
                if next.first_bit.saturating_add(next.bits) <= end {
                    continue;
                }
            }
            widest = Some(next);
        }
        for diagnostic in found {
            self.report(diagnostic);
        }
    }
}
