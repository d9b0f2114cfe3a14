//! Shares of a class that were marked apart, put together.

use std::{
    collections::BTreeMap,
    fs,
    path::{Path, PathBuf},
};

use super::{
    arguments::MergeArguments,
    folder::{FEEDBACK, claim, log_path, pages},
    log::{At, Header, Log},
    outputs,
    run::finish,
};
use crate::{
    exit::{Exit, Failure},
    files,
    terminal::Terminal,
};

/// A share.
struct Share {
    folder: PathBuf,
    log: Log,
    header: Header,
}

/// Puts shares together.
pub(super) fn run(arguments: &MergeArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    let mut shares: Vec<Share> = Vec::new();
    for folder in &arguments.shares {
        if files::same(folder, &arguments.out) {
            return Err(Failure::usage(format!(
                "{}: this share would be written over; name another folder with --out",
                folder.display()
            )));
        }
        let (log, header) = Log::of_another(&log_path(folder))?;
        shares.push(Share { folder: folder.clone(), log, header });
    }
    check_shares(&shares)?;
    let mut places: BTreeMap<usize, (usize, At)> = BTreeMap::new();
    let mut members = 0;
    for (index, share) in shares.iter().enumerate() {
        for at in share.log.all() {
            let entry = share.log.read(at)?;
            members = members.max(entry.members);
            if entry.members != members || places.insert(entry.place, (index, at)).is_some() {
                return Err(not_one_class(&share.folder));
            }
        }
    }
    if let Some(missing) = (0..members).find(|place| !places.contains_key(place)) {
        return Err(Failure::usage(format!(
            "submission {} of {members} is in none of the shares; mark the share that it belongs to until it is complete",
            missing + 1
        )));
    }
    let _claimed = claim(&arguments.out, &[])?;
    let Some(first) = shares.first() else { return Err(Failure::nothing("there are no shares")) };
    let header = first.header.of_whole_class();
    let mut log = Log::open(&log_path(&arguments.out), &header)?;
    let mut order = Vec::with_capacity(places.len());
    let feedback = arguments.out.join(FEEDBACK);
    for (index, at) in places.values() {
        // The index was made from the shares.
        let Some(share) = shares.get(*index) else { continue };
        let entry = share.log.read(*at)?;
        let from = pages(&share.folder.join(FEEDBACK), &entry.slug);
        for (from, to) in from.iter().zip(&pages(&feedback, &entry.slug)) {
            let bytes = fs::read(from).map_err(|error| files::cannot("read", from, &error))?;
            files::write(to, &bytes)?;
        }
        order.push((entry.place, log.append(&entry)?));
    }
    let (log, order) = log.rewrite(&header, &order, members)?;
    let summary = outputs::write(&arguments.out, &header, &log, &order)?;
    finish(&summary, false, arguments.fail_under, arguments.quiet, &arguments.out, terminal)
}

/// Whether all shares of one class are there, each once.
fn check_shares(shares: &[Share]) -> Result<(), Failure> {
    let mut seen: BTreeMap<u32, &Path> = BTreeMap::new();
    let mut of = 0;
    for share in shares {
        let Some((number, count)) = share.header.shard else {
            return Err(Failure::usage(format!(
                "{}: these are the results of a whole class, not of a share",
                share.folder.display()
            )));
        };
        let first = shares.first().map(|first| &first.header);
        let fits = first.is_some_and(|first| first.of_whole_class() == share.header.of_whole_class());
        if !fits {
            return Err(not_one_class(&share.folder));
        }
        if of != 0 && of != count {
            return Err(Failure::usage(format!(
                "{}: this is a share of {count}, and others are shares of {of}",
                share.folder.display()
            )));
        }
        of = count;
        if let Some(other) = seen.insert(number, &share.folder) {
            return Err(Failure::usage(format!(
                "{} and {} are the same share, {number}/{of}",
                other.display(),
                share.folder.display()
            )));
        }
    }
    match (1..=of).find(|number| !seen.contains_key(number)) {
        Some(missing) => Err(Failure::usage(format!("the share {missing}/{of} is missing"))),
        None => Ok(()),
    }
}

fn not_one_class(folder: &Path) -> Failure {
    Failure::usage(format!(
        "{}: this share is of another class, of another state of the exercise, or of another version of latchwork; mark \
         all shares with the same exercise and submissions",
        folder.display()
    ))
}
