//! Boolean expressions: networks of contacts, comparisons, outputs of blocks.

use super::{
    kind::{BIT_STRINGS, Kind, NUMBERS},
    writer::Writer,
};

impl Writer<'_> {
    /// A Boolean expression of any size that people write.
    pub fn condition(&mut self) -> String {
        let operands = match self.random.below(10) {
            0..=2 => 1,
            3..=5 => self.random.between(2, 3),
            6..=8 => self.random.between(3, 6),
            _ => self.random.between(5, 12),
        };
        self.network(operands)
    }

    /// A Boolean expression with so many operands, of which some are the same.
    pub fn network(&mut self, operands: usize) -> String {
        let different = self.random.between(1, operands);
        let plain = self.random.chance(50);
        let mut contacts = Vec::new();
        for _ in 0..different {
            contacts.push(self.contact(plain));
        }
        self.tree(operands, &contacts)
    }

    fn tree(&mut self, operands: usize, contacts: &[String]) -> String {
        if operands == 1 {
            let contact = self.random.pick(contacts).clone();
            return if self.random.chance(25) { format!("NOT {contact}") } else { contact };
        }
        let text = match self.random.below(10) {
            // One operator all the way, without parentheses.
            0..=2 if operands > 2 => {
                let operator = *self.random.pick(&[" AND ", " OR ", " XOR ", " & "]);
                let parts: Vec<_> = (0..operands).map(|_| self.tree(1, contacts)).collect();
                parts.join(operator)
            }
            // Operators mixed as their precedence allows: NOT, AND, XOR, OR.
            3 if operands > 2 => {
                let mut text = self.tree(1, contacts);
                for _ in 1..operands {
                    let operator = *self.random.pick(&[" AND ", " OR ", " XOR "]);
                    text.push_str(operator);
                    text.push_str(&self.tree(1, contacts));
                }
                text
            }
            _ => {
                let left = self.random.between(1, operands - 1);
                let operator = *self.random.pick(&["AND", "AND", "AND", "OR", "OR", "OR", "XOR", "=", "<>"]);
                format!("{} {operator} {}", self.tree(left, contacts), self.tree(operands - left, contacts))
            }
        };
        if self.random.chance(12) { format!("NOT ({text})") } else { format!("({text})") }
    }

    /// An operand of a Boolean expression, which may be put behind NOT.
    fn contact(&mut self, plain: bool) -> String {
        if plain || self.random.chance(50) {
            return self.read(Kind::Bool);
        }
        match self.random.below(20) {
            0..=8 => self.comparison(),
            9 => {
                let kind = *self.random.pick(&BIT_STRINGS);
                let bit = self.random.below(8);
                format!("{}.%X{bit}", self.variable(kind))
            }
            10 => {
                let arguments: Vec<_> = (0..3).map(|_| self.read(Kind::Bool)).collect();
                format!("Any3({})", arguments.join(", "))
            }
            11 => format!(
                "SEL({}, {}, {})",
                self.read(Kind::Bool),
                self.read(Kind::Bool),
                self.read(Kind::Bool)
            ),
            12 if self.in_program() => "butt0.Stop()".to_owned(),
            13 if self.in_program() => {
                (*self.random.pick(&["(pi = NULL)", "(drive <> NULL)", "(pb = REF(b5))"])).to_owned()
            }
            14 if self.in_program() => {
                format!("(str0 {} str1)", self.random.pick(&["=", "<>", "<", ">="]))
            }
            15 => "TRUE".to_owned(),
            16 => format!("{}_TO_BOOL({})", "BYTE", self.read(Kind::Byte)),
            _ => self.read(Kind::Bool),
        }
    }

    /// A comparison of two values, in parentheses.
    pub fn comparison(&mut self) -> String {
        let operator = *self.random.pick(&["<", "<=", ">", ">=", "=", "<>"]);
        match self.random.below(12) {
            0 => {
                let left = self.read(Kind::Time);
                format!("({left} {operator} {})", self.time(1))
            }
            1 => {
                let kind = *self.random.pick(&BIT_STRINGS);
                let left = self.read(kind);
                format!("({left} {} {})", self.random.pick(&["=", "<>"]), self.bit_string(kind, 1))
            }
            _ => {
                let kind = NUMBERS[self.random.weighted(&[6, 3, 5, 2, 1, 1, 1, 1, 1, 1])];
                let left = if self.random.chance(60) { self.read(kind) } else { self.compound(kind, 1) };
                let right = match self.random.below(10) {
                    0..=3 => self.literal(kind),
                    4..=7 => self.read(kind),
                    _ => self.number(kind, 1),
                };
                format!("({left} {operator} {right})")
            }
        }
    }
}
