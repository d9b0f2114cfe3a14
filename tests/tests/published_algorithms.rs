//! Published algorithms in Structured Text and Instruction List: each sample finds the values that its source gives, both
//! languages agree, and on other inputs the results are those of general-purpose libraries.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a failing test may panic")]

use std::{fmt::Write as _, fs};

use latchwork_compiler::compile;
use latchwork_grammar::Sources;
use latchwork_tests::workbench::{program, sample, samples, text};
use latchwork_vm::{EventKind, Machine, Resolved, Value};
use md5::{Digest, Md5};
use proptest::{collection::vec, prelude::*};
use sha2::Sha256;
use time::{Date, Month};

const FOLDER: &str = "published-algorithms";

/// Scans that the longest sample may take to find its values.
const SCANS_MAX: i64 = 200;

const SCAN_NS: i64 = 10_000_000;

/// A sample that runs.
struct Running {
    machine: Machine,
    /// Name of its program.
    program: String,
    scans: i64,
}

impl Running {
    fn new(file: &str) -> Self {
        Self::with_source(&sample(&format!("{FOLDER}/{file}")).unwrap(), file)
    }

    fn with_source(source: &str, file: &str) -> Self {
        let program = program(source).unwrap_or_else(|problems| panic!("{file}: {problems}"));
        let name = source.lines().find_map(|line| line.strip_prefix("PROGRAM ")).unwrap().to_owned();
        Self { machine: Machine::new(program), program: name, scans: 0 }
    }

    /// One that leaves out its own check.
    fn examined(file: &str) -> Self {
        let mut running = Self::new(file);
        running.set("Finished", 1);
        running
    }

    fn variable(&self, name: &str) -> Resolved {
        let path = format!("{}.{name}", self.program);
        self.machine.program().resolve(&path).unwrap_or_else(|error| panic!("{path}: {error}"))
    }

    fn value(&self, name: &str) -> Value {
        self.machine.read(&self.variable(name))
    }

    /// The number that a variable of an integer or bit string type holds.
    fn number(&self, name: &str) -> i64 {
        match self.value(name) {
            Value::Bool(value) => i64::from(value),
            Value::Signed(value, _) => value,
            Value::Unsigned(value, _) | Value::Bits(value, _) => value.try_into().unwrap(),
            other => panic!("{name} is {other}"),
        }
    }

    /// Sets a variable of an integer, bit string or Boolean type.
    fn set(&mut self, name: &str, number: i64) {
        let variable = self.variable(name);
        let value = match self.machine.read(&variable) {
            Value::Bool(_) => Value::Bool(number != 0),
            Value::Signed(_, kind) => Value::Signed(number, kind),
            Value::Unsigned(_, kind) => Value::Unsigned(number.try_into().unwrap(), kind),
            Value::Bits(_, kind) => Value::Bits(number.try_into().unwrap(), kind),
            other => panic!("{name} is {other}"),
        };
        self.machine.write(&variable, &value).unwrap();
    }

    /// Sets an array that begins at 1, and the number of its elements that count.
    fn set_bytes(&mut self, array: &str, bytes: &[u8]) {
        for (place, byte) in bytes.iter().enumerate() {
            self.set(&format!("{array}[{}]", place + 1), i64::from(*byte));
        }
        self.set("Length", bytes.len().try_into().unwrap());
    }

    fn scan(&mut self) {
        self.machine.scan(self.scans * SCAN_NS).unwrap_or_else(|fault| panic!("{}: {fault:?}", self.program));
        self.scans += 1;
    }

    /// Runs until all published values were tried; how many were missed.
    fn missed(&mut self) -> i64 {
        while self.number("Finished") == 0 {
            assert!(self.scans < SCANS_MAX, "{} does not finish", self.program);
            self.scan();
        }
        self.number("Failed")
    }
}

/// The samples by their file names.
fn files() -> Vec<String> {
    let entries = fs::read_dir(samples().join(FOLDER)).unwrap();
    let mut files: Vec<_> = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    files.sort();
    files
}

/// One sample in each language that it is written in.
fn both_languages(name: &str) -> Vec<Running> {
    ["st", "il"].iter().map(|language| Running::examined(&format!("{name}.{language}"))).collect()
}

#[test]
fn each_sample_finds_its_published_values() {
    let files = files();
    let written_in = |language: &str| files.iter().filter(|file| file.ends_with(language)).count();
    assert_eq!((written_in(".st"), written_in(".il")), (8, 4), "{files:?}");
    for file in &files {
        let mut running = Running::new(file);
        assert_eq!(running.missed(), 0, "{file}");
        let events: Vec<_> =
            EventKind::ALL.iter().filter(|kind| running.machine.events().count(**kind) > 0).collect();
        assert!(events.is_empty(), "{file}: {events:?}");
    }
}

#[test]
fn no_sample_has_a_warning() {
    for file in files() {
        let mut sources = Sources::new();
        sources.add(file.as_str(), sample(&format!("{FOLDER}/{file}")).unwrap().as_str());
        let compiled = compile(&sources);
        assert!(compiled.diagnostics.is_empty(), "{}", text(&compiled.diagnostics, &sources));
    }
}

/// The published values decide: a slip in any algorithm is noticed by the program itself.
#[test]
fn a_slip_is_noticed() {
    let slips = [
        ("meter-telegram.st", "16#A001", "16#A003"),
        ("meter-telegram.il", "LD    8\n", "LD    7\n"),
        ("day-archive.st", "16#BDBD_F21C", "16#BDBD_F21D"),
        ("sealed-log.st", "XOR SHR(Mixed, 3)", "XOR ROR(Mixed, 3)"),
        ("recipe-fingerprint.st", "(3 * Number + 5)", "(3 * Number + 6)"),
        ("spray-order.st", "16807;", "16805;"),
        ("spray-order.il", "2836;", "2837;"),
        ("tray-number.st", "Digit - 9", "Digit - 10"),
        ("tray-number.il", "STN   Twice", "ST    Twice"),
        ("watering-week.st", "4 - Weekday", "3 - Weekday"),
        ("vent-position.st", "SHR(FromGray, 8)", "SHR(FromGray, 7)"),
        ("vent-position.il", "SHR   4", "SHR   3"),
    ];
    assert_eq!(slips.len(), files().len());
    for (file, right, wrong) in slips {
        let source = sample(&format!("{FOLDER}/{file}")).unwrap();
        assert!(source.contains(right), "{file}: {right}");
        let mut running = Running::with_source(&source.replacen(right, wrong, 1), file);
        assert!(running.missed() > 0, "{file}: {wrong}");
    }
}

proptest! {
    #[test]
    fn telegrams_are_checked_as_a_library_does(telegrams in vec(vec(any::<u8>(), 0..=64), 8)) {
        let library = crc::Crc::<u16>::new(&crc::CRC_16_MODBUS);
        for mut running in both_languages("meter-telegram") {
            for telegram in &telegrams {
                running.set_bytes("Telegram", telegram);
                running.scan();
                prop_assert_eq!(running.number("Check"), i64::from(library.checksum(telegram)));
            }
        }
    }

    #[test]
    fn archives_are_checked_as_a_library_does(archives in vec(vec(any::<u8>(), 0..=200), 8)) {
        let library = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC);
        let mut running = Running::examined("day-archive.st");
        for archive in &archives {
            running.set_bytes("Data", archive);
            running.scan();
            prop_assert_eq!(running.number("Check"), i64::from(library.checksum(archive)));
        }
    }

    /// Each value is the one that 64-bit arithmetic gives.
    #[test]
    fn draws_follow_the_definition(seed in 1..0x7FFF_FFFF_i64) {
        for mut running in both_languages("spray-order") {
            running.set("Lot.Value", seed);
            let mut wanted = seed;
            for _ in 0..50 {
                running.scan();
                wanted = wanted * 16807 % 0x7FFF_FFFF;
                prop_assert_eq!(running.number("Value"), wanted);
                prop_assert_eq!(running.number("Bed"), wanted % 6 + 1);
            }
        }
    }

    /// The digit that completes a number is the one of ten that makes it valid.
    #[test]
    fn numbers_have_one_check_digit(number in "[0-9]{1,31}", stray in "[ -/:-~]", place in any::<prop::sample::Index>()) {
        for mut running in both_languages("tray-number") {
            let digit = luhn(&mut running, &number).1;
            prop_assert!((0..=9).contains(&digit), "{} gives {}", number, digit);
            for last in 0..=9 {
                let (valid, _) = luhn(&mut running, &format!("{number}{last}"));
                prop_assert_eq!(valid, last == digit);
                prop_assert_eq!(valid, luhn_by_table(&format!("{number}{last}")));
            }
            let mut spoilt = number.clone();
            spoilt.insert_str(place.index(number.len()), &stray);
            prop_assert_eq!(luhn(&mut running, &spoilt), (false, -1));
            prop_assert_eq!(luhn(&mut running, ""), (false, -1));
        }
    }

    #[test]
    fn gray_code_leads_there_and_back(position in any::<u16>(), tracks in any::<u16>()) {
        for mut running in both_languages("vent-position") {
            running.set("Wanted", i64::from(position));
            running.set("Tracks", i64::from(tracks));
            running.scan();
            prop_assert_eq!(running.number("WantedTracks"), i64::from(position ^ position >> 1));
            let back = u16::try_from(running.number("Position")).unwrap();
            prop_assert_eq!(back ^ back >> 1, tracks);
        }
    }
}

/// Whether a number is valid, and the digit to append.
fn luhn(running: &mut Running, number: &str) -> (bool, i64) {
    let variable = running.variable("Number");
    running.machine.write(&variable, &Value::String(number.as_bytes().to_vec())).unwrap();
    running.scan();
    (running.number("Valid") != 0, running.number("Missing"))
}

/// The method of ISO/IEC 7812-1 with the doubled digits in a table.
fn luhn_by_table(number: &str) -> bool {
    const DOUBLED: [u32; 10] = [0, 2, 4, 6, 8, 1, 3, 5, 7, 9];
    let digits = number.chars().rev().map(|digit| digit.to_digit(10).unwrap());
    let sum: u32 = digits
        .enumerate()
        .map(|(place, digit)| if place % 2 == 1 { DOUBLED[digit as usize] } else { digit })
        .sum();
    sum.is_multiple_of(10)
}

/// Lengths at which the last block changes, and some others.
fn messages() -> impl Strategy<Value = Vec<Vec<u8>>> {
    let length =
        prop_oneof![prop::sample::select(vec![0_usize, 55, 56, 63, 64, 65, 119, 120, 128]), 0..=200_usize];
    vec(length.prop_flat_map(|length| vec(any::<u8>(), length)), 4)
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

proptest! {
    #[test]
    fn seals_are_those_of_a_library(messages in messages()) {
        let mut running = Running::examined("sealed-log.st");
        for message in &messages {
            running.set_bytes("Entry", message);
            running.scan();
            let wanted = hexadecimal(&Sha256::digest(message));
            prop_assert_eq!(running.value("Seal").to_string(), format!("'{wanted}'"));
        }
    }

    #[test]
    fn fingerprints_are_those_of_a_library(messages in messages()) {
        let mut running = Running::examined("recipe-fingerprint.st");
        for message in &messages {
            running.set_bytes("Recipe", message);
            running.scan();
            let wanted = hexadecimal(&Md5::digest(message));
            prop_assert_eq!(running.value("Fingerprint").to_string(), format!("'{wanted}'"));
        }
    }
}

/// Every day of two centuries, and the days at both ends of what DATE holds.
#[test]
fn weeks_are_those_of_a_library() {
    let day = |year, month, day| Date::from_calendar_date(year, month, day).unwrap().to_julian_day();
    let centuries = day(1900, Month::January, 1)..=day(2100, Month::December, 31);
    let first = day(1677, Month::September, 22)..=day(1680, Month::January, 10);
    let last = day(2260, Month::December, 20)..=day(2262, Month::April, 11);
    let mut running = Running::examined("watering-week.st");
    for number in first.chain(centuries).chain(last) {
        let date = Date::from_julian_day(number).unwrap();
        let (year, week, weekday) = date.to_iso_week_date();
        running.set("Year", i64::from(date.year()));
        running.set("Month", i64::from(u8::from(date.month())));
        running.set("Day", i64::from(date.day()));
        running.scan();
        let seen = (running.number("WeekYear"), running.number("Week"), running.number("Weekday"));
        let wanted = (i64::from(year), i64::from(week), i64::from(weekday.number_from_monday()));
        assert_eq!(seen, wanted, "{date}");
    }
}

#[test]
fn what_is_no_date_has_no_week() {
    let mut running = Running::examined("watering-week.st");
    for (year, month, day) in [(2023, 2, 29), (2024, 13, 1), (2024, 0, 1), (2024, 4, 31), (2024, 1, 0)] {
        running.set("Year", year);
        running.set("Month", month);
        running.set("Day", day);
        running.scan();
        assert_eq!((running.number("Week"), running.number("WeekYear")), (0, 0), "{year}-{month}-{day}");
    }
}
