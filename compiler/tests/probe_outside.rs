//! Expressions about an outside that is no program: shared inputs, enumerations of all kinds, limits, hostile texts.

#![allow(missing_docs, clippy::unwrap_used)]

use std::{
    collections::{BTreeMap, BTreeSet},
    fs,
    path::Path,
    sync::Arc,
};

use latchwork_compiler::{
    catalogue,
    probe::{CATALOGUE, Outside, Probe, ProbeImage, ProbeKind, Wanted, compile_probes},
};
use latchwork_grammar::{Diagnostic, Names, Severity, Sources, Span, parse_expression};
use latchwork_vm::{ElementaryType as E, Machine, Program, Value, limits};
use proptest::prelude::*;

/// Names with their types; those without can only be refused.
#[derive(Default)]
struct Things(BTreeMap<&'static str, Option<ProbeKind>>);

impl Outside for Things {
    fn kind(&self, path: &str) -> Result<Option<ProbeKind>, String> {
        match self.0.iter().find(|(name, _)| name.eq_ignore_ascii_case(path)) {
            Some((_, None)) => Err("not for reading".to_owned()),
            Some((_, kind)) => Ok(kind.clone()),
            None => Ok(None),
        }
    }

    fn nearest(&self, path: &str) -> Vec<String> {
        let first = path.get(..1).unwrap_or_default();
        self.0.keys().filter(|name| name.starts_with(first)).map(|name| (*name).to_owned()).collect()
    }
}

fn enumeration(name: &str, values: &[(&str, i32)]) -> ProbeKind {
    let values = values.iter().map(|(name, number)| ((*name).to_owned(), *number)).collect();
    ProbeKind::Enumeration { name: name.to_owned(), values }
}

fn things() -> Things {
    let bool_kind = Some(ProbeKind::Elementary(E::Bool));
    Things(BTreeMap::from([
        ("StartPB", bool_kind.clone()),
        ("StopPB", bool_kind.clone()),
        ("P1", bool_kind),
        ("Level", Some(ProbeKind::Elementary(E::Lreal))),
        ("Count", Some(ProbeKind::Elementary(E::Dint))),
        ("Zero", Some(ProbeKind::Elementary(E::Int))),
        ("Bits", Some(ProbeKind::Elementary(E::Lword))),
        ("Wait", Some(ProbeKind::Elementary(E::Time))),
        ("Text", Some(ProbeKind::Elementary(E::String))),
        ("Long", Some(ProbeKind::String { wide: true, capacity: 32767 })),
        ("Main.Tray[2].Name", Some(ProbeKind::String { wide: false, capacity: 8 })),
        ("Main.Tray", None),
        ("Seg", None),
        ("Lamp", Some(enumeration("Plant.Colour", &[("Red", 0), ("Green", 1), ("Blue", 2)]))),
        ("Valve", Some(enumeration("", &[("Open", 0), ("Shut", 1)]))),
        ("Door", Some(enumeration("", &[("Open", 0), ("Shut", 1), ("Locked", 2)]))),
        ("Mode", Some(enumeration("Mode", &[("Hand", -1), ("Auto", 4)]))),
    ]))
}

fn compiled(texts: &[(&str, Wanted)], outside: &dyn Outside) -> (Option<ProbeImage>, Vec<Diagnostic>) {
    let (mut sources, mut names) = (Sources::new(), Names::new());
    let written: Vec<_> = texts
        .iter()
        .map(|(text, wanted)| {
            let file = sources.add("case.steps", *text);
            (parse_expression(file, text, &mut names).unwrap(), wanted.clone())
        })
        .collect();
    let probes: Vec<Probe<'_>> =
        written.iter().map(|(expression, wanted)| Probe { expression, wanted: wanted.clone() }).collect();
    compile_probes(&probes, outside, &sources, &mut names)
}

fn image(texts: &[(&str, Wanted)]) -> ProbeImage {
    let (image, diagnostics) = compiled(texts, &things());
    image.unwrap_or_else(|| panic!("{diagnostics:#?}"))
}

fn machine(image: &ProbeImage) -> Machine {
    Machine::new(Arc::new(Program::load(image.image.clone(), latchwork_stdlib::natives()).unwrap()))
}

/// The names of the errors of one condition.
fn errors(text: &str) -> Vec<&'static str> {
    let (_, found) = compiled(&[(text, Wanted::Bool)], &things());
    let errors = found.into_iter().filter(|found| found.severity == Severity::Error);
    errors.map(|found| found.name).collect()
}

#[test]
fn probes_share_their_inputs_and_nothing_else() {
    let image = image(&[
        ("StartPB AND NOT StopPB", Wanted::Bool),
        ("Level * 2.0", Wanted::Measure),
        ("stoppb or StopPB or P1", Wanted::Bool),
    ]);
    let [first, second, third] = image.plans.as_slice() else { panic!("three plans") };
    assert_eq!([first.call, first.explain, second.call, third.explain], [0, 1, 2, 5]);
    let paths = |plan: &latchwork_compiler::probe::ProbePlan| -> Vec<String> {
        plan.inputs.iter().map(|input| input.path.clone()).collect()
    };
    assert_eq!(paths(first), ["StartPB", "StopPB"]);
    assert_eq!(paths(third), ["StopPB", "P1"]);
    assert_eq!(first.inputs[1].place, third.inputs[0].place);
    assert_eq!(third.inputs[0].spans.len(), 2);
    let texts: Vec<&str> = third.parts.iter().map(|part| part.text.as_str()).collect();
    assert_eq!(texts, ["stoppb", "P1"]);
    let mut machine = machine(&image);
    machine.write(&first.inputs[0].place, &Value::Bool(true)).unwrap();
    machine.write(&second.inputs[0].place, &Value::Lreal(21.0)).unwrap();
    for plan in [first, second] {
        machine.run_program(plan.call, 0).unwrap();
    }
    assert_eq!(machine.read(&first.result), Value::Bool(true));
    assert_eq!(machine.read(&second.result), Value::Lreal(42.0));
    assert_eq!(machine.read(&third.result), Value::Bool(false), "not called");
}

#[test]
fn a_fault_of_one_probe_leaves_the_others_alone() {
    let image = image(&[("Count / Zero = 1", Wanted::Bool), ("Count = 0", Wanted::Bool)]);
    let mut machine = machine(&image);
    let fault = machine.run_program(image.plans[0].call, 5).unwrap_err();
    assert_eq!(fault.kind.name(), "division-by-zero");
    let place = fault.place.unwrap();
    assert_eq!((place.file.as_str(), place.place.column, place.place.end_column), ("case.steps", 1, 13));
    machine.run_program(image.plans[1].call, 5).unwrap();
    assert_eq!(machine.read(&image.plans[1].result), Value::Bool(true));
}

#[test]
fn enumerations_are_those_of_the_outside() {
    let image = image(&[
        ("Lamp = Green", Wanted::Bool),
        ("Lamp = Colour#Blue", Wanted::Bool),
        ("Lamp = Plant.Colour#Red", Wanted::Bool),
        ("Valve = Shut", Wanted::Bool),
        ("Door = Shut OR Door = Locked", Wanted::Bool),
        ("Mode = Hand", Wanted::Bool),
        ("Auto", Wanted::Value { kind: things().kind("Mode").unwrap().unwrap(), target: Span::default() }),
        ("Mode", Wanted::Any),
    ]);
    let mut machine = machine(&image);
    let mode = &image.plans[5].inputs[0].place;
    // Its numbers do not count up from 0, so that it is stored like the others and shown as a number.
    machine.write(mode, &Value::Signed(-1, E::Dint)).unwrap();
    let values = image.plans.iter().map(|plan| {
        machine.run_program(plan.call, 0).unwrap();
        machine.read(&plan.result).to_string()
    });
    let values: Vec<String> = values.collect();
    assert_eq!(values, ["FALSE", "FALSE", "TRUE", "FALSE", "FALSE", "TRUE", "4", "-1"]);
    assert_eq!(errors("Valve = Door"), ["operand-types"]);
    assert_eq!(errors("Lamp = Hand"), ["condition-name"], "no expression is about Mode");
    assert_eq!(errors("Lamp = Other.Colour#Red"), ["condition-name"]);
}

/// An outside that names one enumeration and tells of two is mistaken; it must not come to harm.
#[test]
fn an_outside_that_contradicts_itself_does_no_harm() {
    let mut things = Things::default();
    things.0.insert("A", Some(enumeration("Colour", &[("Red", 0)])));
    things.0.insert("B", Some(enumeration("Colour", &[("Red", 0), ("Green", 1)])));
    things.0.insert("C", Some(enumeration("Twice", &[("Red", 0), ("Red", 1)])));
    things.0.insert("D", Some(enumeration("None", &[])));
    things.0.insert("E", Some(enumeration("ABS", &[("Red", 0)])));
    things.0.insert("F", Some(ProbeKind::String { wide: false, capacity: 0 }));
    things.0.insert("G", Some(ProbeKind::String { wide: false, capacity: u16::MAX }));
    assert!(compiled(&[("A = B", Wanted::Bool)], &things).0.is_some());
    for text in ["C = Red", "D", "E = Red", "F = ''", "G = ''"] {
        let (image, found) = compiled(&[(text, Wanted::Bool)], &things);
        assert!(image.is_none() && !found.is_empty(), "{text}");
        assert!(found.iter().all(|found| found.primary.span.end as usize <= text.len()), "{text}: {found:?}");
    }
}

#[test]
fn strings_of_every_length_are_read() {
    let image = image(&[
        ("LEN(Text) = 0 AND Long = \"\"", Wanted::Bool),
        ("CONCAT(Main.Tray[2].Name, '!')", Wanted::Any),
        ("Main.Tray [ +2 ] . Name = 'basil'", Wanted::Bool),
    ]);
    assert_eq!(image.plans[1].inputs[0].path, "Main.Tray[2].Name");
    assert_eq!(image.plans[1].inputs[0].place, image.plans[2].inputs[0].place);
    let mut machine = machine(&image);
    machine.write(&image.plans[1].inputs[0].place, &Value::String(b"basil".to_vec())).unwrap();
    for plan in &image.plans {
        machine.run_program(plan.call, 0).unwrap();
    }
    assert_eq!(machine.read(&image.plans[0].result), Value::Bool(true));
    assert_eq!(machine.read(&image.plans[1].result), Value::String(b"basil!".to_vec()));
    assert_eq!(machine.read(&image.plans[2].result), Value::Bool(true));
}

#[test]
fn what_is_near_is_offered() {
    let (_, found) = compiled(&[("Strat", Wanted::Bool)], &things());
    assert_eq!(found[0].notes, ["near names are `Seg`, `StartPB`, `StopPB`"]);
    assert!(found[0].fix.is_none(), "which of them is not certain");
    let (_, found) = compiled(&[("Leval > 1.0", Wanted::Bool)], &things());
    assert_eq!(found[0].notes, ["near names are `Lamp`, `Level`, `Long`"]);
    let (_, found) = compiled(&[("Pmup", Wanted::Bool)], &things());
    assert_eq!(found[0].fix.as_ref().unwrap().edits[0].text, "P1");
    assert_eq!(errors("Seg[1] = 2"), ["condition-name"]);
    assert_eq!(errors("Seg[Count] = 2"), ["condition-subscript"]);
    assert_eq!(errors("Unknown[Count] = 2"), ["condition-name"]);
    assert_eq!(errors("Main.Tray[2].Name[Count] = 'b'"), [""; 0]);
}

#[test]
fn several_mistakes_are_told_at_once_and_each_once() {
    let (image, found) = compiled(
        &[("Pmup", Wanted::Bool), ("Level", Wanted::Bool), ("P1 AND Pmup AND TON()", Wanted::Bool)],
        &things(),
    );
    assert!(image.is_none());
    let names: Vec<&str> = found.iter().map(|found| found.name).collect();
    assert_eq!(names, ["condition-name", "condition-not-boolean", "condition-call"]);
}

#[test]
fn limits_are_told() {
    let empty = compiled(&[], &things());
    assert!(empty.0.is_some_and(|image| image.plans.is_empty()) && empty.1.is_empty());
    let most = limits::PROGRAM_CALLS / 2;
    let many = vec![("StartPB AND Count > 3", Wanted::Bool); most + 1];
    let (image, found) = compiled(&many, &things());
    assert!(image.is_none());
    assert_eq!(found[0].name, "program-too-large");
    let image = self::image(&many[..most]);
    assert_eq!(image.plans.len(), most);
    machine(&image).run_program(image.plans[most - 1].explain, 0).unwrap();
    let row = |count: usize| vec!["StartPB"; count].join(" AND ");
    assert_eq!(errors(&row(450)), ["expression-too-deep"]);
    let image = self::image(&[(&row(390), Wanted::Bool)]);
    assert_eq!((image.plans[0].inputs[0].spans.len(), image.plans[0].parts.len()), (390, 1));
    let mixed =
        (0..160).map(|number| format!("Count + {number} > {number}")).collect::<Vec<_>>().join(" OR ");
    let image = self::image(&[(&mixed, Wanted::Bool)]);
    assert_eq!(image.plans[0].parts.len(), 321);
    machine(&image).run_program(image.plans[0].explain, 0).unwrap();
}

#[test]
fn every_name_is_in_a_catalogue() {
    let listed: BTreeSet<&str> =
        CATALOGUE.iter().chain(catalogue::CATALOGUE).map(|(name, _)| *name).collect();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/probe");
    for entry in fs::read_dir(folder).unwrap() {
        let text = fs::read_to_string(entry.unwrap().path()).unwrap();
        for piece in text.split("Diagnostic::error(").skip(1) {
            let name = piece.trim_start().strip_prefix('"').and_then(|rest| rest.split('"').next()).unwrap();
            assert!(listed.contains(name) || name == "program-too-large", "{name} is not in the catalogue");
        }
    }
}

/// Pieces of expressions, in any order.
fn soup() -> impl Strategy<Value = String> {
    let pieces = [
        "StartPB",
        "Level",
        "Count",
        "Bits",
        "Wait",
        "Text",
        "Long",
        "Lamp",
        "Valve",
        "Seg",
        "Nobody",
        "Red",
        "Open",
        "Colour#Red",
        "Plant.Colour#",
        "TRUE",
        "1",
        "2.5",
        "T#1s",
        "'a'",
        "\"b\"",
        "16#FF",
        "INT#3",
        "NULL",
        "THIS",
        "SUPER",
        "REF",
        "ABS",
        "LEN",
        "TON",
        "MAX",
        "SEL",
        "(",
        ")",
        "(",
        ")",
        "[",
        "]",
        ".",
        ",",
        "^",
        ":=",
        "=>",
        "EN",
        "IN",
        "+",
        "-",
        "*",
        "/",
        "MOD",
        "**",
        "=",
        "<>",
        "<",
        ">=",
        "AND",
        "OR",
        "XOR",
        "NOT",
        "&",
        ".%X1",
        ".%W0",
        ".3",
        "%IX0.0",
        "%QW2",
        "%M*",
    ];
    prop::collection::vec(prop::sample::select(pieces.to_vec()), 1..24).prop_map(|pieces| pieces.join(" "))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn soup_never_panics_and_what_compiles_loads(text in soup(), which in 0..4usize) {
        let mut sources = Sources::new();
        let file = sources.add("soup.steps", text.as_str());
        let mut names = Names::new();
        let Ok(expression) = parse_expression(file, &text, &mut names) else { return Ok(()) };
        let wanted = [
            Wanted::Bool,
            Wanted::Measure,
            Wanted::Any,
            Wanted::Value { kind: ProbeKind::Elementary(E::Lreal), target: Span::new(file, 0, 0) },
        ];
        let probe = Probe { expression: &expression, wanted: wanted[which].clone() };
        let (image, found) = compile_probes(&[probe], &things(), &sources, &mut names);
        let failed = found.iter().any(|found| found.severity == Severity::Error);
        prop_assert_eq!(image.is_none(), failed);
        for found in &found {
            let labels = found.secondary.iter().chain([&found.primary]);
            for label in labels {
                prop_assert!(label.span.end as usize <= text.len(), "{text}: {found:?}");
            }
            prop_assert_ne!(found.name, "internal", "{}", text);
        }
        if let Some(image) = image {
            let mut machine = machine(&image);
            let plan = &image.plans[0];
            let called = machine.run_program(plan.call, 0).map_err(|fault| fault.kind);
            let explained = machine.run_program(plan.explain, 0).map_err(|fault| fault.kind);
            prop_assert_eq!(called.err(), explained.err());
        }
    }
}
