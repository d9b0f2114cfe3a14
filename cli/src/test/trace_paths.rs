//! Where the approved traces of a file of procedures lie: beside it, in the folder `NAME.traces`, one for each procedure
//! that asks for it, named after its title.
//!
//! The name of a trace depends on the titles alone, not on their order: a procedure that is put in front of others
//! does not take their traces over.

use std::path::{Path, PathBuf};

/// Longest name made of a title, in characters; what tells two alike names apart comes in addition.
const NAME_CHARACTERS_MAX: usize = 60;

/// Names that some systems keep for themselves, whatever stands behind them.
const RESERVED: [&str; 4] = ["con", "prn", "aux", "nul"];

/// The path of the trace of each title, in the same order.
pub(super) fn trace_paths(steps: &Path, titles: &[&str]) -> Vec<PathBuf> {
    let mut folder = steps.file_stem().unwrap_or_default().to_os_string();
    folder.push(".traces");
    let folder = steps.with_file_name(folder);
    let names: Vec<String> = titles.iter().map(|title| fit(title)).collect();
    let alone = |index: usize| names.iter().filter(|name| Some(*name) == names.get(index)).count() < 2;
    let mut paths: Vec<PathBuf> = Vec::with_capacity(names.len());
    for (index, (name, title)) in names.iter().zip(titles).enumerate() {
        // Titles that differ only in what a file name can not tell are told apart by all of the title.
        let mut stem = if alone(index) { name.clone() } else { format!("{name}-{:08x}", checksum(title)) };
        let twins = titles.iter().take(index).filter(|earlier| *earlier == title).count();
        if twins > 0 {
            stem.push_str(&format!("-{}", twins + 1));
        }
        paths.push(folder.join(format!("{stem}.csv")));
    }
    paths
}

/// A title made fit for a file name: letters and digits in lower case, a hyphen for everything between them.
fn fit(title: &str) -> String {
    let mut name = String::new();
    let mut characters = 0;
    for character in title.chars().flat_map(char::to_lowercase) {
        if characters == NAME_CHARACTERS_MAX {
            break;
        }
        if character.is_alphanumeric() {
            name.push(character);
        } else if name.is_empty() || name.ends_with('-') {
            continue;
        } else {
            name.push('-');
        }
        characters += 1;
    }
    name.truncate(name.trim_end_matches('-').len());
    let device = |name: &str| {
        let numbered = name.strip_prefix("com").or(name.strip_prefix("lpt"));
        numbered.is_some_and(|number| number.len() == 1 && number.bytes().all(|byte| byte.is_ascii_digit()))
    };
    if name.is_empty() {
        name.push_str("untitled");
    } else if RESERVED.contains(&name.as_str()) || device(&name) {
        name.push_str("-procedure");
    }
    name
}

/// FNV-1a over the bytes of a title (Fowler, Noll, Vo; draft-eastlake-fnv, from memory).
fn checksum(title: &str) -> u32 {
    title.bytes().fold(0x811c_9dc5, |hash, byte| (hash ^ u32::from(byte)).wrapping_mul(0x0100_0193))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(titles: &[&str]) -> Vec<String> {
        let paths = trace_paths(Path::new("lab/pump.steps"), titles);
        let folder = Path::new("lab/pump.traces");
        assert!(paths.iter().all(|path| path.parent() == Some(folder)));
        paths.iter().map(|path| path.file_name().unwrap().to_str().unwrap().to_owned()).collect()
    }

    #[test]
    fn titles_become_names_of_files() {
        let cases = [
            ("stop beats start", "stop-beats-start.csv"),
            ("  Stop, beats: Start! ", "stop-beats-start.csv"),
            ("../../etc/passwd", "etc-passwd.csv"),
            ("Überlauf 水", "überlauf-水.csv"),
            ("???", "untitled.csv"),
            ("NUL", "nul-procedure.csv"),
            ("com1", "com1-procedure.csv"),
        ];
        for (title, name) in cases {
            assert_eq!(names(&[title]), [name]);
        }
        assert_eq!(names(&[&"long ".repeat(1_000)])[0].chars().count(), NAME_CHARACTERS_MAX - 1 + 4);
    }

    #[test]
    fn alike_titles_have_names_of_their_own_in_any_order() {
        let forwards = names(&["Fill", "fill!", "drain"]);
        let backwards = names(&["drain", "fill!", "Fill"]);
        assert_eq!(forwards[2], "drain.csv");
        assert_ne!(forwards[0], forwards[1]);
        assert_eq!(forwards, backwards.into_iter().rev().collect::<Vec<_>>());
        assert_eq!(names(&["a", "a", "a"]), ["a-e40c292c.csv", "a-e40c292c-2.csv", "a-e40c292c-3.csv"]);
    }

    /// Check values of the 32-bit FNV-1a hash, published with it (draft-eastlake-fnv); from memory.
    #[test]
    fn the_checksum_has_its_published_values() {
        assert_eq!(
            (checksum(""), checksum("a"), checksum("foobar")),
            (0x811c_9dc5, 0xe40c_292c, 0xbf9c_f968)
        );
    }
}
