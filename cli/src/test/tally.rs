//! Counts and points.

use super::case::{Told, Verdict};

/// What became of the procedures of a run, a file, a variant.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Tally {
    pub(super) passed: usize,
    pub(super) failed: usize,
    pub(super) refused: usize,
    pub(super) not_run: usize,
    /// Of all procedures.
    pub(super) points: f64,
    /// Of those that passed.
    pub(super) points_reached: f64,
}

impl Tally {
    /// Counts a case.
    pub(super) fn count(&mut self, told: &Told) {
        match told.verdict {
            Verdict::Passed => self.passed += 1,
            Verdict::Failed => self.failed += 1,
            Verdict::Refused => self.refused += 1,
            Verdict::NotRun => self.not_run += 1,
        }
        // Points are finite; their sum stays so.
        self.points = (self.points + told.points).min(f64::MAX);
        if told.verdict == Verdict::Passed {
            self.points_reached = (self.points_reached + told.points).min(f64::MAX);
        }
    }

    /// All of them.
    pub(super) fn procedures(&self) -> usize {
        self.passed + self.failed + self.refused + self.not_run
    }
}

/// Points as people write them: without the noise that sums of tenths have in binary.
pub(super) fn points_text(points: f64) -> String {
    if points.abs() >= 1e15 {
        return format!("{points}");
    }
    let text = format!("{points:.6}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// The same as a number.
pub(super) fn points_number(points: f64) -> f64 {
    points_text(points).parse().unwrap_or(points)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_have_no_noise() {
        for (points, text) in [
            (0.0, "0"),
            (2.0, "2"),
            (0.1 + 0.2, "0.3"),
            (2.5, "2.5"),
            (100.0, "100"),
            (1e300, &format!("{}", 1e300)),
        ] {
            assert_eq!(points_text(points), text);
        }
        assert_eq!(points_number(0.1 + 0.2), 0.3);
    }
}
