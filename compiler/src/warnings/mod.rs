//! Warnings for programs that are correct but probably not what their author wants.

use crate::check::Checker;

/// Reports all warnings that need the whole program.
pub(crate) fn warn(_checker: &mut Checker<'_>) {}
