//! Bursts of pulses.

use super::Priority;
use crate::quantity::{Duration, arith};

/// A burst of pulses, again and again: ten (three, two; a pause; three, two), three, or one to two
/// by priority. The gap between the third pulse of five and the fourth is as if one were left out:
/// twice the spacing and a pulse.
pub(super) struct Burst {
    priority: Priority,
    pulses: u8,
    pulse: Duration,
    spacing: Duration,
    pause: Duration,
    interval: Option<Duration>,
}

impl Burst {
    /// Well inside the bands: pulses of 150 ms 100 ms apart, a pause of 0.5 s and 5 s between
    /// bursts at high priority; three of 200 ms 200 ms apart with 10 s between bursts at medium; one of
    /// 200 ms, once, at low.
    pub(super) const fn of(priority: Priority) -> Self {
        let ms = Duration::from_millis;
        let (pulses, pulse, spacing, pause, interval) = match priority {
            Priority::High => (10, ms(150), ms(100), ms(500), Some(ms(5_000))),
            Priority::Medium => (3, ms(200), ms(200), Duration::ZERO, Some(ms(10_000))),
            Priority::Low => (1, ms(200), ms(200), Duration::ZERO, None),
        };
        Self { priority, pulses, pulse, spacing, pause, interval }
    }

    /// The silence after pulse number `n`, counted from one; none after the last.
    fn gap(&self, n: u8) -> Duration {
        match (self.priority, n) {
            (_, n) if n >= self.pulses => Duration::ZERO,
            (Priority::High, 3 | 8) => {
                self.spacing.saturating_add(self.spacing).saturating_add(self.pulse)
            }
            (Priority::High, 5) => self.pause,
            _ => self.spacing,
        }
    }

    /// From the start of the first pulse to the end of the last.
    fn length(&self) -> Duration {
        (1..=self.pulses).fold(Duration::ZERO, |sum, n| {
            sum.saturating_add(self.pulse).saturating_add(self.gap(n))
        })
    }

    /// Whether it sounds this long after the alarm began. One wide divide.
    pub(super) fn is_sounding(&self, elapsed: Duration) -> bool {
        let mut left = match self.interval {
            Some(interval) => {
                let period = self.length().saturating_add(interval);
                Duration::from_us(arith::within_period(elapsed.to_us(), period.to_us()))
            }
            None => elapsed,
        };
        for n in 1..=self.pulses {
            if left < self.pulse {
                return true;
            }
            let step = self.pulse.saturating_add(self.gap(n));
            if left < step {
                return false;
            }
            left = left.saturating_sub(step);
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::vec::Vec;

    /// Start and length of every pulse, in ms.
    fn pulses(burst: &Burst, ms: u32) -> Vec<(u32, u32)> {
        let mut out: Vec<(u32, u32)> = Vec::new();
        let mut was = false;
        for t in 0..ms {
            let sounds = burst.is_sounding(Duration::from_millis(t));
            if sounds && !was {
                out.push((t, 0));
            }
            if sounds {
                out.last_mut().unwrap().1 += 1;
            }
            was = sounds;
        }
        out
    }

    #[test]
    fn ten_pulses_three_two_three_two() {
        // Pulses of 150 ms with x = 100: starts 0, 250, 500; then 2x + td = 350 after the third
        // ends at 650: 1000, 1250, ending at 1400; a pause of 500: 1900, 2150, 2400; 2900, 3150,
        // ending at 3300; then 5 s: 8300.
        let burst = Burst::of(Priority::High);
        let starts: Vec<_> = pulses(&burst, 8_400).iter().map(|p| p.0).collect();
        assert_eq!(starts, [0, 250, 500, 1_000, 1_250, 1_900, 2_150, 2_400, 2_900, 3_150, 8_300]);
        assert_eq!(burst.length(), Duration::from_millis(3_300));
    }

    #[test]
    fn medium_and_low() {
        // Three of 200 ms every 400: the burst ends at 1000, the next begins 10 s later.
        let medium = pulses(&Burst::of(Priority::Medium), 11_200);
        assert_eq!(medium, [(0, 200), (400, 200), (800, 200), (11_000, 200)]);
        assert_eq!(pulses(&Burst::of(Priority::Low), 60_000), [(0, 200)]);
    }

    #[test]
    fn bursts_lie_in_the_bands_of_the_standard() {
        // IEC 60601-1-8, from memory, in ms: pulses of 75 to 200 at high and 125 to 250 at the other priorities, 50 to 125
        // and 125 to 250 apart, a pause of 350 to 1 300, and 2.5 to 15 s or 30 s between bursts; low may sound once.
        let ms = |from, to| Duration::from_millis(from)..=Duration::from_millis(to);
        let high = Burst::of(Priority::High);
        assert!(high.pulses == 10 && ms(75, 200).contains(&high.pulse));
        assert!(ms(50, 125).contains(&high.spacing) && ms(350, 1_300).contains(&high.pause));
        assert!(high.interval.is_some_and(|span| ms(2_500, 15_000).contains(&span)));
        let medium = Burst::of(Priority::Medium);
        assert!(medium.pulses == 3 && ms(125, 250).contains(&medium.pulse));
        assert!(ms(125, 250).contains(&medium.spacing));
        assert!(medium.interval.is_some_and(|span| ms(2_500, 30_000).contains(&span)));
        let low = Burst::of(Priority::Low);
        assert!((1..=2).contains(&low.pulses) && ms(125, 250).contains(&low.pulse));
        assert_eq!(low.interval, None);
    }
}
