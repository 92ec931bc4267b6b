//! Which alarms are set.

use super::{Apnoea, BreathKind, Disconnection, LimitAlarm, Priorities, SensorAlarm};
use crate::quantity::{Pressure, Rate, Share, Volume, const_default};
use crate::record;

record! {
    /// The alarms that are set. Each part is a checked value, so any combination holds.
    ///
    /// ```
    /// use tidevane::alarm::{Alarms, LimitAlarm, Limits};
    /// use tidevane::quantity::{Duration, Volume};
    ///
    /// let limits = Limits::new(Some(Volume::from_int(3)), None)?;
    /// let low = LimitAlarm::new(limits, Duration::from_millis(10_000), Volume::ZERO, false)?;
    /// let alarms = Alarms { own_volume: low, ..Alarms::default() };
    /// assert_eq!(alarms.own_volume.limits().low(), Some(Volume::from_int(3)));
    /// # Ok::<(), tidevane::quantity::SettingError>(())
    /// ```
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    #[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
    pub struct Alarms {
        /// Where nobody breathes.
        pub apnoea: Apnoea,
        /// Where what goes in does not come back.
        pub disconnection: Disconnection,
        /// Where the sensor says nothing usable.
        pub sensor: SensorAlarm,
        /// On the expired volume of breaths of the infant alone.
        pub own_volume: LimitAlarm<Volume>,
        /// On the expired volume of supported breaths.
        pub supported_volume: LimitAlarm<Volume>,
        /// On the expired volume of breaths that the machine assures.
        pub assured_volume: LimitAlarm<Volume>,
        /// On the minute volume, in mL or mL/kg as the views give it.
        pub minute_volume: LimitAlarm<Volume>,
        /// On the rate.
        pub rate: LimitAlarm<Rate>,
        /// On the peak pressure.
        pub pressure: LimitAlarm<Pressure>,
        /// On the leak.
        pub leak: LimitAlarm<Share>,
        /// How urgent each is.
        pub priorities: Priorities,
    }
}

const_default! {
    /// Apnoea, disconnection, sensor fault and no input; no limits.
    Alarms: Self {
        apnoea: Apnoea::DEFAULT,
        disconnection: Disconnection::DEFAULT,
        sensor: SensorAlarm::DEFAULT,
        own_volume: LimitAlarm::NONE,
        supported_volume: LimitAlarm::NONE,
        assured_volume: LimitAlarm::NONE,
        minute_volume: LimitAlarm::NONE,
        rate: LimitAlarm::NONE,
        pressure: LimitAlarm::NONE,
        leak: LimitAlarm::NONE,
        priorities: Priorities::DEFAULT,
    }
}

impl Alarms {
    pub(super) const fn volume(&self, kind: BreathKind) -> &LimitAlarm<Volume> {
        match kind {
            BreathKind::Own => &self.own_volume,
            BreathKind::Supported => &self.supported_volume,
            BreathKind::Assured => &self.assured_volume,
        }
    }

    /// By [`BreathKind`].
    pub(super) const fn volumes(&self) -> [&LimitAlarm<Volume>; 3] {
        [&self.own_volume, &self.supported_volume, &self.assured_volume]
    }
}
