//! When tasks with an INTERVAL are due (IEC 61131-3:2013 6.8.2), with few divisions.

/// The time from one multiple of an INTERVAL to the next, the latter excluded.
#[derive(Clone, Copy, Debug)]
pub(super) struct Window {
    /// In nanoseconds; 0 for none.
    interval: i64,
    start: i64,
    /// The interval; 0 for no time at all. Windows end in front of the end of time.
    length: u64,
}

impl Window {
    /// That of a task before its first scan. `interval` is not negative.
    pub(super) const fn new(interval: i64) -> Self {
        Self { interval, start: 0, length: 0 }
    }

    /// Whether it has this time.
    #[inline(always)]
    pub(super) const fn holds(&self, time: i64) -> bool {
        // A time before it is far behind its end, because it does not reach the end of time.
        (time.wrapping_sub(self.start) as u64) < self.length
    }

    /// Whether a multiple of the interval lies behind `before` and not behind `now`, or the other way round. Afterwards it
    /// has the time `now`, unless that is near an end of time.
    #[inline]
    pub(super) fn left(&mut self, before: i64, now: i64) -> bool {
        if self.holds(before) { !self.holds(now) && self.leave(before, now) } else { self.place(before, now) }
    }

    /// As [`Window::left`], where it has the time `before` and does not have `now`.
    #[inline(always)]
    pub(super) fn leave(&mut self, before: i64, now: i64) -> bool {
        // Most often time goes on to the next one.
        if let Some(start) = self.start.checked_add(self.interval)
            && start.checked_add(self.interval).is_some()
            && (now.wrapping_sub(start) as u64) < self.length
        {
            self.start = start;
            return true;
        }
        self.place(before, now)
    }

    #[cold]
    fn place(&mut self, before: i64, now: i64) -> bool {
        if self.interval <= 0 {
            return false;
        }
        let multiple = now.div_euclid(self.interval);
        let start = multiple.checked_mul(self.interval);
        let start = start.filter(|start| start.checked_add(self.interval).is_some());
        self.length = if start.is_some() { self.interval.unsigned_abs() } else { 0 };
        self.start = start.unwrap_or(0);
        multiple != before.div_euclid(self.interval)
    }
}
