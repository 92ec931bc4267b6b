//! Recordings in the European Data Format, plain, continuous or with gaps.

use super::columns::{Column, Columns, Label, reading};
use super::guarded::guarded;
use super::layout::Layout;
use super::rows::{Body, Timed};
use super::start;
use anyhow::{Context, Result, anyhow, bail};
use edf_rs::error::edf_error::EDFError;
use edf_rs::file::EDFFile;
use edf_rs::headers::signal_header::SignalHeader;
use edf_rs::record::Samples;
use std::path::Path;

/// A recording under way, a data record at a time.
pub(crate) struct Signals {
    file: EDFFile,
    columns: Columns,
    guessed: Vec<String>,
    flow: Signal,
    pressure: Signal,
    /// When it began, in microseconds, and those from sample to sample.
    start: i128,
    interval: f64,
    /// The record under way: where it begins in microseconds, flow and pressure.
    record: (f64, Vec<f64>, Vec<f64>),
    next: usize,
    records: usize,
    promised: usize,
    number: u64,
}

/// Where a signal stands among those that are no annotations, and what makes its unit of a sample.
#[derive(Debug, Clone, Copy)]
struct Signal {
    at: usize,
    digital_minimum: f64,
    physical_minimum: f64,
    slope: f64,
    factor: f64,
}

impl Signals {
    pub(crate) fn open(path: &Path, layout: &Layout, name: &str) -> Result<Self> {
        let length = path.metadata().with_context(|| format!("cannot open {name}"))?.len();
        guarded(|| Self::of(path, length, layout)).with_context(|| name.to_owned())
    }

    fn of(path: &Path, length: u64, layout: &Layout) -> Result<Self> {
        let mut file = EDFFile::open(path).map_err(plain)?;
        let header = &file.header;
        let signals = header.get_signals();
        let samples = |signal: &SignalHeader| signal.samples_count as u64;
        let held: u64 = signals.iter().map(samples).sum();
        let body = length.saturating_sub(header.get_header_bytes() as u64);
        if held == 0 || held.saturating_mul(2) > body {
            bail!("it holds not one whole record of {held} samples");
        }
        let size = header.data_record_bytes() as u64;
        let whole = usize::try_from(body / size.max(1)).unwrap_or(usize::MAX);
        // A recording that was never closed says -1.
        let promised = header.get_record_count().unwrap_or(whole);
        let labels: Vec<_> = signals
            .iter()
            .map(|signal| Label {
                name: signal.label.clone(),
                unit: Some(signal.physical_dimension.clone()),
            })
            .collect();
        let duration = header.get_record_duration();
        if !(duration.is_finite() && duration > 0.0) {
            bail!("its records last {duration} s");
        }
        // A rate is asked of flow; that of pressure must be the same.
        let columns =
            Columns::find(&labels, layout, Some(duration * 1e6)).map_err(|why| anyhow!(why))?;
        let (flow, pressure) = (&signals[columns.flow.at], &signals[columns.pressure.at]);
        if flow.samples_count != pressure.samples_count || flow.samples_count == 0 {
            bail!(
                "flow has {} and pressure {} samples a record; only like rates are read",
                flow.samples_count,
                pressure.samples_count
            );
        }
        let interval = duration * 1e6 / flow.samples_count as f64;
        let (flow, pressure) =
            (Signal::of(signals, columns.flow)?, Signal::of(signals, columns.pressure)?);
        let more = format!("{whole} records where its header promises {promised}");
        let began = format!("{}T{}", header.start_date(), header.get_start_time());
        let (start, unzoned) = start::of(&began, layout.zone.as_ref());
        let more = (whole > promised).then_some(more);
        let guessed = columns.guessed.iter().cloned().chain(more).chain(unzoned).collect();
        file.header.with_record_count(whole);
        file.seek_to_record(0).map_err(plain)?;
        let record = (0.0, Vec::new(), Vec::new());
        Ok(Self {
            file,
            columns,
            guessed,
            flow,
            pressure,
            start,
            interval,
            record,
            next: 0,
            records: 0,
            promised,
            number: 0,
        })
    }

    /// Reads the next data record; false at the end.
    fn read(&mut self) -> Result<bool> {
        let file = &mut self.file;
        let read = guarded(|| file.read_record().map_err(plain));
        let read = read.with_context(|| format!("in data record {}", self.records + 1))?;
        let Some(record) = read else { return Ok(false) };
        self.records += 1;
        self.next = 0;
        self.record.0 = record.get_start_offset() * 1e6;
        self.flow.take(&record.raw_signal_samples, &mut self.record.1)?;
        self.pressure.take(&record.raw_signal_samples, &mut self.record.2)?;
        Ok(true)
    }
}

/// An error of the reader in words.
fn plain(error: EDFError) -> anyhow::Error {
    let what = match error {
        EDFError::FileReadError(error) if error.kind() == std::io::ErrorKind::UnexpectedEof => {
            return anyhow!("it ends inside its header");
        }
        EDFError::FileReadError(error) => return anyhow!("it cannot be read: {error}"),
        EDFError::InvalidUserIdSegmentCount | EDFError::InvalidUserIdDate => {
            "patient (bytes 8 to 87)"
        }
        EDFError::InvalidRecordingIdSegmentCount | EDFError::InvalidRecordingIdDate => {
            "recording (bytes 88 to 167)"
        }
        EDFError::InvalidStartDate => "start date (bytes 168 to 175)",
        EDFError::InvalidStartTime => "start time (bytes 176 to 183)",
        EDFError::InvalidHeaderSize => "length of the header (bytes 184 to 191)",
        EDFError::InvalidRecordCount => "number of data records (bytes 236 to 243)",
        EDFError::InvalidRecordDuration => "length of a data record (bytes 244 to 251)",
        EDFError::InvalidSignalCount => "number of signals (bytes 252 to 255)",
        EDFError::InvalidPhysicalRange => "range of a signal in its unit",
        EDFError::InvalidDigitalRange => "range of a signal in numbers",
        EDFError::InvalidSamplesCount => "number of samples of a signal in a record",
        EDFError::InvalidASCII | EDFError::IllegalCharacters => "text, which is not plain ASCII",
        EDFError::InvalidHeaderTAL | EDFError::MissingAnnotations => "times of the data records",
        other => return anyhow!("it is no EDF that can be read ({other:?})"),
    };
    anyhow!("its header does not say what it must: {what}")
}

impl Signal {
    fn of(signals: &[SignalHeader], column: Column) -> Result<Self> {
        let signal = &signals[column.at];
        let digital = f64::from(signal.digital_maximum) - f64::from(signal.digital_minimum);
        let slope = (signal.physical_maximum - signal.physical_minimum) / digital;
        if signal.is_annotation() || !slope.is_finite() || slope == 0.0 {
            bail!("signal {:?} has a range that makes no number", signal.label);
        }
        Ok(Self {
            at: signals[..column.at].iter().filter(|signal| !signal.is_annotation()).count(),
            digital_minimum: signal.digital_minimum.into(),
            physical_minimum: signal.physical_minimum,
            slope,
            factor: column.factor,
        })
    }

    fn take(&self, samples: &[Samples], to: &mut Vec<f64>) -> Result<()> {
        let physical = |sample: f64| {
            (self.physical_minimum + (sample - self.digital_minimum) * self.slope) * self.factor
        };
        to.clear();
        match samples.get(self.at) {
            Some(Samples::Values16Bit(samples)) => {
                to.extend(samples.iter().map(|sample| physical((*sample).into())));
            }
            Some(Samples::Values24Bit(samples)) => {
                to.extend(samples.iter().map(|sample| physical((*sample).into())));
            }
            None => bail!("a signal is missing"),
        }
        Ok(())
    }
}

impl Body for Signals {
    fn next(&mut self) -> Result<Option<Timed>> {
        if self.next == self.record.1.len() && !self.read()? {
            let missing = (self.records < self.promised).then_some(self.promised);
            self.promised = self.records;
            return Ok(missing.map(|promised| {
                Err(format!("it ends here, where its header promises {promised} records"))
            }));
        }
        let (from, flow, pressure) = &self.record;
        let at = self.next;
        self.next += 1;
        self.number += 1;
        let us = self.start + (from + at as f64 * self.interval).round() as i128;
        Ok(Some(reading(flow[at], pressure[at]).map(|reading| (us, reading))))
    }

    fn number(&self) -> u64 {
        self.number
    }

    fn columns(&self) -> &Columns {
        &self.columns
    }

    fn guessed(&self) -> Vec<String> {
        self.guessed.clone()
    }
}
