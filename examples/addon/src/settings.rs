//! What this infant and this machine are set to. On a device they come from a settings page.

use tidevane::alarm::{Alarms, LimitAlarm, Limits};
use tidevane::monitor::Settings;
use tidevane::quantity::{Duration, Flow, Mass, Rate, SettingError, Share, Volume};
use tidevane::trigger::Threshold;

/// Time between samples, µs.
pub const PERIOD_US: u32 = 10_000;

/// Alarms for an infant of about a kilogram: an example, not a recommendation.
///
/// # Errors
/// Names the limit that does not fit.
pub fn alarms() -> Result<Alarms, SettingError> {
    let delay = Duration::from_millis(10_000);
    let volume = Limits::new(Some(Volume::from_int(2)), None)?;
    let leak = Limits::new(None, Some(Share::from_percent(40)))?;
    Ok(Alarms {
        own_volume: LimitAlarm::new(volume, delay, Volume::ZERO, false)?,
        leak: LimitAlarm::new(leak, delay, Share::ZERO, false)?,
        ..Alarms::default()
    })
}

/// All settings.
///
/// # Errors
/// Names the setting that does not fit.
pub fn settings(alarms: Alarms) -> Result<Settings, SettingError> {
    Settings::builder()
        .weight(Mass::from_grams(980)?)
        .threshold(Threshold::new(Flow::from_milli_l_per_min(120).value)?)
        .set_rate(Rate::from_int(40))
        .alarms(alarms)
        .build()
}
