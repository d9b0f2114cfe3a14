//! Arithmetic on durations, dates and times of day: the typed functions `ADD_TIME` … `DIV_LTIME` and the
//! overloads of `+ - * /` and ADD, SUB, MUL, DIV they stand for.
//!
//! Source: IEC 61131-3:2013, Table 35. All time types are 64-bit counts of nanoseconds, so that most forms
//! are a plain addition or subtraction; times of day stay within the day (our choice: modulo 24 hours with
//! an event). Rows only; the routines are in `time_natives`.

use latchwork_vm::{ElementaryType, EventKind, Family};

use crate::{
    definition::{Example, FunctionDefinition, Lowering, Overload, ROW, ResultType, own},
    types::{TypeClass, implicitly_converts},
};

use ElementaryType as T;

/// The four operations of Table 35.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum TimeOperation {
    /// `+`, ADD
    Add,
    /// `-`, SUB
    Subtract,
    /// `*`, MUL
    Multiply,
    /// `/`, DIV
    Divide,
}

impl TimeOperation {
    fn prefix(self) -> &'static str {
        match self {
            Self::Add => "ADD_",
            Self::Subtract => "SUB_",
            Self::Multiply => "MUL_",
            Self::Divide => "DIV_",
        }
    }
}

/// A form of `+ - * /` on times.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TimeOverload {
    /// The typed function it stands for, such as `ADD_TOD_TIME`.
    pub definition: &'static FunctionDefinition,
    /// The types the two operands are converted to.
    pub operands: [ElementaryType; 2],
    /// The type of the result.
    pub result: ElementaryType,
    /// How it is emitted.
    pub lowering: Lowering,
}

const OUTSIDE: &str = "Result outside 64-bit nanoseconds: the low bits, event overflow.";
const OTHER_DAY: &str = "Result on another day: the time of day on that day, event.";

macro_rules! row {
    ($name:literal, $left:ident, $right:ident => $result:ident, $lowering:expr, $summary:literal, $errors:expr, $examples:expr) => {
        FunctionDefinition {
            name: $name,
            parameters: &[own("IN1", TypeClass::Exact(T::$left)), own("IN2", TypeClass::Exact(T::$right))],
            result: ResultType::Exact(T::$result),
            lowering: $lowering,
            clause: "Table 35",
            summary: $summary,
            errors: $errors,
            examples: $examples,
            ..ROW
        }
    };
}

/// Multiplication and division by a number: the number's type decides which routine works.
macro_rules! scaled {
    ($name:literal, $duration:ident, $integer:expr, $unsigned:literal, $real:literal, $summary:literal, $errors:expr, $examples:expr) => {
        FunctionDefinition {
            name: $name,
            parameters: &[own("IN1", TypeClass::Exact(T::$duration)), own("IN2", TypeClass::AnyNum)],
            result: ResultType::Exact(T::$duration),
            lowering: Lowering::Overloaded,
            overloads: &[
                Overload {
                    accepts: &[TypeClass::Exact(T::$duration), TypeClass::Exact(T::Ulint)],
                    operands: &[T::$duration, T::Ulint],
                    result: ResultType::Exact(T::$duration),
                    lowering: Lowering::Native($unsigned),
                },
                Overload {
                    accepts: &[TypeClass::Exact(T::$duration), TypeClass::AnyInt],
                    operands: &[T::$duration, T::Lint],
                    result: ResultType::Exact(T::$duration),
                    lowering: $integer,
                },
                Overload {
                    accepts: &[TypeClass::Exact(T::$duration), TypeClass::AnyReal],
                    operands: &[T::$duration, T::Lreal],
                    result: ResultType::Exact(T::$duration),
                    lowering: Lowering::Native($real),
                },
            ],
            clause: "Table 35",
            summary: $summary,
            errors: $errors,
            examples: $examples,
            ..ROW
        }
    };
}

const ADD: Lowering = Lowering::Family(Family::Add);
const SUBTRACT: Lowering = Lowering::Family(Family::Subtract);
const MULTIPLY: Lowering = Lowering::Family(Family::Multiply);
const DIVIDE: Lowering = Lowering::Native("DIV_TIME_LINT");
const ADD_DAY: Lowering = Lowering::Native("ADD_TOD_TIME");
const SUBTRACT_DAY: Lowering = Lowering::Native("SUB_TOD_TIME");

const PRODUCT: &str = "Result outside 64-bit nanoseconds: the low bits for an integer factor, the nearest limit \
                       for a real one, event. Factor NaN: T#0s, event.";
const QUOTIENT: &str = "Divisor 0 or NaN: T#0s, event. Result outside 64-bit nanoseconds: the low bits for an \
                        integer divisor, the nearest limit for a real one, event.";

/// The rows of Table 35.
pub(crate) static ROWS: &[FunctionDefinition] = &[
    row!("ADD_TIME", Time, Time => Time, ADD, "Sum of two durations.", OUTSIDE, &[
        Example::new(&["T#1m30s", "T#45s"], "T#2m15s"),
    ]),
    row!("ADD_LTIME", Ltime, Ltime => Ltime, ADD, "Sum of two long durations.", OUTSIDE, &[
        Example::new(&["LTIME#1s", "LTIME#1ns"], "LTIME#1s1ns"),
    ]),
    row!("ADD_TOD_TIME", TimeOfDay, Time => TimeOfDay, ADD_DAY, "A time of day, a duration later.", OTHER_DAY, &[
        Example::new(&["TOD#22:00:00", "T#1h30m"], "TOD#23:30:00"),
        Example::new(&["Now", "T#3h"], "TOD#01:00:00").with("Now : TOD := TOD#22:00:00;").event(EventKind::DayOverflow),
    ]),
    row!(
        "ADD_LTOD_LTIME", LtimeOfDay, Ltime => LtimeOfDay, ADD_DAY,
        "A long time of day, a duration later.", OTHER_DAY, &[
            Example::new(&["LTOD#06:00:00", "LTIME#90m"], "LTOD#07:30:00"),
        ]
    ),
    row!("ADD_DT_TIME", DateAndTime, Time => DateAndTime, ADD, "A date and time, a duration later.", OUTSIDE, &[
        Example::new(&["DT#2026-02-28-23:00:00", "T#2h"], "DT#2026-03-01-01:00:00"),
    ]),
    row!(
        "ADD_LDT_LTIME", LdateAndTime, Ltime => LdateAndTime, ADD,
        "A long date and time, a duration later.", OUTSIDE, &[
            Example::new(&["LDT#2026-12-31-23:59:59", "LTIME#1s"], "LDT#2027-01-01-00:00:00"),
        ]
    ),
    row!("SUB_TIME", Time, Time => Time, SUBTRACT, "Difference of two durations; may be negative.", OUTSIDE, &[
        Example::new(&["T#1s", "T#250ms"], "T#750ms"),
        Example::new(&["T#1s", "T#3s"], "T#-2s"),
    ]),
    row!(
        "SUB_LTIME", Ltime, Ltime => Ltime, SUBTRACT,
        "Difference of two long durations; may be negative.", OUTSIDE, &[
            Example::new(&["LTIME#1s", "LTIME#1ns"], "LTIME#999ms999us999ns"),
        ]
    ),
    row!("SUB_DATE_DATE", Date, Date => Time, SUBTRACT, "Whole days from IN2 to IN1.", OUTSIDE, &[
        Example::new(&["D#2026-03-01", "D#2026-02-28"], "T#1d"),
        Example::new(&["D#2028-03-01", "D#2028-02-28"], "T#2d"),
    ]),
    row!("SUB_LDATE_LDATE", Ldate, Ldate => Ltime, SUBTRACT, "Whole days from IN2 to IN1, as LTIME.", OUTSIDE, &[
        Example::new(&["LDATE#2026-01-01", "LDATE#2025-01-01"], "LTIME#365d"),
    ]),
    row!(
        "SUB_TOD_TIME", TimeOfDay, Time => TimeOfDay, SUBTRACT_DAY,
        "A time of day, a duration earlier.", OTHER_DAY, &[
            Example::new(&["TOD#06:30:00", "T#45m"], "TOD#05:45:00"),
            Example::new(&["Now", "T#2h"], "TOD#23:00:00").with("Now : TOD := TOD#01:00:00;").event(EventKind::DayOverflow),
        ]
    ),
    row!(
        "SUB_LTOD_LTIME", LtimeOfDay, Ltime => LtimeOfDay, SUBTRACT_DAY,
        "A long time of day, a duration earlier.", OTHER_DAY, &[
            Example::new(&["LTOD#06:30:00", "LTIME#45m"], "LTOD#05:45:00"),
        ]
    ),
    row!(
        "SUB_TOD_TOD", TimeOfDay, TimeOfDay => Time, SUBTRACT,
        "Duration from IN2 to IN1 within a day; may be negative.", OUTSIDE, &[
            Example::new(&["TOD#07:15:00", "TOD#06:30:00"], "T#45m"),
            Example::new(&["TOD#06:30:00", "TOD#07:15:00"], "T#-45m"),
        ]
    ),
    row!(
        "SUB_LTOD_LTOD", LtimeOfDay, LtimeOfDay => Ltime, SUBTRACT,
        "Long duration from IN2 to IN1 within a day; may be negative.", OUTSIDE, &[
            Example::new(&["LTOD#07:15:00", "LTOD#06:30:00"], "LTIME#45m"),
        ]
    ),
    row!("SUB_DT_TIME", DateAndTime, Time => DateAndTime, SUBTRACT, "A date and time, a duration earlier.", OUTSIDE, &[
        Example::new(&["DT#2026-03-01-01:00:00", "T#2h"], "DT#2026-02-28-23:00:00"),
    ]),
    row!(
        "SUB_LDT_LTIME", LdateAndTime, Ltime => LdateAndTime, SUBTRACT,
        "A long date and time, a duration earlier.", OUTSIDE, &[
            Example::new(&["LDT#2026-01-01-00:00:00", "LTIME#1s"], "LDT#2025-12-31-23:59:59"),
        ]
    ),
    row!(
        "SUB_DT_DT", DateAndTime, DateAndTime => Time, SUBTRACT,
        "Duration from IN2 to IN1; may be negative.", OUTSIDE, &[
            Example::new(&["DT#2026-03-01-06:00:00", "DT#2026-02-28-18:00:00"], "T#12h"),
        ]
    ),
    row!(
        "SUB_LDT_LDT", LdateAndTime, LdateAndTime => Ltime, SUBTRACT,
        "Long duration from IN2 to IN1; may be negative.", OUTSIDE, &[
            Example::new(&["LDT#2026-03-01-06:00:00", "LDT#2026-02-28-18:00:00"], "LTIME#12h"),
        ]
    ),
    scaled!(
        "MUL_TIME",
        Time,
        MULTIPLY,
        "MUL_TIME_ULINT",
        "MUL_TIME_LREAL",
        "A duration times a number; a real product is rounded to the nearest nanosecond.",
        PRODUCT,
        &[Example::new(&["T#1s500ms", "INT#4"], "T#6s"), Example::new(&["T#1s", "REAL#0.25"], "T#250ms"),]
    ),
    scaled!(
        "MUL_LTIME",
        Ltime,
        MULTIPLY,
        "MUL_TIME_ULINT",
        "MUL_TIME_LREAL",
        "A long duration times a number; a real product is rounded to the nearest nanosecond.",
        PRODUCT,
        &[Example::new(&["LTIME#1us500ns", "INT#2"], "LTIME#3us"),]
    ),
    scaled!(
        "DIV_TIME",
        Time,
        DIVIDE,
        "DIV_TIME_ULINT",
        "DIV_TIME_LREAL",
        "A duration divided by a number: by an integer towards zero, by a real rounded to the nearest nanosecond.",
        QUOTIENT,
        &[
            Example::new(&["T#10s", "INT#4"], "T#2s500ms"),
            Example::new(&["T#1s", "LREAL#0.5"], "T#2s"),
            Example::new(&["T#1s", "Parts"], "T#0s")
                .with("Parts : INT := 0;")
                .event(EventKind::DivisionByZero),
        ]
    ),
    scaled!(
        "DIV_LTIME",
        Ltime,
        DIVIDE,
        "DIV_TIME_ULINT",
        "DIV_TIME_LREAL",
        "A long duration divided by a number: by an integer towards zero, by a real rounded to the nearest nanosecond.",
        QUOTIENT,
        &[Example::new(&["LTIME#1us", "INT#4"], "LTIME#250ns"),]
    ),
];

/// The form of an operation for two operand types, of which at least one is a duration, date or time of day.
/// A short form is preferred; a short operand beside a long one is brought to the long type first. `None`:
/// the standard has no such form (TIME * TIME, DT + DT, DATE + TIME…).
pub fn time_arithmetic(
    operation: TimeOperation,
    left: ElementaryType,
    right: ElementaryType,
) -> Option<TimeOverload> {
    let rows = || ROWS.iter().filter(|row| row.name.starts_with(operation.prefix()));
    // The rows list the short form before the long one, so that the first fit is the smallest.
    rows().find_map(|definition| {
        let [first, second] = definition.parameters else { return None };
        let TypeClass::Exact(first) = first.class else { return None };
        let ResultType::Exact(result) = definition.result else { return None };
        if !implicitly_converts(left, first) {
            return None;
        }
        if let TypeClass::Exact(second) = second.class {
            return implicitly_converts(right, second).then_some(TimeOverload {
                definition,
                operands: [first, second],
                result,
                lowering: definition.lowering,
            });
        }
        let overload = definition.overload(&[first, right])?;
        let [first, second] = overload.operands else { return None };
        Some(TimeOverload { definition, operands: [*first, *second], result, lowering: overload.lowering })
    })
}
