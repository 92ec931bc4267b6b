//! Weighted points of flow over what drives it, and the line through them.

use crate::quantity::{Flow, arith};
use crate::record;

record! {
    /// Weighted sums of points; a point of weight one is worth a quiet end.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Points {
        weight: i64,
        drive: i64,
        drive_squared: i64,
        flow: i64,
        product: i64,
    }
}

/// What the flow where nothing drives counts for.
const PRIOR: i64 = arith::LINE_ONE >> 4;

impl Points {
    const fn of(sums: arith::LineSums) -> Self {
        let [weight, drive, drive_squared, flow, product] = sums;
        Self { weight, drive, drive_squared, flow, product }
    }

    const fn sums(&self) -> arith::LineSums {
        [self.weight, self.drive, self.drive_squared, self.flow, self.product]
    }

    /// One point: the drive in Q16.
    pub(super) const fn one(weight: i64, drive: i32, flow: Flow) -> Self {
        Self::of(arith::line_point(weight, drive, flow.to_bits()))
    }

    /// Adds one part in 2^`shift` of others.
    pub(super) fn add(&mut self, more: &Self, shift: u32) {
        for (sum, more) in self.parts().into_iter().zip(more.sums()) {
            *sum = sum.saturating_add(arith::fraction(more, shift));
        }
    }

    /// Leaves seven eighths of them.
    pub(super) fn fade(&mut self) {
        for sum in self.parts() {
            *sum = sum.saturating_sub(arith::fraction(*sum, 3));
        }
    }

    const fn parts(&mut self) -> [&mut i64; 5] {
        let Self { weight, drive, drive_squared, flow, product } = self;
        [weight, drive, drive_squared, flow, product]
    }

    /// The mean flow.
    pub(super) const fn mean(&self) -> Flow {
        Flow::from_bits(arith::line_mean(&self.sums()))
    }

    /// With so much flow where nothing drives, which counts a little: where the points say no more, the
    /// line goes through it.
    fn held(mut self, prior: Flow) -> arith::LineSums {
        self.add(&Self::one(PRIOR, 0, prior), 0);
        self.sums()
    }

    /// Flow where nothing drives and the slope; `None` for no point.
    pub(super) fn line(&self, prior: Flow) -> Option<(Flow, i32)> {
        if self.weight <= 0 {
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
