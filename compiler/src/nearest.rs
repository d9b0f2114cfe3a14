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
        // Insertions, deletions, replacements and swaps of neighbours.
        let distance = strsim::osa_distance(&wanted, &candidate.to_ascii_lowercase());
        // A name of one or two letters is near to every other such name; only its transposition counts.
        let near = distance <= limit && distance < wanted.len();
        if near && best.is_none_or(|(least, _)| distance < least) {
            best = Some((distance, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::nearest;

    #[test]
    fn slips_are_found() {
        let declared = ["PumpStart", "PumpStop", "Level", "x"];
        assert_eq!(nearest("pumpstrat", declared), Some("PumpStart"));
        assert_eq!(nearest("Levl", declared), Some("Level"));
        assert_eq!(nearest("Pressure", declared), None);
        assert_eq!(nearest("y", declared), None);
    }
}
