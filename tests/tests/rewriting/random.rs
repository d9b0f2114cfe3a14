//! A random program, rewritten, run beside the old one, and rewritten back.

use std::{fmt::Write as _, sync::Arc};

use latchwork_compiler::{
    CompileOptions, compile,
    rewrite::{Language, Rewriting, rewrite},
};
use latchwork_grammar::{Severity, Sources};
use latchwork_tests::{
    generate::programs::{Batch, inputs},
    twins,
};
use latchwork_vm::{Image, Program};

/// Scans of each program.
const SCANS: usize = 25;

/// What was rewritten and run.
#[derive(Clone, Copy, Debug, Default)]
pub struct Seen {
    /// Bodies in Instruction List that came from Structured Text.
    pub to_list: usize,
    /// Bodies that could not.
    pub refused_to_list: usize,
    /// Bodies in Structured Text that came from Instruction List.
    pub to_text: usize,
    /// Bodies that could not.
    pub refused_to_text: usize,
    /// Scans of both forms.
    pub scans: usize,
    /// Scans that ended with the same fault in both.
    pub faults: usize,
}

impl Seen {
    pub fn add(&mut self, other: Seen) {
        self.to_list += other.to_list;
        self.refused_to_list += other.refused_to_list;
        self.to_text += other.to_text;
        self.refused_to_text += other.refused_to_text;
        self.scans += other.scans;
        self.faults += other.faults;
    }
}

/// Examines all programs of a batch.
pub fn examine(seed: u64) -> Seen {
    let batch = Batch::new(seed);
    let text = batch.text();
    let mut seen = Seen::default();
    let old = image(&text).unwrap_or_else(|problem| panic!("seed {seed}: {problem}"));
    let list = rewritten(&text, Language::InstructionList);
    seen.to_list += list.bodies.len();
    seen.refused_to_list += list.diagnostics.len();
    run(&old, &batch, &text, &list.texts[0].1, seed, &mut seen);
    // Also what was in Instruction List from the start.
    let back = rewritten(&list.texts[0].1, Language::StructuredText);
    seen.to_text += back.bodies.len();
    seen.refused_to_text += back.diagnostics.len();
    run(&old, &batch, &list.texts[0].1, &back.texts[0].1, seed, &mut seen);
    seen
}

fn rewritten(text: &str, language: Language) -> Rewriting {
    let mut sources = Sources::new();
    sources.add("random.st", text);
    let done = rewrite(&sources, language, None, &CompileOptions::default());
    assert!(!done.texts.is_empty(), "{:#?}\n{text}", done.diagnostics);
    for refusal in &done.diagnostics {
        // What was refused must have been seen to be impossible, not found out by a compiler.
        let told = latchwork_tests::workbench::text(std::slice::from_ref(refusal), &sources);
        assert!(!refusal.primary.text.contains("what it would become"), "{told}");
    }
    done
}

fn image(text: &str) -> Result<Image, String> {
    let mut sources = Sources::new();
    sources.add("random.st", text);
    let mut compiled = compile(&sources);
    compiled.diagnostics.retain(|diagnostic| diagnostic.severity == Severity::Error);
    compiled.image.ok_or_else(|| latchwork_tests::workbench::text(&compiled.diagnostics, &sources))
}

fn run(old: &Image, batch: &Batch, before: &str, after: &str, seed: u64, seen: &mut Seen) {
    let new = image(after).unwrap_or_else(|problem| panic!("seed {seed}: {problem}\n{after}"));
    let names: Vec<String> = inputs().into_iter().map(|(name, _)| name).collect();
    let runs = if batch.configured { 1 } else { batch.programs().len() };
    for index in 0..runs {
        let [left, right] = [old, &new].map(|image| {
            let mut image = image.clone();
            if !batch.configured
                && let [task] = image.tasks.as_mut_slice()
            {
                task.programs = vec![task.programs[index]];
            }
            Arc::new(Program::load(image, latchwork_stdlib::natives()).unwrap())
        });
        match twins::compare(&left, &right, &names, SCANS, seed.wrapping_add(index as u64)) {
            Ok(compared) => {
                seen.scans += compared.scans;
                seen.faults += compared.faults;
            }
            Err(difference) => panic!("{}", told(&difference, batch, index, before, after)),
        }
    }
}

/// The difference, and the program before and after.
fn told(difference: &str, batch: &Batch, index: usize, before: &str, after: &str) -> String {
    let mut text = format!("{difference}\n");
    let name = batch.programs().get(index).map(|name| format!("P{}", &name[1..])).unwrap_or_default();
    for source in [before, after] {
        let start = source.find(&format!("PROGRAM {name}\n")).unwrap_or(0);
        let end = source[start..].find("END_PROGRAM").map_or(source.len(), |end| start + end);
        let _ = writeln!(text, "{}\n", &source[start..end]);
    }
    text
}
