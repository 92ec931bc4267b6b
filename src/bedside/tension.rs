//! The tension-time index: how large a part of their strength the breathing muscles spend, and for
//! how large a part of the time.

use super::LoadEvidence;
use crate::quantity::{Duration, Pressure, Saturated, Share, arith};
use core::fmt;

/// A fifth of a second.
const FIFTH_US: u32 = 200_000;

/// Why there is no tension-time index.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum NoTensionTime {
    /// A pressure is below zero, or the largest is not above zero.
    NoPressure,
    /// The inspiratory time is zero, longer than the breath, or longer than 35.8 minutes.
    NoTime,
}

/// A cut-off that was published for a tension-time index. Data, never advice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TensionCutoff {
    /// The muscles that the pressures belong to.
    pub muscles: &'static str,
    /// Above it the authors expected failure.
    pub above: Share,
    /// Where.
    pub source: &'static str,
    /// How the figure was come by.
    pub evidence: LoadEvidence,
}

/// Published cut-offs: all of 20 infants told apart (Currie 2011), yet only 72 % of preterm
/// successes found later (Eur Respir J 2014, 44 suppl 58:277).
pub const TENSION_CUTOFFS: [TensionCutoff; 2] =
    [cutoff("diaphragm", 150), cutoff("all inspiratory muscles", 180)];

const fn cutoff(muscles: &'static str, milli: i32) -> TensionCutoff {
    TensionCutoff {
        muscles,
        above: Share::from_milli(milli).value,
        source: "Currie 2011, Arch Dis Child Fetal Neonatal Ed 96:F265",
        evidence: LoadEvidence::Read,
    }
}

/// (mean ÷ largest pressure) × (inspiratory time ÷ whole breath), half away from zero to 1/65 536
/// (Bellemare & Grassino 1982, from memory). `mean` is over the inspiration, `largest` the most that
/// the infant can do; both positive numbers. One wide divide.
///
/// # Errors
/// A pressure or a time that does not make an index.
///
/// ```
/// use tidevane::quantity::{Pressure, Duration};
/// use tidevane::bedside::{occlusion_mean, tension_time};
///
/// // 4 cmH2O after 0.1 s of occlusion, 0.35 s of inspiration in 0.9 s, largest pressure 40 cmH2O.
/// let (insp, breath) = (Duration::from_millis(350), Duration::from_millis(900));
/// let mean = occlusion_mean(Pressure::from_int(4), insp);
/// let index = tension_time(mean.value, Pressure::from_int(40), insp, breath);
/// assert_eq!(index.map(|share| format!("{:.3}", share.value)), Ok("0.068 of 1".into()));
/// ```
pub fn tension_time(
    mean: Pressure,
    largest: Pressure,
    insp_time: Duration,
    breath: Duration,
) -> Result<Saturated<Share>, NoTensionTime> {
    if mean < Pressure::ZERO || largest <= Pressure::ZERO {
        return Err(NoTensionTime::NoPressure);
    }
    let (Some(insp), Some(whole)) =
        (insp_time.to_short_us().within(), breath.to_short_us().within())
    else {
        return Err(NoTensionTime::NoTime);
    };
    if insp == 0 || insp > whole {
        return Err(NoTensionTime::NoTime);
    }
    let one = arith::ONE.unsigned_abs();
    let under = (largest.to_bits().unsigned_abs(), whole);
    match arith::scaled_by_products(mean.to_bits(), (insp, one), under) {
        Some(index) => Ok(index.map(Share::from_bits)),
        None => Err(NoTensionTime::NoTime),
    }
}

/// The mean inspiratory pressure behind the pressure after 0.1 s of occlusion: 5 × P0.1 × inspiratory
/// time in seconds (Ramonatxo 1995), half away from zero. Inspirations beyond 35.8 minutes and
/// results beyond the range are clamped and marked. One wide divide.
pub fn occlusion_mean(at_tenth: Pressure, insp_time: Duration) -> Saturated<Pressure> {
    let us = insp_time.to_short_us();
    let mean = arith::scale_ratio(at_tenth.to_bits(), us.value, FIFTH_US);
    Saturated { value: Pressure::from_bits(mean.value), saturated: mean.saturated || us.saturated }
}

impl TensionCutoff {
    /// Whether an index lies above it.
    #[must_use]
    pub fn is_exceeded(&self, index: Share) -> bool {
        index > self.above
    }
}

impl fmt::Display for NoTensionTime {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::NoPressure => "no pressure to compare with",
            Self::NoTime => "no inspiration within a breath",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Rate;

    fn ms(millis: u32) -> Duration {
        Duration::from_millis(millis)
    }

    fn index(mean: i16, largest: i16, insp: u32, breath: u32) -> Result<f64, NoTensionTime> {
        let (mean, largest) = (Pressure::from_int(mean), Pressure::from_int(largest));
        tension_time(mean, largest, ms(insp), ms(breath))
            .map(|share| f64::from(share.value.to_bits()) / 65_536.0)
    }

    #[test]
    fn published_forms() {
        // Bellemare & Grassino 1982 (from memory): (6 ÷ 50) × (0.4 ÷ 1.0) = 0.048.
        assert!((index(6, 50, 400, 1_000).unwrap() - 0.048).abs() < 1e-5);
        // Ramonatxo 1995: 5 × 4 × 0.35 = 7.0; (7 ÷ 40) × (0.35 ÷ 0.9) = 0.068 06, below 0.18.
        let mean = occlusion_mean(Pressure::from_int(4), ms(350));
        assert_eq!(mean, Saturated::exact(Pressure::from_int(7)));
        let got = tension_time(mean.value, Pressure::from_int(40), ms(350), ms(900)).unwrap();
        assert!((f64::from(got.value.to_bits()) / 65_536.0 - 0.068_06).abs() < 1e-5, "{got:?}");
        assert!(!TENSION_CUTOFFS[1].is_exceeded(got.value));
    }

    #[test]
    fn published_means_fall_on_their_sides() {
        // Harikumar 2009, Am J Respir Crit Care Med 180:982-988: failures 0.199 and successes 0.09
        // of all muscles, 0.157 and 0.07 of the diaphragm; cut-offs Currie 2011.
        let share = |milli| Share::from_milli(milli).value;
        for (cutoff, failed, succeeded) in [(0, 157, 70), (1, 199, 90)] {
            assert!(TENSION_CUTOFFS[cutoff].is_exceeded(share(failed)));
            assert!(!TENSION_CUTOFFS[cutoff].is_exceeded(share(succeeded)));
            assert!(!TENSION_CUTOFFS[cutoff].is_exceeded(TENSION_CUTOFFS[cutoff].above));
        }
    }

    #[test]
    fn timing_of_a_preterm_breath() {
        // Preterm infants of 25 to 36 weeks, n 20 (a paper on the timing of intermittent
        // ventilation): Ti 0.34, Te 0.48 → 0.82 s, 73.17/min, Ti/Ttot 0.4146.
        let breath = ms(340).saturating_add(ms(480));
        assert_eq!(breath, ms(820));
        let rate = Rate::of_period(breath).unwrap().within().unwrap();
        assert!((f64::from(rate.to_bits()) / 65_536.0 - 73.17).abs() < 0.005, "{rate}");
        let duty = ms(340).ratio(breath).unwrap().value;
        assert!((f64::from(duty.to_bits()) / 65_536.0 - 0.414_6).abs() < 1e-4, "{duty}");
        // A mean as large as the largest gives just that part of the time.
        assert!((index(40, 40, 340, 820).unwrap() - 0.414_634).abs() < 1e-5);
        // An inspiration as long as the breath: all of it.
        assert!((index(20, 40, 820, 820).unwrap() - 0.5).abs() < 1e-5);
    }

    #[test]
    fn no_index_without_pressure_or_time() {
        assert_eq!(index(6, 0, 400, 1_000), Err(NoTensionTime::NoPressure));
        assert_eq!(index(-1, 50, 400, 1_000), Err(NoTensionTime::NoPressure));
        assert_eq!(index(0, 50, 400, 1_000), Ok(0.0));
        assert_eq!(index(6, 50, 0, 1_000), Err(NoTensionTime::NoTime));
        assert_eq!(index(6, 50, 1_001, 1_000), Err(NoTensionTime::NoTime));
        assert_eq!(index(6, 50, 400, 3_000_000), Err(NoTensionTime::NoTime));
        assert!(occlusion_mean(Pressure::MAX, ms(400)).saturated);
        assert!(occlusion_mean(Pressure::ZERO, ms(3_000_000)).saturated);
    }
}
