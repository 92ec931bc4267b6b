//! The values of a channel: how far they reach, and how many stand at their ends.

use super::Doubt;
use crate::text::{decimals, percent};

/// So large a share at the very end, and so many times as many as near it, is no chance: chosen here, no source.
const AT_END: f64 = 0.01;
const TIMES: u64 = 5;
/// Near an end is this part of the range; steps as large tell nothing.
const NEAR: f64 = 0.02;

/// The values so far; those beyond all sensors are only counted.
#[derive(Debug)]
pub(super) struct Values {
    most: f64,
    step: f64,
    /// Steps in one.
    a_unit: f64,
    bins: Vec<u64>,
    count: u64,
    sizes: f64,
    high: End,
    low: End,
    beyond: u64,
    sum_beyond: f64,
}

/// The outermost value, how often it came, and the next.
#[derive(Debug)]
struct End {
    sign: f64,
    at: f64,
    count: u64,
    next: f64,
}

impl End {
    fn new(sign: f64) -> Self {
        Self { sign, at: f64::NEG_INFINITY, count: 0, next: f64::NEG_INFINITY }
    }

    fn take(&mut self, value: f64) {
        let value = value * self.sign;
        if value > self.at {
            (self.next, self.at, self.count) = (self.at, value, 1);
        } else if value == self.at {
            self.count += 1;
        } else if value > self.next {
            self.next = value;
        }
    }
}

impl Values {
    /// Up to this size, counted in steps of that.
    pub(super) fn new(most: f64, step: f64) -> Self {
        Self {
            most,
            step,
            a_unit: 1.0 / step,
            bins: vec![0; (2.0 * most / step) as usize + 1],
            count: 0,
            sizes: 0.0,
            high: End::new(1.0),
            low: End::new(-1.0),
            beyond: 0,
            sum_beyond: 0.0,
        }
    }

    fn bin(&self, value: f64) -> usize {
        // A cast of less than nothing is nothing.
        let at = ((value + self.most) * self.a_unit) as usize;
        at.min(self.bins.len().saturating_sub(1))
    }

    /// False where it is beyond.
    pub(super) fn take(&mut self, value: f64) -> bool {
        if value.abs() > self.most {
            self.beyond += 1;
            self.sum_beyond += value;
            return false;
        }
        let at = self.bin(value);
        self.bins[at] += 1;
        self.count += 1;
        self.sizes += value.abs();
        self.high.take(value);
        self.low.take(value);
        true
    }

    /// Of what is beyond, where that is most.
    pub(super) fn mean_beyond(&self) -> Option<f64> {
        (self.beyond > self.count).then(|| self.sum_beyond / self.beyond as f64)
    }

    pub(super) fn mean_size(&self) -> Option<f64> {
        (self.count > 0).then(|| self.sizes / self.count as f64)
    }

    pub(super) fn is_constant(&self) -> bool {
        self.count > 0 && self.high.count == self.count
    }

    /// The value under which a share lies, to a step.
    pub(super) fn quantile(&self, share: f64) -> Option<f64> {
        let rank = (share * self.count as f64) as u64;
        let mut below = 0;
        let at = self.bins.iter().position(|n| {
            below += n;
            below > rank
        })?;
        Some((at as f64 + 0.5) * self.step - self.most)
    }

    /// From the hundredth to the ninety-ninth of a hundred.
    pub(super) fn spread(&self) -> Option<f64> {
        Some(self.quantile(0.99)? - self.quantile(0.01)?)
    }

    pub(super) fn share_under(&self, value: f64) -> f64 {
        let under: u64 = self.bins[..self.bin(value)].iter().sum();
        under as f64 / self.count.max(1) as f64
    }

    /// Where a large share stands at one end exactly, and hardly any near it.
    pub(super) fn clipped(&self, what: &str) -> Option<Doubt> {
        let (top, bottom) = (self.high.at, -self.low.at);
        let range = top - bottom;
        let is_cut = |end: &End| {
            let inner = end.sign * (end.at - NEAR * range);
            let edge = end.sign * end.at;
            let (from, to) = (self.bin(inner.min(edge)), self.bin(inner.max(edge)));
            let near: u64 = self.bins[from..=to].iter().sum::<u64>() - end.count;
            end.count as f64 > AT_END * self.count as f64
                && end.count > TIMES * near
                && end.at - end.next < NEAR * range
        };
        let cut: Vec<_> = [(&self.high, top), (&self.low, bottom)]
            .into_iter()
            .filter(|(end, _)| is_cut(end))
            .map(|(end, at)| {
                let share = percent(end.count as f64 / self.count as f64);
                format!("{} in {share} of all samples", decimals(at, 1))
            })
            .collect();
        (!cut.is_empty()).then(|| {
            let unit = if what == "flow" { "mL/s" } else { "cmH2O" };
            Doubt::new(
                format!("{what} cut off"),
                format!(
                    "{what} stands at exactly {} (in {unit}): what was beyond is cut off, and what rests on it is wrong",
                    cut.join(" and at ")
                ),
            )
        })
    }
}
