//! The set of numbered check values: what it has, and which of them a corpus shows.
//!
//! The numbers run through the set as follows. Each value is a number, text or behaviour from a source outside the project.
//!
//! ```text
//!   1 to 26    floating point                  177 to 195  analog scaling and sensors
//!  27 to 53    conversions                     196 to 217  alarms, stops, interlocks, timing
//!  54 to 71    integer arithmetic              218 to 228  control
//!  72 to 93    bit strings                     229 to 256  checksums and codes
//!  94 to 113   character strings               257 to 265  pseudo-random numbers
//! 114 to 137   calendar                        266 to 281  algorithms
//! 138 to 150   durations and times of day
//! 151 to 176   elementary functions
//! ```

use std::{collections::BTreeSet, ops::RangeInclusive};

/// The last number of the set.
pub const COUNT: u16 = 281;

/// Numbers that no case shows yet. A number that is shown must go from this list.
const MISSING: &[RangeInclusive<u16>] = &[];

/// Whether a number is listed as one that no case shows yet.
pub fn missing(number: u16) -> bool {
    MISSING.iter().any(|range| range.contains(&number))
}

/// Where the numbers that a corpus shows are not those of the set.
pub fn problems(shown: &BTreeSet<u16>) -> Vec<String> {
    let known = (1..=COUNT).filter_map(|number| match (shown.contains(&number), missing(number)) {
        (false, false) => Some(format!("no case shows value {number}")),
        (true, true) => Some(format!("value {number} is shown, and listed as missing")),
        _ => None,
    });
    let unknown = shown.iter().filter(|number| !(1..=COUNT).contains(*number));
    known.chain(unknown.map(|number| format!("the set has no value {number}"))).collect()
}
