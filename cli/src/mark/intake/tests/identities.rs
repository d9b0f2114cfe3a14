//! Whose a submission is: patterns, the roster, and several submissions of one student.

use proptest::prelude::*;

use super::{
    super::{
        identity::{Named, identify},
        names::stem,
        *,
    },
    *,
};

/// The class of files with these names, as ids; with `-` where nothing was handed in.
fn class_of(names: &[&str], options: &IntakeOptions) -> (Vec<String>, Vec<&'static str>) {
    let named = names
        .iter()
        .map(|name| Named { name: name.to_string(), stem: stem(name).to_string(), what: () })
        .collect();
    let (members, problems) = identify(named, options.pattern.as_ref(), options.roster.as_ref());
    let ids = members
        .into_iter()
        .map(|member| {
            let name = member.student.name.map(|name| format!(" = {name}")).unwrap_or_default();
            let absent = if member.what.is_none() { " -" } else { "" };
            format!("{}{name}{absent}", member.student.id)
        })
        .collect();
    (ids, problems.iter().map(|problem| problem.name).collect())
}

#[test]
fn a_pattern_finds_id_and_name() {
    let found = |pattern: &str, name: &str| {
        let found = Pattern::read(pattern).unwrap().find(name)?;
        Some((found.student, found.name))
    };
    let id = |text: &str| Some((text.to_string(), None));
    assert_eq!(found("*_{student}_*", "pump_4711_late"), id("4711"));
    assert_eq!(found("*_{student}_*", "pump_4711"), None);
    assert_eq!(found("{student}", "any_thing"), id("any_thing"));
    assert_eq!(found("pump-{student}", "pump-"), None);
    assert_eq!(found("{student}-*", "ä-"), id("ä"));
    assert_eq!(found("{name} ({student})", "Ana Lee (12)"), Some(("12".into(), Some("Ana Lee".into()))));
    // As little as the rest lets it: up to the first sign that fits, unless that is the end.
    assert_eq!(found("{student}_*", "a_b_c"), id("a"));
    assert_eq!(found("*_{student}", "a_b_c"), id("b_c"));
    assert_eq!(found("{student}aa", "aaa"), id("a"));
    // The id takes at least one character, so what follows is not looked for at its place.
    assert_eq!(found("{student}_*", "__x"), id("_"));
}

#[test]
fn patterns_that_cannot_work_are_refused() {
    for (pattern, expected) in [
        ("", "`{student}` is missing"),
        ("*", "`{student}` is missing"),
        ("{name}", "`{student}` is missing"),
        ("{student}-{student}", "more than once"),
        ("{name}-{student}-{name}", "`{name}` is there more than once"),
        ("{student}*", "nothing between them"),
        ("**{student}", "nothing between them"),
        ("{studnet}", "begins `{student}`"),
    ] {
        let error = Pattern::read(pattern).unwrap_err();
        assert!(error.contains(expected), "{pattern}: {error}");
    }
    assert!(Pattern::read(&format!("{{student}}{}", "x".repeat(2000))).is_err());
}

#[test]
fn names_that_do_not_fit_the_pattern_are_kept_whole_and_told() {
    let options = with_pattern("pump_{student}");
    let (ids, problems) = class_of(&["pump_2.st", "pump_1.tar.zip", "other.st", "pump_ .st"], &options);
    assert_eq!(
        (ids, problems),
        (vec!["1.tar".into(), "2".into(), "other".into(), "pump_ ".into()], vec!["no-student"; 2])
    );
}

#[test]
fn the_order_is_that_of_the_bytes_of_ids() {
    let (ids, problems) =
        class_of(&["b.st", "a10.st", "ä.st", "a9.st", "B.st", "A.st"], &IntakeOptions::default());
    assert_eq!((ids.join(" "), problems), ("A B a10 a9 b ä".into(), vec!["similar-students"]));
}

#[test]
fn several_submissions_of_one_student_are_all_kept() {
    let names = ["ana.st", "ana.zip", "ana", "ana (2).st", "ben.st"];
    let (ids, problems) = class_of(&names, &IntakeOptions::default());
    assert_eq!(
        (ids, problems),
        (["ana", "ana (3)", "ana (4)", "ana (2)", "ben"].map(String::from).to_vec(), vec!["same-student"])
    );
    let class = tempfile::tempdir().unwrap();
    put(class.path(), "ana.st", PROGRAM);
    put(class.path(), "ana/main.st", PROGRAM);
    let all = read_all(class.path(), &IntakeOptions::default());
    assert_eq!(ids_and_files(&all), [("ana", "main.st"), ("ana (2)", "ana.st")]);
    for submission in &all {
        assert_eq!(problem_names(submission), ["same-student"]);
        assert!(submission.problems[0].message.contains("`ana` handed in more than once: `ana`, `ana.st`"));
    }
}

fn ids_and_files(all: &[Submission]) -> Vec<(&str, &str)> {
    all.iter().map(|one| (one.student.id.as_str(), one.files[0].name.as_str())).collect()
}

#[test]
fn the_roster_gives_order_names_and_those_who_are_missing() {
    let options = with_roster("name,student\nCora Moss,c\nBen Reed,b\nAna Lee,a\n");
    let (ids, problems) = class_of(&[" a .st", "d.st", "c.zip", "c.st"], &options);
    let expected = ["c = Cora Moss", "c (2) = Cora Moss", "b = Ben Reed -", "a = Ana Lee", "d"];
    assert_eq!((ids, problems), (expected.map(String::from).to_vec(), vec!["not-on-roster", "same-student"]));
    let class = tempfile::tempdir().unwrap();
    put(class.path(), "a.st", PROGRAM);
    let all = read_all(class.path(), &options);
    let outcomes: Vec<Outcome> = all.iter().map(|one| one.outcome).collect();
    assert_eq!(outcomes, [Outcome::NothingHandedIn, Outcome::NothingHandedIn, Outcome::Read]);
}

#[test]
fn the_roster_may_name_submissions() {
    let options = with_roster("student;submission\n1;north*\n2;north bench\n3;\n4;*.zip\n");
    let names = ["north.st", "north bench.st", "3.st", "late.zip"];
    let (ids, problems) = class_of(&names, &options);
    assert_eq!((ids.join(" "), problems.len()), ("1 2 3 4".into(), 0));
}

#[test]
fn rosters_are_read_as_they_are_written() {
    let read = |text: &str| {
        roster::parse(text).map(|members| {
            members.into_iter().map(|one| (one.student, one.name.unwrap_or_default())).collect::<Vec<_>>()
        })
    };
    let expected = vec![("12".to_string(), "Lee, Ana".to_string()), ("13".to_string(), String::new())];
    assert_eq!(read("Student,NAME\n12,\"Lee, Ana\"\n13\n").unwrap(), expected);
    assert_eq!(read("group;student;name\r\nx; 12 ;Lee, Ana\r\n;;\r\n\r\ny;13;\r\n").unwrap(), expected);
    assert_eq!(read("\"x;y\",student,name\n,12,\"Lee, Ana\"\n;,13").unwrap(), expected);
    for (text, error) in [
        ("", "there is no column `student`"),
        ("name\nAna", "line 1: there is no column `student`"),
        ("student\n", "there is no student in it"),
        ("student,name\n,Ana", "line 2: the field `student` is empty"),
        ("student\na\nb\na", "line 4: `a` is in line 2 already"),
        ("student,name\na,b,c", "line 2: 3 fields, but the header has 2 columns"),
        ("student,submission\na,**", "line 2: the field `submission`"),
        ("student,name\n1,\"Ana\n2,Ben", "line 2: a field goes on over the end of the line"),
    ] {
        let found = read(text).unwrap_err();
        assert!(found.contains(error), "{text:?}: {found}");
    }
    let many: String = (0..=10_000).map(|number| format!("{number}\n")).collect();
    assert!(read(&format!("student\n{many}")).unwrap_err().contains("more than 10000"));
}

#[test]
fn roster_files_may_be_of_any_encoding() {
    let place = tempfile::tempdir().unwrap();
    let wide: Vec<u8> = "\u{feff}student;name\n1;Käthe".encode_utf16().flat_map(u16::to_le_bytes).collect();
    let cases: [&[u8]; 3] = ["\u{feff}student;name\n1;Käthe".as_bytes(), b"student,name\n1,K\xe4the", &wide];
    for bytes in cases {
        put(place.path(), "roster.csv", bytes);
        let roster = Roster::read(&place.path().join("roster.csv")).unwrap();
        assert_eq!(roster.members[0].name.as_deref(), Some("Käthe"));
    }
    put(place.path(), "roster.csv", "x".repeat(5 << 20));
    let failure = Roster::read(&place.path().join("roster.csv")).unwrap_err();
    assert!(failure.message.contains("larger than 4 MiB"), "{}", failure.message);
    assert!(
        Roster::read(&place.path().join("none.csv")).unwrap_err().message.contains("there is no such file")
    );
}

/// Whether a name fits texts with anything between them, by trying everything.
fn fits(texts: &[&str], name: &str) -> bool {
    match texts {
        [] => false,
        [last] => *last == name,
        [first, rest @ ..] => {
            name.strip_prefix(first).is_some_and(|name| (0..=name.len()).any(|at| fits(rest, &name[at..])))
        }
    }
}

proptest! {
    #[test]
    fn patterns_fit_what_a_search_of_all_ways_fits(pattern in "[ab*]{0,8}", name in "[ab]{0,10}") {
        if let Ok(read) = Pattern::of_submission(&pattern) {
            let texts: Vec<&str> = pattern.split('*').collect();
            prop_assert_eq!(read.find(&name).is_some(), fits(&texts, &name));
        }
    }

    #[test]
    fn what_is_found_gives_the_name_again(before in "[ab_]{0,3}", name in "[ab_é]{0,12}") {
        let pattern = Pattern::read(&format!("{before}{{name}}_{{student}}")).unwrap();
        if let Some(found) = pattern.find(&name) {
            prop_assert_eq!(format!("{before}{}_{}", found.name.unwrap(), found.student), name);
        }
    }

    #[test]
    fn no_submission_is_lost_and_no_id_given_twice(
        names in prop::collection::btree_set("(a|b| \\(2\\)|\\.st){1,4}", 0..12),
        roster in prop::option::of(prop::collection::btree_set("(a|b| \\(2\\)){1,3}", 1..5)),
    ) {
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        let mut options = IntakeOptions::default();
        if let Some(students) = &roster {
            let rows: Vec<String> = students.iter().map(|student| format!("\"{student}\"")).collect();
            if let Ok(members) = roster::parse(&format!("student\n{}", rows.join("\n"))) {
                options.roster = Some(Roster { members, path: None });
            }
        }
        let named = |names: &[&str]| names
            .iter()
            .map(|name| Named { name: name.to_string(), stem: stem(name).to_string(), what: name.to_string() })
            .collect();
        let (members, _) = identify(named(&names), None, options.roster.as_ref());
        let mut kept: Vec<&str> = members.iter().filter_map(|member| member.what.as_deref()).collect();
        kept.sort_unstable();
        prop_assert_eq!(kept, names.clone());
        let mut ids: Vec<&str> = members.iter().map(|member| member.student.id.as_str()).collect();
        let count = ids.len();
        ids.sort_unstable();
        ids.dedup();
        prop_assert_eq!(ids.len(), count);
        // The order in which the file system tells the names does not matter.
        let reversed: Vec<&str> = names.iter().rev().copied().collect();
        let (again, _) = identify(named(&reversed), None, options.roster.as_ref());
        let pairs = |members: &[identity::Identified<String>]| -> Vec<(String, Option<String>)> {
            members.iter().map(|member| (member.student.id.clone(), member.what.clone())).collect()
        };
        prop_assert_eq!(pairs(&members), pairs(&again));
    }
}
