//! Folders of submissions as they are handed in: files, folders, their names and what is read of them.

use super::{super::*, *};

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().unwrap()
}

#[test]
fn files_and_folders_are_one_submission_each_in_the_order_of_ids() {
    let class = folder();
    put(class.path(), "cora.st", PROGRAM);
    put(class.path(), "ben/main.ST", PROGRAM);
    put(class.path(), "ben/blocks/valve.IL", PROGRAM);
    put(class.path(), "ana.tar.st", PROGRAM);
    fs::create_dir(class.path().join("dan")).unwrap();
    let all = read_all(class.path(), &IntakeOptions::default());
    assert_eq!(ids(&all), ["ana.tar", "ben", "cora", "dan"]);
    assert_eq!(file_names(&all[0]), ["ana.tar.st"]);
    assert_eq!(file_names(&all[1]), ["blocks/valve.IL", "main.ST"]);
    assert_eq!(all[2].files[0].text, PROGRAM);
    assert_eq!(all[2].files[0].bytes, PROGRAM.len() as u64);
    assert!(all[..3].iter().all(|one| one.outcome == Outcome::Read && one.problems.is_empty()), "{all:?}");
    assert_eq!(all[3].outcome, Outcome::NothingHandedIn);
    assert_eq!(problem_names(&all[3]), ["nothing-handed-in"]);
}

#[test]
fn what_holds_no_program_is_left_out_with_a_reason() {
    let class = folder();
    put(class.path(), "ana/main.st", PROGRAM);
    put(class.path(), "ana/sketch.pdf", "%PDF-1.7");
    put(class.path(), "ana/photo.png", b"\x89PNG\r\n\x1a\n\0\0");
    put(class.path(), "ana/__MACOSX/._main.st", "x");
    put(class.path(), "ana/.git/config", "x");
    put(class.path(), "ana/Thumbs.db", "x");
    put(class.path(), "ana/old.zip", "x");
    put(class.path(), ".DS_Store", "x");
    let options = IntakeOptions::default();
    let listed = Class::list(class.path(), &options).unwrap();
    assert_eq!(listed.left_out(), [LeftOut { name: ".DS_Store".into(), why: "hidden".into() }]);
    let ana = listed.read(0).unwrap();
    assert_eq!(file_names(&ana), ["main.st"]);
    assert_eq!(left_out_names(&ana), [".git", "Thumbs.db", "__MACOSX", "old.zip", "photo.png", "sketch.pdf"]);
    assert!(ana.problems.is_empty());
}

#[test]
fn text_files_count_where_they_declare_something_or_nothing_else_does() {
    let class = folder();
    put(class.path(), "a-note/main.st", PROGRAM);
    put(class.path(), "a-note/readme.txt", "The end_ of the lane. I used a timer.");
    put(class.path(), "b-part/main.st", PROGRAM);
    put(class.path(), "b-part/block.TXT", "type T : BOOL; end_Type");
    put(class.path(), "c-only/program.txt", PROGRAM);
    put(class.path(), "c-only/note.txt", "hello");
    put(class.path(), "d-broken/half.txt", "Pump := Start");
    put(class.path(), "e-large/main.st", PROGRAM);
    put(class.path(), "f-large/a-log.txt", "so it went\n".repeat(20_000));
    put(class.path(), "f-large/b-log.txt", "so it went\n".repeat(100_000));
    put(class.path(), "f-large/program.txt", PROGRAM.repeat(3000));
    put(class.path(), "g-bad/main.st", b"PROGRAM\0");
    put(class.path(), "g-bad/readme.txt", "Read main.st");
    put(class.path(), "h-over/half.txt", "so it went\n".repeat(20_000));
    put(class.path(), "h-over/other half.txt", "so it went\n".repeat(20_000));
    put(class.path(), "e-large/log.txt", "so it went\n".repeat(100_000));
    let all = read_all(class.path(), &IntakeOptions::default());
    let names: Vec<Vec<&str>> = all.iter().map(file_names).collect();
    let expected: [&[&str]; 8] = [
        &["main.st"],
        &["block.TXT", "main.st"],
        &["program.txt"],
        &["half.txt"],
        &["main.st"],
        &["program.txt"],
        &[],
        &["half.txt", "other half.txt"],
    ];
    assert_eq!(names, expected);
    assert!(all[..6].iter().all(|one| one.outcome == Outcome::Read));
    assert_eq!((all[6].outcome, all[7].outcome), (Outcome::Unreadable, Outcome::OverBudget));
    assert_eq!(left_out_names(&all[6]), ["main.st", "readme.txt"]);
    assert_eq!(left_out_names(&all[0]), ["readme.txt"]);
    assert_eq!(left_out_names(&all[4]), ["log.txt"]);
}

#[test]
fn without_a_program_by_name_every_text_is_one() {
    let class = folder();
    put(class.path(), "ana/LiftPump", PROGRAM);
    put(class.path(), "ana/photo.jpg", b"\xff\xd8\xff\xe0");
    put(class.path(), "ana/control.bin", b"ab\x01\x02");
    put(class.path(), "ben.docx", b"PK\x03\x04\0\0");
    let all = read_all(class.path(), &IntakeOptions::default());
    assert_eq!(file_names(&all[0]), ["LiftPump"]);
    assert_eq!(left_out_names(&all[0]), ["control.bin", "photo.jpg"]);
    assert!(all[0].problems.is_empty());
    assert_eq!(all[1].outcome, Outcome::NoProgram);
    assert_eq!(problem_names(&all[1]), ["no-program-file"]);
    assert_eq!(left_out_names(&all[1]), ["ben.docx"]);
}

#[test]
fn a_program_that_is_no_text_is_told_and_the_others_are_read() {
    let class = folder();
    put(class.path(), "ana/main.st", PROGRAM);
    put(class.path(), "ana/second.st", b"PROGRAM\0\0\0x");
    put(class.path(), "ben/main.st", b"{\\rtf1 PROGRAM}");
    let all = read_all(class.path(), &IntakeOptions::default());
    assert_eq!((all[0].outcome, problem_names(&all[0])), (Outcome::Read, vec!["no-text"]));
    assert_eq!(all[0].problems[0].message, "`second.st` was not read: no text: it holds zero bytes");
    assert_eq!(
        (all[1].outcome, problem_names(&all[1])),
        (Outcome::Unreadable, vec!["no-program-file", "no-text"])
    );
    assert!(all[1].problems[1].message.contains("word processor"));
}

#[test]
fn encodings_are_read_and_told() {
    let class = folder();
    let text = "(* Füllstand 5 € *)";
    let little: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
    let big: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
    put(class.path(), "a.st", text);
    put(class.path(), "b.st", [b"\xef\xbb\xbf", text.as_bytes()].concat());
    put(class.path(), "c.st", [b"\xff\xfe", little.as_slice()].concat());
    put(class.path(), "d.st", [b"\xfe\xff", big.as_slice()].concat());
    put(class.path(), "e.st", little);
    put(class.path(), "f.st", big);
    put(class.path(), "g.st", b"(* F\xfcllstand 5 \x80 *)");
    let all = read_all(class.path(), &IntakeOptions::default());
    assert!(all.iter().all(|one| one.files[0].text == text && one.outcome == Outcome::Read), "{all:#?}");
    let names: Vec<&str> = all.iter().map(|one| one.files[0].encoding.name()).collect();
    assert_eq!(names, ["UTF-8", "UTF-8", "UTF-16", "UTF-16", "UTF-16", "UTF-16", "Latin-1"]);
    assert!(all[..2].iter().all(|one| one.problems.is_empty()));
    assert!(all[2..].iter().all(|one| problem_names(one) == ["encoding"]));
    assert!(all[6].problems[0].message.contains("save it as UTF-8"));
    assert_eq!(all[6].problems[0].severity, Gravity::Note);
}

#[test]
fn reading_stops_at_the_budget() {
    let class = folder();
    let budget = Budget { text_bytes: 100, files: 2 };
    put(class.path(), "a/one.st", "x".repeat(60));
    put(class.path(), "a/two.st", "x".repeat(40));
    put(class.path(), "b/one.st", "x".repeat(60));
    put(class.path(), "b/two.st", "x".repeat(41));
    for number in 0..3 {
        put(class.path(), &format!("c/{number}.st"), "x");
    }
    let all = read_all(class.path(), &IntakeOptions { budget, ..IntakeOptions::default() });
    assert_eq!((all[0].outcome, all[0].problems.len()), (Outcome::Read, 0));
    for over in &all[1..] {
        assert_eq!((over.outcome, problem_names(over)), (Outcome::OverBudget, vec!["over-budget"]));
        assert!(over.files.iter().all(|file| file.text.is_empty()));
    }
    assert!(all[1].problems[0].message.contains("100 bytes"));
    assert!(all[2].problems[0].message.contains("3 files were handed in; this exercise takes 2"));
}

#[test]
fn names_that_differ_in_case_alone_are_both_read_and_told() {
    let class = folder();
    put(class.path(), "ana/Main.st", PROGRAM);
    put(class.path(), "ana/main.st", PROGRAM);
    let ana = read_one(class.path());
    // On a file system without case there is one file.
    if ana.files.len() == 2 {
        assert_eq!(problem_names(&ana), ["similar-names"]);
    }
}

#[test]
fn the_digest_changes_with_whatever_is_read_and_only_with_it() {
    let class = folder();
    let digest = || read_one(class.path()).digest;
    put(class.path(), "ana/main.st", PROGRAM);
    let first = digest();
    assert_eq!(first.len(), 64);
    assert_eq!(first, digest());
    put(class.path(), "ana/main.st", "\u{feff}".to_string() + PROGRAM);
    let marked = digest();
    assert_ne!(first, marked);
    put(class.path(), "ana/other.st", "");
    let two = digest();
    assert_ne!(marked, two);
    fs::rename(class.path().join("ana/other.st"), class.path().join("ana/another.st")).unwrap();
    assert_ne!(two, digest());
    fs::remove_file(class.path().join("ana/another.st")).unwrap();
    put(class.path(), "ana/main.st", PROGRAM);
    assert_eq!(first, digest());
    fs::rename(class.path().join("ana"), class.path().join("ben")).unwrap();
    assert_eq!(first, digest());
}

#[test]
fn a_class_that_cannot_be_listed_is_a_failure() {
    let place = folder();
    let list = |name: &str| Class::list(&place.path().join(name), &IntakeOptions::default()).unwrap_err();
    assert!(list("missing").message.contains("there is no such file"));
    put(place.path(), "class.zip", "no zip");
    let failure = list("class.zip");
    assert!(failure.message.contains("the zip is damaged"), "{}", failure.message);
    assert_eq!(failure.exit, crate::exit::Exit::Usage);
    fs::create_dir(place.path().join("empty")).unwrap();
    assert_eq!(list("empty").exit, crate::exit::Exit::Nothing);
}

#[test]
fn the_class_of_the_samples_is_read_whole() {
    let class = Path::new(env!("CARGO_MANIFEST_DIR")).join("../samples/exercises/tray-watering/submissions");
    let all = read_all(&class, &IntakeOptions::default());
    assert!(all.len() >= 60);
    assert!(all.iter().all(|one| one.outcome == Outcome::Read && one.problems.is_empty()), "{all:#?}");
    let entries: usize = fs::read_dir(&class).unwrap().count();
    assert_eq!(all.len(), entries);
    let folders: Vec<&str> =
        all.iter().filter(|one| one.files.len() > 1).map(|one| one.student.id.as_str()).collect();
    assert_eq!(folders, ["s11", "s18"]);
}

#[test]
fn what_was_named_as_no_submission_is_none() {
    let class = folder();
    put(class.path(), "ana.st", PROGRAM);
    put(class.path(), "results/feedback/ana.html", "x");
    put(class.path(), "roster.csv", "student\nana\n");
    let roster = Roster::read(&class.path().join("roster.csv")).unwrap();
    let options = IntakeOptions {
        roster: Some(roster),
        besides: vec![class.path().join("./results")],
        ..IntakeOptions::default()
    };
    let listed = Class::list(class.path(), &options).unwrap();
    assert_eq!((listed.len(), listed.problems()), (1, &[] as &[Problem]));
    assert_eq!(listed.left_out().len(), 2);
}
