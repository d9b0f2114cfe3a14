//! When an expected and an actual value are the same.

use latchwork_vm::Value;

/// How exactly a run must follow a trace.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Rules {
    /// How much earlier or later a change may come, in nanoseconds, not negative.
    pub shift_ns: i64,
    /// How much numbers (integers, REAL, LREAL) may differ; not negative.
    pub tolerance: f64,
    /// How much durations may differ, in nanoseconds; not negative.
    pub duration_tolerance_ns: i64,
    /// The time of the run at which the trace begins, in nanoseconds: what was before is not compared.
    pub from_ns: i64,
}

impl Rules {
    /// Whether two values are the same: numbers and durations within their tolerance, NaN like NaN, an infinity like
    /// the same infinity, enumerations by name (letter case aside) if both have one, everything else exactly.
    pub fn same(&self, expected: &Value, actual: &Value) -> bool {
        match (expected, actual) {
            (Value::Duration(expected, _), Value::Duration(actual, _)) => {
                expected.abs_diff(*actual) <= self.duration_tolerance_ns.max(0).unsigned_abs()
            }
            (
                Value::Enumeration { value: expected, name: expected_name },
                Value::Enumeration { value: actual, name: actual_name },
            ) => match (expected_name, actual_name) {
                (Some(expected), Some(actual)) => expected.eq_ignore_ascii_case(actual),
                _ => expected == actual,
            },
            (Value::Signed(..) | Value::Unsigned(..), Value::Signed(..) | Value::Unsigned(..)) => {
                match (expected.as_i128(), actual.as_i128()) {
                    (Some(expected), Some(actual)) => {
                        // Compared exactly; the casts saturate, and a tolerance that is no number allows nothing.
                        expected.abs_diff(actual) <= self.tolerance as u128
                    }
                    _ => false,
                }
            }
            (Value::Real(_) | Value::Lreal(_), Value::Real(_) | Value::Lreal(_)) => {
                match (expected.as_f64(), actual.as_f64()) {
                    (Some(expected), Some(actual)) => near(expected, actual, self.tolerance),
                    _ => false,
                }
            }
            _ => expected == actual,
        }
    }
}

/// Whether two real numbers are not further apart than a tolerance.
fn near(expected: f64, actual: f64, tolerance: f64) -> bool {
    if expected.is_nan() || actual.is_nan() {
        return expected.is_nan() && actual.is_nan();
    }
    // Infinities of one sign are equal, and their difference is no number.
    expected == actual || (expected - actual).abs() <= tolerance
}

#[cfg(test)]
mod tests {
    use latchwork_vm::ElementaryType as T;

    use super::*;

    fn same(expected: Value, actual: Value, tolerance: f64) -> bool {
        let rules = Rules { tolerance, duration_tolerance_ns: 5, ..Rules::default() };
        let there = rules.same(&expected, &actual);
        assert_eq!(there, rules.same(&actual, &expected), "{expected} {actual}");
        there
    }

    #[test]
    fn numbers_have_a_tolerance() {
        let int = |value| Value::Signed(value, T::Int);
        assert!(same(int(-2), int(-2), 0.0));
        assert!(!same(int(-2), int(-3), 0.9));
        assert!(same(int(-2), int(-3), 1.0));
        assert!(same(Value::Lreal(2.5), Value::Lreal(3.0), 0.5));
        assert!(!same(Value::Lreal(2.5), Value::Lreal(3.01), 0.5));
        assert!(!same(Value::Signed(i64::MIN, T::Lint), Value::Signed(i64::MAX, T::Lint), 1e18));
        assert!(same(Value::Signed(i64::MIN, T::Lint), Value::Signed(i64::MAX, T::Lint), 1e300));
        assert!(same(Value::Unsigned(u64::MAX, T::Ulint), Value::Unsigned(u64::MAX, T::Ulint), f64::NAN));
        assert!(!same(int(1), int(2), f64::NAN));
        assert!(!same(int(1), int(2), -1.0));
    }

    #[test]
    fn not_a_number_is_like_itself_alone() {
        assert!(same(Value::Real(f32::NAN), Value::Real(f32::NAN), 0.0));
        assert!(!same(Value::Real(f32::NAN), Value::Real(0.0), f64::INFINITY));
        assert!(same(Value::Lreal(f64::INFINITY), Value::Lreal(f64::INFINITY), 0.0));
        assert!(!same(Value::Lreal(f64::INFINITY), Value::Lreal(f64::NEG_INFINITY), 1e300));
        assert!(same(Value::Lreal(-0.0), Value::Lreal(0.0), 0.0));
    }

    #[test]
    fn other_values_are_compared_exactly() {
        let time = |ns| Value::Duration(ns, T::Time);
        assert!(same(time(10), time(15), 0.0) && !same(time(10), time(16), 100.0));
        let word = |bits| Value::Bits(bits, T::Word);
        assert!(!same(word(1), word(2), 100.0));
        let step = |value, name: Option<&str>| Value::Enumeration { value, name: name.map(str::to_owned) };
        assert!(same(step(1, Some("Idle")), step(2, Some("IDLE")), 0.0));
        assert!(!same(step(1, Some("Idle")), step(1, Some("Fill")), 0.0));
        assert!(same(step(7, None), step(7, Some("Fill")), 0.0));
        assert!(!same(Value::String(b"a".to_vec()), Value::String(b"A".to_vec()), 9.0));
        assert!(!same(Value::Bool(true), Value::Bool(false), 9.0));
    }
}
