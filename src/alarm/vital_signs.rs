//! Signs from another monitor that make a shorter pause an apnoea.

use crate::quantity::{Duration, SettingError, const_default, setting};
use crate::record;

record! {
    #[const_default]
    /// The latest heart rate and oxygen saturation, where another monitor gives them. This crate
    /// measures neither.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct VitalSigns {
        /// Heartbeats a minute.
        pub heart_rate: Option<u16>,
        /// Oxygen saturation in percent.
        pub saturation: Option<u8>,
    }
}

/// A pause shorter than the apnoea time counts where the heart is slow or the saturation low.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ShortApnoea {
    after: Duration,
    heart_below: u16,
    saturation_below: u8,
}

const_default! {
    /// 10 s with a heart rate under 80/min or a saturation under 80 %: that a shorter pause with
    /// either counts, AAP clinical report 2016 (Pediatrics 137:e20153757); the 10 s, common
    /// practice, no source; 80/min and 80 %, usual monitor limits of preterm infants (PMC6906083,
    /// table 6).
    ShortApnoea: Self { after: Duration::from_millis(10_000), heart_below: 80, saturation_below: 80 }
}

impl ShortApnoea {
    /// After 3 to 20 s, with a heart rate below 40 to 150/min or a saturation below 50 to 95 %.
    ///
    /// # Errors
    /// Names the parameter outside its range.
    pub fn new(
        after: Duration,
        heart_below: u16,
        saturation_below: u8,
    ) -> Result<Self, SettingError> {
        let (least, most) = (Duration::from_millis(3_000), Duration::from_millis(20_000));
        SettingError::within("after", after, least, most)?;
        SettingError::within("heart_below", heart_below, 40, 150)?;
        SettingError::within("saturation_below", saturation_below, 50, 95)?;
        Ok(Self { after, heart_below, saturation_below })
    }

    /// How long a pause must last.
    #[must_use]
    pub const fn after(&self) -> Duration {
        self.after
    }

    /// The heart rate that is slow.
    #[must_use]
    pub const fn heart_below(&self) -> u16 {
        self.heart_below
    }

    /// The saturation in percent that is low.
    #[must_use]
    pub const fn saturation_below(&self) -> u8 {
        self.saturation_below
    }

    /// How long a pause may last under these signs; `None` where they are well or not known.
    pub(super) fn after_with(&self, signs: VitalSigns) -> Option<Duration> {
        let slow = signs.heart_rate.is_some_and(|rate| rate < self.heart_below);
        let low = signs.saturation.is_some_and(|percent| percent < self.saturation_below);
        (slow || low).then_some(self.after)
    }
}

setting! { ShortApnoea = new { after: Duration, heart_below: u16, saturation_below: u8 } }

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn either_sign_is_enough_and_none_is_none() {
        let short = ShortApnoea::default();
        let after =
            |heart_rate, saturation| short.after_with(VitalSigns { heart_rate, saturation });
        let ten = Some(Duration::from_millis(10_000));
        assert_eq!([after(Some(79), None), after(None, Some(79))], [ten, ten]);
        assert_eq!([after(Some(80), Some(80)), after(None, None)], [None, None]);
    }

    #[test]
    fn settings_are_checked() {
        let wrong = |s: u32, heart, saturation| {
            ShortApnoea::new(Duration::from_millis(s * 1_000), heart, saturation)
                .map_err(|e| e.parameter)
                .err()
        };
        assert_eq!(wrong(2, 80, 80), Some("after"));
        assert_eq!(wrong(10, 39, 80), Some("heart_below"));
        assert_eq!(wrong(10, 80, 96), Some("saturation_below"));
        assert_eq!(wrong(3, 40, 50), None);
    }
}
