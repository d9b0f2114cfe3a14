//! Submissions that are alike, whatever their authors renamed or moved.
//!
//! ```text
//! texts -> bodies in a normal form -> k-grams -> winnowing -> Fingerprints   (of each submission on its own)
//! Fingerprints of a class -> Comparison: groups of the same text, pairs, how usual that is -> page, summary
//! ```
//!
//! What is alike is a question, not an answer: small tasks have few right answers, and who learned from the same board or
//! book writes alike. So what was handed out and what many have does not count, every likeness is told beside those of the
//! whole class, and nothing here says "copied".
//!
//! No files, clocks or threads: fingerprints are made of one submission at a time, so that this can be done side by side.

mod hash;
mod normal;
mod page;
mod pairs;
mod sentences;
mod stretches;
mod summary;
#[cfg(test)]
mod tests;
mod tokens;
mod usual;
mod winnow;

use std::collections::HashMap;

use serde::{Deserialize, Serialize};

use self::{
    hash::Hasher,
    normal::Word,
    tokens::{Origin, streams},
};

pub use self::{
    page::{LINES_SHOWN_MAX, PAIRS_SHOWN_MAX, page},
    pairs::{Aside, COMMON_MAX, CompareOptions, Comparison, Group, OWN_MIN, PAIRS_MAX, Pair, compare},
    stretches::{Reach, STRETCHES_MAX, Stretch, stretches},
    summary::summary,
    usual::{BANDS, Usual},
    winnow::winnow,
};

/// Words of a fingerprint, `k` of the paper: shorter stretches are never found.
pub const WORDS: usize = 6;

/// Hashes of a window, `w` of the paper: with [`WORDS`], every common stretch of `WORDS + WINDOW - 1` words is found.
pub const WINDOW: usize = 3;

/// The version of the normal form; fingerprints of different versions have nothing to do with one another.
pub const VERSION: u32 = 1;

/// Most words of a submission that are fingerprinted; a program of ten thousand lines has fewer.
pub const WORDS_MAX: usize = 100_000;

/// Most files of a submission that are read.
pub const FILES_MAX: usize = 1_000;

/// What a student handed in.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Handed {
    /// Who, as they are named in the class.
    pub student: String,
    /// The names of the files and their texts.
    pub texts: Vec<(String, String)>,
}

/// A variable that the task demands by name: it is the same for everyone.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Demanded {
    /// Its name.
    pub name: String,
    /// Its address, such as `%IX0.0`, if the task demands one.
    pub address: Option<String>,
}

/// A fingerprint: the hash of some words, and where they stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(from = "(u64, u32, u16, u32, u32)", into = "(u64, u32, u16, u32, u32)")]
pub struct Fingerprint {
    /// Of [`WORDS`] words; less than 2^53, so that every reader of JSON holds it exactly.
    pub hash: u64,
    /// The number of its first word among all words of the submission.
    pub word: u32,
    /// The file, by its place in [`Fingerprints::files`].
    pub file: u16,
    /// The first line of its words, from 1.
    pub from: u32,
    /// The last line of its words.
    pub to: u32,
}

impl From<(u64, u32, u16, u32, u32)> for Fingerprint {
    fn from((hash, word, file, from, to): (u64, u32, u16, u32, u32)) -> Self {
        Fingerprint { hash, word, file, from, to }
    }
}

impl From<Fingerprint> for (u64, u32, u16, u32, u32) {
    fn from(it: Fingerprint) -> Self {
        (it.hash, it.word, it.file, it.from, it.to)
    }
}

/// The fingerprints of a submission.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fingerprints {
    /// [`VERSION`] when they were made.
    pub version: u32,
    /// Whose.
    pub student: String,
    /// The names of the files.
    pub files: Vec<String>,
    /// How many words the bodies have.
    pub words: u32,
    /// A hash of all bodies in any order: equal for texts that are the same but for what does not count.
    pub whole: u64,
    /// Bodies whose words come from the Structured Text they can be rewritten into.
    pub rewritten: u32,
    /// Parts that could not be understood and were taken token by token.
    pub not_understood: u32,
    /// The fingerprints, in the order of the texts.
    pub prints: Vec<Fingerprint>,
}

/// The fingerprints of what a student handed in; `demanded` are the variables that the task demands by name. Never fails: a
/// text that is no program has those of its tokens.
pub fn fingerprints(handed: &Handed, demanded: &[Demanded]) -> Fingerprints {
    let streams = streams(handed, demanded);
    let mut made = Fingerprints {
        version: VERSION,
        student: handed.student.clone(),
        files: handed.texts.iter().take(FILES_MAX).map(|(name, _)| name.clone()).collect(),
        ..Fingerprints::default()
    };
    let mut wholes: Vec<u64> = Vec::new();
    for stream in &streams {
        match stream.origin {
            Origin::Tree => {}
            Origin::Rewritten => made.rewritten += 1,
            Origin::Tokens => made.not_understood += 1,
        }
        let marked = Marked::of(&stream.words);
        wholes.push(marked.gram(0, stream.words.len()));
        let hashes: Vec<u64> = (0..(stream.words.len() + 1).saturating_sub(WORDS))
            .map(|start| marked.gram(start, WORDS))
            .collect();
        for start in winnow(&hashes, WINDOW) {
            let words = stream.words.get(start..start + WORDS).unwrap_or(&[]);
            let (Some(hash), Some(first)) = (hashes.get(start), words.first()) else { continue };
            let lines = words.iter().map(|word| word.lines);
            made.prints.push(Fingerprint {
                hash: *hash,
                word: made.words + start as u32,
                file: first.lines.file,
                from: lines.clone().map(|lines| lines.from).min().unwrap_or(1),
                to: lines.map(|lines| lines.to).max().unwrap_or(1),
            });
        }
        made.words += stream.words.len() as u32;
    }
    wholes.sort_unstable();
    let mut whole = Hasher::default();
    wholes.iter().for_each(|hash| whole.add(*hash));
    made.whole = whole.value();
    made
}

/// The words of a body, ready to be hashed.
struct Marked {
    /// The hash of each word.
    hashes: Vec<u64>,
    /// Where the variable of a word stands the last time before.
    before: Vec<Option<usize>>,
}

impl Marked {
    fn of(words: &[Word]) -> Self {
        let mut last: HashMap<u32, usize> = HashMap::new();
        Marked {
            hashes: words.iter().map(|word| hash::text(&word.text)).collect(),
            before: words
                .iter()
                .enumerate()
                .map(|(place, word)| last.insert(word.variable?, place))
                .collect(),
        }
    }

    /// The hash of so many words. Variables are told apart by how far back they stood before, which no renaming changes
    /// (B. S. Baker, "Parameterized Pattern Matching", 1996; from memory).
    fn gram(&self, start: usize, count: usize) -> u64 {
        let mut hasher = Hasher::default();
        for place in start..start + count {
            hasher.add(self.hashes.get(place).copied().unwrap_or(0));
            let before = self.before.get(place).copied().flatten().filter(|before| *before >= start);
            hasher.add(before.map_or(0, |before| (place - before) as u64));
        }
        hasher.value()
    }
}
