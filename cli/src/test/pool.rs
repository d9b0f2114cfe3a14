//! Work on many threads with results in the order of the work.
//!
//! Threads run ahead of whoever takes the results by a bounded number of pieces, so that memory stays bounded however
//! many pieces there are.

use std::{
    collections::VecDeque,
    io,
    num::NonZero,
    panic::{AssertUnwindSafe, catch_unwind},
    sync::{
        Condvar, Mutex, MutexGuard, PoisonError,
        atomic::{AtomicBool, Ordering},
    },
    thread,
    time::Duration,
};

/// Pieces that threads may be ahead by, for each thread.
const AHEAD: usize = 8;

/// Stack of a thread, as the first thread of a process has it: conditions may be nested deeply.
const STACK_BYTES: usize = 16 * 1024 * 1024;

/// How often whoever waits for a result looks whether it is to stop.
const LOOK: Duration = Duration::from_millis(50);

/// As many threads as there are processors.
pub(crate) fn cores() -> usize {
    thread::available_parallelism().map_or(1, NonZero::get)
}

/// What became of a piece of work.
pub(crate) enum Piece<T> {
    /// It is done.
    Done(T),
    /// It was not done, or not finished.
    Left,
}

/// The results, one for each piece of work, in order.
pub(crate) struct Results<'p, T> {
    shared: &'p Shared<'p, T>,
    stop: &'p dyn Fn() -> bool,
    next: usize,
}

struct Shared<'p, T> {
    state: Mutex<State<T>>,
    /// A result is there, or a thread is gone.
    ready: Condvar,
    /// There is room to run ahead.
    room: Condvar,
    count: usize,
    ahead: usize,
    /// Tells the work that is going on that nobody waits for it any more.
    halt: &'p AtomicBool,
}

struct State<T> {
    /// The next piece that nobody works on.
    begun: usize,
    /// Results from `taken` on.
    results: VecDeque<Option<T>>,
    taken: usize,
    stopped: bool,
    /// What is finished from now on is of no use.
    discarding: bool,
    panicked: bool,
}

impl<T> Shared<'_, T> {
    fn state(&self) -> MutexGuard<'_, State<T>> {
        // The state is whole between any two statements, so a panic elsewhere does not matter.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Nothing new is begun, and what goes on is to end. Since it ends because it is told to, its results are none.
    fn stop(&self, state: &mut State<T>) {
        state.stopped = true;
        state.discarding = true;
        self.halt.store(true, Ordering::Relaxed);
        self.room.notify_all();
    }

    /// Works until there is nothing left or the work is stopped.
    fn work(&self, work: &(impl Fn(usize) -> T + Sync)) {
        let mut state = self.state();
        loop {
            while !state.stopped && state.begun < self.count && state.begun >= state.taken + self.ahead {
                state = self.room.wait(state).unwrap_or_else(PoisonError::into_inner);
            }
            if state.stopped || state.begun >= self.count {
                return;
            }
            let index = state.begun;
            state.begun += 1;
            drop(state);
            let done = catch_unwind(AssertUnwindSafe(|| work(index)));
            state = self.state();
            match done {
                Ok(result) => {
                    if let Some(place) = index.checked_sub(state.taken).filter(|_| !state.discarding) {
                        if state.results.len() <= place {
                            state.results.resize_with(place + 1, || None);
                        }
                        if let Some(slot) = state.results.get_mut(place) {
                            *slot = Some(result);
                        }
                    }
                }
                Err(_) => {
                    // The hook has said what it was.
                    state.panicked = true;
                    self.stop(&mut state);
                }
            }
            self.ready.notify_all();
        }
    }
}

impl<T> Results<'_, T> {
    /// The next result; waits for it unless the work is stopped. Then what is there is given, and the rest is left.
    pub(crate) fn next(&mut self) -> Option<Piece<T>> {
        if self.next >= self.shared.count {
            return None;
        }
        self.next += 1;
        let mut state = self.shared.state();
        loop {
            if (self.stop)() && !state.stopped {
                self.shared.stop(&mut state);
            }
            if matches!(state.results.front(), Some(Some(_))) || state.stopped {
                let result = state.results.pop_front().flatten();
                state.taken += 1;
                self.shared.room.notify_all();
                return Some(result.map_or(Piece::Left, Piece::Done));
            }
            state = self.shared.ready.wait_timeout(state, LOOK).unwrap_or_else(PoisonError::into_inner).0;
        }
    }

    /// Lets the threads end with what they are at. What they have done beyond is left, so that it does not depend on
    /// their number what counts.
    pub(crate) fn stop(&mut self) {
        let mut state = self.shared.state();
        state.results.clear();
        self.shared.stop(&mut state);
    }

    /// Whether a piece of work ended in a panic.
    pub(crate) fn panicked(&self) -> bool {
        self.shared.state().panicked
    }
}

/// Does `count` pieces of work on `threads` threads while `take` takes the results. `stop` is asked now and then whether
/// to end; `halt` is set when the work that goes on may end too, as nobody takes its result.
///
/// # Errors
/// If no thread can be started.
pub(crate) fn run<T: Send, R>(
    count: usize,
    threads: usize,
    stop: &dyn Fn() -> bool,
    halt: &AtomicBool,
    work: impl Fn(usize) -> T + Sync,
    take: impl FnOnce(&mut Results<'_, T>) -> R,
) -> io::Result<R> {
    let shared = Shared {
        state: Mutex::new(State {
            begun: 0,
            results: VecDeque::new(),
            taken: 0,
            stopped: false,
            discarding: false,
            panicked: false,
        }),
        ready: Condvar::new(),
        room: Condvar::new(),
        count,
        ahead: threads.saturating_mul(AHEAD),
        halt,
    };
    thread::scope(|scope| {
        for index in 0..threads.clamp(1, count.max(1)) {
            let started = thread::Builder::new()
                .name(format!("procedures {index}"))
                .stack_size(STACK_BYTES)
                .spawn_scoped(scope, || shared.work(&work));
            match started {
                Ok(_) => {}
                // Fewer threads do the same work.
                Err(_) if index > 0 => break,
                Err(error) => return Err(error),
            }
        }
        let taken = take(&mut Results { shared: &shared, stop, next: 0 });
        shared.stop(&mut shared.state());
        Ok(taken)
    })
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::AtomicUsize;

    use super::*;

    fn all(results: &mut Results<'_, usize>) -> Vec<Option<usize>> {
        let mut taken = Vec::new();
        while let Some(piece) = results.next() {
            taken.push(match piece {
                Piece::Done(result) => Some(result),
                Piece::Left => None,
            });
        }
        taken
    }

    #[test]
    fn results_come_in_order_from_any_number_of_threads() {
        for threads in [1, 2, 7, 64] {
            let work = |index: usize| {
                if index.is_multiple_of(5) {
                    thread::sleep(Duration::from_millis(2));
                }
                index * index
            };
            let taken = run(100, threads, &|| false, &AtomicBool::new(false), work, all).unwrap();
            assert_eq!(taken, (0..100).map(|index| Some(index * index)).collect::<Vec<_>>());
        }
        assert_eq!(run(0, 3, &|| false, &AtomicBool::new(false), |index| index, all).unwrap(), []);
    }

    #[test]
    fn threads_run_ahead_by_a_bounded_number_of_pieces() {
        let begun = AtomicUsize::new(0);
        let most = run(
            1_000,
            4,
            &|| false,
            &AtomicBool::new(false),
            |_| begun.fetch_add(1, Ordering::SeqCst),
            |results| {
                let mut most = 0;
                for taken in 1..=1_000 {
                    let _ = results.next();
                    if taken % 100 == 0 {
                        thread::sleep(Duration::from_millis(5));
                    }
                    most = most.max(begun.load(Ordering::SeqCst) - taken);
                }
                most
            },
        );
        assert!(most.unwrap() <= 4 * AHEAD);
    }

    #[test]
    fn what_is_stopped_leaves_the_rest() {
        for threads in [1, 8] {
            let taken = run(
                100,
                threads,
                &|| false,
                &AtomicBool::new(false),
                |index| index,
                |results| {
                    let mut taken = Vec::new();
                    while let Some(piece) = results.next() {
                        if let Piece::Done(index) = piece {
                            taken.push(index);
                            if index == 10 {
                                results.stop();
                            }
                        }
                    }
                    taken
                },
            );
            assert_eq!(taken.unwrap(), (0..=10).collect::<Vec<_>>());
        }
    }

    #[test]
    fn a_panic_ends_the_work_and_is_told() {
        let work = |index: usize| if index == 3 { panic!("the float switch is stuck") } else { index };
        let (panicked, taken) = run(1_000, 2, &|| false, &AtomicBool::new(false), work, |results| {
            let taken = all(results);
            (results.panicked(), taken)
        })
        .unwrap();
        assert!(panicked);
        assert_eq!(taken.len(), 1_000);
        assert_eq!(taken[3], None);
    }
}
