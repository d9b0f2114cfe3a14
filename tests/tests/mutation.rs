//! Faults seeded into programs: what they are, that the gallery notices them or not as the snapshots show, and that every
//! procedure that is handed out tells its fault from the reference.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a failing test may panic")]

#[allow(dead_code, reason = "shared with the tests of the gallery")]
#[path = "gallery/bench.rs"]
mod bench;
#[path = "mutation/examine.rs"]
mod examine;
#[allow(dead_code, reason = "shared with the tests of the gallery")]
#[path = "gallery/folder.rs"]
mod folder;

use std::{collections::BTreeSet, sync::Arc};

use examine::Task;
use latchwork_bench::{
    mutation::{
        Examination, ExaminationOptions, Fate, MUTANTS_MAX, MutantKind, MutationReport, Reference, Refusal,
        Sight, mutants,
        report::{TextOptions, text},
    },
    procedure::{ProcedureTexts, RunOptions, Script, ScriptParts, Traces},
};
use latchwork_compiler::{CompileOptions, compile};
use latchwork_grammar::{FileId, Names, Sources, parse_steps};
use latchwork_tests::workbench;

/// Scans of a search here: enough for what is found at once, and little for what is not.
const SCANS: u64 = 8_000;

const SCAN_NS: i64 = 10_000_000;

fn sources_of(name: &str, text: &str) -> Sources {
    let mut sources = Sources::new();
    sources.add(name, text);
    sources
}

/// One of each language.
fn kinds() -> [Sources; 2] {
    let [st, il] = [include_str!("mutation/kinds.st"), include_str!("mutation/kinds.il")];
    [sources_of("kinds.st", st), sources_of("kinds.il", il)]
}

/// Every kind gives a program, and another one, in both languages.
#[test]
fn every_kind_occurs_in_both_languages() {
    for sources in kinds() {
        let reference = compile(&sources);
        let told = workbench::text(&reference.diagnostics, &sources);
        let code = reference.image.unwrap_or_else(|| panic!("{told}"));
        let mut seen = BTreeSet::new();
        for mutant in mutants(&sources, SCAN_NS).list {
            let image = compile(&mutant.apply(&sources)).image;
            let differs = image.is_some_and(|image| {
                (&image.code, &image.data, &image.layout) != (&code.code, &code.data, &code.layout)
            });
            if differs {
                seen.insert(mutant.kind);
            }
        }
        let missing: Vec<&str> =
            MutantKind::ALL.iter().filter(|kind| !seen.contains(kind)).map(|kind| kind.name()).collect();
        assert!(missing.is_empty(), "{:?}", missing);
    }
}

/// The faults of both programs in words.
#[test]
fn faults_in_words() {
    for (sources, name) in kinds().iter().zip(["kinds_st", "kinds_il"]) {
        let lines = mutants(sources, SCAN_NS)
            .list
            .into_iter()
            .map(|mutant| format!("{:>3} {:<20} {}\n", mutant.line, mutant.kind.name(), mutant.words));
        insta::assert_snapshot!(name, lines.collect::<String>());
    }
}

/// An edit changes the text in its span and nowhere else, in one file.
#[test]
fn an_edit_changes_its_span_alone() {
    let mut programs: Vec<Sources> = kinds().into();
    programs.extend(examine::programs());
    for sources in programs {
        let mut earlier = None;
        for mutant in mutants(&sources, SCAN_NS).list {
            let edited = mutant.apply(&sources);
            for ((id, before), (_, behind)) in sources.iter().zip(edited.iter()) {
                assert_eq!(before.name, behind.name);
                if id != mutant.file() {
                    assert_eq!(before.text, behind.text);
                    continue;
                }
                let same = |(one, other): &(u8, u8)| one == other;
                let head = before.text.bytes().zip(behind.text.bytes()).take_while(same).count();
                let tail = before.text.bytes().rev().zip(behind.text.bytes().rev()).take_while(same).count();
                assert!(head >= mutant.span.start as usize, "{}", mutant.words);
                assert!(tail >= before.text.len() - mutant.span.end as usize, "{}", mutant.words);
                assert_ne!(before.text, behind.text, "{}", mutant.words);
            }
            assert!(!mutant.words.contains(['\n', '\r']) && !mutant.words.is_empty());
            assert_eq!(mutant.line, sources.range(mutant.span).0.0);
            // In order, and each once.
            let place = (mutant.span, mutant.kind, mutant.replacement.clone());
            assert!(earlier.replace(place.clone()) < Some(place), "{}", mutant.words);
        }
    }
}

/// The reports of some tasks, with devices of two states and analog ones; every procedure that they hand out is passed by the reference and failed with the fault.
#[test]
fn reports_of_the_gallery() {
    for (folder, variant) in
        [("seal-in", 1), ("star-delta", 0), ("two-hand", 1), ("tray-conveyor", 0), ("level-scaling", 1)]
    {
        let task = Task::read(folder, variant);
        task.examination(SCANS, |examination| {
            let examined: Vec<_> =
                (0..examination.count()).filter_map(|number| examination.examine(number)).collect();
            for one in &examined {
                if let Fate::Survived(Sight::Told(found)) = &one.fate {
                    let mutant = &examination.mutants().list[one.number];
                    assert!(task.passes(&found.procedure, task.sources()), "{folder}\n{}", found.procedure);
                    let faulty = mutant.apply(task.sources());
                    assert!(!task.passes(&found.procedure, &faulty), "{folder}\n{}", found.procedure);
                }
            }
            let report = examination.report(&examined);
            let counts = report.counts;
            assert_eq!(counts.seeded, examination.count());
            assert_eq!(
                counts.seeded,
                counts.not_compiled + counts.the_same + counts.noticed + counts.survived()
            );
            let noticed: usize = report.procedures.iter().map(|procedure| procedure.noticed).sum();
            assert_eq!(noticed, counts.noticed);
            let shown = text(&report, task.sources(), TextOptions { width: 100, colour: false });
            insta::assert_snapshot!(folder, shown);
        });
    }
}

/// The same results in any order, and the same document when it is read again.
#[test]
fn a_result_depends_on_its_number_alone() {
    let task = Task::read("two-hand", 0);
    task.examination(SCANS, |examination| {
        let forward: Vec<_> =
            (0..examination.count()).filter_map(|number| examination.examine(number)).collect();
        let back: Vec<_> =
            (0..examination.count()).rev().filter_map(|number| examination.examine(number)).collect();
        let report = examination.report(&forward);
        assert_eq!(report, examination.report(&back));
        let document = serde_json::to_string(&report).unwrap();
        assert_eq!(serde_json::from_str::<MutationReport>(&document).unwrap(), report);
        assert_eq!(examination.examine(examination.count()), None);
        // Without a search the same faults survive, and it says that it was not looked.
        let survived = |fate: &Fate| matches!(fate, Fate::Survived(_));
        let survivors: Vec<usize> =
            forward.iter().filter(|one| survived(&one.fate)).map(|one| one.number).collect();
        assert!(!survivors.is_empty());
        task.examination(0, |quick| {
            for one in &forward {
                let again = quick.examine(one.number).unwrap().fate;
                assert_eq!(again == Fate::Survived(Sight::NotSearched), survivors.contains(&one.number));
            }
        });
    });
}

/// Without a station inputs are set and outputs looked at; a fault that stops the program is told as such.
#[test]
fn a_program_without_a_station() {
    let program = "PROGRAM Bare
VAR
  A    AT %IX0.0 : BOOL;
  B    AT %IX0.1 : BOOL;
  N    AT %IW1   : INT;
  Lamp AT %QX0.0 : BOOL;
  List : ARRAY[0..3] OF INT;
  Last : INT;
END_VAR
  Lamp := A AND NOT B;
  IF N >= 0 AND N < 4 THEN
    Last := List[N];
  END_IF;
END_PROGRAM
";
    let sources = sources_of("bare.st", program);
    let steps = "procedure 'a lamp' set %IX0.0 to TRUE; expect Lamp; set %IX0.0 to FALSE; expect NOT Lamp; \
                 end_procedure";
    let mut names = Names::new();
    let steps_sources = sources_of("bare.steps", steps);
    let trees = [parse_steps(FileId(0), steps, &mut names).tree];
    let procedures =
        [ProcedureTexts { files: &trees, sources: &steps_sources, names: &names, traces: Traces::default() }];
    let reference = Reference {
        sources: &sources,
        options: CompileOptions::default(),
        station: None,
        procedures: &procedures,
        run: RunOptions::default(),
    };
    let options = ExaminationOptions { mutants: MUTANTS_MAX, search_scans: SCANS };
    let examination = Examination::new(reference, options).unwrap_or_else(|refusal| panic!("{refusal:?}"));
    let told = |words: &str| {
        let number = examination.mutants().list.iter().position(|mutant| mutant.words == words).unwrap();
        match examination.examine(number).unwrap().fate {
            Fate::Survived(Sight::Told(found)) => format!("{}\n{}", found.seen, found.procedure),
            fate => panic!("{words}: {fate:?}"),
        }
    };
    let texts = ["`AND NOT B` left out", "`<` became `<=`"].map(told);
    insta::assert_snapshot!(texts.join("\n"));
}

/// A fault that makes a loop endless is noticed in bounded time; threads may share an examination.
#[test]
fn an_endless_loop_is_noticed() {
    fn shared<T: Sync>(_: &T) {}
    let program = "PROGRAM Adding
VAR Count : INT; Sum : INT; END_VAR
  Count := 0;
  Sum := 0;
  WHILE Count < 3 DO
    Count := Count + 1;
    Sum := Sum + Count;
  END_WHILE;
END_PROGRAM
";
    let sources = sources_of("sum.st", program);
    let steps = "procedure 'the sum' expect Sum = 6; end_procedure";
    let mut names = Names::new();
    let steps_sources = sources_of("sum.steps", steps);
    let trees = [parse_steps(FileId(0), steps, &mut names).tree];
    let procedures =
        [ProcedureTexts { files: &trees, sources: &steps_sources, names: &names, traces: Traces::default() }];
    let reference = Reference {
        sources: &sources,
        options: CompileOptions::default(),
        station: None,
        procedures: &procedures,
        run: RunOptions::default(),
    };
    let options = ExaminationOptions { mutants: MUTANTS_MAX, search_scans: 1_000 };
    let examination =
        Examination::new(reference.clone(), options).unwrap_or_else(|refusal| panic!("{refusal:?}"));
    shared(&examination);
    let endless =
        examination.mutants().list.iter().position(|mutant| mutant.words == "`+` became `-`").unwrap();
    assert_eq!(examination.examine(endless).unwrap().fate, Fate::Noticed { file: 0, procedure: 0 });
    // What a reference must bring.
    let broken = sources_of("sum.st", "PROGRAM Adding Count := ; END_PROGRAM");
    let refused = |reference: Reference<'_>| Examination::new(reference, options).err().unwrap();
    assert!(matches!(refused(Reference { sources: &broken, ..reference.clone() }), Refusal::Program(_)));
    let other = sources_of(
        "sum.st",
        &program
            .replace("Sum : INT", "Total : INT")
            .replace("Sum :=", "Total :=")
            .replace("Sum +", "Total +"),
    );
    let found = refused(Reference { sources: &other, ..reference.clone() });
    assert!(matches!(found, Refusal::Procedures(0, _)), "{found:?}");
    let wrong = sources_of("sum.st", &program.replace("< 3", "< 4"));
    assert!(matches!(refused(Reference { sources: &wrong, ..reference }), Refusal::NothingPasses));
}

/// A long program has faults of every kind that it could have, and not more than are allowed.
#[test]
fn a_long_program_has_a_limited_number_of_faults() {
    let statements: String = (0..3_000).map(|number| format!("  X := X AND Y OR Z = {number};\n")).collect();
    let program =
        format!("PROGRAM Long\nVAR X, Y : BOOL; Z : INT; E : R_TRIG; END_VAR\n{statements}END_PROGRAM\n");
    let found = mutants(&sources_of("long.st", &program), SCAN_NS);
    assert_eq!(found.list.len(), MUTANTS_MAX);
    assert!(found.left_out > 20_000);
    assert!(found.list.iter().any(|mutant| mutant.kind == MutantKind::WrongEdge));
    assert!(found.list.iter().any(|mutant| mutant.line > 2_900));
    assert!(mutants(&sources_of("empty.st", ""), SCAN_NS).list.is_empty());
    assert!(mutants(&sources_of("broken.st", "PROGRAM P IF THEN ((((( := END_"), SCAN_NS).list.is_empty());
}

impl Task {
    /// Whether a program passes a procedure that stands behind those of the task.
    fn passes(&self, procedure: &str, program: &Sources) -> bool {
        let mut sources = self.steps_sources.clone();
        let mut names = self.names.clone();
        let file = sources.add("found.steps", procedure);
        let parsed = parse_steps(file, procedure, &mut names);
        assert!(parsed.diagnostics.is_empty(), "{}", workbench::text(&parsed.diagnostics, &sources));
        let mut files = self.files.clone();
        files.push(parsed.tree);
        let (script, findings) = Script::new(ScriptParts {
            files: &files,
            program: Arc::clone(&workbench::program_of(program).unwrap()),
            station: self.station.as_ref(),
            sources: &sources,
            names: &names,
        });
        assert!(findings.is_empty(), "{}", workbench::text(&findings, &sources));
        script.run(script.procedures().len() - 1, &RunOptions::default()).passed()
    }
}
