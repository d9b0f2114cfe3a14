//! The words of procedures. They are no keywords: where none of them can stand, they are ordinary identifiers.

macro_rules! words {
    ($($text:literal $word:ident,)*) => {
        /// A word of procedures, or any other token.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub(super) enum Word {
            Other,
            $($word,)*
        }

        /// Every word in small letters, in alphabetical order.
        const WORDS: &[(&str, Word)] = &[$(($text, Word::$word),)*];
    };
}

words! {
    "always" Always,
    "and" And,
    "at" At,
    "between" Between,
    "change" Change,
    "changes" Changes,
    "clear" Clear,
    "cold" Cold,
    "compare" Compare,
    "edge" Edge,
    "edges" Edges,
    "end_prepare" EndPrepare,
    "end_procedure" EndProcedure,
    "end_repeat" EndRepeat,
    "end_while" EndWhile,
    "exactly" Exactly,
    "expect" Expect,
    "falling" Falling,
    "faults" Faults,
    "for" For,
    "hint" Hint,
    "include" Include,
    "least" Least,
    "most" Most,
    "near" Near,
    "never" Never,
    "of" Of,
    "on" On,
    "open" Open,
    "over" Over,
    "place" Place,
    "points" Points,
    "prepare" Prepare,
    "press" Press,
    "procedure" Procedure,
    "program" Program,
    "ramp" Ramp,
    "record" Record,
    "release" Release,
    "repeat" Repeat,
    "restart" Restart,
    "rising" Rising,
    "scan" Scan,
    "set" Set,
    "shift" Shift,
    "shorted" Shorted,
    "station" Station,
    "stuck" Stuck,
    "then" Then,
    "times" Times,
    "to" To,
    "tolerance" Tolerance,
    "turn" Turn,
    "wait" Wait,
    "warm" Warm,
    "whenever" Whenever,
    "while" While,
    "wire" Wire,
    "with" With,
    "within" Within,
}

/// Length of the longest word.
const LENGTH_MAX: usize = 13;

/// Every word that has a meaning in a procedure, in small letters, in alphabetical order.
pub fn step_words() -> impl Iterator<Item = &'static str> {
    WORDS.iter().map(|(text, _)| *text)
}

impl Word {
    /// The word a text is, in any letter case.
    pub(super) fn of(text: &str) -> Word {
        let mut buffer = [0u8; LENGTH_MAX];
        let Some(folded) = buffer.get_mut(..text.len()) else { return Word::Other };
        folded.copy_from_slice(text.as_bytes());
        folded.make_ascii_lowercase();
        let place = WORDS.binary_search_by(|(word, _)| word.as_bytes().cmp(folded));
        place.ok().and_then(|place| WORDS.get(place)).map_or(Word::Other, |entry| entry.1)
    }

    /// Its text in small letters.
    pub(super) fn text(self) -> &'static str {
        WORDS.iter().find(|(_, word)| *word == self).map_or("", |entry| entry.0)
    }

    /// Whether an item of a file begins with it.
    pub(super) fn opens_item(self) -> bool {
        ITEMS.contains(&self)
    }

    /// Whether a step begins with it. `at` does only in front of a time.
    pub(super) fn opens_step(self) -> bool {
        STEPS.contains(&self)
    }

    /// Whether something of a procedure that is no step begins with it. `hint` may also stand behind a condition.
    pub(super) fn opens_head(self) -> bool {
        HEADS.contains(&self)
    }

    /// Whether it closes a block.
    pub(super) fn closes(self) -> bool {
        CLOSING.contains(&self)
    }

    /// Whether an expression ends in front of it.
    pub(super) fn ends_expression(self) -> bool {
        CLAUSES.contains(&self)
    }
}

/// What items of a file begin with.
pub(super) const ITEMS: [Word; 7] = {
    use Word::*;
    [Include, Program, Station, Scan, Record, Prepare, Procedure]
};

/// What a procedure has besides its steps.
pub(super) const HEADS: [Word; 3] = [Word::Points, Word::Hint, Word::Compare];

/// What steps begin with.
pub(super) const STEPS: [Word; 15] = {
    use Word::*;
    [
        Press, Release, Turn, Set, Ramp, Wait, At, Repeat, Place, Clear, Restart, Expect, Always, Never,
        Whenever,
    ]
};

/// What closes a block.
pub(super) const CLOSING: [Word; 4] = {
    use Word::*;
    [EndPrepare, EndProcedure, EndRepeat, EndWhile]
};

/// What an expression ends in front of.
pub(super) const CLAUSES: [Word; 10] = {
    use Word::*;
    [Within, For, Between, While, Hint, Near, Tolerance, Then, To, Over]
};

/// The candidate that differs least from a text, if it is near enough to be a slip: at most one letter in three.
pub(super) fn nearest(text: &str, candidates: &[Word]) -> Option<(usize, Word)> {
    let limit = (text.len() / 3).max(1);
    if !text.is_ascii() || text.len() > LENGTH_MAX + limit {
        return None;
    }
    let wanted = text.to_ascii_lowercase();
    let mut best: Option<(usize, Word)> = None;
    for candidate in candidates {
        let word = candidate.text();
        if word.len().abs_diff(wanted.len()) > limit {
            continue;
        }
        let distance = strsim::osa_distance(&wanted, word);
        let near = distance <= limit && distance < wanted.len();
        if near && best.is_none_or(|(least, _)| distance < least) {
            best = Some((distance, *candidate));
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_is_found_in_any_letter_case_and_nothing_else_is() {
        assert!(WORDS.is_sorted_by_key(|entry| entry.0));
        for (text, word) in WORDS {
            assert_eq!(Word::of(text), *word);
            assert_eq!(Word::of(&text.to_ascii_uppercase()), *word);
            assert_eq!(word.text(), *text);
            assert!(text.len() <= LENGTH_MAX);
        }
        assert_eq!(Word::of("presses"), Word::Other);
        assert_eq!(Word::of(""), Word::Other);
        assert_eq!(Word::of(&"x".repeat(100)), Word::Other);
    }

    #[test]
    fn slips_are_found() {
        for (slip, word) in [("expct", Word::Expect), ("releese", Word::Release), ("Perss", Word::Press)] {
            assert_eq!(nearest(slip, &STEPS).map(|found| found.1), Some(word), "{slip}");
        }
        assert_eq!(nearest("withn", &CLAUSES), Some((1, Word::Within)));
        assert_eq!(nearest("Pump", &STEPS), None);
        assert_eq!(nearest("x", &CLAUSES), None);
    }
}
