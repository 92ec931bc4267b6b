//! What can speak against a step, as a small set.

use crate::quantity::bitset;
use core::fmt;

bitset! {
    /// Signs that the load is too much.
    pub struct LoadSigns(u16) {
        /// Breaths have become more frequent and smaller than at the beginning of the step, both by the
        /// [change](super::LoadCriteria::change) that counts. Volumes are of those that the machine does not assure
        /// where then and now have ten of them, else of all.
        RAPID_SHALLOW = 0: "faster and smaller breaths";
        /// Minute volume has fallen against the beginning of the step or the step before, by twice the change.
        LESS_VOLUME = 1: "less minute volume";
        /// The infant breathes or triggers half as often as at the beginning of the step.
        FEWER_OWN = 2: "the infant breathes less";
        /// A pause a minute more than at the beginning of the step, or two in all.
        PAUSES = 3: "more pauses";
        /// Five efforts a minute more without an inflation.
        MISSED = 4: "more missed efforts";
        /// The infant draws harder through the tube: half a cmH2O more is lost in it, and a quarter more.
        TUBE_LOSS = 5: "more pressure lost in the tube";
        /// Against the step before, breaths are faster and smaller than a loss of support explains: by twice the
        /// change.
        COSTLY_STEP = 6: "too large a step";
        /// Minute volume is under 125 mL/kg.
        LITTLE_VOLUME = 7: "little minute volume";
        /// What of the minute volume goes beyond the dead space is under 30 mL/kg, or has fallen by twice the
        /// change against the beginning of the step or by half against the step before.
        LESS_ALVEOLAR = 8: "less volume beyond the dead space";
        /// Most breaths are under the dead space, or their mean is under 2.5 mL/kg.
        SMALL = 9: "small breaths";
        /// Another monitor showed a heart rate under 100 /min.
        SLOW_HEART = 10: "a slow heart";
        /// Another monitor showed a saturation under 85 %.
        LOW_SATURATION = 11: "a low saturation";
    }
}

impl LoadSigns {
    /// How many there are.
    #[must_use]
    pub(super) const fn count(self) -> u32 {
        self.0.count_ones()
    }

    /// Those of which one alone speaks for a step back.
    pub(super) const STRONG: Self = Self::RAPID_SHALLOW
        .with(Self::LESS_VOLUME)
        .with(Self::FEWER_OWN)
        .with(Self::LITTLE_VOLUME)
        .with(Self::LESS_ALVEOLAR)
        .with(Self::SLOW_HEART)
        .with(Self::LOW_SATURATION);
    /// The pattern of tiring: faster and smaller, within the step or against the one before. Breathing
    /// less is none.
    pub(crate) const TIRING: Self = Self::RAPID_SHALLOW.with(Self::COSTLY_STEP);
}

impl fmt::Display for LoadSigns {
    /// The names with commas between; "none" for none.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.is_empty() {
            return f.write_str("none");
        }
        for (i, name) in self.names().enumerate() {
            if i > 0 {
                f.write_str(", ")?;
            }
            f.write_str(name)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::string::ToString;

    #[test]
    fn sets_hold_what_was_put_in() {
        let two = LoadSigns::PAUSES.with(LoadSigns::when(LoadSigns::MISSED, true));
        assert!(two.has(LoadSigns::PAUSES) && !two.has(LoadSigns::TUBE_LOSS));
        assert_eq!((two.count(), two.and(LoadSigns::STRONG).is_empty()), (2, true));
        assert_eq!(two.to_string(), "more pauses, more missed efforts");
        assert_eq!(LoadSigns::NONE.to_string(), "none");
        let all = LoadSigns::ALL.iter().fold(LoadSigns::NONE, |set, (sign, _)| set.with(*sign));
        assert_eq!((all.count(), all.names().count()), (12, 12));
    }
}
