//! Takes the journal of a machine scan by scan.

use std::{collections::BTreeMap, sync::Arc};

use latchwork_compiler::logic::Logic;
use latchwork_vm::{Machine, Note, NoteKind};

use super::{Account, CHANGES_MAX, Layout, Memory, PARTS_MAX, PASSES_MAX, PartLanes, Site, SiteId};

/// Keeps account of a run while it goes on.
#[derive(Debug)]
pub struct Accountant {
    account: Account,
    /// By number of a statement: the site that began last.
    open: Vec<Option<SiteId>>,
    /// For each site, what happened in the running scan.
    running: Vec<Running>,
    /// The sites that ran in this scan and in the one before.
    ran: [Vec<SiteId>; 2],
    parts: usize,
    changes: usize,
    /// Scans since the last restart.
    completed: u64,
}

/// What happened in the running scan.
#[derive(Clone, Debug, Default)]
struct Running {
    times: u64,
    /// The last run: how many statements had begun, and what was noted of each part.
    order: u32,
    parts: Vec<Noted>,
}

/// What was noted of a part in one run.
#[derive(Clone, Copy, Debug, Default)]
struct Noted {
    value: Option<u64>,
    place: Option<u64>,
}

impl Accountant {
    /// For a machine whose image notes `logic`, in front of its first scan.
    #[must_use]
    pub fn open(machine: &mut Machine, logic: Arc<Logic>) -> Self {
        machine.keep_journal();
        let layout = Layout::new(&logic);
        let open = vec![None; logic.numbers as usize];
        let account = Account {
            logic,
            layout,
            sites: Vec::new(),
            index: BTreeMap::new(),
            writes: BTreeMap::new(),
            longest: 0,
            memory: Memory::of(machine),
            restarts: Vec::new(),
            scans: 0,
            complete: true,
        };
        let completed = machine.scans();
        let (running, ran) = Default::default();
        Accountant { account, open, running, ran, parts: 0, changes: 0, completed }
    }

    /// Takes what was noted in a scan; to be called once after each, also after one that a fault has ended.
    pub fn scan(&mut self, machine: &mut Machine) {
        let Some(journal) = machine.journal() else { return };
        let scan = self.account.scans;
        self.account.scans = scan.saturating_add(1);
        self.account.complete &= journal.left_out() == 0 && self.changes < CHANGES_MAX;
        let mut order = 0;
        if self.changes < CHANGES_MAX {
            journal.notes().iter().for_each(|note| self.note(note, scan, &mut order));
        }
        journal.clear();
        if self.changes < CHANGES_MAX {
            self.changes += self.account.memory.scan(scan, machine);
        }
        // A scan counts one more, unless a fault ends it; a restart begins at 0 again.
        let completed = machine.scans();
        if completed < self.completed || (completed == self.completed && machine.fault().is_none()) {
            self.account.restarts.push(scan);
        }
        self.completed = completed;
        self.close(scan);
    }

    /// The account of the scans so far.
    #[must_use]
    pub fn finish(self) -> Account {
        self.account
    }

    fn note(&mut self, note: &Note, scan: u32, order: &mut u32) {
        if note.kind == NoteKind::Statement {
            *order += 1;
            // The machine has no addresses beyond 32 bits.
            return self.begin(note.number, note.word as u32, scan, *order);
        }
        let Some(place) = self.account.layout.place_of(note.number) else { return };
        let Some(id) = self.open.get(place.statement as usize).copied().flatten() else { return };
        let running = self.running.get_mut(id.0 as usize);
        let Some(part) = running.and_then(|running| running.parts.get_mut(place.index as usize)) else {
            return;
        };
        match note.kind {
            NoteKind::Value => part.value = Some(note.word),
            NoteKind::Place => part.place = Some(note.word),
            NoteKind::Statement => {}
        }
    }

    /// A statement begins.
    fn begin(&mut self, statement: u32, base: u32, scan: u32, order: u32) {
        let id = self.account.site(statement, base).or_else(|| self.enter(statement, base, 0));
        if let Some(slot) = self.open.get_mut(statement as usize) {
            *slot = id;
        }
        let Some(id) = id else { return };
        match self.running.get(id.0 as usize) {
            // In a run of a statement no other run of it begins for the same instance.
            Some(running) if running.times > 0 => self.end_pass(id, (statement, base), scan),
            _ => self.ran[0].push(id),
        }
        let Some(running) = self.running.get_mut(id.0 as usize) else { return };
        running.times += 1;
        running.order = order;
        running.parts.fill(Noted::default());
    }

    /// What was noted of a run turns out not to be that of the last one in the scan.
    fn end_pass(&mut self, last: SiteId, (statement, base): (u32, u32), scan: u32) {
        let Some(running) = self.running.get_mut(last.0 as usize) else { return };
        let pass = u32::try_from(running.times).unwrap_or(u32::MAX);
        if pass > PASSES_MAX {
            self.account.complete = false;
            return;
        }
        let (order, parts) = (running.order, std::mem::take(&mut running.parts));
        let known = self.account.index.get(&(statement, base, pass)).copied();
        if let Some(id) = known.or_else(|| self.enter(statement, base, pass)) {
            self.ran[0].push(id);
            if let Some(own) = self.running.get_mut(id.0 as usize) {
                own.times = 1;
            }
            self.keep(id, scan, order, &parts);
        }
        if let Some(running) = self.running.get_mut(last.0 as usize) {
            running.parts = parts;
        }
    }

    fn enter(&mut self, statement: u32, base: u32, pass: u32) -> Option<SiteId> {
        let parts = self.account.layout.parts_of(statement)? as usize;
        if self.parts.saturating_add(parts + 1) > PARTS_MAX {
            self.account.complete = false;
            return None;
        }
        self.parts += parts + 1;
        // Fewer than parts.
        let id = SiteId(self.account.sites.len() as u32);
        let lanes = vec![PartLanes::default(); parts];
        let (times, order) = Default::default();
        self.account.sites.push(Site { statement, base, times, order, parts: lanes });
        self.account.index.insert((statement, base, pass), id);
        // What is noted of an earlier pass is kept at once.
        let noted = if pass == 0 { vec![Noted::default(); parts] } else { Vec::new() };
        self.running.push(Running { parts: noted, ..Running::default() });
        Some(id)
    }

    /// Keeps a run of a site.
    fn keep(&mut self, id: SiteId, scan: u32, order: u32, parts: &[Noted]) {
        let Some(site) = self.account.sites.get_mut(id.0 as usize) else { return };
        let statement = site.statement;
        site.order.set(scan, order.into());
        let mut moved = Vec::new();
        for ((lanes, noted), index) in site.parts.iter_mut().zip(parts).zip(0..) {
            let (values, places) = (lanes.value.len(), lanes.place.len());
            if let Some(value) = noted.value {
                lanes.value.set(scan, value);
            }
            if let Some(place) = noted.place {
                lanes.place.set(scan, place);
                if lanes.place.len() > places {
                    // The machine has no addresses beyond 32 bits.
                    moved.push((index, place as u32));
                }
            }
            self.changes += lanes.value.len() - values + lanes.place.len() - places;
            let looked_at = noted.value.is_some() || noted.place.is_some();
            // Most are looked at always, and need no lane for it.
            if !looked_at || lanes.looked_at.len() > 0 {
                lanes.looked_at.set(scan, u64::from(looked_at));
            }
        }
        for (index, address) in moved {
            self.written(id, statement, index, address);
        }
    }

    /// A part has a new address: what is written by it is found there from now on.
    fn written(&mut self, site: SiteId, statement: u32, index: u32, address: u32) {
        let Self { account, .. } = self;
        for part in account.layout.writers_of(statement) {
            let Some(place) = account.layout.place_of(*part).filter(|place| place.anchor == index) else {
                continue;
            };
            let start = address.saturating_add(place.offset);
            let written = (start.saturating_add(place.written), site, *part);
            let all = account.writes.entry(start).or_default();
            if !all.contains(&written) {
                all.push(written);
            }
            account.longest = account.longest.max(place.written);
        }
    }

    /// Keeps the last runs of the sites that ran in the scan, and notes which ran no more.
    fn close(&mut self, scan: u32) {
        let [ran, before] = std::mem::take(&mut self.ran);
        for id in before {
            let idle = self.running.get(id.0 as usize).is_some_and(|running| running.times == 0);
            if let Some(site) = self.account.sites.get_mut(id.0 as usize).filter(|_| idle) {
                site.times.set(scan, 0);
            }
        }
        for id in &ran {
            let Some(running) = self.running.get_mut(id.0 as usize) else { continue };
            let Running { times, order, parts } = std::mem::take(running);
            // Those of earlier passes are kept already.
            if !parts.is_empty() {
                self.keep(*id, scan, order, &parts);
            }
            if let Some(site) = self.account.sites.get_mut(id.0 as usize) {
                // A statement without parts has a last run, too.
                if order > 0 {
                    site.order.set(scan, order.into());
                }
                site.times.set(scan, times);
            }
            if let Some(running) = self.running.get_mut(id.0 as usize) {
                running.parts = parts;
            }
        }
        self.ran[1] = ran;
    }
}
