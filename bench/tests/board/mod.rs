//! Small programs built by hand, instruction by instruction, for tests of the bench without a compiler.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests may stop them")]
#![allow(dead_code, reason = "every test file uses a part of this")]

use std::sync::Arc;

use latchwork_vm::{
    AreaKind, ElementaryType, Family, ImageBuilder, LocatedBit, Member, Operand, Place, Program, ProgramCall,
    Region, Scalar, Section, Task, TypeDescription, TypeIndex, UnitBuilder, UnitKind, Variable,
};

/// Bytes of each of the areas %I, %Q and %M.
const AREA_BYTES: u32 = 16;

/// A program `Main` under construction: its variables in one instance, located words in their areas.
pub struct Board {
    image: ImageBuilder,
    base: u32,
    next: u32,
    members: Vec<Member>,
    unit: UnitBuilder,
}

/// Room for the variables of `Main`.
const INSTANCE_BYTES: u32 = 1024;

impl Board {
    pub fn new() -> Self {
        let mut image = ImageBuilder::new();
        let mut area = || Region { start: image.allocate(AREA_BYTES, 8), size: AREA_BYTES };
        let (inputs, outputs, memory) = (area(), area(), area());
        image.layout.inputs = inputs;
        image.layout.outputs = outputs;
        image.layout.memory = memory;
        let base = image.allocate(INSTANCE_BYTES, 8);
        let unit = UnitBuilder::new("Main", UnitKind::Program, INSTANCE_BYTES);
        Board { image, base, next: 0, members: Vec::new(), unit }
    }

    fn place(&mut self, bytes: u32) -> u32 {
        let offset = self.next.next_multiple_of(8);
        self.next = offset + bytes;
        assert!(self.next <= INSTANCE_BYTES);
        offset
    }

    fn member(&mut self, name: &str, offset: u32, kind: TypeIndex, section: Section, location: Option<&str>) {
        self.members.push(Member {
            name: name.into(),
            offset,
            kind,
            section,
            location: location.map(str::to_string),
            constant: false,
        });
    }

    /// A BOOL at a bit of an area, such as `%IX0.3`.
    pub fn bit(&mut self, name: &str, area: AreaKind, byte: u32, bit: u8) -> Place {
        let offset = self.place(1);
        let (letter, region) = match area {
            AreaKind::Input => ('I', self.image.layout.inputs),
            AreaKind::Output => ('Q', self.image.layout.outputs),
            AreaKind::Memory => ('M', self.image.layout.memory),
        };
        let kind = self.image.kind(TypeDescription::Elementary(ElementaryType::Bool));
        self.member(name, offset, kind, Section::Local, Some(&format!("%{letter}X{byte}.{bit}")));
        self.image.bits.push(LocatedBit { place: self.base + offset, byte: region.start + byte, bit, area });
        Place::relative(offset)
    }

    /// A located word, which lies in the input area itself.
    pub fn input_word(&mut self, name: &str, kind: ElementaryType, word: u32) -> Place {
        let address = self.image.layout.inputs.start + 2 * word;
        let kind = self.image.kind(TypeDescription::Elementary(kind));
        self.image.root(Variable {
            name: format!("Main.{name}"),
            address,
            kind,
            section: Section::Local,
            location: Some(format!("%IW{word}")),
            constant: false,
        });
        Place::absolute(address)
    }

    /// A variable of a type.
    pub fn variable(&mut self, name: &str, kind: TypeDescription, bytes: u32, section: Section) -> Place {
        let offset = self.place(bytes);
        let kind = self.image.kind(kind);
        self.member(name, offset, kind, section, None);
        Place::relative(offset)
    }

    /// A variable of an elementary type.
    pub fn elementary(&mut self, name: &str, kind: ElementaryType, section: Section) -> Place {
        self.variable(name, TypeDescription::Elementary(kind), kind.size().unwrap(), section)
    }

    /// A string variable.
    pub fn text(&mut self, name: &str, wide: bool, capacity: u16) -> Place {
        let bytes = 4 + u32::from(capacity) * if wide { 2 } else { 1 };
        let place = self.variable(name, TypeDescription::String { wide, capacity }, bytes, Section::Local);
        self.image.write(self.base + place.offset(), &capacity.to_le_bytes());
        place
    }

    /// The index of a type.
    pub fn kind(&mut self, description: TypeDescription) -> TypeIndex {
        self.image.kind(description)
    }

    /// A global constant of type DINT.
    pub fn constant(&mut self, name: &str, value: i32) -> Place {
        let address = self.image.allocate(4, 4);
        self.image.write(address, &value.to_le_bytes());
        let kind = self.image.kind(TypeDescription::Elementary(ElementaryType::Dint));
        self.image.root(Variable {
            name: name.into(),
            address,
            kind,
            section: Section::Global,
            location: None,
            constant: true,
        });
        Place::absolute(address)
    }

    /// A variable that only instructions use.
    pub fn hidden(&mut self, bytes: u32, initial: &[u8]) -> Place {
        let offset = self.place(bytes);
        self.image.write(self.base + offset, initial);
        Place::relative(offset)
    }

    /// Appends an instruction.
    pub fn emit(&mut self, family: Family, scalar: Scalar, places: &[Place]) {
        let operands: Vec<Operand> = places.iter().map(|place| Operand::from(*place)).collect();
        self.unit.emit(family, scalar, &operands);
    }

    /// The program, run in every scan.
    pub fn program(mut self) -> Arc<Program> {
        let unit = self.image.add_unit(self.unit.finish().unwrap());
        self.image.tasks.push(Task::cyclic("Cyclic", vec![ProgramCall { unit, base: self.base }]));
        let kind = self.image.kind(TypeDescription::Structure { name: "Main".into(), members: self.members });
        self.image.root(Variable {
            name: "Main".into(),
            address: self.base,
            kind,
            section: Section::Global,
            location: None,
            constant: false,
        });
        Arc::new(Program::load(self.image.finish().unwrap(), &[]).unwrap())
    }
}

/// The board with four inputs: each input copied to the output of its number.
pub fn four_inputs() -> Arc<Program> {
    let mut board = Board::new();
    let inputs: Vec<Place> = (1..=4).map(|n| board.bit(&format!("In{n}"), AreaKind::Input, 0, n)).collect();
    let outputs: Vec<Place> =
        (1..=4).map(|n| board.bit(&format!("Out{n}"), AreaKind::Output, 0, n)).collect();
    for (input, output) in inputs.iter().zip(&outputs) {
        board.emit(Family::Move, Scalar::U8, &[*output, *input]);
    }
    board.program()
}

/// A program with a variable of every kind, and a little to do: `Pump := (Start OR Pump) AND Stop`, the scans
/// counted in `Scans`.
pub fn every_kind() -> Arc<Program> {
    let mut board = Board::new();
    let start = board.bit("Start", AreaKind::Input, 0, 0);
    let stop = board.bit("Stop", AreaKind::Input, 0, 1);
    board.input_word("Level", ElementaryType::Int, 1);
    let pump = board.bit("Pump", AreaKind::Output, 0, 0);
    board.bit("Flag", AreaKind::Memory, 0, 0);
    board.elementary("Enable", ElementaryType::Bool, Section::Input);
    board.elementary("Ready", ElementaryType::Bool, Section::Output);
    board.elementary("Amount", ElementaryType::Int, Section::Output);
    let scans = board.elementary("Scans", ElementaryType::Int, Section::Local);
    board.elementary("Count", ElementaryType::Usint, Section::Local);
    board.elementary("Mask", ElementaryType::Word, Section::Local);
    board.elementary("Speed", ElementaryType::Real, Section::Local);
    board.elementary("Fine", ElementaryType::Lreal, Section::Local);
    board.elementary("Delay", ElementaryType::Time, Section::Local);
    board.elementary("LongDelay", ElementaryType::Ltime, Section::Local);
    board.elementary("Day", ElementaryType::Date, Section::Local);
    board.elementary("Clock", ElementaryType::TimeOfDay, Section::Local);
    board.elementary("Stamp", ElementaryType::DateAndTime, Section::Local);
    board.elementary("Letter", ElementaryType::Char, Section::Local);
    board.text("Crop", false, 10);
    board.text("Wide", true, 10);
    let values =
        ["Idle", "Filling", "Draining"].iter().zip(0..).map(|(name, value)| (name.to_string(), value));
    let mode = TypeDescription::Enumeration { name: "TankMode".into(), values: values.collect() };
    board.variable("Mode", mode, 4, Section::Local);
    board.variable("Link", TypeDescription::Reference, 4, Section::Local);
    let flag = board.kind(TypeDescription::Elementary(ElementaryType::Bool));
    let segments = TypeDescription::Array { bounds: vec![(0, 3)], element: flag, stride: 1 };
    board.variable("Seg", segments, 4, Section::Local);
    let level = board.kind(TypeDescription::Elementary(ElementaryType::Int));
    let grid = TypeDescription::Array { bounds: vec![(1, 2), (1, 2)], element: level, stride: 2 };
    board.variable("Grid", grid, 8, Section::Local);
    board.constant("TrayLimit", 12);

    let one = board.hidden(2, &1_i16.to_le_bytes());
    board.emit(Family::Or, Scalar::U8, &[pump, start, pump]);
    board.emit(Family::And, Scalar::U8, &[pump, pump, stop]);
    board.emit(Family::Add, Scalar::I16, &[scans, scans, one]);
    board.program()
}

/// A program that divides by a counter that reaches 0 in its fourth scan.
pub fn faulty() -> Arc<Program> {
    let mut board = Board::new();
    let output = board.bit("Out", AreaKind::Output, 0, 0);
    let left = board.elementary("Left", ElementaryType::Int, Section::Local);
    let quotient = board.elementary("Quotient", ElementaryType::Int, Section::Local);
    let one = board.hidden(2, &1_i16.to_le_bytes());
    let four = board.hidden(2, &4_i16.to_le_bytes());
    let started = board.hidden(2, &[0, 0]);
    // Left := 4 - Started - 1, Started := Started + 1
    board.emit(Family::Add, Scalar::I16, &[started, started, one]);
    board.emit(Family::Subtract, Scalar::I16, &[left, four, started]);
    board.emit(Family::Divide, Scalar::I16, &[quotient, four, left]);
    board.emit(Family::Not, Scalar::U8, &[output, output]);
    board.program()
}
