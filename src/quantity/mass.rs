//! Body mass.

use super::{Problem, SettingError, setting};

/// Body mass in grams, 200 g to 200 kg: from the smallest preterm infant to an adult.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Mass(u32);

impl Mass {
    /// From grams.
    ///
    /// # Errors
    /// Below 200 g or above 200 kg.
    pub const fn from_grams(grams: u32) -> Result<Self, SettingError> {
        if grams < 200 {
            Err(SettingError::new("weight_g", Problem::TooSmall))
        } else if grams > 200_000 {
            Err(SettingError::new("weight_g", Problem::TooLarge))
        } else {
            Ok(Self(grams))
        }
    }

    /// In grams.
    #[must_use]
    pub const fn grams(self) -> u32 {
        self.0
    }
}

setting! { Mass = from_grams { grams: u32 } }
