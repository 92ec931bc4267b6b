//! The settings that every check runs with: every part at work.

use tidevane::alarm::{Alarms, BreathKind, LimitAlarm, Limits};
use tidevane::monitor::Settings;
use tidevane::quantity::{Flow, Mass, Pressure, Rate, SettingError, Share, Span, Volume};
use tidevane::sim::demo;
use tidevane::trigger::Threshold;
use tidevane::volume::{Limiter, Proposal};

/// A threshold, a limit, a target and limits of all that can be limited.
///
/// # Errors
/// None for these values; a constructor that changes says so here.
pub fn settings() -> Result<Settings, SettingError> {
    let target = Volume::from_int(5);
    let (threshold, rate) = demo::settings_at(0.0);
    Settings::builder()
        .weight(Mass::from_grams(demo::WEIGHT_G)?)
        .threshold(Threshold::new(flow(threshold))?)
        .set_rate(self::rate(rate))
        .limiter(Limiter::new(Volume::from_int(7), Span::from_millis(20))?)
        .proposal(Proposal::new(
            target,
            Pressure::from_int(3),
            Pressure::from_int(22),
            Pressure::from_int(2),
            Share::from_percent(50),
        )?)
        .alarms(alarms()?)
        .build()
}

/// Limits of all that can be limited.
///
/// # Errors
/// As [`settings`].
pub fn alarms() -> Result<Alarms, SettingError> {
    let wait = Span::from_millis(10_000);
    let volumes = Limits::new(Some(Volume::from_int(2)), Some(Volume::from_int(12)))?;
    let volume = LimitAlarm::new(volumes, wait, Volume::ZERO, false)?;
    let minute = Limits::new(Some(Volume::from_int(100)), Some(Volume::from_int(500)))?;
    let rates = Limits::new(Some(Rate::from_int(20)), Some(Rate::from_int(80)))?;
    let pressures = Limits::new(Some(Pressure::from_int(8)), Some(Pressure::from_int(25)))?;
    let leaks = Limits::new(None, Some(Share::from_percent(40)))?;
    Ok(Alarms::default()
        .with_volume(BreathKind::Own, volume)
        .with_volume(BreathKind::Assured, volume)
        .with_minute_volume(LimitAlarm::new(minute, wait, Volume::ZERO, false)?)
        .with_rate(LimitAlarm::new(rates, wait, Rate::ZERO, false)?)
        .with_pressure(LimitAlarm::new(pressures, wait, Pressure::ZERO, false)?)
        .with_leak(LimitAlarm::new(leaks, wait, Share::ZERO, false)?))
}

/// The settings after a change on the machine.
///
/// # Errors
/// A threshold or a rate that no setting takes.
pub fn changed(settings: &Settings, threshold: Flow, rate: Rate) -> Result<Settings, SettingError> {
    settings.change().threshold(Threshold::new(threshold)?).set_rate(rate).build()
}

/// mL/s, to the nearest thousandth below.
pub(crate) fn flow(ml_per_s: f64) -> Flow {
    Flow::from_milli((ml_per_s * 1e3) as i32).value
}

/// Per minute, to the nearest thousandth below.
pub(crate) fn rate(per_minute: f64) -> Rate {
    Rate::from_milli((per_minute * 1e3) as i32).value
}
