//! How much alarms ring.

use super::condition::CONDITIONS;
use super::{AlarmEvent, Change};
use crate::quantity::{Duration, Instant, Share};
use crate::record;
use fixed::types::I16F16;

/// Alarms shorter than this are brief. Chosen here, no source.
const BRIEF: Duration = Duration::from_millis(60_000);

record! {
    #[const_default]
    /// Counts of alarms since the start: 424 bytes.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct Burden {
        /// Alarms that began.
        pub(crate) rung: u32,
        /// Alarms that ended.
        pub(crate) ended: u32,
        /// Those that ended within less than a minute.
        pub(crate) brief: u32,
        /// The longest that ended.
        pub(crate) longest: Duration,
        began: [Option<Instant>; CONDITIONS],
    }
}

impl Burden {
    /// Takes an event.
    pub fn learn(&mut self, event: &AlarmEvent) {
        let Some(began) = self.began.get_mut(event.condition.index()) else { return };
        match event.change {
            Change::On => {
                *began = Some(event.at);
                self.rung = self.rung.saturating_add(1);
            }
            Change::Off => {
                let Some(since) = began.take() else { return };
                let lasted = event.at.since(since);
                self.ended = self.ended.saturating_add(1);
                self.brief = self.brief.saturating_add(u32::from(lasted < BRIEF));
                self.longest = self.longest.max(lasted);
            }
        }
    }

    /// Alarms an hour over the time watched, toward zero, at most 32 768; `None` for no time.
    #[must_use]
    pub const fn per_hour(&self, watched: Duration) -> Option<I16F16> {
        watched.per_hour(self.rung)
    }

    /// The share of ended alarms that were brief, toward zero; `None` where none ended.
    #[must_use]
    pub fn brief_share(&self) -> Option<Share> {
        Share::of_counts(self.brief.into(), self.ended.into())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::alarm::{Condition, Priority};

    #[test]
    fn a_published_burden() {
        // Belteki & Morley 2018, Arch Dis Child Fetal Neonatal Ed 103:F307-F311: 27 751
        // alarms of 46 infants in 116 days, 26 106 of them under a minute.
        // 27 751 ÷ (116 × 24 h) = 9.968; 26 106 ÷ 27 751 = 94.07 %.
        let burden = Burden { rung: 27_751, ended: 27_751, brief: 26_106, ..Burden::default() };
        let near = |got: I16F16, exact: f64| (f64::from(got) - exact).abs() < 0.005;
        let days = Duration::from_us(116 * 86_400_000_000);
        assert!(near(burden.per_hour(days).unwrap(), 9.968));
        let brief = burden.brief_share().unwrap().to_percent().value;
        assert!(near(brief, 94.072), "{brief}");
    }

    #[test]
    fn the_time_watched_counts_to_its_last_microsecond() {
        // 3.6·10⁹ µs an hour. One alarm in 109 863 µs: 32 768.084, beyond; in 109 865 µs: 32 767.487 37, which is
        // 2 147 450 052.3 steps of 1/65 536; 109 864 µs would make 19 546 more. None in 1 µs is none.
        let alarms = |rung, us| {
            let burden = Burden { rung, ..Burden::default() };
            burden.per_hour(Duration::from_us(us)).map(I16F16::to_bits)
        };
        assert_eq!(alarms(1, 109_863), Some(i32::MAX));
        assert_eq!(alarms(1, 109_865), Some(2_147_450_052));
        assert_eq!(alarms(0, 1), Some(0));
        assert_eq!(alarms(1, 1), Some(i32::MAX));
        // 2³² − 1 alarms in the longest span there is: 3.6·10⁹ × (2³² − 1) ÷ (2⁶⁴ − 1) = 0.838 19, 54 931.6 steps.
        assert_eq!(alarms(u32::MAX, u64::MAX), Some(54_931));
    }

    #[test]
    fn lengths_are_told_apart() {
        let mut burden = Burden::default();
        let mut event = |us, change| {
            let (condition, priority) = (Condition::Apnoea, Priority::High);
            let at = Instant::from_us(us);
            burden.learn(&AlarmEvent { at, condition, priority, change, value: None });
        };
        event(0, Change::On);
        event(59_999_999, Change::Off);
        event(100_000_000, Change::On);
        event(160_000_000, Change::Off);
        event(170_000_000, Change::Off);
        assert_eq!((burden.rung, burden.ended, burden.brief), (2, 2, 1));
        assert_eq!(burden.longest, Duration::from_millis(60_000));
        assert_eq!(Burden::default().brief_share(), None);
        assert_eq!(burden.per_hour(Duration::ZERO), None);
    }
}
