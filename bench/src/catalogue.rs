//! The names of everything that can be wrong with a station, a stimulus, a trace or a run, with one line each: the table
//! behind `explain`.

/// Name and summary of every diagnostic and error of the station side of the bench, in alphabetical order.
pub const CATALOGUE: &[(&str, &str)] = &[
    ("exercise-syntax", "the exercise file is not well-formed TOML, or has a key that nobody knows"),
    ("exercise-value", "a value of the exercise file is not what its key needs"),
    (
        "missed-pulse",
        "a value of the stimulus came and went between two scans, so that the program never saw it",
    ),
    ("observed-column", "a column of what was seen on a board stands for nothing, or for something twice"),
    ("observed-empty", "a table of what was seen on a board has nothing in it that could be explained"),
    ("observed-row", "a row of what was seen on a board has too many cells or an open quotation mark"),
    (
        "observed-too-large",
        "a table of what was seen on a board has more bytes, rows or scans than are allowed",
    ),
    ("observed-value", "a cell of what was seen on a board does not hold what its column needs"),
    ("procedure-analog-device", "an analog device is pressed, released or turned"),
    ("procedure-fault", "a wiring fault is placed where it cannot be"),
    ("procedure-file", "a file that is named in a file of procedures cannot be read"),
    ("procedure-include-circle", "files of procedures include one another in a circle"),
    ("procedure-included", "a file that is included holds a procedure"),
    ("procedure-near", "a number is compared with a duration"),
    ("procedure-no-expectation", "a procedure expects nothing"),
    ("procedure-no-program", "no program is named to run the procedures on"),
    ("procedure-state-word", "a word is no state of its device"),
    ("procedure-target", "something is set that cannot be set"),
    ("procedure-too-long", "a procedure would have more scans or steps than are allowed"),
    ("procedure-unknown-device", "the station has no device of this name"),
    ("procedure-unknown-name", "a name in a step is no device, load, variable or address"),
    ("reason-time", "a reason is asked for at a time at which no scan was run"),
    (
        "reason-unknown-name",
        "a reason is asked for something that is no variable, device, load, address or step",
    ),
    ("replay-no-scan", "the run ends before its first scan"),
    ("replay-record-unknown", "a name to record is no device, load, variable or address"),
    ("replay-scan-time", "the time between two scans is not positive"),
    ("replay-too-long", "the run would have more scans than are allowed"),
    ("replay-too-many-changes", "the recording would hold more changes than are allowed"),
    ("replay-too-many-rows", "more rows are to be recorded than are allowed"),
    ("station-address", "a terminal is neither an address nor a variable"),
    ("station-empty", "the station has neither devices nor loads"),
    ("station-empty-text", "a text is empty or has a control character in it"),
    ("station-mark-twice", "two wires have one label, or one place on the terminal strip"),
    ("station-missing-key", "a device or load lacks a key that it must have"),
    ("station-name", "a name is not an identifier"),
    ("station-name-clash", "a device or load is named like a variable of the program"),
    ("station-name-twice", "two devices or loads have one name"),
    ("station-plant-driven", "something that the plant drives is set from outside"),
    ("station-plant-file", "a path can not be a file of the plant, or there is none"),
    ("station-plant-program", "the files of the plant do not hold one program to run"),
    ("station-plant-type", "an input or output of the plant has a type that does not fit its load or device"),
    ("station-plant-variable", "an input of the plant is no load, or an output no device"),
    ("station-range", "a range of an analog device or load does not run from a lower to a higher value"),
    ("station-state-words", "both states of a device have the same word"),
    ("station-stop-sense", "a stop button stops while nobody presses it"),
    ("station-stuck-at", "a place to be stuck at is given for a device or load that is not stuck"),
    ("station-syntax", "the station file is not well-formed TOML"),
    ("station-terminal-direction", "a device is not wired to an input, or a load not to an output"),
    ("station-terminal-shared", "two devices are wired to one input"),
    ("station-terminal-type", "a device or load is wired to a variable of a type that does not fit it"),
    ("station-terminal-unknown", "the program has no variable of the name given as a terminal"),
    ("station-terminal-unused", "the program neither reads nor writes the address of a terminal"),
    ("station-too-large", "the station file has more bytes or entries than are allowed"),
    ("station-unknown-key", "a key that nobody knows"),
    ("station-unknown-word", "a word that is not among those of its key"),
    ("station-value-type", "a key has a value of the wrong type"),
    ("stimulus-column-twice", "two columns stand for the same thing"),
    ("stimulus-constant", "a column stands for a constant"),
    ("stimulus-empty", "the stimulus has no heading line"),
    ("stimulus-extra-cell", "a row has more cells than the heading line"),
    ("stimulus-output", "a column stands for something that the program drives"),
    ("stimulus-quote", "a quotation mark in a row is not closed, or text follows the closing one"),
    ("stimulus-reference", "a column stands for a reference, which has no literal"),
    ("stimulus-restart", "a restart is neither warm nor cold"),
    ("stimulus-time", "a time is not a duration or number of milliseconds"),
    ("stimulus-time-column", "the heading line does not begin with `time`, or is too long"),
    ("stimulus-time-order", "the time goes backwards from one row to the next"),
    ("stimulus-too-large", "the stimulus has more bytes, rows or cells than are allowed"),
    ("stimulus-too-many-errors", "reading stopped after too many errors"),
    ("stimulus-unknown-column", "a column is no device, variable or address"),
    ("stimulus-value", "a cell does not hold a value of its column's type"),
    ("stimulus-wired-input", "a column stands for an input that a device is wired to"),
    ("trace-ambiguous-signal", "two signals of a trace may be the one that is compared"),
    ("trace-dump", "a value change dump is not well-formed"),
    ("trace-empty", "a trace has no rows or no times"),
    ("trace-extra-cell", "a row has more cells than the heading line of its trace"),
    ("trace-no-signal", "a trace lacks a signal that is compared"),
    ("trace-no-value", "a trace never gives a value to a signal that is compared"),
    ("trace-quote", "a quotation mark in a row of a trace is not closed, or text follows the closing one"),
    ("trace-reference", "a reference, which has no literal, is compared with a trace"),
    ("trace-time", "a time of a trace is none"),
    ("trace-time-column", "the heading line of a trace does not begin with `time`"),
    ("trace-time-order", "the time goes backwards in a trace"),
    ("trace-timescale", "a value change dump does not say in which unit its times are"),
    ("trace-tolerance", "the tolerance of a comparison is neither a number nor a duration"),
    ("trace-too-large", "a trace has more bytes, columns or values than are allowed"),
    ("trace-too-many-errors", "reading a trace stopped after too many errors"),
    ("trace-value", "a value of a trace does not fit the type of what is compared with it"),
];

#[cfg(test)]
mod tests {
    use super::CATALOGUE;
    use std::collections::BTreeSet;

    /// The names in the source text of the station side, each in a string of its own.
    fn names_in(source: &str) -> impl Iterator<Item = &str> {
        source.split('"').filter(|piece| {
            let prefixed = [
                "observed-",
                "procedure-",
                "reason-",
                "station-",
                "stimulus-",
                "replay-",
                "missed-",
                "trace-",
                "exercise-",
            ]
            .iter()
            .any(|prefix| piece.starts_with(prefix));
            prefixed && piece.bytes().all(|byte| byte.is_ascii_lowercase() || byte == b'-')
        })
    }

    #[test]
    fn every_name_is_in_the_catalogue_and_the_reverse() {
        let sources = [
            include_str!("comparison/dump/changes.rs"),
            include_str!("comparison/dump/heading.rs"),
            include_str!("comparison/dump/tokens.rs"),
            include_str!("comparison/mod.rs"),
            include_str!("comparison/subject.rs"),
            include_str!("comparison/table.rs"),
            include_str!("exercise/read.rs"),
            include_str!("procedure/traces.rs"),
            include_str!("plant/wire.rs"),
            include_str!("procedure/bind.rs"),
            include_str!("procedure/driven.rs"),
            include_str!("procedure/files.rs"),
            include_str!("procedure/script.rs"),
            include_str!("reasons/mod.rs"),
            include_str!("replay/mod.rs"),
            include_str!("replay/rows.rs"),
            include_str!("station/check.rs"),
            include_str!("station/entry.rs"),
            include_str!("station/loads.rs"),
            include_str!("station/marks.rs"),
            include_str!("station/parts.rs"),
            include_str!("station/plant.rs"),
            include_str!("station/range.rs"),
            include_str!("station/read.rs"),
            include_str!("station/stops.rs"),
            include_str!("stimulus/columns.rs"),
            include_str!("stimulus/plant.rs"),
            include_str!("stimulus/read.rs"),
            include_str!("wiring_proof/observed/read.rs"),
        ];
        // The name of a limit in files of exercises begins like one of these.
        let names = sources.iter().flat_map(|source| names_in(source));
        let used: BTreeSet<&str> = names.filter(|name| *name != "procedure-instructions").collect();
        let listed: Vec<&str> = CATALOGUE.iter().map(|(name, _)| *name).collect();
        assert_eq!(used.into_iter().collect::<Vec<_>>(), listed);
    }
}
