//! The outline of a chart as it is written: steps, transitions and what the steps control.

use latchwork_grammar::{
    Names, Sources, Span,
    tree::{ActionQualifier, Body, Declaration, SyntaxTree, TransitionCondition},
};

use super::{Logic, LogicKind, LogicStatement};

/// A sequential function chart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chart {
    /// In textual order.
    pub steps: Vec<ChartStep>,
    /// In textual order.
    pub transitions: Vec<ChartTransition>,
    /// Actions with a body, in textual order.
    pub actions: Vec<ChartAction>,
}

/// A step; its flag is the variable `name.X`, its time `name.T`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChartStep {
    /// Its name.
    pub name: String,
    /// The name in the text.
    pub span: Span,
    /// It is active at the start.
    pub initial: bool,
    /// What it controls.
    pub uses: Vec<ChartUse>,
}

/// What a step does with an action or a Boolean variable.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChartUse {
    /// The action or variable.
    pub action: String,
    /// `N`, `S`, `R`, `L`, `D`, `P`, `SD`, `DS`, `SL`, `P1`, `P0`.
    pub qualifier: &'static str,
    /// The time behind the qualifier, as written.
    pub time: Option<String>,
    /// The whole of it.
    pub span: Span,
}

/// A transition.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChartTransition {
    /// Its name.
    pub name: Option<String>,
    /// The steps it leaves.
    pub from: Vec<String>,
    /// The steps it enters.
    pub to: Vec<String>,
    /// `PRIORITY`.
    pub priority: Option<u32>,
    /// The heading up to the condition.
    pub heading: Span,
    /// Number of the statement [`LogicKind::Transition`] that computes its condition.
    pub condition: Option<u32>,
}

/// An action with a body.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChartAction {
    /// Its name.
    pub name: String,
    /// The whole action.
    pub span: Span,
}

/// The charts of all units, each with the place of the name in the heading.
pub(crate) fn charts(trees: &[SyntaxTree], sources: &Sources, names: &Names) -> Vec<(Span, Chart)> {
    let mut found = Vec::new();
    trees.iter().for_each(|tree| collect(&tree.declarations, sources, names, &mut found));
    found
}

fn collect(declarations: &[Declaration], sources: &Sources, names: &Names, found: &mut Vec<(Span, Chart)>) {
    for declaration in declarations {
        match declaration {
            Declaration::Unit(unit) => {
                if let Body::SequentialFunctionChart(chart) = &unit.body {
                    found.push((unit.name.span, outline(chart, sources, names)));
                }
            }
            Declaration::Namespace(namespace) => collect(&namespace.declarations, sources, names, found),
            _ => {}
        }
    }
}

fn outline(chart: &latchwork_grammar::tree::Chart, sources: &Sources, names: &Names) -> Chart {
    let spelled = |ident: &latchwork_grammar::tree::Ident| names.spelling(ident.name).to_owned();
    let steps = chart.steps.iter().map(|step| ChartStep {
        name: spelled(&step.name),
        span: step.name.span,
        initial: step.initial,
        uses: step
            .associations
            .iter()
            .map(|association| ChartUse {
                action: spelled(&association.action),
                qualifier: association
                    .qualifier
                    .map_or(ActionQualifier::NonStored, |(given, _)| given)
                    .spelling(),
                time: association.time.as_ref().map(|time| sources.text(time.span).to_owned()),
                span: association.span,
            })
            .collect(),
    });
    let transitions = chart.transitions.iter().map(|transition| ChartTransition {
        name: transition.name.as_ref().map(spelled),
        from: transition.from.iter().map(spelled).collect(),
        to: transition.to.iter().map(spelled).collect(),
        priority: transition.priority.map(|(number, _)| number),
        heading: transition.heading,
        condition: match transition.condition {
            // Found when the statements are known.
            TransitionCondition::Missing => None,
            _ => Some(0),
        },
    });
    let actions = chart.actions.iter();
    Chart {
        steps: steps.collect(),
        transitions: transitions.collect(),
        actions: actions
            .map(|action| ChartAction { name: spelled(&action.name), span: action.span })
            .collect(),
    }
}

/// Puts each chart to its unit, and to each transition the statement that computes its condition: they stand in the same
/// order.
pub(crate) fn place_charts(logic: &mut Logic, charts: Vec<(Span, Chart)>) {
    for (span, mut chart) in charts {
        let Some(unit) = logic.units.iter_mut().find(|unit| unit.span == span) else { continue };
        let mut computed = unit.statements.iter().filter_map(condition_number);
        for transition in &mut chart.transitions {
            transition.condition = transition.condition.and_then(|_| computed.next());
        }
        unit.chart = Some(chart);
    }
}

fn condition_number(statement: &LogicStatement) -> Option<u32> {
    matches!(statement.kind, LogicKind::Transition(_)).then_some(statement.number)
}
