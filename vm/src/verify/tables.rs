//! Verification of everything outside the code: limits, natives, ranges, areas, located bits, tasks, debug tables.

use super::LoadError;
use crate::image::{AreaKind, DataLayout, Image, NO_STATUS, Region, TaskStatus, TypeDescription, TypeIndex};
use crate::limits;
use crate::native::NativeFunction;
use crate::place::SYSTEM_BYTES;
use std::collections::BTreeMap;

fn table(what: impl Into<String>, problem: impl Into<String>) -> LoadError {
    LoadError::Table { what: what.into(), problem: problem.into() }
}

pub(super) fn check_limits(image: &Image) -> Result<(), LoadError> {
    let targets: usize = image.dispatch.iter().map(|table| table.targets.len()).sum();
    let programs: usize = image.tasks.iter().map(|task| task.programs.len()).sum();
    let counts = [
        ("bytes of data", image.data.len(), limits::DATA_BYTES),
        ("bytes of code", image.code.len(), limits::CODE_BYTES),
        ("units", image.units.len(), limits::UNITS),
        ("index ranges", image.ranges.len(), limits::RANGES),
        ("native functions", image.natives.len(), limits::NATIVES),
        ("dispatch tables", image.dispatch.len(), limits::DISPATCH_TABLES),
        ("rows in dispatch tables", targets, limits::DISPATCH_TARGETS),
        ("resources", image.resources.len(), limits::RESOURCES),
        ("tasks", image.tasks.len(), limits::TASKS),
        ("program instances in tasks", programs, limits::PROGRAM_CALLS),
        ("located bits", image.bits.len(), limits::LOCATED_BITS),
        ("retained regions", image.layout.retained.len(), limits::RETAINED_REGIONS),
        ("types", image.debug.types.len(), limits::TYPES),
        ("root variables", image.debug.roots.len(), limits::ROOTS),
        ("source files", image.debug.files.len(), limits::FILES),
        ("source lines", image.debug.lines.len(), limits::INSTRUCTIONS),
    ];
    for (what, found, limit) in counts {
        if found > limit {
            return Err(LoadError::Limit { what, found: found as u64, limit: limit as u64 });
        }
    }
    if image.data.len() < SYSTEM_BYTES as usize {
        return Err(table(
            "data",
            format!("has {} bytes, the machine itself needs {SYSTEM_BYTES}", image.data.len()),
        ));
    }
    Ok(())
}

pub(super) fn bind_natives(
    image: &Image,
    natives: &[NativeFunction],
) -> Result<Vec<NativeFunction>, LoadError> {
    let by_name: BTreeMap<&str, &NativeFunction> =
        natives.iter().map(|function| (function.name, function)).collect();
    image
        .natives
        .iter()
        .map(|import| {
            let function = by_name
                .get(import.name.as_str())
                .ok_or_else(|| LoadError::MissingNative { name: import.name.clone() })?;
            if function.frame_bytes != import.frame_bytes {
                return Err(LoadError::NativeFrame {
                    name: import.name.clone(),
                    image: import.frame_bytes,
                    table: function.frame_bytes,
                });
            }
            if import.frame_bytes > limits::FRAME_BYTES {
                return Err(LoadError::Limit {
                    what: "bytes in the frame of a native function",
                    found: u64::from(import.frame_bytes),
                    limit: u64::from(limits::FRAME_BYTES),
                });
            }
            Ok(**function)
        })
        .collect()
}

pub(super) fn check_ranges(image: &Image) -> Result<(), LoadError> {
    for (index, range) in image.ranges.iter().enumerate() {
        let what = || format!("index range {index}");
        if range.count == 0 {
            return Err(table(what(), "is empty"));
        }
        if !(-limits::INDEX_LOWER..=limits::INDEX_LOWER).contains(&range.lower) {
            return Err(table(what(), format!("the lower bound {} is too far from 0", range.lower)));
        }
        let bytes = u64::from(range.count - 1) * u64::from(range.stride);
        if bytes > image.data.len() as u64 {
            return Err(table(what(), format!("spans {bytes} bytes, more than the data image")));
        }
    }
    Ok(())
}

fn check_region(image: &Image, what: &str, region: Region) -> Result<(), LoadError> {
    let end = u64::from(region.start) + u64::from(region.size);
    if region.size > 0 && region.start < SYSTEM_BYTES {
        return Err(table(
            what,
            format!("begins below address {SYSTEM_BYTES}, which belongs to the machine itself"),
        ));
    }
    if end > image.data.len() as u64 {
        return Err(table(
            what,
            format!("ends at {end}, outside the data image of {} bytes", image.data.len()),
        ));
    }
    Ok(())
}

pub(super) fn check_layout(image: &Image) -> Result<(), LoadError> {
    let layout = &image.layout;
    let areas = [
        ("the %I area", layout.inputs),
        ("the %Q area", layout.outputs),
        ("the %M area", layout.memory),
        ("the constants", layout.constants),
        ("the frames", layout.frames),
        ("the temporaries", layout.temporaries),
    ];
    for (what, region) in areas {
        check_region(image, what, region)?;
    }
    check_temporaries(layout)?;
    for region in &layout.retained {
        check_region(image, "a retained region", *region)?;
    }
    Ok(())
}

/// Temporaries are a part of the frames, so that an interrupted release takes them along.
fn check_temporaries(layout: &DataLayout) -> Result<(), LoadError> {
    let end = |region: Region| u64::from(region.start) + u64::from(region.size);
    let (inner, outer) = (layout.temporaries, layout.frames);
    if inner.size > 0 && (inner.start < outer.start || end(inner) > end(outer)) {
        return Err(table("the temporaries", "lie outside the frames"));
    }
    Ok(())
}

pub(super) fn check_bits(image: &Image) -> Result<(), LoadError> {
    let size = image.data.len() as u64;
    for (index, bit) in image.bits.iter().enumerate() {
        let what = || format!("located bit {index}");
        let area = match bit.area {
            AreaKind::Input => image.layout.inputs,
            AreaKind::Output => image.layout.outputs,
            AreaKind::Memory => image.layout.memory,
        };
        let inside = bit.byte.checked_sub(area.start).is_some_and(|offset| offset < area.size);
        if !inside {
            return Err(table(what(), "its byte is outside its area"));
        }
        if bit.bit > 7 {
            return Err(table(what(), format!("a byte has no bit {}", bit.bit)));
        }
        if bit.place < SYSTEM_BYTES || u64::from(bit.place) >= size {
            return Err(table(what(), "its place is outside the variables"));
        }
    }
    Ok(())
}

/// Checks the rows of dispatch tables as far as they do not depend on how a table is used.
pub(super) fn check_dispatch(image: &Image) -> Result<(), LoadError> {
    for dispatch in &image.dispatch {
        check_name(&dispatch.name)?;
        let mut before = 0;
        for target in &dispatch.targets {
            if target.tag <= before {
                let problem = format!("the tag {} does not ascend from {before}", target.tag);
                return Err(table(format!("dispatch table {}", dispatch.name), problem));
            }
            before = target.tag;
        }
    }
    Ok(())
}

pub(super) fn check_tasks(image: &Image) -> Result<(), LoadError> {
    for resource in &image.resources {
        check_name(resource)?;
    }
    if image.base_interval_ns < 0 {
        let problem = format!("{} ns is negative", image.base_interval_ns);
        return Err(table("the interval between two scans", problem));
    }
    for task in &image.tasks {
        check_name(&task.name)?;
        let what = || format!("task {}", task.name);
        if task.interval_ns < 0 {
            return Err(table(what(), format!("the interval {} ns is negative", task.interval_ns)));
        }
        if task.resource as usize >= image.resources.len().max(1) {
            return Err(table(what(), format!("there is no resource {}", task.resource)));
        }
        if task.cyclic && (task.interval_ns != 0 || task.single.is_some()) {
            return Err(table(what(), "it is cyclic and has an interval or SINGLE as well"));
        }
        if let Some(single) = task.single {
            let bool_region = Region { start: single, size: 1 };
            check_region(image, &format!("{}, SINGLE", what()), bool_region)?;
            if task.status == NO_STATUS {
                return Err(table(what(), "it has SINGLE but no status that remembers its value"));
            }
        }
        if task.status != NO_STATUS {
            let status = Region { start: task.status, size: TaskStatus::BYTES };
            check_region(image, &format!("{}, status", what()), status)?;
        }
        for call in &task.programs {
            let Some(unit) = image.units.get(call.unit as usize) else {
                return Err(table(what(), format!("there is no unit {}", call.unit)));
            };
            let region = Region { start: call.base, size: unit.instance_bytes };
            check_region(image, &format!("{}, instance of {}", what(), unit.name), region)?;
        }
    }
    Ok(())
}

pub(super) fn check_debug(image: &Image, instructions: usize) -> Result<(), LoadError> {
    let debug = &image.debug;
    let sizes = type_sizes(image)?;
    for root in &debug.roots {
        let what = || format!("variable {}", root.name);
        check_name(&root.name)?;
        let Some(size) = sizes.get(root.kind.0 as usize) else {
            return Err(table(what(), "its type does not exist"));
        };
        let size = u32::try_from(*size).map_err(|_| table(what(), "its type is too large"))?;
        check_region(image, &what(), Region { start: root.address, size })?;
    }
    let mut before = None;
    for (index, line) in debug.lines.iter().enumerate() {
        let what = || format!("source line entry {index}");
        if line.file as usize >= debug.files.len() {
            return Err(table(what(), format!("there is no file {}", line.file)));
        }
        if line.instruction as usize >= instructions
            || before.is_some_and(|before| before >= line.instruction)
        {
            return Err(table(what(), "the entries do not ascend within the code"));
        }
        before = Some(line.instruction);
    }
    for unit in &image.units {
        check_name(&unit.name)?;
    }
    Ok(())
}

fn check_name(name: &str) -> Result<(), LoadError> {
    if name.len() > limits::NAME_BYTES {
        return Err(LoadError::Limit {
            what: "bytes in a name",
            found: name.len() as u64,
            limit: limits::NAME_BYTES as u64,
        });
    }
    Ok(())
}

/// Size in bytes of every type. Types refer to earlier types only, so one pass does it.
fn type_sizes(image: &Image) -> Result<Vec<u64>, LoadError> {
    let mut sizes: Vec<u64> = Vec::with_capacity(image.debug.types.len());
    let mut depths: Vec<usize> = Vec::with_capacity(image.debug.types.len());
    for (index, description) in image.debug.types.iter().enumerate() {
        let wrong = |problem: &str| table(format!("type {index}"), problem);
        let size = match description {
            TypeDescription::Elementary(kind) => {
                kind.size().map(u64::from).ok_or_else(|| wrong("a string type needs a capacity"))?
            }
            TypeDescription::String { wide, capacity } => {
                4 + u64::from(*capacity) * if *wide { 2 } else { 1 }
            }
            TypeDescription::Enumeration { .. } | TypeDescription::Reference => 4,
            TypeDescription::Bit(bit) if *bit > 7 => return Err(wrong("a byte has no such bit")),
            TypeDescription::Bit(_) => 1,
            TypeDescription::Array { bounds, element, stride } => {
                let element = *sizes
                    .get(element.0 as usize)
                    .ok_or_else(|| wrong("the element type is not an earlier type"))?;
                if bounds.is_empty() || bounds.len() > limits::ARRAY_DIMENSIONS {
                    return Err(wrong("the number of dimensions is wrong"));
                }
                let mut count = 1u64;
                for (lower, upper) in bounds {
                    let size = upper
                        .checked_sub(*lower)
                        .and_then(|size| size.checked_add(1))
                        .and_then(|size| u64::try_from(size).ok())
                        .filter(|size| *size > 0)
                        .ok_or_else(|| wrong("a dimension is empty or too large"))?;
                    count = count
                        .checked_mul(size)
                        .filter(|count| *count <= limits::DATA_BYTES as u64)
                        .ok_or_else(|| wrong("the array is too large"))?;
                }
                (count - 1) * u64::from(*stride) + element
            }
            TypeDescription::Structure { members, .. } => {
                let mut size = 0u64;
                for member in members {
                    check_name(&member.name)?;
                    let kind = sizes
                        .get(member.kind.0 as usize)
                        .ok_or_else(|| wrong("the type of a member is not an earlier type"))?;
                    size = size.max(u64::from(member.offset) + kind);
                }
                size
            }
        };
        if size > limits::DATA_BYTES as u64 {
            return Err(wrong("the type is larger than any data image"));
        }
        let parts: &mut dyn Iterator<Item = TypeIndex> = match description {
            TypeDescription::Array { element, .. } => &mut std::iter::once(*element),
            TypeDescription::Structure { members, .. } => &mut members.iter().map(|member| member.kind),
            _ => &mut std::iter::empty(),
        };
        let depth = parts.filter_map(|part| depths.get(part.0 as usize)).max().map_or(0, |depth| depth + 1);
        if depth > limits::TYPE_DEPTH {
            return Err(wrong("types are nested too deeply"));
        }
        depths.push(depth);
        sizes.push(size);
    }
    Ok(sizes)
}
