//! Recordings in the WFDB format: a header of text, and files of samples beside it.

use super::columns::{Columns, Label, reading};
use super::guarded::guarded;
use super::layout::Layout;
use super::rows::{Body, Timed};
use super::start;
use anyhow::{Context, Result, anyhow, bail};
use std::fs::File;
use std::io::BufReader;
use std::path::{Component, Path};
use wfdb::{Header, MultiSignalReader, SignalFormat, SignalInfo};

/// A sample that its writer marked as none.
const NO_SAMPLE: i32 = i32::MIN;

/// A record under way.
pub(crate) struct Record {
    reader: MultiSignalReader,
    columns: Columns,
    guessed: Vec<String>,
    /// Of flow and pressure: the value at 0 and the samples a unit.
    flow: (f64, f64),
    pressure: (f64, f64),
    /// When it began, in microseconds, and those from frame to frame.
    start: i128,
    interval: f64,
    /// How many frames the header promises.
    promised: Option<u64>,
    number: u64,
    ended: bool,
}

impl Record {
    pub(crate) fn open(path: &Path, layout: &Layout, name: &str) -> Result<Self> {
        let file = File::open(path).with_context(|| format!("cannot open {name}"))?;
        let open = || {
            let header = Header::from_reader(&mut BufReader::new(file));
            Self::of(header.map_err(|error| anyhow!("{error}"))?, path, layout)
        };
        guarded(open).with_context(|| name.to_owned())
    }

    fn of(header: Header, path: &Path, layout: &Layout) -> Result<Self> {
        let Some(signals) = header.signals().filter(|signals| !signals.is_empty()) else {
            bail!("it has no signals of its own; give one of its segments");
        };
        let folder = path.parent().unwrap_or(Path::new(".")).to_path_buf();
        for signal in signals {
            check(signal)?;
            if !folder.join(signal.file_name()).is_file() {
                bail!(
                    "its samples should stand in {:?} beside it, which is missing",
                    signal.file_name()
                );
            }
        }
        let hz = header.metadata().sampling_frequency();
        if !(hz.is_finite() && hz > 0.0) {
            bail!("its rate of {hz} samples a second is none");
        }
        let label = |signal: &SignalInfo| Label {
            name: signal.description().unwrap_or_default().into(),
            unit: signal.units.clone(),
        };
        let labels: Vec<_> = signals.iter().map(label).collect();
        let columns = Columns::find(&labels, layout, Some(1e6 / hz)).map_err(|why| anyhow!(why))?;
        let scale = |at: usize| (f64::from(signals[at].baseline()), signals[at].adc_gain());
        let (flow, pressure) = (scale(columns.flow.at), scale(columns.pressure.at));
        let metadata = header.metadata();
        let promised = metadata.num_samples();
        let began = metadata.base_date().zip(metadata.base_time());
        let began = began.map(|(date, time)| format!("{date}T{time}"));
        let (start, unzoned) =
            began.map_or((0, None), |began| start::of(&began, layout.zone.as_ref()));
        let whole = frames(signals, &folder);
        let more = whole.zip(promised).filter(|(whole, promised)| whole > promised);
        let more = more.map(|(whole, promised)| {
            format!("{whole} samples where its header promises {promised}")
        });
        let guessed = columns.guessed.iter().cloned().chain(more).chain(unzoned).collect();
        let reader = wfdb::Record::from_header(header, folder).multi_signal_reader();
        Ok(Self {
            reader: reader.map_err(|error| anyhow!("{error}"))?,
            columns,
            guessed,
            flow,
            pressure,
            start,
            interval: 1e6 / hz,
            promised,
            number: 0,
            ended: false,
        })
    }
}

/// How many whole frames the first file holds, `None` where that cannot be told. In format 212 the last sample may stand
/// alone in the place of two.
fn frames(signals: &[SignalInfo], folder: &Path) -> Option<u64> {
    let name = signals.first()?.file_name();
    let bits = |signal: &SignalInfo| match signal.format() {
        SignalFormat::Format16 => Some(16),
        SignalFormat::Format24 => Some(24),
        SignalFormat::Format32 => Some(32),
        SignalFormat::Format212 => Some(12),
        _ => None,
    };
    let beside = || signals.iter().filter(|signal| signal.file_name() == name);
    let frame = beside().map(bits).sum::<Option<u64>>()?;
    let alone = if beside().any(|s| s.format() == SignalFormat::Format212) { 12 } else { 0 };
    let held = 8 * folder.join(name).metadata().ok()?.len();
    Some(held.saturating_sub(alone) / frame)
}

/// What the reader does not check: files outside of the folder, and what it reads otherwise than it
/// is meant.
fn check(signal: &SignalInfo) -> Result<()> {
    let file = Path::new(signal.file_name());
    let mut parts = file.components();
    let plain = matches!((parts.next(), parts.next()), (Some(Component::Normal(_)), None));
    if !plain || signal.file_name() == "-" || signal.file_name().contains(['/', '\\']) {
        bail!("its header names {:?}, which is no file beside it", signal.file_name());
    }
    let known = [
        SignalFormat::Format16,
        SignalFormat::Format24,
        SignalFormat::Format32,
        SignalFormat::Format212,
    ];
    if !known.contains(&signal.format()) {
        bail!("samples in {:?} are not read, only in formats 16, 24, 32 and 212", signal.format());
    }
    if signal.samples_per_frame() != 1 || signal.skew() != 0 {
        bail!("signals of unlike rates, or shifted against each other, are not read");
    }
    let gain = signal.adc_gain();
    if !(gain.is_finite() && gain != 0.0) {
        bail!("a gain of {gain} makes no number");
    }
    Ok(())
}

impl Body for Record {
    fn next(&mut self) -> Result<Option<Timed>> {
        if self.ended {
            return Ok(None);
        }
        let reader = &mut self.reader;
        let frame = guarded(|| reader.read_frame().map_err(|error| anyhow!("{error}")));
        let frame = frame.with_context(|| format!("after sample {}", self.number))?;
        let (Some(&flow), Some(&pressure)) =
            (frame.get(self.columns.flow.at), frame.get(self.columns.pressure.at))
        else {
            self.ended = true;
            let missing = self.promised.filter(|promised| self.number < *promised);
            return Ok(missing.map(|promised| {
                Err(format!("it ends here, where its header promises {promised} samples"))
            }));
        };
        let us = self.start + (self.number as f64 * self.interval).round() as i128;
        self.number += 1;
        if flow == NO_SAMPLE || pressure == NO_SAMPLE {
            return Ok(Some(Err("marked as no sample".into())));
        }
        let value = |sample: i32, (baseline, gain): (f64, f64), factor: f64| {
            (f64::from(sample) - baseline) / gain * factor
        };
        let flow = value(flow, self.flow, self.columns.flow.factor);
        let pressure = value(pressure, self.pressure, self.columns.pressure.factor);
        Ok(Some(reading(flow, pressure).map(|reading| (us, reading))))
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
