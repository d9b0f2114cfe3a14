//! What an examination tells: every fault with what became of it, counts by kind, and which procedure noticed what.
//!
//! Pure data, which is written and read as JSON; [`text()`] makes of it what is read in a terminal.

mod text;

use latchwork_grammar::{FileId, Span};
use serde::{Deserialize, Serialize};

pub use self::text::{TextOptions, text};
use super::{
    examination::{Examination, Examined, Fate},
    kind::MutantKind,
    prove::Chosen,
    search::{Found, Sight},
};

/// Most characters of a line of the program that are quoted.
const EXCERPT_MAX: usize = 200;

/// What came of examining a reference.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct MutationReport {
    /// All faults together.
    pub counts: FaultCounts,
    /// Faults that were left out because there are too many.
    pub left_out: usize,
    /// By kind, those that occur.
    pub kinds: Vec<KindReport>,
    /// Every procedure, in the order in which they were tried.
    pub procedures: Vec<ProcedureReport>,
    /// Every fault, in the order of files and places.
    pub faults: Vec<FaultReport>,
    /// Scans that were run.
    pub scans: u64,
}

/// Faults by what became of them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct FaultCounts {
    /// Those that were tried.
    pub seeded: usize,
    /// Those with which there is no program.
    pub not_compiled: usize,
    /// Those that give the same program.
    pub the_same: usize,
    /// Those that a procedure notices.
    pub noticed: usize,
    /// Those that no procedure notices, and for which a procedure was found that does.
    pub told_apart: usize,
    /// Those that no procedure notices, and for which none was found.
    pub not_told_apart: usize,
}

/// The faults of a kind.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KindReport {
    /// The kind.
    pub kind: MutantKind,
    /// What became of them.
    pub counts: FaultCounts,
}

/// A procedure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ProcedureReport {
    /// The name of its file.
    pub file: String,
    /// Its title.
    pub title: String,
    /// Whether the reference passes it; otherwise no fault was tried with it.
    pub passed: bool,
    /// The faults that it was the first to notice.
    pub noticed: usize,
}

/// A fault.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FaultReport {
    /// Its number, from 1.
    pub number: usize,
    /// Its kind.
    pub kind: MutantKind,
    /// The name of the file.
    pub file: String,
    /// The file by its number among those of the reference, from 0.
    pub file_number: u32,
    /// The line, from 1.
    pub line: u32,
    /// What is replaced: the first byte of the file, and the one behind the last.
    pub range: (u32, u32),
    /// What stands there instead.
    pub replacement: String,
    /// The line as it is written.
    pub excerpt: String,
    /// What was done: "`>=` became `>`".
    pub words: String,
    /// What became of it.
    pub fate: FateReport,
}

/// What became of a fault.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "kind")]
pub enum FateReport {
    /// There is no program with it.
    NotCompiled,
    /// The program is the same with it.
    TheSame,
    /// A procedure notices it, by its number in [`MutationReport::procedures`].
    Noticed {
        /// The first that does.
        procedure: usize,
    },
    /// No procedure does.
    Survived {
        /// A procedure that would, and what there is to see; `None` if none was found.
        found: Option<FoundReport>,
        /// What was seen where it was looked.
        sight: SightReport,
    },
}

/// What tells a survivor from the reference.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct FoundReport {
    /// A procedure that the reference passes and the fault does not.
    pub procedure: String,
    /// What there is to see, in a sentence.
    pub seen: String,
    /// How long it lasts if nothing more is done, in nanoseconds; `None` if it is not over after a long time.
    pub lasts_ns: Option<i64>,
}

/// What was seen of a survivor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SightReport {
    /// What tells it from the reference.
    Told,
    /// Neither a load nor an output shows it, as far as was looked.
    Hidden,
    /// Not even a variable has come to differ.
    Nothing,
    /// It was not looked.
    NotSearched,
}

fn survived(sight: &Sight) -> FateReport {
    let (found, sight) = match sight {
        Sight::Told(Found { procedure, seen, lasts_ns }) => {
            let (procedure, seen) = (procedure.clone(), seen.clone());
            (Some(FoundReport { procedure, seen, lasts_ns: *lasts_ns }), SightReport::Told)
        }
        Sight::Hidden => (None, SightReport::Hidden),
        Sight::Nothing => (None, SightReport::Nothing),
        Sight::NotSearched => (None, SightReport::NotSearched),
    };
    FateReport::Survived { found, sight }
}

impl FaultCounts {
    /// Those that no procedure notices.
    #[must_use]
    pub const fn survived(&self) -> usize {
        self.told_apart + self.not_told_apart
    }

    fn count(&mut self, fate: &Fate) {
        self.seeded += 1;
        let of_fate = match fate {
            Fate::NotCompiled => &mut self.not_compiled,
            Fate::TheSame => &mut self.the_same,
            Fate::Noticed { .. } => &mut self.noticed,
            Fate::Survived(Sight::Told(_)) => &mut self.told_apart,
            Fate::Survived(_) => &mut self.not_told_apart,
        };
        *of_fate += 1;
    }
}

impl FaultReport {
    /// Its place in the sources of the reference.
    #[must_use]
    pub fn span(&self) -> Span {
        Span::new(FileId(self.file_number), self.range.0, self.range.1)
    }
}

impl Examination<'_> {
    /// What came of the faults that were examined, in any order.
    #[must_use]
    pub fn report(&self, examined: &[Examined]) -> MutationReport {
        let mut examined: Vec<&Examined> = examined.iter().collect();
        examined.sort_by_key(|one| one.number);
        examined.dedup_by_key(|one| one.number);
        let (order, mut procedures) = self.procedures();
        let mut report = MutationReport { left_out: self.mutants().left_out, ..MutationReport::default() };
        let mut kinds: Vec<KindReport> =
            MutantKind::ALL.map(|kind| KindReport { kind, counts: FaultCounts::default() }).into();
        for one in examined {
            let Some(mutant) = self.mutants().list.get(one.number) else { continue };
            report.scans += one.scans;
            report.counts.count(&one.fate);
            if let Some(own) = kinds.iter_mut().find(|own| own.kind == mutant.kind) {
                own.counts.count(&one.fate);
            }
            let fate = match &one.fate {
                Fate::NotCompiled => FateReport::NotCompiled,
                Fate::TheSame => FateReport::TheSame,
                Fate::Noticed { file, procedure } => {
                    let chosen = Chosen { file: *file, procedure: *procedure };
                    let place = order.iter().position(|other| *other == chosen).unwrap_or_default();
                    if let Some(own) = procedures.get_mut(place) {
                        own.noticed += 1;
                    }
                    FateReport::Noticed { procedure: place }
                }
                Fate::Survived(sight) => survived(sight),
            };
            let file = self.reference().sources.file(mutant.file());
            let excerpt = file.text.lines().nth(mutant.line.saturating_sub(1) as usize).unwrap_or("").trim();
            report.faults.push(FaultReport {
                number: one.number + 1,
                kind: mutant.kind,
                file: file.name.clone(),
                file_number: mutant.file().0,
                line: mutant.line,
                range: (mutant.span.start, mutant.span.end),
                replacement: mutant.replacement.clone(),
                excerpt: excerpt.chars().take(EXCERPT_MAX).collect(),
                words: mutant.words.clone(),
                fate,
            });
        }
        kinds.retain(|own| own.counts.seeded > 0);
        (report.kinds, report.procedures) = (kinds, procedures);
        report
    }

    /// The procedures in the order of files and places.
    fn procedures(&self) -> (Vec<Chosen>, Vec<ProcedureReport>) {
        let mut order: Vec<(Chosen, bool)> = self.passed().iter().map(|chosen| (*chosen, true)).collect();
        order.extend(self.failed().iter().map(|chosen| (*chosen, false)));
        order.sort();
        let told = |(chosen, passed): &(Chosen, bool)| {
            let file = self.reference().procedures.get(chosen.file);
            let name = file.and_then(|file| Some(file.sources.file(file.files.last()?.file).name.clone()));
            let title =
                file.and_then(|file| Some(file.procedures().get(chosen.procedure)?.title.value.clone()));
            ProcedureReport {
                file: name.unwrap_or_default(),
                title: title.unwrap_or_default(),
                passed: *passed,
                noticed: 0,
            }
        };
        let procedures = order.iter().map(told).collect();
        (order.into_iter().map(|(chosen, _)| chosen).collect(), procedures)
    }
}
