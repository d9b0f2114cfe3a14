//! Expressions of numbers, durations and bit strings.

use super::{
    kind::{BIT_STRINGS, INTEGERS, Kind, NUMBERS},
    writer::Writer,
};

impl Writer<'_> {
    /// An expression of a type, which may be a literal alone.
    pub fn value(&mut self, kind: Kind) -> String {
        match kind {
            Kind::Bool => self.condition(),
            Kind::Time => self.time(2),
            Kind::Byte | Kind::Word | Kind::Dword | Kind::Lword => self.bit_string(kind, 2),
            _ => {
                let depth = self.random.below(4);
                self.number(kind, depth)
            }
        }
    }

    /// A number: an operand or operations nested so deeply at most.
    pub fn number(&mut self, kind: Kind, depth: usize) -> String {
        match self.random.below(10) {
            0 | 1 => self.literal(kind),
            2..=5 if depth > 0 => self.compound(kind, depth),
            _ => self.operand(kind, depth),
        }
    }

    /// A variable, or what becomes a number of the type. Arithmetic on literals alone would be worked out, and refused,
    /// by the checker.
    fn operand(&mut self, kind: Kind, depth: usize) -> String {
        if depth > 0 && self.random.chance(35) {
            return self.compound(kind, depth - 1);
        }
        match self.random.below(20) {
            0 | 1 => {
                if let Some(narrower) = kind.narrower() {
                    return self.read(narrower);
                }
            }
            2 | 3 => return self.conversion(kind),
            4 => return self.call(kind),
            _ => {}
        }
        self.read(kind)
    }

    /// An operation of a type.
    pub fn compound(&mut self, kind: Kind, depth: usize) -> String {
        let depth = depth.saturating_sub(1);
        let first = self.operand(kind, depth);
        match self.random.below(24) {
            0..=4 => format!("({first} + {})", self.number(kind, depth)),
            5..=8 => format!("({first} - {})", self.number(kind, depth)),
            9..=10 => format!("({first} * {})", self.number(kind, depth)),
            // The chains that are usual: scaling, means, filters.
            11 => format!("({first} * {} + {})", self.number(kind, depth), self.number(kind, depth)),
            12 => format!("(({first} - {}) / {})", self.number(kind, depth), self.divisor(kind)),
            13 => format!("({} + ({first} - {}) * {})", self.read(kind), self.read(kind), self.literal(kind)),
            14 => format!("({first} + {} + {})", self.read(kind), self.number(kind, depth)),
            15 => format!("({first} / {})", self.divisor(kind)),
            16 if !kind.is_float() => format!("({first} MOD {})", self.divisor(kind)),
            17 => format!("MIN({first}, {})", self.number(kind, depth)),
            18 => format!("MAX({first}, {})", self.number(kind, depth)),
            19 => {
                let (least, most) = (self.literal(kind), self.read(kind));
                format!("LIMIT({least}, {first}, {most})")
            }
            20 => {
                let operands = self.random.between(1, 4);
                format!("SEL({}, {first}, {})", self.network(operands), self.number(kind, depth))
            }
            21 if !kind.is_unsigned() => format!("ABS({first})"),
            22 if !kind.is_unsigned() => format!("(-{first})"),
            23 if kind.is_float() => format!("SQRT({first})"),
            _ => format!("({first} + {})", self.read(kind)),
        }
    }

    /// What one divides by: seldom 0.
    fn divisor(&mut self, kind: Kind) -> String {
        match self.random.below(25) {
            0 => self.read(kind),
            1..=8 if kind.is_float() => self.read(kind),
            9..=14 => format!("MAX({}, 1)", self.read(kind)),
            _ if kind.is_float() => (*self.random.pick(&["2.0", "3.0", "-0.5", "1.0E-30"])).to_owned(),
            _ => self.random.between(1, 9).to_string(),
        }
    }

    fn conversion(&mut self, kind: Kind) -> String {
        match self.random.below(7) {
            0 => {
                let from = match kind {
                    Kind::Sint | Kind::Usint => Kind::Byte,
                    Kind::Int | Kind::Uint => Kind::Word,
                    Kind::Dint | Kind::Udint => Kind::Dword,
                    Kind::Lint | Kind::Ulint => Kind::Lword,
                    _ => Kind::Int,
                };
                format!("{}_TO_{}({})", from.name(), kind.name(), self.read(from))
            }
            1 | 6 if !kind.is_float() => {
                // A number scaled and rounded, as for outputs.
                let from = *self.random.pick(&[Kind::Real, Kind::Real, Kind::Lreal]);
                let function = *self.random.pick(&["TRUNC", "TO"]);
                let value = if self.random.chance(50) { self.read(from) } else { self.compound(from, 1) };
                format!("{}_{function}_{}({value})", from.name(), kind.name())
            }
            2 if matches!(kind, Kind::Int | Kind::Dint | Kind::Usint) => {
                format!("BOOL_TO_{}({})", kind.name(), self.read(Kind::Bool))
            }
            _ => {
                let from = *self.random.pick(&NUMBERS);
                let from = match from {
                    from if from != kind => from,
                    Kind::Dint => Kind::Int,
                    _ => Kind::Dint,
                };
                format!("{}_TO_{}({})", from.name(), kind.name(), self.read(from))
            }
        }
    }

    fn call(&mut self, kind: Kind) -> String {
        match kind {
            Kind::Int if self.in_program() && self.random.chance(30) => {
                format!("{}.Turn({})", self.random.pick(&["butt0", "tank0"]), self.read(Kind::Int))
            }
            Kind::Int => {
                let (a, b) = (self.number(Kind::Int, 1), self.read(Kind::Int));
                match self.random.below(3) {
                    0 => format!("Mix3(a := {a}, b := {b})"),
                    1 => format!("Mix3(b := {b}, a := {a}, c := {})", self.read(Kind::Int)),
                    _ => format!("Mix3({a}, {b}, {})", self.literal(Kind::Int)),
                }
            }
            Kind::Real if self.function && self.random.chance(50) => {
                format!(
                    "Own({}, {}, {}, {})",
                    self.condition(),
                    self.read(Kind::Bool),
                    self.read(Kind::Int),
                    self.read(Kind::Real)
                )
            }
            Kind::Real => {
                format!(
                    "Blend({}, {}, {})",
                    self.read(Kind::Real),
                    self.number(Kind::Real, 1),
                    self.read(Kind::Real)
                )
            }
            Kind::Dint => format!(
                "Bump(rate := {}, n := {}, flag := {})",
                self.number(Kind::Int, 1),
                self.variable(Kind::Int),
                self.variable(Kind::Bool)
            ),
            _ => self.read(kind),
        }
    }

    /// A duration.
    pub fn time(&mut self, depth: usize) -> String {
        if depth == 0 || self.random.chance(45) {
            return if self.random.chance(35) { self.literal(Kind::Time) } else { self.read(Kind::Time) };
        }
        let first = self.read(Kind::Time);
        match self.random.below(8) {
            0..=2 => format!("({first} + {})", self.time(depth - 1)),
            3 | 4 => format!("({first} - {})", self.time(depth - 1)),
            5 => format!("({first} * {})", self.read(Kind::Int)),
            6 => format!("MIN({first}, {})", self.time(depth - 1)),
            _ => format!("SEL({}, {first}, {})", self.condition(), self.time(depth - 1)),
        }
    }

    /// A bit string of more than one bit.
    pub fn bit_string(&mut self, kind: Kind, depth: usize) -> String {
        if depth == 0 || self.random.chance(30) {
            return if self.random.chance(30) { self.literal(kind) } else { self.read(kind) };
        }
        let first = self.read(kind);
        match self.random.below(13) {
            0..=5 => {
                let operator = *self.random.pick(&["AND", "OR", "XOR", "&"]);
                format!("({first} {operator} {})", self.bit_string(kind, depth - 1))
            }
            6 => format!("(NOT {first})"),
            7 => {
                let function = *self.random.pick(&["SHL", "SHR", "ROL", "ROR"]);
                format!("{function}({first}, {})", self.random.below(20))
            }
            8 => {
                let function = *self.random.pick(&["SHL", "SHR", "ROL", "ROR"]);
                format!("{function}({first}, {})", self.read(Kind::Int))
            }
            9 => kind.narrower().map_or_else(|| first.clone(), |narrower| self.read(narrower)),
            10 => {
                let from = *self.random.pick(&INTEGERS);
                format!("{}_TO_{}({})", from.name(), kind.name(), self.read(from))
            }
            11 => {
                let from = *self.random.pick(&BIT_STRINGS);
                if from == kind {
                    first
                } else {
                    format!("{}_TO_{}({})", from.name(), kind.name(), self.read(from))
                }
            }
            _ => format!("SEL({}, {first}, {})", self.condition(), self.read(kind)),
        }
    }
}
