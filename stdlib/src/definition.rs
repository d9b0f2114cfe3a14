//! The shape of a row of the function table: what a standard function takes, gives, and how it is emitted.
//!
//! Source: IEC 61131-3:2013, 6.6.2.5 (standard functions), overloading and extensible functions. The module
//! holds no rows and knows no routine; the rows are in `functions`, one file for each family.

use std::borrow::Cow;

use latchwork_vm::{ElementaryType, EventKind, Family};

use crate::types::TypeClass;

/// Most operands of an extensible function (our choice; the standard sets no limit).
pub const MAXIMUM_OPERANDS: u32 = 255;

/// An input of a function.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Parameter {
    /// Formal name: `IN1`, `MN`, `G`.
    pub name: &'static str,
    /// Which types it takes.
    pub class: TypeClass,
    /// It shares the function's one generic type: all generic operands are brought to their common type.
    pub generic: bool,
}

/// The open end of an extensible function: operands after those in [`FunctionDefinition::parameters`] have
/// the class of the last parameter and go on with the numbering.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Extension {
    /// What the formal names start with: `IN`.
    pub prefix: &'static str,
    /// Number of the first extensible operand: 1 for `ADD` (IN1, IN2…), 0 for `MUX` (IN0, IN1…).
    pub first: u32,
    /// Least number of extensible operands; the table lists that many in `parameters`.
    pub minimum: u32,
}

/// The type of a function's result.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ResultType {
    /// The common type of the generic operands.
    Generic,
    /// Always this type.
    Exact(ElementaryType),
    /// The type of the parameter with this index.
    Parameter(usize),
    /// The type the function's name or the context says (conversions).
    Named,
    /// A text of the width of the first operand, long enough for the result whatever the operands hold: with
    /// the capacities of all text operands together, at most 32767.
    Text,
    /// No result: the function has outputs only.
    Nothing,
}

/// An output of a function, taken with `=>`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Output {
    /// Formal name: `YEAR`.
    pub name: &'static str,
    /// Its type.
    pub ty: ElementaryType,
}

/// A call that shows a function at work. The tests make it in every form there is, in both languages.
///
/// A row is written as `Example::new(&["INT#7", "INT#-2"], "INT#-3")`, with what else there is to say behind it:
/// `.named("ADD_INT")`, `.with("s : STRING[10] := 'ab';")`, `.giving(&["INT#1"])`, `.event(EventKind::Overflow)`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Example {
    /// The name that is called, where it is not the row's name: one of a pattern (`INT_TO_REAL`) or a typed name
    /// (`ADD_INT`); empty: the row's name.
    pub name: &'static str,
    /// Declarations of the variables that the operands name, as they stand between `VAR` and `END_VAR`; empty if
    /// there are none.
    pub declarations: &'static str,
    /// The operands in parameter order, as source text: typed literals or variables.
    pub operands: &'static [&'static str],
    /// The result as a literal that tells its type (`INT#5`, `TRUE`, `T#2s`, `'ab'`); `NaN`, `infinity` and
    /// `-infinity` for a real that has no literal; empty for a function without a result.
    pub gives: &'static str,
    /// The outputs in their order, as literals that tell their types.
    pub outputs: &'static [&'static str],
    /// What is reported; the error condition also makes ENO FALSE.
    pub event: Option<EventKind>,
}

impl Example {
    /// A call on literals.
    pub const fn new(operands: &'static [&'static str], gives: &'static str) -> Self {
        Self { name: "", declarations: "", operands, gives, outputs: &[], event: None }
    }

    /// The same by another name of the row.
    pub const fn named(self, name: &'static str) -> Self {
        Self { name, ..self }
    }

    /// The same with variables.
    pub const fn with(self, declarations: &'static str) -> Self {
        Self { declarations, ..self }
    }

    /// The same with outputs.
    pub const fn giving(self, outputs: &'static [&'static str]) -> Self {
        Self { outputs, ..self }
    }

    /// The same as an error condition.
    pub const fn event(self, kind: EventKind) -> Self {
        Self { event: Some(kind), ..self }
    }
}

/// The six comparisons (Table 33).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ComparisonKind {
    /// `>`
    Greater,
    /// `>=`
    GreaterOrEqual,
    /// `=`
    Equal,
    /// `<=`
    LessOrEqual,
    /// `<`
    Less,
    /// `<>`
    NotEqual,
}

impl ComparisonKind {
    /// The instruction family, and whether the two operands change places. Equal and NotEqual work on plain bits:
    /// for them a signed scalar stands for the unsigned one of its width.
    pub fn instruction(self) -> (Family, bool) {
        match self {
            Self::Greater => (Family::Less, true),
            Self::GreaterOrEqual => (Family::LessOrEqual, true),
            Self::Equal => (Family::Equal, false),
            Self::LessOrEqual => (Family::LessOrEqual, false),
            Self::Less => (Family::Less, false),
            Self::NotEqual => (Family::NotEqual, false),
        }
    }
}

/// How a call is emitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lowering {
    /// One instruction of this family on the scalar of the first operand's type; an extensible function is
    /// folded from the left. Strings, which have no scalar: by comparing and copying (MAX, MIN).
    Family(Family),
    /// A shift or rotation: the instruction of this family on the scalar of IN, with N brought to LINT.
    Shift(Family),
    /// A comparison. With more than two operands: each with its neighbour, all of them TRUE.
    Comparison(ComparisonKind),
    /// The operand as it is.
    Move,
    /// `SEL`: G, IN0, IN1.
    Select,
    /// `LIMIT`: MN, IN, MX: the maximum with MN first, then the minimum with MX. An event when MN > MX.
    Limit,
    /// `MUX`: K, then the inputs, all of them evaluated; K outside the inputs: the first, with an event.
    Multiplexer,
    /// A type conversion; [`crate::conversion`] gives the instruction for a pair of types.
    Convert {
        /// Towards zero instead of to the nearest.
        truncate: bool,
    },
    /// The bytes of every value turned round, or the operand as it is: [`crate::swap_routine`] for a scalar,
    /// [`crate::SWAP_PATTERN`] for what consists of several.
    ByteOrder {
        /// Whether they are turned round.
        swap: bool,
    },
    /// A bound of the array `ARR` in its dimension `DIM`; the compiler knows where it is.
    Bound {
        /// The upper one.
        upper: bool,
    },
    /// BOOL: the other value; longer bit strings: every bit inverted.
    Not,
    /// A native routine by its full name, on an argument frame: operand `i` at byte `8 * i` in parameter
    /// order, the result at byte `8 * n` where `n` is the number of parameters. For a text there is the address
    /// of its capacity word. A text that is the result is empty when the routine begins, with the capacity that
    /// the type of the result says; the routine writes into it and leaves the address as it is. Without a result
    /// output `i` is at byte `8 * (n + i)`; the routine fills all of them.
    Native(&'static str),
    /// A text put together from all operands: the native routine runs once for each, in their order, on a frame
    /// with the address of the operand at byte 0 and that of the text so far, empty at first, at byte 8.
    Append(&'static str),
    /// Only one of [`FunctionDefinition::overloads`] applies.
    Overloaded,
}

/// A form of a function for certain operand types.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Overload {
    /// For each parameter, what the operand's type must be (after generic operands were brought to their
    /// common type). What the last one says holds for the further operands of an extensible function too.
    pub accepts: &'static [TypeClass],
    /// The types the operands are converted to before the call, by a numeric conversion even where none is
    /// implicit; empty: they stay as they are. A text stays as it is, whatever its capacity.
    pub operands: &'static [ElementaryType],
    /// The type of the result.
    pub result: ResultType,
    /// How it is emitted.
    pub lowering: Lowering,
}

/// A standard function.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FunctionDefinition {
    /// Its name in the standard, in capitals: `ADD`, `ADD_TOD_TIME`, `*_TO_*`.
    pub name: &'static str,
    /// Its inputs; of an extensible function the fewest it takes.
    pub parameters: &'static [Parameter],
    /// Whether further operands may follow.
    pub extension: Option<Extension>,
    /// The type of its result, unless an overload says otherwise.
    pub result: ResultType,
    /// How it is emitted, unless an overload says otherwise.
    pub lowering: Lowering,
    /// Forms for certain operand types; the first that accepts applies.
    pub overloads: &'static [Overload],
    /// Where the standard has it: `Table 29`.
    pub clause: &'static str,
    /// One line for the reader of a program.
    pub summary: &'static str,
    /// Error conditions and the value given in each; empty if there is none.
    pub errors: &'static str,
    /// Its outputs; a function has them or a result. What it takes is then of exact types.
    pub outputs: &'static [Output],
    /// Calls that show it at work.
    pub examples: &'static [Example],
}

/// What most rows have in common: a row says what is its own and takes the rest from here.
pub(crate) const ROW: FunctionDefinition = FunctionDefinition {
    name: "",
    parameters: &[],
    extension: None,
    result: ResultType::Generic,
    lowering: Lowering::Overloaded,
    overloads: &[],
    clause: "",
    summary: "",
    errors: "",
    outputs: &[],
    examples: &[],
};

impl FunctionDefinition {
    /// The class of the function's generic type; `None` if it has none.
    pub fn generic_class(&self) -> Option<TypeClass> {
        self.parameters.iter().find(|parameter| parameter.generic).map(|parameter| parameter.class)
    }

    /// Fewest operands.
    pub fn minimum_operands(&self) -> usize {
        self.parameters.len()
    }

    /// Most operands.
    pub fn maximum_operands(&self) -> usize {
        match self.extension {
            Some(extension) => {
                self.parameters.len() + (MAXIMUM_OPERANDS.saturating_sub(extension.minimum)) as usize
            }
            None => self.parameters.len(),
        }
    }

    /// The parameter with an index, operands of the open end included; `None` beyond the last.
    pub fn parameter(&self, index: usize) -> Option<(Cow<'static, str>, Parameter)> {
        if let Some(parameter) = self.parameters.get(index) {
            return Some((Cow::Borrowed(parameter.name), *parameter));
        }
        let extension = self.extension?;
        if index >= self.maximum_operands() {
            return None;
        }
        let fixed = self.parameters.len().saturating_sub(extension.minimum as usize);
        let number = (index - fixed) as u32 + extension.first;
        Some((Cow::Owned(format!("{}{number}", extension.prefix)), *self.parameters.last()?))
    }

    /// A parameter by its index, those of an open number of operands included, without its name.
    pub fn parameter_kind(&self, index: usize) -> Option<Parameter> {
        self.parameters.get(index).copied().or_else(|| {
            self.extension?;
            (index < self.maximum_operands()).then(|| self.parameters.last().copied())?
        })
    }

    /// The index of a formal name, in any case of letters.
    pub fn parameter_index(&self, name: &str) -> Option<usize> {
        if let Some(index) =
            self.parameters.iter().position(|parameter| parameter.name.eq_ignore_ascii_case(name))
        {
            return Some(index);
        }
        let extension = self.extension?;
        let (prefix, digits) = name.split_at_checked(extension.prefix.len())?;
        let plain = !digits.is_empty()
            && digits.bytes().all(|byte| byte.is_ascii_digit())
            && (digits == "0" || !digits.starts_with('0'));
        if !prefix.eq_ignore_ascii_case(extension.prefix) || !plain {
            return None;
        }
        let number: u32 = digits.parse().ok()?;
        let fixed = self.parameters.len().saturating_sub(extension.minimum as usize);
        let index = fixed.checked_add(number.checked_sub(extension.first)? as usize)?;
        (index < self.maximum_operands()).then_some(index)
    }

    /// The form for these operand types, if there is a special one. `None` with [`Lowering::Overloaded`]
    /// means that the operands do not fit.
    pub fn overload(&self, operands: &[ElementaryType]) -> Option<&'static Overload> {
        let open = self.extension.is_some();
        self.overloads.iter().find(|overload| {
            let listed = overload.accepts.len();
            let further = operands.get(listed..).unwrap_or_default();
            (operands.len() == listed || (open && operands.len() > listed))
                && overload.accepts.iter().zip(operands).all(|(class, ty)| class.accepts(*ty))
                && further.iter().all(|ty| overload.accepts.last().is_some_and(|class| class.accepts(*ty)))
        })
    }
}

/// A parameter that shares the generic type.
pub(crate) const fn generic(name: &'static str, class: TypeClass) -> Parameter {
    Parameter { name, class, generic: true }
}

/// A parameter with a type of its own.
pub(crate) const fn own(name: &'static str, class: TypeClass) -> Parameter {
    Parameter { name, class, generic: false }
}

/// `IN1, IN2, …`
pub(crate) const OPEN_FROM_ONE: Option<Extension> = Some(Extension { prefix: "IN", first: 1, minimum: 2 });

/// `IN0, IN1, …`
pub(crate) const OPEN_FROM_ZERO: Option<Extension> = Some(Extension { prefix: "IN", first: 0, minimum: 2 });
