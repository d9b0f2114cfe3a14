//! Zips made to climb out, to fill the memory, to hang or to lie.

use std::time::{Duration, Instant};

use proptest::prelude::*;

use super::{
    super::{archive::Archive, limits::CLASS_ZIP_ENTRIES_MAX, *},
    bytes::{RawEntry, deflated, end_of_large, stored, zeros, zip},
    *,
};

/// Reads a zip as the only submission of a class.
fn submit(bytes: &[u8]) -> Submission {
    read_class(&zip(&[stored("ana.zip", bytes)])).unwrap().remove(0)
}

/// Lists a zip as that of a class and reads all of it.
fn read_class(bytes: &[u8]) -> Option<Vec<Submission>> {
    let archive = Archive::in_memory(bytes.to_vec(), CLASS_ZIP_ENTRIES_MAX).ok()?;
    let class = Class::of_zip(archive, &IntakeOptions::default(), Path::new("class.zip")).ok()?;
    Some((0..class.len()).map(|index| class.read(index).unwrap()).collect())
}

/// What holds of everything that is read.
fn lawful(submission: &Submission) {
    let bytes: u64 = submission.files.iter().map(|file| file.bytes).sum();
    assert!(bytes <= Budget::default().text_bytes);
    assert!(submission.left_out.len() <= 51 && submission.problems.len() <= 51);
    assert_eq!(
        submission.outcome == Outcome::Read,
        submission.problems.iter().all(|one| one.severity != Gravity::Error)
    );
    assert!(submission.files.is_sorted_by(|one, other| one.name < other.name));
}

#[test]
fn names_that_lead_out_of_the_zip_are_not_read() {
    let names = [
        "../../x.st",
        "a/../../x.st",
        "a/..",
        "/etc/x.st",
        "C:\\x.st",
        "c:x.st",
        "\\\\server\\x.st",
        "..\\x.st",
        "a/\0/x.st",
        "./",
        "",
    ];
    let mut entries: Vec<RawEntry> = names.iter().map(|name| stored(name, PROGRAM)).collect();
    entries.push(stored("main.st", PROGRAM));
    entries.push(stored(".\\win//dows\\main.st", PROGRAM));
    let ana = submit(&zip(&entries));
    assert_eq!(file_names(&ana), ["main.st", "win/dows/main.st"]);
    assert_eq!(problem_names(&ana), vec!["climbing-name"; names.len()]);
    // In the zip of a class nobody knows whose they are.
    let place = tempfile::tempdir().unwrap();
    put(place.path(), "class.zip", zip(&entries));
    let class = Class::list(&place.path().join("class.zip"), &IntakeOptions::default()).unwrap();
    assert_eq!((class.len(), class.problems().len(), class.left_out().len()), (2, names.len(), names.len()));
}

#[test]
fn links_and_devices_are_not_followed() {
    let kinds = [0o120_777, 0o010_644, 0o020_644, 0o060_644, 0o140_644];
    let entries: Vec<RawEntry> = kinds
        .iter()
        .enumerate()
        .map(|(number, mode)| RawEntry { mode: *mode, ..stored(format!("{number}.st"), "/etc/passwd") })
        .collect();
    let ana = submit(&zip(&entries));
    let expected =
        ["no-program-file", "special-file", "special-file", "special-file", "special-file", "symbolic-link"];
    assert_eq!((ana.outcome, problem_names(&ana)), (Outcome::Unreadable, expected.to_vec()));
}

#[test]
fn what_cannot_be_unpacked_is_told_in_its_own_words() {
    let cases = [
        ("zip-encrypted", RawEntry { flags: 1, ..stored("b.st", PROGRAM) }),
        ("zip-method", RawEntry { method: 14, ..stored("b.st", PROGRAM) }),
        ("zip-damaged", RawEntry { crc: 1, ..stored("b.st", PROGRAM) }),
        ("zip-damaged", RawEntry { size: 3, ..stored("b.st", PROGRAM) }),
        ("zip-damaged", RawEntry { size: 3, ..deflated("b.st", PROGRAM) }),
        ("zip-damaged", RawEntry { data: vec![0xff; 40], ..deflated("b.st", PROGRAM) }),
        ("zip-damaged", RawEntry { packed: Some(9), ..stored("b.st", PROGRAM) }),
        ("zip-overlap", RawEntry { packed: Some(1000), ..stored("b.st", PROGRAM) }),
        ("zip-damaged", RawEntry { offset: Some(7), ..stored("b.st", PROGRAM) }),
        ("name-too-long", stored([b"n".repeat(4096), b".st".to_vec()].concat(), PROGRAM)),
        ("too-deep", stored("d/".repeat(50) + "b.st", PROGRAM)),
    ];
    for (expected, bad) in cases {
        let ana = submit(&zip(&[stored("a.st", PROGRAM), bad.clone()]));
        assert_eq!((file_names(&ana), problem_names(&ana)), (vec!["a.st"], vec![expected]), "{bad:?}");
        lawful(&ana);
    }
}

#[test]
fn more_than_the_declared_size_does_no_harm() {
    let ana = submit(&zip(&[RawEntry { size: u32::MAX - 1, ..deflated("main.st", PROGRAM) }]));
    assert_eq!((ana.outcome, ana.files[0].text.as_str()), (Outcome::Read, PROGRAM));
}

#[test]
fn bombs_cost_no_more_than_the_budget() {
    let begun = Instant::now();
    let bomb = zip(&[zeros("main.st", 10_000)]);
    assert!(bomb.len() < 12_000_000, "{}", bomb.len());
    let ana = submit(&bomb);
    // What is read of it is zeros.
    assert_eq!((ana.outcome, problem_names(&ana)), (Outcome::Unreadable, vec!["no-program-file", "no-text"]));
    // A zip of a bomb, and a bomb that would be a zip.
    let all =
        read_class(&zip(&[deflated("ana.zip", &bomb), zeros("ben.zip", 10_000), stored("cora.st", PROGRAM)]));
    let outcomes: Vec<(Outcome, Vec<&str>)> =
        all.as_ref().unwrap().iter().map(|one| (one.outcome, problem_names(one))).collect();
    assert_eq!(
        outcomes,
        [
            (Outcome::Unreadable, vec!["no-program-file", "no-text"]),
            (Outcome::Unreadable, vec!["no-program-file", "zip-too-large"]),
            (Outcome::Read, vec![]),
        ]
    );
    // Text that becomes large is over the budget.
    let long = submit(&zip(&[deflated("main.st", "x".repeat(3_000_000))]));
    assert_eq!((long.outcome, long.files[0].bytes), (Outcome::OverBudget, Budget::default().text_bytes));
    assert!(begun.elapsed() < Duration::from_secs(60));
}

#[test]
fn many_bombs_cost_no_more_than_is_read_of_a_submission() {
    // Each of them alone is within what a zip may have.
    let bomb = zeros("", 30);
    let mut entries: Vec<RawEntry> = (0..900)
        .map(|number| RawEntry { name: format!("ana/{number}.zip").into_bytes(), ..bomb.clone() })
        .collect();
    entries.push(stored("ben.st", PROGRAM));
    let all = read_class(&zip(&entries)).unwrap();
    let ana = &all[0];
    assert_eq!(ana.outcome, Outcome::Unreadable);
    assert!(problem_names(ana).contains(&"too-much-to-read"), "{:?}", problem_names(ana));
    lawful(ana);
}

#[test]
fn overlapping_entries_are_refused_and_the_others_read() {
    let first = stored("a.st", PROGRAM);
    let shared = RawEntry { offset: Some(0), ..first.clone() };
    let mut entries = vec![first, RawEntry { name: b"b.st".to_vec(), data: Vec::new(), ..shared }];
    entries.push(stored("c.st", PROGRAM));
    let ana = submit(&zip(&entries));
    assert_eq!((file_names(&ana), problem_names(&ana)), (vec!["c.st"], vec!["zip-overlap"; 2]));
    // One that holds the headers of many others in it.
    let inner = zip(&[stored("x.st", PROGRAM), stored("y.st", PROGRAM)]);
    let outer = RawEntry { name: b"o.st".to_vec(), ..stored("o.st", &inner) };
    let quoted =
        RawEntry { name: b"x.st".to_vec(), offset: Some(34), data: Vec::new(), ..stored("x.st", PROGRAM) };
    let ana = submit(&zip(&[outer, quoted]));
    assert_eq!(
        (ana.outcome, problem_names(&ana)),
        (Outcome::Unreadable, vec!["no-program-file", "zip-overlap", "zip-overlap"])
    );
}

#[test]
fn of_the_same_name_the_last_counts() {
    let ana =
        submit(&zip(&[stored("main.st", "old"), stored("main.st", PROGRAM), stored("MAIN.st", PROGRAM)]));
    assert_eq!(file_names(&ana), ["MAIN.st", "main.st"]);
    assert_eq!(ana.files[1].text, PROGRAM);
    assert_eq!(problem_names(&ana), ["same-name", "similar-names"]);
}

#[test]
fn a_hundred_thousand_entries_are_counted_not_read() {
    let begun = Instant::now();
    let entries: Vec<RawEntry> = (0..100_001).map(|number| stored(format!("ana/{number}.st"), "")).collect();
    let ana = submit(&zip(&entries));
    assert_eq!((ana.outcome, problem_names(&ana)), (Outcome::OverBudget, vec!["too-many-entries"]));
    assert!(read_class(&zip(&entries)).is_none());
    let two = [&entries[2..], &[stored("ben.st", PROGRAM)]].concat();
    let all = read_class(&zip(&two)).unwrap();
    assert_eq!((ids(&all), all[1].outcome), (vec!["ana", "ben"], Outcome::Read));
    assert_eq!(problem_names(&all[0]), ["too-many-entries"]);
    let submissions: Vec<RawEntry> = (0..10_001).map(|number| stored(format!("{number}.st"), "")).collect();
    assert!(read_class(&zip(&submissions)).is_none());
    assert_eq!(read_class(&zip(&submissions[1..])).unwrap().len(), 10_000);
    assert!(begun.elapsed() < Duration::from_secs(60));
}

#[test]
fn what_a_directory_says_reserves_no_memory() {
    // So many entries that their list would not fit into any memory, in a directory of the size that this takes.
    let mut bytes = zip(&[stored("main.st", PROGRAM)]);
    bytes.truncate(bytes.len() - 22);
    let start = bytes.len() as u32;
    end_of_large(&mut bytes, 1 << 40, start, u32::MAX);
    bytes.extend(b"PK\x05\x06\0\0\0\0\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\0\0");
    let ana = submit(&bytes);
    assert_eq!(ana.outcome, Outcome::Unreadable);
    // Names and remarks that fill memory.
    let entries: Vec<RawEntry> = (0..300)
        .map(|number| RawEntry {
            extra: [&[0xef, 0xbe, 0xfc, 0xff][..], &vec![0; 0xfffc]].concat(),
            comment: vec![b'c'; 0xffff],
            ..stored(format!("{number}.st"), "")
        })
        .collect();
    assert!(read_class(&zip(&entries)).is_none());
}

#[test]
fn no_directory_is_searched_for() {
    // Beginnings of directories wherever one looks, and ends of zips that each point to another one.
    let begun = Instant::now();
    for (filling, end) in
        [(b"PK\x01\x02", &b""[..]), (b"PK\x06\x06", b"PK\x06\x07\0\0\0\0\x05\0\0\0\0\0\0\0\x01\0\0\0")]
    {
        let mut bytes = filling.repeat(6 << 20);
        for number in 0..1500_u16 {
            bytes.extend(end);
            bytes.extend(b"PK\x05\x06\0\0\0\0\xff\xff\xff\xff");
            bytes.extend([0xff; 4]);
            // Never at the beginning of one.
            bytes.extend((u32::from(number) * 4 + 1).to_le_bytes());
            bytes.extend([0; 2]);
        }
        assert_eq!(problem_names(&submit(&bytes)), ["no-program-file", "zip-damaged"]);
    }
    assert!(begun.elapsed() < Duration::from_secs(4), "{:?}", begun.elapsed());
    let behind = [b"something else", zip(&[stored("main.st", PROGRAM)]).as_slice()].concat();
    assert_eq!(problem_names(&submit(&behind)), ["no-program-file", "zip-damaged"]);
}

#[test]
fn zips_of_too_many_bytes_are_not_opened() {
    let class = tempfile::tempdir().unwrap();
    let path = class.path().join("ana.zip");
    // Holes: they take no room on the disk.
    fs::File::create(&path).unwrap().set_len(33 << 20).unwrap();
    let ana = read_one(class.path());
    assert_eq!(
        (ana.outcome, problem_names(&ana)),
        (Outcome::Unreadable, vec!["no-program-file", "zip-too-large"])
    );
    fs::File::options().write(true).open(&path).unwrap().set_len(3 << 30).unwrap();
    let failure = Class::list(&path, &IntakeOptions::default()).unwrap_err();
    assert!(failure.message.contains("larger than 2048 MiB"), "{}", failure.message);
}

fn small_zip() -> Vec<u8> {
    let inner = zip(&[deflated("main.st", PROGRAM), stored("note.txt", "hello")]);
    zip(&[
        deflated("ana/main.st", PROGRAM),
        stored("ana/second.st", PROGRAM),
        stored("ben.zip", &inner),
        RawEntry { flags: 8, ..deflated("cora.st", PROGRAM) },
    ])
}

#[test]
fn a_zip_cut_off_anywhere_is_told_or_read() {
    let whole = small_zip();
    for length in 0..whole.len() {
        lawful(&submit(&whole[..length]));
        for submission in read_class(&whole[..length]).unwrap_or_default() {
            lawful(&submission);
        }
    }
}

#[test]
fn a_zip_with_any_byte_changed_is_told_or_read() {
    let whole = small_zip();
    for at in 0..whole.len() {
        for value in [0, 0xff, whole[at] ^ 1, whole[at] ^ 0x80] {
            let mut bytes = whole.clone();
            bytes[at] = value;
            lawful(&submit(&bytes));
            for submission in read_class(&bytes).unwrap_or_default() {
                lawful(&submission);
            }
        }
    }
}

proptest! {
    #[test]
    fn a_zip_with_random_slips_is_told_or_read(
        slips in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>(), 0..4_u8), 1..12),
    ) {
        let mut bytes = small_zip();
        for (at, value, kind) in slips {
            if bytes.is_empty() {
                break;
            }
            let at = at.index(bytes.len());
            match kind {
                0 => bytes[at] = value,
                1 => bytes.insert(at, value),
                2 => drop(bytes.remove(at)),
                _ => bytes.truncate(at.max(1)),
            }
        }
        lawful(&submit(&bytes));
        for submission in read_class(&bytes).unwrap_or_default() {
            lawful(&submission);
        }
    }

    #[test]
    fn any_bytes_between_the_records_of_a_zip_are_told_or_read(
        parts in prop::collection::vec(
            prop_oneof![
                prop::collection::vec(any::<u8>(), 0..40),
                Just(b"PK\x03\x04".to_vec()),
                Just(b"PK\x01\x02".to_vec()),
                Just(b"PK\x05\x06".to_vec()),
                Just(b"PK\x06\x06".to_vec()),
                Just(b"PK\x06\x07".to_vec()),
                Just(zip(&[stored("a.st", PROGRAM)])),
            ],
            0..20,
        ),
    ) {
        lawful(&submit(&parts.concat()));
    }
}
