//! When two step functions agree though their changes come a little earlier or later.
//!
//! Both are functions of the time in whole nanoseconds. They **agree with a shift of `s`** if there is a way through
//! both, from start to end and forwards in both (by one nanosecond in the one, in the other, or in both at once), on
//! which they always show the same value and the two times are never more than `s` apart. So the same values come in
//! the same order, each change at most `s` earlier or later than its counterpart; a pulse that is missing or extra is
//! a departure however short it is, and with `s = 0` only equal functions agree. This is the distance of Skorokhod's
//! topology between functions with jumps, in steps of a nanosecond (Billingsley, Convergence of Probability Measures,
//! 2nd edition 1999, section 12; from memory). It is symmetrical.
//!
//! At the start the value of one of the two may be missing in the other for up to `s`: the change that ended it may
//! have come before the start. At the end, what has `s` left to come is not missed.
//!
//! A value of `None` is not known: it agrees with every value.
//!
//! "The same value" is what the caller says it is, so numbers may have a tolerance. Then many ways may be open, and all
//! of them are followed at once: for each moment of the actual function the moments of the expected one that some
//! way reaches, as intervals.

use latchwork_vm::Value;

/// A value from a time on; `None` where it is not known.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Piece<'a> {
    pub(super) time_ns: i64,
    pub(super) value: Option<&'a Value>,
}

/// Where two functions part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Parting {
    /// The first time of the actual function that no way reaches.
    pub(super) time_ns: i64,
    /// The piece of the expected function to be shown beside it: the one in force at that time if its value is
    /// another one, else the first one that no way gets into.
    pub(super) expected: usize,
    /// The piece of the actual function in force at that time.
    pub(super) actual: usize,
}

/// The comparison was given up: more pairs of pieces than are allowed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct TooMuch;

/// Times of the expected function, both ends included.
type Interval = (i64, i64);

/// Where `actual`, which is known from 0 up to but not including `end_ns`, parts from `expected`. Both have pieces in
/// order of time, the first at 0; the last piece of `expected` goes on for ever. At most `pairs_max` pairs of pieces
/// are looked at.
pub(super) fn parting(
    expected: &[Piece<'_>],
    actual: &[Piece<'_>],
    end_ns: i64,
    shift_ns: i64,
    pairs_max: u64,
    same: &dyn Fn(&Value, &Value) -> bool,
) -> Result<Option<Parting>, TooMuch> {
    let mut ways = Ways {
        expected,
        actual,
        shift_ns: shift_ns.max(0),
        same,
        pairs_left: pairs_max,
        reached: Vec::new(),
    };
    for row in 0..actual.len() {
        let Some(piece) = actual.get(row).filter(|piece| piece.time_ns < end_ns) else { break };
        let next = actual.get(row + 1).map_or(end_ns, |next| next.time_ns.min(end_ns));
        let entries = ways.entries(row, piece.time_ns);
        let parted = ways.follow(row, &entries, piece.time_ns, next - 1)?;
        // Ways that begin behind the first value do not need it.
        if parted.is_some() && !(row == 0 && ways.begins_behind_the_first()) {
            return Ok(parted);
        }
    }
    Ok(None)
}

struct Ways<'a> {
    expected: &'a [Piece<'a>],
    actual: &'a [Piece<'a>],
    shift_ns: i64,
    same: &'a dyn Fn(&Value, &Value) -> bool,
    pairs_left: u64,
    /// The times of the expected function that ways reach at the end of the last piece of the actual one: in order,
    /// apart from one another.
    reached: Vec<Interval>,
}

impl Ways<'_> {
    /// The times of the expected function from which ways may enter a piece of the actual one.
    fn entries(&self, row: usize, start_ns: i64) -> Vec<Interval> {
        let lowest = start_ns.saturating_sub(self.shift_ns);
        let highest = start_ns.saturating_add(self.shift_ns);
        // What is not known is no reason to pass over a value.
        let second = self.expected.get(1).filter(|piece| piece.value.is_some()).map(|piece| piece.time_ns);
        let mut entries: Vec<Interval> = Vec::new();
        // Ways begin at the start of both, or behind the first value of one of the two.
        if row == 0 {
            entries.push((0, 0));
            entries.extend(second.filter(|time| *time <= self.shift_ns).map(|time| (time, time)));
        } else if row == 1 && self.begins_behind_the_first() {
            entries.push((0, 0));
        }
        for (from, to) in &self.reached {
            let (from, to) = ((*from).max(lowest), to.saturating_add(1).min(highest));
            if from <= to {
                entries.push((from, to));
            }
        }
        entries
    }

    /// Whether a way begins at the second value of the actual function.
    fn begins_behind_the_first(&self) -> bool {
        self.actual
            .get(1)
            .filter(|second| second.value.is_some() && second.time_ns <= self.shift_ns)
            .is_some_and(|second| self.matches(0, second.value))
    }

    /// Follows all ways through a piece of the actual function, from its first to its last time.
    fn follow(
        &mut self,
        row: usize,
        entries: &[Interval],
        first_ns: i64,
        last_ns: i64,
    ) -> Result<Option<Parting>, TooMuch> {
        let value = self.actual.get(row).and_then(|piece| piece.value);
        let mut reached: Vec<Interval> = Vec::new();
        // How far any way gets in the actual and in the expected function.
        let mut far_actual = first_ns - 1;
        let mut far_expected = self.reached.last().map_or(-1, |(_, to)| *to);
        let mut entries = entries.iter().copied().peekable();
        let mut index = entries.peek().map_or(0, |(from, _)| self.piece_at(*from));
        let reach_last = last_ns.saturating_add(self.shift_ns);
        while let Some((from, to)) = entries.peek().copied() {
            self.pairs_left = self.pairs_left.checked_sub(1).ok_or(TooMuch)?;
            let (Some(start), end) = (self.start_of(index), self.end_of(index)) else { break };
            if end < from {
                index = self.piece_at(from).max(index + 1);
                continue;
            }
            if start > to {
                entries.next();
                continue;
            }
            if !self.matches(index, value) {
                index += 1;
                continue;
            }
            // All pieces from here on that show the same value are one free rectangle.
            let mut run_end = end;
            while run_end < reach_last && self.matches(index + 1, value) {
                self.pairs_left = self.pairs_left.checked_sub(1).ok_or(TooMuch)?;
                index += 1;
                run_end = self.end_of(index);
            }
            let entry = from.max(start);
            let low = entry.max(last_ns.saturating_sub(self.shift_ns));
            let high = run_end.min(reach_last);
            if low <= high {
                reached.push((low, high));
            }
            far_actual = far_actual.max(run_end.saturating_add(self.shift_ns).min(last_ns));
            far_expected = far_expected.max(run_end);
            index += 1;
            // Entries into this run lead nowhere else; an entry that goes on behind it is still of use.
            while entries.peek().is_some_and(|(_, to)| *to <= run_end) {
                entries.next();
            }
        }
        if reached.is_empty() {
            let time_ns = far_actual.saturating_add(1);
            let now = self.piece_at(time_ns);
            let expected =
                if self.matches(now, value) { self.piece_at(far_expected.saturating_add(1)) } else { now };
            self.reached.clear();
            return Ok(Some(Parting { time_ns, expected, actual: row }));
        }
        self.reached = reached;
        Ok(None)
    }

    fn start_of(&self, index: usize) -> Option<i64> {
        self.expected.get(index).map(|piece| piece.time_ns)
    }

    /// The last time of a piece.
    fn end_of(&self, index: usize) -> i64 {
        self.start_of(index + 1).map_or(i64::MAX, |next| next - 1)
    }

    /// The piece in force at a time.
    fn piece_at(&self, time_ns: i64) -> usize {
        self.expected.partition_point(|piece| piece.time_ns <= time_ns).saturating_sub(1)
    }

    fn matches(&self, index: usize, value: Option<&Value>) -> bool {
        match (self.expected.get(index), value) {
            (Some(Piece { value: Some(expected), .. }), Some(value)) => (self.same)(expected, value),
            (Some(_), _) => true,
            (None, _) => false,
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// One letter a nanosecond; `?` is not known.
    fn values(letters: &str) -> Vec<Option<Value>> {
        letters.bytes().map(|letter| (letter != b'?').then_some(Value::Char(letter))).collect()
    }

    fn pieces(values: &[Option<Value>]) -> Vec<Piece<'_>> {
        let mut pieces: Vec<Piece<'_>> = Vec::new();
        for (time, value) in values.iter().enumerate() {
            if pieces.last().is_none_or(|last| last.value != value.as_ref()) {
                pieces.push(Piece { time_ns: time as i64, value: value.as_ref() });
            }
        }
        pieces
    }

    /// The values of a test; the expected function is not known behind its end.
    fn parts(expected: &str, actual: &str, shift: i64) -> Option<Parting> {
        apart_by(expected, actual, shift, 0)
    }

    fn apart_by(expected: &str, actual: &str, shift: i64, tolerance: u8) -> Option<Parting> {
        let (mut expected, actual) = (values(expected), values(actual));
        let end = actual.len() as i64;
        expected.push(None);
        let same = |one: &Value, other: &Value| match (one, other) {
            (Value::Char(one), Value::Char(other)) => one.abs_diff(*other) <= tolerance,
            _ => false,
        };
        parting(&pieces(&expected), &pieces(&actual), end, shift, u64::MAX, &same).unwrap()
    }

    /// The definition, point by point: which pairs of times ways reach.
    fn parting_time(expected: &str, actual: &str, shift: i64, tolerance: u8) -> Option<i64> {
        let (mut expected, actual) = (values(expected), values(actual));
        // Not known behind the end, for as long as the shift can lead.
        expected.extend(std::iter::repeat_n(None, shift as usize + 2));
        let same = |t: usize, u: usize| match (&expected[t], &actual[u]) {
            (Some(Value::Char(one)), Some(Value::Char(other))) => one.abs_diff(*other) <= tolerance,
            _ => true,
        };
        let second = |values: &[Option<Value>]| {
            (1..values.len()).find(|time| values[*time] != values[0]).filter(|time| values[*time].is_some())
        };
        let starts = [
            Some((0, 0)),
            second(&expected).filter(|time| *time as i64 <= shift).map(|time| (time, 0)),
            second(&actual).filter(|time| *time as i64 <= shift).map(|time| (0, time)),
        ];
        let mut reached = vec![vec![false; actual.len()]; expected.len()];
        for u in 0..actual.len() {
            for t in 0..expected.len() {
                let near = (t as i64 - u as i64).abs() <= shift;
                let from = |back_t: usize, back_u: usize| {
                    t >= back_t && u >= back_u && reached[t - back_t][u - back_u]
                };
                let before = starts.contains(&Some((t, u))) || from(1, 0) || from(0, 1) || from(1, 1);
                reached[t][u] = near && same(t, u) && before;
            }
        }
        let open = |u: usize| (0..expected.len()).any(|t| reached[t][u]);
        // A start behind the first value of the actual function does not need that value.
        let first_needed = starts[2].filter(|(t, u)| reached[*t][*u]).map_or(0, |(_, u)| u);
        (first_needed..actual.len()).find(|u| !open(*u)).map(|u| u as i64)
    }

    #[test]
    fn equal_functions_agree() {
        for letters in ["AAAA", "ABAB", "A?AB", "????"] {
            assert_eq!(parts(letters, letters, 0), None);
        }
    }

    #[test]
    fn a_late_change_is_a_departure_from_the_last_allowed_moment_on() {
        assert_eq!(parts("AAABBBBBBBBB", "AAAAABBBBBBB", 2), None);
        let late = Parting { time_ns: 5, expected: 1, actual: 0 };
        assert_eq!(parts("AAABBBBBBBBB", "AAAAAABBBBBB", 2), Some(late));
    }

    #[test]
    fn an_early_change_is_a_departure_where_it_comes() {
        assert_eq!(parts("AAAAABBBBBBB", "AAABBBBBBBBB", 2), None);
        let early = Parting { time_ns: 2, expected: 0, actual: 1 };
        assert_eq!(parts("AAAAABBBBBBB", "AABBBBBBBBBB", 2), Some(early));
    }

    #[test]
    fn pulses_are_counted_however_near_they_are() {
        assert_eq!(parts("AAAABAAAAAAA", "AAAAAAAAAAAA", 3).map(|parting| parting.time_ns), Some(7));
        assert_eq!(parts("AAAAAAAAAAAA", "AAAABAAAAAAA", 3).map(|parting| parting.time_ns), Some(4));
        // Two where one is expected, all within the shift.
        assert!(parts("AAAABAAAAAAA", "AAABABAAAAAA", 5).is_some());
    }

    #[test]
    fn the_first_value_may_have_ended_before_the_start() {
        assert_eq!(parts("AABBBBBB", "BBBBBBBB", 2), None);
        assert_eq!(parts("BBBBBBBB", "AABBBBBB", 2), None);
        assert!(parts("BBBBBBBB", "AABBBBBB", 1).is_some());
        assert!(parts("ABABBBBB", "AABBBBBB", 2).is_some());
    }

    #[test]
    fn what_has_time_left_is_not_missed() {
        assert_eq!(parts("AAAAAABB", "AAAAAAAA", 2), None);
        assert_eq!(parts("AAAAABBB", "AAAAAAAA", 2).map(|parting| parting.time_ns), Some(7));
    }

    #[test]
    fn the_work_is_bounded() {
        let letters = values(&"AB".repeat(200));
        let found = parting(&pieces(&letters), &pieces(&letters), 400, 100, 1_000, &|_, _| true);
        assert_eq!(found, Err(TooMuch));
    }

    fn letters(kinds: &'static str) -> impl Strategy<Value = String> {
        prop::collection::vec((prop::sample::select(kinds.chars().collect::<Vec<_>>()), 1..5usize), 1..9)
            .prop_map(|runs| runs.iter().map(|(letter, length)| letter.to_string().repeat(*length)).collect())
    }

    /// Two functions of one length, often alike.
    fn two(kinds: &'static str) -> impl Strategy<Value = (String, String)> {
        (letters(kinds), letters(kinds), any::<bool>(), 0..6usize).prop_map(|(one, other, alike, by)| {
            let other = if alike { delayed(&one, by) } else { other };
            let length = one.len().min(other.len());
            (one[..length].to_owned(), other[..length].to_owned())
        })
    }

    fn delayed(letters: &str, by: usize) -> String {
        let held = letters[..1].repeat(by);
        (held + letters)[..letters.len()].to_owned()
    }

    proptest! {
        #[test]
        fn the_moment_is_that_of_the_definition((expected, actual) in two("ABC?"), shift in 0..8i64) {
            let found = parts(&expected, &actual, shift).map(|parting| parting.time_ns);
            prop_assert_eq!(found, parting_time(&expected, &actual, shift, 0), "{} {}", expected, actual);
        }

        #[test]
        fn tolerance_opens_ways_and_all_are_followed(
            (expected, actual) in two("ABCDEF"), shift in 0..8i64, tolerance in 0..3u8,
        ) {
            let found = apart_by(&expected, &actual, shift, tolerance).map(|parting| parting.time_ns);
            prop_assert_eq!(found, parting_time(&expected, &actual, shift, tolerance), "{} {}", expected, actual);
        }

        #[test]
        fn agreement_is_symmetrical((one, other) in two("ABC"), shift in 0..8i64, tolerance in 0..2u8) {
            let agree = |one: &str, other: &str| apart_by(one, other, shift, tolerance).is_none();
            prop_assert_eq!(agree(&one, &other), agree(&other, &one), "{} {}", one, other);
        }

        #[test]
        fn a_function_agrees_with_itself_delayed(letters in letters("ABC?"), by in 0..8usize) {
            prop_assert_eq!(parts(&letters, &delayed(&letters, by), by as i64), None);
        }

        #[test]
        fn the_values_beside_a_departure_differ(
            (expected, actual) in two("ABCDEF?"), shift in 0..8i64, tolerance in 0..3u8,
        ) {
            if let Some(parting) = apart_by(&expected, &actual, shift, tolerance) {
                let (mut expected, actual) = (values(&expected), values(&actual));
                expected.push(None);
                let (expected, actual) = (pieces(&expected), pieces(&actual));
                let (Some(Value::Char(one)), Some(Value::Char(other))) =
                    (expected[parting.expected].value, actual[parting.actual].value) else { panic!("not known") };
                prop_assert!(one.abs_diff(*other) > tolerance);
                let until = actual.get(parting.actual + 1).map_or(i64::MAX, |next| next.time_ns);
                prop_assert!((actual[parting.actual].time_ns..until).contains(&parting.time_ns));
            }
        }

        #[test]
        fn more_shift_never_parts_earlier((expected, actual) in two("ABC"), shift in 0..8i64) {
            let moment = |shift| parts(&expected, &actual, shift).map_or(i64::MAX, |parting| parting.time_ns);
            prop_assert!(moment(shift) <= moment(shift + 1));
        }
    }
}
