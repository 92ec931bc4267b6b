//! A trigger threshold against the floor.

use super::NoiseFloor;
use crate::quantity::{Flow, Problem, Record, SettingError, Sink, Source, shown};
use crate::record;
use core::fmt;

/// The flow-trigger threshold set on the machine, as seen by the sensor at the airway.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(try_from = "Flow", into = "Flow"))]
pub struct Threshold(Flow);

record! {
    /// The threshold held against a floor.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[must_use]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    #[non_exhaustive]
    pub struct TriggerCheck {
        /// The threshold.
        pub threshold: Flow,
        /// What it was held against; `None` where nothing is known yet.
        pub floor: Option<NoiseFloor>,
        /// Threshold less baseline leak (a leak below zero counts as none); `None` without a floor. Below
        /// zero the machine will cycle by itself.
        pub margin: Option<Flow>,
        /// Threshold less leak and reach of noise and ripple; `None` where those are not known.
        pub clearance: Option<Flow>,
        /// What follows.
        pub verdict: ThresholdVerdict,
    }
}

record! {
    /// What a threshold is worth.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum ThresholdVerdict {
        /// Above leak, noise and ripple.
        Clear = 0,
        /// Above the leak, but noise or ripple reach it: single inflations may trigger themselves.
        InNoise = 1,
        /// Above the leak, by however little; no expiration had a quiet end, so noise and ripple are not known. So
        /// it stands beside self-cycling, too, which leaves no quiet end: the cause of a breath is what tells.
        AboveLeak = 2,
        /// At or below the leak: the machine triggers itself.
        BelowLeak = 3,
        /// Neither a quiet flow nor a leak is known.
        Unknown = 4,
    }
}

impl Record for Threshold {
    const SHAPE: u32 = Flow::SHAPE;
    const LONGEST: usize = Flow::LONGEST;

    fn save(&self, to: &mut impl Sink) {
        self.0.save(to);
    }

    /// `None` for a flow that [`new`](Self::new) refuses.
    fn load(from: &mut impl Source) -> Option<Self> {
        Self::new(Flow::load(from)?).ok()
    }
}

impl TryFrom<Flow> for Threshold {
    type Error = SettingError;

    fn try_from(threshold: Flow) -> Result<Self, SettingError> {
        Self::new(threshold)
    }
}

impl From<Threshold> for Flow {
    fn from(threshold: Threshold) -> Self {
        threshold.0
    }
}

impl Threshold {
    /// A threshold above zero and at most 1 000 mL/s.
    ///
    /// # Errors
    /// `threshold` outside that range.
    pub const fn new(threshold: Flow) -> Result<Self, SettingError> {
        if !threshold.is_above(Flow::ZERO) {
            Err(SettingError::new("threshold", Problem::NotPositive))
        } else if threshold.is_above(Flow::from_int(1_000)) {
            Err(SettingError::new("threshold", Problem::TooLarge))
        } else {
            Ok(Self(threshold))
        }
    }

    /// The threshold.
    #[must_use]
    pub const fn flow(self) -> Flow {
        self.0
    }

    /// Holds the threshold against a floor. Additions only.
    ///
    /// ```
    /// use tidevane::quantity::Flow;
    /// use tidevane::trigger::{NoiseFloor, Noise, Threshold, ThresholdVerdict};
    ///
    /// // 0.20 L/min set; 0.12 L/min of leak flows at baseline pressure, and noise reaches
    /// // 0.05 L/min above it.
    /// let l_min = |thousandths| Flow::from_milli_l_per_min(thousandths).value;
    /// let threshold = Threshold::new(l_min(200))?;
    /// let noise = Noise { reach: l_min(50), spread: l_min(20) };
    /// let floor = NoiseFloor { leak: l_min(120), noise: Some(noise), ..NoiseFloor::default() };
    /// let check = threshold.check(Some(floor));
    /// assert_eq!(check.verdict, ThresholdVerdict::Clear);
    /// assert_eq!(check.to_string().split(';').next(), Some("threshold 0.20 L/min: clear"));
    /// # Ok::<(), tidevane::quantity::SettingError>(())
    /// ```
    pub fn check(self, floor: Option<NoiseFloor>) -> TriggerCheck {
        let Some(seen) = floor else {
            return TriggerCheck {
                threshold: self.0,
                floor,
                margin: None,
                clearance: None,
                verdict: ThresholdVerdict::Unknown,
            };
        };
        // A leak below zero is a zero that stands off, and no room for the threshold.
        let margin = self.0.saturating_sub(seen.leak.max(Flow::ZERO)).value;
        let clearance = seen.noise.map(|noise| margin.saturating_sub(noise.reach).value);
        let verdict = match clearance {
            _ if margin <= Flow::ZERO => ThresholdVerdict::BelowLeak,
            None => ThresholdVerdict::AboveLeak,
            Some(clearance) if clearance <= Flow::ZERO => ThresholdVerdict::InNoise,
            Some(_) => ThresholdVerdict::Clear,
        };
        TriggerCheck { threshold: self.0, floor, margin: Some(margin), clearance, verdict }
    }
}

impl fmt::Display for TriggerCheck {
    /// One sentence with its numbers in L/min.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let lpm = |flow: Flow| shown(flow.to_l_per_min(), 2);
        write!(f, "threshold {:.2} L/min: {}", lpm(self.threshold), self.verdict)?;
        let Some(floor) = self.floor else {
            return f.write_str("; no quiet flow was seen and no leak is known yet");
        };
        write!(f, "; leak at {:.1} is {:.2} L/min", floor.pressure, lpm(floor.leak))?;
        if let Some(noise) = floor.noise {
            let reach = lpm(noise.reach);
            write!(f, ", noise and ripple reach {reach:.2} L/min above it")?;
        }
        match (self.clearance, self.margin) {
            (Some(over), _) => write!(f, ", margin over both {:.2} L/min", lpm(over)),
            (None, Some(margin)) => {
                write!(f, ", margin over the leak alone {:.2} L/min", lpm(margin))
            }
            (None, None) => Ok(()),
        }
    }
}

impl fmt::Display for ThresholdVerdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Clear => "clear",
            Self::InNoise => "within noise or ripple",
            Self::AboveLeak => "above the leak, noise not known",
            Self::BelowLeak => "below the leak",
            Self::Unknown => "cannot be judged",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::Noise;
    use super::*;

    fn l_min(thousandths: i32) -> Flow {
        Flow::from_milli_l_per_min(thousandths).value
    }

    fn at_leak(thousandths: i32) -> Option<NoiseFloor> {
        let noise = Some(Noise::default());
        Some(NoiseFloor { leak: l_min(thousandths), noise, ..NoiseFloor::default() })
    }

    #[test]
    fn margin_over_the_leak() {
        // Arithmetic: 0.20 − 0.12 = +0.08; 0.20 − 0.25 = −0.05 L/min, cycles by itself.
        let threshold = Threshold::new(l_min(200)).unwrap();
        let clear = threshold.check(at_leak(120));
        assert!(clear.margin.unwrap().apart(l_min(80)) <= Flow::STEP.magnitude());
        assert_eq!(clear.verdict, ThresholdVerdict::Clear);
        let below = threshold.check(at_leak(250));
        assert!(below.margin.unwrap().apart(l_min(-50)) <= Flow::STEP.magnitude());
        assert_eq!(below.verdict, ThresholdVerdict::BelowLeak);
    }

    #[test]
    fn raising_the_threshold_over_the_floor_ends_self_cycling() {
        // Common practice, no source: a floor between 0.2 and 0.4 L/min makes the first threshold
        // trigger itself and not the second.
        let floor = at_leak(300);
        let verdict = |set| Threshold::new(l_min(set)).unwrap().check(floor).verdict;
        assert_eq!(verdict(200), ThresholdVerdict::BelowLeak);
        assert_eq!(verdict(400), ThresholdVerdict::Clear);
    }

    #[test]
    fn at_a_border_the_worse_is_said() {
        // 3 mL/s set over 3 mL/s of leak: no margin; over 2 with noise of 1: none over both; one step more is clear.
        let check = |set: Flow, leak, reach| {
            let noise = Some(Noise { reach: Flow::from_int(reach), spread: Flow::ZERO });
            let floor = NoiseFloor { leak: Flow::from_int(leak), noise, ..NoiseFloor::default() };
            Threshold::new(set).unwrap().check(Some(floor))
        };
        let three = Flow::from_int(3);
        let more = three.saturating_add(Flow::STEP).value;
        assert_eq!(check(three, 3, 0).verdict, ThresholdVerdict::BelowLeak);
        assert_eq!(check(more, 3, 0).verdict, ThresholdVerdict::Clear);
        let equal = check(three, 2, 1);
        assert_eq!((equal.verdict, equal.clearance), (ThresholdVerdict::InNoise, Some(Flow::ZERO)));
        let above = check(more, 2, 1);
        assert_eq!((above.verdict, above.clearance), (ThresholdVerdict::Clear, Some(Flow::STEP)));
    }

    #[test]
    fn what_rounds_to_nothing_has_no_sign() {
        let floor = |leak| Some(NoiseFloor { leak: l_min(leak), ..NoiseFloor::default() });
        let said =
            |leak| std::format!("{}", Threshold::new(l_min(200)).unwrap().check(floor(leak)));
        assert!(said(-4).contains("is 0.00 L/min"), "{}", said(-4));
        assert!(said(-6).contains("is -0.01 L/min"), "{}", said(-6));
    }

    #[test]
    fn noise_and_the_unknown() {
        let noise = Some(Noise { reach: l_min(150), spread: l_min(50) });
        let floor = Some(NoiseFloor { leak: l_min(100), noise, ..NoiseFloor::default() });
        let threshold = Threshold::new(l_min(200)).unwrap();
        let unseen = floor.map(|floor| NoiseFloor { noise: None, ..floor });
        assert_eq!(threshold.check(unseen).verdict, ThresholdVerdict::AboveLeak);
        assert_eq!(threshold.check(floor).verdict, ThresholdVerdict::InNoise);
        assert_eq!(threshold.check(None).verdict, ThresholdVerdict::Unknown);
        assert!(Threshold::new(Flow::ZERO).is_err());
        assert!(Threshold::new(Flow::from_int(1_001)).is_err());
    }
}
