//! The class that works on the sample exercise: what it hands in, what each submission must earn, and submissions that
//! mean harm.

pub mod archive;
pub mod bytes;
pub mod exercise;
pub mod expected;
pub mod hostile;
pub mod written;
