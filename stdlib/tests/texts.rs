//! Conversions to and from texts: what Rust writes and reads, what Python writes and reads, and there and back for
//! every type.

#![allow(clippy::expect_used, reason = "a test stops where an assumption fails")]

mod harness;

use harness::text::Conversion;
use latchwork_stdlib::{conversion, text_length, value_of_text};
use latchwork_vm::ElementaryType as T;
use proptest::prelude::*;

const DAY: i64 = 86_400_000_000_000;

fn pair(from: T, to: T) -> Conversion {
    Conversion::new(from, to).unwrap_or_else(|| panic!("{} to {}", from.name(), to.name()))
}

/// A type with its conversions to and from texts of both widths.
struct Both {
    kind: T,
    write: [Conversion; 2],
    read: [Conversion; 2],
}

impl Both {
    fn new(kind: T) -> Self {
        Self {
            kind,
            write: [pair(kind, T::String), pair(kind, T::Wstring)],
            read: [pair(T::String, kind), pair(T::Wstring, kind)],
        }
    }

    /// The text of a value, which must give the value back, in both widths.
    fn there_and_back(&mut self, bits: u64) -> String {
        let [narrow, wide] = [0, 1].map(|width: usize| {
            let (text, events) = self.write[width].write(bits);
            assert!(events.is_empty(), "{} {bits:#X}: {events:?}", self.kind.name());
            assert!(
                text.len() <= usize::from(text_length(self.kind).expect("no string")),
                "{text} is too long"
            );
            let (given, events) = self.read[width].read(&text);
            assert!(events.is_empty(), "{} of {text}: {events:?}", self.kind.name());
            assert_eq!(given, bits, "{} of {text}", self.kind.name());
            text
        });
        assert_eq!(narrow, wide);
        narrow
    }

    /// A text that is no value of the type.
    fn refuses(&mut self, text: &str) {
        for width in [0, 1] {
            let (given, events) = self.read[width].read(text);
            assert_eq!(
                (given, events.as_slice()),
                (0, &["conversion"][..]),
                "{} of {text:?}",
                self.kind.name()
            );
        }
    }

    /// A text that is this value of the type.
    fn accepts(&mut self, text: &str, bits: u64) {
        for width in [0, 1] {
            let (given, events) = self.read[width].read(text);
            assert_eq!((given, events.as_slice()), (bits, &[][..]), "{} of {text:?}", self.kind.name());
        }
    }
}

/// Every value of the types of 8 and 16 bits, against the texts of Rust.
#[test]
fn all_short_values_there_and_back() {
    for kind in [T::Bool, T::Byte, T::Sint, T::Usint, T::Word, T::Int, T::Uint] {
        let mut both = Both::new(kind);
        let count = if kind == T::Bool { 2 } else { 1_u64 << (8 * kind.size().expect("a scalar")) };
        for bits in 0..count {
            let wanted = match kind {
                T::Bool => ["FALSE", "TRUE"][bits as usize].to_owned(),
                T::Byte => format!("16#{bits:02X}"),
                T::Word => format!("16#{bits:04X}"),
                T::Sint => (bits as i8).to_string(),
                T::Int => (bits as i16).to_string(),
                _ => bits.to_string(),
            };
            assert_eq!(both.there_and_back(bits), wanted);
        }
    }
}

/// Every pair of characters and every character as a text of one.
#[test]
fn all_characters() {
    let mut char_to = [pair(T::Char, T::String), pair(T::Char, T::Wstring)];
    let mut wchar_to = [pair(T::Wchar, T::String), pair(T::Wchar, T::Wstring)];
    let mut to_char = [pair(T::String, T::Char), pair(T::Wstring, T::Char)];
    let mut to_wchar = [pair(T::String, T::Wchar), pair(T::Wstring, T::Wchar)];
    let mut narrow = pair(T::Wstring, T::String);
    let mut widen = pair(T::String, T::Wstring);
    let none: Vec<&str> = Vec::new();
    for code in 0..=u16::MAX {
        if (0xD800..0xE000).contains(&code) {
            // Half of a pair: a character here as any other, but not one of Rust's.
            assert_eq!(to_wchar[1].read_codes(&[code, 65]), (u64::from(code), none.clone()));
            continue;
        }
        let same = char::from_u32(u32::from(code)).expect("no half of a pair").to_string();
        let events = if code > 255 { vec!["conversion"] } else { none.clone() };
        let byte = if code > 255 { 63 } else { u64::from(code) };
        assert_eq!(wchar_to[1].write(u64::from(code)), (same.clone(), none.clone()));
        assert_eq!(wchar_to[0].write(u64::from(code)).1, events);
        assert_eq!(to_wchar[1].read_codes(&[code, 65]), (u64::from(code), none.clone()));
        assert_eq!(to_char[1].read_codes(&[code]), (byte, events.clone()));
        assert_eq!(narrow.transfer(&[65, code, 66, code]), (vec![65, byte as u16, 66, byte as u16], events));
        assert!(narrow.event_count() <= 1);
        if code <= 255 {
            for to in &mut char_to {
                assert_eq!(to.write(u64::from(code)), (same.clone(), none.clone()));
            }
            assert_eq!(to_char[0].read_codes(&[code, 65]), (u64::from(code), none.clone()));
            assert_eq!(to_wchar[0].read_codes(&[code, 65]), (u64::from(code), none.clone()));
            assert_eq!(widen.transfer(&[code, 65]), (vec![code, 65], none.clone()));
        }
    }
    for to in to_char.iter_mut().chain(&mut to_wchar) {
        assert_eq!(to.read_codes(&[]), (0, vec!["conversion"]));
    }
    for to in [&mut narrow, &mut widen] {
        assert_eq!(to.transfer(&[]), (Vec::new(), none.clone()));
    }
    let mut copy = pair(T::String, T::String);
    assert_eq!(copy.transfer(&[65, 255, 0]), (vec![65, 255, 0], none));
}

/// Digits and power of ten of a number: `-1.50e2` and `-150.0` are both `-`, `15`, 2.
fn parts(text: &str) -> (bool, String, i32) {
    let (negative, text) = match text.strip_prefix('-') {
        Some(text) => (true, text),
        None => (false, text),
    };
    let (mantissa, exponent) = text.split_once(['e', 'E']).unwrap_or((text, "0"));
    let (whole, fraction) = mantissa.split_once('.').unwrap_or((mantissa, ""));
    let exponent: i32 = exponent.parse().expect("an exponent");
    let digits = format!("{whole}{fraction}");
    let significant = digits.trim_start_matches('0');
    let power = whole.len() as i32 - (digits.len() - significant.len()) as i32 + exponent;
    let significant = significant.trim_end_matches('0').to_owned();
    (negative, significant.clone(), if significant.is_empty() { 0 } else { power })
}

#[test]
fn reals_agree_with_python() {
    let mut kinds = [(T::Real, Both::new(T::Real)), (T::Lreal, Both::new(T::Lreal))];
    let (mut written, mut read) = (0, 0);
    for line in include_str!("data/real_texts.txt").lines() {
        if line.is_empty() || line.starts_with('#') {
            continue;
        }
        let fields: Vec<&str> = line.split(" | ").collect();
        let [way, kind, left, right] = fields[..] else { panic!("{line}") };
        let both =
            kinds.iter_mut().find(|(one, _)| one.name() == kind).map(|(_, both)| both).expect("a real");
        let bits = |text: &str| u64::from_str_radix(text.trim_start_matches("16#"), 16).expect("bits");
        match (way, right) {
            ("write", _) => {
                assert_eq!(parts(&both.there_and_back(bits(left))), parts(right), "{line}");
                written += 1;
            }
            ("read", "-") => {
                both.refuses(left);
                read += 1;
            }
            ("read", _) => {
                both.accepts(left, bits(right));
                read += 1;
            }
            _ => panic!("{line}"),
        }
    }
    assert!(written > 500 && read > 300, "{written} {read}");
}

/// When reals are written with an exponent, and that there always is a point (our choices).
#[test]
fn forms_of_reals() {
    let mut both = Both::new(T::Lreal);
    for (value, text) in [
        (0.1, "0.1"),
        (-0.0, "-0.0"),
        (5.0, "5.0"),
        (1e15, "1000000000000000.0"),
        (1e16, "1.0E16"),
        (1e21, "1.0E21"),
        (1.5e-5, "0.000015"),
        (1e-5, "0.00001"),
        (9.5e-6, "9.5E-6"),
        (-1.25e300, "-1.25E300"),
        (f64::INFINITY, "INF"),
        (f64::NEG_INFINITY, "-INF"),
        (f64::NAN, "NAN"),
    ] {
        assert_eq!(both.there_and_back(value.to_bits()), text);
    }
    let mut both = Both::new(T::Real);
    for (value, text) in [
        (0.1_f32, "0.1"),
        (16_777_216.0, "16777216.0"),
        (1e16, "1.0E16"),
        (f32::NEG_INFINITY, "-INF"),
        (f32::NAN, "NAN"),
    ] {
        assert_eq!(both.there_and_back(u64::from(value.to_bits())), text);
    }
}

/// Durations, dates and times of day as literals of Tables 8 and 9.
#[test]
fn forms_of_times() {
    let day = |days: i64| days * DAY;
    let rows = [
        (T::Time, 0, "T#0s"),
        (T::Time, day(1) + 7_384_005_000_000, "T#1d2h3m4s5ms"),
        (T::Time, -90_000_000_000, "T#-1m30s"),
        (T::Time, 1, "T#1ns"),
        (T::Time, 5_000_001_000, "T#5s1us"),
        (T::Ltime, 0, "LTIME#0s"),
        // The least and the greatest 64-bit count (arithmetic).
        (T::Ltime, i64::MAX, "LTIME#106751d23h47m16s854ms775us807ns"),
        (T::Time, i64::MIN, "T#-106751d23h47m16s854ms775us808ns"),
        // 19 782 days lie between 1970-01-01 and 2024-02-29 (Gregorian calendar).
        (T::Date, day(19_782), "D#2024-02-29"),
        (T::Ldate, 0, "LDATE#1970-01-01"),
        (T::TimeOfDay, 0, "TOD#00:00:00"),
        (T::TimeOfDay, 47_655_678_000_000, "TOD#13:14:15.678"),
        (T::LtimeOfDay, DAY - 1, "LTOD#23:59:59.999999999"),
        (T::DateAndTime, day(19_782) + 47_655_000_000_000, "DT#2024-02-29-13:14:15"),
        (T::LdateAndTime, -1_000_000, "LDT#1969-12-31-23:59:59.999"),
        (T::DateAndTime, i64::MIN, "DT#1677-09-21-00:12:43.145224192"),
        (T::LdateAndTime, i64::MAX, "LDT#2262-04-11-23:47:16.854775807"),
    ];
    for (kind, value, text) in rows {
        assert_eq!(Both::new(kind).there_and_back(value as u64), text);
    }
}

/// Literals in every form that a source text has, and what comes near to one.
#[test]
fn literals_in_every_form() {
    let mut int = Both::new(T::Int);
    for (text, value) in [
        ("5", 5),
        (" \t5\r\n", 5),
        ("+5", 5),
        ("-0", 0),
        ("1_000", 1000),
        ("16#7fFF", 32767),
        ("8#17", 15),
        ("2#1010_1010", 170),
        ("-16#8000", -32768),
        ("INT#5", 5),
        ("int#-5", -5),
        ("INT#16#FF", 255),
        ("-32768", -32768),
        ("0000000000000000000000000000005", 5),
    ] {
        int.accepts(text, u64::from(value as i16 as u16));
    }
    for text in [
        "",
        " ",
        "-",
        "+",
        "_",
        "5_",
        "_5",
        "1__0",
        "5 5",
        "5;",
        "5.0",
        "1E3",
        "32768",
        "-32769",
        "16#8000",
        "16#",
        "16#G",
        "2#2",
        "10#5",
        "#5",
        "INT#",
        "INT#INT#5",
        "SINT#5",
        "DINT#5",
        "INT# 5",
        "- 5",
        "--5",
        "+-5",
        "INT#-16#5",
        "16#-5",
        "0x5",
        "five",
        "18446744073709551616",
        "TRUE",
        "5\u{0}",
        "5\u{a0}",
        "5\u{b2}",
    ] {
        int.refuses(text);
    }
    let mut bit = Both::new(T::Bool);
    for (text, value) in
        [("TRUE", 1), ("false", 0), ("1", 1), ("0", 0), ("BOOL#1", 1), ("bool#False", 0), ("2#1", 1)]
    {
        bit.accepts(text, value);
    }
    for text in ["", "2", "-1", "T", "ON", "TRUE FALSE", "BOOL#", "BOOL#2", "1.0"] {
        bit.refuses(text);
    }
    let mut word = Both::new(T::Word);
    word.accepts("65535", 65535);
    word.accepts("WORD#16#00_FF", 255);
    for text in ["-1", "65536", "16#1_0000", "BYTE#1", "WORD#-1"] {
        word.refuses(text);
    }
    let mut real = Both::new(T::Lreal);
    for (text, value) in [
        ("5", 5.0),
        ("-5", -5.0),
        ("1_0.2_5", 10.25),
        ("1.0e3", 1000.0),
        ("1.5E-1_0", 1.5e-10),
        ("LREAL#2.5", 2.5),
        ("LREAL#-3", -3.0),
        ("16#FF", 255.0),
        ("-0.0", -0.0),
        ("inf", f64::INFINITY),
        ("-Inf", f64::NEG_INFINITY),
        ("nan", f64::NAN),
        ("0.0E999999999999", 0.0),
        ("1.0E-99999999999999", 0.0),
    ] {
        real.accepts(text, value.to_bits());
    }
    for text in [
        "",
        ".",
        ".5",
        "5.",
        "1E5",
        "1.0E",
        "1.0E+",
        "1.0E+-5",
        "1.0E5.0",
        "1._0",
        "1.0_E5",
        "1.0F",
        "0x1.0p3",
        "infinity",
        "-NAN",
        "LREAL#INF",
        "REAL#1.0",
        "LREAL#16#FF",
        "1,5",
        "1.0E400",
        "--INF",
    ] {
        real.refuses(text);
    }
    let mut time = Both::new(T::Time);
    for (text, value) in [
        ("T#1.5h", 5_400_000_000_000),
        ("TIME#25h_15m", 90_900_000_000_000),
        ("t#-1_000MS", -1_000_000_000),
        ("T#+5s", 5_000_000_000),
        ("T#1d0.5h", DAY + 1_800_000_000_000),
        ("T#0.5ns", 0),
        ("T#1.5ns", 2),
        ("T#0.0000000005s", 0),
        ("T#2.5000000000000000000000001ns", 3),
    ] {
        time.accepts(text, value as u64);
    }
    for text in [
        "",
        "5s",
        "T#",
        "T#-",
        "T#5",
        "T#s",
        "T#1h90m",
        "T#1m1h",
        "T#1s1s",
        "T#1.5h3m",
        "T#.5s",
        "T#5.s",
        "LT#5s",
        "LTIME#5s",
        "T#5s_",
        "T#_5s",
        "T#1h__2m",
        "T# 5s",
        "T#5 s",
        "-T#5s",
        "T#--5s",
        "T#106752d",
        "T#99999999999999999999d",
        "T#5x",
        "T#1d24h",
        "TOD#12:00:00",
        "#5s",
        "T#5\u{b5}s",
    ] {
        time.refuses(text);
    }
    let mut date = Both::new(T::Date);
    for text in ["D#2024-2-29", "DATE#2024-02-29", "d#2024-02-29"] {
        date.accepts(text, (19_782 * DAY) as u64);
    }
    for text in [
        "2024-02-29",
        "D#2023-02-29",
        "D#2024-00-01",
        "D#2024-13-01",
        "D#2024-01-32",
        "D#24-01-01",
        "D#2024-01",
        "D#2024-01-01-",
        "D#2024-001-01",
        "D#1677-09-21",
        "D#2262-04-12",
        "LDATE#2024-01-01",
        "D#-2024-01-01",
        "D#2024-01-01-12:00:00",
        "D#20_24-01-01",
        "DT#2024-01-01",
    ] {
        date.refuses(text);
    }
    let mut clock = Both::new(T::TimeOfDay);
    for text in ["TOD#6:5:4.5", "TIME_OF_DAY#06:05:04.500", "tod#06:05:04.5_0"] {
        clock.accepts(text, 21_904_500_000_000);
    }
    clock.accepts("TOD#23:59:59.9999999999", (DAY - 1) as u64);
    for text in [
        "06:05:04",
        "TOD#24:00:00",
        "TOD#12:60:00",
        "TOD#12:00:60",
        "TOD#12:00",
        "TOD#12:00:00.",
        "TOD#012:00:00",
        "#12:00:00",
        "LTOD#12:00:00",
        "TOD#12:00:00:00",
        "TOD#-12:00:00",
        "T#12:00:00",
        "TOD#12:00:00.5.5",
    ] {
        clock.refuses(text);
    }
    let mut moment = Both::new(T::DateAndTime);
    moment.accepts("DATE_AND_TIME#1970-01-02-00:00:01", (DAY + 1_000_000_000) as u64);
    moment.accepts("DT#1970-1-1-23:59:59.9999999999", DAY as u64);
    for text in
        ["DT#1970-01-01", "DT#1970-01-01 00:00:00", "DT#1970-01-01-24:00:00", "DT#2262-04-12-00:00:00", "DT#"]
    {
        moment.refuses(text);
    }
}

/// Characters and strings are not read as literals.
#[test]
fn texts_are_no_values() {
    for kind in [T::Char, T::Wchar, T::String, T::Wstring] {
        assert_eq!(value_of_text("'A'".encode_utf16(), kind), None);
        assert_eq!(text_length(kind).is_none(), kind.is_string());
    }
}

/// A text that finds no room is cut, with an event.
#[test]
fn long_texts_are_cut() {
    for to in [T::String, T::Wstring] {
        let mut write = pair(T::Int, to);
        write.capacity = 3;
        assert_eq!(write.write(-12345_i16 as u64), ("-12".to_owned(), vec!["string-cut"]));
        assert_eq!(write.write(123), ("123".to_owned(), Vec::new()));
    }
}

/// Every type converts to and from both strings.
#[test]
fn every_type_has_its_conversions() {
    for kind in T::ALL {
        for text in [T::String, T::Wstring] {
            assert!(conversion(*kind, text, false).is_some(), "{} to {}", kind.name(), text.name());
            assert!(conversion(text, *kind, false).is_some(), "{} to {}", text.name(), kind.name());
        }
    }
}

fn value_of(kind: T, bits: u64) -> u64 {
    match kind {
        T::Date | T::Ldate => (bits as i64 / DAY * DAY) as u64,
        T::TimeOfDay | T::LtimeOfDay => bits % DAY as u64,
        T::Real if f32::from_bits(bits as u32).is_nan() => u64::from(f32::NAN.to_bits()),
        T::Lreal if f64::from_bits(bits).is_nan() => f64::NAN.to_bits(),
        _ if kind.size() == Some(4) => bits & 0xFFFF_FFFF,
        _ => bits,
    }
}

/// Bits that reach every part of the range: all, few, the low ones only.
fn any_bits() -> impl Strategy<Value = u64> {
    prop_oneof![
        any::<u64>(),
        any::<u32>().prop_map(u64::from),
        (any::<u64>(), 0..64_u32).prop_map(|(bits, by)| bits >> by)
    ]
}

proptest! {
    #[test]
    fn long_values_there_and_back(samples in prop::collection::vec(any_bits(), 64)) {
        for kind in T::ALL.iter().filter(|kind| kind.size().is_some_and(|size| size >= 4)) {
            let mut both = Both::new(*kind);
            for bits in &samples {
                let bits = value_of(*kind, *bits);
                let text = both.there_and_back(bits);
                let wanted = match kind {
                    T::Dint => (bits as i32).to_string(),
                    T::Lint => (bits as i64).to_string(),
                    T::Udint | T::Ulint => bits.to_string(),
                    T::Dword => format!("16#{bits:08X}"),
                    T::Lword => format!("16#{bits:016X}"),
                    _ => continue,
                };
                prop_assert_eq!(text, wanted);
            }
        }
    }

    /// Rust reads what is written as a real to the same bits.
    #[test]
    fn rust_reads_reals(bits in any::<u64>()) {
        let long = f64::from_bits(bits);
        prop_assume!(long.is_finite());
        let text = pair(T::Lreal, T::String).write(bits).0;
        prop_assert_eq!(text.parse::<f64>().expect("a number").to_bits(), bits);
        prop_assert!(text.contains('.'));
        // Any way to write the number is read alike.
        let mut read = pair(T::String, T::Lreal);
        let exact = format!("{long:.400}");
        if exact.len() < 900 {
            prop_assert_eq!(read.read(&exact).0, exact.parse::<f64>().expect("a number").to_bits());
        }
        let short = f32::from_bits(bits as u32);
        if short.is_finite() {
            let text = pair(T::Real, T::String).write(u64::from(bits as u32)).0;
            prop_assert_eq!(text.parse::<f32>().expect("a number").to_bits(), bits as u32);
        }
    }

    /// No text stops the run or hangs it.
    #[test]
    fn any_text_is_read(text in "[-+0-9_#.:A-Za-z ]{0,30}|[T#0-9dhmsun._-]{0,30}|\\PC{0,20}") {
        let codes: Vec<u16> = text.encode_utf16().collect();
        for kind in T::ALL.iter().filter(|kind| kind.size().is_some()) {
            let (bits, events) = pair(T::Wstring, *kind).read_codes(&codes);
            if !events.is_empty() && !kind.is_char() {
                prop_assert_eq!((bits, events), (0, vec!["conversion"]));
            }
        }
    }
}
