//! Compliance and resistance of a passive breath: least squares of P = P0 + V/C + R·Q.
//!
//! The equation of motion of one compartment (Chatburn 2014, Respir Care 59(4):e61), fitted over
//! inflation and expiration together. It holds where the infant is passive; what it cannot explain
//! lowers R², and a fit below the limit is refused. Leaving inertance out reads C too high, by up
//! to 13 %, and leaves R alone (Turner 1991).
//!
//! R² is no proof that the infant was passive: an effort of 3 cmH2O that triggers a simulated
//! inflation of 10 passes 0.95 with C 8 to 31 % high and R off by a third (`tests/mechanics.rs`).
//! [`Fit::solve_breath`] looks at the breath too and refuses nine such breaths in ten; it lets
//! through those whose effort comes with the rise. Read a run of breaths, not one. In a tube whose
//! loss grows with flow, R is a mean over the breath's flows. A flow that lags behind the pressure
//! lowers R² and raises R: [`Delayed`](super::Delayed) undoes a known lag.

use super::bend_sums::BendSums;
use super::no_fit::NoFit;
use super::passivity;
use super::sums::FitSums;
use crate::breath::Breath;
use crate::quantity::unit::{CmH2OPerMl, CmH2OSecondPerMl};
use crate::quantity::{
    Compliance, ConstDefault, Duration, Flow, Pressure, Resistance, Saturated, SettingError, Share,
    Slope, Volume, arith, const_default, setting,
};
use crate::record;

/// How much a fit must rest on before it is believed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Fit {
    least_samples: u32,
    least_goodness: Share,
    bend: bool,
}

const_default! {
    /// 20 samples and R² of 0.99 (chosen on simulated breaths: at 0.95 an effort slips through).
    Fit: Self { least_samples: 20, least_goodness: Share::from_percent(99), bend: false }
}

record! {
    /// What one breath says of the lung and its tube, or why it says nothing.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[must_use]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum FitOutcome {
        /// The fitted line.
        Known {
            /// Pressure at no flow and the volume of the first sample: total end-expiratory pressure.
            baseline: Pressure,
            /// Dynamic compliance, lung and chest wall together; 1/128 to 200 mL/cmH2O.
            compliance: Compliance,
            /// Resistance of tube, airways and tissue together; 0 to 2 000 cmH2O·s/L.
            resistance: Resistance,
            /// R²: the share of the pressure's variance that the line explains. High R² does not prove
            /// a passive breath.
            goodness: Share,
            /// R·C, from the sums themselves: no rounding of R and C enters.
            time_constant: Duration,
        } = 0,
        /// It cannot be known.
        Unknown(NoFit) = 1,
    }
}

const MOST_COMPLIANCE: Compliance = Compliance::from_int(200);
const MOST_RESISTANCE: Resistance = Resistance::from_int(2_000);
/// Volume and flow share at most 1 − 2⁻⁷ of their variance.
const LEAST_APART: u32 = 7;

/// Central moments, each variable scaled by a power of two of its own so that its variance lies
/// in [2⁵⁸, 2⁶⁰).
struct Moments {
    scale: (i32, i32, i32),
    vp: i64,
    qp: i64,
    pp: i64,
    /// vv·qq − vq², and the numerators of the two slopes.
    both: i128,
    elastic: i128,
    resistive: i128,
}

impl Moments {
    fn of(sums: &FitSums) -> Option<Self> {
        let moment = |xy, x, y| arith::moment(sums.count, xy, x, y);
        let vv = moment(sums.vv, sums.v, sums.v);
        let qq = moment(sums.qq, sums.q, sums.q);
        let pp = moment(sums.pp, sums.p, sums.p);
        let (v, q, p) = (arith::even_scale(vv)?, arith::even_scale(qq)?, arith::even_scale(pp)?);
        let down = |x, a: i32, b: i32| arith::scaled_down(x, a.saturating_add(b));
        let (vv, qq, pp) = (down(vv, v, v), down(qq, q, q), down(pp, p, p));
        let vq = down(moment(sums.vq, sums.v, sums.q), v, q);
        let vp = down(moment(sums.vp, sums.v, sums.p), v, p);
        let qp = down(moment(sums.qp, sums.q, sums.p), q, p);
        let both = arith::difference_of_products(vv, qq, vq, vq);
        let whole = arith::difference_of_products(vv, qq, 0, 0);
        if both <= 0
            || arith::scaled_down(whole, LEAST_APART.cast_signed().saturating_add(60))
                > arith::scaled_down(both, 60)
        {
            return None;
        }
        Some(Self {
            scale: (v, q, p),
            vp,
            qp,
            pp,
            both,
            elastic: arith::difference_of_products(vp, qq, qp, vq),
            resistive: arith::difference_of_products(qp, vv, vp, vq),
        })
    }

    /// Explained variance over all of it.
    fn goodness(&self) -> Option<Share> {
        let by = arith::shared_scale(self.both, self.elastic, self.resistive);
        let down = |x| arith::scaled_down(x, by);
        let (both, e, r) = (down(self.both), down(self.elastic), down(self.resistive));
        let explained = arith::sum_of_products(e, self.vp, r, self.qp);
        let all = arith::sum_of_products(both, self.pp, 0, 0);
        Share::explained(explained, all)
    }
}

impl Fit {
    /// A fit over at least `least_samples` (4 to 60 000) with an R² of at least `least_goodness`
    /// (0.5 to 1).
    ///
    /// # Errors
    /// A parameter outside its range.
    pub fn new(least_samples: u32, least_goodness: Share) -> Result<Self, SettingError> {
        SettingError::within("least_samples", least_samples, 4, 60_000)?;
        let half = Share::from_percent(50);
        SettingError::within("least_goodness", least_goodness, half, Share::ONE)?;
        Ok(Self { least_samples, least_goodness, bend: false })
    }

    /// The fewest samples that are fitted.
    #[must_use]
    pub const fn least_samples(&self) -> u32 {
        self.least_samples
    }

    /// The least r² that is told.
    #[must_use]
    pub const fn least_goodness(&self) -> Share {
        self.least_goodness
    }

    /// Whether the bent fit is worked out, too.
    #[must_use]
    pub const fn has_bend(&self) -> bool {
        self.bend
    }

    fn of_parts(
        least_samples: u32,
        least_goodness: Share,
        has_bend: bool,
    ) -> Result<Self, SettingError> {
        Self::new(least_samples, least_goodness).map(|fit| Self { bend: has_bend, ..fit })
    }

    /// The same, and also the [bent curve](super::NonlinearElastance).
    #[must_use]
    pub const fn with_bend(mut self) -> Self {
        self.bend = true;
        self
    }

    /// Sums for the next breath.
    #[must_use]
    #[doc(hidden)]
    pub const fn begin(&self) -> FitSums {
        let mut sums = FitSums::DEFAULT;
        if self.bend {
            sums.bend = Some(BendSums::DEFAULT);
        }
        sums
    }

    /// Takes sums for those of the next breath.
    pub(crate) fn restart(&self, sums: &mut FitSums) {
        sums.clear();
        sums.bend = self.bend.then(BendSums::default);
    }

    /// Fits a closed breath. C, R and the time constant are rounded half away from zero and R² to
    /// the nearest step; arithmetic adds less than 2·10⁻⁴ of C and R at neonatal sizes. Nine wide
    /// divides and about thirty 128-bit products: a few thousand cycles on a Cortex-M, once a
    /// breath.
    #[doc(hidden)]
    pub fn solve(&self, sums: &FitSums) -> FitOutcome {
        self.attempt(sums).unwrap_or_else(FitOutcome::Unknown)
    }

    /// As [`solve`](Self::solve), for a breath that also looks passive before any fit
    /// ([`passivity`]); `noise` is the flow below which nothing is told from noise, `at_work` whether the
    /// muscle pressure rose.
    #[doc(hidden)]
    pub fn solve_breath(
        &self,
        sums: &FitSums,
        breath: &Breath,
        noise: Flow,
        at_work: bool,
    ) -> FitOutcome {
        match passivity(breath, noise, at_work).judged() {
            Ok(()) => self.solve(sums),
            Err(why) => FitOutcome::Unknown(why),
        }
    }

    pub(super) fn is_enough(&self, sums: &FitSums) -> Result<(), NoFit> {
        if sums.flagged {
            return Err(NoFit::Flagged);
        }
        if sums.beyond {
            return Err(NoFit::OutOfRange);
        }
        if sums.count < self.least_samples {
            return Err(NoFit::TooFewSamples);
        }
        Ok(())
    }

    pub(super) fn is_passive(&self, goodness: Share) -> Result<(), NoFit> {
        if goodness < self.least_goodness { Err(NoFit::NotPassive) } else { Ok(()) }
    }

    fn attempt(&self, sums: &FitSums) -> Result<FitOutcome, NoFit> {
        self.is_enough(sums)?;
        let m = Moments::of(sums).ok_or(NoFit::Degenerate)?;
        let goodness = m.goodness().ok_or(NoFit::Degenerate)?;
        self.is_passive(goodness)?;
        // Scaled slopes are slopes × 2^(scale of V or Q − scale of P); P has 15 fraction bits and
        // V and Q have 12, so true slopes are 2^-3 of those in steps.
        let (v, q, p) = m.scale;
        let (v_to_p, q_to_p) = (p.saturating_sub(v), p.saturating_sub(q));
        let by = 19_i32.saturating_sub(v_to_p);
        let compliance = in_range(Compliance::of_quotient(m.both, m.elastic, 1, by))?;
        let by = 13_i32.saturating_add(q_to_p);
        let resistance = in_range(Resistance::of_quotient(m.resistive, m.both, 1_000, by))?;
        if compliance <= Compliance::ZERO || compliance > MOST_COMPLIANCE {
            return Err(NoFit::OutOfRange);
        }
        let resistance = resistance_in_range(resistance)?;
        let by = v.saturating_sub(q);
        let tau = arith::quotient(m.resistive, m.elastic, arith::SECOND_US, by);
        let tau = in_range(tau)?;
        let time_constant = Duration::from_us(arith::widen_u32(tau.unsigned_abs()));
        if arith::is_within_three(time_constant.to_us(), sums.span.to_us(), sums.count) {
            return Err(NoFit::TooCoarse);
        }
        // Points without times say nothing of how long they were seen.
        if sums.span > Duration::ZERO && time_constant > sums.span {
            return Err(NoFit::TooSlow);
        }
        let (by_volume, by_flow) = (21_i32.saturating_add(v_to_p), 21_i32.saturating_add(q_to_p));
        let elastance = Slope::<CmH2OPerMl>::of_quotient(m.elastic, m.both, by_volume);
        let per_flow = Slope::<CmH2OSecondPerMl>::of_quotient(m.resistive, m.both, by_flow);
        let (elastance, per_flow) = (in_range(elastance)?, in_range(per_flow)?);
        let volume = Volume::of_mean(sums.v, sums.count, 4);
        let flow = Flow::of_mean(sums.q, sums.count, 4);
        let pressure = Pressure::of_mean(sums.p, sums.count, 1);
        let rest = pressure.saturating_sub(elastance.by(volume)).value;
        let baseline = rest.saturating_sub(per_flow.by(flow)).within().ok_or(NoFit::OutOfRange)?;
        Ok(FitOutcome::Known { baseline, compliance, resistance, goodness, time_constant })
    }
}

/// What is known and not clamped.
pub(super) fn in_range<T>(value: Option<Saturated<T>>) -> Result<T, NoFit> {
    value.and_then(Saturated::within).ok_or(NoFit::OutOfRange)
}

pub(super) fn resistance_in_range(resistance: Resistance) -> Result<Resistance, NoFit> {
    if resistance < Resistance::ZERO || resistance > MOST_RESISTANCE {
        return Err(NoFit::OutOfRange);
    }
    Ok(resistance)
}

#[cfg(test)]
pub(super) mod tests;

setting! { Fit = of_parts { least_samples: u32, least_goodness: Share, has_bend: bool } }
