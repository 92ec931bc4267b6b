//! Jumps of compliance and resistance: surfactant, a kinked tube, secretions.

use super::FitOutcome;
use crate::quantity::unit::Unit;
use crate::quantity::{Compliance, Instant, Quantity, Resistance, Share, arith};
use crate::record;
use core::fmt;

record! {
    /// Compliance or resistance of passive breaths has changed at once.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum Jump {
        /// Compliance.
        Compliance {
            /// The onset of the last breath that is known to have had the usual one.
            since: Instant,
            /// What had been usual.
            before: Compliance,
            /// The mean of the breaths since.
            after: Compliance,
        } = 0,
        /// Resistance.
        Resistance {
            /// The onset of the last breath that is known to have had the usual one.
            since: Instant,
            /// What had been usual.
            before: Resistance,
            /// The mean of the breaths since.
            after: Resistance,
        } = 1,
    }
}

record! {
    #[const_default]
    /// What is usual of both, and breaths in a row that are not.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct Jumps {
        compliance: Level,
        resistance: Level,
    }
}

record! {
    #[const_default]
    /// One value, in steps.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    struct Level {
        usual: i32,
        seen: u8,
        /// Breaths in a row that lie off, to which side, the sum of their values; and where the last began
        /// that did not.
        off: u8,
        above: bool,
        sum: i64,
        since: Instant,
    }
}

/// How far off counts: compliance scatters by 2 to 4 % between passive breaths, resistance by some more.
/// Chosen on simulated infants, no source.
const COMPLIANCE_OFF: Share = Share::from_percent(15);
const RESISTANCE_OFF: Share = Share::from_percent(20);
/// So many in a row are no chance. Chosen here, no source.
const ROW: u8 = 4;
/// So many make a usual value. Chosen here, no source.
const ENOUGH: u8 = 6;

impl Jumps {
    /// Takes what a passive breath with this onset showed: a jump of its compliance, and one of its
    /// resistance, of at least 15 and 20 %, told with the fourth breath in a row that has it. Breaths whose
    /// mechanics are withheld meanwhile (the muscle pressure is learned anew) delay that by some fifteen. A
    /// drift is followed and no jump. A breath of which nothing is known changes nothing. No divide but where a
    /// jump is told.
    pub fn step(&mut self, onset: Instant, outcome: &FitOutcome) -> [Option<Jump>; 2] {
        let FitOutcome::Known { compliance, resistance, .. } = outcome else { return [None; 2] };
        let stiffer = self.compliance.step(onset, *compliance, COMPLIANCE_OFF);
        let narrower = self.resistance.step(onset, *resistance, RESISTANCE_OFF);
        [
            stiffer.map(|(since, [before, after])| Jump::Compliance { since, before, after }),
            narrower.map(|(since, [before, after])| Jump::Resistance { since, before, after }),
        ]
    }
}

impl Level {
    /// Since when, from what and to what it jumped.
    fn step<U: Unit>(
        &mut self,
        onset: Instant,
        value: Quantity<U>,
        by: Share,
    ) -> Option<(Instant, [Quantity<U>; 2])> {
        let (since, both) = self.follow(onset, value.to_bits(), by)?;
        Some((since, both.map(Quantity::from_bits)))
    }

    /// In steps.
    fn follow(&mut self, onset: Instant, value: i32, by: Share) -> Option<(Instant, [i32; 2])> {
        if self.seen < ENOUGH {
            self.usual = if self.seen == 0 { value } else { arith::lowpass(self.usual, value, 1) };
            (self.seen, self.since) = (self.seen.saturating_add(1), onset);
            return None;
        }
        let most = arith::mul_q16(self.usual, by.to_bits()).value;
        let above = value.saturating_sub(self.usual);
        if above.saturating_abs() <= most {
            (self.off, self.since) = (0, onset);
            self.usual = arith::lowpass(self.usual, value, 3);
            return None;
        }
        if self.off == 0 || (above > 0) != self.above {
            (self.off, self.above, self.sum) = (0, above > 0, 0);
        }
        self.off = self.off.saturating_add(1);
        self.sum = arith::add_bounded(self.sum, arith::widen(value));
        if self.off < ROW {
            return None;
        }
        let after = arith::mean_of(self.sum, u32::from(self.off));
        self.off = 0;
        let since = core::mem::replace(&mut self.since, onset);
        Some((since, [core::mem::replace(&mut self.usual, after), after]))
    }
}

impl fmt::Display for Jump {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Compliance { before, after, .. } => {
                write!(f, "passive breaths: compliance from {before:.2} to {after:.2}")
            }
            Self::Resistance { before, after, .. } => {
                write!(f, "passive breaths: resistance from {before:.0} to {after:.0}")
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Duration, Pressure};
    use std::string::ToString;

    fn passive(compliance: i32, resistance: i16) -> FitOutcome {
        FitOutcome::Known {
            baseline: Pressure::from_int(5),
            compliance: Compliance::from_milli(compliance).value,
            resistance: Resistance::from_int(resistance),
            goodness: Share::ONE,
            time_constant: Duration::from_millis(50),
        }
    }

    /// Breaths a second apart, compliance in thousandths; what was told, and with which breath.
    fn told(breaths: &[(i32, i16)]) -> std::vec::Vec<(usize, Jump)> {
        let mut jumps = Jumps::default();
        let mut out = std::vec::Vec::new();
        for (n, (compliance, resistance)) in breaths.iter().enumerate() {
            let onset = Instant::from_us(n as u64 * 1_000_000);
            let found = jumps.step(onset, &passive(*compliance, *resistance));
            out.extend(found.into_iter().flatten().map(|jump| (n, jump)));
        }
        out
    }

    #[test]
    fn a_jump_is_told_with_the_fourth_breath_and_dated_by_the_last_before() {
        // 0.5 to 0.6 mL/cmH2O is a fifth: from breath 10 on, told with 13, the last before is 9.
        let mut breaths = std::vec![(500, 80); 10];
        breaths.extend([(600, 80); 20]);
        let seen = told(&breaths);
        assert_eq!(seen.len(), 1, "{seen:?}");
        let (n, Jump::Compliance { since, before, after }) = seen[0] else { panic!("{seen:?}") };
        assert_eq!((n, since), (13, Instant::from_us(9_000_000)));
        assert_eq!(
            seen[0].1.to_string(),
            "passive breaths: compliance from 0.50 mL/cmH2O to 0.60 mL/cmH2O"
        );
        assert!(before < after);
    }

    #[test]
    fn both_can_jump_at_once_and_back_again() {
        let mut breaths = std::vec![(500, 80); 8];
        breaths.extend([(300, 160); 8]);
        breaths.extend([(500, 80); 8]);
        let when: std::vec::Vec<_> = told(&breaths).iter().map(|(n, _)| *n).collect();
        assert_eq!(when, [11, 11, 19, 19]);
    }

    #[test]
    fn scatter_drift_and_single_breaths_are_none() {
        // Three off in a row and back; 10 % either way; 1 % a breath.
        let mut breaths = std::vec![(500, 80); 8];
        breaths.extend([(700, 80); 3]);
        breaths.extend((0..40).map(|n| (if n % 2 == 0 { 450 } else { 550 }, 80)));
        assert_eq!(told(&breaths), []);
        let drift: std::vec::Vec<_> = (0..60).map(|n| (500 + 5 * n, 80)).collect();
        assert_eq!(told(&drift), []);
        // Three above and three below are no row of four either way.
        let mut breaths = std::vec![(500, 80); 8];
        breaths.extend([(700, 80); 3]);
        breaths.extend([(300, 80); 3]);
        breaths.extend([(500, 80); 8]);
        assert_eq!(told(&breaths), []);
    }

    #[test]
    fn what_is_not_known_changes_nothing() {
        let mut jumps = Jumps::default();
        let before = jumps;
        let unknown = FitOutcome::Unknown(super::super::NoFit::NotPassive);
        assert_eq!(jumps.step(Instant::from_us(1), &unknown), [None; 2]);
        assert_eq!(jumps, before);
    }
}
