//! What a point of a line counts for.

use super::unit::Unit;
use super::{Duration, Flow, Quantity, Share, arith};

/// A weight of a point with 12 fraction bits, 0 to 16.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Weight(i64);

impl Weight {
    /// One.
    pub(crate) const ONE: Self = Self(arith::LINE_ONE);

    /// One halved so many times.
    #[must_use]
    pub(crate) const fn part(times: u32) -> Self {
        Self(arith::fraction(arith::LINE_ONE, times))
    }

    /// So many.
    #[cfg(test)]
    pub(crate) const fn whole(count: i64) -> Self {
        Self(arith::LINE_ONE.wrapping_mul(count))
    }

    /// The square of a time in seconds.
    #[must_use]
    #[inline]
    pub(crate) const fn of_time(us: u64) -> Self {
        Self(arith::square_weight(us))
    }

    /// Of a point that lies so far off where it is usual to lie so far: 1 ÷ (1 + (apart ÷ usual)²)².
    #[must_use]
    #[inline]
    pub(crate) const fn of_outlier(apart: Flow, usual: Flow) -> Self {
        Self(arith::shrunk_weight(arith::LINE_ONE, apart.to_bits(), usual.to_bits()))
    }

    /// As a share of one, 0 to 1.
    #[must_use]
    #[inline]
    pub(crate) const fn share(self) -> Share {
        Share::from_bits(arith::weight_share(self.0))
    }

    /// The share that a weight above zero has beside those of a line: all of it where these have none.
    #[must_use]
    pub(crate) const fn share_beside(self, sums: &arith::LineSums) -> Share {
        let [all, ..] = *sums;
        // The sums hold weights with 12 fraction bits more.
        let own = self.0.saturating_mul(arith::LINE_ONE);
        let all = if all > 0 { all.saturating_add(own) } else { own };
        match arith::ratio_q16(own, all) {
            Some(share) => Share::from_bits(share.value),
            None => Share::from_percent(100),
        }
    }

    /// The sums of one point of a line of flow over what drives it.
    #[must_use]
    #[inline]
    pub(crate) const fn point<D: Unit>(self, drive: Quantity<D>, flow: Flow) -> arith::LineSums {
        arith::line_point(self.0, drive.to_bits(), flow.to_bits())
    }
}

impl arith::LineFit {
    /// What flows where nothing drives.
    #[must_use]
    pub(crate) const fn flow(self) -> Flow {
        Flow::from_bits(self.offset)
    }

    /// How much more for each of what drives.
    #[must_use]
    pub(crate) const fn rise<S: Unit>(self) -> Quantity<S> {
        Quantity::from_bits(self.slope)
    }
}

impl<D: Unit> Quantity<D> {
    /// How far a line is in doubt at this drive, as a factor to the doubt of a point of weight one.
    #[must_use]
    pub(crate) const fn line_doubt(self, sums: &arith::LineSums) -> Share {
        Share::from_bits(arith::line_doubt(sums, self.to_bits()))
    }
}

impl Flow {
    /// The mean of a line's points, toward zero; zero without weight.
    #[must_use]
    pub(crate) const fn line_mean(sums: &arith::LineSums) -> Self {
        Self::from_bits(arith::line_mean(sums))
    }

    /// What a tail over a stretch of blocks of 50 ms makes over a quarter of a second.
    #[must_use]
    #[inline]
    pub(crate) const fn tail_over(self, span: Duration) -> Self {
        Self::from_bits(arith::tail_of(self.to_bits(), span.to_short_us().value))
    }
}
