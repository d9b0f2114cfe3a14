//! What the compiler works out is what the machine works out: the same calls on literals and on variables with the same
//! values give the same bits. Where the compiler refuses a call, the machine reports an event.
//!
//! The two know nothing of each other: the compiler has one kind of integer with 128 bits, the machine has one for each
//! type.

#![allow(clippy::unwrap_used, reason = "a failing test may panic")]
#![allow(clippy::disallowed_methods, reason = "powers of two of the platform are exact")]

use std::{collections::BTreeMap, fmt::Write as _, sync::Arc};

use latchwork_compiler::compile;
use latchwork_grammar::{Severity, Sources};
use latchwork_vm::{EventKind, Machine, Program, Value};
use proptest::prelude::*;

const SIGNED: [&str; 4] = ["SINT", "INT", "DINT", "LINT"];
const UNSIGNED: [&str; 4] = ["USINT", "UINT", "UDINT", "ULINT"];
const BITS: [&str; 5] = ["BOOL", "BYTE", "WORD", "DWORD", "LWORD"];
const REALS: [&str; 2] = ["REAL", "LREAL"];

fn width(ty: &str) -> u32 {
    match ty {
        "BOOL" => 1,
        "SINT" | "USINT" | "BYTE" => 8,
        "INT" | "UINT" | "WORD" => 16,
        "DINT" | "UDINT" | "DWORD" | "REAL" => 32,
        _ => 64,
    }
}

/// A constant of a type with these bits, cut to its width. Reals by their bits, so that every one can be written.
fn literal(ty: &str, bits: u64) -> String {
    let cut = bits & (u64::MAX >> (64 - width(ty)));
    match ty {
        "BOOL" => if cut == 1 { "TRUE" } else { "FALSE" }.to_owned(),
        "REAL" => format!("DWORD_TO_REAL(DWORD#16#{cut:X})"),
        "LREAL" => format!("LWORD_TO_LREAL(LWORD#16#{cut:X})"),
        "TIME" => format!("TIME#{}ns", cut as i64),
        _ if SIGNED.contains(&ty) => {
            let unused = 64 - width(ty);
            format!("{ty}#{}", ((cut << unused) as i64) >> unused)
        }
        _ if UNSIGNED.contains(&ty) => format!("{ty}#{cut}"),
        _ => format!("{ty}#16#{cut:X}"),
    }
}

/// A call: the function, the types of its operands, the type of its result, the bits of the operands.
#[derive(Clone, Debug)]
struct Call {
    function: String,
    types: Vec<&'static str>,
    result: String,
    bits: Vec<u64>,
}

/// All functions that are worked out, on all types they take.
fn functions() -> Vec<(String, Vec<&'static str>, String)> {
    let mut functions = Vec::new();
    let mut add = |function: &str, types: &[&'static str], result: &str| {
        functions.push((function.to_owned(), types.to_vec(), result.to_owned()));
    };
    let integers = || SIGNED.into_iter().chain(UNSIGNED);
    let numbers = || integers().chain(REALS);
    for ty in numbers() {
        for function in ["ADD", "SUB", "MUL", "DIV"] {
            add(function, &[ty, ty], ty);
        }
        add("ABS", &[ty], ty);
    }
    for ty in integers() {
        add("MOD", &[ty, ty], ty);
    }
    for ty in SIGNED.into_iter().chain(REALS).chain(["TIME"]) {
        add("-", &[ty], ty);
    }
    for ty in numbers().chain(BITS).chain(["TIME"]) {
        add("MAX", &[ty, ty], ty);
        add("MIN", &[ty, ty, ty], ty);
        add("LIMIT", &[ty, ty, ty], ty);
        add("SEL", &["BOOL", ty, ty], ty);
        add("MUX", &["SINT", ty, ty, ty], ty);
        for function in ["GT", "GE", "EQ", "LE", "LT", "NE"] {
            add(function, &[ty, ty], "BOOL");
        }
    }
    for ty in BITS {
        for function in ["AND", "OR", "XOR"] {
            add(function, &[ty, ty], ty);
        }
        add("NOT", &[ty], ty);
        for function in ["SHL", "SHR", "ROL", "ROR"] {
            add(function, &[ty, "SINT"], ty);
        }
    }
    add("ADD", &["TIME", "TIME"], "TIME");
    add("SUB", &["TIME", "TIME"], "TIME");
    for ty in numbers() {
        add("MUL_TIME", &["TIME", ty], "TIME");
        add("DIV_TIME", &["TIME", ty], "TIME");
    }
    for from in numbers().chain(BITS) {
        for to in numbers().chain(BITS) {
            let name = format!("{from}_TO_{to}");
            if from != to && latchwork_stdlib::function(&name).is_some() {
                add(&name, &[from], to);
            }
            let name = format!("{from}_TRUNC_{to}");
            if latchwork_stdlib::function(&name).is_some() {
                add(&name, &[from], to);
            }
        }
    }
    functions
}

/// Bits of every size: any, small of either sign, the limits of the types, reals with an integer part of any size,
/// zeros, infinities, NaN in both widths.
fn any_bits() -> impl Strategy<Value = u64> {
    prop_oneof![
        3 => any::<u64>(),
        3 => (-9..9_i64).prop_map(|value| value as u64),
        2 => (any::<i64>(), 0..64_u32).prop_map(|(value, shift)| (value >> shift) as u64),
        2 => (any::<i64>(), 0..70).prop_map(|(value, scale)| (value as f64 / 2.0_f64.powi(scale)).to_bits()),
        2 => (any::<i64>(), 0..70).prop_map(|(value, scale)| u64::from((value as f32 / 2.0_f32.powi(scale)).to_bits())),
        2 => prop::sample::select(vec![0, 1 << 63, 0x8000_0000, 0x7FF0 << 48, 0xFFF0 << 48, 0x7FF8 << 48, 0xFFF8 << 48,
            0x7F80_0000, 0xFF80_0000, 0x7FC0_0000, 0xFFC0_1234, 0x7FEF_FFFF_FFFF_FFFF, 0x7F7F_FFFF, 0x3FF8 << 48,
            0x3FC0_0000]),
    ]
}

fn any_call() -> impl Strategy<Value = Call> {
    (prop::sample::select(functions()), prop::collection::vec(any_bits(), 4)).prop_filter_map(
        "an integer divided by 0 stops the run",
        |((function, types, result), mut bits)| {
            bits.truncate(types.len());
            let zero = function == "DIV"
                && !REALS.contains(&types[0])
                && bits[1] & (u64::MAX >> (64 - width(types[1]))) == 0;
            // The least duration has no literal.
            let least = types.iter().zip(&bits).any(|(ty, bits)| *ty == "TIME" && *bits == 1 << 63);
            (!least && !zero).then_some(Call { function, types, result, bits })
        },
    )
}

/// The program that makes all calls, each on a line of its own; those refused are left out.
fn program(calls: &[Call], on_variables: bool, refused: &BTreeMap<usize, String>) -> (String, usize) {
    let mut text = String::from("PROGRAM Main\nVAR\n");
    for (index, call) in calls.iter().enumerate() {
        writeln!(text, "  r{index} : {};", call.result).unwrap();
        for (operand, (ty, bits)) in call.types.iter().zip(&call.bits).enumerate() {
            writeln!(text, "  v{index}_{operand} : {ty} := {};", literal(ty, *bits)).unwrap();
        }
    }
    text.push_str("END_VAR\n");
    let first = text.lines().count() + 1;
    for (index, call) in calls.iter().enumerate() {
        let operand = |(operand, (ty, bits)): (usize, (&&str, &u64))| {
            if on_variables { format!("v{index}_{operand}") } else { literal(ty, *bits) }
        };
        let operands: Vec<String> = call.types.iter().zip(&call.bits).enumerate().map(operand).collect();
        if refused.contains_key(&index) {
            text.push_str("  ;\n");
        } else if call.function == "-" {
            writeln!(text, "  r{index} := -({});", operands[0]).unwrap();
        } else {
            writeln!(text, "  r{index} := {}({});", call.function, operands.join(", ")).unwrap();
        }
    }
    text.push_str("END_PROGRAM\n");
    (text, first)
}

/// The errors by the index of the call, and the image if there are none.
fn compiled(text: &str, first: usize) -> Result<latchwork_vm::Image, BTreeMap<usize, String>> {
    let mut sources = Sources::new();
    sources.add("calls.st", text);
    let compilation = compile(&sources);
    compilation.image.ok_or_else(|| {
        let errors =
            compilation.diagnostics.iter().filter(|diagnostic| diagnostic.severity == Severity::Error);
        errors
            .map(|error| {
                let line = text[..error.primary.span.start as usize].matches('\n').count() + 1;
                let index = line.checked_sub(first).unwrap_or_else(|| panic!("{}: {text}", error.message));
                (index, error.message.clone())
            })
            .collect()
    })
}

/// Results and events by the index of the call.
fn run(image: latchwork_vm::Image, first: usize, count: usize) -> (Vec<Value>, BTreeMap<usize, EventKind>) {
    let program = Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap());
    let mut machine = Machine::new(Arc::clone(&program));
    machine.scan(0).unwrap();
    let results =
        (0..count).map(|index| machine.read(&program.resolve(&format!("Main.r{index}")).unwrap())).collect();
    let events = machine
        .events()
        .iter()
        .map(|entry| (entry.place.as_ref().unwrap().place.line as usize - first, entry.kind))
        .collect();
    (results, events)
}

fn same(left: &Value, right: &Value) -> bool {
    match (left, right) {
        (Value::Real(a), Value::Real(b)) => a.to_bits() == b.to_bits(),
        (Value::Lreal(a), Value::Lreal(b)) => a.to_bits() == b.to_bits(),
        _ => left == right,
    }
}

fn check(calls: &[Call]) {
    let (text, first) = program(calls, true, &BTreeMap::new());
    let image = compiled(&text, first).unwrap_or_else(|errors| panic!("{errors:?}\n{text}"));
    let (wanted, events) = run(image, first, calls.len());
    let (text, first) = program(calls, false, &BTreeMap::new());
    let (image, refused) = match compiled(&text, first) {
        Ok(image) => (image, BTreeMap::new()),
        Err(refused) => {
            let (text, again) = program(calls, false, &refused);
            assert_eq!(again, first);
            (compiled(&text, first).unwrap_or_else(|errors| panic!("{errors:?}\n{text}")), refused)
        }
    };
    let (given, left) = run(image, first, calls.len());
    for (index, call) in calls.iter().enumerate() {
        let event = events.get(&index);
        if let Some(message) = refused.get(&index) {
            assert!(event.is_some(), "refused, but the run has nothing to tell: {message}: {call:X?}");
        } else {
            assert!(same(&given[index], &wanted[index]), "{} and {}: {call:X?}", given[index], wanted[index]);
            assert_eq!(left.get(&index), event, "{call:X?}");
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, max_shrink_iters: 300, ..ProptestConfig::default() })]

    #[test]
    fn constants_are_worked_out_as_the_machine_does(calls in prop::collection::vec(any_call(), 300)) {
        check(&calls);
    }
}

fn of_reals(function: &str, bits: &[u64]) -> Call {
    Call {
        function: function.to_owned(),
        types: vec!["LREAL"; bits.len()],
        result: "LREAL".to_owned(),
        bits: bits.to_vec(),
    }
}

/// MAX and MIN of zeros and of NaN have one result, whoever works it out.
#[test]
fn extremes_of_zeros_and_nan() {
    let values = [0, 1 << 63, 0x7FF8 << 48, 0xFFF8 << 48, 0x3FF0 << 48, 0x7FF0 << 48];
    let mut calls = Vec::new();
    for a in values {
        for b in values {
            calls.extend(
                ["MAX", "MIN", "ADD", "SUB", "MUL", "DIV"].map(|function| of_reals(function, &[a, b])),
            );
        }
        calls.extend(["ABS", "-"].map(|function| of_reals(function, &[a])));
    }
    check(&calls);
}
