//! Zips as they are handed in, and the zip of a whole class.

use std::thread;

use super::{
    super::*,
    bytes::{RawEntry, deflated, stored, zip},
    *,
};

fn folder(name: &str) -> RawEntry {
    RawEntry { mode: 0o040_755, ..stored(name, "") }
}

fn class_zip(entries: &[RawEntry]) -> (tempfile::TempDir, PathBuf) {
    let place = tempfile::tempdir().unwrap();
    let path = place.path().join("class.zip");
    fs::write(&path, zip(entries)).unwrap();
    (place, path)
}

#[test]
fn a_zip_in_a_folder_is_one_submission() {
    let class = tempfile::tempdir().unwrap();
    let work =
        zip(&[folder("work/"), deflated("work/main.st", PROGRAM), stored("work/blocks/valve.il", PROGRAM)]);
    put(class.path(), "ana.ZIP", &work);
    put(class.path(), "ben/work.zip", &work);
    put(class.path(), "ben/note.md", "This is my work.");
    put(class.path(), "cora/second.zip", &work);
    put(class.path(), "cora/first.zip", zip(&[stored("only.st", PROGRAM)]));
    put(class.path(), "dan/main.st", PROGRAM);
    put(class.path(), "dan/work.zip", &work);
    put(class.path(), "eva.zip", zip(&[]));
    put(class.path(), "finn/work.zip", &work);
    put(class.path(), "finn/readme.txt", "It is all in the zip.");
    put(class.path(), "gus/work.zip", &work);
    put(class.path(), "gus/program.txt", PROGRAM);
    let all = read_all(class.path(), &IntakeOptions::default());
    assert_eq!(ids(&all), ["ana", "ben", "cora", "dan", "eva", "finn", "gus"]);
    assert_eq!(file_names(&all[0]), ["work/blocks/valve.il", "work/main.st"]);
    assert_eq!(all[0].files[1].text, PROGRAM);
    assert_eq!(file_names(&all[1]), ["work.zip/work/blocks/valve.il", "work.zip/work/main.st"]);
    assert_eq!(left_out_names(&all[1]), ["note.md"]);
    assert_eq!(file_names(&all[2])[0], "first.zip/only.st");
    assert_eq!(all[2].files.len(), 3);
    assert_eq!((file_names(&all[3]), left_out_names(&all[3])), (vec!["main.st"], vec!["work.zip"]));
    assert!(all[..4].iter().all(|one| one.outcome == Outcome::Read && one.problems.is_empty()), "{all:#?}");
    assert_eq!((all[4].outcome, problem_names(&all[4])), (Outcome::NoProgram, vec!["no-program-file"]));
    assert_eq!(file_names(&all[5]), ["work.zip/work/blocks/valve.il", "work.zip/work/main.st"]);
    assert_eq!(left_out_names(&all[5]), ["readme.txt"]);
    assert_eq!((file_names(&all[6]), left_out_names(&all[6])), (vec!["program.txt"], vec!["work.zip"]));
}

#[test]
fn the_zip_of_a_class_holds_files_folders_and_zips() {
    let (_place, path) = class_zip(&[
        stored("__MACOSX/._ana.st", "x"),
        deflated("cora.st", PROGRAM),
        deflated("ben/main.st", PROGRAM),
        stored("ben/sketch.pdf", "%PDF-"),
        stored("ana.zip", zip(&[deflated("main.st", PROGRAM), stored("more.zip", zip(&[]))])),
        folder("dan/"),
        stored("eva/eva.zip", zip(&[deflated("blocks/main.st", PROGRAM)])),
        stored(b"fabian\x81.st", PROGRAM),
    ]);
    let class = Class::list(&path, &IntakeOptions::default()).unwrap();
    assert_eq!(class.left_out().iter().map(|one| one.name.as_str()).collect::<Vec<_>>(), ["__MACOSX"]);
    assert!(class.problems().is_empty());
    let all = read_all(&path, &IntakeOptions::default());
    // A name that is no UTF-8 has the characters of the first computers that packed zips.
    assert_eq!(ids(&all), ["ana", "ben", "cora", "dan", "eva", "fabianü"]);
    let names: Vec<Vec<&str>> = all.iter().map(file_names).collect();
    let expected: [&[&str]; 6] =
        [&["main.st"], &["main.st"], &["cora.st"], &[], &["blocks/main.st"], &["fabianü.st"]];
    assert_eq!(names, expected);
    assert_eq!(problem_names(&all[0]), ["zip-in-zip"]);
    assert_eq!(all[3].outcome, Outcome::NothingHandedIn);
    assert!(all.iter().flat_map(|one| &one.files).all(|file| file.text == PROGRAM));
}

#[test]
fn the_folder_of_a_class_may_be_packed_as_a_whole() {
    let entries = [
        folder("group 3/"),
        deflated("group 3/ana.st", PROGRAM),
        deflated("group 3/ben/main.st", PROGRAM),
        stored(".DS_Store", "x"),
    ];
    let (_place, path) = class_zip(&entries);
    let class = Class::list(&path, &IntakeOptions::default()).unwrap();
    assert_eq!(class.problems()[0].name, "single-folder");
    assert_eq!(class.left_out().len(), 1);
    let all = read_all(&path, &IntakeOptions::default());
    assert_eq!(ids(&all), ["ana", "ben"]);
    assert_eq!((file_names(&all[0]), file_names(&all[1])), (vec!["ana.st"], vec!["main.st"]));
    // The folder of a student is not taken for that of a class.
    for options in [with_roster("student\ngroup 3\n"), with_pattern("group {student}")] {
        let all = read_all(&path, &options);
        assert_eq!((all.len(), file_names(&all[0])), (1, vec!["ana.st", "ben/main.st"]));
    }
}

#[test]
fn sizes_may_stand_behind_the_data() {
    let mut bytes = zip(&[RawEntry { flags: 8, ..deflated("main.st", PROGRAM) }]);
    // Checksum and sizes of the local header are not known yet when it is written.
    bytes[14..26].fill(0);
    let class = tempfile::tempdir().unwrap();
    put(class.path(), "ana.zip", bytes);
    assert_eq!(read_one(class.path()).files[0].text, PROGRAM);
}

#[test]
fn zips_by_another_writer_are_read() {
    use zip::{CompressionMethod, ZipWriter, write::SimpleFileOptions};
    let mut writer = ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for (name, method) in
        [("ä/deflated.st", CompressionMethod::Deflated), ("stored.st", CompressionMethod::Stored)]
    {
        writer.start_file(name, SimpleFileOptions::default().compression_method(method)).unwrap();
        std::io::Write::write_all(&mut writer, PROGRAM.as_bytes()).unwrap();
    }
    writer.add_symlink("link.st", "/etc/passwd", SimpleFileOptions::default()).unwrap();
    let class = tempfile::tempdir().unwrap();
    put(class.path(), "ana.zip", writer.finish().unwrap().into_inner());
    let ana = read_one(class.path());
    assert_eq!(
        (file_names(&ana), problem_names(&ana)),
        (vec!["stored.st", "ä/deflated.st"], vec!["symbolic-link"])
    );
    assert!(ana.files.iter().all(|file| file.text == PROGRAM));
}

#[test]
fn many_threads_read_what_one_reads() {
    let mut entries = Vec::new();
    for number in 0..200 {
        let text = format!("{PROGRAM}(* {number} {} *)", "x".repeat(number * 100));
        entries.push(deflated(format!("s{number:03}/main.st"), &text));
        entries.push(stored(format!("z{number:03}.zip"), zip(&[deflated("main.st", &text)])));
    }
    let (_place, path) = class_zip(&entries);
    let options = IntakeOptions::default();
    let class = Class::list(&path, &options).unwrap();
    let one_by_one: Vec<Submission> = (0..class.len()).map(|index| class.read(index).unwrap()).collect();
    assert_eq!(one_by_one.len(), 400);
    assert!(one_by_one.iter().all(|one| one.outcome == Outcome::Read && one.problems.is_empty()));
    thread::scope(|scope| {
        for thread in 0..4 {
            let (class, one_by_one) = (&class, &one_by_one);
            scope.spawn(move || {
                for step in 0..class.len() {
                    let index = (step * 7 + thread * 100) % class.len();
                    assert_eq!(class.read(index).as_ref(), one_by_one.get(index));
                }
            });
        }
    });
}

#[test]
fn what_is_told_of_a_class_is_never_endless() {
    let entries: Vec<RawEntry> = (0..120)
        .flat_map(|number| [stored(format!("{number}.st"), ""), stored(format!("../{number}.st"), "")])
        .collect();
    let (_place, path) = class_zip(&entries);
    let class = Class::list(&path, &with_roster("student\n1\n")).unwrap();
    assert_eq!((class.len(), class.left_out().len(), class.problems().len()), (120, 51, 51));
    assert_eq!(class.left_out()[50].name, "70 more");
    assert_eq!(class.problems()[50].message, "189 more problems were found in what was handed in");
}

#[test]
fn a_submission_that_is_given_up_still_tells_of_the_other() {
    let mut entries: Vec<RawEntry> = (0..1001).map(|number| stored(format!("ana/{number}.st"), "")).collect();
    entries.push(stored("ana.st", PROGRAM));
    let (_place, path) = class_zip(&entries);
    let all = read_all(&path, &IntakeOptions::default());
    assert_eq!(ids(&all), ["ana", "ana (2)"]);
    assert_eq!(problem_names(&all[0]), ["too-many-entries", "same-student"]);
    assert_eq!(problem_names(&all[1]), ["same-student"]);
}

#[test]
fn a_zip_that_changes_while_it_is_read_is_told() {
    let (_place, path) = class_zip(&[deflated("ana.st", PROGRAM), deflated("ben.st", PROGRAM)]);
    let class = Class::list(&path, &IntakeOptions::default()).unwrap();
    assert_eq!(class.read(0).unwrap().outcome, Outcome::Read);
    fs::write(&path, zip(&[deflated("ana.st", "something longer than it was"), stored("ben.st", PROGRAM)]))
        .unwrap();
    let ben = class.read(1).unwrap();
    assert_eq!((ben.outcome, problem_names(&ben)), (Outcome::Unreadable, vec!["no-program-file", "changed"]));
    fs::remove_file(&path).unwrap();
    assert_eq!(problem_names(&class.read(1).unwrap()), ["no-program-file", "vanished"]);
}
