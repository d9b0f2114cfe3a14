//! Random programs with what control programs use, as text and as trees of statements.
//!
//! A [`Batch`] is a source text with common types and units, function blocks and a function with random bodies, and
//! several random programs in Structured Text and Instruction List. Every program declares the same names, so that
//! statements can be taken away from any unit.

mod body;
mod boolean;
mod calls;
mod kind;
mod list;
mod names;
mod number;
mod random;
mod statement;
mod writer;

pub use kind::{KINDS, Kind};
pub use names::inputs;
pub use random::Random;
pub use statement::{Statement, smaller, text};

use std::fmt::Write;

use names::{COMMON, Names, Sort, declarations};
use writer::Writer;

/// Random function blocks of a batch.
const BLOCKS: usize = 2;

/// Programs of a batch.
pub const PROGRAMS: usize = 16;

/// A unit with a random body.
#[derive(Clone, Debug)]
pub struct Unit {
    sort: Sort,
    /// Number among the units of its sort.
    number: usize,
    /// Whether the body is in Instruction List.
    list: bool,
    /// Its body.
    pub body: Vec<Statement>,
}

/// A source text with several programs.
#[derive(Clone, Debug)]
pub struct Batch {
    /// Whether a configuration runs all programs, in tasks; otherwise each is meant to be run alone.
    pub configured: bool,
    /// Whether the image is to measure coverage.
    pub observed: bool,
    /// Function blocks, a function and the programs, in this order.
    pub units: Vec<Unit>,
}

impl Batch {
    /// The batch of a seed.
    pub fn new(seed: u64) -> Self {
        let mut random = Random::new(seed);
        let configured = random.chance(15);
        let observed = random.chance(6);
        let mut units = Vec::new();
        for number in 0..BLOCKS {
            // A block has instances of those before it.
            let names = Names::new(Sort::Block, number);
            let count = random.between(3, 12);
            let body = Writer::new(&mut random, &names, number, true).statements(count);
            units.push(Unit { sort: Sort::Block, number, list: false, body });
        }
        let names = Names::new(Sort::Function, 0);
        let count = random.between(2, 8);
        let body = Writer::new(&mut random, &names, 0, false).statements(count);
        units.push(Unit { sort: Sort::Function, number: 0, list: false, body });
        let names = Names::new(Sort::Program, BLOCKS);
        for number in 0..PROGRAMS {
            let list = random.chance(12);
            let count = match random.below(10) {
                0..=6 => random.between(5, 10),
                7 | 8 => random.between(10, 25),
                _ => random.between(25, 60),
            };
            let mut writer = Writer::new(&mut random, &names, BLOCKS, true);
            let body = if list { writer.networks(count) } else { writer.statements(count) };
            units.push(Unit { sort: Sort::Program, number, list, body });
        }
        Self { configured, observed, units }
    }

    /// Names of its programs; `P3` is the root variable of the program `P3` without a configuration, `Plant.R3` with.
    pub fn programs(&self) -> Vec<String> {
        let programs = self.units.iter().filter(|unit| unit.sort == Sort::Program);
        programs.map(|unit| format!("{}{}", if self.configured { "R" } else { "P" }, unit.number)).collect()
    }

    /// The same without all programs but one, where each is run alone.
    #[must_use]
    pub fn with_program(&self, index: usize) -> Self {
        let mut batch = self.clone();
        if !self.configured {
            let mut program = 0;
            batch.units.retain(|unit| {
                let keep = unit.sort != Sort::Program || program == index;
                program += usize::from(unit.sort == Sort::Program);
                keep
            });
        }
        batch
    }

    /// Lines at the beginning of every source text that are the same in all.
    pub fn common_lines() -> usize {
        COMMON.lines().count()
    }

    /// All batches that are one step smaller.
    pub fn smaller(&self) -> Vec<Self> {
        let mut found = Vec::new();
        for (index, unit) in self.units.iter().enumerate() {
            for body in smaller(&unit.body) {
                let mut batch = self.clone();
                batch.units[index].body = body;
                found.push(batch);
            }
        }
        found
    }

    /// The source text.
    pub fn text(&self) -> String {
        let mut source = String::from(COMMON);
        let globals = "VAR_GLOBAL g0 : BOOL; g1 : INT; END_VAR\n";
        if self.configured {
            let _ = write!(
                source,
                "CONFIGURATION Plant\n{globals}TASK Fast (INTERVAL := T#10ms, PRIORITY := 1);\n\
                 TASK Slow (INTERVAL := T#30ms, PRIORITY := 3);\nTASK Edge (SINGLE := g0, PRIORITY := 2);\n"
            );
            for unit in self.units.iter().filter(|unit| unit.sort == Sort::Program) {
                let task = ["", " WITH Fast", " WITH Slow", " WITH Edge"][unit.number % 4];
                let _ = writeln!(source, "PROGRAM R{0}{task} : P{0};", unit.number);
            }
            source.push_str("END_CONFIGURATION\n");
        } else {
            source.push_str(globals);
        }
        for unit in &self.units {
            let number = unit.number;
            let (head, end, blocks) = match unit.sort {
                Sort::Block => (format!("FUNCTION_BLOCK F{number}"), "END_FUNCTION_BLOCK", number),
                Sort::Function => ("FUNCTION Own : REAL".to_owned(), "Own := q2 + p3;\nEND_FUNCTION", 0),
                Sort::Program => (format!("PROGRAM P{number}"), "END_PROGRAM", BLOCKS),
            };
            let body = text(&unit.body, unit.list);
            let _ = write!(source, "{head}\n{}{body}{end}\n", declarations(unit.sort, number, blocks, &body));
        }
        source
    }
}
