//! The account of a run: for each statement, and each instance that it ran for, in which scans it ran, in which order,
//! what the parts of its expressions were, and where they lay.
//!
//! ```text
//! Logic + journal of the machine after each scan --Accountant--> Account --> reasons, rungs
//! ```
//!
//! A statement with an instance is a **site**. Where a statement runs several times in one scan for one instance, in a
//! loop or in a function that is called often, its last run in the scan belongs to the site, and the others to sites of
//! their own, one for each pass. Values are kept when they change, as recordings keep them, so a long run takes little memory.

mod accountant;
mod lane;
mod layout;
mod memory;

pub use accountant::Accountant;

use std::{collections::BTreeMap, sync::Arc};

use latchwork_compiler::logic::{Logic, LogicStatement, LogicUnit, Part};

use lane::Lane;
use layout::Layout;
use memory::Memory;

/// Most parts of all sites together; what runs beyond is not kept, and [`Account::is_complete`] says so.
pub const PARTS_MAX: usize = 400_000;

/// Most changes of the values of all parts together; the account of a run ends there.
pub const CHANGES_MAX: usize = 50_000_000;

/// Most passes of a statement in one scan that have sites of their own, besides the last pass.
pub const PASSES_MAX: u32 = 256;

/// A statement with an instance, or with a pass besides the last one, by its number in an account.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SiteId(u32);

/// A point of a run: in a scan, in front of, at or behind a run of a statement.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Moment {
    /// The scan, counted from 0 over the whole run, restarts or not.
    pub scan: u32,
    /// How many statements began in that scan up to this one.
    pub order: u32,
}

impl Moment {
    /// Behind everything that runs in a scan.
    #[must_use]
    pub const fn end_of(scan: u32) -> Self {
        Moment { scan, order: u32::MAX }
    }
}

/// What wrote a variable.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Write {
    /// The statement with its instance.
    pub site: SiteId,
    /// When.
    pub moment: Moment,
    /// Number of the part that stands for the variable: the target of an assignment; of a call an input value that is
    /// stored in an instance, an output or in-out argument, or the instance itself, if it is one of a standard block.
    pub part: u32,
}

/// What happened in a run.
#[derive(Clone, Debug)]
pub struct Account {
    logic: Arc<Logic>,
    layout: Layout,
    sites: Vec<Site>,
    /// By statement, base address, and pass: 0 for the last one in a scan, the others counted from 1.
    index: BTreeMap<(u32, u32, u32), SiteId>,
    /// Where sites have written: the first address; the address behind, the site and the part.
    writes: BTreeMap<u32, Vec<(u32, SiteId, u32)>>,
    /// The longest of them, in bytes.
    longest: u32,
    memory: Memory,
    /// The scans in front of which the program was restarted.
    restarts: Vec<u32>,
    scans: u32,
    complete: bool,
}

#[derive(Clone, Debug)]
struct Site {
    /// Number of the statement.
    statement: u32,
    /// Base address of the instance.
    base: u32,
    /// 0 in scans in which it did not run; how often its statement ran in the others.
    times: Lane,
    /// How many statements had begun, counting this one.
    order: Lane,
    parts: Vec<PartLanes>,
}

#[derive(Clone, Debug, Default)]
struct PartLanes {
    /// 1 in scans in which the site ran and the part was looked at. Empty means always.
    looked_at: Lane,
    value: Lane,
    place: Lane,
}

impl Account {
    /// What the numbers of the journal mean.
    #[must_use]
    pub fn logic(&self) -> &Logic {
        &self.logic
    }

    /// Number of scans.
    #[must_use]
    pub const fn scans(&self) -> u32 {
        self.scans
    }

    /// Whether everything was kept; otherwise what is missing may have happened all the same.
    #[must_use]
    pub const fn is_complete(&self) -> bool {
        self.complete
    }

    /// A statement by its number, with its unit.
    #[must_use]
    pub fn statement(&self, number: u32) -> Option<(&LogicUnit, &LogicStatement)> {
        self.layout.statement(&self.logic, number)
    }

    /// A part of a statement by its number.
    #[must_use]
    pub fn part(&self, number: u32) -> Option<&Part> {
        self.layout.part(&self.logic, number)
    }

    /// The statement that a part belongs to.
    #[must_use]
    pub fn statement_of(&self, part: u32) -> Option<u32> {
        self.layout.place_of(part).map(|place| place.statement)
    }

    /// The statement with its instance: its last pass in each scan.
    #[must_use]
    pub fn site(&self, statement: u32, base: u32) -> Option<SiteId> {
        self.index.get(&(statement, base, 0)).copied()
    }

    /// A statement with all instances that it ran for, in the order of their addresses.
    pub fn sites_of(&self, statement: u32) -> impl Iterator<Item = SiteId> + '_ {
        self.entries((statement, 0), (statement, u32::MAX))
            .filter(|(pass, _)| *pass == 0)
            .map(|(_, site)| site)
    }

    /// The same with a site for each pass.
    pub fn passes_of(&self, statement: u32) -> impl Iterator<Item = SiteId> + '_ {
        self.entries((statement, 0), (statement, u32::MAX)).map(|(_, site)| site)
    }

    /// The last run of a statement for an instance in front of a moment, in whatever pass.
    #[must_use]
    pub fn latest(&self, statement: u32, base: u32, before: Moment) -> Option<(SiteId, Moment)> {
        let sites = self.entries((statement, base), (statement, base)).map(|(_, site)| site);
        let runs = sites.filter_map(|site| Some((site, self.last_run(site, before)?)));
        runs.max_by_key(|(_, moment)| *moment)
    }

    /// Passes with their sites.
    fn entries(&self, from: (u32, u32), to: (u32, u32)) -> impl Iterator<Item = (u32, SiteId)> + '_ {
        let range = (from.0, from.1, 0)..=(to.0, to.1, u32::MAX);
        self.index.range(range).map(|((_, _, pass), site)| (*pass, *site))
    }

    /// The number of the statement and the base address of the instance.
    #[must_use]
    pub fn identity(&self, site: SiteId) -> Option<(u32, u32)> {
        self.get(site).map(|site| (site.statement, site.base))
    }

    /// How often its statement ran in a scan, if it did.
    #[must_use]
    pub fn times(&self, site: SiteId, scan: u32) -> u64 {
        self.get(site).and_then(|site| site.times.at(scan)).map_or(0, |(_, times)| times)
    }

    /// Its last run in front of a moment.
    #[must_use]
    pub fn last_run(&self, site: SiteId, before: Moment) -> Option<Moment> {
        let site = self.get(site)?;
        if let Some(moment) = site.run_in(before.scan).filter(|moment| *moment < before) {
            return Some(moment);
        }
        let earlier = before.scan.checked_sub(1)?;
        let (_, scan, _) = site.times.backwards(earlier).find(|(_, _, times)| *times > 0)?;
        site.run_in(scan)
    }

    /// Since which scan it has run in every scan up to this one; `None` if it did not run in this one.
    #[must_use]
    pub fn running_since(&self, site: SiteId, scan: u32) -> Option<u32> {
        let site = self.get(site)?;
        let running = site.times.backwards(scan).take_while(|(_, _, times)| *times > 0);
        running.last().map(|(start, _, _)| start)
    }

    /// The first scan behind this one in which it runs although it did not in this one, or the other way round; `None` if
    /// that stays as it is.
    #[must_use]
    pub fn running_until(&self, site: SiteId, scan: u32) -> Option<u32> {
        let site = self.get(site)?;
        let runs = |scan: u32| site.times.at(scan).is_some_and(|(_, times)| times > 0);
        let here = runs(scan);
        let mut next = site.times.until(scan)?;
        // In a loop it runs more or less often.
        while runs(next) == here {
            next = site.times.until(next)?;
        }
        Some(next)
    }

    /// The first scan behind this one in whose run a part has another value; `None` if it keeps the one that it has, or has
    /// none.
    #[must_use]
    pub fn value_until(&self, site: SiteId, part: u32, scan: u32) -> Option<u32> {
        let place = self.layout.place_of(part)?;
        let site = self.get(site).filter(|site| site.statement == place.statement)?;
        site.parts.get(place.index as usize)?.value.until(scan)
    }

    /// The value of a part in the last run of a site in a scan, as its bytes, the lowest first; `None` if it did not run
    /// then or the part was not looked at, or has no value of its own.
    #[must_use]
    pub fn value(&self, site: SiteId, part: u32, scan: u32) -> Option<u64> {
        Some(self.value_since(site, part, scan)?.1)
    }

    /// The same with the first scan since which each run had that value.
    #[must_use]
    pub fn value_since(&self, site: SiteId, part: u32, scan: u32) -> Option<(u32, u64)> {
        self.lanes(site, part, scan)?.value.at(scan)
    }

    /// The address of a part in the last run of a site in a scan.
    #[must_use]
    pub fn place(&self, site: SiteId, part: u32, scan: u32) -> Option<u32> {
        let (_, address) = self.lanes(site, part, scan)?.place.at(scan)?;
        u32::try_from(address).ok()
    }

    /// What wrote any of so many bytes at an address last, in front of a moment. A call is taken to write all of an
    /// instance of a standard block even if EN kept it from running.
    #[must_use]
    pub fn writer(&self, address: u32, bytes: u32, before: Moment) -> Option<Write> {
        let behind = address.saturating_add(bytes);
        let first = address.saturating_sub(self.longest);
        let mut latest: Option<Write> = None;
        for (_, written) in self.writes.range(first..behind) {
            for (_, site, part) in written.iter().filter(|(end, _, _)| *end > address) {
                let write = self.wrote(*site, *part, (address, behind), before);
                if write.is_some_and(|write| latest.is_none_or(|latest| latest.moment < write.moment)) {
                    latest = write;
                }
            }
        }
        latest
    }

    /// The last time that a site wrote to a range of addresses by one of its parts.
    fn wrote(&self, id: SiteId, part: u32, (address, behind): (u32, u32), before: Moment) -> Option<Write> {
        let mut before = before;
        loop {
            let moment = self.last_run(id, before)?;
            let (reaches, since) = self.reaches(id, part, (address, behind), moment.scan);
            if reaches {
                return Some(Write { site: id, moment, part });
            }
            // It wrote elsewhere in all runs since then.
            before = Moment { scan: since.min(moment.scan), order: 0 };
        }
    }

    /// Whether what a part stands for lies in a range of addresses in a scan; and since when that is so.
    fn reaches(&self, id: SiteId, part: u32, (address, behind): (u32, u32), scan: u32) -> (bool, u32) {
        let place = self.layout.place_of(part);
        let nowhere = (false, scan);
        let (Some(site), Some(place)) = (self.get(id), place) else { return nowhere };
        let Some(lanes) = site.parts.get(place.anchor as usize) else { return nowhere };
        let Some((since, start)) = lanes.place.at(scan) else { return nowhere };
        if lanes.looked_at.at(scan).is_some_and(|(_, looked_at)| looked_at == 0) {
            return nowhere;
        }
        let Ok(start) = u32::try_from(start) else { return nowhere };
        let start = start.saturating_add(place.offset);
        (start < behind && start.saturating_add(place.written) > address, since)
    }

    /// Up to eight bytes at an address after a scan, the lowest first; without a scan, in front of the first one. `None`
    /// beyond the image. Temporaries are not kept.
    #[must_use]
    pub fn memory(&self, address: u32, bytes: u32, after: Option<u32>) -> Option<u64> {
        self.memory.value(address, bytes, after)
    }

    /// The first scan since which those bytes have been what they are after this scan; `None` if they were so in front of
    /// the first scan.
    #[must_use]
    pub fn memory_since(&self, address: u32, bytes: u32, scan: u32) -> Option<u32> {
        self.memory.since(address, bytes, scan)
    }

    /// The last scan up to this one in front of which the program was restarted.
    #[must_use]
    pub fn last_restart(&self, scan: u32) -> Option<u32> {
        let before = self.restarts.partition_point(|restart| *restart <= scan);
        self.restarts.get(before.checked_sub(1)?).copied()
    }

    fn lanes(&self, site: SiteId, part: u32, scan: u32) -> Option<&PartLanes> {
        let site = self.get(site)?;
        let place = self.layout.place_of(part).filter(|place| place.statement == site.statement)?;
        let ran = site.times.at(scan).is_some_and(|(_, times)| times > 0);
        let lanes = site.parts.get(place.index as usize).filter(|_| ran)?;
        let looked_at = lanes.looked_at.at(scan).is_none_or(|(_, looked_at)| looked_at == 1);
        looked_at.then_some(lanes)
    }

    fn get(&self, site: SiteId) -> Option<&Site> {
        self.sites.get(site.0 as usize)
    }
}

impl Site {
    /// Its run in a scan.
    fn run_in(&self, scan: u32) -> Option<Moment> {
        let (_, times) = self.times.at(scan)?;
        let (_, order) = self.order.at(scan)?;
        // Never more than notes in a scan.
        (times > 0).then_some(Moment { scan, order: order as u32 })
    }
}
