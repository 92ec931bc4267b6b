//! How much of a recording the minute volume spent under a threshold.
//!
//! Published for two hours of pressure through the tube without inflations and 125 mL/min/kg (Vento
//! 2004, J Matern Fetal Neonatal Med, DOI 10.1080/14767050410001668239; 41 infants of extremely low
//! birth weight, 11 failed). The share above which the authors expected failure could not be
//! checked, so nothing is judged by it: the share stands beside the medians of the two groups.

use crate::quantity::{Duration, MinuteVolumePerKg, Saturated, Share};
use core::fmt;

/// Threshold, length of the recording, and how much of it must be known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(crate) struct TimeBelow {
    threshold: MinuteVolumePerKg,
    lasting: Duration,
    known: Share,
}

/// The time so far.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(crate) struct TimeBelowState {
    spans: BelowSpans,
}

/// Times of a recording.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(crate) struct BelowSpans {
    /// Under the threshold; part of `known`.
    pub below: Duration,
    /// With a known minute volume.
    pub known: Duration,
    /// Without one.
    pub unknown: Duration,
}

/// The share of known time under the threshold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[must_use]
pub enum BelowShare {
    /// This much, toward zero.
    Known(Share),
    /// It cannot be known.
    Unknown(NoBelowShare),
}

/// Why the share cannot be known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum NoBelowShare {
    /// The recording is not long enough yet.
    TooShort,
    /// Too much of it has no known minute volume.
    TooMuchUnknown,
}

/// Medians of a published group, with the spread as printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct GroupMedian {
    /// Which group.
    pub group: &'static str,
    /// Minute volume.
    pub median: MinuteVolumePerKg,
    /// Lower end of its spread.
    pub low: MinuteVolumePerKg,
    /// Upper end of its spread.
    pub high: MinuteVolumePerKg,
}

/// The two groups of Vento 2004, J Matern Fetal Neonatal Med, DOI 10.1080/14767050410001668239.
pub const BELOW_THRESHOLD_GROUPS: [GroupMedian; 2] =
    [group("failed", 240, 160, 353), group("succeeded", 309, 223, 434)];

const fn group(group: &'static str, median: i16, low: i16, high: i16) -> GroupMedian {
    GroupMedian {
        group,
        median: MinuteVolumePerKg::from_int(median),
        low: MinuteVolumePerKg::from_int(low),
        high: MinuteVolumePerKg::from_int(high),
    }
}

impl Default for TimeBelow {
    /// 125 mL/min/kg over two hours as published; and nine tenths of it known, a choice of this
    /// crate.
    fn default() -> Self {
        Self {
            threshold: MinuteVolumePerKg::from_int(125),
            lasting: Duration::from_millis(7_200_000),
            known: Share::from_percent(90),
        }
    }
}

impl TimeBelow {
    /// Takes a span with the minute volume that it had, `None` where it is not known (below zero
    /// counts as not known). A minute volume at the threshold is not under it. Additions only;
    /// clamps after 584 000 years.
    pub(crate) fn step(
        &self,
        state: &mut TimeBelowState,
        span: Duration,
        minute_volume: Option<MinuteVolumePerKg>,
    ) {
        let spans = &mut state.spans;
        match minute_volume {
            Some(volume) if volume >= MinuteVolumePerKg::ZERO => {
                spans.known = spans.known.saturating_add(span);
                if volume < self.threshold {
                    spans.below = spans.below.saturating_add(span);
                }
            }
            _ => spans.unknown = spans.unknown.saturating_add(span),
        }
    }

    /// The share of known time under the threshold. Two wide divides.
    pub(crate) fn share(&self, state: &TimeBelowState) -> BelowShare {
        let spans = &state.spans;
        let watched = spans.known.saturating_add(spans.unknown);
        if watched < self.lasting {
            return BelowShare::Unknown(NoBelowShare::TooShort);
        }
        let known = share_of(spans.known, watched).filter(|known| *known >= self.known);
        match known.and_then(|_| share_of(spans.below, spans.known)) {
            Some(share) => BelowShare::Known(share),
            None => BelowShare::Unknown(NoBelowShare::TooMuchUnknown),
        }
    }
}

/// A part of a span, toward zero; `None` where there is no whole.
fn share_of(part: Duration, whole: Duration) -> Option<Share> {
    let none = part.is_zero() && !whole.is_zero();
    if none { Some(Share::ZERO) } else { part.ratio(whole).and_then(Saturated::within) }
}

impl TimeBelowState {
    /// The times so far.
    #[must_use]
    pub(crate) const fn spans(&self) -> BelowSpans {
        self.spans
    }
}

impl fmt::Display for BelowShare {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Known(share) => {
                write!(f, "{:.1} % of the known time under it", share.to_percent().value)
            }
            Self::Unknown(NoBelowShare::TooShort) => f.write_str("not known: recording too short"),
            Self::Unknown(NoBelowShare::TooMuchUnknown) => {
                f.write_str("not known: too much time without a minute volume")
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::string::ToString;

    fn minutes(count: u32) -> Duration {
        Duration::from_millis(count * 60_000)
    }

    fn run(parts: &[(u32, Option<i16>)]) -> (BelowShare, BelowSpans) {
        let (test, mut state) = (TimeBelow::default(), TimeBelowState::default());
        for &(count, volume) in parts {
            test.step(&mut state, minutes(count), volume.map(MinuteVolumePerKg::from_int));
        }
        (test.share(&state), state.spans())
    }

    #[test]
    fn time_under_the_threshold() {
        // Threshold and length of Vento 2004: 12 of 120 min under 125 = 10 %; at 125 does not count.
        let (share, spans) = run(&[(12, Some(124)), (8, Some(125)), (100, Some(300))]);
        let want = BelowSpans { below: minutes(12), known: minutes(120), unknown: Duration::ZERO };
        assert_eq!(spans, want);
        assert_eq!(share.to_string(), "10.0 % of the known time under it");
        assert_eq!(run(&[(120, Some(300))]).0, BelowShare::Known(Share::ZERO));
        assert_eq!(run(&[(120, Some(0))]).0, BelowShare::Known(Share::ONE));
    }

    #[test]
    fn unknown_time_is_kept_apart() {
        // 12 of 108 known minutes = 11.1 %, not 10 %; 108 of 120 = 90 % is known enough, 107 not.
        let (share, spans) = run(&[(12, Some(100)), (96, Some(300)), (12, None)]);
        assert_eq!((spans.known, spans.unknown), (minutes(108), minutes(12)));
        assert_eq!(share.to_string(), "11.1 % of the known time under it");
        let (share, _) = run(&[(107, Some(300)), (13, None)]);
        assert_eq!(share, BelowShare::Unknown(NoBelowShare::TooMuchUnknown));
        let (share, spans) = run(&[(60, None), (60, Some(-1))]);
        assert_eq!(share, BelowShare::Unknown(NoBelowShare::TooMuchUnknown));
        assert_eq!(spans.unknown, minutes(120));
        let (share, _) = run(&[(119, Some(300))]);
        assert_eq!(share, BelowShare::Unknown(NoBelowShare::TooShort));
    }

    #[test]
    fn the_groups_overlap() {
        let [failed, succeeded] = BELOW_THRESHOLD_GROUPS;
        assert!(failed.median < succeeded.median && failed.high > succeeded.low);
    }

    proptest! {
        /// Time under the threshold, summed another way.
        #[test]
        fn time_below_is_the_sum(
            parts in prop::collection::vec((0_u64..600_000_000, prop::option::weighted(0.95, 0_i16..400)), 0..60),
        ) {
            let (test, mut state) = (TimeBelow::default(), TimeBelowState::default());
            for &(us, volume) in &parts {
                test.step(&mut state, Duration::from_us(us), volume.map(MinuteVolumePerKg::from_int));
            }
            let sum = |keep: &dyn Fn(Option<i16>) -> bool| {
                parts.iter().filter(|part| keep(part.1)).map(|part| part.0).sum::<u64>()
            };
            let below = sum(&|v| v.is_some_and(|v| v < 125));
            let (known, all) = (sum(&|v| v.is_some()), sum(&|_| true));
            let spans = state.spans();
            prop_assert_eq!((spans.below.to_us(), spans.known.to_us()), (below, known));
            prop_assert_eq!(spans.unknown.to_us(), all - known);
            match test.share(&state) {
                BelowShare::Known(share) => {
                    let got = share.to_f64();
                    let want = below as f64 / known as f64;
                    prop_assert!(all >= 7_200_000_000 && (got - want).abs() < 2e-5);
                }
                BelowShare::Unknown(_) => {
                    prop_assert!(all < 7_200_000_000 || (known as f64) < 0.900_01 * all as f64);
                }
            }
        }
    }
}
