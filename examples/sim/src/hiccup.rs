//! Short, sudden pulls of the diaphragm beside the infant's own rhythm.

use crate::check::within;
use crate::error::ScenarioError;
use crate::noise::Noise;
use crate::schedule::Windows;

/// Spread of the time between hiccups and of their size, as a share of it. Chosen here, no source.
const SPREAD: f64 = 0.15;

/// Hiccups: an effort each, quick and strong, at a rhythm of their own. One that falls into an effort comes
/// after it, and an effort waits for a hiccup.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HiccupSettings {
    /// Windows with hiccups.
    pub when: Windows,
    /// Hiccups per minute, 2 to 60.
    pub rate: f64,
    /// Peak muscle pressure in cmH2O, 0.5 to 40.
    pub amplitude: f64,
    /// Length of one in s, 0.05 to 0.3.
    pub duration: f64,
}

impl HiccupSettings {
    pub(crate) fn check(&self) -> Result<(), ScenarioError> {
        self.when.check("effort.hiccup.when")?;
        within("effort.hiccup.rate", self.rate, 2.0, 60.0)?;
        within("effort.hiccup.amplitude", self.amplitude, 0.5, 40.0)?;
        within("effort.hiccup.duration", self.duration, 0.05, 0.3)
    }
}

/// Makes one hiccup after another.
#[derive(Debug, Clone)]
pub(crate) struct Hiccups {
    settings: Option<HiccupSettings>,
    noise: Noise,
    next: Option<f64>,
}

impl Hiccups {
    pub(crate) fn new(settings: Option<HiccupSettings>, noise: Noise) -> Self {
        Self { settings, noise, next: None }
    }

    /// Length and amplitude of the hiccup that starts at this time, if one does.
    pub(crate) fn begin(&mut self, seconds: f64, busy: bool) -> Option<(f64, f64)> {
        let settings = self.settings.filter(|s| s.when.contains(seconds));
        let Some(settings) = settings else {
            self.next = None;
            return None;
        };
        let Some(due) = self.next else {
            self.next = Some(seconds + self.interval(&settings));
            return None;
        };
        if seconds < due || busy {
            return None;
        }
        self.next = Some(seconds + self.interval(&settings));
        Some((settings.duration, settings.amplitude * self.spread()))
    }

    fn interval(&mut self, settings: &HiccupSettings) -> f64 {
        60.0 / settings.rate * self.spread()
    }

    fn spread(&mut self) -> f64 {
        (1.0 + SPREAD * self.noise.normal()).max(0.2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settings() -> HiccupSettings {
        let when = Windows::none().and(10.0, 70.0);
        HiccupSettings { when, rate: 20.0, amplitude: 12.0, duration: 0.12 }
    }

    #[test]
    fn they_keep_their_window_rate_and_size() {
        // 20 a minute for a minute, the first after one interval: 19, by chance one more or less.
        let mut hiccups = Hiccups::new(Some(settings()), Noise::new(1, 4));
        let all: std::vec::Vec<_> = (0..100_000)
            .filter_map(|i| {
                let now = f64::from(i) / 1_000.0;
                hiccups.begin(now, false).map(|(_, amplitude)| (now, amplitude))
            })
            .collect();
        assert!((18..=20).contains(&all.len()), "{}", all.len());
        assert!(all.iter().all(|(at, _)| (12.0..70.0).contains(at)));
        let mean = all.iter().map(|(_, a)| a).sum::<f64>() / all.len() as f64;
        assert!((mean - 12.0).abs() < 1.3, "{mean}"); // 12 × 0.15 ÷ √19 = 0.4
    }

    #[test]
    fn one_that_is_due_waits_for_the_effort_under_way() {
        let mut hiccups = Hiccups::new(Some(settings()), Noise::new(1, 4));
        assert!(hiccups.begin(10.0, false).is_none());
        assert!(hiccups.begin(20.0, true).is_none());
        assert_eq!(hiccups.begin(20.1, false).map(|(duration, _)| duration), Some(0.12));
    }

    #[test]
    fn without_them_no_number_is_drawn() {
        let mut hiccups = Hiccups::new(None, Noise::new(1, 4));
        assert!((0..1_000).all(|i| hiccups.begin(f64::from(i), false).is_none()));
        assert_eq!(hiccups.noise.normal(), Noise::new(1, 4).normal());
    }

    #[test]
    fn each_wrong_setting_is_named() {
        let named = |wrong: HiccupSettings| wrong.check().map_err(|e| e.parameter);
        let right = settings();
        assert_eq!(named(right), Ok(()));
        let inverted = Windows::none().and(2.0, 1.0);
        for (wrong, name) in [
            (HiccupSettings { when: inverted, ..right }, "effort.hiccup.when"),
            (HiccupSettings { rate: 61.0, ..right }, "effort.hiccup.rate"),
            (HiccupSettings { amplitude: 0.0, ..right }, "effort.hiccup.amplitude"),
            (HiccupSettings { duration: 0.4, ..right }, "effort.hiccup.duration"),
        ] {
            assert_eq!(named(wrong), Err(name));
        }
    }
}
