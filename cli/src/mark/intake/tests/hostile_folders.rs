//! Folders made to lead somewhere else, to hang or to fill the memory.

use std::{
    ffi::OsStr,
    os::unix::{
        ffi::OsStrExt,
        fs::{PermissionsExt, symlink},
        net::UnixListener,
    },
    process::Command,
};

use super::{super::*, *};

fn fifo(path: &Path) {
    assert!(Command::new("mkfifo").arg(path).status().unwrap().success());
}

#[test]
fn links_are_not_followed() {
    let class = tempfile::tempdir().unwrap();
    let outside = tempfile::tempdir().unwrap();
    put(outside.path(), "secret.st", "SECRET");
    put(class.path(), "ana/main.st", PROGRAM);
    symlink("/etc/passwd", class.path().join("ana/passwd.st")).unwrap();
    symlink(outside.path(), class.path().join("ana/folder")).unwrap();
    symlink("..", class.path().join("ana/loop")).unwrap();
    symlink("nowhere", class.path().join("ana/dangling.st")).unwrap();
    symlink(outside.path().join("secret.st"), class.path().join("ben.st")).unwrap();
    symlink(outside.path(), class.path().join("cora")).unwrap();
    let all = read_all(class.path(), &IntakeOptions::default());
    assert_eq!(ids(&all), ["ana", "ben", "cora"]);
    assert_eq!(file_names(&all[0]), ["main.st"]);
    assert_eq!(left_out_names(&all[0]), ["dangling.st", "folder", "loop", "passwd.st"]);
    assert_eq!(problem_names(&all[0]), ["symbolic-link"; 4]);
    for link in &all[1..] {
        assert_eq!(
            (link.outcome, problem_names(link)),
            (Outcome::Unreadable, vec!["no-program-file", "symbolic-link"])
        );
    }
    assert!(!format!("{all:?}").contains("SECRET"));
}

#[test]
fn pipes_and_sockets_are_never_opened() {
    let class = tempfile::tempdir().unwrap();
    put(class.path(), "ana/main.st", PROGRAM);
    fifo(&class.path().join("ana/pipe.st"));
    let _socket = UnixListener::bind(class.path().join("ana/socket.st")).unwrap();
    fifo(&class.path().join("ben.st"));
    let all = read_all(class.path(), &IntakeOptions::default());
    assert_eq!((file_names(&all[0]), problem_names(&all[0])), (vec!["main.st"], vec!["special-file"; 2]));
    assert_eq!(all[1].outcome, Outcome::Unreadable);
}

#[test]
fn what_takes_the_place_of_a_listed_file_is_not_opened() {
    let class = tempfile::tempdir().unwrap();
    for name in ["a.st", "b.st", "c.st", "d/main.st"] {
        put(class.path(), name, PROGRAM);
    }
    let listed = Class::list(class.path(), &IntakeOptions::default()).unwrap();
    for name in ["a.st", "b.st", "c.st"] {
        fs::remove_file(class.path().join(name)).unwrap();
    }
    fifo(&class.path().join("a.st"));
    symlink("/etc/passwd", class.path().join("b.st")).unwrap();
    fs::remove_dir_all(class.path().join("d")).unwrap();
    let all: Vec<Submission> = (0..4).map(|index| listed.read(index).unwrap()).collect();
    for (submission, expected) in all.iter().zip(["special-file", "symbolic-link", "vanished", "vanished"]) {
        assert_eq!(problem_names(submission), ["no-program-file", expected]);
    }
}

#[test]
fn what_may_not_be_read_is_told() {
    let class = tempfile::tempdir().unwrap();
    put(class.path(), "ana/main.st", PROGRAM);
    put(class.path(), "ana/locked.st", PROGRAM);
    put(class.path(), "ben/main.st", PROGRAM);
    let lock = |name: &str, mode| {
        fs::set_permissions(class.path().join(name), fs::Permissions::from_mode(mode)).unwrap();
    };
    lock("ana/locked.st", 0);
    lock("ben", 0);
    // Who may read everything sees no difference.
    let everything = fs::read(class.path().join("ana/locked.st")).is_ok();
    let all = read_all(class.path(), &IntakeOptions::default());
    lock("ben", 0o700);
    assert_eq!(all[0].outcome, Outcome::Read);
    if !everything {
        assert_eq!((file_names(&all[0]), problem_names(&all[0])), (vec!["main.st"], vec!["unreadable"]));
        assert_eq!(problem_names(&all[1]), ["no-program-file", "unreadable"]);
    }
}

#[test]
fn any_name_is_a_name() {
    let class = tempfile::tempdir().unwrap();
    let names: [&[u8]; 8] = [
        b"line\nbreak.st",
        "\u{202e}ts.ana.st".as_bytes(),
        b"bad\xff\xfe.st",
        b"bad\\xFF\\xFE.st",
        b" .st",
        b"-rf.st",
        b"..up.st",
        b"... .st",
    ];
    for name in names {
        fs::write(class.path().join(OsStr::from_bytes(name)), PROGRAM).unwrap();
    }
    put(class.path(), &format!("{}.st", "n".repeat(250)), PROGRAM);
    let all = read_all(class.path(), &IntakeOptions::default());
    assert_eq!(all.len(), 9);
    assert!(all.iter().all(|one| one.outcome == Outcome::Read && one.files[0].text == PROGRAM), "{all:#?}");
    let mut ids = ids(&all);
    assert!(ids.contains(&"line\nbreak") && ids.contains(&"\u{202e}ts.ana"));
    // Bytes that are no text, and a name that looks as they are shown, stay apart.
    assert!(ids.contains(&"bad\\xFF\\xFE") && ids.contains(&"bad\\xFF\\xFE (2)"));
    ids.dedup();
    assert_eq!(ids.len(), 9);
    let mut slugs: Vec<String> = ids.iter().map(|id| file_slug(id)).collect();
    slugs.sort();
    slugs.dedup();
    assert_eq!(slugs.len(), 9);
}

#[test]
fn many_files_and_deep_folders_are_given_up() {
    let class = tempfile::tempdir().unwrap();
    for number in 0..=1000 {
        put(class.path(), &format!("many/{number}.st"), "x");
    }
    put(class.path(), &format!("deep/{}main.st", "d/".repeat(100)), PROGRAM);
    put(class.path(), &format!("fits/{}main.st", "d/".repeat(8)), PROGRAM);
    put(class.path(), &format!("steep/{}main.st", "d/".repeat(9)), PROGRAM);
    let all = read_all(class.path(), &IntakeOptions::default());
    assert_eq!(ids(&all), ["deep", "fits", "many", "steep"]);
    let outcomes: Vec<Outcome> = all.iter().map(|one| one.outcome).collect();
    assert_eq!(outcomes, [Outcome::Unreadable, Outcome::Read, Outcome::OverBudget, Outcome::Unreadable]);
    assert_eq!(problem_names(&all[0]), ["no-program-file", "too-deep"]);
    assert_eq!(problem_names(&all[2]), ["too-many-entries"]);
}

#[test]
fn a_huge_file_costs_no_more_than_the_budget() {
    let class = tempfile::tempdir().unwrap();
    // A hole: it takes no room on the disk.
    let program = fs::File::create(class.path().join("ana.st")).unwrap();
    program.set_len(1 << 40).unwrap();
    put(class.path(), "ben.st", "x".repeat(1 << 20));
    let all = read_all(class.path(), &IntakeOptions::default());
    assert_eq!(
        (all[0].outcome, problem_names(&all[0])),
        (Outcome::Unreadable, vec!["no-program-file", "no-text"])
    );
    assert_eq!(all[1].outcome, Outcome::OverBudget);
    assert_eq!(all[1].files[0].bytes, Budget::default().text_bytes);
}
