//! The files that `latchwork run` makes of a recording: from the whole of it, or part by part while the program runs.

use std::{
    fmt,
    fs::File,
    io::{BufWriter, Write},
    ops::ControlFlow::{self, Break, Continue},
    path::{Path, PathBuf},
};

use latchwork_bench::{
    export::{CsvWriter, VcdWriter},
    recording::{Recording, Row},
    replay::Follower,
};
use latchwork_vm::trace::{Changes, ScanRecord};

use crate::{
    exit::Failure,
    files::{self, Output},
    interrupt,
};

/// Writes a whole recording.
pub(crate) fn write_whole(
    path: Option<&Path>,
    recording: &Recording,
    export: impl FnOnce(&Recording, &mut dyn fmt::Write) -> fmt::Result,
) -> Result<(), Failure> {
    let Some(path) = path else { return Ok(()) };
    let mut output = Output::begin(path)?;
    // The output keeps its error for the end.
    let _ = export(recording, &mut output);
    output.finish()
}

/// Whether files may be written while the program runs: not if they go to one pipe, where one must come after the other.
pub(crate) fn can_follow(csv: Option<&PathBuf>, vcd: Option<&PathBuf>) -> bool {
    match (csv, vcd) {
        (None, None) => false,
        (Some(csv), Some(vcd)) => !(files::is_stream(csv) && files::is_stream(vcd)),
        _ => true,
    }
}

/// Files that are written while the program runs.
pub(crate) struct Following {
    csv: Option<Table>,
    vcd: Option<Dump>,
    scan_ns: i64,
}

struct Table {
    output: Output,
    writer: Option<CsvWriter>,
}

struct Dump {
    output: Output,
    writer: Option<VcdWriter>,
    rows: Vec<Row>,
    body: Body,
}

/// Where what stands behind the head of a dump goes.
enum Body {
    /// There is none yet.
    None,
    /// Behind the head, which is written.
    Behind,
    /// Into another file, for the head is known at the end only.
    Apart(BufWriter<File>),
}

impl Following {
    /// Begins the files of a run with this time between two scans. From now on Ctrl-C ends the run in good order.
    pub(crate) fn begin(csv: Option<&PathBuf>, vcd: Option<&PathBuf>, scan_ns: i64) -> Result<Self, Failure> {
        let csv = csv.map(|path| Output::begin(path)).transpose()?;
        let vcd = vcd.map(|path| Output::begin(path)).transpose()?;
        interrupt::watch();
        Ok(Following {
            csv: csv.map(|output| Table { output, writer: None }),
            vcd: vcd.map(|output| Dump { output, writer: None, rows: Vec::new(), body: Body::None }),
            scan_ns,
        })
    }

    /// Ends the files behind the run that this recording is of; it holds the rows and the end alone.
    pub(crate) fn finish(self, recording: &Recording) -> Result<(), Failure> {
        if let Some(table) = self.csv {
            table.output.finish()?;
        }
        self.vcd.map_or(Ok(()), |dump| dump.finish(recording))
    }
}

impl Follower for Following {
    fn begin(&mut self, rows: &[Row]) {
        if let Some(table) = &mut self.csv {
            // Outputs keep their errors for the end, here and below.
            table.writer = CsvWriter::begin(rows.iter().map(Row::name), &mut table.output).ok();
        }
        if let Some(dump) = &mut self.vcd {
            dump.writer = Some(VcdWriter::new(rows, [self.scan_ns].into_iter()));
            dump.rows = rows.to_vec();
        }
    }

    fn part(&mut self, scans: &[ScanRecord], changes: &[&Changes]) -> ControlFlow<()> {
        let mut spoilt = false;
        if let Some(table) = &mut self.csv {
            if let Some(writer) = &mut table.writer {
                let _ = writer.part(scans, changes, &mut table.output);
            }
            spoilt |= table.output.is_spoilt();
        }
        if let Some(dump) = &mut self.vcd {
            dump.part(scans, changes);
            spoilt |= dump.output.is_spoilt();
        }
        if spoilt || interrupt::asked() { Break(()) } else { Continue(()) }
    }
}

impl Dump {
    fn part(&mut self, scans: &[ScanRecord], changes: &[&Changes]) {
        let Some(writer) = &mut self.writer else { return };
        let mut text = String::new();
        // Writing into a string cannot fail.
        let _ = writer.part(scans, changes, &mut text);
        if matches!(self.body, Body::None) {
            self.body = if writer.head_is_final() {
                self.output.put(writer.head(&self.rows).as_bytes());
                Body::Behind
            } else {
                match self.output.spool() {
                    Ok(file) => Body::Apart(BufWriter::new(file)),
                    Err(error) => {
                        self.output.fail(error);
                        Body::Behind
                    }
                }
            };
        }
        match &mut self.body {
            Body::Apart(file) => {
                if let Err(error) = file.write_all(text.as_bytes()) {
                    self.output.fail(error);
                }
            }
            Body::None | Body::Behind => self.output.put(text.as_bytes()),
        }
    }

    fn finish(self, recording: &Recording) -> Result<(), Failure> {
        let Dump { mut output, writer, rows, body } = self;
        let Some(mut writer) = writer else { return output.finish() };
        let mut end = String::new();
        // Writing into a string cannot fail, and outputs keep their errors for the end.
        let _ = writer.end(recording.end_ns, &mut end);
        match body {
            // A run without scans, whose times tell no scan time.
            Body::None => {
                let _ = VcdWriter::write(recording, &mut output);
            }
            Body::Behind => output.put(end.as_bytes()),
            Body::Apart(file) => match file.into_inner() {
                Ok(mut file) => {
                    output.put(writer.head(&rows).as_bytes());
                    output.put_file(&mut file);
                    output.put(end.as_bytes());
                }
                Err(error) => output.fail(error.into_error()),
            },
        }
        output.finish()
    }
}
