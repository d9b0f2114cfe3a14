//! Coverage of procedures: each leaves a log of its own, and all of them together are the same in any order.

use std::{fs, path::Path, sync::Arc};

use latchwork_bench::{
    coverage::{Report, render},
    procedure::{RunOptions, Script, ScriptParts, Verdict},
    station::Station,
};
use latchwork_compiler::{CompileOptions, compile_with};
use latchwork_grammar::{Names, Sources, parse_steps};
use latchwork_vm::{CoverageLog, Program};

#[test]
fn logs_of_procedures_are_merged_in_any_order() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/procedures");
    let read = |name: &str| fs::read_to_string(folder.join(name)).unwrap();
    let mut programs = Sources::new();
    programs.add("panel.st", read("panel.st"));
    let options = CompileOptions { coverage: true, ..CompileOptions::default() };
    let compilation = compile_with(&programs, &options);
    let map = compilation.coverage.unwrap();
    let program = Program::load(compilation.image.unwrap(), latchwork_stdlib::natives()).unwrap();
    let mut sources = Sources::new();
    let toml = sources.add("panel.toml", read("panel.toml"));
    let station = Station::parse(toml, &sources.file(toml).text).0.unwrap();
    let steps = sources.add("passing.steps", read("passing.steps"));
    let mut names = Names::new();
    let files = [parse_steps(steps, &sources.file(steps).text, &mut names).tree];
    let (script, _) = Script::new(ScriptParts {
        files: &files,
        program: Arc::new(program),
        station: Some(&station),
        sources: &sources,
        names: &names,
    });
    let logs: Vec<CoverageLog> = (0..script.procedures().len())
        .map(|index| {
            let outcome = script.run(index, &RunOptions::default());
            // Measuring does not change the verdict.
            assert!(matches!(outcome.verdict, Verdict::Passed), "{:?}", outcome.verdict);
            outcome.coverage.unwrap()
        })
        .collect();
    assert!(logs.len() > 10);
    let merged = |order: &mut dyn Iterator<Item = &CoverageLog>| {
        let mut all = CoverageLog::new(map.size);
        order.for_each(|log| assert!(all.merge(log)));
        Report::new(&map, Some(&all), &programs)
    };
    let forwards = merged(&mut logs.iter());
    assert!(forwards == merged(&mut logs.iter().rev()));
    let (even, odd) = (logs.iter().step_by(2), logs.iter().skip(1).step_by(2));
    assert!(forwards == merged(&mut odd.chain(even)));
    let alone = Report::new(&map, Some(&logs[0]), &programs);
    assert!(alone.figures.conditions.covered < forwards.figures.conditions.covered);
    insta::assert_snapshot!(render::summary(&forwards, 100));
}
