//! Alarm limits from the settings file.

use super::number::{Spelled, between, number, span};
use anyhow::Result;
use serde::Deserialize;
use tidevane::alarm::{Alarms, Apnoea, LimitAlarm, Limits, Measured, SensorAlarm};
use tidevane::quantity::{Duration, Pressure, Rate, Share, Volume};

/// The table `[alarms]`; every entry is optional.
#[derive(Debug, Default, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
#[expect(non_snake_case, reason = "entries are spelled with their unit")]
pub(super) struct AlarmFile {
    apnoea_s: Option<f64>,
    sensor_fault_s: Option<f64>,
    no_input_s: Option<f64>,
    delay_s: Option<f64>,
    own_volume_low_ml: Option<f64>,
    supported_volume_low_ml: Option<f64>,
    inflation_volume_low_ml: Option<f64>,
    inflation_volume_high_ml: Option<f64>,
    minute_volume_low_ml: Option<f64>,
    minute_volume_high_ml: Option<f64>,
    rate_low: Option<f64>,
    rate_high: Option<f64>,
    peak_low_cmH2O: Option<f64>,
    peak_high_cmH2O: Option<f64>,
    leak_high_percent: Option<f64>,
}

impl AlarmFile {
    /// Limits as they might stand beside the demo shift's infant.
    pub(super) fn of_demo() -> Self {
        Self {
            delay_s: Some(30.0),
            minute_volume_low_ml: Some(150.0),
            rate_high: Some(70.0),
            leak_high_percent: Some(45.0),
            ..Self::default()
        }
    }

    /// Whether any limit is set.
    pub(super) fn has_limits(&self) -> bool {
        self.limits().iter().any(|(limit, ..)| limit.is_some())
    }

    /// Each limit with its words.
    fn limits(&self) -> [(Option<f64>, &'static str, &'static str); 11] {
        [
            (self.own_volume_low_ml, "own volume under", "mL"),
            (self.supported_volume_low_ml, "supported volume under", "mL"),
            (self.inflation_volume_low_ml, "assured volume under", "mL"),
            (self.inflation_volume_high_ml, "assured volume over", "mL"),
            (self.minute_volume_low_ml, "minute volume under", "mL"),
            (self.minute_volume_high_ml, "minute volume over", "mL"),
            (self.rate_low, "rate under", "/min"),
            (self.rate_high, "rate over", "/min"),
            (self.peak_low_cmH2O, "peak under", "cmH2O"),
            (self.peak_high_cmH2O, "peak over", "cmH2O"),
            (self.leak_high_percent, "leak over", "%"),
        ]
    }

    /// What is set, in words.
    pub(super) fn words(&self) -> Vec<String> {
        let delay = self.delay_s.unwrap_or(10.0);
        let mut words: Vec<_> = self
            .limits()
            .iter()
            .filter_map(|(limit, what, unit)| Some(format!("{what} {} {unit}", (*limit)?)))
            .collect();
        if !words.is_empty() {
            words.push(format!("each after {delay} s"));
        }
        words.push(format!("apnoea after {} s", self.apnoea_s.unwrap_or(20.0)));
        words.push("disconnection".into());
        words.push(format!("sensor fault after {} s", self.sensor_fault_s.unwrap_or(2.0)));
        words.push(format!("no input after {} s", self.no_input_s.unwrap_or(10.0)));
        words
    }

    /// The alarms: what is not named has no limit.
    pub(super) fn alarms(&self) -> Result<Alarms> {
        let delay = span("delay_s", self.delay_s.unwrap_or(10.0))?;
        let volume = |name, low, high| {
            let ml = |v| Ok(Volume::new(number(name, v)?));
            limit(name, delay, Volume::from_milli(100).value, pair(low, high, ml)?)
        };
        let rate = pair(self.rate_low, self.rate_high, |v| Ok(Rate::new(number("rate", v)?)))?;
        let peak = pair(self.peak_low_cmH2O, self.peak_high_cmH2O, |v| {
            Ok(Pressure::new(number("peak", v)?))
        })?;
        let leak = pair(None, self.leak_high_percent, |v| {
            between("leak_high_percent", v, 0.0, false, 100.0)?;
            Ok(Share::new(number("leak_high_percent", v / 100.0)?))
        })?;
        let own = volume("own_volume", self.own_volume_low_ml, None)?;
        let supported = volume("supported_volume", self.supported_volume_low_ml, None)?;
        let inflation = volume(
            "inflation_volume",
            self.inflation_volume_low_ml,
            self.inflation_volume_high_ml,
        )?;
        let minute =
            volume("minute_volume", self.minute_volume_low_ml, self.minute_volume_high_ml)?;
        let sensor = SensorAlarm::new(
            span("sensor_fault_s", self.sensor_fault_s.unwrap_or(2.0))?,
            span("no_input_s", self.no_input_s.unwrap_or(10.0))?,
        );
        let sensor = sensor.spelled(&[("fault", "sensor_fault_s"), ("no_input", "no_input_s")])?;
        Ok(Alarms {
            sensor,
            apnoea: Apnoea::new(span("apnoea_s", self.apnoea_s.unwrap_or(20.0))?, false)
                .spelled(&[("after", "apnoea_s")])?,
            own_volume: own,
            supported_volume: supported,
            assured_volume: inflation,
            minute_volume: minute,
            rate: limit("rate", delay, Rate::from_int(2), rate)?,
            pressure: limit("peak", delay, Pressure::from_milli(500).value, peak)?,
            leak: limit("leak", delay, Share::from_percent(2), leak)?,
            ..Alarms::default()
        })
    }
}

type Pair<Q> = (Option<Q>, Option<Q>);

fn pair<Q>(low: Option<f64>, high: Option<f64>, to: impl Fn(f64) -> Result<Q>) -> Result<Pair<Q>> {
    Ok((low.map(&to).transpose()?, high.map(&to).transpose()?))
}

fn limit<Q: Measured>(
    name: &str,
    delay: Duration,
    hysteresis: Q,
    (low, high): Pair<Q>,
) -> Result<LimitAlarm<Q>> {
    if low.is_none() && high.is_none() {
        return Ok(LimitAlarm::NONE);
    }
    let limits = Limits::new(low, high)
        .spelled(&[("low", &*format!("{name}_low")), ("high", &*format!("{name}_high"))])?;
    LimitAlarm::new(limits, delay, hysteresis, false).spelled(&[("delay", "delay_s")])
}
