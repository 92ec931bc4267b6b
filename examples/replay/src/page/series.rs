//! Values over time, by bins: the median and what the middle of the breaths spread over.

use crate::spread::quantile;

/// A recording is told in no more bins than this,
const BINS: f64 = 240.0;
/// and none is shorter, in seconds.
const SHORTEST: f64 = 60.0;
/// Fewer values in a bin say nothing.
const FEW: usize = 3;

/// The bins of a recording.
#[derive(Clone, Copy)]
pub(super) struct Bins {
    pub(super) each: f64,
    pub(super) count: usize,
}

impl Bins {
    /// Whole minutes long.
    pub(super) fn of(end: f64) -> Self {
        let each = if end < 10.0 * SHORTEST {
            (end / 10.0).max(5.0)
        } else {
            ((end / BINS).max(SHORTEST) / SHORTEST).ceil() * SHORTEST
        };
        Self { each, count: (end / each).ceil().max(1.0) as usize }
    }

    pub(super) fn middle(self, bin: usize) -> f64 {
        (bin as f64 + 0.5) * self.each
    }

    /// What is made of the values of each bin, which come in the order of time.
    pub(super) fn gather<T>(
        self,
        values: impl Iterator<Item = (f64, f64)>,
        make: impl Fn(Vec<f64>) -> Option<T>,
    ) -> Vec<Option<T>> {
        let mut values = values.peekable();
        let bin = |at: f64| (at / self.each).max(0.0) as usize;
        let of_bin = |i| {
            let mut held = Vec::new();
            while let Some((_, value)) = values.next_if(|(at, _)| bin(*at) <= i) {
                held.push(value);
            }
            make(held)
        };
        (0..self.count).map(of_bin).collect()
    }

    /// The middle of each bin: a tenth, half and nine tenths of its values lie below.
    pub(super) fn spread(self, values: impl Iterator<Item = (f64, f64)>) -> Vec<Option<[f64; 3]>> {
        self.gather(values, |values| {
            if values.len() < FEW {
                return None;
            }
            let at = |share| quantile(values.iter().copied(), share);
            Some([at(0.1)?, at(0.5)?, at(0.9)?])
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bin_tells_its_middle() {
        // Ten values 1 to 10 in the first minute: the 1st, 5th and 9th by nearest rank; two in the second say nothing.
        let bins = Bins::of(1_200.0);
        assert_eq!((bins.each, bins.count), (60.0, 20));
        let first = (1..=10).map(|i| (f64::from(i), f64::from(i)));
        let got = bins.spread(first.chain([(70.0, 1.0), (80.0, 2.0)]));
        assert_eq!(got[..2], [Some([1.0, 5.0, 9.0]), None]);
    }

    #[test]
    fn long_recordings_have_long_bins() {
        // 30 days in 240 bins: 180 min each.
        assert_eq!(Bins::of(30.0 * 86_400.0).each, 10_800.0);
        assert_eq!(Bins::of(30.0 * 86_400.0).count, 240);
    }
}
