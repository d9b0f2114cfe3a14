//! The sample class: seventy answers to one task, right ones of many kinds and the mistakes that are often made.

use std::{fs, path::Path};

use latchwork_bench::alike::{
    CompareOptions, Comparison, Demanded, Fingerprints, Handed, OWN_MIN, compare, fingerprints,
};
use latchwork_compiler::rewrite::Language;
use latchwork_grammar::Sources;
use latchwork_tests::rewriting::rewritten;

const EXERCISE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../samples/exercises/tray-watering");

fn texts(path: &Path) -> Vec<(String, String)> {
    if path.is_dir() {
        let mut inside: Vec<_> = fs::read_dir(path).unwrap().map(|entry| entry.unwrap().path()).collect();
        inside.sort();
        return inside.iter().flat_map(|path| texts(path)).collect();
    }
    let name = path.file_name().unwrap().to_str().unwrap().to_owned();
    vec![(name, String::from_utf8_lossy(&fs::read(path).unwrap()).into_owned())]
}

fn read(path: &Path) -> Handed {
    Handed { student: path.file_stem().unwrap().to_str().unwrap().to_owned(), texts: texts(path) }
}

/// The class, and what was handed out.
struct Class {
    handed: Vec<Handed>,
    prints: Vec<Fingerprints>,
    skeleton: Fingerprints,
    demanded: Vec<Demanded>,
}

fn class() -> Class {
    let demanded: Vec<Demanded> = [
        ("Start", "%IX0.0"),
        ("Stop", "%IX0.1"),
        ("Float", "%IX0.2"),
        ("Acknowledge", "%IX0.3"),
        ("Pump", "%QX0.0"),
        ("Valve", "%QX0.1"),
        ("BatchDone", "%QX0.2"),
        ("Alarm", "%QX0.3"),
    ]
    .into_iter()
    .map(|(name, address)| Demanded { name: name.into(), address: Some(address.into()) })
    .collect();
    let mut paths: Vec<_> = fs::read_dir(Path::new(EXERCISE).join("submissions"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    paths.sort();
    let handed: Vec<Handed> = paths.iter().map(|path| read(path)).collect();
    let prints = handed.iter().map(|handed| fingerprints(handed, &demanded)).collect();
    let skeleton = fingerprints(&read(&Path::new(EXERCISE).join("skeleton.st")), &demanded);
    Class { handed, prints, skeleton, demanded }
}

fn compared(class: &[Fingerprints], skeleton: &Fingerprints) -> Comparison {
    compare(class, Some(skeleton), &CompareOptions::default())
}

/// The table of the class says which answers are another one with other names, comments or another layout: these are groups,
/// and nothing else is. Most pairs of a class that solves one small task are not much alike without what is common.
#[test]
fn copies_in_the_class_are_groups() {
    let Class { prints, skeleton, .. } = class();
    let found = compared(&prints, &skeleton);
    let names = |members: &[usize]| members.iter().map(|at| prints[*at].student.clone()).collect::<Vec<_>>();
    let mut groups: Vec<Vec<String>> = found.groups.iter().map(|group| names(&group.members)).collect();
    groups.sort();
    assert_eq!(groups, [["s01", "s12"], ["s02", "s61"], ["s04", "s62"]]);
    assert!(
        found.usual.pairs > 1500 && found.usual.median < 100 && found.usual.upper < 500,
        "{:?}",
        found.usual
    );
}

/// Each answer that can be rewritten, handed in once more in the other language: nearly always it is the same text, and
/// otherwise what it is most alike to is where it came from.
#[test]
fn an_answer_in_the_other_language_is_found() {
    let Class { handed, prints, skeleton, demanded } = class();
    let (mut asked, mut same, mut first) = (0, 0, 0);
    let mut lost = Vec::new();
    for (at, original) in handed.iter().enumerate() {
        let mut sources = Sources::new();
        original.texts.iter().for_each(|(name, text)| _ = sources.add(name.as_str(), text.as_str()));
        let Ok((list, done)) = rewritten(&sources, Language::InstructionList) else { continue };
        if done.bodies.is_empty() || prints[at].prints.len() < 2 * OWN_MIN {
            continue;
        }
        let texts = list.iter().map(|(_, it)| (it.name.clone(), it.text.clone())).collect();
        let twin = fingerprints(&Handed { student: "z".into(), texts }, &demanded);
        asked += 1;
        let mut with: Vec<Fingerprints> = prints.clone();
        with.push(twin);
        let last = with.len() - 1;
        let found = compared(&with, &skeleton);
        let group = found.groups.iter().find(|group| group.members.contains(&at));
        if group.is_some_and(|group| group.members.contains(&last)) {
            same += 1;
            continue;
        }
        let best = found.pairs.iter().find(|pair| pair.members.contains(&last));
        let alike =
            |member: usize| member == at || group.is_some_and(|group| group.members.contains(&member));
        match best {
            Some(pair) if pair.members.iter().any(|member| alike(*member)) => first += 1,
            _ => lost.push(&original.student),
        }
    }
    assert!(
        asked > 40 && same * 10 >= asked * 9 && lost.len() * 20 < asked,
        "{asked}: {same} {first}, not {lost:?}"
    );
}
