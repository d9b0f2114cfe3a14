//! Tables for calls whose unit is known at run time only: methods of classes and interfaces (IEC 61131-3:2013 6.6.5
//! and 6.6.6).
//!
//! Every instance that such a call may meet begins with a hidden tag, a number that names its type; the compiler sets
//! it in the initial content of the data image and nothing changes it. A table says which unit runs for which tag, and
//! which tags a reference may be converted to. This module knows nothing of classes: a tag is a number.

use serde::{Deserialize, Serialize};

/// For one method of a class or interface: which unit runs for an instance with which tag.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct DispatchTable {
    /// Name for listings and messages: `Valve.Open`.
    pub name: String,
    /// The targets; tags ascend strictly and are not 0.
    pub targets: Vec<DispatchTarget>,
}

/// One row of a [`DispatchTable`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct DispatchTarget {
    /// The number at offset 0 of the instance, a u32; never 0.
    pub tag: u32,
    /// Index of the unit that runs with that instance. In a table that only [`crate::Family::Fits`] uses, any number.
    pub unit: u32,
}
