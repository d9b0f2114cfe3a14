//! `latchwork rungs`: statements as contacts and coils, with the values of a moment.

pub(crate) mod arguments;
mod run;

use latchwork_bench::{
    diagram::scale::time_text,
    rungs::{
        self, Labels, Page, Readings, ScanReadings, Sheet, TextOptions, bases, instance_name, names, sheet,
    },
};
use latchwork_compiler::logic::{Logic, LogicUnit};

use self::{
    arguments::{RungsArguments, RungsForm},
    run::Ran,
};
use crate::{
    exit::{Exit, Failure},
    files,
    terminal::Terminal,
};

/// Most instances of a unit that are drawn unless one is chosen.
const INSTANCES_MAX: usize = 6;

/// A unit to be drawn, for one instance.
struct Drawn<'r> {
    sheet: Sheet,
    labels: Labels,
    readings: Option<ScanReadings<'r>>,
    title: String,
    subtitle: String,
}

/// Compiles, runs up to a time if one is asked for, and draws.
pub(crate) fn run(arguments: &RungsArguments, terminal: &mut Terminal) -> Result<Exit, Failure> {
    files::check_outputs(run::inputs(arguments), arguments.output.iter())?;
    let (text, exit) = run::run(arguments, terminal, |ran| Ok((draw(arguments, &ran, terminal)?, ran.exit)))?;
    match &arguments.output {
        Some(path) => files::write(path, text.as_bytes())?,
        None => terminal.result(&text)?,
    }
    Ok(exit)
}

/// The drawing of all units that are asked for.
fn draw(arguments: &RungsArguments, ran: &Ran<'_>, terminal: &Terminal) -> Result<String, Failure> {
    let mut all = Vec::new();
    for unit in chosen(arguments, ran.logic)? {
        drawn(arguments, ran, unit, &mut all)?;
    }
    let written: Vec<&Drawn<'_>> = all.iter().filter(|drawn| !drawn.sheet.entries.is_empty()).collect();
    if written.is_empty() {
        return Err(Failure::nothing(format!(
            "{}: there are no statements here, so there is nothing to draw",
            ran.files
        )));
    }
    let mut pages: Vec<Page<'_>> = written
        .iter()
        .map(|drawn| {
            let readings = drawn.readings.as_ref().map(|readings| readings as &dyn Readings);
            let mut page = Page::new(&drawn.sheet, ran.sources, &drawn.labels, readings, None);
            page.title.clone_from(&drawn.title);
            page.subtitle.clone_from(&drawn.subtitle);
            page
        })
        .collect();
    if let Some((_, before)) = pages.split_last_mut() {
        // It is said once, at the end.
        before.iter_mut().for_each(|page| page.legend.clear());
    }
    Ok(text(arguments, &pages, terminal))
}

/// The units that are asked for.
fn chosen<'l>(arguments: &RungsArguments, logic: &'l Logic) -> Result<Vec<&'l LogicUnit>, Failure> {
    // Connections of a configuration are no rungs.
    let units = || logic.units.iter().filter(|unit| !unit.stub);
    if arguments.pou.is_empty() {
        return Ok(units().collect());
    }
    let mut chosen = Vec::new();
    for name in &arguments.pou {
        let found = units().find(|unit| unit.name.eq_ignore_ascii_case(name));
        chosen.push(found.ok_or_else(|| {
            let known: Vec<&str> = units().map(|unit| unit.name.as_str()).collect();
            Failure::usage(format!(
                "there is no unit `{name}` with statements; there is {}",
                known.join(", ")
            ))
        })?);
    }
    Ok(chosen)
}

/// A unit for each of its instances, or without values.
fn drawn<'r>(
    arguments: &RungsArguments,
    ran: &Ran<'r>,
    unit: &LogicUnit,
    all: &mut Vec<Drawn<'r>>,
) -> Result<(), Failure> {
    let sheet = sheet(unit, ran.sources);
    let title = format!("{} {}", sheet.kind, sheet.unit);
    let shown = names(&sheet);
    let files = &ran.files;
    let labels = |instance: &str| Labels::new(ran.program, ran.station, instance, shown.iter().copied());
    let Some(moment) = &ran.moment else {
        let labels = labels(&unit.name);
        all.push(Drawn { sheet: sheet.clone(), labels, readings: None, title, subtitle: files.clone() });
        return Ok(());
    };
    let when = format!("scan {} at {}", moment.scan + 1, time_text(moment.time_ns));
    let bases = bases(moment.account, unit);
    if bases.is_empty() {
        let subtitle = format!("{files} · {when} · it has not run up to then");
        let labels = labels(&unit.name);
        all.push(Drawn { sheet: sheet.clone(), labels, readings: None, title, subtitle });
        return Ok(());
    }
    let mut named: Vec<(u32, Option<String>)> =
        bases.into_iter().map(|base| (base, instance_name(ran.program, unit, base))).collect();
    if named.iter().all(|(_, name)| name.is_none()) {
        // A function has no instances: the call that ran last, if one did.
        let now = named.iter().rposition(|(base, _)| {
            let readings = ScanReadings { account: moment.account, scan: moment.scan, base: *base };
            unit.statements.first().is_some_and(|first| readings.ran(first.number))
        });
        named = named.into_iter().skip(now.unwrap_or(0)).take(1).collect();
    }
    let wanted = |name: &Option<String>| match (&arguments.instance, name) {
        (Some(wanted), Some(name)) if *name != unit.name => name.eq_ignore_ascii_case(wanted),
        _ => true,
    };
    let several = named.len();
    let known: Vec<&str> = named.iter().filter_map(|(_, name)| name.as_deref()).collect();
    let known = known.join(", ");
    let matching: Vec<_> = named.into_iter().filter(|(_, name)| wanted(name)).collect();
    if let (Some(wanted), true) = (&arguments.instance, matching.is_empty()) {
        let message = format!("no instance of {} that ran is named `{wanted}`; there is {known}", unit.name);
        return Err(Failure::usage(message));
    }
    let more = matching.len().saturating_sub(INSTANCES_MAX);
    for (base, name) in matching.into_iter().take(INSTANCES_MAX) {
        let instance = name.unwrap_or_else(|| unit.name.clone());
        let mut subtitle = format!("{files} · {when}");
        if instance != unit.name {
            subtitle = format!("instance {instance} · {subtitle}");
        }
        if more > 0 {
            subtitle.push_str(&format!(" · {INSTANCES_MAX} of {several} instances, choose with --instance"));
        }
        let mut labels = labels(&instance);
        if let Some(recording) = moment.recording {
            labels.observe(recording, moment.scan);
        }
        let readings = Some(ScanReadings { account: moment.account, scan: moment.scan, base });
        all.push(Drawn { sheet: sheet.clone(), labels, readings, title: title.clone(), subtitle });
    }
    Ok(())
}

fn text(arguments: &RungsArguments, pages: &[Page<'_>], terminal: &Terminal) -> String {
    let to_file = arguments.output.is_some();
    match arguments.format {
        RungsForm::Svg => rungs::svg(pages),
        RungsForm::Json => rungs::json(pages),
        RungsForm::Text => {
            let options = TextOptions {
                width: arguments.width.map_or_else(|| terminal.columns(), usize::from),
                colour: !to_file && terminal.result_colour(),
                ascii: !to_file && terminal.ascii(),
            };
            let sheets: Vec<String> = pages.iter().map(|page| rungs::terminal(page, &options)).collect();
            sheets.join("\n")
        }
    }
}
