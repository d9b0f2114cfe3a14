//! What the writers of expressions and statements share: random numbers, the names of the unit, where they are.

use super::{
    kind::Kind,
    names::{Names, Sort},
    random::Random,
};

/// A control variable of a loop.
#[derive(Clone, Debug)]
pub struct Control {
    /// Its name.
    pub name: String,
    /// Its type.
    pub kind: Kind,
    /// Its least and its greatest value in the body, where these are constants.
    pub bounds: Option<(i32, i32)>,
}

/// Writes the body of one unit.
pub struct Writer<'a> {
    /// Source of all choices.
    pub random: &'a mut Random,
    /// Names of the unit.
    pub names: &'a Names,
    /// Control variables of the loops around the place, which nothing else assigns to.
    pub controls: Vec<Control>,
    /// Number of statements around the place.
    pub depth: usize,
    /// Statements that may still be written.
    pub rest: usize,
    /// Loops around the place.
    pub loops: usize,
    /// Instances called so far, and structures.
    pub called: Vec<String>,
    /// Labels used so far.
    pub labels: usize,
    /// Random function blocks that the unit has instances of.
    pub blocks: usize,
    /// Whether the random function is there to be called.
    pub function: bool,
}

impl<'a> Writer<'a> {
    /// A writer at the beginning of a unit.
    pub fn new(random: &'a mut Random, names: &'a Names, blocks: usize, function: bool) -> Self {
        Self {
            random,
            names,
            controls: Vec::new(),
            depth: 0,
            rest: 0,
            loops: 0,
            called: vec!["st".to_owned()],
            labels: 0,
            blocks,
            function,
        }
    }

    /// Whether the unit is a program.
    pub fn in_program(&self) -> bool {
        self.names.sort == Sort::Program
    }

    /// Whether the unit has instances of standard function blocks.
    pub fn has_instances(&self) -> bool {
        self.names.sort != Sort::Function
    }

    /// A name that holds a value of a type.
    pub fn read(&mut self, kind: Kind) -> String {
        let controls: Vec<&str> = self
            .controls
            .iter()
            .filter(|control| control.kind == kind)
            .map(|control| control.name.as_str())
            .collect();
        if !controls.is_empty() && self.random.chance(40) {
            return (*self.random.pick(&controls)).to_owned();
        }
        if self.random.chance(18)
            && let Some(element) = self.element(kind)
        {
            return element;
        }
        for _ in 0..3 {
            let name = self.random.pick(self.names.read(kind));
            // Outputs of blocks that are called somewhere, mostly.
            let instance = name.split(['.', '[']).next().unwrap_or_default();
            if instance.len() == name.len() || self.called.iter().any(|called| called == instance) {
                return name.clone();
            }
        }
        self.random.pick(self.names.read(kind)).clone()
    }

    /// A name or an element to be assigned a value of a type.
    pub fn target(&mut self, kind: Kind) -> String {
        if self.random.chance(18)
            && let Some(element) = self.element(kind)
        {
            return element;
        }
        self.random.pick(self.names.write(kind)).clone()
    }

    /// A variable that an in-out parameter of exactly this type may be given.
    pub fn variable(&mut self, kind: Kind) -> String {
        format!("{}{}", kind.prefix(), self.random.below(3))
    }

    /// An element of an array, or a member of one.
    pub fn element(&mut self, kind: Kind) -> Option<String> {
        Some(match kind {
            Kind::Bool if self.random.chance(30) => format!("items[{}].lit", self.subscript(0, 4)),
            Kind::Bool => format!("ab[{}]", self.subscript(1, 6)),
            Kind::Int if self.random.chance(30) => format!("items[{}].n", self.subscript(0, 4)),
            Kind::Int => format!("ai[{}]", self.subscript(0, 7)),
            Kind::Dint => format!("ad[{}, {}]", self.subscript(0, 3), self.subscript(1, 4)),
            Kind::Usint => format!("au[{}]", self.subscript(0, 9)),
            Kind::Real if self.random.chance(30) => format!("items[{}].v", self.subscript(0, 4)),
            Kind::Real => format!("ar[{}]", self.subscript(-2, 3)),
            Kind::Lreal => format!("alr[{}]", self.subscript(0, 3)),
            Kind::Word => format!("aw[{}]", self.subscript(0, 3)),
            Kind::Time if self.random.chance(30) => format!("items[{}].span", self.subscript(0, 4)),
            Kind::Time => format!("ats[{}]", self.subscript(0, 2)),
            _ => return None,
        })
    }

    /// A subscript, in few cases one that may lie outside.
    pub fn subscript(&mut self, lower: i32, upper: i32) -> String {
        let count = upper - lower + 1;
        let random = &mut *self.random;
        if random.chance(30) {
            return (lower + random.below(count as usize) as i32).to_string();
        }
        if !self.controls.is_empty() && random.chance(60) {
            let Control { name, kind, bounds } = random.pick(&self.controls).clone();
            return match kind {
                _ if random.chance(2) => name,
                _ if bounds.is_some_and(|(least, most)| least >= lower && most <= upper) => name,
                _ if bounds.is_some_and(|(least, most)| least > lower && most <= upper + 1) => {
                    format!("{name} - 1")
                }
                _ if bounds.is_some_and(|(least, most)| least >= lower - 1 && most < upper) => {
                    format!("{name} + 1")
                }
                _ if kind.is_unsigned() && lower < 0 => format!("MIN({name}, {upper})"),
                _ if kind.is_unsigned() => format!("{name} MOD {count} + {lower}"),
                _ => format!("LIMIT({lower}, {name}, {upper})"),
            };
        }
        let number = random.below(3);
        let kind = *random.pick(&[
            Kind::Usint,
            Kind::Uint,
            Kind::Udint,
            Kind::Int,
            Kind::Dint,
            Kind::Sint,
            Kind::Lint,
        ]);
        let name = format!("{}{number}", kind.prefix());
        if random.chance(1) {
            // Now and then a subscript is wrong.
            return name;
        }
        match kind {
            Kind::Usint | Kind::Uint | Kind::Udint if lower >= 0 => format!("{name} MOD {count} + {lower}"),
            _ => format!("LIMIT({lower}, {name}, {upper})"),
        }
    }

    /// A literal of a type, as it stands beside a variable of that type.
    pub fn literal(&mut self, kind: Kind) -> String {
        let random = &mut *self.random;
        match kind {
            Kind::Bool => (*random.pick(&["TRUE", "FALSE"])).to_owned(),
            Kind::Real | Kind::Lreal => (*random
                .pick(&["0.5", "2.0", "1.0", "100.25", "-3.5", "0.1", "1.0E30", "1.0E-30", "10.0", "-1.0"]))
            .to_owned(),
            Kind::Time => (*random.pick(&["T#10ms", "T#25ms", "T#40ms", "T#1s", "T#3ms", "T#2h"])).to_owned(),
            Kind::Byte => format!("16#{:02X}", random.below(256)),
            Kind::Word => format!("16#{:04X}", random.below(65536)),
            Kind::Dword | Kind::Lword => format!("16#{:08X}", random.bits() as u32),
            _ => {
                let greatest = if random.chance(20) { 100 } else { 9 };
                random.between(0, greatest).to_string()
            }
        }
    }
}
