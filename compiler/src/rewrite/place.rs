//! Where bodies stand in the text: everything around them stays as it is.

use latchwork_grammar::{
    Span,
    tree::{Body, Declaration, Ident, ProgramUnit, SyntaxTree, UnitKind},
};

/// A body with its place in the text.
pub(super) struct BodyPlace<'a> {
    /// The unit it belongs to, with the variables it sees.
    pub(super) unit: &'a ProgramUnit,
    /// The type that a method belongs to.
    pub(super) owner: Option<&'a ProgramUnit>,
    /// The action of a chart, if it is not the body of the unit itself.
    pub(super) action: Option<Ident>,
    /// The body.
    pub(super) body: &'a Body,
    /// Everything between the heading and the closing keyword.
    pub(super) span: Span,
    /// Where the declarations of the unit end, so that a section can be added.
    pub(super) declarations_end: u32,
    /// How the text is indented.
    pub(super) indent: Indent,
}

/// Columns before lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Indent {
    /// Before the keywords of the declarations.
    pub(super) heading: usize,
    /// Before the closing keyword of the body.
    pub(super) base: usize,
    /// More for each level.
    pub(super) step: usize,
}

impl BodyPlace<'_> {
    /// The keyword of a section for variables that are needed only while the body runs.
    pub(super) fn section(&self) -> &'static str {
        match self.unit.kind {
            UnitKind::Function | UnitKind::Method => "VAR",
            _ => "VAR_TEMP",
        }
    }
}

/// All bodies of a file, in textual order.
pub(super) fn bodies<'a>(tree: &'a SyntaxTree, text: &str) -> Vec<BodyPlace<'a>> {
    let mut finder = Finder { tree, text, found: Vec::new() };
    finder.declarations(&tree.declarations);
    finder.found.sort_by_key(|place| place.span.start);
    finder.found
}

struct Finder<'a, 't> {
    tree: &'a SyntaxTree,
    text: &'t str,
    found: Vec<BodyPlace<'a>>,
}

impl<'a> Finder<'a, '_> {
    fn declarations(&mut self, declarations: &'a [Declaration]) {
        for declaration in declarations {
            match declaration {
                Declaration::Unit(unit) => self.unit(unit, None),
                Declaration::Namespace(namespace) => self.declarations(&namespace.declarations),
                _ => {}
            }
        }
    }

    fn unit(&mut self, unit: &'a ProgramUnit, owner: Option<&'a ProgramUnit>) {
        unit.methods.iter().for_each(|method| self.unit(method, Some(unit)));
        let declarations_end = self.behind_comments(heading_end(unit));
        let heading = self.column(unit.span.start);
        let step = unit.sections.iter().find_map(|section| {
            let first = section.variables.first()?.span.start;
            self.column(first)
                .checked_sub(self.column(section.span.start))
                .filter(|step| (1..=8).contains(step))
        });
        let place = |body, action, span: Span| BodyPlace {
            unit,
            owner,
            action,
            body,
            span,
            declarations_end,
            indent: Indent { heading, base: self.column(span.end), step: step.unwrap_or(2) },
        };
        let mut found = Vec::new();
        if let Body::SequentialFunctionChart(chart) = &unit.body {
            for action in &chart.actions {
                let name_end = action.name.span.end as usize;
                let colon = self.text.get(name_end..).and_then(|rest| rest.find(':'));
                let Some(start) = colon.map(|colon| (name_end + colon + 1) as u32) else { continue };
                let span = self.between(self.behind_comments(start), action.span);
                found.push(place(&action.body, Some(action.name), span));
            }
        } else {
            found.push(place(&unit.body, None, self.between(declarations_end, unit.span)));
        }
        self.found.append(&mut found);
    }

    /// The blanks before what stands first on the line of a place.
    fn column(&self, place: u32) -> usize {
        let before = self.text.get(..place as usize).unwrap_or("");
        let line = before.rfind('\n').map_or(0, |end| end + 1);
        let rest = self.text.get(line..).unwrap_or("");
        rest.len() - rest.trim_start_matches(' ').len()
    }

    /// Behind the comments that stand on the same line.
    fn behind_comments(&self, mut place: u32) -> u32 {
        loop {
            let rest = self.text.get(place as usize..).unwrap_or("");
            let blanks = rest.len() - rest.trim_start_matches([' ', '\t']).len();
            let next = place + blanks as u32;
            let at = self.tree.trivia.partition_point(|trivia| trivia.span.start < next);
            match self.tree.trivia.get(at) {
                Some(trivia) if trivia.span.start == next => place = trivia.span.end,
                _ => return place,
            }
        }
    }

    /// From the end of a heading to the line of the closing keyword.
    fn between(&self, start: u32, whole: Span) -> Span {
        let text = self.text.get(start as usize..whole.end as usize).unwrap_or("");
        // The closing keyword is the last word, and begins with `END_`.
        let word =
            text.len() - text.chars().rev().take_while(|c| c.is_ascii_alphanumeric() || *c == '_').count();
        let line = text.get(..word).map_or(0, |before| before.trim_end_matches([' ', '\t']).len());
        // What stands on a line of its own keeps its indentation.
        let end = if text.get(..line).is_some_and(|before| before.ends_with('\n')) { line } else { word };
        Span::new(whole.file, start, start + end as u32)
    }
}

/// Where the heading and the declarations of a unit end.
fn heading_end(unit: &ProgramUnit) -> u32 {
    let ends = [unit.name.span.end]
        .into_iter()
        .chain(unit.result.iter().map(|result| result.span.end))
        .chain(unit.extends.iter().map(|base| base.span.end))
        .chain(unit.implements.iter().map(|interface| interface.span.end))
        .chain(unit.using.iter().map(|using| using.span.end + 1))
        .chain(unit.sections.iter().map(|section| section.span.end))
        .chain(unit.access_paths.iter().map(|section| section.span.end))
        .chain(unit.methods.iter().map(|method| method.span.end));
    ends.max().unwrap_or(unit.span.start)
}
