//! A peak pressure that follows a volume from breath to breath.

use crate::check::{positive, within};
use crate::error::ScenarioError;

/// A machine that sets its own peak so that as much comes out as is wanted. The peak of the settings is its
/// ceiling, and where it begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AdaptingSettings {
    /// Volume wanted out through the sensor after each full inflation in mL, above 0 to 2 000.
    pub volume: f64,
    /// Largest change from one full inflation to the next in cmH2O, 0.1 to 10.
    pub step: f64,
    /// Least rise above the baseline in cmH2O, 1 to 40; the ceiling goes before it.
    pub least: f64,
}

impl AdaptingSettings {
    pub(crate) fn check(&self) -> Result<(), ScenarioError> {
        positive("machine.adapting.volume", self.volume, 2_000.0)?;
        within("machine.adapting.step", self.step, 0.1, 10.0)?;
        within("machine.adapting.least", self.least, 1.0, 40.0)
    }
}

/// Which part of a full inflation is under way.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Part {
    /// None: what flows is the infant's own.
    None,
    Inflation,
    /// Its expiration.
    Expiration,
    /// The infant has drawn again since.
    Over,
}

/// What the machine has measured, and the rise that it takes from it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Adapting {
    settings: Option<AdaptingSettings>,
    /// Rise above the baseline in cmH2O; infinite before the first inflation.
    rise: f64,
    part: Part,
    out: f64,
}

impl Adapting {
    pub(crate) fn new(settings: Option<AdaptingSettings>) -> Self {
        Self { settings, rise: f64::INFINITY, part: Part::None, out: 0.0 }
    }

    /// Peak of an inflation in cmH2O between a baseline and a ceiling.
    pub(crate) fn peak(&self, baseline: f64, ceiling: f64) -> f64 {
        if self.settings.is_none() { ceiling } else { ceiling.min(baseline + self.rise) }
    }

    /// An inflation or support begins: what the last full one gave is known.
    pub(crate) fn begins(&mut self, full: bool, baseline: f64, ceiling: f64) {
        let Some(settings) = self.settings else { return };
        let most = ceiling - baseline;
        self.rise = self.rise.min(most);
        if matches!(self.part, Part::Expiration | Part::Over) {
            // As much pressure for a mL as the last one took; where nothing came, the largest step.
            let wanted =
                if self.out > 0.0 { self.rise * settings.volume / self.out } else { f64::INFINITY };
            let (low, high) = (self.rise - settings.step, self.rise + settings.step);
            self.rise = wanted.clamp(low, high).max(settings.least).min(most);
        }
        self.part = if full { Part::Inflation } else { Part::None };
        self.out = 0.0;
    }

    /// The inflation or support has ended.
    pub(crate) fn ended(&mut self) {
        if self.part == Part::Inflation {
            self.part = Part::Expiration;
        }
    }

    /// The flow that the machine sees in a step, and its trigger threshold, mL/s.
    pub(crate) fn see(&mut self, dt: f64, flow: f64, threshold: f64) {
        if self.part != Part::Expiration {
            return;
        }
        if flow < 0.0 {
            self.out -= flow * dt;
        } else if flow > threshold && self.out > 0.0 {
            self.part = Part::Over;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settings() -> AdaptingSettings {
        AdaptingSettings { volume: 6.0, step: 3.0, least: 4.0 }
    }

    /// One inflation after which so much comes out over 5 cmH2O of baseline below 25; its peak.
    fn inflation(adapting: &mut Adapting, out: f64) -> f64 {
        adapting.begins(true, 5.0, 25.0);
        adapting.see(1.0, -100.0, 4.0);
        let peak = adapting.peak(5.0, 25.0);
        adapting.ended();
        adapting.see(0.1, -out * 10.0, 4.0);
        peak
    }

    #[test]
    fn the_peak_goes_where_the_volume_is_by_steps() {
        // Begins at its ceiling, 20 over baseline. 8 mL: 20 × 6/8 = 15 is more than 3 away: 17. 7 mL: 17 × 6/7
        // = 14.57. 6 mL: stays. 12 mL: half is more than 3 away: 11.57. Nothing: 3 up, 14.57. 1 mL: 17.57.
        let mut adapting = Adapting::new(Some(settings()));
        let outs = [8.0, 7.0, 6.0, 12.0, 0.0, 1.0, 6.0];
        let peaks = outs.map(|out| inflation(&mut adapting, out));
        let hand = [25.0, 22.0, 19.571, 19.571, 16.571, 19.571, 22.571];
        for (peak, hand) in peaks.iter().zip(hand) {
            assert!((peak - hand).abs() < 0.001, "{peaks:?}");
        }
    }

    #[test]
    fn it_stays_between_its_least_rise_and_the_ceiling() {
        let mut adapting = Adapting::new(Some(settings()));
        let down: std::vec::Vec<_> = (0..9).map(|_| inflation(&mut adapting, 60.0)).collect();
        assert!((down[8] - 9.0).abs() < 1e-9, "{down:?}");
        let up: std::vec::Vec<_> = (0..9).map(|_| inflation(&mut adapting, 1.0)).collect();
        assert!((up[8] - 25.0).abs() < 1e-9, "{up:?}");
    }

    #[test]
    fn what_the_infant_breathes_out_after_it_is_no_part_of_it() {
        let mut adapting = Adapting::new(Some(settings()));
        inflation(&mut adapting, 6.0);
        adapting.see(0.1, 20.0, 4.0);
        adapting.see(0.1, -500.0, 4.0);
        assert!((adapting.peak(5.0, 25.0) - 25.0).abs() < 1e-9);
        // support neither uses nor moves it
        adapting.begins(false, 5.0, 25.0);
        adapting.see(0.1, -500.0, 4.0);
        adapting.ended();
        adapting.begins(true, 5.0, 25.0);
        assert!((adapting.peak(5.0, 25.0) - 25.0).abs() < 1e-9);
        assert_eq!(Adapting::new(None).peak(5.0, 25.0), 25.0);
    }

    #[test]
    fn each_wrong_setting_is_named() {
        let named = |wrong: AdaptingSettings| wrong.check().map_err(|e| e.parameter);
        let right = settings();
        assert_eq!(named(right), Ok(()));
        for (wrong, name) in [
            (AdaptingSettings { volume: 0.0, ..right }, "machine.adapting.volume"),
            (AdaptingSettings { step: 0.0, ..right }, "machine.adapting.step"),
            (AdaptingSettings { least: 41.0, ..right }, "machine.adapting.least"),
        ] {
            assert_eq!(named(wrong), Err(name));
        }
    }
}
