//! A sensor that says nothing usable.

use super::condition_timer::{ConditionTimer, Rule};
use crate::quantity::{Duration, Instant, Problem, SettingError, const_default, setting};
use crate::record;

/// How long nothing usable may come from the sensor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct SensorAlarm {
    fault: Duration,
    none: Duration,
}

record! {
    #[const_default]
    /// Whether it rings.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct SensorState {
        last: Option<Instant>,
        fault: ConditionTimer,
        none: ConditionTimer,
    }
}

const_default! {
    /// A fault after 2 s, no input after 10 s: chosen here, no source.
    SensorAlarm: Self { fault: Duration::from_millis(2_000), none: Duration::from_millis(10_000) }
}

impl SensorAlarm {
    /// After how long it is a fault (0.5 to 10 s), and after how long it counts as no input, of high
    /// priority (as long or longer, at most 10 s: a check must not be silent for longer while it is blind).
    ///
    /// # Errors
    /// Names the parameter outside its range.
    pub fn new(fault: Duration, none: Duration) -> Result<Self, SettingError> {
        let (least, most) = (Duration::from_millis(500), Duration::from_millis(10_000));
        SettingError::within("fault", fault, least, most)?;
        SettingError::within("no_input", none, least, most)?;
        if none < fault {
            return Err(SettingError::new("no_input", Problem::Contradiction));
        }
        Ok(Self { fault, none })
    }

    /// After how long it is a fault.
    #[must_use]
    pub const fn fault(&self) -> Duration {
        self.fault
    }

    /// After how long it counts as no input.
    #[must_use]
    pub const fn no_input(&self) -> Duration {
        self.none
    }

    /// For how long nothing usable has come; whether that rings or stops anything. A moment not later than
    /// the last is ignored.
    pub(super) fn step(&self, state: &mut SensorState, at: Instant, blind: Duration) -> bool {
        if state.last.is_some_and(|last| at <= last) {
            return false;
        }
        state.last = Some(at);
        let fault = state.fault.step(at, blind >= self.fault, Rule::AT_ONCE);
        let none = state.none.step(at, blind >= self.none, Rule::AT_ONCE);
        fault.or(none).is_some()
    }
}

impl SensorState {
    pub(super) const fn is_faulty(&self) -> bool {
        self.fault.is_on()
    }

    pub(super) const fn is_silent(&self) -> bool {
        self.none.is_on()
    }
}

setting! { SensorAlarm = new { fault: Duration, no_input: Duration } }

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_after_two_seconds_no_input_after_ten() {
        let (alarm, mut state) = (SensorAlarm::default(), SensorState::default());
        let mut step = |ms: u64, blind| {
            let _ =
                alarm.step(&mut state, Instant::from_us(ms * 1_000), Duration::from_millis(blind));
            (state.is_faulty(), state.is_silent())
        };
        assert_eq!(step(1, 1_999), (false, false));
        assert_eq!(step(2, 2_000), (true, false));
        assert_eq!(step(2, 0), (true, false)); // not later
        assert_eq!(step(3, 9_999), (true, false));
        assert_eq!(step(4, 10_000), (true, true));
        assert_eq!(step(5, 0), (false, false));
    }

    #[test]
    fn settings_are_checked() {
        let name = |fault, none| {
            let made = SensorAlarm::new(Duration::from_millis(fault), Duration::from_millis(none));
            made.map_err(|error| error.parameter).err()
        };
        assert_eq!(name(499, 5_000), Some("fault"));
        assert_eq!(name(2_000, 10_001), Some("no_input"));
        assert_eq!(name(3_000, 2_000), Some("no_input"));
        assert_eq!(name(500, 500), None);
    }
}
