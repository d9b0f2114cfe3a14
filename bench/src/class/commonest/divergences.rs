//! The moments at which runs of a procedure first were not as expected.

use std::collections::BTreeMap;

use crate::marking::{Divergence, Marked};

/// A way in which several runs of a procedure first were not as expected: at the same step, in the same manner.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CommonDivergence {
    /// The line of the step, from 1.
    pub line: Option<u32>,
    /// The way to fail, or the name of what refused the procedure.
    pub name: String,
    /// How many students.
    pub students: u64,
    /// The median of the moments, in nanoseconds from the start of the run; of an even number the mean of both in the
    /// middle, rounded down.
    pub median_ns: i64,
    /// The message of the first one, as an example.
    pub message: String,
}

/// Divergences being counted.
#[derive(Clone, Debug)]
pub(in crate::class) struct Divergences {
    by_item: Vec<BTreeMap<(Option<u32>, String), Seen>>,
}

#[derive(Clone, Debug)]
struct Seen {
    times: Vec<i64>,
    message: String,
}

impl Divergences {
    /// None yet, of so many items.
    pub(in crate::class) fn new(items: usize) -> Self {
        Divergences { by_item: vec![BTreeMap::new(); items] }
    }

    /// Counts those of a student.
    pub(in crate::class) fn add(&mut self, marked: &Marked) {
        for (item, seen) in marked.items.iter().zip(&mut self.by_item) {
            let Some(Divergence { name, message, line, time_ns, .. }) = &item.failure else { continue };
            seen.entry((*line, name.clone()))
                .or_insert_with(|| Seen { times: Vec::new(), message: message.clone() })
                .times
                .push(*time_ns);
        }
    }

    /// For each item those that most students have first, then by line and name.
    pub(in crate::class) fn finish(self) -> Vec<Vec<CommonDivergence>> {
        let of_item = |seen: BTreeMap<(Option<u32>, String), Seen>| {
            let mut all: Vec<CommonDivergence> = seen
                .into_iter()
                .map(|((line, name), Seen { mut times, message })| CommonDivergence {
                    line,
                    name,
                    students: times.len() as u64,
                    median_ns: median(&mut times),
                    message,
                })
                .collect();
            all.sort_by_key(|it| std::cmp::Reverse(it.students));
            all
        };
        self.by_item.into_iter().map(of_item).collect()
    }
}

/// The median; 0 of nothing.
fn median(times: &mut [i64]) -> i64 {
    times.sort_unstable();
    let above = times.get(times.len() / 2).copied().unwrap_or(0);
    let below = times.get(times.len().saturating_sub(1) / 2).copied().unwrap_or(0);
    let middle = (i128::from(above) + i128::from(below)).div_euclid(2);
    // Between two of 64 bits.
    i64::try_from(middle).unwrap_or(above)
}

#[cfg(test)]
mod tests {
    use super::median;

    #[test]
    fn medians() {
        assert_eq!(median(&mut [3, 1, 2]), 2);
        assert_eq!(median(&mut [4, 1, 2, 3]), 2);
        assert_eq!(median(&mut [-3, -4]), -4);
        assert_eq!(median(&mut [i64::MAX, i64::MAX]), i64::MAX);
        assert_eq!(median(&mut []), 0);
    }
}
