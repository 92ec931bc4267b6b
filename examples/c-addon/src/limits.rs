//! Limits of an alarm.

use crate::checks::{bits, ms, named, on, scaled, set, share};
use tidevane::alarm::{LimitAlarm, Limits, Measured};
use tidevane::quantity::{Duration, SettingError, Share};

/// Limits of an alarm in its unit times 65 536 (`TV_Q16`): mL for the three volumes, mL a minute for
/// `TV_MINUTE_VOLUME`, breaths a minute for `TV_RATE`, cmH2O for `TV_PRESSURE`, a share of 1 for `TV_LEAK` (0.4 is 40 %).
/// A number that was not scaled is refused: 0 or at least 0.1 of its unit, and for the leak at most 1.
#[repr(C)]
#[derive(Debug, Clone, Copy)]
pub struct TvLimits {
    /// Below it rings; `TV_UNSET` for none (default none).
    pub low_q16: i32,
    /// Above it rings; `TV_UNSET` for none (default none).
    pub high_q16: i32,
    /// How far inside a value must stand to end it (default 0).
    pub hysteresis_q16: i32,
    /// How long a violation must last, up to 600,000 ms (default 0). A value that is not known for as long rings as
    /// `TV_ALARM_CANNOT_KNOW`: with 0 every flagged breath does so, the one that `tv_finish` cuts among them, and rate
    /// and minute volume until eight breaths were heard.
    pub delay_ms: u32,
    /// 1 where it rings until it is acknowledged and over, 0 where it ends by itself (default 0).
    pub latching: u32,
}

macro_rules! of_limits {
    ($($place:literal)*) => {
        [$([
            ("low", concat!("limits[", $place, "].low_q16")),
            ("high", concat!("limits[", $place, "].high_q16")),
            ("delay", concat!("limits[", $place, "].delay_ms")),
            ("hysteresis", concat!("limits[", $place, "].hysteresis_q16")),
            ("latching", concat!("limits[", $place, "].latching")),
        ]),*]
    };
}
pub(crate) type Fields = [(&'static str, &'static str); 5];
pub(crate) const LIMITS: [Fields; 7] = of_limits!(
    "TV_VOLUME_OWN" "TV_VOLUME_SUPPORTED" "TV_VOLUME_ASSURED" "TV_MINUTE_VOLUME" "TV_RATE" "TV_PRESSURE" "TV_LEAK"
);

impl TvLimits {
    pub(crate) fn checked<Q: Measured>(
        &self,
        fields: &Fields,
    ) -> Result<LimitAlarm<Q>, SettingError> {
        named(self.scaled().and_then(|()| self.unnamed()), fields)
    }

    pub(crate) fn checked_shares(
        &self,
        fields: &Fields,
    ) -> Result<LimitAlarm<Share>, SettingError> {
        named(self.shares().and_then(|()| self.unnamed()), fields)
    }

    fn scaled(&self) -> Result<(), SettingError> {
        scaled("low", self.low_q16)?;
        scaled("high", self.high_q16)
    }

    fn shares(&self) -> Result<(), SettingError> {
        share("low", self.low_q16)?;
        share("high", self.high_q16)?;
        share("hysteresis", self.hysteresis_q16)
    }

    fn unnamed<Q: Measured>(&self) -> Result<LimitAlarm<Q>, SettingError> {
        let limit = |value| set(value).map(Q::of_bits);
        let limits = Limits::new(limit(self.low_q16), limit(self.high_q16))?;
        let (delay, hysteresis) =
            (Duration::from_millis(self.delay_ms), Q::of_bits(self.hysteresis_q16));
        LimitAlarm::new(limits, delay, hysteresis, on("latching", self.latching)?)
    }

    pub(crate) fn of<Q: Measured>(alarm: LimitAlarm<Q>) -> Self {
        Self {
            low_q16: bits(alarm.limits().low(), Q::bits),
            high_q16: bits(alarm.limits().high(), Q::bits),
            hysteresis_q16: alarm.hysteresis().bits(),
            delay_ms: ms(alarm.delay()),
            latching: alarm.latching().into(),
        }
    }
}
