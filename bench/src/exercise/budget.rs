//! What one submission may take, so that none can hold up or harm the others.
//!
//! All limits count what is the same on every computer — bytes, instructions, scans — and never time, so that a mark does
//! not depend on where it is given.

/// What one submission may take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Budget {
    /// Bytes of all its files together.
    pub text_bytes: u64,
    /// Files.
    pub files: u64,
    /// Bytes of the data image of its program: variables, instances, temporaries.
    pub memory_bytes: u64,
    /// Instructions of one scan.
    pub scan_instructions: u64,
    /// Instructions of one procedure.
    pub procedure_instructions: u64,
    /// Scans of one procedure.
    pub scans: u64,
}

impl Default for Budget {
    fn default() -> Self {
        Budget {
            text_bytes: 256 * 1024,
            files: 20,
            memory_bytes: 1024 * 1024,
            scan_instructions: 100_000,
            procedure_instructions: 1_000_000_000,
            scans: 1_000_000,
        }
    }
}
