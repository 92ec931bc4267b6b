//! A few minutes of breaths one by one, and what the documents of a tally say of them, in `f64`.

use super::taken::Taken;
use crate::fuzzed::arguments::{STEP, float};
use std::ops::{BitAnd, BitOr};
use tidevane::alarm::BreathKind;

/// Volumes are summed in steps of 1/256 mL, flows in as many of a mL/s.
const COARSE: f64 = 1.0 / 256.0;

/// No volume is larger.
const MOST: f64 = 32_768.0;

/// As they were counted.
#[derive(Debug, Clone, Default)]
pub(super) struct Window {
    pub(super) breaths: Vec<Taken>,
    pub(super) missed: u64,
}

/// Whether a thing is certainly so, and whether it may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Told {
    pub(super) sure: bool,
    pub(super) maybe: bool,
}

/// Between what a number lies that was rounded on its way.
#[derive(Debug, Clone, Copy)]
pub(super) struct Range {
    low: f64,
    high: f64,
}

impl From<bool> for Told {
    fn from(is: bool) -> Self {
        Self { sure: is, maybe: is }
    }
}

impl BitAnd for Told {
    type Output = Self;

    fn bitand(self, other: Self) -> Self {
        Self { sure: self.sure && other.sure, maybe: self.maybe && other.maybe }
    }
}

impl BitOr for Told {
    type Output = Self;

    fn bitor(self, other: Self) -> Self {
        Self { sure: self.sure || other.sure, maybe: self.maybe || other.maybe }
    }
}

impl Range {
    pub(super) fn about(x: f64, slack: f64) -> Self {
        Self { low: x - slack, high: x + slack }
    }

    pub(super) fn plus(self, other: Self) -> Self {
        Self { low: self.low + other.low, high: self.high + other.high }
    }

    pub(super) fn less(self, other: Self) -> Self {
        self.plus(Self { low: -other.high, high: -other.low })
    }

    /// The product, rounded to a step.
    pub(super) fn times(self, other: Self) -> Self {
        let all = [
            self.low * other.low,
            self.low * other.high,
            self.high * other.low,
            self.high * other.high,
        ];
        let low = all.into_iter().fold(f64::INFINITY, f64::min);
        let high = all.into_iter().fold(f64::NEG_INFINITY, f64::max);
        Self { low: low - STEP, high: high + STEP }
    }

    pub(super) fn is_least(self, other: Self) -> Told {
        Told { sure: self.low >= other.high, maybe: self.high >= other.low }
    }

    pub(super) fn is_above(self, other: Self) -> Told {
        let most = other.is_least(self);
        Told { sure: !most.maybe, maybe: !most.sure }
    }

    /// Whether it is in the range of a quantity, else it is not known.
    pub(super) fn fits(self) -> Told {
        Told {
            sure: self.low > -MOST && self.high < MOST - STEP,
            maybe: self.high > -MOST - STEP && self.low < MOST,
        }
    }
}

impl Window {
    pub(super) fn joined(minutes: &[Self]) -> Self {
        Self {
            breaths: minutes.iter().flat_map(|minute| minute.breaths.clone()).collect(),
            missed: minutes.iter().map(|minute| minute.missed).sum(),
        }
    }

    fn trusted(&self) -> impl Iterator<Item = &Taken> {
        self.breaths.iter().filter(|breath| breath.trusted)
    }

    /// How many of the trusted breaths are such.
    pub(super) fn of(&self, such: impl Fn(&Taken) -> bool) -> u64 {
        self.trusted().filter(|breath| such(breath)).count() as u64
    }

    pub(super) fn count(&self) -> u64 {
        self.of(|_| true)
    }

    pub(super) fn implausible(&self) -> u64 {
        self.breaths.iter().filter(|breath| !breath.trusted && breath.implausible).count() as u64
    }

    pub(super) fn known_us(&self) -> u64 {
        self.trusted().map(|breath| breath.length.to_us()).sum()
    }

    pub(super) fn unknown_us(&self) -> u64 {
        let all = self.breaths.iter().map(|breath| breath.length.to_us()).sum::<u64>();
        all - self.known_us()
    }

    /// So many a minute of the known time, toward zero to a step.
    pub(super) fn a_minute(&self, count: u64) -> Range {
        let exact = count as f64 * 6e7 / self.known_us() as f64;
        Range { low: exact - STEP, high: exact }
    }

    /// Whether so many are at least `least` a minute: in whole numbers, so that nothing is rounded.
    pub(super) fn is_often(&self, count: u64, least: u64) -> bool {
        count * 60_000_000 >= least * self.known_us()
    }

    pub(super) fn rate(&self) -> Range {
        self.a_minute(self.count())
    }

    fn mean(values: &[f64]) -> Option<Range> {
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        (!values.is_empty()).then(|| Range::about(mean, COARSE + STEP))
    }

    fn volumes(&self, such: impl Fn(BreathKind) -> bool) -> Vec<f64> {
        let of = self.trusted().filter(|breath| such(breath.kind));
        of.filter_map(|breath| breath.volume).map(|volume| float(volume.to_bits())).collect()
    }

    /// Of all breaths, where at least half have one.
    pub(super) fn mean_volume(&self) -> Option<Range> {
        let volumes = self.volumes(|_| true);
        Self::mean(&volumes).filter(|_| volumes.len() as u64 * 2 >= self.count())
    }

    /// Of those that the machine does not assure, where there are ten with one.
    pub(super) fn free_volume(&self) -> Option<Range> {
        let volumes = self.volumes(|kind| kind != BreathKind::Assured);
        Self::mean(&volumes).filter(|_| volumes.len() >= 10)
    }

    /// What all breaths move a minute, beyond a volume that each must move first.
    pub(super) fn minute_volume(&self, beyond: f64) -> Option<Range> {
        Some(self.mean_volume()?.less(Range::about(beyond, 0.0)).times(self.rate()))
    }

    /// Mean of the largest flows of the breaths that the machine does not assure.
    pub(super) fn peak_flow(&self) -> Option<Range> {
        let free = self.trusted().filter(|breath| breath.kind != BreathKind::Assured);
        let peaks: Vec<_> = free.map(|breath| float(breath.peak_flow.to_bits())).collect();
        Self::mean(&peaks)
    }
}
