//! The recording as a value change dump (IEEE 1364-2005 clause 18), for waveform viewers.
//!
//! What becomes what: BOOL a `wire` of one bit; bit strings, integers and enumerations a `reg` of their width, signed
//! ones in two's complement; REAL and LREAL a `real`; durations, dates and times of day an `integer` of 64 bits in
//! nanoseconds. The dump format has no strings: STRING and WSTRING become a `reg` of 8 or 16 bits a character, as
//! wide as the longest value recorded, the last character rightmost and filled with zeros, the way Verilog keeps a
//! string in a register. The names of enumeration values stand in a comment.
//!
//! The parts of a name are modules of their own; devices lie in the module `station`. There is no date in the file:
//! the same recording gives the same bytes.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::{self, Write};

use latchwork_vm::trace::{Changes, ScanRecord};
use latchwork_vm::value::Value;

use super::merge::Merge;
use crate::recording::{Recording, Role, Row};

/// The dump's time units from the coarsest to the finest: text and length in nanoseconds.
const TIMESCALES: [(&str, i64); 12] = [
    ("100 s", 100_000_000_000),
    ("10 s", 10_000_000_000),
    ("1 s", 1_000_000_000),
    ("100 ms", 100_000_000),
    ("10 ms", 10_000_000),
    ("1 ms", 1_000_000),
    ("100 us", 100_000),
    ("10 us", 10_000),
    ("1 us", 1_000),
    ("100 ns", 100),
    ("10 ns", 10),
    ("1 ns", 1),
];

/// The recording as a value change dump. The dump's times count from the start of time, not from the first scan;
/// negative times, which the format does not have, are written as 0.
pub fn vcd(recording: &Recording) -> String {
    let mut output = String::new();
    // Writing into a string cannot fail.
    let _ = VcdWriter::write(recording, &mut output);
    output
}

/// Writes a recording as a value change dump, part by part. Its head tells widths and names that only the whole recording
/// has, so a file that is written while the program runs gets it last and is put together afterwards.
#[derive(Clone, Debug)]
pub struct VcdWriter {
    rows: Vec<Variable>,
    timescale: &'static str,
    unit_ns: i64,
    /// The last time that was written.
    shown: Option<i64>,
    /// Whether the values of the first scan are still being written.
    initial: bool,
}

impl VcdWriter {
    /// Writes a whole recording.
    ///
    /// # Errors
    /// Those of the output.
    pub fn write(recording: &Recording, output: &mut dyn Write) -> fmt::Result {
        let times = recording.scans.iter().map(|scan| scan.time_ns).chain([recording.end_ns]);
        let mut writer = Self::new(&recording.rows, times);
        let changes = recording.changes();
        writer.learn(&changes);
        output.write_str(&writer.head(&recording.rows))?;
        writer.body(&recording.scans, &changes, output)?;
        writer.end(recording.end_ns, output)
    }

    /// A writer for these rows, whose changes do not matter yet. The times of all scans and of the end must be multiples of
    /// what these times are multiples of: a scan time will do.
    pub fn new(rows: &[Row], times: impl Iterator<Item = i64> + Clone) -> Self {
        let exact = |unit: i64| times.clone().all(|time| time % unit == 0);
        let (timescale, unit_ns) =
            TIMESCALES.iter().copied().find(|(_, unit)| exact(*unit)).unwrap_or(("1 ns", 1));
        let rows = rows
            .iter()
            .map(|_| Variable { form: Form::Wire, settled: false, names: BTreeMap::new() })
            .collect();
        Self { rows, timescale, unit_ns, shown: None, initial: true }
    }

    /// Writes the changes of further scans, which refer to these scans by index.
    ///
    /// # Errors
    /// Those of the output.
    pub fn part(
        &mut self,
        scans: &[ScanRecord],
        changes: &[&Changes],
        output: &mut dyn Write,
    ) -> fmt::Result {
        self.learn(changes);
        self.body(scans, changes, output)
    }

    /// Whether the head stays as it is whatever comes: every row had a value, and none of a sort whose values differ in width
    /// or have names.
    pub fn head_is_final(&self) -> bool {
        self.rows.iter().all(|row| row.settled)
    }

    /// Notes what the head must tell of these changes.
    fn learn(&mut self, changes: &[&Changes]) {
        for (row, changes) in self.rows.iter_mut().zip(changes) {
            row.learn(changes);
        }
    }

    fn body(&mut self, scans: &[ScanRecord], changes: &[&Changes], output: &mut dyn Write) -> fmt::Result {
        for (scan, index, value) in Merge::new(changes) {
            let Some(record) = usize::try_from(scan).ok().and_then(|scan| scans.get(scan)) else {
                continue;
            };
            let time = record.time_ns.max(0) / self.unit_ns;
            if self.shown != Some(time) {
                if self.initial && self.shown.is_some() {
                    output.write_str("$end\n")?;
                    self.initial = false;
                }
                writeln!(output, "#{time}")?;
                if self.shown.is_none() {
                    output.write_str("$dumpvars\n")?;
                }
                self.shown = Some(time);
            }
            write_value(&value, index, output)?;
        }
        Ok(())
    }

    /// Writes what stands behind the last change of a recording that ends at this time.
    ///
    /// # Errors
    /// Those of the output.
    pub fn end(&mut self, end_ns: i64, output: &mut dyn Write) -> fmt::Result {
        if self.shown.is_some() && self.initial {
            output.write_str("$end\n")?;
        }
        let end = end_ns.max(0) / self.unit_ns;
        if self.shown.is_some_and(|shown| shown < end) {
            writeln!(output, "#{end}")?;
        }
        Ok(())
    }

    /// The head of the file, which belongs in front of all parts, for the rows that the writer was made for.
    pub fn head(&self, rows: &[Row]) -> String {
        let mut output = String::from("$version Latchwork $end\n");
        // Writing into a string cannot fail.
        let _ = writeln!(output, "$timescale {} $end", self.timescale);
        declare(rows, &self.rows, &mut output);
        output.push_str("$enddefinitions $end\n");
        output
    }
}

/// How a row is declared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Form {
    /// One bit.
    Wire,
    /// Bits, of unsigned or two's complement numbers or of characters.
    Reg(usize),
    /// A floating-point number.
    Real,
    /// 64 bits of nanoseconds.
    Integer,
}

/// A row as a variable of the dump.
#[derive(Clone, Debug)]
struct Variable {
    /// Follows from the recorded values; a row without any is one bit that never gets a value.
    form: Form,
    /// Whether further values cannot change anything here.
    settled: bool,
    /// The names that enumeration values had.
    names: BTreeMap<i32, String>,
}

impl Variable {
    fn learn(&mut self, changes: &Changes) {
        // Only strings and enumerations differ from value to value in what must be told of them.
        let uniform = |value: &Value| {
            !matches!(value, Value::String(_) | Value::WideString(_) | Value::Enumeration { .. })
        };
        if self.settled {
            return;
        }
        for change in changes {
            self.form = match (self.form, form_of(&change.value)) {
                (Form::Reg(widest), Form::Reg(width)) => Form::Reg(widest.max(width)),
                (_, form) => form,
            };
            if uniform(&change.value) {
                self.settled = true;
                return;
            }
            if let Value::Enumeration { value, name: Some(name) } = &change.value {
                self.names.entry(*value).or_insert_with(|| legal(name));
            }
        }
    }

    fn declaration(&self) -> (&'static str, usize) {
        match self.form {
            Form::Wire => ("wire", 1),
            Form::Reg(width) => ("reg", width),
            Form::Real => ("real", 64),
            Form::Integer => ("integer", 64),
        }
    }

    /// "0 Idle, 1 Filling" for a row of enumeration values.
    fn comment(&self) -> Option<String> {
        let texts: Vec<String> = self.names.iter().map(|(value, name)| format!("{value} {name}")).collect();
        (!texts.is_empty()).then(|| texts.join(", "))
    }
}

fn write_value(value: &Value, index: usize, output: &mut dyn Write) -> fmt::Result {
    let code = code(index);
    let bits = match (form_of(value), value) {
        (Form::Wire, _) => {
            return writeln!(output, "{}{code}", u8::from(matches!(value, Value::Bool(true))));
        }
        (Form::Real, _) => {
            let number = value.as_f64().unwrap_or(f64::NAN);
            return writeln!(output, "r{number:e} {code}");
        }
        (_, Value::String(bytes)) => character_bits(bytes.iter().map(|byte| u64::from(*byte)), 8),
        (_, Value::WideString(units)) => character_bits(units.iter().map(|unit| u64::from(*unit)), 16),
        (Form::Reg(width), _) => number_bits(value.to_bits().unwrap_or(0), width),
        (Form::Integer, _) => number_bits(value.to_bits().unwrap_or(0), 64),
    };
    // A reader fills up with zeros on the left, so leading zeros say nothing.
    let significant = bits.trim_start_matches('0');
    writeln!(output, "b{} {code}", if significant.is_empty() { "0" } else { significant })
}

/// The form that a value needs.
fn form_of(value: &Value) -> Form {
    let width_of = |value: &Value| {
        let bytes = value.elementary_type().and_then(|kind| kind.size()).unwrap_or(8);
        usize::try_from(bytes).unwrap_or(8) * 8
    };
    match value {
        Value::Bool(_) => Form::Wire,
        Value::Signed(..) | Value::Unsigned(..) | Value::Bits(..) | Value::Char(_) | Value::Wchar(_) => {
            Form::Reg(width_of(value))
        }
        Value::Enumeration { .. } => Form::Reg(32),
        Value::String(bytes) => Form::Reg(bytes.len().max(1) * 8),
        Value::WideString(units) => Form::Reg(units.len().max(1) * 16),
        Value::Real(_) | Value::Lreal(_) => Form::Real,
        Value::Duration(..) | Value::Date(..) | Value::TimeOfDay(..) | Value::DateAndTime(..) => {
            Form::Integer
        }
    }
}

/// The low `width` bits of a number.
fn number_bits(number: u64, width: usize) -> String {
    let bits = format!("{number:064b}");
    // 64 digits, all ASCII; the width of a number is at most 64.
    bits.get(bits.len().saturating_sub(width)..).unwrap_or(&bits).to_owned()
}

/// Characters one after the other, each of `width` bits.
fn character_bits(characters: impl Iterator<Item = u64>, width: usize) -> String {
    characters.map(|character| number_bits(character, width)).collect()
}

/// The short code of a variable: printable ASCII, counted in base 94.
fn code(index: usize) -> String {
    const FIRST: u8 = b'!';
    const BASE: usize = 94;
    let mut code = String::new();
    let mut rest = index;
    loop {
        // The remainder is below 94, so the sum stays in printable ASCII.
        code.push(char::from(FIRST + u8::try_from(rest % BASE).unwrap_or(0)));
        rest /= BASE;
        if rest == 0 {
            return code;
        }
        rest -= 1;
    }
}

/// A module with what it declares.
#[derive(Default)]
struct Module {
    modules: BTreeMap<String, Module>,
    /// Variables by row, so that they keep the order of the recording.
    variables: Vec<(String, usize)>,
}

/// Writes scopes and variables. Variables of one module stand in the order of the recording, modules in the order
/// of their names.
fn declare(rows: &[Row], variables: &[Variable], output: &mut String) {
    let mut top = Module::default();
    for (index, row) in rows.iter().enumerate() {
        let mut path = split_name(&row.signal.name);
        if matches!(row.role, Role::Device { .. }) {
            path.insert(0, "station".to_owned());
        } else if path.len() == 1 {
            // Readers expect every variable in a scope.
            path.insert(0, "globals".to_owned());
        }
        let name = path.pop().unwrap_or_default();
        let mut module = &mut top;
        for part in path {
            module = module.modules.entry(part).or_default();
        }
        module.variables.push((name, index));
    }
    for (row, variable) in rows.iter().zip(variables) {
        if let Some(comment) = variable.comment() {
            let _ = writeln!(output, "$comment {} is {comment} $end", legal(&row.signal.name));
        }
    }
    write_module(&top, variables, output);
}

/// Writes a module; names that became alike are told apart by a number.
fn write_module(module: &Module, variables: &[Variable], output: &mut String) {
    let mut taken: BTreeSet<String> = BTreeSet::new();
    for (name, index) in &module.variables {
        let mut unique = name.clone();
        let mut number = 2;
        while !taken.insert(unique.clone()) {
            unique = format!("{name}_{number}");
            number += 1;
        }
        if let Some(variable) = variables.get(*index) {
            let (form, width) = variable.declaration();
            let _ = writeln!(output, "$var {form} {width} {} {unique} $end", code(*index));
        }
    }
    for (name, module) in &module.modules {
        let _ = writeln!(output, "$scope module {name} $end");
        write_module(module, variables, output);
        output.push_str("$upscope $end\n");
    }
}

/// The parts of a name: split at periods outside brackets; an address (`%IX0.0`) is one part.
fn split_name(name: &str) -> Vec<String> {
    if name.starts_with('%') {
        return vec![legal(name)];
    }
    let mut parts = vec![String::new()];
    let mut depth = 0usize;
    for character in name.chars() {
        match character {
            '[' => depth += 1,
            ']' => depth = depth.saturating_sub(1),
            '.' if depth == 0 => {
                parts.push(String::new());
                continue;
            }
            _ => {}
        }
        // `parts` starts with one element and only grows.
        if let Some(part) = parts.last_mut() {
            part.push(character);
        }
    }
    parts.iter().map(|part| legal(part)).collect()
}

/// A name that dump readers accept: letters, digits and underscores, and the brackets of array elements. An address
/// loses its percent sign; anything else becomes an underscore.
fn legal(name: &str) -> String {
    let allowed = |character: char| {
        if character.is_ascii_alphanumeric() || matches!(character, '_' | '[' | ']' | ',' | '-') {
            character
        } else {
            '_'
        }
    };
    let mut legal: String = name.trim_start_matches('%').chars().map(allowed).collect();
    if !legal.starts_with(|first: char| first.is_ascii_alphabetic() || first == '_') {
        legal.insert(0, '_');
    }
    legal
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_short_printable_and_all_different() {
        let codes: BTreeSet<String> = (0..20_000).map(code).collect();
        assert_eq!(codes.len(), 20_000);
        assert!(
            codes
                .iter()
                .all(|code| code.len() <= 3 && code.bytes().all(|byte| (b'!'..=b'~').contains(&byte)))
        );
        assert_eq!((code(0).as_str(), code(93).as_str(), code(94).as_str()), ("!", "~", "!!"));
    }

    #[test]
    fn names_become_modules_and_variables() {
        assert_eq!(split_name("Main.Fill.ET"), ["Main", "Fill", "ET"]);
        assert_eq!(split_name("Main.Grid[1,2].Level"), ["Main", "Grid[1,2]", "Level"]);
        assert_eq!(split_name("%IX0.0"), ["IX0_0"]);
        assert_eq!(split_name("Süd Ventil"), ["S_d_Ventil"]);
        assert_eq!(split_name("1st"), ["_1st"]);
        assert_eq!(split_name(""), ["_"]);
    }
}
