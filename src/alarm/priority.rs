//! Priorities and what a lamp does for each.

use crate::quantity::{Duration, Problem, SettingError, arith};
use crate::record;
use core::ops::RangeInclusive;

record! {
    /// How soon someone must act: the categories of IEC 60601-1-8.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum Priority {
        /// Someone must know.
        Low = 0,
        /// Someone must act soon.
        Medium = 1,
        /// Someone must act at once.
        High = 2,
    }
}

/// Colours of alarm lamps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Colour {
    /// High priority.
    Red,
    /// Medium priority; low priority may share it.
    Yellow,
    /// Low priority.
    Cyan,
}

/// What IEC 60601-1-8 asks of lamp and sound at a priority; every figure from memory, to be checked
/// against the edition in use.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Bands {
    /// Lamp colour.
    pub colour: Colour,
    /// Flash period; `None` for a lamp that is constantly on. Bounds are rounded inward to whole
    /// microseconds.
    pub flash_period: Option<RangeInclusive<Duration>>,
    /// Share of the flash period that the lamp is lit, percent.
    pub duty_percent: RangeInclusive<u8>,
    /// Pulses in a burst.
    pub pulses: RangeInclusive<u8>,
    /// Effective length of a pulse.
    pub pulse: RangeInclusive<Duration>,
    /// From the end of a pulse to the start of the next.
    pub spacing: RangeInclusive<Duration>,
    /// From the fifth pulse of ten to the sixth.
    pub pause: RangeInclusive<Duration>,
    /// From the end of a burst to the start of the next.
    pub interval: RangeInclusive<Duration>,
}

const fn millis(from: u32, to: u32) -> RangeInclusive<Duration> {
    Duration::from_millis(from)..=Duration::from_millis(to)
}

/// Longest interval between bursts that can be set where the standard gives no upper bound.
const LONGEST_INTERVAL_MS: u32 = 600_000;

impl Priority {
    /// The priority in words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Low => "low",
            Self::Medium => "medium",
            Self::High => "high",
        }
    }

    /// All, the most urgent first.
    pub const ALL: [Self; 3] = [Self::High, Self::Medium, Self::Low];

    /// The bands that hold at this priority.
    #[must_use]
    pub const fn bands(self) -> Bands {
        match self {
            Self::High => Bands {
                colour: Colour::Red,
                // 1.4 to 2.8 Hz: 1 ÷ 2.8 = 357 142.9 µs, 1 ÷ 1.4 = 714 285.7 µs
                flash_period: Some(Duration::from_us(357_143)..=Duration::from_us(714_285)),
                duty_percent: 20..=60,
                pulses: 10..=10,
                pulse: millis(75, 200),
                spacing: millis(50, 125),
                pause: millis(350, 1_300),
                interval: millis(2_500, 15_000),
            },
            Self::Medium => Bands {
                colour: Colour::Yellow,
                // 0.4 to 0.8 Hz: 1 ÷ 0.8 = 1.25 s, 1 ÷ 0.4 = 2.5 s
                flash_period: Some(millis(1_250, 2_500)),
                duty_percent: 20..=60,
                pulses: 3..=3,
                pulse: millis(125, 250),
                spacing: millis(125, 250),
                pause: millis(0, 0),
                interval: millis(2_500, 30_000),
            },
            Self::Low => Bands {
                colour: Colour::Cyan,
                flash_period: None,
                duty_percent: 100..=100,
                pulses: 1..=2,
                pulse: millis(125, 250),
                spacing: millis(125, 250),
                pause: millis(0, 0),
                // above 15 s
                interval: millis(15_001, LONGEST_INTERVAL_MS),
            },
        }
    }
}

/// Whether a setting lies in its band, and its name where not.
pub(super) fn check<T: PartialOrd + Copy>(
    parameter: &'static str,
    value: &T,
    band: &RangeInclusive<T>,
) -> Result<(), SettingError> {
    SettingError::within(parameter, *value, *band.start(), *band.end())
}

/// How a lamp flashes: a period within the band of its priority, lit for a part of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Flash {
    priority: Priority,
    period: Duration,
    lit: Duration,
}

impl Flash {
    /// A flash for high or medium priority; low priority does not flash.
    ///
    /// # Errors
    /// Names the parameter outside the band.
    pub fn new(
        priority: Priority,
        period: Duration,
        duty_percent: u8,
    ) -> Result<Self, SettingError> {
        let bands = priority.bands();
        let Some(band) = bands.flash_period else {
            return Err(SettingError::new("priority", Problem::Contradiction));
        };
        check("period", &period, &band)?;
        check("duty_percent", &duty_percent, &bands.duty_percent)?;
        Ok(Self {
            priority,
            period,
            lit: Duration::from_us(arith::percent_of(period.to_us(), duty_percent)),
        })
    }

    /// The middle of the bands: 500 ms (2 Hz) at high, 1.7 s (0.59 Hz) at medium priority, lit for
    /// 40 %; constantly on at low priority.
    #[must_use]
    pub const fn usual(priority: Priority) -> Self {
        let (period, lit) = match priority {
            Priority::High => (500, 200),
            Priority::Medium => (1_700, 680),
            Priority::Low => (1_000, 1_000),
        };
        Self { priority, period: Duration::from_millis(period), lit: Duration::from_millis(lit) }
    }

    /// The priority it stands for.
    #[must_use]
    pub const fn priority(&self) -> Priority {
        self.priority
    }

    /// Whether the lamp is lit this long after the alarm began. One wide divide.
    #[must_use]
    pub const fn is_lit(&self, elapsed: Duration) -> bool {
        arith::within_period(elapsed.to_us(), self.period.to_us()) < self.lit.to_us()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn flash_periods_follow_from_the_frequencies() {
        // IEC 60601-1-8, from memory: 1.4–2.8 Hz is 357.1–714.3 ms, 0.4–0.8 Hz is
        // 1250–2500 ms.
        let ms = |span: &Duration| span.to_us() as f64 / 1_000.0;
        for (priority, slow, fast) in [(Priority::High, 1.4, 2.8), (Priority::Medium, 0.4, 0.8)] {
            let band = priority.bands().flash_period.unwrap();
            assert!((ms(band.start()) - 1_000.0 / fast).abs() < 0.1);
            assert!((ms(band.end()) - 1_000.0 / slow).abs() < 0.1);
            let made = |span| Flash::new(priority, span, 40).map_err(|e| e.problem).err();
            let one = Duration::from_us(1);
            assert_eq!(made(*band.start()), None);
            assert_eq!(made(*band.end()), None);
            assert_eq!(made(band.start().saturating_sub(one)), Some(Problem::TooSmall));
            assert_eq!(made(band.end().saturating_add(one)), Some(Problem::TooLarge));
        }
    }

    #[test]
    fn duty_is_checked_and_low_priority_does_not_flash() {
        let half = Duration::from_millis(500);
        for (duty, good) in [(19, false), (20, true), (60, true), (61, false)] {
            assert_eq!(Flash::new(Priority::High, half, duty).is_ok(), good, "{duty}");
        }
        assert!(Flash::new(Priority::Low, half, 40).is_err());
        let low = Flash::usual(Priority::Low);
        assert!((0..3_000).all(|ms| low.is_lit(Duration::from_millis(ms))));
    }

    #[test]
    fn the_usual_flashes_lie_in_the_bands() {
        for (priority, period) in [(Priority::High, 500), (Priority::Medium, 1_700)] {
            let made = Flash::new(priority, Duration::from_millis(period), 40).unwrap();
            assert_eq!(made, Flash::usual(priority));
        }
        assert!(Priority::High > Priority::Medium && Priority::Medium > Priority::Low);
    }
}
