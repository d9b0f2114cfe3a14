//! The nearest known spelling of a name that is not declared, so that a slip of the finger is answered with
//! the name that was probably meant. Knows only texts.

/// The candidate that differs least from `wanted`, if it is near enough to be a slip: at most one letter
/// in three, letter case aside. Among equals the first in the order given wins.
pub(crate) fn nearest<'c>(wanted: &str, candidates: impl IntoIterator<Item = &'c str>) -> Option<&'c str> {
    let wanted = wanted.to_ascii_lowercase();
    let limit = (wanted.len() / 3).max(1);
    let mut best: Option<(usize, &str)> = None;
    for candidate in candidates {
        if candidate.len().abs_diff(wanted.len()) > limit {
            continue;
        }
        let distance = distance(wanted.as_bytes(), candidate.to_ascii_lowercase().as_bytes());
        // A name of one or two letters is near to every other such name; only its transposition counts.
        let near = distance <= limit && distance < wanted.len();
        if near && best.is_none_or(|(least, _)| distance < least) {
            best = Some((distance, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

/// Number of insertions, deletions, replacements and swaps of neighbours between two words.
fn distance(left: &[u8], right: &[u8]) -> usize {
    let width = right.len() + 1;
    let mut before: Vec<usize> = vec![0; width];
    let mut above: Vec<usize> = (0..width).collect();
    let mut row = vec![0; width];
    for (i, left_byte) in left.iter().enumerate() {
        row[0] = i + 1;
        for (j, right_byte) in right.iter().enumerate() {
            // `row`, `above` and `before` have one entry more than `right`: j + 1 is inside.
            let replaced = above[j] + usize::from(left_byte != right_byte);
            let mut least = replaced.min(above[j + 1] + 1).min(row[j] + 1);
            let swapped = i > 0 && j > 0 && *left_byte == right[j - 1] && left[i - 1] == *right_byte;
            if swapped {
                least = least.min(before[j - 1] + 1);
            }
            row[j + 1] = least;
        }
        std::mem::swap(&mut before, &mut above);
        std::mem::swap(&mut above, &mut row);
    }
    above[right.len()]
}

#[cfg(test)]
mod tests {
    use super::{distance, nearest};

    #[test]
    fn slips_are_found() {
        let declared = ["PumpStart", "PumpStop", "Level", "x"];
        assert_eq!(nearest("pumpstrat", declared), Some("PumpStart"));
        assert_eq!(nearest("Levl", declared), Some("Level"));
        assert_eq!(nearest("Pressure", declared), None);
        assert_eq!(nearest("y", declared), None);
    }

    #[test]
    fn distance_counts_swaps_once() {
        assert_eq!(distance(b"start", b"strat"), 1);
        assert_eq!(distance(b"", b"abc"), 3);
        assert_eq!(distance(b"same", b"same"), 0);
    }
}
