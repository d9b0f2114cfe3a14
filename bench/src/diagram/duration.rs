//! Times and durations as text, in the units of clocks. Integers in nanoseconds throughout.

/// Nanoseconds in one second.
pub(super) const SECOND: i64 = 1_000_000_000;

/// A unit in which times are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TimeUnit {
    /// Its symbol: "ms", "s", "min"…
    pub symbol: &'static str,
    /// Its length in nanoseconds.
    pub ns: i64,
}

/// Units from the longest to the shortest.
pub(super) const UNITS: [TimeUnit; 7] = [
    TimeUnit { symbol: "d", ns: 86_400 * SECOND },
    TimeUnit { symbol: "h", ns: 3_600 * SECOND },
    TimeUnit { symbol: "min", ns: 60 * SECOND },
    TimeUnit { symbol: "s", ns: SECOND },
    TimeUnit { symbol: "ms", ns: 1_000_000 },
    TimeUnit { symbol: "µs", ns: 1_000 },
    TimeUnit { symbol: "ns", ns: 1 },
];

/// The unit second, used where nothing else fits better.
pub(super) const IN_SECONDS: TimeUnit = TimeUnit { symbol: "s", ns: SECOND };

/// `value_ns` as an exact decimal number of units of `unit_ns` nanoseconds: no exponent, no trailing zeros.
/// For units that are not a power of ten (minutes, hours, days) the number is cut after six places.
pub fn decimal(value_ns: i64, unit_ns: i64) -> String {
    let unit = i128::from(unit_ns.max(1));
    let value = i128::from(value_ns);
    let (whole, mut rest) = (value.abs() / unit, value.abs() % unit);
    let mut text = String::new();
    if value < 0 {
        text.push('-');
    }
    text.push_str(&whole.to_string());
    if rest != 0 {
        text.push('.');
        let places = if unit_ns <= SECOND { 9 } else { 6 };
        for _ in 0..places {
            rest *= 10;
            // A remainder below the unit times ten, divided by the unit, is one decimal digit.
            text.push(char::from(b'0' + u8::try_from(rest / unit).unwrap_or(0)));
            rest %= unit;
            if rest == 0 {
                break;
            }
        }
        while text.ends_with('0') {
            text.pop();
        }
        if text.ends_with('.') {
            text.pop();
        }
    }
    text
}

/// A duration or a time for people: "100 ms", "1.5 s", "20 min". The longest unit in which at most three
/// decimal places tell it exactly.
pub fn time_text(ns: i64) -> String {
    if ns == 0 {
        return "0 s".to_owned();
    }
    let magnitude = i128::from(ns).abs();
    let fits = |unit: &TimeUnit| {
        let unit_ns = i128::from(unit.ns);
        magnitude >= unit_ns && (magnitude * 1_000) % unit_ns == 0
    };
    let unit = UNITS.iter().find(|unit| fits(unit)).copied().unwrap_or(TimeUnit { symbol: "ns", ns: 1 });
    // Five digits and more of a short unit read worse than seconds with many places.
    let unit = if unit.ns < SECOND && magnitude / i128::from(unit.ns) >= 10_000 { IN_SECONDS } else { unit };
    format!("{} {}", decimal(ns, unit.ns), unit.symbol)
}

/// The next duration not shorter than `ns` that two digits tell; for durations that only bound something.
pub fn rounded_up(ns: i64) -> i64 {
    let mut unit = 1i64;
    while ns / unit >= 100 {
        unit *= 10;
    }
    // Only the largest durations of all have no rounder one above them.
    (ns / unit + i64::from(ns % unit != 0)).checked_mul(unit).unwrap_or(ns)
}

/// A duration as people say it, exactly: "9 min 12 s", "1 d 2 h", "250 ms".
pub fn duration_words(ns: i64) -> String {
    if ns < 0 {
        return time_text(ns);
    }
    let mut rest = ns;
    let mut words = Vec::new();
    for unit in UNITS.iter().filter(|unit| unit.ns > SECOND) {
        if rest >= unit.ns {
            words.push(format!("{} {}", rest / unit.ns, unit.symbol));
            rest %= unit.ns;
        }
    }
    match rest {
        0 if !words.is_empty() => {}
        _ if words.is_empty() => words.push(time_text(rest)),
        _ => words.push(format!("{} s", decimal(rest, SECOND))),
    }
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    const MS: i64 = 1_000_000;

    #[test]
    fn times_read_in_the_longest_fitting_unit() {
        let cases = [
            (0, "0 s"),
            (1, "1 ns"),
            (12_500, "12.5 µs"),
            (100 * MS, "100 ms"),
            (1_500 * MS, "1.5 s"),
            (100 * SECOND, "100 s"),
            (90 * SECOND, "1.5 min"),
            (3_600 * SECOND, "1 h"),
            (-2 * SECOND, "-2 s"),
            (1_234_567_891, "1.234567891 s"),
        ];
        for (ns, text) in cases {
            assert_eq!(time_text(ns), text);
        }
    }

    #[test]
    fn bounds_are_rounded_up_to_two_digits() {
        let cases = [(0, 0), (7, 7), (99, 99), (101, 110), (33_333_334, 34_000_000), (i64::MAX, i64::MAX)];
        for (ns, rounded) in cases {
            assert_eq!(rounded_up(ns), rounded);
        }
    }

    #[test]
    fn decimals_are_exact() {
        assert_eq!(decimal(12_500_000, MS), "12.5");
        assert_eq!(decimal(1, SECOND), "0.000000001");
        assert_eq!(decimal(-1_250_000, MS), "-1.25");
        assert_eq!(decimal(i64::MIN, 1), "-9223372036854775808");
    }

    #[test]
    fn durations_are_said_exactly() {
        let cases = [
            (-5, "-5 ns"),
            (0, "0 s"),
            (250 * MS, "250 ms"),
            (12 * SECOND, "12 s"),
            (552 * SECOND, "9 min 12 s"),
            (600 * SECOND, "10 min"),
            (3_600 * SECOND + 500 * MS, "1 h 0.5 s"),
            (93_600 * SECOND, "1 d 2 h"),
        ];
        for (ns, text) in cases {
            assert_eq!(duration_words(ns), text);
        }
    }
}
