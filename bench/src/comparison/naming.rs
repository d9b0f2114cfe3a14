//! Which signal of a file bears the name that is asked for.
//!
//! A file knows its signals by names of its own: a table by headings (`Pump`, `Main.Pump`, `%QX0.0`), a dump by scopes
//! and names in letters that its format allows (`testbench.Main.Pump`, `globals.QX0_0`). Letter case, blanks, and the
//! difference between an underscore and whatever a dump replaces by one do not count. The nearest agreement wins:
//! the whole name before a name inside of scopes, and that before one without the
//! name of the program.

/// The parts of a name, in the form in which they are compared.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Key(Vec<String>);

impl Key {
    /// The key of a name: parts end at periods outside brackets; an address is one part.
    pub(super) fn of(name: &str) -> Self {
        let name = name.trim();
        if name.starts_with('%') {
            return Key(vec![folded(name)]);
        }
        let mut parts = Vec::new();
        let mut depth = 0_usize;
        let mut start = 0;
        for (at, character) in name.char_indices() {
            match character {
                '[' => depth += 1,
                ']' => depth = depth.saturating_sub(1),
                '.' if depth == 0 => {
                    parts.push(folded(name.get(start..at).unwrap_or_default()));
                    start = at + 1;
                }
                _ => {}
            }
        }
        parts.push(folded(name.get(start..).unwrap_or_default()));
        Key(parts)
    }

    /// The parts from the last to the first.
    pub(super) fn backwards(&self) -> impl Iterator<Item = &str> {
        self.0.iter().rev().map(String::as_str)
    }
}

/// A part in the form in which it is compared.
fn folded(part: &str) -> String {
    let part = part.trim().trim_start_matches(['%', '\\']);
    part.chars().filter(|character| !character.is_whitespace()).map(folded_character).collect()
}

fn folded_character(character: char) -> char {
    if character.is_ascii_alphanumeric() { character.to_ascii_uppercase() } else { '_' }
}

/// Whether a part of a file's name reads as a part of a key, without making a text of it.
fn same_part(of_file: &str, of_key: &str) -> bool {
    let letters = of_file.trim().trim_start_matches(['%', '\\']);
    let letters = letters.chars().filter(|character| !character.is_whitespace()).map(folded_character);
    letters.eq(of_key.chars())
}

/// How a name of a file agrees with what is asked for; the lower, the nearer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Nearness(usize);

/// What a subject may be called in a file, the likeliest first.
#[derive(Clone, Debug)]
pub(super) struct Wanted(Vec<Key>);

impl Wanted {
    /// The keys of names, the likeliest first.
    pub(super) fn new<'a>(names: impl Iterator<Item = &'a str>) -> Self {
        let mut keys: Vec<Key> = Vec::new();
        for key in names.map(Key::of) {
            if !keys.contains(&key) {
                keys.push(key);
            }
        }
        Wanted(keys)
    }

    /// How near a name of a file is, given its parts from the last to the first; `None` if it is another name.
    pub(super) fn nearness<P>(&self, backwards: impl Fn() -> P) -> Option<Nearness>
    where
        P: Iterator<Item: AsRef<str>>,
    {
        let rank = |(number, key): (usize, &Key)| {
            let mut of_file = backwards();
            let mut of_key = key.backwards();
            loop {
                match (of_file.next(), of_key.next()) {
                    (Some(of_file), Some(of_key)) if same_part(of_file.as_ref(), of_key) => {}
                    (Some(_), Some(_)) => return None,
                    // Equal; inside of scopes; without the name of the program.
                    (None, None) => return Some(Nearness(number)),
                    (Some(_), None) => return Some(Nearness(self.0.len() + number)),
                    (None, Some(_)) if of_key.next().is_none() => {
                        return Some(Nearness(2 * self.0.len() + number));
                    }
                    (None, Some(_)) => return None,
                }
            }
        };
        self.0.iter().enumerate().filter_map(rank).min()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn nearness(wanted: &[&str], name: &str) -> Option<usize> {
        let parts = Key::of(name).0;
        let wanted = Wanted::new(wanted.iter().copied());
        wanted.nearness(|| parts.iter().rev().map(String::as_str)).map(|nearness| nearness.0)
    }

    #[test]
    fn the_whole_name_is_nearer_than_a_part_of_it() {
        let pump = ["Pump", "Main.Pump", "%QX0.0"];
        let cases = [
            ("Pump", Some(0)),
            ("PUMP", Some(0)),
            (" main . pump", Some(1)),
            ("%QX0.0", Some(2)),
            ("QX0_0", Some(2)),
            ("bench.Pump", Some(3)),
            ("bench.Main.Pump", Some(3)),
            ("globals.QX0_0", Some(5)),
            ("Pump2", None),
            ("Pump.ET", None),
            ("", None),
        ];
        for (name, expected) in cases {
            assert_eq!(nearness(&pump, name), expected, "{name}");
        }
        assert_eq!(nearness(&["Main.Fill.ET"], "Fill.ET"), Some(2));
        assert_eq!(nearness(&["Main.Fill.ET"], "ET"), None);
    }

    #[test]
    fn brackets_and_what_a_dump_makes_of_them_are_alike() {
        for name in ["Grid[1,2].Level", "Grid[1, 2].Level", "\\Grid[1,2] .Level", "Grid_1_2_.level"] {
            assert_eq!(nearness(&["Grid[1,2].Level"], name), Some(0), "{name}");
        }
        assert_eq!(Key::of("Main.Seg[I.0].X").0, ["MAIN", "SEG_I_0_", "X"]);
    }
}
