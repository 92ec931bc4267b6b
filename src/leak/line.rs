//! Weighted points of flow over what drives it, and the line through them.

use crate::quantity::{Flow, Share, arith};
use crate::record;

record! {
    #[const_default]
    /// Weighted sums of points; a point of weight one is worth a quiet end.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Points(arith::LineSums);
}

/// What the flow where nothing drives counts for.
const PRIOR: i64 = arith::LINE_ONE >> 4;

impl Points {
    /// One point: the drive in Q16.
    pub(super) const fn one(weight: i64, drive: i32, flow: Flow) -> Self {
        Self(arith::line_point(weight, drive, flow.to_bits()))
    }

    /// Adds one part in 2^`shift` of others.
    pub(super) fn add(&mut self, more: &Self, shift: u32) {
        for (sum, more) in self.0.iter_mut().zip(&more.0) {
            *sum = sum.saturating_add(arith::fraction(*more, shift));
        }
    }

    /// Leaves seven eighths of them.
    pub(super) fn fade(&mut self) {
        for sum in &mut self.0 {
            *sum = sum.saturating_sub(arith::fraction(*sum, 3));
        }
    }

    /// The mean flow.
    pub(super) const fn mean(&self) -> Flow {
        Flow::from_bits(arith::line_mean(&self.0))
    }

    /// With so much flow where nothing drives, which counts a little: where the points say no more, the
    /// line goes through it.
    fn held(mut self, prior: Flow) -> arith::LineSums {
        self.add(&Self::one(PRIOR, 0, prior), 0);
        self.0
    }

    /// The share that a weight above zero has beside these: all of it where they have none.
    pub(super) fn share_beside(&self, weight: i64) -> Share {
        // The sums hold weights of 12 fraction bits more.
        let [all, ..] = self.0;
        let weight = weight.saturating_mul(arith::LINE_ONE);
        let share = arith::ratio_q16(weight, all.max(0).saturating_add(weight));
        share.map_or(Share::from_percent(100), |share| Share::from_bits(share.value))
    }

    /// Flow where nothing drives and the slope; `None` for no point.
    pub(super) fn line(&self, prior: Flow) -> Option<(Flow, i32)> {
        let [weight, ..] = self.0;
        if weight <= 0 {
            return None;
        }
        let arith::LineFit { slope, offset } = arith::line_fit(&self.held(prior))?;
        Some((Flow::from_bits(offset), slope))
    }

    /// How far the line is in doubt at a drive, as a factor to a quiet end's own doubt.
    pub(super) fn doubt(&self, drive: i32) -> i32 {
        arith::line_doubt(&self.held(Flow::ZERO), drive)
    }
}
