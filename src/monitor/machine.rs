//! What is set on the machine, as far as it was given.

use crate::quantity::{Pressure, Rate};
use crate::record;
use crate::trigger::{Threshold, TriggerKind};
use core::fmt;

record! {
    #[const_default]
    /// The settings of the machine that the checks need. Each is `None` where it was not given.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub struct MachineSettings {
        /// What its trigger watches.
        pub trigger: TriggerKind,
        /// The flow-trigger threshold; none where the trigger watches something else.
        pub threshold: Option<Threshold>,
        /// The rate that is assured; 0 for none.
        pub set_rate: Option<Rate>,
        /// The peak pressure of assured inflations.
        pub peak: Option<Pressure>,
        /// The peak pressure of supported breaths.
        pub support_peak: Option<Pressure>,
    }
}

impl MachineSettings {
    /// Whether the way here from other settings is a step of weaning, or one back: rate, peak or
    /// support changed. A trigger threshold alone is none.
    #[must_use]
    pub fn is_step_from(&self, before: &Self) -> bool {
        (self.set_rate, self.peak, self.support_peak)
            != (before.set_rate, before.peak, before.support_peak)
    }

    /// Whether nothing is assured and nothing supported: a trial of the infant's own breathing.
    #[must_use]
    pub fn is_without_inflations(&self) -> bool {
        self.set_rate == Some(Rate::ZERO) && self.support_peak.is_none()
    }
}

impl fmt::Display for MachineSettings {
    /// What was given, with commas between.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut first = true;
        let mut next = |f: &mut fmt::Formatter<'_>| {
            f.write_str(if core::mem::take(&mut first) { "" } else { ", " })
        };
        if let Some(rate) = self.set_rate {
            next(f)?;
            write!(f, "set rate {rate:.0}")?;
        }
        if let Some(peak) = self.peak {
            next(f)?;
            write!(f, "peak {peak:.1}")?;
        }
        if let Some(peak) = self.support_peak {
            next(f)?;
            write!(f, "support to {peak:.1}")?;
        }
        if let Some(threshold) = self.threshold {
            next(f)?;
            write!(f, "trigger threshold {:.2} L/min", threshold.flow().to_l_per_min())?;
        }
        if self.trigger != TriggerKind::Flow {
            next(f)?;
            write!(f, "trigger: {}", self.trigger)?;
        }
        if first { f.write_str("nothing given") } else { Ok(()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Flow;
    use std::string::ToString;

    #[test]
    fn a_step_is_rate_peak_or_support() {
        let set =
            MachineSettings { set_rate: Some(Rate::from_int(40)), ..MachineSettings::default() };
        let threshold = Threshold::new(Flow::from_milli_l_per_min(200).value).ok();
        let trigger = MachineSettings { threshold, ..set };
        assert!(!trigger.is_step_from(&set) && !set.is_step_from(&set));
        let support = MachineSettings { support_peak: Some(Pressure::from_int(12)), ..set };
        assert!(support.is_step_from(&set) && set.is_step_from(&support));
        let all = MachineSettings { peak: Some(Pressure::from_int(16)), ..support };
        let all = MachineSettings { threshold, ..all };
        assert_eq!(
            all.to_string(),
            "set rate 40 /min, peak 16.0 cmH2O, support to 12.0 cmH2O, trigger threshold 0.20 L/min"
        );
        assert_eq!(MachineSettings::default().to_string(), "nothing given");
        let other =
            MachineSettings { trigger: TriggerKind::Pressure, ..MachineSettings::default() };
        assert_eq!(other.to_string(), "trigger: pressure");
        let trial = MachineSettings { set_rate: Some(Rate::ZERO), ..MachineSettings::default() };
        let helped = MachineSettings { support_peak: Some(Pressure::from_int(9)), ..trial };
        assert!(trial.is_without_inflations() && !helped.is_without_inflations());
        assert!(!MachineSettings::default().is_without_inflations());
    }
}
