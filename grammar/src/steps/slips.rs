//! What stands in a procedure instead of a step.

use super::{
    reader::Reader,
    words::{CLAUSES, HEADS, ITEMS, STEPS, Word, nearest},
};
use crate::{
    diagnostic::{Diagnostic, Edit, Fix},
    lexer::TokenKind,
    parser::blocks,
};

/// Words that come to mind for a step, and the word it has.
const MEANT: [(&[&str], Word); 7] = [
    (&["push", "click", "hit", "actuate", "operate"], Word::Press),
    (&["let", "unpress"], Word::Release),
    (&["switch", "toggle"], Word::Turn),
    (&["assign", "write", "force", "give"], Word::Set),
    (&["sleep", "delay", "pause", "step"], Word::Wait),
    (&["assert", "check", "verify", "require", "see", "test"], Word::Expect),
    (&["loop", "times"], Word::Repeat),
];

impl Reader<'_> {
    /// Reports what is no step, and goes on behind it.
    pub(super) fn no_step(&mut self, start: usize) {
        use TokenKind as T;
        let word = self.word(start);
        if self.kind(start) == T::Unreadable {
            self.at = start + 1;
            return;
        }
        if word.closes() {
            return self.stray_end(start, word);
        }
        if self.reports_foreign_block(start) {
            return;
        }
        if self.assignment(start) {
            return self.skip_step(start);
        }
        let span = self.parser.span(start);
        let text = self.parser.text(start);
        let problem = if word.opens_item() {
            Diagnostic::error(
                "steps-misplaced-item",
                span,
                format!("`{}` stands in front of the procedures, not in one", word.text()),
            )
            .label("not here")
        } else if word.opens_head() {
            Diagnostic::error(
                "steps-misplaced-item",
                span,
                format!("`{}` stands in a procedure itself, not in a block or a preparation", word.text()),
            )
            .label("not here")
        } else if CLAUSES.contains(&word) {
            Diagnostic::error(
                "steps-unexpected",
                span,
                format!("`{}` belongs to the step before it", word.text()),
            )
            .label("no step begins like this")
            .note("does the step before this end in a `;` that should stand behind it?")
        } else {
            self.unknown_step(start, text)
        };
        self.report(problem);
        self.skip_step(start);
    }

    fn unknown_step(&self, start: usize, text: &str) -> Diagnostic {
        let problem = self.problem_at(start, "steps-unknown-step", "a step");
        if self.kind(start) != TokenKind::Identifier {
            return problem;
        }
        let lists = [STEPS.as_slice(), &HEADS, &ITEMS];
        let near = lists.into_iter().filter_map(|list| nearest(text, list)).min_by_key(|found| found.0);
        let near = near.or_else(|| {
            let means = |words: &[&str]| words.iter().any(|word| word.eq_ignore_ascii_case(text));
            MEANT.iter().find(|(words, _)| means(words)).map(|(_, meant)| (0, *meant))
        });
        match near {
            Some((_, meant)) => problem.note(format!("did you mean `{}`?", meant.text())),
            None => problem.note(
                "steps begin with a word such as `press`, `set`, `wait` or `expect`; PROCEDURES.md lists them",
            ),
        }
    }

    fn stray_end(&mut self, start: usize, word: Word) {
        let text = word.text();
        let problem = Diagnostic::error(
            "steps-unmatched-end",
            self.parser.span(start),
            format!("`{text}` closes nothing"),
        )
        .label("no block of this kind is open here");
        self.report(problem);
        self.at = start + 1;
        if self.kind(self.at) == TokenKind::Semicolon {
            self.at += 1;
        }
    }

    /// `Start := TRUE;`
    fn assignment(&mut self, start: usize) -> bool {
        use TokenKind as T;
        let mut sign = start + 1;
        // The way to a variable is a few names and points.
        while sign < start + 16 && matches!(self.kind(sign), T::Dot | T::Identifier) {
            sign += 1;
        }
        if !matches!(self.kind(start), T::Identifier | T::DirectAddress) || self.kind(sign) != T::Assign {
            return false;
        }
        let (before, sign) = (self.parser.span(start), self.parser.span(sign));
        let place = crate::source::Span { end: before.start, ..before };
        let to = if self.parser.is_spaced(sign) { "to" } else { " to " };
        let mut problem =
            Diagnostic::error("steps-assignment", sign, "a procedure does not assign with `:=`")
                .label("not a step")
                .note("a step gives a value: `set Level to 42.5;`");
        problem.fix = Some(Fix {
            message: "write `set … to`".into(),
            edits: vec![Edit { span: place, text: "set ".into() }, Edit { span: sign, text: to.into() }],
        });
        self.report(problem);
        true
    }

    /// Reports a statement of a program such as `IF`, and goes on behind it, or tells that none begins here.
    pub(super) fn reports_foreign_block(&mut self, start: usize) -> bool {
        use TokenKind as T;
        let kind = self.kind(start);
        let note = match kind {
            T::If | T::Case => "a procedure waits for what it expects: `expect Full within T#10s;`",
            T::For => "steps are repeated with `repeat 3 times … end_repeat;`",
            T::While => "a procedure waits for what it expects: `expect NOT Full within T#10s;`",
            T::Until if self.lost_count => "",
            T::Then | T::Elsif | T::Else | T::EndIf | T::EndCase | T::EndFor | T::By | T::Do | T::Until => {
                "statements of a program stand in the files named by `program`"
            }
            T::Exit | T::Continue | T::Return => "a procedure ends at `end_procedure` or where it fails",
            T::Program if self.is_program_unit(start) => {
                "programs stand in files of their own, which `program` names"
            }
            kind if kind >= T::Function && kind <= T::VarConfig && kind != T::EndProgram => {
                "programs stand in files of their own, which `program` names"
            }
            _ => return false,
        };
        let text = self.parser.text(start).to_ascii_uppercase();
        let problem = Diagnostic::error(
            "steps-foreign-statement",
            self.parser.span(start),
            format!("a procedure has no `{text}`"),
        )
        .label("not a step")
        .note(note);
        if !note.is_empty() {
            self.report(problem);
        }
        if matches!(kind, T::If | T::Case | T::For | T::While) {
            let end = blocks::end_of(self.parser.token(start));
            if !end.missing && end.index > start && end.index < self.limit {
                self.at = end.index + 1;
                if self.kind(self.at) == T::Semicolon {
                    self.at += 1;
                }
                return true;
            }
        }
        self.skip_step(start);
        true
    }
}
