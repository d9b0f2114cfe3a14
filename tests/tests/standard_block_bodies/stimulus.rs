//! What happens in one scan, as a few bytes of which 0 is always the plainest: so a failing stimulus becomes shorter and
//! plainer byte by byte.

/// Bytes that say what a scan does: who is called, inputs, preset, time, the rest.
pub type Step = [u8; 5];

/// Ways to call an instance, by the number that the program knows them by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// An instance of the program.
    Plain = 0,
    /// A retained instance with initial values.
    Kept = 1,
    /// An element of an array, by a subscript.
    Element = 2,
    /// An instance inside an instance.
    First = 3,
    /// The same inside another instance of the same function block.
    Second = 4,
    /// An instance with initial values, as in-out variable of a function block.
    Lent = 5,
    /// An element of an array as in-out variable.
    LentElement = 6,
    /// Two calls of the same instance in the scan.
    Twice = 7,
    /// A call of the retained instance that names the first input only.
    Partly = 8,
    /// A call with EN, which may be FALSE.
    Enabled = 9,
    /// No call.
    Nothing = 10,
    /// An input operator of Instruction List.
    Operator = 11,
}

const WAYS: [Way; 25] = {
    use Way::*;
    [
        Plain,
        Plain,
        Plain,
        Plain,
        Kept,
        Kept,
        Kept,
        Kept,
        Element,
        Element,
        Element,
        First,
        First,
        Second,
        Lent,
        Lent,
        Lent,
        LentElement,
        Twice,
        Partly,
        Enabled,
        Nothing,
        Operator,
        Operator,
        Operator,
    ]
};

/// Restart before a scan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Before {
    None,
    Warm,
    Cold,
}

pub fn before(step: Step) -> Before {
    match step[0] {
        250..=252 => Before::Warm,
        253..=255 => Before::Cold,
        _ => Before::None,
    }
}

pub fn way(step: Step) -> Way {
    // Every quotient occurs equally often; the small ones are the plain ones.
    WAYS.get(usize::from(step[0]) / 10).copied().unwrap_or(Way::Plain)
}

/// Subscript, EN, operator, and whether time begins anew after a restart.
pub fn extra(step: Step) -> u8 {
    step[4]
}

const MILLISECOND: i64 = 1_000_000;

/// The time of the scan in nanoseconds, from that of the scan before: mostly 10 ms later, sometimes at the same time,
/// irregular, after a long gap, or at the end of all time.
pub fn time(step: Step, now: i64) -> i64 {
    let restart = before(step) != Before::None;
    let later = match step[3] {
        0..=127 => 10 * MILLISECOND,
        128..=160 => 0,
        number @ 161..=220 => i64::from(number - 160) * MILLISECOND + i64::from(number % 3) - 1,
        221..=240 => 1,
        241..=250 => 3_600_000 * MILLISECOND,
        _ if extra(step) < 16 => i64::MAX - 40 * MILLISECOND,
        _ => 25 * MILLISECOND,
    };
    if restart && extra(step) % 2 == 1 { 0 } else { now.saturating_add(later) }
}

/// A preset of a timer in nanoseconds; `None` leaves it.
pub fn duration(step: Step) -> Option<i64> {
    const DURATIONS: [i64; 16] = [
        0,
        20 * MILLISECOND,
        25 * MILLISECOND,
        10 * MILLISECOND,
        50 * MILLISECOND,
        1,
        -1,
        30 * MILLISECOND,
        -50 * MILLISECOND,
        i64::MIN,
        i64::MAX,
        15 * MILLISECOND,
        i64::MAX - 1,
        i64::MIN + 1,
        3_600_000 * MILLISECOND,
        9_999_999,
    ];
    (step[2] >= 200).then(|| DURATIONS[usize::from(step[2] % 16)])
}

/// A preset of a counter within the limits of its type; `None` leaves it.
pub fn count(step: Step, least: i128, greatest: i128) -> Option<i128> {
    let near = i128::from(step[2] % 4);
    (step[2] >= 150).then(|| match step[2] / 4 % 6 {
        0..=2 => near,
        3 => least + near,
        4 => greatest - near,
        _ => (-near).max(least),
    })
}

/// A stimulus of random bytes (SplitMix64, Steele, Lea and Flood 2014). Made from a number, for a tree of values that
/// proptest can shrink costs more than the scans.
pub fn steps(seed: u64, length: usize) -> Vec<Step> {
    let mut state = seed;
    let random = |_| {
        state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = state;
        bits = (bits ^ bits >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ bits >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
        let [a, b, c, d, e, ..] = (bits ^ bits >> 31).to_le_bytes();
        [a, b, c, d, e]
    };
    (0..length).map(random).collect()
}

/// The shortest and plainest stimulus on the way from a failing one that still fails: scans are left out, then bytes are
/// made smaller, until neither helps.
pub fn shortest(steps: &[Step], fails: impl Fn(&[Step]) -> Option<usize>) -> Vec<Step> {
    let cut = |steps: &[Step]| fails(steps).map(|scan| steps[..=scan].to_vec());
    let mut best = cut(steps).unwrap_or_else(|| steps.to_vec());
    loop {
        let before = best.clone();
        let mut size = best.len() / 2;
        while size > 0 {
            let mut start = 0;
            while start < best.len() {
                let end = (start + size).min(best.len());
                let candidate = [&best[..start], &best[end..]].concat();
                match cut(&candidate) {
                    Some(shorter) => best = shorter,
                    None => start = end,
                }
            }
            size /= 2;
        }
        for scan in 0..best.len() {
            for byte in 0..5 {
                for value in [0, best.get(scan).map_or(0, |step| step[byte] / 2)] {
                    let mut candidate = best.clone();
                    let Some(step) = candidate.get_mut(scan) else { continue };
                    if step[byte] <= value {
                        continue;
                    }
                    step[byte] = value;
                    if let Some(plainer) = cut(&candidate) {
                        best = plainer;
                    }
                }
            }
        }
        if best == before {
            return best;
        }
    }
}
