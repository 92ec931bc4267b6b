//! What was changed along the way, and what another monitor showed: from the settings file or the
//! demo shift.

use super::number::number;
use anyhow::{Context, Result, bail};
use serde::Deserialize;
use std::collections::VecDeque;
use tidevane::alarm::Signs;
use tidevane::monitor::Settings;
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

    /// The next change that is due at a time in seconds.
    pub(crate) fn due(&mut self, seconds: f64) -> Option<Change> {
        if self.coming.front()?.at_s > seconds {
            return None;
        }
        self.coming.pop_front()
    }
}

impl Change {
    /// The settings with this change.
    pub(crate) fn apply(&self, settings: &Settings) -> Result<Settings> {
        let context = || format!("changes: the entry at {} s", self.at_s);
        self.settings(settings).with_context(context)
    }

    fn settings(&self, settings: &Settings) -> Result<Settings> {
        let mut builder = settings.change();
        if let Some(lpm) = self.threshold_lpm {
            let flow = Flow::from_l_per_min(number("threshold_lpm", lpm)?);
            builder = builder.threshold(Threshold::new(flow.value)?);
        }
        if let Some(rate) = self.set_rate {
            builder = builder.set_rate(Rate::new(number("set_rate", rate)?));
        }
        if let Some(peak) = self.peak_cmH2O {
            builder = builder.peak(Pressure::new(number("peak_cmH2O", peak)?));
        }
        builder = match self.support_peak_cmH2O {
            Some(0.0) => builder.no_support(),
            Some(peak) => builder.support_peak(Pressure::new(number("support_peak_cmH2O", peak)?)),
            None => builder,
        };
        Ok(builder.build()?)
    }

    /// What the other monitor shows from here on, where the entry tells.
    pub(crate) fn signs(&self, before: Signs) -> Signs {
        Signs {
            heart_rate: self.heart_rate.or(before.heart_rate),
            saturation: self.saturation_percent.or(before.saturation),
        }
    }
}
