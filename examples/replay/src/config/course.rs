//! What was changed along the way, and what another monitor showed: from the settings file or the
//! demo shift.

use super::number::{Spelled, between, number};
use anyhow::{Context, Result, bail};
use serde::Deserialize;
use std::collections::VecDeque;
use tidevane::alarm::VitalSigns;
use tidevane::monitor::{Settings, SettingsBuilder};
use tidevane::quantity::{Flow, Pressure, Rate};
use tidevane::trigger::Threshold;
use tidevane_sim::{Scenario, demo};

/// One entry of `[[changes]]`: what is not named stays as it is.
#[derive(Debug, Default, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
#[expect(non_snake_case, reason = "entries are spelled with their unit")]
pub(crate) struct Change {
    /// Seconds from the start of the recording.
    pub(crate) at_s: f64,
    threshold_lpm: Option<f64>,
    set_rate: Option<f64>,
    peak_cmH2O: Option<f64>,
    /// 0 for no support.
    support_peak_cmH2O: Option<f64>,
    heart_rate: Option<u16>,
    saturation_percent: Option<u8>,
}

/// What the core calls the settings of the machine, and how they are written.
pub(super) const WRITTEN: [(&str, &str); 5] = [
    ("threshold", "threshold_lpm"),
    ("peak", "peak_cmH2O"),
    ("support_peak", "support_peak_cmH2O"),
    ("flow_offset", "flow_offset_ml_per_s"),
    ("limit", "limit_ml"),
];

/// With support to this peak; 0 for none.
pub(super) fn support(builder: SettingsBuilder, peak: f64) -> Result<SettingsBuilder> {
    if peak == 0.0 {
        return Ok(builder.support_peak(None));
    }
    Ok(builder.support_peak(Pressure::new(number("support_peak_cmH2O", peak)?)))
}

/// The changes still to come, in order.
#[derive(Debug, Default)]
pub(crate) struct Course {
    coming: VecDeque<Change>,
}

impl Course {
    /// Changes from a file; their times must rise.
    pub(crate) fn of_file(changes: Vec<Change>) -> Result<Self> {
        for (i, change) in changes.iter().enumerate() {
            if !change.at_s.is_finite() || change.at_s < 0.0 {
                bail!("changes: entry {} has no time in seconds from the start", i + 1);
            }
        }
        if let Some(i) = changes.windows(2).position(|pair| pair[1].at_s <= pair[0].at_s) {
            bail!("changes: the time of entry {} is not later than that of the one before", i + 2);
        }
        if let Some(i) = changes.iter().position(Change::is_empty) {
            bail!("changes: entry {} changes nothing", i + 1);
        }
        Ok(Self { coming: changes.into() })
    }

    /// The demo shift, looked at once a second.
    pub(crate) fn of_demo(shift: &Scenario) -> Self {
        let at = |s: u32| (demo::settings_at(shift, s.into()), demo::signs_at(s.into()));
        let mut last = None;
        let mut coming = VecDeque::new();
        for second in 0..demo::DURATION_S {
            let (set, signs) = at(second);
            let before = last.replace((set, signs));
            if before == Some((set, signs)) {
                continue;
            }
            let machine = before.is_none_or(|(before, _)| before != set);
            coming.push_back(Change {
                at_s: second.into(),
                threshold_lpm: machine.then_some(set.threshold * 0.06),
                set_rate: machine.then_some(set.set_rate),
                peak_cmH2O: machine.then_some(set.peak),
                support_peak_cmH2O: machine.then_some(set.support_peak.unwrap_or(0.0)),
                heart_rate: Some(signs.0),
                saturation_percent: Some(signs.1),
            });
        }
        Self { coming }
    }

    /// How many are still to come.
    pub(crate) fn left(&self) -> usize {
        self.coming.len()
    }

    /// The next change that is due at a time in seconds.
    pub(crate) fn due(&mut self, seconds: f64) -> Option<Change> {
        if self.coming.front()?.at_s > seconds {
            return None;
        }
        self.coming.pop_front()
    }
}

impl Change {
    fn is_empty(&self) -> bool {
        let machine = [self.threshold_lpm, self.set_rate, self.peak_cmH2O, self.support_peak_cmH2O];
        machine.iter().all(Option::is_none)
            && self.heart_rate.is_none()
            && self.saturation_percent.is_none()
    }

    /// The settings with this change.
    pub(crate) fn apply(&self, settings: &Settings) -> Result<Settings> {
        let context = || format!("changes: the entry at {} s", self.at_s);
        self.settings(settings).with_context(context)
    }

    fn settings(&self, settings: &Settings) -> Result<Settings> {
        // What no other monitor shows: chosen here, no source.
        if let Some(rate) = self.heart_rate {
            between("heart_rate", rate.into(), 20.0, true, 350.0)?;
        }
        if let Some(percent) = self.saturation_percent {
            between("saturation_percent", percent.into(), 0.0, true, 100.0)?;
        }
        let mut builder = settings.change();
        if let Some(lpm) = self.threshold_lpm {
            let flow = Flow::from_l_per_min(number("threshold_lpm", lpm)?);
            builder = builder.threshold(Threshold::new(flow.value).spelled(&WRITTEN)?);
        }
        if let Some(rate) = self.set_rate {
            builder = builder.set_rate(Rate::new(number("set_rate", rate)?));
        }
        if let Some(peak) = self.peak_cmH2O {
            builder = builder.peak(Pressure::new(number("peak_cmH2O", peak)?));
        }
        if let Some(peak) = self.support_peak_cmH2O {
            builder = support(builder, peak)?;
        }
        builder.build().spelled(&WRITTEN)
    }

    /// What the other monitor shows from here on, where the entry tells.
    pub(crate) fn signs(&self, before: VitalSigns) -> VitalSigns {
        VitalSigns {
            heart_rate: self.heart_rate.or(before.heart_rate),
            saturation: self.saturation_percent.or(before.saturation),
        }
    }
}
