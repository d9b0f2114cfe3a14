//! Marking a class, or a share of it, on threads.

use std::{
    fs,
    path::Path,
    sync::{Mutex, PoisonError, atomic::AtomicBool},
    time::{Duration, Instant},
};

use latchwork_bench::{
    alike::{Demanded, Handed, fingerprints},
    diagram::counted,
    marking::Gravity,
};
use latchwork_compiler::render;

use super::{
    arguments::MarkArguments,
    folder,
    intake::{Budget, Class, IntakeOptions, Roster},
    log::{At, Header, Log},
    outputs::{self, Summary},
    work::{Done, Work},
};
use crate::{
    exercise::load::{Loaded, Purpose},
    exit::{Exit, Failure},
    interrupt,
    progress::Progress,
    terminal::Terminal,
    test::pool::{self, Piece, Results},
};

/// How often the log is brought to the disk.
const SYNC: Duration = Duration::from_secs(1);

/// What a run reads, and where it writes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Paths<'a> {
    pub(super) exercise: &'a Path,
    pub(super) submissions: &'a Path,
    pub(super) out: &'a Path,
}

/// Marks.
pub(super) fn run(
    paths: Paths<'_>,
    arguments: &MarkArguments,
    terminal: &mut Terminal,
) -> Result<Exit, Failure> {
    let loaded = Loaded::read(paths.exercise, Purpose::Marking, arguments.language, terminal)?;
    let marker = loaded.marker(terminal)?;
    let class = list(paths, arguments, &loaded)?;
    tell_class(&class, arguments.quiet, terminal);
    let _claimed = folder::claim(paths.out, &[paths.exercise, paths.submissions])?;
    let demanded = demanded(&loaded);
    let skeleton = (!loaded.skeleton.is_empty()).then(|| {
        let handed = Handed { student: String::new(), texts: loaded.skeleton.clone() };
        fingerprints(&handed, &demanded)
    });
    let shard = arguments.shard.map(|shard| (shard.number, shard.of));
    let header = Header::new(loaded.digest.clone(), marker.scheme().clone(), skeleton, shard);
    let log = Log::open(&folder::log_path(paths.out), &header)?;
    let procedures = marker.procedure_sources();
    let work = Work {
        marker: &marker,
        texts: loaded.texts(&marker, &procedures),
        demanded: &demanded,
        class: &class,
        feedback: paths.out.join(folder::FEEDBACK),
    };
    let places: Vec<usize> =
        (0..class.len()).filter(|place| arguments.shard.is_none_or(|shard| shard.has(*place))).collect();
    let (log, Taken { order, kept }) = match mark_all(arguments, &work, &places, log)? {
        Marked::All(log, taken) => (log, taken),
        Marked::Some(count) => {
            terminal.say(&format!(
                "interrupted; {count} of {} are marked and kept: the same command goes on from here\n",
                places.len()
            ));
            return Ok(Exit::Interrupted);
        }
    };
    let before = outputs::slugs(&log, &log.all())?;
    let (log, order) = log.rewrite(&header, &order, class.len())?;
    let present = outputs::slugs(&log, &order)?;
    for slug in before.difference(&present) {
        // Of somebody who is not in the class any more; a page that is gone already is no loss.
        folder::pages(&work.feedback, slug).iter().for_each(|page| _ = fs::remove_file(page));
    }
    let summary = if shard.is_none() {
        outputs::write(paths.out, &header, &log, &order)?
    } else {
        outputs::summary(&header, &log, &order)?
    };
    if kept > 0 && !arguments.quiet {
        let unchanged = counted(kept as u64, "submission");
        terminal.say(&format!("{unchanged} marked before and unchanged\n"));
    }
    finish(&summary, shard.is_some(), arguments.fail_under, arguments.quiet, paths.out, terminal)
}

/// Tells the end, and finds the exit code.
pub(super) fn finish(
    summary: &Summary,
    share: bool,
    fail_under: Option<u8>,
    quiet: bool,
    out: &Path,
    terminal: &mut Terminal,
) -> Result<Exit, Failure> {
    if !quiet {
        if !share {
            terminal.result(&summary.table(terminal.columns()))?;
        }
        let what = if share {
            "a share of the class; put the shares together with `latchwork mark merge`"
        } else {
            "gradebook.csv, results.json, results.xml, class.html, alike.html, feedback"
        };
        terminal.say(&format!(
            "{} marked; {}: {what}\n",
            counted(summary.students, "submission"),
            out.display()
        ));
    }
    if summary.internal > 0 {
        terminal.say(&format!(
            "a defect of latchwork showed with {}, which {} not judged; please report it with what was handed in\n",
            counted(summary.internal, "submission"),
            if summary.internal == 1 { "is" } else { "are" }
        ));
        return Ok(Exit::Internal);
    }
    let below = fail_under.is_some_and(|percent| summary.below(percent));
    Ok(if below { Exit::Findings } else { Exit::Good })
}

fn list(paths: Paths<'_>, arguments: &MarkArguments, loaded: &Loaded) -> Result<Class, Failure> {
    let budget = loaded.exercise.budget;
    let options = IntakeOptions {
        budget: Budget {
            text_bytes: budget.text_bytes,
            files: usize::try_from(budget.files).unwrap_or(usize::MAX),
        },
        pattern: arguments.student.clone(),
        roster: arguments.roster.as_deref().map(Roster::read).transpose()?,
        besides: vec![paths.out.to_path_buf()],
    };
    Class::list(paths.submissions, &options)
}

fn tell_class(class: &Class, quiet: bool, terminal: &Terminal) {
    let mut text = String::new();
    for problem in class.problems() {
        if quiet && problem.severity == Gravity::Note {
            continue;
        }
        let word = problem.severity.word();
        text += &format!("{word}[{}]: {}\n", problem.name, render::visible(&problem.message));
    }
    if !quiet {
        for file in class.left_out() {
            text += &format!("left out: {}: {}\n", render::visible(&file.name), render::visible(&file.why));
        }
    }
    terminal.say(&text);
}

/// The variables that every submission has.
fn demanded(loaded: &Loaded) -> Vec<Demanded> {
    let variables = loaded.exercise.variables.iter();
    variables
        .map(|variable| Demanded { name: variable.name.clone(), address: variable.address.clone() })
        .collect()
}

/// Results that were taken.
#[derive(Default)]
struct Taken {
    /// Where they lie, with their places in the class, in its order.
    order: Vec<(usize, At)>,
    /// How many were there before.
    kept: usize,
}

enum Marked {
    /// All are there.
    All(Log, Taken),
    /// It was broken off.
    Some(usize),
}

fn mark_all(
    arguments: &MarkArguments,
    work: &Work<'_>,
    places: &[usize],
    log: Log,
) -> Result<Marked, Failure> {
    let jobs = arguments.jobs.map_or_else(pool::cores, |jobs| usize::from(jobs.get()));
    interrupt::watch();
    let log = Mutex::new(log);
    let known = |key: &str| log.lock().unwrap_or_else(PoisonError::into_inner).find(key);
    let mark = |index: usize| {
        // There are as many pieces of work as places.
        work.mark(places.get(index).copied().unwrap_or(usize::MAX), known)
    };
    let mut progress = Progress::of_long_run(arguments.quiet);
    let take = |results: &mut Results<'_, Done>| -> Result<Option<Taken>, Failure> {
        let mut taken = Taken::default();
        let mut synced = Instant::now();
        while let Some(piece) = results.next() {
            let mut log = log.lock().unwrap_or_else(PoisonError::into_inner);
            let at = match piece {
                Piece::Done(Done::Kept(at)) => {
                    taken.kept += 1;
                    at
                }
                Piece::Done(Done::Marked(entry)) => log.append(&entry)?,
                Piece::Done(Done::Failed(failure)) => return Err(failure),
                Piece::Left => {
                    log.sync()?;
                    return Ok(None);
                }
            };
            taken.order.push((places.get(taken.order.len()).copied().unwrap_or_default(), at));
            if synced.elapsed() >= SYNC {
                log.sync()?;
                synced = Instant::now();
            }
            let done = taken.order.len();
            progress.show(|| format!("{done} of {}", places.len()));
        }
        progress.clear();
        Ok(Some(taken))
    };
    let halt = AtomicBool::new(false);
    let done = pool::run(places.len(), jobs, &interrupt::asked, &halt, mark, take);
    let taken = done.map_err(|error| Failure::internal(format!("no thread could be started: {error}")))??;
    let log = log.into_inner().unwrap_or_else(PoisonError::into_inner);
    log.sync()?;
    Ok(match taken {
        Some(taken) if taken.order.len() == places.len() => Marked::All(log, taken),
        _ => Marked::Some(log.all().len()),
    })
}
