//! Reads recordings, line by line.

use anyhow::{Context, Result, anyhow, bail};
use csv::{ReaderBuilder, StringRecord};
use fixed::types::I16F16;
use indicatif::{ProgressBar, ProgressStyle};
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use tidevane::quantity::{Flow, Moment, Pressure};
use tidevane::signal::Reading;

/// How many bad lines are printed in full.
const BAD_LINES_SHOWN: u64 = 5;

/// A recording under way.
pub(crate) struct Recording {
    pub(crate) name: String,
    reader: csv::Reader<Box<dyn Read>>,
    columns: Columns,
    record: StringRecord,
    strict: bool,
    pub(crate) bad_lines: u64,
    progress: ProgressBar,
}

/// Where each column stands and what unit it is in.
#[derive(Debug, Clone, Copy)]
struct Columns {
    time: (usize, Time),
    flow: (usize, FlowUnit),
    pressure: (usize, PressureUnit),
}

#[derive(Debug, Clone, Copy)]
enum Time {
    Micros,
    Seconds,
}

#[derive(Debug, Clone, Copy)]
enum FlowUnit {
    MlPerS,
    LPerMin,
}

#[derive(Debug, Clone, Copy)]
enum PressureUnit {
    CmH2O,
    Hpa,
}

/// One line: a reading, or one that could not be read.
pub(crate) enum Line {
    Good(Moment, Reading),
    Bad,
}

impl Recording {
    /// Opens a file, or standard input for `-`, and reads its header.
    pub(crate) fn open(path: &Path, strict: bool) -> Result<Self> {
        let name = if path.as_os_str() == "-" {
            "standard input".into()
        } else {
            path.display().to_string()
        };
        let (input, length): (Box<dyn Read>, _) = if path.as_os_str() == "-" {
            (Box::new(io::stdin()), None)
        } else {
            let file = File::open(path).with_context(|| format!("cannot open {name}"))?;
            let meta = file.metadata().with_context(|| format!("cannot open {name}"))?;
            if meta.is_dir() {
                bail!("{name} is a folder, not a recording");
            }
            (Box::new(file), meta.is_file().then_some(meta.len()))
        };
        let progress = progress(length);
        let input: Box<dyn Read> = Box::new(progress.wrap_read(input));
        let mut reader =
            ReaderBuilder::new().flexible(true).trim(csv::Trim::All).from_reader(input);
        let headers = reader.headers().with_context(|| format!("{name}:1"))?;
        if headers.is_empty() {
            bail!("{name} is empty");
        }
        let columns = columns(headers).with_context(|| format!("{name}:1"))?;
        Ok(Self {
            name,
            reader,
            columns,
            record: StringRecord::new(),
            strict,
            bad_lines: 0,
            progress,
        })
    }

    /// The next line; `None` at the end.
    pub(crate) fn next(&mut self) -> Result<Option<Line>> {
        let read = self.reader.read_record(&mut self.record);
        let line = self.record.position().map_or(0, csv::Position::line);
        let parsed = match read {
            Ok(false) => {
                self.progress.finish_and_clear();
                return Ok(None);
            }
            Ok(true) => self.columns.parse(&self.record),
            Err(e) if matches!(e.kind(), csv::ErrorKind::Utf8 { .. }) => Err(anyhow!("not text")),
            Err(e) => return Err(e).with_context(|| format!("cannot read {}", self.name)),
        };
        match parsed {
            Ok((at, reading)) => Ok(Some(Line::Good(at, reading))),
            Err(reason) if self.strict => Err(reason.context(format!("{}:{line}", self.name))),
            Err(reason) => {
                self.bad_lines += 1;
                if self.bad_lines <= BAD_LINES_SHOWN {
                    let name = &self.name;
                    self.progress.suspend(|| eprintln!("{name}:{line}: {reason}; taken as a gap"));
                }
                Ok(Some(Line::Bad))
            }
        }
    }
}

fn progress(length: Option<u64>) -> ProgressBar {
    // indicatif draws on standard error, and only where that is a terminal.
    let Some(length) = length else { return ProgressBar::hidden() };
    let style =
        ProgressStyle::with_template("{bar:30} {percent:>3} % of {total_bytes}, {eta} left");
    ProgressBar::new(length).with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()))
}

fn columns(headers: &StringRecord) -> Result<Columns> {
    let (mut time, mut flow, mut pressure) = (None, None, None);
    for (i, header) in headers.iter().enumerate() {
        let taken = match header.trim_start_matches('\u{feff}') {
            "t_us" => time.replace((i, Time::Micros)).is_some(),
            "t_s" => time.replace((i, Time::Seconds)).is_some(),
            "flow_ml_per_s" => flow.replace((i, FlowUnit::MlPerS)).is_some(),
            "flow_l_per_min" => flow.replace((i, FlowUnit::LPerMin)).is_some(),
            "paw_cmH2O" => pressure.replace((i, PressureUnit::CmH2O)).is_some(),
            "paw_hpa" => pressure.replace((i, PressureUnit::Hpa)).is_some(),
            _ => false,
        };
        if taken {
            bail!("column {header} gives what another column gives already");
        }
    }
    match (time, flow, pressure) {
        (Some(time), Some(flow), Some(pressure)) => Ok(Columns { time, flow, pressure }),
        _ => bail!(
            "the header must name t_us (or t_s), flow_ml_per_s (or flow_l_per_min) and paw_cmH2O \
             (or paw_hpa); it reads \"{}\"",
            headers.iter().collect::<Vec<_>>().join(",")
        ),
    }
}

impl Columns {
    fn parse(&self, record: &StringRecord) -> Result<(Moment, Reading)> {
        let cell = |i: usize| {
            let text = record.get(i).ok_or_else(|| anyhow!("only {} cells", record.len()))?;
            if text.is_empty() { bail!("cell {} is empty", i + 1) } else { Ok(text) }
        };
        let at = match self.time {
            (i, Time::Micros) => micros(cell(i)?, 1.0)?,
            (i, Time::Seconds) => micros(cell(i)?, 1e6)?,
        };
        let value = |i: usize| number(cell(i)?);
        let flow = match self.flow {
            (i, FlowUnit::MlPerS) => Some(Flow::new(value(i)?)),
            (i, FlowUnit::LPerMin) => Flow::from_l_per_min(value(i)?).within(),
        };
        let pressure = match self.pressure {
            (i, PressureUnit::CmH2O) => Some(Pressure::new(value(i)?)),
            (i, PressureUnit::Hpa) => Pressure::from_hpa(value(i)?).within(),
        };
        match (flow, pressure) {
            (Some(flow), Some(pressure)) => Ok((at, Reading { flow, pressure })),
            _ => bail!("a value is out of range"),
        }
    }
}

fn micros(text: &str, scale: f64) -> Result<Moment> {
    if scale == 1.0
        && let Ok(us) = text.parse()
    {
        return Ok(Moment::from_us(us));
    }
    let us = text.parse::<f64>().map_err(|_| anyhow!("time \"{text}\" is not a number"))? * scale;
    // 2^53 µs are 285 years: beyond, microseconds are no longer exact.
    if !(0.0..=9_007_199_254_740_992.0).contains(&us) {
        bail!("time \"{text}\" is out of range");
    }
    Ok(Moment::from_us(us.round() as u64))
}

/// A decimal number, rounded to the nearest 1/65 536.
fn number(text: &str) -> Result<I16F16> {
    if let Ok(value) = text.parse::<I16F16>() {
        return Ok(value);
    }
    let value: f64 = text.parse().map_err(|_| anyhow!("\"{text}\" is not a number"))?;
    if value.is_nan() {
        bail!("\"{text}\" is not a number");
    }
    I16F16::checked_from_num(value).ok_or_else(|| anyhow!("\"{text}\" is out of range"))
}
