//! Two programs side by side on the same inputs: the variables that both declare have the same values after every scan.

use std::{collections::HashMap, sync::Arc};

use latchwork_vm::{ElementaryType, Fault, FaultKind, Machine, Program, Resolved, ResolvedKind, Restart};

use crate::generate::programs::Random;

/// Instructions that a scan may take; the forms of a loop differ in their number, so none is to end one.
const BUDGET: u64 = 20_000_000;

/// A variable of both programs.
struct Shared {
    left: Resolved,
    right: Resolved,
}

/// What was compared.
#[derive(Clone, Copy, Debug, Default)]
pub struct Compared {
    /// Scans of each program.
    pub scans: usize,
    /// Scans that a fault ended, of the same kind in both.
    pub faults: usize,
    /// Variables that were compared after each scan.
    pub variables: usize,
}

/// Runs two programs for so many scans with inputs that follow from a seed: the terminals of the controller, and the
/// variables of the given names (without those of their programs).
///
/// # Errors
/// The first difference, as text.
pub fn compare(
    left: &Arc<Program>,
    right: &Arc<Program>,
    inputs: &[String],
    scans: usize,
    seed: u64,
) -> Result<Compared, String> {
    let others: HashMap<String, Resolved> =
        right.variables().map(|variable| (variable.name.to_ascii_lowercase(), variable)).collect();
    let shared: Vec<Shared> = left
        .variables()
        .filter(|variable| variable.kind != ResolvedKind::Reference && !counts_instructions(&variable.name))
        .map(|variable| {
            let other = others.get(&variable.name.to_ascii_lowercase()).cloned();
            other.map(|right| Shared { left: variable.clone(), right }).ok_or(variable.name)
        })
        .collect::<Result<_, _>>()
        .map_err(|name| format!("`{name}` is gone"))?;
    let driven: Vec<&Shared> = shared
        .iter()
        .filter(|variable| {
            let name = variable.left.name.rsplit('.').next().unwrap_or_default();
            !variable.left.constant && inputs.iter().any(|input| input.eq_ignore_ascii_case(name))
        })
        .collect();
    let mut random = Random::new(seed);
    let mut machines = [left, right].map(|program| Machine::new(Arc::clone(program)));
    machines.iter_mut().for_each(|machine| machine.set_budget(BUDGET));
    let mut compared = Compared { scans, faults: 0, variables: shared.len() };
    let mut now_ns = 0;
    for scan in 0..scans {
        drive(&mut machines, &driven, &mut random, scan == 0);
        let [first, second] = &mut machines;
        match (first.scan(now_ns), second.scan(now_ns)) {
            (Ok(_), Ok(_)) => {}
            (Err(one), Err(other)) if one.kind == other.kind => {
                compared.faults += 1;
                // Where the watchdog ends a scan depends on the number of instructions.
                if one.kind != FaultKind::Watchdog {
                    same(&machines, &shared, scan)?;
                }
                machines.iter_mut().for_each(|machine| machine.restart(Restart::Cold));
                now_ns = 0;
            }
            (one, other) => {
                let told = |result: Result<_, Box<Fault>>| result.err().map(|fault| fault.to_string());
                return Err(format!(
                    "scan {scan}: fault {:?}, then {:?}",
                    told(one.map(|_| ())),
                    told(other.map(|_| ()))
                ));
            }
        }
        same(&machines, &shared, scan)?;
        now_ns += 10_000_000;
    }
    Ok(compared)
}

/// The figures of a task tell of the instructions of the machine, which are others.
fn counts_instructions(name: &str) -> bool {
    name.ends_with(".instructions")
}

/// New values at terminals and variables, the same in both.
fn drive(machines: &mut [Machine; 2], driven: &[&Shared], random: &mut Random, first: bool) {
    let [left, right] = &mut *machines;
    let region = left.program().image().layout.inputs;
    for place in region.start..region.start + region.size {
        if first || random.chance(12) {
            let bits = if random.chance(70) { 1u8 << random.below(8) } else { random.bits() as u8 };
            for machine in [&mut *left, &mut *right] {
                if let Some(byte) = machine.data_mut().get_mut(place as usize) {
                    *byte ^= bits;
                }
            }
        }
    }
    for variable in driven {
        if !first && !random.chance(25) {
            continue;
        }
        let bytes = variable.left.kind.bytes();
        let small = random.below(40) as u64;
        let value = match (bytes, random.chance(85)) {
            (1, _) if variable.left.kind == ResolvedKind::Elementary(ElementaryType::Bool) => small & 1,
            // Numbers with a point near 1.
            (4, true) => u64::from(((small as f32) / 4.0).to_bits()),
            (_, true) => small,
            _ => random.bits(),
        };
        for (machine, address) in [(&mut *left, variable.left.address), (&mut *right, variable.right.address)]
        {
            let place = address as usize..address as usize + bytes;
            if let Some(there) = machine.data_mut().get_mut(place) {
                there.copy_from_slice(value.to_le_bytes().get(..bytes).unwrap_or(&[]));
            }
        }
    }
}

fn same(machines: &[Machine; 2], shared: &[Shared], scan: usize) -> Result<(), String> {
    let [left, right] = machines;
    for variable in shared {
        let bytes = variable.left.kind.bytes();
        let of = |machine: &Machine, address: u32| {
            machine.data().get(address as usize..address as usize + bytes).map(<[u8]>::to_vec)
        };
        if of(left, variable.left.address) == of(right, variable.right.address) {
            continue;
        }
        // Texts end before their places do, and not every NaN is the same.
        let (one, other) = (left.read(&variable.left).to_string(), right.read(&variable.right).to_string());
        if one != other {
            return Err(format!("scan {scan}: {} is {one}, then {other}", variable.left.name));
        }
    }
    Ok(())
}
