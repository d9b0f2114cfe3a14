//! What standard function blocks did, in words.

use super::{
    super::{BlockWork, Instant, TimerKind},
    duration, point,
};

/// As it was at a time.
pub(super) fn work(work: &BlockWork, at: Instant) -> String {
    match work {
        BlockWork::Timer { .. } => timer(work, at),
        BlockWork::Counter { .. } => counter(work),
        BlockWork::Bistable { .. } => bistable(work),
        BlockWork::Edge { rising, clock, clock_since, output } => {
            edge(*rising, *clock, *clock_since, *output)
        }
        BlockWork::Kept => "no call gives this input, so it keeps what it has".to_owned(),
    }
}

fn timer(work: &BlockWork, at: Instant) -> String {
    let BlockWork::Timer { kind, input, input_since, preset_ns, elapsed_ns, output, output_since } = work
    else {
        return String::new();
    };
    let (preset, elapsed) = (duration(*preset_ns), duration(*elapsed_ns));
    let begun = input_since.map_or(0, |instant| instant.time_ns);
    let ago = duration(at.time_ns - begun);
    let to_go = duration((preset_ns - elapsed_ns).max(0));
    let when = match input_since {
        Some(instant) => format!("at {}", point(instant.time_ns)),
        None => "at the start".to_owned(),
    };
    match (kind, input, output) {
        (TimerKind::OnDelay, true, true) => {
            format!("on-delay; IN has been TRUE for {ago}, and PT is {preset}")
        }
        (TimerKind::OnDelay, true, false) => {
            format!("on-delay; IN has been TRUE for {elapsed} of PT {preset}, {to_go} to go")
        }
        (TimerKind::OnDelay, false, _) => format!("on-delay; IN is FALSE, so PT ({preset}) does not run"),
        (TimerKind::OffDelay, true, _) => "off-delay; IN is TRUE, and Q follows it at once".to_owned(),
        (TimerKind::OffDelay, false, true) => {
            let until = point(begun.saturating_add(*preset_ns));
            format!("off-delay; IN went FALSE {when}, {elapsed} ago, and Q stays until {until} (PT {preset})")
        }
        (TimerKind::OffDelay, false, false) => match (input_since, output_since) {
            (Some(_), Some(ended)) => {
                let ended = point(ended.time_ns);
                format!("off-delay; IN went FALSE {when}, and PT ({preset}) was over at {ended}")
            }
            _ => "off-delay; IN has not been TRUE yet".to_owned(),
        },
        (TimerKind::Pulse, _, true) => {
            let from = output_since.map_or(0, |instant| instant.time_ns);
            let until = point(from.saturating_add(*preset_ns));
            format!("pulse; it began at {} with IN and lasts until {until} (PT {preset})", point(from))
        }
        (TimerKind::Pulse, true, false) => {
            format!(
                "pulse; the one of {preset} that began {when} is over, and IN must go FALSE before another one"
            )
        }
        (TimerKind::Pulse, false, false) => "pulse; IN is FALSE and no pulse runs".to_owned(),
    }
}

fn counter(work: &BlockWork) -> String {
    let BlockWork::Counter { value, preset, member, output, down, counts, held_by } = work else {
        return String::new();
    };
    let to_zero = *down || *member == "QD";
    let compared = match (*member, output) {
        ("CV", _) => format!("PV is {preset}"),
        (_, true) if to_zero => format!("CV {value} is down to 0"),
        (_, false) if to_zero => format!("CV {value} is above 0"),
        (_, true) => format!("CV {value} has reached PV {preset}"),
        (_, false) => format!("CV {value} has not reached PV {preset}"),
    };
    let times: Vec<String> = counts
        .iter()
        .rev()
        .map(|(instant, value)| format!("{value} at {}", point(instant.time_ns)))
        .collect();
    let counted = match (times.as_slice(), held_by) {
        (_, Some(name)) => format!("; {name} is TRUE and goes before counting"),
        ([], None) => "; there was no edge to count yet".to_owned(),
        (times, None) => format!("; CV became {}", times.join(", ")),
    };
    format!("counter; {compared}{counted}")
}

fn bistable(work: &BlockWork) -> String {
    let BlockWork::Bistable { set_name, reset_name, set_first, set, reset, output, turned } = work else {
        return String::new();
    };
    let when = match turned {
        Some(instant) => format!("at {}", point(instant.time_ns)),
        // In the first scan, or before a warm restart that kept it.
        None => "at the start".to_owned(),
    };
    match (output, set, reset) {
        (true, true, true) => {
            format!("bistable; {set_name} and {reset_name} are TRUE, and {set_name} goes first")
        }
        (true, true, false) => format!("bistable; {set_name} is TRUE and sets it"),
        (true, false, _) => {
            format!("bistable; {set_name} set it {when}, and {reset_name} has not been TRUE since")
        }
        (false, true, true) if !set_first => {
            format!("bistable; {set_name} and {reset_name} are TRUE, and {reset_name} goes first")
        }
        (false, _, true) => format!("bistable; {reset_name} is TRUE and resets it"),
        (false, _, false) if turned.is_none() => format!("bistable; {set_name} has not been TRUE yet"),
        (false, _, false) => {
            format!("bistable; {reset_name} reset it {when}, and {set_name} has not been TRUE since")
        }
    }
}

fn edge(rising: bool, clock: bool, clock_since: Option<Instant>, output: bool) -> String {
    let (kind, level) = if rising { ("rising", "TRUE") } else { ("falling", "FALSE") };
    let since = clock_since
        .map_or_else(|| "since the start".to_owned(), |instant| format!("since {}", point(instant.time_ns)));
    if output {
        format!("{kind} edge; CLK became {level} in this scan, and Q is TRUE for this scan only")
    } else if clock == rising {
        format!("{kind} edge; CLK has been {level} {since}, and an edge shows for one scan only")
    } else {
        format!("{kind} edge; CLK is {}, so there is none", if clock { "TRUE" } else { "FALSE" })
    }
}
