//! Whether an image that measures coverage, keeps a journal, or does both does the same as an ordinary one: apart from
//! its observing instructions it must be the same image.

use latchwork_compiler::{Compilation, CompileOptions, compile_with};
use latchwork_grammar::Sources;
use latchwork_vm::{Image, Instruction, OperandKind, decode_instruction};

/// The compilation with coverage, if it is the same as without; so must be those with a journal and with both.
///
/// # Errors
/// What differs.
pub fn unchanged(sources: &Sources, options: &CompileOptions) -> Result<Compilation, String> {
    let with = |coverage, journal| compile_with(sources, &CompileOptions { coverage, journal, ..*options });
    let ordinary = with(false, false);
    for (coverage, journal) in [(false, true), (true, true)] {
        let observed = with(coverage, journal);
        same(&ordinary, &observed).map_err(|difference| format!("with a journal: {difference}"))?;
        if observed.logic.is_some() != observed.image.is_some() {
            return Err("the logic must be there where it was asked for".to_owned());
        }
    }
    let observed = with(true, false);
    same(&ordinary, &observed)?;
    if ordinary.coverage.is_some() || observed.coverage.is_some() != observed.image.is_some() {
        return Err("a map of the coverage must be there just where it was asked for".to_owned());
    }
    Ok(observed)
}

fn same(ordinary: &Compilation, observed: &Compilation) -> Result<(), String> {
    let told = |compilation: &Compilation| format!("{:#?}", compilation.diagnostics);
    if told(ordinary) != told(observed) {
        return Err(format!("other diagnostics: {} instead of {}", told(observed), told(ordinary)));
    }
    match (&ordinary.image, &observed.image) {
        (Some(one), Some(other)) => compare(one, other),
        (None, None) => Ok(()),
        _ => Err("one of them has no image".to_owned()),
    }
}

fn compare(ordinary: &Image, observed: &Image) -> Result<(), String> {
    let units = |image: &Image| {
        let named = |unit: &latchwork_vm::Unit| (unit.name.clone(), unit.kind, unit.instance_bytes);
        image.units.iter().map(named).collect::<Vec<_>>()
    };
    if units(ordinary) != units(observed) {
        return Err("other units".to_owned());
    }
    let code = bodies(ordinary, false)?.into_iter().zip(bodies(observed, true)?);
    for ((one, other), unit) in code.zip(&ordinary.units) {
        if one != other {
            return Err(format!("{}: other instructions: {other:#?} instead of {one:#?}", unit.name));
        }
    }
    // All the rest, but for the source lines, which name instructions by their numbers.
    let rest = |image: &Image| {
        let mut rest = image.clone();
        rest.units.clear();
        rest.code.clear();
        rest.debug.lines.clear();
        rest
    };
    if rest(ordinary) == rest(observed) { Ok(()) } else { Err("other tables or data".to_owned()) }
}

/// The instructions of each unit, without the observing ones.
fn bodies(image: &Image, may_observe: bool) -> Result<Vec<Vec<Instruction>>, String> {
    let mut rest = image.code.as_slice();
    let mut all = Vec::new();
    for unit in &image.units {
        let mut body = Vec::new();
        // For each instruction how many stay before it, which is what a jump to it becomes.
        let mut kept_before = Vec::new();
        let mut kept = 0u32;
        for _ in 0..unit.instruction_count {
            let (instruction, used) = decode_instruction(rest).map_err(|error| error.to_string())?;
            rest = rest.get(used..).unwrap_or_default();
            kept_before.push(kept);
            if instruction.opcode.family().observes() {
                if !may_observe || instruction.cost() != 0 {
                    return Err(format!("{}: {instruction:?}", unit.name));
                }
                continue;
            }
            kept += 1;
            body.push(instruction);
        }
        for instruction in &mut body {
            for (kind, word) in instruction.opcode.operands().iter().zip(&mut instruction.operands) {
                if *kind == OperandKind::Label {
                    *word = kept_before.get(*word as usize).copied().ok_or("a jump out of the unit")?;
                }
            }
        }
        all.push(body);
    }
    Ok(all)
}
