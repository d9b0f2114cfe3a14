//! Marking a class: from a folder of submissions to gradebook and feedback.

// Its parts land before the command that uses them.
#![allow(dead_code, unused_imports)]

pub(crate) mod intake;
