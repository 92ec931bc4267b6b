//! Whether inflations that count as the infant's come as regularly as a clock.
//!
//! No infant breathes so: from breath to breath its intervals differ by a tenth and more (common practice, no
//! source). A heart, or water that swings, does: what it sets off looks like efforts where it moves as much flow and
//! muscle pressure as they do.

use super::{Cause, Initiation};
use crate::record;

record! {
    #[const_default]
    /// Counts of a stretch of pairs, and whether any stretch was as regular as a clock.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Regular {
        /// From one inflation by an effort to the next, in µs; zero where the last was none.
        interval_us: u32,
        pairs: u16,
        alike: u16,
        seen: bool,
    }
}

/// Pairs of intervals that make a stretch: two or three minutes. Chosen here, no source.
const STRETCH: u16 = 128;
/// Two intervals are alike that differ by less than a 24th: two samples of 50 a second, or of a heart what two beats
/// differ. Of intervals that spread evenly over a tenth either way a third are alike by chance. Chosen here, no
/// source.
const SHARE: u32 = 24;

impl Regular {
    /// Takes what started an inflation.
    pub(super) fn inflation(&mut self, initiation: &Initiation) {
        let interval = initiation.evidence.and_then(|evidence| evidence.interval);
        let by_effort = initiation.cause == Cause::Effort;
        let interval = interval.filter(|_| by_effort).map_or(0, |i| i.to_us());
        let now = u32::try_from(interval).unwrap_or(0);
        let before = core::mem::replace(&mut self.interval_us, now);
        if now == 0 || before == 0 {
            return;
        }
        self.pairs = self.pairs.saturating_add(1);
        let is_alike = now.abs_diff(before).saturating_mul(SHARE) < now;
        self.alike = self.alike.saturating_add(u16::from(is_alike));
        if self.pairs >= STRETCH {
            // Nine sixteenths: of a third by chance, five standard deviations above it.
            self.seen |= self.alike.saturating_mul(16) >= self.pairs.saturating_mul(9);
            (self.pairs, self.alike) = (0, 0);
        }
    }

    /// Whether most of a stretch followed one another as a clock's beats do.
    pub(super) const fn is_seen(&self) -> bool {
        self.seen
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::super::{Noise, TriggerEvidence};
    use super::*;
    use crate::quantity::{Duration, Flow};

    pub(in crate::trigger) fn after(ms: u32, cause: Cause) -> Initiation {
        let evidence = TriggerEvidence {
            sensed: Flow::ZERO,
            deflection: Flow::ZERO,
            lead: Duration::ZERO,
            leak: Flow::ZERO,
            noise: Noise::default(),
            threshold: None,
            pull: None,
            interval: Some(Duration::from_millis(ms)),
            on_time: None,
            ended_by_infant: false,
        };
        Initiation { cause, evidence: Some(evidence) }
    }

    /// Whether a clock is seen in these intervals, in turn, of so many inflations.
    fn seen(intervals: &[u32], n: usize, cause: Cause) -> bool {
        let mut regular = Regular::default();
        intervals.iter().cycle().take(n).for_each(|ms| regular.inflation(&after(*ms, cause)));
        regular.is_seen()
    }

    #[test]
    fn a_clock_is_told_from_an_infant() {
        // Every second beat of 144 a minute: 833 ms, on samples 10 ms apart 830 or 840: 10 of 830 is an 83rd.
        assert!(seen(&[830, 840, 830], 129, Cause::Effort));
        // A stretch needs 128 pairs: the first inflation makes none.
        assert!(!seen(&[830, 840, 830], 128, Cause::Effort));
        // 800 and 900 in turn: a ninth.
        assert!(!seen(&[800, 900], 800, Cause::Effort));
        // One pair of three alike is a third: 900 to 910, but 910 to 800 an eighth, 800 to 900 a ninth.
        assert!(!seen(&[900, 910, 800], 800, Cause::Effort));
        // Every second beat with an infant's own breath between now and then: of each ten pairs seven are alike.
        let mixed = [830, 840, 830, 830, 560, 690, 830, 830, 840, 830];
        assert!(seen(&mixed, 300, Cause::Effort));
        // 960 and 1 000 in turn differ by a 24th of 960, and by less of 1 000: every second pair is alike.
        assert!(!seen(&[960, 1_000], 800, Cause::Effort));
        assert!(seen(&[961, 1_000], 800, Cause::Effort));
        // What counts as the timer's or the machine's own is no effort.
        assert!(!seen(&[1_500], 800, Cause::Timed));
    }

    #[test]
    fn what_lies_between_parts_the_intervals() {
        let mut regular = Regular::default();
        for _ in 0..800 {
            regular.inflation(&after(830, Cause::Effort));
            regular.inflation(&after(830, Cause::Timed));
        }
        assert!(!regular.is_seen());
    }
}
