//! Classes, methods and inheritance in the typed tree (IEC 61131-3:2013, 6.6.5 to 6.6.8).

use super::Access;
use crate::types::UnitId;

/// What a unit has to do with classes, methods and inheritance.
#[derive(Clone, Debug, Default)]
pub struct ObjectPart {
    /// Its instances begin with a hidden tag, which tells their type at run time.
    pub tagged: bool,
    /// What it extends.
    pub base: Option<UnitId>,
    /// How many of its variables come from its base.
    pub inherited: u32,
    /// For a method: the class or function block it belongs to; `None` for a prototype.
    pub owner: Option<UnitId>,
    /// For the entry of a dispatched call: takes the arguments from there, calls the method, and gives the
    /// result back.
    pub forward: Option<Forward>,
}

/// The entry of a dispatched call. Frames are static, and the caller does not know which method will run, so it
/// writes the arguments into the frame of a prototype that no method runs in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Forward {
    /// The unit in whose frame the caller writes the arguments.
    pub prototype: UnitId,
    /// The method.
    pub method: UnitId,
}

/// The instance of a method call.
#[derive(Clone, Debug)]
pub struct Receiver {
    /// The instance, of type [`crate::types::Type::Unit`], or an interface variable.
    pub instance: Access,
    /// Index in [`super::TypedProgram::dispatch`] where the method depends on the instance.
    pub dispatch: Option<u32>,
}

/// A call whose target depends on the instance.
#[derive(Clone, Debug)]
pub struct Dispatch {
    /// The unit in whose frame the arguments of a method go; `None` for bodies of function blocks.
    pub prototype: Option<UnitId>,
    /// For each concrete type of instance what runs.
    pub targets: Vec<(UnitId, UnitId)>,
}
