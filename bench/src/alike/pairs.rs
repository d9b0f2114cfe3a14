//! Which submissions of a class are alike, how much, and how usual that is in the class.

use std::{
    cmp::Reverse,
    collections::{BTreeMap, BTreeSet, BinaryHeap, HashMap},
};

use serde::{Deserialize, Serialize};

use super::{
    Fingerprints, VERSION, WORDS,
    usual::{Counts, Usual},
};

/// Most pairs that are listed.
pub const PAIRS_MAX: usize = 200;

/// Fewest fingerprints of its own that a text must have to be compared: of fewer, chance makes any share.
pub const OWN_MIN: usize = 8;

/// A fingerprint that more texts have is common in a class of any size; bounds the work.
pub const COMMON_MAX: usize = 500;

/// What counts, and what is listed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CompareOptions {
    /// A fingerprint that more than this share of the different texts have is common and does not count; in parts of a
    /// thousand.
    pub common_share: u32,
    /// No fingerprint that fewer texts have is common. In a small class a third is soon reached, and a handful of students
    /// who share their work must not become the common answer by that alone.
    pub common_least: usize,
    /// The least similarity of a pair that is listed, in parts of a thousand.
    pub listed_from: u16,
    /// How many pairs are listed, at most [`PAIRS_MAX`].
    pub pairs: usize,
}

impl Default for CompareOptions {
    fn default() -> Self {
        CompareOptions { common_share: 333, common_least: 8, listed_from: 600, pairs: PAIRS_MAX }
    }
}

/// Students whose texts are the same apart from what does not count.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Group {
    /// Their places in the class, by name.
    pub members: Vec<usize>,
    /// How many words the text has.
    pub words: u32,
}

/// Two texts that are alike.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Pair {
    /// The places of both in the class, the first by name first. Of a group it is the first member.
    pub members: [usize; 2],
    /// Shared fingerprints in parts of a thousand of the smaller number of both.
    pub similarity: u16,
    /// Fingerprints that both have.
    pub shared: u32,
    /// Fingerprints of the one that has fewer; common ones and those of the skeleton do not count.
    pub of: u32,
    /// Words of a stretch that both have, of the one with fewer of them.
    pub words: u32,
    /// How many pairs of the class are less alike, in parts of a thousand.
    pub above: u16,
}

/// Why a submission was not compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Aside {
    /// It has no statements.
    Empty,
    /// It is the skeleton that was handed out.
    Skeleton,
    /// Without what is common or handed out, too little is left.
    Little,
    /// Its fingerprints were made by another version of the program.
    OtherVersion,
}

/// What came out of a class.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Comparison {
    /// How many submissions there are.
    pub submissions: usize,
    /// How many different texts they are.
    pub texts: usize,
    /// Groups of the same text, the largest first.
    pub groups: Vec<Group>,
    /// Pairs of different texts, the most alike first.
    pub pairs: Vec<Pair>,
    /// Pairs that are as alike as those listed must be, but too many.
    pub further: u64,
    /// How alike pairs usually are.
    pub usual: Usual,
    /// Different fingerprints that are common and do not count.
    pub common: usize,
    /// Different fingerprints of the class.
    pub prints: usize,
    /// The least similarity of a listed pair, in parts of a thousand.
    pub listed_from: u16,
    /// Submissions that were not compared, by name.
    pub aside: Vec<(usize, Aside)>,
    /// The hashes that do not count: common ones, and those of what was handed out.
    #[serde(skip)]
    pub left_out: BTreeSet<u64>,
}

/// A text with the fingerprints that count.
struct Text {
    /// Its place in the class.
    member: usize,
    /// Hashes in increasing order, with how often each occurs.
    own: Vec<(u64, u32)>,
    /// How many that are.
    count: u32,
}

/// A pair that was found: similarity, shared fingerprints, and the places of both texts, of which the first counts more.
type Found = (u16, u32, Reverse<(usize, usize)>);

/// Compares a class. The skeleton is what was handed out; its fingerprints do not count.
pub fn compare(
    class: &[Fingerprints],
    skeleton: Option<&Fingerprints>,
    options: &CompareOptions,
) -> Comparison {
    let mut result =
        Comparison { submissions: class.len(), listed_from: options.listed_from, ..Comparison::default() };
    // By name, so that nothing depends on the order of the class.
    let mut by_name: Vec<usize> = (0..class.len()).collect();
    by_name.sort_by_key(|at| (class.get(*at).map(|it| it.student.as_str()), *at));
    let mut same: BTreeMap<u64, Vec<usize>> = BTreeMap::new();
    let mut texts: Vec<Text> = Vec::new();
    result.left_out = skeleton.iter().flat_map(|it| &it.prints).map(|it| it.hash).collect();
    for member in by_name {
        let Some(it) = class.get(member) else { continue };
        if it.version != VERSION {
            result.aside.push((member, Aside::OtherVersion));
        } else if it.words == 0 {
            result.aside.push((member, Aside::Empty));
        } else if skeleton.is_some_and(|skeleton| skeleton.whole == it.whole) {
            result.aside.push((member, Aside::Skeleton));
        } else {
            let group = same.entry(it.whole).or_default();
            if group.is_empty() {
                let own = counted(it, |hash| !result.left_out.contains(&hash));
                texts.push(Text { member, own, count: 0 });
            }
            group.push(member);
        }
    }
    result.texts = texts.len();
    result.groups = same
        .into_values()
        .filter(|members| members.len() > 1)
        .map(|members| {
            let words = members.first().and_then(|first| class.get(*first)).map_or(0, |first| first.words);
            Group { members, words }
        })
        .collect();
    result.groups.sort_by_key(|group| (Reverse(group.members.len()), rank(class, group.members.first())));
    leave_out_common(&mut texts, options, &mut result);
    let (compared, little): (Vec<Text>, Vec<Text>) =
        texts.into_iter().partition(|text| text.count as usize >= OWN_MIN);
    result.aside.extend(little.iter().map(|text| (text.member, Aside::Little)));
    result.aside.sort_by_key(|(member, _)| rank(class, Some(member)));
    pairs(class, &compared, options, &mut result);
    result
}

/// The order of members by name.
fn rank<'c>(class: &'c [Fingerprints], member: Option<&usize>) -> (&'c str, usize) {
    let member = member.copied().unwrap_or(usize::MAX);
    (class.get(member).map_or("", |it| it.student.as_str()), member)
}

/// The different hashes of a text in increasing order, with how often each occurs.
fn counted(text: &Fingerprints, counts: impl Fn(u64) -> bool) -> Vec<(u64, u32)> {
    let mut hashes: Vec<u64> = text.prints.iter().map(|it| it.hash).filter(|hash| counts(*hash)).collect();
    hashes.sort_unstable();
    let mut own: Vec<(u64, u32)> = Vec::new();
    for hash in hashes {
        match own.last_mut() {
            Some((last, count)) if *last == hash => *count += 1,
            _ => own.push((hash, 1)),
        }
    }
    own
}

/// Takes out what many texts have. The same text counts once, so that a group does not make its text common.
fn leave_out_common(texts: &mut [Text], options: &CompareOptions, result: &mut Comparison) {
    let mut having: HashMap<u64, usize> = HashMap::new();
    for (hash, _) in texts.iter().flat_map(|text| &text.own) {
        *having.entry(*hash).or_default() += 1;
    }
    let all = texts.len() as u64;
    let is_common = |having: usize| {
        let share = having as u64 * 1000 > u64::from(options.common_share) * all;
        having > COMMON_MAX || (having >= options.common_least && share)
    };
    result.prints = having.len();
    let common = having.iter().filter(|(_, count)| is_common(**count)).map(|(hash, _)| *hash);
    let common: BTreeSet<u64> = common.collect();
    for text in texts {
        text.own.retain(|(hash, _)| !common.contains(hash));
        text.count = text.own.iter().map(|(_, count)| count).sum();
    }
    result.common = common.len();
    result.left_out.extend(common);
}

/// Finds the pairs by an index from hashes to texts. Its work is bounded, since no hash that is left has more than
/// [`COMMON_MAX`] texts, and its memory by the number of texts and listed pairs.
fn pairs(class: &[Fingerprints], texts: &[Text], options: &CompareOptions, result: &mut Comparison) {
    let mut having: HashMap<u64, Vec<(u32, u32)>> = HashMap::new();
    for (at, text) in texts.iter().enumerate() {
        for (hash, count) in &text.own {
            having.entry(*hash).or_default().push((at as u32, *count));
        }
    }
    let mut counts = Counts::default();
    // The least alike of those kept is on top.
    let mut kept: BinaryHeap<Reverse<Found>> = BinaryHeap::new();
    let most = options.pairs.min(PAIRS_MAX);
    let mut alike = 0u64;
    let mut shared = vec![0u32; texts.len()];
    for (first, text) in texts.iter().enumerate() {
        shared.fill(0);
        for (hash, count) in &text.own {
            let others = having.get(hash).map_or(&[][..], Vec::as_slice);
            let behind = others.partition_point(|(at, _)| *at as usize <= first);
            for (at, its) in others.get(behind..).unwrap_or(&[]) {
                if let Some(shared) = shared.get_mut(*at as usize) {
                    *shared += count.min(its);
                }
            }
        }
        for (second, other) in texts.iter().enumerate().skip(first + 1) {
            let shared = shared.get(second).copied().unwrap_or(0);
            let of = text.count.min(other.count).max(1);
            let similarity = (u64::from(shared) * 1000 / u64::from(of)) as u16;
            counts.add(similarity);
            if similarity >= options.listed_from && shared > 0 {
                alike += 1;
                kept.push(Reverse((similarity, shared, Reverse((first, second)))));
                if kept.len() > most {
                    kept.pop();
                }
            }
        }
    }
    let mut kept: Vec<_> = kept.into_iter().map(|Reverse(it)| it).collect();
    kept.sort_by_key(|it| Reverse(*it));
    result.further = alike - kept.len() as u64;
    result.usual = counts.usual();
    for (similarity, shared, Reverse((first, second))) in kept {
        let (Some(one), Some(other)) = (texts.get(first), texts.get(second)) else { continue };
        let words = [(one, other), (other, one)]
            .map(|(text, beside)| class.get(text.member).map_or(0, |text| covered(text, &beside.own)));
        result.pairs.push(Pair {
            members: [one.member, other.member],
            similarity,
            shared,
            of: one.count.min(other.count),
            words: words[0].min(words[1]),
            above: counts.below(similarity),
        });
    }
}

/// How many words of a text lie in fingerprints that another one has.
fn covered(text: &Fingerprints, others: &[(u64, u32)]) -> u32 {
    let (mut words, mut end) = (0, 0);
    for print in &text.prints {
        if others.binary_search_by_key(&print.hash, |(hash, _)| *hash).is_ok() {
            let behind = print.word + WORDS as u32;
            words += behind - end.clamp(print.word, behind);
            end = end.max(behind);
        }
    }
    words
}
