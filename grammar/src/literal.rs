//! The values literals stand for (IEC 61131-3:2013, 6.3, tables 5 to 9).

/// The value of a literal. Times are in nanoseconds: durations signed, dates from 1970-01-01-00:00:00, times
/// of day from midnight.
#[derive(Clone, Debug, PartialEq)]
pub enum Literal {
    /// `TRUE`, `FALSE`
    Boolean(bool),
    /// Digits in any base, without sign.
    Integer(u64),
    /// Digits with a point: the nearest binary64 and the nearest binary32 of the text, since rounding twice
    /// would give another value.
    Real {
        /// Nearest LREAL.
        long: f64,
        /// Nearest REAL; infinite when too big for it.
        short: f32,
    },
    /// `'…'`: one code 0..255 a character.
    String(Box<[u8]>),
    /// `"…"`: one 16-bit unit a character.
    WideString(Box<[u16]>),
    /// `T#…`; `long` for `LT#…`.
    Duration {
        /// Nanoseconds.
        nanoseconds: i64,
        /// `LTIME`.
        long: bool,
    },
    /// `D#…`; `long` for `LD#…`.
    Date {
        /// Nanoseconds since 1970-01-01, whole days.
        nanoseconds: i64,
        /// `LDATE`.
        long: bool,
    },
    /// `TOD#…`; `long` for `LTOD#…`.
    TimeOfDay {
        /// Nanoseconds since midnight.
        nanoseconds: i64,
        /// `LTIME_OF_DAY`.
        long: bool,
    },
    /// `DT#…`; `long` for `LDT#…`.
    DateAndTime {
        /// Nanoseconds since 1970-01-01-00:00:00.
        nanoseconds: i64,
        /// `LDATE_AND_TIME`.
        long: bool,
    },
}
