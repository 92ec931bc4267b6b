//! Crying: deep breaths in, long ones pressed out.

use crate::check::within;
use crate::error::ScenarioError;
use crate::schedule::Windows;
use core::f32::consts::PI;
use micromath::F32Ext;

/// Spells of crying. Each effort is a deep one, and after it the muscles of the belly press the gas out; the
/// next effort waits until they let go. With a tube in the larynx nothing is heard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CrySettings {
    /// Windows with crying.
    pub when: Windows,
    /// Factor on the amplitude of every effort, 1 to 5.
    pub depth: f64,
    /// Peak pressure outward in cmH2O, 0 to 60.
    pub press: f64,
    /// How long they press in s, 0.1 to 3.
    pub duration: f64,
}

impl CrySettings {
    pub(crate) fn check(&self) -> Result<(), ScenarioError> {
        self.when.check("effort.cry.when")?;
        within("effort.cry.depth", self.depth, 1.0, 5.0)?;
        within("effort.cry.press", self.press, 0.0, 60.0)?;
        within("effort.cry.duration", self.duration, 0.1, 3.0)
    }

    /// Pressure outward at so many seconds after the effort, cmH2O: half a sine.
    pub(crate) fn pressure(&self, after: f64) -> f64 {
        let part = after / self.duration;
        if part <= 0.0 || part >= 1.0 {
            return 0.0;
        }
        // Named through the trait: the standard library's own sine differs between platforms.
        self.press * f64::from(F32Ext::sin(part as f32 * PI)).clamp(0.0, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settings() -> CrySettings {
        let when = Windows::none().and(10.0, 30.0);
        CrySettings { when, depth: 2.0, press: 20.0, duration: 0.9 }
    }

    #[test]
    fn it_presses_as_half_a_sine() {
        // sin 30° at a sixth of 0.9 s, sin 90° at half of it.
        let cry = settings();
        assert!((cry.pressure(0.15) - 10.0).abs() < 0.05, "{}", cry.pressure(0.15));
        assert!((cry.pressure(0.45) - 20.0).abs() < 0.05);
        assert_eq!([-0.1, 0.0, 0.9, 2.0].map(|t| cry.pressure(t)), [0.0; 4]);
    }

    #[test]
    fn each_wrong_setting_is_named() {
        let named = |wrong: CrySettings| wrong.check().map_err(|e| e.parameter);
        let right = settings();
        assert_eq!(named(right), Ok(()));
        let inverted = Windows::none().and(2.0, 1.0);
        for (wrong, name) in [
            (CrySettings { when: inverted, ..right }, "effort.cry.when"),
            (CrySettings { depth: 0.9, ..right }, "effort.cry.depth"),
            (CrySettings { press: 61.0, ..right }, "effort.cry.press"),
            (CrySettings { duration: 0.0, ..right }, "effort.cry.duration"),
        ] {
            assert_eq!(named(wrong), Err(name));
        }
    }
}
