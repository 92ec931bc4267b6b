//! The settings that every check runs with: every part at work.

use tidevane::alarm::{Alarms, LimitAlarm, Limits};
use tidevane::mechanics::Fit;
use tidevane::monitor::{MachineSettings, Settings};
use tidevane::quantity::{Duration, Flow, Mass, Pressure, Rate, SettingError, Share, Volume};
use tidevane::trigger::{Threshold, TriggerKind};
use tidevane::volume::{Limiter, Proposal};
use tidevane_sim::demo;

/// A threshold, a limit, a target and limits of all that can be limited.
///
/// # Errors
/// None for these values; a constructor that changes says so here.
#[inline(never)]
pub fn settings() -> Result<Settings, SettingError> {
    let target = Volume::from_int(5);
    let start = machine(&demo::settings_at(&demo::shift(), 0.0))?;
    let builder = Settings::builder()
        .weight(Mass::from_grams(demo::WEIGHT_G)?)
        .limiter(Limiter::new(Volume::from_int(7), Duration::from_millis(20))?)
        .proposal(Proposal::new(
            target,
            Pressure::from_int(3),
            Pressure::from_int(22),
            Pressure::from_int(2),
            Share::from_percent(50),
        )?)
        .alarms(alarms()?)
        .fit(Fit::default().with_bend());
    changed(&builder.build()?, &start)
}

/// Limits of all that can be limited.
///
/// # Errors
/// As [`settings`].
pub fn alarms() -> Result<Alarms, SettingError> {
    let wait = Duration::from_millis(10_000);
    let volumes = Limits::new(Some(Volume::from_int(2)), Some(Volume::from_int(12)))?;
    let volume = LimitAlarm::new(volumes, wait, Volume::ZERO, false)?;
    let minute = Limits::new(Some(Volume::from_int(100)), Some(Volume::from_int(500)))?;
    let rates = Limits::new(Some(Rate::from_int(20)), Some(Rate::from_int(80)))?;
    let pressures = Limits::new(Some(Pressure::from_int(8)), Some(Pressure::from_int(25)))?;
    let leaks = Limits::new(None, Some(Share::from_percent(40)))?;
    Ok(Alarms {
        own_volume: volume,
        assured_volume: volume,
        minute_volume: LimitAlarm::new(minute, wait, Volume::ZERO, false)?,
        rate: LimitAlarm::new(rates, wait, Rate::ZERO, false)?,
        pressure: LimitAlarm::new(pressures, wait, Pressure::ZERO, false)?,
        leak: LimitAlarm::new(leaks, wait, Share::ZERO, false)?,
        ..Alarms::default()
    })
}

/// The settings after a change on the machine.
///
/// # Errors
/// One that no setting takes.
pub fn changed(settings: &Settings, set: &MachineSettings) -> Result<Settings, SettingError> {
    let mut builder = settings.change().support_peak(None);
    if let Some(threshold) = set.threshold {
        builder = builder.threshold(threshold);
    }
    if let Some(rate) = set.set_rate {
        builder = builder.set_rate(rate);
    }
    if let Some(peak) = set.peak {
        builder = builder.peak(peak);
    }
    if let Some(peak) = set.support_peak {
        builder = builder.support_peak(peak);
    }
    builder.build()
}

/// What the demo's machine is set to, each to the nearest thousandth below.
///
/// # Errors
/// A threshold that none can be.
pub fn machine(set: &demo::Dialled) -> Result<MachineSettings, SettingError> {
    let milli = |x: f64| (x * 1e3) as i32;
    let pressure = |x: f64| Pressure::from_milli(milli(x)).value;
    Ok(MachineSettings {
        trigger: TriggerKind::Flow,
        threshold: Some(Threshold::new(Flow::from_milli(milli(set.threshold)).value)?),
        set_rate: Some(Rate::from_milli(milli(set.set_rate)).value),
        peak: Some(pressure(set.peak)),
        support_peak: set.support_peak.map(pressure),
    })
}
