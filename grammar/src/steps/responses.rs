//! Rules that hold from where they stand to the end of the procedure.

use super::{
    reader::{Least, Reader},
    tree::{ResponseTime, Rule, StepKind, Text},
    words::Word,
};
use crate::diagnostic::Diagnostic;

impl Reader<'_> {
    /// What follows `always` and `never`.
    pub(super) fn rule(&mut self, word: Word) -> Option<Rule> {
        let condition = self.expression()?;
        let candidates = [Word::Hint, Word::Within, Word::For, Word::Between, Word::While, Word::Then];
        match self.one_of(&candidates) {
            None | Some(Word::Hint) => {}
            Some(clause) => {
                let message = format!("`{}` has no `{}`", word.text(), clause.text());
                let problem = Diagnostic::error("steps-clause", self.parser.span(self.at), message)
                    .label("not here")
                    .note(match clause {
                        Word::Then => {
                            "what follows from a condition is told by `whenever A then B;`".to_owned()
                        }
                        _ => format!("`{}` holds to the end of the procedure", word.text()),
                    });
                self.report(problem);
                return None;
            }
        }
        Some(Rule { condition, hint: self.hint()? })
    }

    /// What follows `whenever`.
    pub(super) fn response(&mut self) -> Option<StepKind> {
        let trigger = self.expression()?;
        let candidates = [Word::Then, Word::Within, Word::For];
        if let Some(early @ (Word::Within | Word::For)) = self.one_of(&candidates) {
            let message = format!("`{}` stands behind the response", early.text());
            let problem =
                Diagnostic::error("steps-clause", self.parser.span(self.at), message).label("too early here");
            self.report(problem.note("write `whenever Stop then NOT Pump within T#20ms;`"));
            return None;
        }
        self.require(Word::Then, false)?;
        let response = self.expression()?;
        let when = match self.one_of(&[Word::Within, Word::For, Word::Hint]) {
            Some(Word::Within) => {
                self.take_word();
                ResponseTime::Within(self.duration("behind `within`", Least::Nothing)?)
            }
            Some(Word::For) => {
                self.take_word();
                ResponseTime::For(self.duration("behind `for`", Least::Nothing)?)
            }
            _ => ResponseTime::AtOnce,
        };
        let hint = self.hint()?;
        Some(StepKind::Whenever { trigger, response, when, hint })
    }

    /// A hint, if there is one.
    fn hint(&mut self) -> Option<Option<Text>> {
        if self.one_of(&[Word::Hint]).is_none() {
            return Some(None);
        }
        self.take_word();
        self.text("a hint").map(Some)
    }
}
