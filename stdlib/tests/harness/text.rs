//! Conversions of which one side or both are texts: a routine on a frame with room for two texts behind it.

use latchwork_stdlib::{ConversionRule, conversion, natives};
use latchwork_vm::{
    ElementaryType, EventKind, Family, ImageBuilder, Machine, Operand, Place, Scalar, UnitBuilder, UnitKind,
};

/// A conversion on a machine of its own.
pub struct Conversion {
    from: ElementaryType,
    to: ElementaryType,
    machine: Machine,
    base: usize,
    /// Most characters of the text that is the result.
    pub capacity: u16,
}

/// Most characters of a text that is given.
const GIVEN: u16 = 1000;
const SOURCE: usize = 16;
const TARGET: usize = SOURCE + 4 + 2 * GIVEN as usize;
const BYTES: usize = TARGET + 4 + 2 * GIVEN as usize;

impl Conversion {
    /// A conversion with the capacity that the library gives its result; `None` if there is none that has to do
    /// with texts.
    pub fn new(from: ElementaryType, to: ElementaryType) -> Option<Self> {
        let (routine, capacity) = match conversion(from, to, false)? {
            ConversionRule::Native(routine) => (routine, 0),
            ConversionRule::Text { routine, capacity } => (routine, capacity.unwrap_or(GIVEN)),
            _ => return None,
        };
        let native = natives().iter().find(|row| row.name == routine)?;
        let mut builder = ImageBuilder::new();
        let index = builder.native(native.name, native.frame_bytes);
        let mut unit = UnitBuilder::new("Conversion", UnitKind::Program, BYTES as u32);
        unit.emit(Family::Native, Scalar::U8, &[Operand::Native(index), Place::relative(0).into()]);
        let unit = unit.finish().expect("the unit is whole");
        let (machine, base) = super::machine(builder, unit, BYTES as u32);
        Some(Self { from, to, machine, base, capacity })
    }

    fn put(&mut self, at: usize, bytes: &[u8]) {
        let at = self.base + at;
        self.machine.data_mut()[at..at + bytes.len()].copy_from_slice(bytes);
    }

    fn half(&self, at: usize) -> u16 {
        let at = self.base + at;
        u16::from_le_bytes(self.machine.data()[at..at + 2].try_into().expect("two bytes"))
    }

    fn run(&mut self) -> Vec<&'static str> {
        // What lies behind the result must stay.
        self.put(8, &[0xA5; 8]);
        if self.to.is_string() {
            let address = (self.base + TARGET) as u32;
            self.put(8, &address.to_le_bytes());
            let capacity = self.capacity;
            self.put(TARGET, &capacity.to_le_bytes());
            self.put(TARGET + 2, &[0, 0]);
        }
        self.machine.clear_events();
        self.machine.scan(0).expect("conversions raise no faults");
        let events = self.machine.events();
        let kinds = EventKind::ALL.iter().filter(|kind| events.count(**kind) > 0);
        kinds.map(|kind| kind.name()).collect()
    }

    /// Number of events of the last call.
    pub fn event_count(&self) -> u64 {
        self.machine.events().total()
    }

    /// The result, if it is no text.
    fn bits(&self) -> u64 {
        let at = self.base + 8;
        let size = self.to.size().expect("a scalar") as usize;
        let mut bits = [0; 8];
        bits[..size].copy_from_slice(&self.machine.data()[at..at + size]);
        u64::from_le_bytes(bits)
    }

    /// The result, if it is a text.
    fn text(&self) -> Vec<u16> {
        assert_eq!(self.half(TARGET), self.capacity, "the capacity is untouched");
        let length = usize::from(self.half(TARGET + 2));
        let wide = self.to == ElementaryType::Wstring;
        (0..length)
            .map(|index| {
                let at = TARGET + 4 + if wide { 2 * index } else { index };
                if wide { self.half(at) } else { self.half(at) & 0xFF }
            })
            .collect()
    }

    /// Gives a text to convert.
    fn give(&mut self, codes: &[u16]) {
        let address = (self.base + SOURCE) as u32;
        self.put(0, &address.to_le_bytes());
        self.put(SOURCE, &GIVEN.to_le_bytes());
        let length = u16::try_from(codes.len()).expect("a short text");
        assert!(length <= GIVEN);
        self.put(SOURCE + 2, &length.to_le_bytes());
        let bytes: Vec<u8> = if self.from == ElementaryType::Wstring {
            codes.iter().flat_map(|code| code.to_le_bytes()).collect()
        } else {
            codes.iter().map(|code| u8::try_from(*code).expect("a character of STRING")).collect()
        };
        self.put(SOURCE + 4, &bytes);
    }

    /// The text of a value.
    pub fn write(&mut self, bits: u64) -> (String, Vec<&'static str>) {
        // Behind a short operand the frame holds anything.
        self.put(0, &[0x5A; 8]);
        let size = self.from.size().expect("a scalar") as usize;
        self.put(0, &bits.to_le_bytes()[..size]);
        let events = self.run();
        (String::from_utf16(&self.text()).expect("a text"), events)
    }

    /// The value of a text.
    pub fn read(&mut self, text: &str) -> (u64, Vec<&'static str>) {
        self.read_codes(&text.encode_utf16().collect::<Vec<_>>())
    }

    /// The value of a text given by its codes.
    pub fn read_codes(&mut self, codes: &[u16]) -> (u64, Vec<&'static str>) {
        self.give(codes);
        let events = self.run();
        (self.bits(), events)
    }

    /// A text as a text of the other width.
    pub fn transfer(&mut self, codes: &[u16]) -> (Vec<u16>, Vec<&'static str>) {
        self.give(codes);
        let events = self.run();
        (self.text(), events)
    }
}
