//! Takes the journal of a machine scan by scan.

use std::{collections::BTreeMap, sync::Arc};

use latchwork_compiler::logic::Logic;
use latchwork_vm::{Machine, Note, NoteKind};

use super::{Account, CHANGES_MAX, Layout, Memory, PARTS_MAX, PartLanes, Site, SiteId};

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

#[derive(Clone, Debug, Default)]
struct Running {
    times: u64,
    order: u32,
    /// For each part whether it was looked at in the last run.
    looked_at: Vec<bool>,
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
            return self.begin(note.number, note.word as u32, *order);
        }
        let Some(place) = self.account.layout.place_of(note.number) else { return };
        let Some(id) = self.open.get(place.statement as usize).copied().flatten() else { return };
        let site = self.account.sites.get_mut(id.0 as usize);
        let Some(lanes) = site.and_then(|site| site.parts.get_mut(place.index as usize)) else { return };
        let running = self.running.get_mut(id.0 as usize);
        if let Some(looked_at) = running.and_then(|running| running.looked_at.get_mut(place.index as usize)) {
            *looked_at = true;
        }
        match note.kind {
            NoteKind::Value => {
                let before = lanes.value.len();
                lanes.value.set(scan, note.word);
                self.changes += lanes.value.len() - before;
            }
            NoteKind::Place => {
                let before = lanes.place.len();
                lanes.place.set(scan, note.word);
                if lanes.place.len() > before {
                    self.changes += 1;
                    self.written(id, place.statement, place.index, note.word as u32);
                }
            }
            NoteKind::Statement => {}
        }
    }

    /// A statement begins.
    fn begin(&mut self, statement: u32, base: u32, order: u32) {
        let id = self.account.site(statement, base).or_else(|| self.enter(statement, base));
        if let Some(slot) = self.open.get_mut(statement as usize) {
            *slot = id;
        }
        let Some(id) = id else { return };
        let Some(running) = self.running.get_mut(id.0 as usize) else { return };
        if running.times == 0 {
            self.ran[0].push(id);
        }
        running.times += 1;
        running.order = order;
        running.looked_at.fill(false);
    }

    fn enter(&mut self, statement: u32, base: u32) -> Option<SiteId> {
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
        self.account.index.insert((statement, base), id);
        self.running.push(Running { looked_at: vec![false; parts], ..Running::default() });
        Some(id)
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

    /// Notes which sites ran in the scan, and which no more.
    fn close(&mut self, scan: u32) {
        let Self { account, running, ran: [ran, before], .. } = self;
        for id in before.iter() {
            let idle = running.get(id.0 as usize).is_some_and(|running| running.times == 0);
            if let Some(site) = account.sites.get_mut(id.0 as usize).filter(|_| idle) {
                site.times.set(scan, 0);
            }
        }
        for id in ran.iter() {
            let (Some(site), Some(running)) =
                (account.sites.get_mut(id.0 as usize), running.get_mut(id.0 as usize))
            else {
                continue;
            };
            site.times.set(scan, running.times);
            site.order.set(scan, running.order.into());
            for (lanes, looked_at) in site.parts.iter_mut().zip(&running.looked_at) {
                // Most are looked at always, and need no lane for it.
                if !*looked_at || lanes.looked_at.len() > 0 {
                    lanes.looked_at.set(scan, u64::from(*looked_at));
                }
            }
            running.times = 0;
        }
        std::mem::swap(ran, before);
        ran.clear();
    }
}
