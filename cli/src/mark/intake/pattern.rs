//! Patterns of names: where in the name of a submission the student is.

use super::limits::PATTERN_BYTES_MAX;

/// A pattern such as `*_{student}_*`.
///
/// `{student}` stands for the id, `{name}` for the name, both at least one character long, and `*` for anything. Between
/// two of these there must be text. Each takes as little as the rest of the pattern lets it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Pattern {
    /// Text in front of each of the holes, and behind the last.
    texts: Vec<String>,
    /// One fewer than there are texts.
    holes: Vec<Hole>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Hole {
    Anything,
    Student,
    Name,
}

/// What a pattern finds in a name.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Match {
    pub(super) student: String,
    pub(super) name: Option<String>,
}

impl Pattern {
    /// Reads the pattern of the option `--student`; an error says what is wrong with it.
    pub(crate) fn read(text: &str) -> Result<Self, String> {
        let pattern = Self::cut(text)?;
        let count = |hole| pattern.holes.iter().filter(|other| **other == hole).count();
        match (count(Hole::Student), count(Hole::Name)) {
            (1, 0 | 1) => Ok(pattern),
            (0, _) => {
                Err("`{student}` is missing; write it where the student's id is, as in `*_{student}_*`"
                    .into())
            }
            (1, _) => Err("`{name}` is there more than once".into()),
            _ => Err("`{student}` is there more than once".into()),
        }
    }

    /// Reads a name of a submission on a roster, in which only `*` means something.
    pub(super) fn of_submission(text: &str) -> Result<Self, String> {
        let texts: Vec<String> = text.split('*').map(str::to_string).collect();
        let holes = vec![Hole::Anything; texts.len() - 1];
        Self { texts, holes }.checked(text)
    }

    fn cut(text: &str) -> Result<Self, String> {
        let mut texts = vec![String::new()];
        let mut holes = Vec::new();
        let mut rest = text;
        while let Some(sign) = rest.chars().next() {
            let holes_here = [("*", Hole::Anything), ("{student}", Hole::Student), ("{name}", Hole::Name)];
            if let Some((word, hole)) = holes_here.into_iter().find(|(word, _)| rest.starts_with(word)) {
                holes.push(hole);
                texts.push(String::new());
                rest = &rest[word.len()..];
                continue;
            }
            if sign == '{' {
                return Err("`{` begins `{student}` or `{name}` and nothing else".into());
            }
            if let Some(text) = texts.last_mut() {
                text.push(sign);
            }
            rest = &rest[sign.len_utf8()..];
        }
        Self { texts, holes }.checked(text)
    }

    fn checked(self, text: &str) -> Result<Self, String> {
        if text.len() > PATTERN_BYTES_MAX {
            return Err(format!("it is longer than {PATTERN_BYTES_MAX} bytes"));
        }
        let between = self.texts.get(1..self.holes.len()).unwrap_or_default();
        if between.iter().any(String::is_empty) {
            return Err("two of `*`, `{student}` and `{name}` have nothing between them, \
                 so nobody can tell where one ends; write the text that stands there"
                .into());
        }
        Ok(self)
    }

    /// The one name that fits, if it is only one.
    pub(super) fn only_name(&self) -> Option<&str> {
        self.holes.is_empty().then(|| self.texts.first().map(String::as_str))?
    }

    /// What the pattern finds in a name, if it fits the whole of it.
    pub(super) fn find(&self, name: &str) -> Option<Match> {
        let (first, behind) = self.texts.split_first()?;
        let mut rest = name.strip_prefix(first.as_str())?;
        if behind.is_empty() {
            return rest.is_empty().then(Match::default);
        }
        let mut found = Match::default();
        for (number, (hole, text)) in self.holes.iter().zip(behind).enumerate() {
            // The id and the name are not empty, so what follows them is looked for behind their first character.
            let least = match hole {
                Hole::Anything => 0,
                Hole::Student | Hole::Name => rest.chars().next()?.len_utf8(),
            };
            let tail = rest.get(least..)?;
            let last = number + 1 == self.holes.len();
            let at = if last {
                tail.ends_with(text.as_str()).then(|| tail.len() - text.len())?
            } else {
                tail.find(text.as_str())?
            };
            let part = &rest[..least + at];
            match hole {
                Hole::Anything => {}
                Hole::Student => found.student = part.to_string(),
                Hole::Name => found.name = Some(part.to_string()),
            }
            rest = &rest[least + at + text.len()..];
        }
        Some(found)
    }
}
