//! A number for everything that the result of a submission depends on, so that only what changed is marked again.

use std::fmt::Write;

use sha2::{Digest, Sha256};

use super::{LeftOut, Outcome, Problem};

/// The digest: SHA-256 in hexadecimal of the names and bytes of the files that were read, in their order, and of what
/// is told beside them. The student's name is not in it. Every part has its length in front of it, so no two submissions
/// run into one another.
pub(super) fn of<'a>(
    outcome: Outcome,
    files: impl Iterator<Item = (&'a str, &'a [u8])>,
    left_out: &[LeftOut],
    problems: &[Problem],
) -> String {
    let mut sum = Sha256::new();
    let mut part = |bytes: &[u8]| {
        sum.update((bytes.len() as u64).to_le_bytes());
        sum.update(bytes);
    };
    part(b"latchwork submission 1");
    part(outcome.name().as_bytes());
    for (name, bytes) in files {
        part(b"file");
        part(name.as_bytes());
        part(bytes);
    }
    for LeftOut { name, why } in left_out {
        part(b"left out");
        part(name.as_bytes());
        part(why.as_bytes());
    }
    for problem in problems {
        part(b"problem");
        part(problem.name.as_bytes());
        part(problem.message.as_bytes());
    }
    hexadecimal(&sum.finalize())
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(bytes.len() * 2), |mut text, byte| {
        // Writing to a string cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}
