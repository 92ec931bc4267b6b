//! A lung that stiffens as it fills: least squares of P = P0 + (E1 + E2·V)·V + R·Q.
//!
//! The straight fit hides overdistension in its mean; here the part of the elastance that grows
//! with volume stands alone (model and %E2 of Kano 1994, J Appl Physiol 77(3):1185). Unlike C20/C
//! from a loop it does not move with resistive pressure. Volumes to 181 mL: infants and children.

use super::bend_sums::BendSums;
use super::fit::{Fit, FitOutcome, in_range};
use super::no_fit::NoFit;
use super::sums::FitSums;
use super::{C20OverC, c20_of_curve, passivity};
use crate::breath::Breath;
use crate::quantity::unit::{CmH2OPerMl, CmH2OPerSquareMl, CmH2OSecondPerMl, SquareMl};
use crate::quantity::{
    Curvature, Elastance, Flow, Pressure, Quantity, Resistance, Share, Slope, Volume, arith,
};
use crate::record;

record! {
    /// What one breath says of a stiffening lung, or why it says nothing.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[must_use]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum NonlinearElastance {
        /// The fitted curve.
        Known {
            /// Pressure at no flow and the volume of the first sample.
            baseline: Pressure,
            /// E1: elastance at the volume of the first sample.
            elastance: Elastance,
            /// E2: how fast it grows with volume; below zero where the lung opens up instead.
            curvature: Curvature,
            /// Resistance; 0 to 2 000 cmH2O·s/L.
            resistance: Resistance,
            /// R² of the curve.
            goodness: Share,
            /// %E2: the share of the elastance at the largest volume that came with volume,
            /// E2·V ÷ (E1 + E2·V). Above 0.3 in rabbits whose lungs were overdistended (Kano 1994, from
            /// memory); a trend, no verdict.
            share: Share,
            /// C20/C of the fitted elastic curve, free of resistive pressure.
            c20: C20OverC,
        } = 0,
        /// It cannot be known.
        Unknown(NoFit) = 1,
    }
}

/// E2·V ÷ (E1 + E2·V): the share of the elastance at a volume that came with volume (%E2). `None`
/// where the elastance there is not above zero. Half away from zero; one wide divide.
#[must_use]
pub(crate) fn bend_share(
    elastance: Elastance,
    curvature: Curvature,
    volume: Volume,
) -> Option<Share> {
    elastance.bend_share(curvature, volume)
}

/// What keeps three regressors apart: 2⁻¹¹ of the product of their variances.
const LEAST_APART: i32 = 11;

record! {
    #[const_default]
    /// The equations of a fit, half solved: central moments of V, V² and Q, each scaled by a power of two of
    /// its own so that its variance lies in [2²⁸, 2³⁰), and their cofactors, all of these by one power so
    /// that they lie below 2⁶⁰.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub(crate) struct BendCurve {
        scale: [i32; 4],
        with_p: [i64; 3],
        pp: i64,
        determinant: i64,
        slopes: [i64; 3],
    }
}

impl BendCurve {
    fn of(sums: &FitSums, bend: &BendSums) -> Option<Self> {
        let moment = |xy, x, y| arith::moment(sums.count, xy, x, y);
        let scale = |own| Some(arith::even_scale(own)?.saturating_add(15));
        let vv = moment(sums.vv, sums.v, sums.v);
        let uu = moment(bend.uu, bend.u, bend.u);
        let qq = moment(sums.qq, sums.q, sums.q);
        let pp = moment(sums.pp, sums.p, sums.p);
        let (v, u, q, p) = (scale(vv)?, scale(uu)?, scale(qq)?, scale(pp)?);
        let down = |x, a: i32, b: i32| arith::scaled_down(x, a.saturating_add(b));
        let (vv, uu, qq) = (down(vv, v, v), down(uu, u, u), down(qq, q, q));
        let vu = down(moment(bend.uv, bend.u, sums.v), u, v);
        let vq = down(moment(sums.vq, sums.v, sums.q), v, q);
        let uq = down(moment(bend.uq, bend.u, sums.q), u, q);
        let with_p = [
            down(moment(sums.vp, sums.v, sums.p), v, p),
            down(moment(bend.up, bend.u, sums.p), u, p),
            down(moment(sums.qp, sums.q, sums.p), q, p),
        ];
        let minor = |a, b, c, d| arith::scaled_down(arith::difference_of_products(a, b, c, d), 0);
        let (vu_minor, vq_minor) = (minor(vq, uq, vu, qq), minor(vu, uq, vq, uu));
        let uq_minor = minor(vu, vq, vv, uq);
        let rows = [
            [minor(uu, qq, uq, uq), vu_minor, vq_minor],
            [vu_minor, minor(vv, qq, vq, vq), uq_minor],
            [vq_minor, uq_minor, minor(vv, uu, vu, vu)],
        ];
        let [first, _, _] = rows;
        let determinant = arith::sum_of_three(first, [vv, vu, vq]);
        let whole = arith::scaled_down(arith::sum_of_products(vv, uu, 0, 0), 0);
        let whole = arith::scaled_down(
            arith::sum_of_products(whole, qq, 0, 0),
            LEAST_APART.saturating_add(30),
        );
        if determinant <= 0 || whole > arith::scaled_down(determinant, 30) {
            return None;
        }
        let slopes = rows.map(|row| arith::sum_of_three(row, with_p));
        let [a, b, c] = slopes;
        let by = arith::shared_scale(determinant, a, b);
        let by = by.max(arith::shared_scale(determinant, c, 0));
        Some(Self {
            scale: [v, u, q, p],
            with_p,
            pp: down(pp, p, p),
            determinant: arith::scaled_down(determinant, by),
            slopes: slopes.map(|x| arith::scaled_down(x, by)),
        })
    }

    /// Explained variance over all of it.
    fn goodness(&self) -> Option<Share> {
        let explained = arith::sum_of_three(self.slopes, self.with_p);
        let all = arith::sum_of_products(self.determinant, self.pp, 0, 0);
        Share::explained(explained, all)
    }
}

/// A time constant too short for the samples or too long for the breath, by the straight line, spoils the curve as well.
fn may_bend(line: &FitOutcome) -> Result<(), NoFit> {
    match line {
        FitOutcome::Unknown(why @ (NoFit::TooCoarse | NoFit::TooSlow)) => Err(*why),
        FitOutcome::Known { .. } | FitOutcome::Unknown(_) => Ok(()),
    }
}

impl Fit {
    /// The first half of a fit of the curve to the sums of a breath that looks passive before any fit; they were begun
    /// [`with_bend`](Self::with_bend). Twelve wide divides and some thirty 128-bit products in all, once a
    /// breath; rounded half away from zero.
    #[inline(never)]
    pub(crate) fn begin_bend(
        &self,
        sums: &FitSums,
        breath: &Breath,
        noise: Flow,
        at_work: bool,
        line: &FitOutcome,
        curve: &mut BendCurve,
    ) -> Result<(), NoFit> {
        passivity(breath, noise, at_work).judged()?;
        *curve = self.curve(sums)?;
        may_bend(line)
    }

    /// The other half.
    #[inline(never)]
    pub(crate) fn end_bend(&self, sums: &FitSums, curve: &BendCurve) -> NonlinearElastance {
        self.along(sums, curve).unwrap_or_else(NonlinearElastance::Unknown)
    }

    /// Fits the curve to sums that were begun by a fit [`with_bend`](Self::with_bend), at once.
    #[doc(hidden)]
    pub fn solve_bend(&self, sums: &FitSums) -> NonlinearElastance {
        let curve = self.curve(sums);
        curve.map_or_else(NonlinearElastance::Unknown, |curve| self.end_bend(sums, &curve))
    }

    fn curve(&self, sums: &FitSums) -> Result<BendCurve, NoFit> {
        let bend = sums.bend.as_ref().ok_or(NoFit::NotAsked)?;
        self.is_enough(sums)?;
        if bend.beyond {
            return Err(NoFit::OutOfRange);
        }
        BendCurve::of(sums, bend).ok_or(NoFit::Degenerate)
    }

    fn along(&self, sums: &FitSums, curve: &BendCurve) -> Result<NonlinearElastance, NoFit> {
        let bend = sums.bend.as_ref().ok_or(NoFit::NotAsked)?;
        let goodness = curve.goodness().ok_or(NoFit::Degenerate)?;
        self.is_passive(goodness)?;
        let [v, u, q, p] = curve.scale;
        let [elastic, bent, resistive] = curve.slopes;
        // As in the straight fit: P has 15 fraction bits, V and Q have 12, V² has 8.
        let [elastic, bent, resistive] = [elastic, bent, resistive].map(i128::from);
        let whole = i128::from(curve.determinant);
        let by = |exponent: i32, scale: i32| exponent.saturating_add(p.saturating_sub(scale));
        let elastance = in_range(Elastance::of_quotient(elastic, whole, 1, by(13, v)))?;
        let curvature = in_range(Curvature::of_quotient(bent, whole, 1_000, by(9, u)))?;
        let resistance = in_range(Resistance::of_quotient(resistive, whole, 1_000, by(13, q)))?;
        let resistance = super::fit::resistance_in_range(resistance)?;
        let by_volume = in_range(Slope::<CmH2OPerMl>::of_quotient(elastic, whole, by(21, v)))?;
        let by_square = in_range(Slope::<CmH2OPerSquareMl>::of_quotient(bent, whole, by(17, u)))?;
        let by_flow =
            in_range(Slope::<CmH2OSecondPerMl>::of_quotient(resistive, whole, by(21, q)))?;
        let square = Quantity::<SquareMl>::of_mean(bend.u, sums.count, 8);
        let baseline = Pressure::of_mean(sums.p, sums.count, 1)
            .saturating_sub(by_volume.by(Volume::of_mean(sums.v, sums.count, 4)))
            .value
            .saturating_sub(by_square.by(square))
            .value
            .saturating_sub(by_flow.by(Flow::of_mean(sums.q, sums.count, 4)))
            .within()
            .ok_or(NoFit::OutOfRange)?;
        let top = Volume::of_coarse(bend.top, 4);
        let share = bend_share(elastance, curvature, top).ok_or(NoFit::OutOfRange)?;
        let c20 = c20_of_curve(share);
        Ok(NonlinearElastance::Known {
            baseline,
            elastance,
            curvature,
            resistance,
            goodness,
            share,
            c20,
        })
    }
}

#[cfg(test)]
mod tests;
