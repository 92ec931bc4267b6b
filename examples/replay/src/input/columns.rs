//! What the header says of each column, and what a line then holds.

use crate::input::cells::Record;
use crate::text::quoted;
use fixed::types::I16F16;
use tidevane::quantity::{Flow, Pressure};
use tidevane::signal::Reading;

/// Where each column stands and what unit it is in.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Columns {
    pub(crate) count: usize,
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

impl Columns {
    /// From the header.
    pub(crate) fn of(header: Record<'_>) -> Result<Self, String> {
        let (mut time, mut flow, mut pressure) = (None, None, None);
        for (i, name) in header.iter().enumerate() {
            let taken = match name {
                "t_us" => time.replace((i, Time::Micros)).is_some(),
                "t_s" => time.replace((i, Time::Seconds)).is_some(),
                "flow_ml_per_s" => flow.replace((i, FlowUnit::MlPerS)).is_some(),
                "flow_l_per_min" => flow.replace((i, FlowUnit::LPerMin)).is_some(),
                "paw_cmH2O" => pressure.replace((i, PressureUnit::CmH2O)).is_some(),
                "paw_hpa" => pressure.replace((i, PressureUnit::Hpa)).is_some(),
                _ => false,
            };
            if taken {
                return Err(format!("column {name} gives what another column gives already"));
            }
        }
        match (time, flow, pressure) {
            (Some(time), Some(flow), Some(pressure)) => {
                Ok(Self { count: header.len(), time, flow, pressure })
            }
            _ => Err(format!(
                "the header must name t_us (or t_s), flow_ml_per_s (or flow_l_per_min) and \
                 paw_cmH2O (or paw_hpa); it reads {}",
                quoted(&header.iter().collect::<Vec<_>>().join(","))
            )),
        }
    }

    /// The time in microseconds and the reading of a line.
    pub(crate) fn parse(&self, line: Record<'_>) -> Result<(i128, Reading), String> {
        match line.len() {
            fewer if fewer < self.count => {
                return Err(format!("only {fewer} cells where the header has {}", self.count));
            }
            more if more > self.count => {
                return Err(format!("{more} cells where the header has {}", self.count));
            }
            _ => {}
        }
        let cell = |i: usize| match line.get(i) {
            None | Some("") => Err(format!("cell {} is empty", i + 1)),
            Some(text) => Ok(text),
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
            _ => Err("a value is out of range".into()),
        }
    }
}

fn micros(text: &str, scale: f64) -> Result<i128, String> {
    if scale == 1.0
        && let Ok(us) = text.parse::<i64>()
    {
        return Ok(us.into());
    }
    if scale == 1.0
        && let Ok(us) = text.parse::<u64>()
    {
        return Ok(us.into());
    }
    let not_one = || format!("time {} is not a number", quoted(text));
    let us = text.parse::<f64>().map_err(|_| not_one())? * scale;
    if us.is_nan() {
        return Err(not_one());
    }
    // 2^53 µs are 285 years: beyond, microseconds are no longer exact.
    if us.abs() > 9_007_199_254_740_992.0 {
        return Err(format!("time {} is out of range", quoted(text)));
    }
    Ok(us.round() as i128)
}

/// A decimal number, rounded to the nearest 1/65 536.
fn number(text: &str) -> Result<I16F16, String> {
    if let Ok(value) = text.parse::<I16F16>() {
        return Ok(value);
    }
    let not_one = || format!("{} is not a number", quoted(text));
    let value: f64 = text.parse().map_err(|_| not_one())?;
    if value.is_nan() {
        return Err(not_one());
    }
    I16F16::checked_from_num(value).ok_or_else(|| format!("{} is out of range", quoted(text)))
}
