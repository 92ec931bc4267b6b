//! Which alarms are set.

use super::{Apnoea, BreathKind, Disconnection, LimitAlarm, Priorities, SensorAlarm};
use crate::quantity::{Pressure, Rate, SettingError, Share, Volume, const_default, setting};

/// The alarms that are set. Each part is a checked value, so any combination holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Alarms {
    pub(super) apnoea: Apnoea,
    pub(super) disconnection: Disconnection,
    pub(super) sensor: SensorAlarm,
    pub(super) volume: [LimitAlarm<Volume>; 3],
    pub(super) minute_volume: LimitAlarm<Volume>,
    pub(super) rate: LimitAlarm<Rate>,
    pub(super) pressure: LimitAlarm<Pressure>,
    pub(super) leak: LimitAlarm<Share>,
    pub(super) priorities: Priorities,
}

const_default! {
    /// Apnoea, disconnection, sensor fault and no input; no limits.
    Alarms: Self {
        apnoea: Apnoea::DEFAULT,
        disconnection: Disconnection::DEFAULT,
        sensor: SensorAlarm::DEFAULT,
        volume: [LimitAlarm::NONE; 3],
        minute_volume: LimitAlarm::NONE,
        rate: LimitAlarm::NONE,
        pressure: LimitAlarm::NONE,
        leak: LimitAlarm::NONE,
        priorities: Priorities::DEFAULT,
    }
}

impl Alarms {
    /// With this apnoea alarm.
    #[must_use]
    pub const fn with_apnoea(mut self, apnoea: Apnoea) -> Self {
        self.apnoea = apnoea;
        self
    }

    /// With this disconnection alarm.
    #[must_use]
    pub const fn with_disconnection(mut self, disconnection: Disconnection) -> Self {
        self.disconnection = disconnection;
        self
    }

    /// With this alarm on a sensor that says nothing usable.
    #[must_use]
    pub const fn with_sensor(mut self, sensor: SensorAlarm) -> Self {
        self.sensor = sensor;
        self
    }

    /// With limits of expired volume for breaths of a kind.
    #[must_use]
    pub fn with_volume(mut self, kind: BreathKind, alarm: LimitAlarm<Volume>) -> Self {
        if let Some(place) = self.volume.get_mut(kind.index()) {
            *place = alarm;
        }
        self
    }

    /// With limits of minute volume, in mL or mL/kg as the views give it.
    #[must_use]
    pub const fn with_minute_volume(mut self, alarm: LimitAlarm<Volume>) -> Self {
        self.minute_volume = alarm;
        self
    }

    /// With limits of rate.
    #[must_use]
    pub const fn with_rate(mut self, alarm: LimitAlarm<Rate>) -> Self {
        self.rate = alarm;
        self
    }

    /// With limits of peak pressure.
    #[must_use]
    pub const fn with_pressure(mut self, alarm: LimitAlarm<Pressure>) -> Self {
        self.pressure = alarm;
        self
    }

    /// With limits of leak.
    #[must_use]
    pub const fn with_leak(mut self, alarm: LimitAlarm<Share>) -> Self {
        self.leak = alarm;
        self
    }

    /// With this table of priorities.
    #[must_use]
    pub const fn with_priorities(mut self, priorities: Priorities) -> Self {
        self.priorities = priorities;
        self
    }

    /// The apnoea alarm.
    #[must_use]
    pub const fn apnoea(&self) -> Apnoea {
        self.apnoea
    }

    /// The disconnection alarm.
    #[must_use]
    pub const fn disconnection(&self) -> Disconnection {
        self.disconnection
    }

    /// The alarm on a sensor that says nothing usable.
    #[must_use]
    pub const fn sensor_alarm(&self) -> SensorAlarm {
        self.sensor
    }

    /// The limits of minute volume.
    #[must_use]
    pub const fn minute_volume(&self) -> LimitAlarm<Volume> {
        self.minute_volume
    }

    /// The limits of rate.
    #[must_use]
    pub const fn rate(&self) -> LimitAlarm<Rate> {
        self.rate
    }

    /// The limits of peak pressure.
    #[must_use]
    pub const fn pressure(&self) -> LimitAlarm<Pressure> {
        self.pressure
    }

    /// The limits of leak.
    #[must_use]
    pub const fn leak(&self) -> LimitAlarm<Share> {
        self.leak
    }

    /// The priorities.
    #[must_use]
    pub const fn priorities(&self) -> Priorities {
        self.priorities
    }

    /// The limits of expired volume for breaths of a kind.
    #[must_use]
    pub fn volume(&self, kind: BreathKind) -> LimitAlarm<Volume> {
        self.volume.get(kind.index()).copied().unwrap_or(LimitAlarm::NONE)
    }

    const fn volumes(&self) -> [LimitAlarm<Volume>; 3] {
        self.volume
    }

    #[expect(clippy::too_many_arguments, reason = "one for each alarm")]
    const fn of_parts(
        apnoea: Apnoea,
        disconnection: Disconnection,
        sensor: SensorAlarm,
        volume: [LimitAlarm<Volume>; 3],
        minute_volume: LimitAlarm<Volume>,
        rate: LimitAlarm<Rate>,
        pressure: LimitAlarm<Pressure>,
        leak: LimitAlarm<Share>,
        priorities: Priorities,
    ) -> Result<Self, SettingError> {
        Ok(Self {
            apnoea,
            disconnection,
            sensor,
            volume,
            minute_volume,
            rate,
            pressure,
            leak,
            priorities,
        })
    }
}

setting! {
    Alarms = of_parts {
        apnoea: Apnoea,
        disconnection: Disconnection,
        sensor_alarm: SensorAlarm,
        volumes: [LimitAlarm<Volume>; 3],
        minute_volume: LimitAlarm<Volume>,
        rate: LimitAlarm<Rate>,
        pressure: LimitAlarm<Pressure>,
        leak: LimitAlarm<Share>,
        priorities: Priorities,
    }
}
