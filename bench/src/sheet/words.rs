//! Times and numbers as a person at the board reads them.

use latchwork_vm::Value;

use crate::{
    diagram::words::{harmless, value_text},
    station::{Device, DeviceForm, Load, LoadForm},
    terminals::signed_number,
    wiring::Scaling,
};

pub(super) const SECOND_NS: i64 = 1_000_000_000;

/// Most decimal places of a value.
const PLACES_MAX: usize = 9;

/// What comes no later is there at once for a person.
pub(super) const AT_ONCE_NS: i64 = 300_000_000;

/// A duration for a person with a stopwatch: tenths of a second up to ten seconds, halves up to a minute, then seconds.
pub fn stopwatch(duration_ns: i64) -> String {
    // To nearest; what lies in the middle is longer.
    let steps = |step_ns: i64| duration_ns.saturating_add(step_ns / 2) / step_ns;
    let tenths = steps(SECOND_NS / 10);
    if tenths == 0 {
        let milliseconds = steps(SECOND_NS / 1_000).max(1);
        return format!("{milliseconds} ms");
    }
    let in_tenths = |tenths: i64| match tenths % 10 {
        0 => format!("{} s", tenths / 10),
        rest => format!("{}.{rest} s", tenths / 10),
    };
    if tenths < 100 {
        return in_tenths(tenths);
    }
    let halves = steps(SECOND_NS / 2);
    if halves < 120 {
        return in_tenths(halves * 5);
    }
    let seconds = steps(SECOND_NS);
    let (hours, minutes, seconds) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    let units = [(hours, "h"), (minutes, "min"), (seconds, "s")];
    let told =
        units.iter().filter(|(count, _)| *count > 0).take(2).map(|(count, unit)| format!("{count} {unit}"));
    told.collect::<Vec<_>>().join(" ")
}

/// A duration of which many follow one another, so that it can be measured more finely.
pub(super) fn short(duration_ns: i64) -> String {
    let twentieths = duration_ns.saturating_add(SECOND_NS / 40) / (SECOND_NS / 20);
    match twentieths {
        2..20 if twentieths % 2 == 1 => format!("0.{:02} s", twentieths * 5),
        _ => stopwatch(duration_ns),
    }
}

/// "at once", "after 3 s".
pub(super) fn after(time_ns: i64) -> String {
    if time_ns <= AT_ONCE_NS { "at once".to_owned() } else { format!("after {}", stopwatch(time_ns)) }
}

/// A value in engineering units, to about a hundredth of its range, with its unit.
pub(super) fn quantity(value: f64, scaling: &Scaling, unit: Option<&str>) -> String {
    with_unit(&rounded(value, scaling, 100.0), unit)
}

/// A value that is to be set, to about a thousandth of its range, with its unit.
pub(super) fn to_set(value: f64, scaling: &Scaling, unit: Option<&str>) -> String {
    with_unit(&rounded(value, scaling, 1000.0), unit)
}

/// With as many decimal places as so many parts of the range need.
fn rounded(value: f64, scaling: &Scaling, parts: f64) -> String {
    let (low, high) = scaling.range;
    let mut places = 0;
    let mut range = high - low;
    while range < parts && places < PLACES_MAX {
        range *= 10.0;
        places += 1;
    }
    let text = format!("{value:.places$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    // What rounds to nothing has no sign.
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

fn with_unit(number: &str, unit: Option<&str>) -> String {
    match unit {
        Some(unit) => format!("{number} {}", harmless(unit)),
        None => number.to_owned(),
    }
}

/// What an input terminal reads: 1 or 0, or a number.
pub(super) fn reading(value: &Value, is_signed: bool) -> String {
    match value {
        Value::Bool(level) => u8::from(*level).to_string(),
        Value::Bits(bits, kind) if is_signed => signed_number(*bits, *kind).to_string(),
        Value::Bits(bits, _) => bits.to_string(),
        value => value_text(value),
    }
}

/// A state as the end of a sentence: "pressed", "“wet”".
pub(super) fn state(device: &Device, is_actuated: bool) -> String {
    let word = device.word_of_state(is_actuated);
    match word {
        "pressed" | "released" | "turned" | "not turned" => word.to_owned(),
        word => format!("“{}”", harmless(word)),
    }
}

/// The value of an analog device, to be set.
pub(super) fn device_value(device: &Device, value: f64) -> String {
    match &device.form {
        DeviceForm::Analog { scaling, unit, .. } => to_set(value, scaling, unit.as_deref()),
        DeviceForm::TwoState { .. } => String::new(),
    }
}

/// The value of an analog load, as it is seen.
pub(super) fn load_value(load: &Load, value: f64) -> String {
    match &load.form {
        LoadForm::Analog { scaling, unit } => quantity(value, scaling, unit.as_deref()),
        LoadForm::TwoState => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_rounded_for_a_stopwatch() {
        let cases = [
            (1, "1 ms"),
            (20_000_000, "20 ms"),
            (49_000_000, "49 ms"),
            (50_000_000, "0.1 s"),
            (500_000_000, "0.5 s"),
            (949_000_000, "0.9 s"),
            (3_010_000_000, "3 s"),
            (2_460_000_000, "2.5 s"),
            (9_940_000_000, "9.9 s"),
            (9_960_000_000, "10 s"),
            (12_400_000_000, "12.5 s"),
            (59_700_000_000, "59.5 s"),
            (59_800_000_000, "1 min"),
            (125_400_000_000, "2 min 5 s"),
            (3_600_000_000_000, "1 h"),
            (3_725_000_000_000, "1 h 2 min"),
            (i64::MAX, "2562047 h 47 min"),
        ];
        for (time_ns, told) in cases {
            assert_eq!(stopwatch(time_ns), told, "{time_ns}");
        }
    }

    #[test]
    fn numbers_are_as_fine_as_their_range() {
        let scaling = |low, high| Scaling { range: (low, high), raw: (0.0, 1.0) };
        assert_eq!(quantity(62.4, &scaling(0.0, 100.0), Some("%")), "62 %");
        assert_eq!(quantity(12.04, &scaling(4.0, 20.0), Some("mA")), "12 mA");
        assert_eq!(quantity(0.123, &scaling(0.0, 1.0), None), "0.12");
        assert_eq!(quantity(-0.001, &scaling(-10.0, 10.0), None), "0");
        assert_eq!(to_set(62.5, &scaling(0.0, 100.0), Some("%")), "62.5 %");
        assert_eq!(quantity(1e300, &scaling(-1e300, 1e300), None).len(), 301);
    }
}
