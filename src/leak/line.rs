//! Weighted points of flow over what drives it, and the line through them.

use crate::quantity::unit::{MlPerS, Unit};
use crate::quantity::{Flow, Quantity, Share, Times, Weight, arith};
use crate::record;

record! {
    #[const_default]
    /// Weighted sums of points; a point of weight one is worth a quiet end.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Points(arith::LineSums);
}

/// What the flow where nothing drives counts for.
const PRIOR: Weight = Weight::part(4);

impl Points {
    /// One point.
    pub(super) const fn one<D: Unit>(weight: Weight, drive: Quantity<D>, flow: Flow) -> Self {
        Self(weight.point(drive, flow))
    }

    /// Adds one part in 2^`shift` of others.
    pub(super) fn add(&mut self, more: &Self, shift: u32) {
        for (sum, more) in self.0.iter_mut().zip(&more.0) {
            arith::add_part(sum, more, shift);
        }
    }

    /// Leaves seven eighths of them.
    pub(super) fn fade(&mut self) {
        self.0.iter_mut().for_each(arith::fade);
    }

    /// The mean flow.
    pub(super) const fn mean(&self) -> Flow {
        Flow::line_mean(&self.0)
    }

    /// With so much flow where nothing drives, which counts a little: where the points say no more, the
    /// line goes through it.
    fn held(mut self, prior: Flow) -> arith::LineSums {
        self.add(&Self::one(PRIOR, Share::ZERO, prior), 0);
        self.0
    }

    /// The share that a weight above zero has beside these: all of it where they have none.
    pub(super) const fn share_beside(&self, weight: Weight) -> Share {
        weight.share_beside(&self.0)
    }

    /// Flow where nothing drives and the slope over what drives; `None` for no point.
    #[inline]
    pub(super) fn line<D: Unit, S: Times<D, Product = MlPerS>>(
        &self,
        prior: Flow,
    ) -> Option<(Flow, Quantity<S>)> {
        let fit = self.fit(prior)?;
        Some((fit.flow(), fit.rise()))
    }

    fn fit(&self, prior: Flow) -> Option<arith::LineFit> {
        let [weight, ..] = self.0;
        if weight <= 0 { None } else { arith::line_fit(&self.held(prior)) }
    }

    /// How far the line is in doubt at a drive, as a factor to a quiet end's own doubt.
    pub(super) fn doubt<D: Unit>(&self, drive: Quantity<D>) -> Share {
        drive.line_doubt(&self.held(Flow::ZERO))
    }
}
