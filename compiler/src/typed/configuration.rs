//! The checked configuration: resources, tasks, what each task runs, and what is reached by a path.
//!
//! Program instances are hidden globals of the program's type. What a task runs is a program itself where nothing
//! has to be done around it, else a stub: a unit made by the checker that passes inputs, runs the program and hands
//! on its outputs. Implements IEC 61131-3:2013, 6.8, tables 62 and 63.

use std::collections::BTreeMap;

use latchwork_grammar::{Name, Span, tree::DirectAddress};

use super::{Access, GlobalId, InitialValue, VariableId};
use crate::types::{TypeId, UnitId};

/// A `CONFIGURATION`.
#[derive(Clone, Debug, Default)]
pub struct TypedConfiguration {
    /// Its name in the text.
    pub span: Span,
    /// Its resources in textual order.
    pub resources: Vec<TypedResource>,
    /// What the stubs among the units do, by unit. All of them lie behind the units of the text.
    pub stubs: BTreeMap<UnitId, Stub>,
    /// Globals that hold the address of what a name means to the program that is running, in the order of their
    /// cells. They lie in the frame of the first stub, because they belong to a task that is interrupted.
    pub links: Vec<GlobalId>,
    /// `VAR_EXTERNAL` variables that mean another global in another program, with the link that leads there.
    pub linked: BTreeMap<(UnitId, VariableId), GlobalId>,
    /// `VAR_ACCESS`.
    pub access: Vec<AccessVariable>,
    /// Places given by `VAR_CONFIG` to variables declared with `AT %I*`.
    pub places: Vec<InstancePlace>,
    /// Initial values given by `VAR_CONFIG`.
    pub values: Vec<InstanceValue>,
}

/// A resource.
#[derive(Clone, Debug)]
pub struct TypedResource {
    /// Its name; that of the configuration for a single resource without one; `None` without a configuration.
    pub name: Option<Name>,
    /// Its tasks in textual order; the programs without a task are the last one.
    pub tasks: Vec<TypedTask>,
    /// Its program instances in textual order: name and global.
    pub programs: Vec<(Name, GlobalId)>,
    /// Its globals.
    pub globals: Vec<GlobalId>,
}

/// A task.
#[derive(Clone, Debug)]
pub struct TypedTask {
    /// Its name; `None` for what runs the programs without a task.
    pub name: Option<Name>,
    /// `INTERVAL` in nanoseconds, 0 for none.
    pub interval_ns: i64,
    /// `SINGLE`.
    pub single: Option<Single>,
    /// `PRIORITY`, 0 the highest.
    pub priority: u32,
    /// What it runs, in this order.
    pub runs: Vec<TaskRun>,
}

/// What a task's SINGLE is.
#[derive(Clone, Debug)]
pub enum Single {
    /// A constant.
    Always(bool),
    /// A BOOL variable.
    Variable(Access),
}

/// What a task runs: a program, or a stub, with the program instance it belongs to.
#[derive(Clone, Copy, Debug)]
pub struct TaskRun {
    /// The unit.
    pub unit: UnitId,
    /// The program instance.
    pub instance: GlobalId,
}

/// What a stub does besides its body.
#[derive(Clone, Debug)]
pub struct Stub {
    /// The program it belongs to.
    pub program: UnitId,
    /// A function block instance that runs under a task of its own.
    pub block: Option<TaskedBlock>,
}

/// A function block instance under a task of its own. Its body works on a copy, and what it did becomes visible to
/// other tasks at once (6.8.2, rules of data consistency).
#[derive(Clone, Debug)]
pub struct TaskedBlock {
    /// The instance.
    pub instance: Access,
    /// Where its body works; `None` for a standard function block, which is never interrupted.
    pub copy: Option<GlobalId>,
}

/// A variable of `VAR_ACCESS`.
#[derive(Clone, Debug)]
pub struct AccessVariable {
    /// The resource and program it was declared in, if it was declared in one.
    pub owner: Option<(Option<Name>, Name)>,
    /// Its name.
    pub name: Name,
    /// What it gives access to.
    pub target: PathTarget,
    /// `READ_WRITE`.
    pub writable: bool,
}

/// A place that `VAR_CONFIG` gives to a variable declared with `AT %I*`.
#[derive(Clone, Debug)]
pub struct InstancePlace {
    /// The variable: where the cell with its address lies.
    pub variable: Access,
    /// The path to the variable as it is written in full.
    pub path: String,
    /// The place.
    pub address: DirectAddress,
    /// Its declaration in `VAR_CONFIG`.
    pub span: Span,
}

/// An initial value that `VAR_CONFIG` gives to a variable of an instance.
#[derive(Clone, Debug)]
pub struct InstanceValue {
    /// The variable.
    pub target: PathTarget,
    /// Its value.
    pub value: InitialValue,
}

/// A place of the data image that a path leads to.
#[derive(Clone, Debug)]
pub struct PathTarget {
    /// Where the path starts, and its steps; all subscripts are constants.
    pub access: Access,
    /// The type where it starts.
    pub start: TypeId,
}
