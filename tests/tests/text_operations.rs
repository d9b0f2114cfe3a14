//! What the machine does by itself instead of native functions on texts is what they do: data, events, faults and counts
//! are the same in every way of running, whatever lies in the frame and in the texts.

#![allow(clippy::expect_used, reason = "a test stops where an assumption fails")]
#![allow(clippy::unwrap_used, reason = "a test stops where an assumption fails")]

use latchwork_stdlib::natives;
use latchwork_vm::{
    Dispatcher, Family, ImageBuilder, Machine, Operand, Place, Program, ProgramCall, Scalar, Task,
    TextOperation, UnitBuilder, UnitKind,
};
use std::sync::Arc;

/// Where the frame and the texts lie; the data image ends behind the last text.
const FRAME: u32 = 16;
const HEADS: [u32; 3] = [64, 200, 341];
const END: u32 = 480;

/// What lies in a slot of the frame.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Slot {
    Text,
    Number,
}

fn slots(operation: TextOperation) -> &'static [Slot] {
    use Slot::{Number, Text};
    match operation {
        TextOperation::Length => &[Text],
        TextOperation::Append | TextOperation::Find => &[Text, Text],
        TextOperation::Left | TextOperation::Right => &[Text, Number, Text],
        TextOperation::Middle | TextOperation::Delete => &[Text, Number, Number, Text],
        TextOperation::Insert => &[Text, Text, Number, Text],
        TextOperation::Replace => &[Text, Text, Number, Number, Text],
        TextOperation::Write(_) => &[Number, Text],
    }
}

/// Numbers that are the same in every run (Marsaglia, Xorshift RNGs, 2003).
struct Random(u64);

impl Random {
    fn bits(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn below(&mut self, end: u64) -> u64 {
        (self.bits() >> 20) % end
    }

    fn chance(&mut self, of_hundred: u64) -> bool {
        self.below(100) < of_hundred
    }

    fn text(&mut self) -> u32 {
        if self.chance(92) {
            return HEADS[self.below(3) as usize];
        }
        let wrong = [0, 1, 12, 15, 16, 130, END - 5, END - 4, END - 3, END, END + 1, u32::MAX - 3, u32::MAX];
        wrong[self.below(wrong.len() as u64) as usize]
    }

    fn number(&mut self) -> u64 {
        match self.below(10) {
            0 => [0, u64::MAX, 1 << 63, u64::MAX >> 1, 1 << 31, 1 << 15, 1 << 7][self.below(7) as usize],
            1 => self.bits(),
            2 => self.below(1 << 20),
            3 | 4 => self.below(130).wrapping_sub(2),
            5 => self.below(10).wrapping_sub(1),
            _ => 1 + self.below(4),
        }
    }

    /// Texts, some of them with more characters than room or more room than the data image has.
    fn fill(&mut self, data: &mut [u8], slots: &[Slot]) {
        let letters = 1 + self.below(3);
        for byte in &mut data[FRAME as usize..] {
            *byte = if self.chance(98) { b'a' + self.below(letters) as u8 } else { self.bits() as u8 };
        }
        for head in HEADS {
            let room = 131;
            let capacity = if self.chance(95) { self.below(room) } else { self.below(room + 20) };
            let length = match self.below(20) {
                0 => self.bits() as u16,
                1..=6 => self.below(4) as u16,
                _ => self.below(capacity + 1) as u16,
            };
            let has_room = head == HEADS[2] && self.chance(60);
            let (capacity, length) = if has_room { (room, 0) } else { (capacity, length) };
            let head = head as usize;
            data[head..head + 2].copy_from_slice(&(capacity as u16).to_le_bytes());
            data[head + 2..head + 4].copy_from_slice(&length.to_le_bytes());
        }
        for (slot, kind) in slots.iter().enumerate() {
            let at = FRAME as usize + 8 * slot;
            // The last text is mostly the result.
            let number = match kind {
                Slot::Text if slot + 1 == slots.len() && self.chance(60) => u64::from(HEADS[2]),
                Slot::Text => u64::from(self.text()),
                Slot::Number => self.number(),
            };
            data[at..at + 8].copy_from_slice(&number.to_le_bytes());
        }
    }
}

/// A program that runs a native function on the frame.
fn program(name: &str, frame_bytes: u32) -> Arc<Program> {
    let mut builder = ImageBuilder::new();
    builder.allocate(END - FRAME, 0);
    let native = builder.native(name, frame_bytes);
    let mut unit = UnitBuilder::new("Call", UnitKind::Program, 0);
    let frame = Operand::Place(Place::absolute(FRAME));
    unit.emit(Family::Native, Scalar::U8, &[Operand::Native(native), frame]);
    let unit = builder.add_unit(unit.finish().unwrap());
    builder.tasks.push(Task::cyclic("Main", vec![ProgramCall { unit, base: 0 }]));
    let image = builder.finish().unwrap();
    assert_eq!(image.data.len(), END as usize);
    Arc::new(Program::load(image, natives()).unwrap())
}

#[test]
fn operations_are_the_native_functions() {
    let mut tried = 0;
    for function in natives() {
        let Some(operation) = function.operation else { continue };
        tried += 1;
        let program = program(function.name, function.frame_bytes);
        let mut random = Random(0x9e37_79b9_7f4a_7c15);
        let (mut quiet, mut charging) = (0, 0);
        for case in 0..4000 {
            let mut machines = [Dispatcher::Compiled, Dispatcher::Threaded, Dispatcher::Matched]
                .map(|way| Machine::with_dispatcher(Arc::clone(&program), way));
            let mut data = machines[0].data().to_vec();
            random.fill(&mut data, slots(operation));
            let strict = random.chance(10);
            for machine in &mut machines {
                machine.data_mut().copy_from_slice(&data);
                machine.set_strict(strict);
            }
            let [compiled, threaded, matched] = machines.each_mut().map(|machine| machine.scan(0));
            assert_eq!(compiled, matched, "{} {case}", function.name);
            assert_eq!(threaded, matched, "{} {case}", function.name);
            let [compiled, threaded, matched_machine] = &machines;
            for other in [compiled, threaded] {
                assert!(other.data() == matched_machine.data(), "{} {case}: data differ", function.name);
                assert_eq!(other.events(), matched_machine.events(), "{} {case}", function.name);
            }
            if let Ok(summary) = matched {
                quiet += u32::from(matched_machine.events().is_empty());
                charging += u32::from(summary.instructions > 2);
            }
        }
        // The cases are such that what the machine does by itself happens often, with and without charges.
        assert!(quiet > 300, "{}: only {quiet} without events", function.name);
        assert!(charging > 100, "{}: only {charging} charge", function.name);
    }
    assert_eq!(tried, 9 + 8);
}

#[test]
fn operations_fit_the_frames_of_their_functions() {
    for function in natives() {
        if let Some(operation) = function.operation {
            let operands = slots(operation).len() as u32 * 8;
            assert!(operation.result() + 8 <= function.frame_bytes, "{}", function.name);
            assert!(
                operation.result() + 8 == operands || operation.result() == operands,
                "{}",
                function.name
            );
        }
    }
}
